"""The cure of a cemented joint as a bar over hours, with the temperature over it."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.engine.words import Figure, Span, Text, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.scale import Scale, numeral
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Sheet, in_a_row

_LEFT, _RIGHT = 46.0, WIDTH - 14.0
_TOP, _LOW, _BAR, _FOOT = 34.0, 124.0, 158.0, 192.0

#: Hours between ticks that people count in.
_HOUR_STEPS = (0.25, 0.5, 1, 2, 4, 6, 12, 24, 48, 96, 168, 336)


def cure_bar(
    set_minutes: float, cure_minutes: float, spells: Sequence[tuple[float, float]]
) -> Drawing:
    """Set, cure and temperature on one scale of time.

    Parameters
    ----------
    set_minutes, cure_minutes : float
        From closing the joint. [min]
    spells : sequence of (float, float)
        From so many minutes on it is so warm; the first holds at 0. [min, °F]
    """
    words = _words(set_minutes, cure_minutes, spells)
    sheet = Sheet(288)
    far = max(cure_minutes, set_minutes) * 1.06

    def to_x(minutes: float) -> float:
        return _LEFT + minutes / far * (_RIGHT - _LEFT)

    warmths = [warmth for start, warmth in spells if start < far]
    to_y = Scale((min(warmths) - 5, max(warmths) + 5), "°F", start=_LOW, end=_TOP, most=3)
    sheet.say(0, 16, say("How warm it is, {unit}", unit=to_y.unit), bold=True)
    sheet.levels(to_y.ticks, _LEFT, _RIGHT)
    points: list[tuple[float, float]] = []
    for (start, warmth), end in zip(
        spells, [*(start for start, _ in spells[1:]), far], strict=True
    ):
        if start < far:
            points += [
                (to_x(max(0.0, start)), to_y(warmth)),
                (to_x(min(far, max(0.0, end))), to_y(warmth)),
            ]
    sheet.trace(points, "mark cure__warmth", width=BOLD)
    sheet.say(0, _BAR - 8, say("The joint"), bold=True)
    sheet.box(to_x(0), _BAR, to_x(cure_minutes) - to_x(0), _FOOT - _BAR, "band cure__cure")
    if 0 < set_minutes < cure_minutes:
        sheet.box(to_x(0), _BAR, to_x(set_minutes) - to_x(0), _FOOT - _BAR, "bad cure__set")
    sheet.line(to_x(cure_minutes), _TOP, to_x(cure_minutes), _FOOT + 8, width=BOLD)
    step = next((one for one in _HOUR_STEPS if far / 60 / one <= 5), 24 * (far / 1440 // 5 + 1))
    hours = 0.0
    while hours * 60 <= far:
        sheet.line(to_x(hours * 60), _FOOT, to_x(hours * 60), _FOOT + 6, "help", width=HELP)
        sheet.say(to_x(hours * 60), _FOOT + 22, numeral(hours), "middle")
        hours += step
    sheet.say((_LEFT + _RIGHT) / 2, _FOOT + 42, say("hours after it was closed"), "middle")
    sheet.box(0, 244, 18, 14, "bad")
    sheet.say(26, 257, say("leave it still"))
    sheet.box(0, 266, 18, 14, "band")
    sheet.say(26, 279, say("no pressure yet"))
    return Drawing(say("The cure over time."), sheet.markup(), words)


def _words(set_minutes: float, cure_minutes: float, spells: Sequence[tuple[float, float]]) -> Text:
    told = [
        say(
            "Leave it still for {set}; no pressure for {cure}.",
            set=Span(set_minutes),
            cure=Span(cure_minutes),
        )
    ]
    for start, warmth in spells:
        if start >= cure_minutes:
            break
        told.append(
            say("It is {warmth} from {start} on.", warmth=Figure(warmth, "°F"), start=Span(start))
            if start > 0
            else say("At first it is {warmth}.", warmth=Figure(warmth, "°F"))
        )
    return in_a_row(*told)
