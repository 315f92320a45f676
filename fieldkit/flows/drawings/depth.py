"""The depth mark on the pipe beside the socket it goes into, to scale."""

from __future__ import annotations

from fieldkit.engine.words import Figure, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.svg import BOLD, HELP, Sheet

#: The longest socket drawn, and the widest pipe. [units]
_LONGEST, _WIDEST = 130.0, 108.0


def depth_mark(od_in: float, depth_in: float) -> Drawing:
    """The pipe with its mark, and the socket cut open over it.

    Parameters
    ----------
    od_in : float
        Outside of the pipe. [in]
    depth_in : float
        Depth of the socket. [in]
    """
    words = say(
        "The socket is {depth} deep. Mark the pipe that far from its end; "
        "put a second mark a thumb’s width further out.",
        depth=Figure(depth_in, "in", 3),
    )
    unit = min(_LONGEST / depth_in, _WIDEST / od_in)
    wide, deep, wall = od_in * unit, depth_in * unit, 11.0
    sheet = Sheet(wide + 2 * wall + 108)
    end, top = 200.0, 34.0 + wall
    _socket(sheet, end + 8, top, wide=wide, deep=deep, wall=wall)
    sheet.box(-6, top, end + 6, wide, "wall depth__pipe")
    mark = end - deep
    sheet.line(mark, top, mark, top + wide, "mark depth__mark", width=BOLD)
    if mark > 34:
        sheet.line(mark - 28, top, mark - 28, top + wide, "mark", width=HELP)
    sheet.say(mark + 20, top - 14, say("mark here"), "end", up=True)
    foot = top + wide + wall + 16
    sheet.line(mark, top + wide + 4, mark, foot + 5, "help", width=HELP)
    sheet.line(end, top + wide + 4, end, foot + 5, "help", width=HELP)
    sheet.span(mark, end, foot, Figure(depth_in, "in", 3))
    sheet.say(end + 8 + deep / 2, top - wall - 8, say("socket"), "middle")
    sheet.say(0, foot + 46, say("Pipe and socket to one scale"))
    return Drawing(say("How deep it goes."), sheet.markup(), words)


def _socket(
    sheet: Sheet, left: float, top: float, *, wide: float, deep: float, wall: float
) -> None:
    """A hub cut open: two walls and the stop at its bottom."""
    right = left + deep
    sheet.shape(
        [
            (left, top - wall),
            (right + 14, top - wall),
            (right + 14, top + wide + wall),
            (left, top + wide + wall),
            (left, top + wide),
            (right, top + wide),
            (right, top),
            (left, top),
        ],
        "wall depth__socket",
    )
    sheet.line(left, top, right, top, "depth__deep")
