"""How a strip of paper measures a tube: once round, then laid flat, to one scale."""

from __future__ import annotations

import math

from fieldkit.engine.words import say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Sheet

_ACROSS = 100.0


def strip_method() -> Drawing:
    """The tube with a strip round it, and under it the strip laid on a ruler."""
    words = say(
        "Wrap the strip once round and mark where it meets itself. Lay it flat and measure to the "
        "mark. That length is 3.14 times the width across."
    )
    sheet = Sheet(252)
    x, y, length = 86.0, 70.0, math.pi * _ACROSS
    sheet.circle(x, y, _ACROSS / 2, "wall strip__across")
    sheet.circle(x, y, _ACROSS / 2 - 9, "hole")
    sheet.circle(x, y, _ACROSS / 2 + 4, "strip", width=BOLD)
    sheet.trace([(x, y - 54), (x + 46, y - 60), (x + 66, y - 56)], "strip", width=BOLD)
    sheet.line(x, y - 64, x, y - 44, "mark", width=BOLD)
    sheet.say(166, 52, say("1  Round it, snug"), bold=True)
    sheet.say(166, 74, say("Mark where it meets itself"), room=170)
    left = (WIDTH - length) / 2
    sheet.say(left, 158, say("2  Flat on a ruler"), bold=True)
    sheet.box(left, 168, length + 22, 18, "paper")
    sheet.line(left + length, 162, left + length, 192, "mark", width=BOLD)
    sheet.line(left, 194, WIDTH - 4, 194, "help", width=HELP)
    for mark in range(int((WIDTH - 4 - left) / 10) + 1):
        sheet.line(
            left + 10 * mark,
            194,
            left + 10 * mark,
            208 if mark % 5 == 0 else 201,
            "help",
            width=HELP,
        )
    sheet.line(left, 222, left + length, 222, "help strip__length", width=HELP)
    for end, inward in ((left, 1), (left + length, -1)):
        sheet.trace(
            [(end + inward * 7, 218), (end, 222), (end + inward * 7, 226)], "help", width=HELP
        )
    sheet.say(WIDTH / 2, 242, say("measure this"), "middle")
    return Drawing(say("A strip of paper as a tape."), sheet.markup(), words)
