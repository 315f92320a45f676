"""A clamp-on tee round a pipe that stays whole, cut across: hole, gasket, clamp, outlet."""

from __future__ import annotations

from fieldkit.engine.words import Figure, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.svg import BOLD, HELP, Sheet, in_a_row

_X, _Y, _RADIUS = 130.0, 118.0, 56.0
_HOLE = 13.0  # half the hole, as drawn
_USUAL = 0.74  # bore over outside, where neither is known


def round_the_pipe(od_in: float | None = None, wall_in: float | None = None) -> Drawing:
    """The tee on the pipe, the pipe's wall to its ratio where outside and wall are known.

    Parameters
    ----------
    od_in, wall_in : float or None
        Outside and wall of the rigid pipe, above 0. [in]
    """
    known = od_in is not None and wall_in is not None and 0 < 2 * wall_in < od_in
    bore = _RADIUS * (1 - 2 * (wall_in or 0.0) / (od_in or 1.0) if known else _USUAL)
    sheet = Sheet(214)
    sheet.circle(_X, _Y, _RADIUS + 12, "wall saddle__clamp")
    sheet.circle(_X, _Y, _RADIUS, "wall saddle__pipe")
    sheet.circle(_X, _Y, bore, "hole")
    top, inside = _Y - _RADIUS, _Y - bore
    sheet.box(_X - _HOLE, top - 2, 2 * _HOLE, inside - top + 6, "hole")  # one wall only
    for side in (-1, 1):
        sheet.circle(_X + side * (_HOLE + 9), top - 1, 5, "dot saddle__gasket")
        sheet.box(_X + side * (_RADIUS + 26) - 14, _Y - 15, 28, 12, "wall")
        sheet.box(_X + side * (_RADIUS + 26) - 14, _Y + 3, 28, 12, "wall")
        sheet.line(
            _X + side * (_RADIUS + 26), _Y - 24, _X + side * (_RADIUS + 26), _Y + 24, width=BOLD
        )
    sheet.box(_X - 30, top - 24, 60, 18, "wall")
    sheet.box(_X - _HOLE, 4, 2 * _HOLE, top - 28, "wall")
    for n in range(3):
        for side in (-1, 1):
            edge, ridge = _X + side * _HOLE, 10.0 + 9 * n
            sheet.trace([(edge, ridge), (edge + side * 6, ridge + 7), (edge, ridge + 7)])
    for y, to_x, to_y, words in (
        (24.0, _X + 22, 18.0, say("outlet")),
        (56.0, _X + _HOLE + 16, top - 1, say("gasket")),
        (90.0, _X + _HOLE, top + 8, say("hole, near wall only")),
        (160.0, _X + _RADIUS + 42, _Y + 18, say("screws, in turn")),
    ):
        sheet.line(234, y - 5, to_x, to_y, "help", width=HELP)
        sheet.say(238, y, words, room=122)
    words = say(
        "The tee sits round the whole pipe. One hole goes through the near wall, the gasket lies "
        "round it, and the clamp presses it evenly."
    )
    if known:
        scale = say(
            "The pipe is drawn to scale: {od} outside, wall {wall}.",
            od=Figure(od_in or 0.0, "in", 3),
            wall=Figure(wall_in or 0.0, "in", 3),
        )
        words = in_a_row(words, scale)
    return Drawing(say("Clamped round the pipe."), sheet.markup(), words)
