"""One small picture for each act of putting a tube on: cut to tug, for ridges, nut, ring or teeth.

Where the tube's outside and hole are known, its wall is drawn to their ratio. Ridges, nuts and
bodies are only drawn: no table gives their sizes.
"""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.words import Figure, Span, Text, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.svg import BOLD, HELP, Sheet, in_a_row
from fieldkit.tables.fittings import joints

_MIDDLE = 72.0
_HALF = 32.0  # half the tube's outside, in units
_RIDGES = 3


@dataclass(frozen=True, slots=True)
class Ending:
    """What goes on what.

    ``kind`` is an id of joints.csv, ``od_in`` and ``bore_in`` are the tube's outside and hole,
    where known. [in]
    """

    kind: str = "barb_bare"
    od_in: float | None = None
    bore_in: float | None = None
    clamps: int = 1

    @property
    def goes_in(self) -> bool:
        """Whether the tube goes into it, up to a stop."""
        return bool(self.kind) and joints()[self.kind].seals == "outside"

    @property
    def to_scale(self) -> Text | None:
        """What is drawn to scale, in words; None where a diameter is not known."""
        if self.od_in is None or self.bore_in is None or not 0 < self.bore_in < self.od_in:
            return None
        return say(
            "Drawn to scale: {od} outside, {bore} inside.",
            od=Figure(self.od_in, "in", 3),
            bore=Figure(self.bore_in, "in", 3),
        )

    @property
    def half_hole(self) -> float:
        """Half the tube's hole; without sizes, a usual wall. [units]"""
        if self.to_scale is None or self.od_in is None or self.bore_in is None:
            return 0.8 * _HALF
        return _HALF * self.bore_in / self.od_in

    def with_scale(self, *told: Text) -> Text:
        """What is told, and what is drawn to scale."""
        return in_a_row(*told, *((self.to_scale,) if self.to_scale else ()))


def _tube(sheet: Sheet, end: Ending, left: float, right: float) -> None:
    """A tube cut open, its two walls going off to the right."""
    for top in (_MIDDLE - _HALF, _MIDDLE + end.half_hole):
        sheet.box(left, top, right - left, _HALF - end.half_hole, "wall pushing__wall")


def _barb(sheet: Sheet, end: Ending, shoulder: float) -> None:
    """A body with a ridged end to the right of its shoulder; the ridges fill the tube's hole."""
    tip, root = end.half_hole, end.half_hole - 6
    sheet.box(-6, _MIDDLE - 40, shoulder + 6, 80, "wall")
    sheet.box(shoulder, _MIDDLE - root, 104, 2 * root, "wall")
    for ridge in range(_RIDGES):
        face = shoulder + 20 + 30 * ridge
        for side in (-1, 1):
            edge = _MIDDLE + side * root
            sheet.shape([(face, edge), (face, _MIDDLE + side * tip), (face + 24, edge)], "wall")


def _body(sheet: Sheet, lip: float, stop: float) -> None:
    """A body cut open that a tube goes into, up to a stop."""
    for side in (-1, 1):
        outer = _MIDDLE + side * (_HALF + 18)
        inner = _MIDDLE + side * (_HALF + 4)
        sheet.box(40, min(outer, inner), lip - 40, 14, "wall")
        sheet.box(stop - 18, min(inner, inner - side * 14), 18, 14, "wall")


def _hold(sheet: Sheet, end: Ending, lip: float) -> None:
    """What holds and seals in that body: a ring that squeezes, or teeth behind a rubber ring."""
    for side in (-1, 1):
        inner = _MIDDLE + side * (_HALF + 4)
        if end.kind == "ring":
            bite = _MIDDLE + side * (_HALF - 3)
            sheet.box(lip - 36, min(inner, bite), 22, 7, "band pushing__ring")
        else:
            sheet.circle(lip - 58, inner - side * 3, 4, "dot pushing__seal")
            for tooth in (lip - 34, lip - 22):
                sheet.line(tooth, inner, tooth - 9, inner - side * 6, "pushing__tooth", width=BOLD)


def _nut(sheet: Sheet, left: float) -> None:
    """A nut that narrows towards the tube, over the tube."""
    sheet.shape(
        [
            (left, _MIDDLE - 46), (left + 30, _MIDDLE - 46), (left + 46, _MIDDLE - 34),
            (left + 46, _MIDDLE + 34), (left + 30, _MIDDLE + 46), (left, _MIDDLE + 46),
        ],
        "tool pushing__nut",
    )  # fmt: skip
    for rib in (10.0, 20.0):
        sheet.line(left + rib, _MIDDLE - 46, left + rib, _MIDDLE + 46, "help", width=HELP)


def _clamps(sheet: Sheet, end: Ending, places: tuple[float, ...]) -> None:
    """Clamps round the tube, their screws on opposite sides."""
    for number, left in enumerate(places[: max(1, end.clamps)]):
        for top in (_MIDDLE - _HALF - 9, _MIDDLE + _HALF):
            sheet.box(left, top, 24, 9, "band pushing__clamp")
        screw = _MIDDLE - _HALF - 19 if number % 2 == 0 else _MIDDLE + _HALF + 9
        sheet.box(left + 5, screw, 14, 10, "tool")


def beside_the_fitting(end: Ending) -> Drawing:
    """The tube laid beside its fitting, and the mark where it will be home."""
    sheet = Sheet(186)
    if end.goes_in:
        _body(sheet, 190, 86)
        _hold(sheet, end, 190)
        start, mark = 86.0, 190.0
    else:
        _barb(sheet, end, 90)
        start, mark = 90.0, 194.0
    sheet.box(start, 128, 366 - start, 30, "wall")
    sheet.line(mark, 116, mark, 170, "mark pushing__mark", width=BOLD)
    sheet.line(mark, _MIDDLE + 20, mark, 116, "help", width=HELP)
    sheet.span(start, mark, 164, say("this deep"))
    words = say("Lay the end at the shoulder or the stop. Mark it as deep as it will go.")
    return Drawing(say("The depth mark."), sheet.markup(), end.with_scale(words))


def warm_water(end: Ending, minutes: float) -> Drawing:
    """The tube's end in hot water.

    Parameters
    ----------
    end : Ending
        What goes on what.
    minutes : float
        How long. [min]
    """
    sheet = Sheet(176)
    left, right, rim, floor, level = 30.0, 150.0, 40.0, 150.0, 70.0
    sheet.trace([(left, rim), (left + 8, floor), (right - 8, floor), (right, rim)], width=BOLD)
    sheet.line(left + 3, level, right - 3, level, "mark")
    for x in (44.0, 128.0):
        sheet.path(f"M{x} {rim - 8}c6 -6 -6 -12 0 -18", "help", width=HELP)
    wall = _HALF - end.half_hole
    for x in (90 - _HALF, 90 + end.half_hole):
        sheet.box(x, -6, wall, 136, "wall pushing__upright")
    sheet.say(176, 66, say("hot water"), bold=True)
    sheet.say(176, 88, Span(minutes))
    sheet.say(176, 118, say("no flame"))
    sheet.say(176, 140, say("no oil"))
    words = say("Hold the end in hot water for {time}. No flame, no oil.", time=Span(minutes))
    return Drawing(say("Warm the end."), sheet.markup(), words)


def clamps_first(end: Ending) -> Drawing:
    """The clamps on the tube before it is pushed on."""
    sheet = Sheet(152)
    _barb(sheet, end, 60)
    _tube(sheet, end, 200, 366)
    _clamps(sheet, end, (258, 306))
    sheet.arrow(192, _MIDDLE, 170, _MIDDLE, "mark")
    sheet.say(288, 146, say("clamps first"), "middle", bold=True)
    told = (
        say("One clamp sits loose on the tube before the tube goes on.")
        if end.clamps <= 1
        else say("{n} clamps sit loose on the tube before the tube goes on.", n=Figure(end.clamps))
    )
    return Drawing(say("Clamps first."), sheet.markup(), told)


def which_way_the_nut(end: Ending) -> Drawing:
    """The nut off the fitting, and both ways that it may turn."""
    sheet = Sheet(168)
    _barb(sheet, end, 60)
    _nut(sheet, 196)
    _tube(sheet, end, 268, 366)
    for x, side in ((206.0, -1), (232.0, 1)):  # two ways round, seen from behind the nut
        tip = x + side * 34
        sheet.path(f"M{x} 16C{x + side * 16} 2 {x + side * 30} 4 {tip} 20", "mark", width=BOLD)
        sheet.trace([(tip - 9, 14), (tip, 20), (tip + 8, 12)], "mark", width=BOLD)
    sheet.say(219, 138, say("left or right?"), "middle", bold=True)
    sheet.say(219, 158, say("on the tube first?"), "middle")
    words = say("Try which way the nut turns, and see whether it goes on the tube first.")
    return Drawing(say("The nut."), sheet.markup(), words)


def over_the_ridges(end: Ending) -> Drawing:
    """The tube over every ridge, up to the shoulder."""
    sheet = Sheet(152)
    _barb(sheet, end, 90)
    _tube(sheet, end, 92, 366)
    sheet.line(91, _MIDDLE - 38, 91, _MIDDLE + 38, "mark", width=BOLD)
    sheet.arrow(320, _MIDDLE, 226, _MIDDLE, "mark")
    sheet.line(91, _MIDDLE + 42, 91, 128, "help", width=HELP)
    sheet.say(91, 146, say("up to here"), "middle", bold=True)
    words = say("The tube covers every ridge and stands against the shoulder. No gap shows.")
    return Drawing(say("Over the ridges."), sheet.markup(), end.with_scale(words))


def into_the_stop(end: Ending) -> Drawing:
    """The tube through ring or teeth to the stop, its mark at the lip."""
    sheet = Sheet(152)
    lip, stop = 190.0, 86.0
    _body(sheet, lip, stop)
    _tube(sheet, end, stop, 366)
    _hold(sheet, end, lip)
    sheet.line(lip + 2, _MIDDLE - 36, lip + 2, _MIDDLE + 36, "mark", width=BOLD)
    sheet.arrow(320, _MIDDLE, 226, _MIDDLE, "mark")
    sheet.say(stop + 8, 146, say("stop"), "end")
    sheet.say(lip + 2, 146, say("mark at the lip"), "middle", bold=True, room=190)
    held = (
        say("The ring grips the outside.")
        if end.kind == "ring"
        else say("Teeth grip the outside, and a rubber ring behind them seals.")
    )
    words = say("Push until it meets the stop. Then the mark stands at the lip.")
    return Drawing(say("To the stop."), sheet.markup(), end.with_scale(words, held))


def locked(end: Ending) -> Drawing:
    """Clamps over the ridges, or the nut run up to the tube's end."""
    sheet = Sheet(152)
    _barb(sheet, end, 90)
    _tube(sheet, end, 92, 366)
    if end.kind == "collar":
        _nut(sheet, 92)
        sheet.arrow(236, _MIDDLE, 150, _MIDDLE, "mark")
        sheet.say(116, 146, say("by hand, no wrench"), "middle", bold=True)
        told = say("The nut is run up over the tube’s end by hand until it grips.")
    else:
        _clamps(sheet, end, (112, 146))
        sheet.line(136, _MIDDLE + 52, 136, 128, "help", width=HELP)
        sheet.say(136, 146, say("over the ridges"), "middle", bold=True)
        told = (
            say("The clamp sits over the ridges, not beyond them.")
            if end.clamps <= 1
            else say(
                "{n} clamps sit over the ridges, their screws on opposite sides.",
                n=Figure(end.clamps),
            )
        )
    return Drawing(say("The lock."), sheet.markup(), told)


def tug(end: Ending) -> Drawing:
    """A hard pull away from the fitting."""
    sheet = Sheet(132)
    if end.goes_in:
        _body(sheet, 190, 86)
        _tube(sheet, end, 86, 300)
        _hold(sheet, end, 190)
    else:
        _barb(sheet, end, 90)
        _tube(sheet, end, 92, 300)
    if end.kind == "collar":
        _nut(sheet, 92)
    elif end.kind == "barb_clamped":
        _clamps(sheet, end, (112, 146))
    sheet.arrow(308, _MIDDLE, 354, _MIDDLE, "mark")
    words = say("Hold the fitting and pull hard on what was pushed on. It must not move at all.")
    return Drawing(say("The tug."), sheet.markup(), words)
