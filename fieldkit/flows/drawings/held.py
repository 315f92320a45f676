"""A pressure test as readings over time, with the band that temperature explains."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.engine.words import Figure, Span, Text, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.scale import Scale
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Sheet, in_a_row

_LEFT, _RIGHT, _TOP, _LOW = 50.0, WIDTH - 14.0, 34.0, 184.0


def readings_plot(
    minutes: Sequence[float],
    read_psi: Sequence[float],
    expected_psi: Sequence[float | None],
    allowance_psi: float,
) -> Drawing | None:
    """The gauge beside what a tight line would show; None where temperature was not measured.

    Parameters
    ----------
    minutes : sequence of float
        When each reading was taken, rising from 0. [min]
    read_psi, expected_psi : sequence of float
        What the gauge showed, and what heat alone would make it show. [psi]
    allowance_psi : float
        How far apart the two may lie. [psi]
    """
    expected = [one for one in expected_psi if one is not None]
    if len(minutes) < 2 or len(expected) != len(minutes) or minutes[-1] <= minutes[0]:
        return None
    words = _words(minutes, read_psi, expected, allowance_psi)
    sheet = Sheet(288)
    levels = [*read_psi, *(one - allowance_psi for one in expected),
              *(one + allowance_psi for one in expected)]  # fmt: skip
    to_y = Scale(levels, "psi", start=_LOW, end=_TOP)
    passed = Scale((0.0, minutes[-1] - minutes[0]), "min", start=_LEFT, end=_RIGHT, snug=True)

    def to_x(when: float) -> float:
        return passed(when - minutes[0])

    sheet.say(0, 16, say("Gauge, {unit}", unit=to_y.unit), bold=True)
    upper = [(to_x(t), to_y(e + allowance_psi)) for t, e in zip(minutes, expected, strict=True)]
    lower = [(to_x(t), to_y(e - allowance_psi)) for t, e in zip(minutes, expected, strict=True)]
    sheet.shape([*upper, *reversed(lower)], "good held__band", width=HELP)
    sheet.levels(to_y.ticks, _LEFT, _RIGHT)
    places = [(to_x(t), to_y(p)) for t, p in zip(minutes, read_psi, strict=True)]
    sheet.trace(places, "held__read", width=BOLD)
    for x, y in places:
        sheet.circle(x, y, 5, "dot held__point")
    for x, figure in passed.ticks:
        sheet.line(x, _LOW, x, _LOW + 6, "help", width=HELP)
        sheet.say(x, _LOW + 22, figure, "end" if x > _RIGHT - 12 else "middle")
    sheet.say((_LEFT + _RIGHT) / 2, _LOW + 42, say("minutes"), "middle")
    sheet.box(0, 244, 18, 14, "good")
    sheet.say(26, 257, say("what heat explains"))
    sheet.circle(9, 273, 5, "dot")
    sheet.say(26, 279, say("what was read"))
    return Drawing(say("The test over time."), sheet.markup(), words)


def _words(
    minutes: Sequence[float],
    read_psi: Sequence[float],
    expected: Sequence[float],
    allowance_psi: float,
) -> Text:
    inside = abs(read_psi[-1] - expected[-1]) <= allowance_psi
    told = say(
        "In {time} the gauge went from {first} to {last}. Heat alone would leave {expected}, "
        "give or take {allowance}.",
        time=Span(minutes[-1] - minutes[0]),
        first=Figure(read_psi[0], "psi", 1),
        last=Figure(read_psi[-1], "psi", 1),
        expected=Figure(expected[-1], "psi", 1),
        allowance=Figure(allowance_psi, "psi", 1),
    )
    end = say("It ends inside that band.") if inside else say("It ends outside that band.")
    return in_a_row(told, end)
