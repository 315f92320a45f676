"""One small picture for each way a tube goes on: over ridges, into a ring or teeth, locked."""

from __future__ import annotations

from fieldkit.engine.words import say
from fieldkit.flows.drawings.svg import BOLD, HELP, Sheet
from fieldkit.flows.step import Drawing

_MIDDLE, _BORE, _WALL = 72.0, 24.0, 8.0  # of the tube: half its hole, and its wall


def _tube(sheet: Sheet, left: float, right: float) -> None:
    """A tube cut open, going off to the right."""
    for y in (_MIDDLE - _BORE - _WALL, _MIDDLE + _BORE):
        sheet.box(left, y, right - left, _WALL, "wall")


def _barb(sheet: Sheet, shoulder: float) -> None:
    """A body with a ridged end to the right of its shoulder."""
    sheet.box(-6, _MIDDLE - 40, shoulder + 6, 80, "wall")
    sheet.box(shoulder, _MIDDLE - 18, 104, 36, "wall")
    for ridge in range(3):
        face = shoulder + 20 + 30 * ridge
        for side in (-1, 1):
            edge, tip = _MIDDLE + side * 18, _MIDDLE + side * _BORE
            sheet.shape([(face, edge), (face, tip), (face + 24, edge)], "wall")


def beside_the_fitting() -> Drawing:
    """The tube laid beside its fitting, and the mark at the shoulder."""
    words = say("Lay the tube’s end at the shoulder or the stop. Mark it as deep as it will go.")
    sheet = Sheet(186)
    _barb(sheet, 90)
    sheet.box(90, 128, 276, 30, "wall")
    sheet.line(194, 116, 194, 170, "mark pushing__mark", width=BOLD)
    sheet.line(194, _MIDDLE + 20, 194, 116, "help", width=HELP)
    sheet.span(90, 194, 164, say("this deep"))
    return Drawing(say("The depth mark."), sheet.markup(), words)


def over_the_ridges() -> Drawing:
    """The tube over every ridge, up to the shoulder."""
    words = say("The tube covers every ridge and stands against the shoulder. No gap shows.")
    sheet = Sheet(152)
    _barb(sheet, 90)
    _tube(sheet, 92, 366)
    sheet.line(91, _MIDDLE - 38, 91, _MIDDLE + 38, "mark", width=BOLD)
    sheet.arrow(320, _MIDDLE, 226, _MIDDLE, "mark")
    sheet.line(91, _MIDDLE + 42, 91, 128, "help", width=HELP)
    sheet.say(91, 146, say("up to here"), "middle", bold=True)
    return Drawing(say("Over the ridges."), sheet.markup(), words)


def into_the_stop() -> Drawing:
    """The tube through the ring to the stop, its mark at the lip."""
    words = say("Push until it meets the stop. Then the mark stands at the lip.")
    sheet = Sheet(152)
    lip, stop = 190.0, 86.0
    for y in (_MIDDLE - 48, _MIDDLE + 34):
        sheet.box(40, y, lip - 40, 14, "wall")
    for y in (_MIDDLE - 34, _MIDDLE + 20):
        sheet.box(stop - 18, y, 18, 14, "wall")
    _tube(sheet, stop, 366)
    for side in (-1, 1):
        sheet.circle(lip - 28, _MIDDLE + side * 33.5, 3, "dot")
    sheet.line(lip + 2, _MIDDLE - 36, lip + 2, _MIDDLE + 36, "mark", width=BOLD)
    sheet.arrow(320, _MIDDLE, 226, _MIDDLE, "mark")
    sheet.say(stop, 146, say("stop"), "middle")
    sheet.say(lip + 2, 146, say("mark at the lip"), "middle", bold=True)
    return Drawing(say("To the stop."), sheet.markup(), words)


def locked() -> Drawing:
    """A clamp over the ridges."""
    words = say("The clamp, or the nut, sits over the ridges, not beyond them.")
    sheet = Sheet(152)
    _barb(sheet, 90)
    _tube(sheet, 92, 366)
    for y in (_MIDDLE - _BORE - _WALL - 9, _MIDDLE + _BORE + _WALL):
        sheet.box(118, y, 30, 9, "band")
    sheet.line(133, _MIDDLE + 44, 133, 128, "help", width=HELP)
    sheet.say(133, 146, say("over the ridges"), "middle", bold=True)
    return Drawing(say("The lock."), sheet.markup(), words)


def tug() -> Drawing:
    """A hard pull away from the fitting."""
    words = say("Hold the fitting and pull the tube hard. It must not move at all.")
    sheet = Sheet(132)
    _barb(sheet, 90)
    _tube(sheet, 92, 300)
    sheet.arrow(308, _MIDDLE, 354, _MIDDLE, "mark")
    return Drawing(say("The tug."), sheet.markup(), words)
