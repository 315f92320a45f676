"""Shares with how far each may be off, one row each: looking beats reading."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.engine.share import Share
from fieldkit.engine.words import Figure, Quote, Text, join, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.scale import Scale
from fieldkit.flows.drawings.svg import BOLD, HELP, LINE, WIDTH, Sheet, lines_of

_LEFT, _RIGHT = 14.0, WIDTH - 14.0
_TOP, _BAR = 4.0, 26.0

Row = tuple[Text | Quote, Share]


def in_a_hundred(share: float) -> Figure:
    """A share as so many in a hundred."""
    return Figure(100 * share, "", 0)


def share_words(share: Share) -> Text:
    """A share in words: how many of how many, in a hundred, and between what.

    Examples
    --------
    >>> from fieldkit.engine.share import share_of
    >>> share_words(share_of(15, 148))
    '15 of 148: 10 in a hundred, between 6 and 16'
    >>> share_words(share_of(1, 3))
    '1 of 3: too few to tell'
    """
    if share.too_few:
        return say("{n} of {of}: too few to tell", n=share.found, of=share.of)
    return say(
        "{n} of {of}: {share} in a hundred, between {low} and {high}",
        n=share.found,
        of=share.of,
        share=in_a_hundred(share.value),
        low=in_a_hundred(share.low),
        high=in_a_hundred(share.high),
    )


def share_plot(rows: Sequence[Row], *, title: Text) -> Drawing:
    """A line for each interval, with a dot at the share; too few to tell: a thin line, no dot.

    Parameters
    ----------
    rows : sequence of Row
        What it is the share of, and the share; one or more.
    title : Text
        What it is.

    Returns
    -------
    Drawing
        The plot over 0 to the largest bound, in a hundred.
    """
    named = [lines_of(name, _RIGHT - _LEFT) for name, _ in rows]
    bottom = _TOP + sum(LINE * len(lines) + _BAR for lines in named)
    sheet = Sheet(bottom + 44)
    to_x = Scale((0.0, 100 * max(share.high for _, share in rows)), "", start=_LEFT, end=_RIGHT)
    sheet.line(_LEFT, bottom, _RIGHT, bottom, "help", width=HELP)
    for place, figure in to_x.ticks:
        edge = "start" if place < _LEFT + 8 else "end" if place > _RIGHT - 8 else "middle"
        sheet.say(place, bottom + 18, figure, edge)
    sheet.say((_LEFT + _RIGHT) / 2, bottom + 38, say("in a hundred"), "middle")
    foot = _TOP
    for (name, share), lines in zip(rows, named, strict=True):
        sheet.say(_LEFT, foot + LINE - 4, name, bold=not share.too_few, room=_RIGHT - _LEFT)
        foot += LINE * len(lines) + _BAR
        _bar(sheet, to_x, share, foot - _BAR / 2)
        for place, _ in to_x.ticks:
            sheet.line(place, foot - _BAR + 4, place, foot - 4, "help", width=HELP)
    told = [say("{what}: {share}.", what=name, share=share_words(share)) for name, share in rows]
    return Drawing(title, sheet.markup(), join(told, " "))


def _bar(sheet: Sheet, to_x: Scale, share: Share, y: float) -> None:
    """The interval, and the share where it tells something."""
    low, high = to_x(100 * share.low), to_x(100 * share.high)
    width = HELP if share.too_few else BOLD
    sheet.line(low, y, high, y, "shares__span", width=width)
    for end in (low, high):
        sheet.line(end, y - 5, end, y + 5, "shares__end", width=width)
    if not share.too_few:
        sheet.circle(to_x(100 * share.value), y, 5, "dot shares__dot")
