"""Which way the tape goes round a male thread, and how many turns to go past hand tight."""

from __future__ import annotations

import math

from fieldkit.engine.words import say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.scale import numeral
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Sheet, in_a_row


def tape_direction() -> Drawing:
    """The male end face on with the tape's way round, and from the side with the tape on."""
    words = say(
        "Face the open end of the male thread. Wind the tape clockwise, from the second thread "
        "back, each lap half over the last."
    )
    sheet = Sheet(196)
    x, y, radius = 84.0, 92.0, 54.0
    sheet.circle(x, y, radius, "wall")
    sheet.circle(x, y, radius - 17, "hole")
    arc, tip = radius + 13, math.radians(20)
    start = (x + arc * math.cos(math.radians(-150)), y + arc * math.sin(math.radians(-150)))
    end = (x + arc * math.cos(tip), y + arc * math.sin(tip))
    # SVG's y goes down, so sweep 1 turns clockwise on the page, as the person sees it.
    sheet.path(
        f"M{start[0]:.1f} {start[1]:.1f}A{arc:.0f} {arc:.0f} 0 0 1 {end[0]:.1f} {end[1]:.1f}",
        "mark tape__way",
        width=BOLD,
    )
    sheet.trace([(end[0] - 8, end[1] - 8), end, (end[0] + 7, end[1] - 9)], "mark", width=BOLD)
    sheet.say(x, 186, say("facing its open end"), "middle")
    _side(sheet, 196, 46, 148, 92)
    sheet.say(270, 186, say("from the side"), "middle")
    return Drawing(say("Which way the tape goes."), sheet.markup(), words)


def _side(sheet: Sheet, left: float, top: float, long: float, wide: float) -> None:
    """A tapered male thread: crests, and tape over all but the first."""
    body, crests = 46.0, 7
    pitch, slant = (long - body) / crests, 6.0
    sheet.box(left + long - body, top - 8, body, wide + 16, "wall")
    right = left + long - body
    up, down = [], []
    for number in range(crests * 2 + 1):
        place = right - number * pitch / 2
        taper = slant * number / (crests * 2)
        out = 0.0 if number % 2 else 5.0
        up.append((place, top + 5 + taper - out))
        down.append((place, top + wide - 5 - taper + out))
    sheet.shape([*up, *reversed(down)], "wall")
    for lap in range(4):
        near = right - pitch * (5.6 - 1.4 * lap)
        sheet.shape(
            [
                (near, top - 1 + 4 - lap),
                (near + pitch * 1.9, top - 1 + 3 - lap),
                (near + pitch * 2.4, top + wide - 3 + lap),
                (near + pitch * 0.5, top + wide - 4 + lap),
            ],
            "tape",
            width=HELP,
        )


def marked_hand_tight() -> Drawing:
    """Male and female screwed together by hand, with one line drawn across both."""
    sheet = Sheet(150)
    top, wide, seam = 26.0, 76.0, 176.0
    sheet.box(-6, top + 10, 116, wide - 20, "wall")
    sheet.box(110, top - 6, seam - 110, wide + 12, "wall")  # the female's hub
    sheet.box(seam, top + 8, 34, wide - 16, "wall")  # threads that still show
    for crest in (seam + 8, seam + 17, seam + 26):
        sheet.line(crest, top + 8, crest - 3, top + wide - 8, "help", width=HELP)
    sheet.box(seam + 34, top - 2, 40, wide + 4, "wall")
    sheet.box(seam + 74, top + 10, 116, wide - 20, "wall")
    middle = top + wide / 2
    sheet.line(128, middle, seam, middle, "mark hand__mark", width=BOLD)
    sheet.line(seam + 34, middle, seam + 62, middle, "mark hand__mark", width=BOLD)
    sheet.say(WIDTH / 2, 138, say("one line across both parts"), "middle", bold=True)
    words = say("Draw one line across both parts. Each time the two meet is one whole turn.")
    return Drawing(say("Hand tight."), sheet.markup(), words)


def turns_past_hand(turns_min: float, turns_max: float, went: float | None = None) -> Drawing:
    """A dial of turns: hand tight, the stretch to stop in, and the stop.

    Parameters
    ----------
    turns_min, turns_max : float
        Where to stop, counted from hand tight. [turns]
    went : float or None
        How far it was turned. [turns]
    """
    words = say(
        "From hand tight, {low} to {high} turns, no more.",
        low=numeral(turns_min),
        high=numeral(turns_max),
    )
    if went is not None:
        words = in_a_row(words, say("It was turned {went}.", went=numeral(went)))
    furthest = max(turns_max + 1.0, (went or 0.0) + 0.25, 2.5)
    left, right, y = 26.0, WIDTH - 26.0, 82.0

    def to_x(turns: float) -> float:
        return left + turns / furthest * (right - left)

    sheet = Sheet(170)
    sheet.box(to_x(turns_min), y - 15, to_x(turns_max) - to_x(turns_min), 30, "good turns__stretch")
    sheet.box(to_x(turns_max), y - 15, right - to_x(turns_max), 30, "bad turns__past")
    sheet.line(left, y, right, y, "ink")
    for quarter in range(int(furthest * 4) + 1):
        whole = quarter % 4 == 0
        place = to_x(quarter / 4)
        sheet.line(
            place, y - (15 if whole else 6), place, y + (15 if whole else 6), "help", width=HELP
        )
        if whole:
            sheet.say(place, y + 36, f"{quarter // 4}", "middle")
    sheet.say(
        (to_x(turns_min) + to_x(turns_max)) / 2, y - 24, say("stop in here"), "middle", bold=True
    )
    sheet.say(WIDTH, y - 46, say("it can split past here"), "end")
    sheet.line(to_x(turns_max), y - 40, to_x(turns_max), y - 15, "help", width=HELP)
    if went is not None:
        sheet.arrow(to_x(went), y + 66, to_x(went), y + 42, "mark turns__went")
        sheet.say(to_x(went), y + 84, say("you"), "middle")
    sheet.say(left - 24, y + 58, say("hand tight"))
    sheet.say(right + 24, y + 58, say("turns"), "end")
    return Drawing(say("How far to turn."), sheet.markup(), words)
