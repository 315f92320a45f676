"""Where to put the caliper, and how drills find the size of a hole."""

from __future__ import annotations

import math

from fieldkit.engine.words import say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Sheet

#: The four readings, in the order the page asks for them: two pairs at right angles. [degrees]
WAYS = (0.0, 90.0, 45.0, 135.0)


def four_ways() -> Drawing:
    """The end of the pipe with the four ways across it, numbered as the boxes are."""
    sheet = Sheet(210)
    x, y, radius, reach = WIDTH / 2, 105.0, 56.0, 84.0
    sheet.circle(x, y, radius, "wall four__pipe", width=BOLD)
    sheet.circle(x, y, radius - 12, "hole")
    for number, way in enumerate(WAYS, start=1):
        along, up = math.cos(math.radians(way)), -math.sin(math.radians(way))
        sheet.line(
            x - along * (radius + 10), y - up * (radius + 10),
            x + along * (radius + 10), y + up * (radius + 10),
            "mark four__way", width=BOLD if number <= 2 else HELP,
        )  # fmt: skip
        sheet.circle(x + along * reach, y + up * reach, 12, "hole")
        sheet.say(x + along * reach, y + up * reach + 5, str(number), "middle", bold=True)
    words = say(
        "Measure across 1 first, then 2, a quarter turn from it. Then 3 and 4, half-way between."
    )
    return Drawing(say("Four ways across."), sheet.markup(), words)


def thinnest_wall() -> Drawing:
    """A cut end whose wall is thicker on one side, and where to measure it."""
    sheet = Sheet(176)
    x, y, radius, hole, off = 110.0, 88.0, 70.0, 52.0, 7.0
    sheet.circle(x, y, radius, "wall", width=BOLD)
    sheet.circle(x + off, y, hole, "hole")
    near = x + off + hole
    sheet.line(near, y - 16, near, y + 16, "mark", width=BOLD)
    sheet.line(x + radius, y - 16, x + radius, y + 16, "mark", width=BOLD)
    sheet.line(x + radius + 6, y, 206, y, "help", width=HELP)
    sheet.say(212, y + 5, say("thinnest place"), bold=True)
    words = say("A wall is seldom even. Go round the cut end and measure it where it is thinnest.")
    return Drawing(say("The wall."), sheet.markup(), words)


def hole_by_drills() -> Drawing:
    """A drill's smooth end that slides into the hole, and the next one that does not."""
    sheet = Sheet(190)
    hole, wall = 56.0, 9.0
    for left, shank, words in (
        (0.0, hole - 4, say("this one slides in")),
        (190.0, hole + 6, say("this one does not")),
    ):
        x, mouth = left + 85, 96.0
        goes_in = shank < hole
        for side in (-1, 1):
            edge = x + side * hole / 2
            sheet.box(edge if side > 0 else edge - wall, mouth, wall, 68, "wall")
        foot = mouth + 40 if goes_in else mouth
        sheet.box(x - shank / 2, 4, shank, foot - 4, "tool drills__shank")
        sheet.say(x, 184, words, "middle", bold=goes_in)
    said = say(
        "Try smooth drill ends, without force. The hole lies between the largest that slides in "
        "and the next that does not."
    )
    return Drawing(say("Drills as gauges."), sheet.markup(), said)
