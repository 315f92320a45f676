"""One small picture for each step of gluing, from the cut to the bead.

Where the pipe's outside and its socket's depth are known, they are drawn to their ratio.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.svg import BOLD, HELP, Sheet, in_a_row

# The pipe comes from the left, the socket stands on the right. [units]
_TOP, _WIDE, _WALL = 40.0, 64.0, 11.0
_FOOT = _TOP + _WIDE


@dataclass(frozen=True, slots=True)
class Fit:
    """A pipe and the socket that it goes into: outside and depth, where known. [in]"""

    od_in: float | None = None
    depth_in: float | None = None

    @property
    def deep(self) -> float:
        """Depth of the socket, of which the pipe fills the width; without sizes, a usual one."""
        if self.od_in is None or self.depth_in is None:
            return 0.75 * _WIDE
        return _WIDE * self.depth_in / self.od_in

    def with_scale(self, words: Text) -> Text:
        """What is told, and what is drawn to scale."""
        if self.od_in is None or self.depth_in is None:
            return words
        scale = say(
            "Drawn to scale: the pipe {od} across, the socket {depth} deep.",
            od=Figure(self.od_in, "in", 3),
            depth=Figure(self.depth_in, "in", 3),
        )
        return in_a_row(words, scale)


def _pipe(sheet: Sheet, end: float, *, top: float = _TOP) -> None:
    sheet.box(-6, top, end + 6, _WIDE, "wall")


def _socket(sheet: Sheet, fit: Fit, left: float) -> None:
    """A hub cut open, its mouth at ``left``."""
    right = left + fit.deep
    sheet.shape(
        [
            (left, _TOP - _WALL), (right + 14, _TOP - _WALL),
            (right + 14, _FOOT + _WALL), (left, _FOOT + _WALL),
            (left, _FOOT), (right, _FOOT), (right, _TOP), (left, _TOP),
        ],
        "wall gluing__socket",
    )  # fmt: skip


def square_cut(words: str = "") -> Drawing:
    """A square end beside a slanted one, with the usual words or others."""
    words = words or say(
        "Cut straight across. A slanted end leaves a gap at the bottom of the socket."
    )
    sheet = Sheet(146)
    _pipe(sheet, 120)
    sheet.line(120, _TOP - 14, 120, _FOOT + 14, "mark", width=BOLD)
    sheet.say(60, 140, say("square"), "middle", bold=True)
    sheet.shape([(200, _TOP), (326, _TOP), (304, _FOOT), (200, _FOOT)], "bad")
    sheet.line(326, _TOP - 14, 326, _FOOT + 14, "help", width=HELP)
    sheet.say(262, 140, say("slanted: no"), "middle")
    return Drawing(say("A square cut."), sheet.markup(), words)


def smooth_end() -> Drawing:
    """The end of the pipe cut open: its outer edge bevelled, no burr inside."""
    words = say("Bevel the outer edge all round. Leave no burr inside or out.")
    sheet = Sheet(150)
    wall, end, bevel = 20.0, 190.0, 12.0
    sheet.shape(
        [(-6, 20), (end - bevel, 20), (end, 20 + bevel), (end, 20 + wall), (-6, 20 + wall)], "wall"
    )
    foot = 130.0
    sheet.shape(
        [
            (-6, foot - wall), (end, foot - wall), (end, foot - bevel),
            (end - bevel, foot), (-6, foot),
        ],
        "wall",
    )  # fmt: skip
    sheet.line(end - bevel, 20, end, 20 + bevel, "mark smooth__bevel", width=BOLD)
    sheet.line(end, foot - bevel, end - bevel, foot, "mark smooth__bevel", width=BOLD)
    sheet.line(end + 2, 24, 214, 24, "help", width=HELP)
    sheet.say(220, 29, say("bevel outside"))
    sheet.line(end + 2, 20 + wall + 2, 214, 75, "help", width=HELP)
    sheet.line(end + 2, foot - wall - 2, 214, 75, "help", width=HELP)
    sheet.say(220, 80, say("no burr inside"))
    return Drawing(say("The end, cut open."), sheet.markup(), words)


def dry_fit(fit: Fit) -> Drawing:
    """The pipe pushed in dry, and the stretch of the socket in which it should stop."""
    words = say(
        "Push by hand, without cement. The pipe should stop between a third and two thirds in."
    )
    sheet = Sheet(176)
    mouth, deep = 170.0, fit.deep
    _socket(sheet, fit, mouth)
    _pipe(sheet, mouth + deep / 2)
    low, high = mouth + deep / 3, mouth + 2 * deep / 3
    sheet.box(low, _FOOT + _WALL + 8, high - low, 14, "good dry__stretch")
    under = _FOOT + _WALL + 15
    sheet.line(mouth, under, mouth + deep, under, "help dry__deep", width=HELP)
    sheet.line(mouth + deep / 2, _TOP, mouth + deep / 2, _FOOT, "mark", width=BOLD)
    sheet.arrow(30, _TOP + _WIDE / 2, 110, _TOP + _WIDE / 2, "mark")
    sheet.say(mouth + deep / 2, 164, say("it should stop in here"), "middle", bold=True)
    return Drawing(say("The dry fit."), sheet.markup(), fit.with_scale(words))


def coats(fit: Fit, title: Text, words: Text, numbers: str) -> Drawing:
    """Pipe and socket apart with what is brushed on, in the order of ``numbers``.

    Parameters
    ----------
    fit : Fit
        Pipe and socket.
    title, words : Text
        What it is, and the same in words.
    numbers : str
        Numbers of the coats on the pipe and on the socket, such as ``"2;1 3"``.
    """
    on_pipe, in_socket = numbers.split(";")
    sheet = Sheet(166)
    end, mouth, deep = 170.0, 226.0, fit.deep
    _pipe(sheet, end)
    sheet.box(end - deep, _TOP, deep, _WIDE, "band")
    _socket(sheet, fit, mouth)
    for y in (_TOP, _FOOT - 8):
        sheet.box(mouth, y, deep, 8, "band")
    for middle, coat in ((end - deep / 2, on_pipe), (mouth + deep / 2, in_socket)):
        order = coat.split()
        for n, number in enumerate(order):
            x = middle + (n - (len(order) - 1) / 2) * 32
            sheet.circle(x, 146, 12, "hole")
            sheet.say(x, 151, number, "middle", bold=True)
    sheet.say(end - deep / 2, 26, say("pipe"), "middle")
    sheet.say(mouth + deep / 2, 20, say("socket"), "middle")
    return Drawing(title, sheet.markup(), words)


def prime(fit: Fit) -> Drawing:
    """Primer: socket, pipe, socket again."""
    return coats(
        fit,
        say("Primer, in this order."),
        say("1: the socket. 2: the pipe, as deep as the mark. 3: the socket again."),
        "2;1 3",
    )


def cement(fit: Fit) -> Drawing:
    """Cement: pipe, socket, pipe again."""
    return coats(
        fit,
        say("Cement, in this order."),
        say("1: a full coat on the pipe. 2: a thin one in the socket. 3: the pipe once more."),
        "1 3;2",
    )


def push_and_turn(fit: Fit) -> Drawing:
    """The pipe going home, with a quarter turn seen from its end."""
    words = say("Push to the bottom and turn a quarter as it goes. Then do not turn it back.")
    sheet = Sheet(160)
    x, y, radius = 56.0, _TOP + _WIDE / 2, 36.0
    sheet.circle(x, y, _WIDE / 2 - 4, "wall")
    sheet.circle(x, y, _WIDE / 2 - 14, "hole")
    start, end = math.radians(-135), math.radians(-45)
    places = [(x + radius * math.cos(one), y + radius * math.sin(one)) for one in (start, end)]
    (x1, y1), (x2, y2) = places
    sheet.path(
        f"M{x1:.2f} {y1:.2f}A{radius:.0f} {radius:.0f} 0 0 1 {x2:.2f} {y2:.2f}",
        "mark push__turn",
        width=BOLD,
    )
    sheet.trace([(x2 - 10, y2 + 2), (x2, y2), (x2 - 1, y2 - 10)], "mark", width=BOLD)
    sheet.say(x, 140, say("a quarter turn"), "middle")
    mouth = 236.0
    sheet.box(132, _TOP, mouth + fit.deep - 132, _WIDE, "wall")
    _socket(sheet, fit, mouth)
    sheet.box(mouth, _TOP, fit.deep, _WIDE, "wall")
    sheet.line(mouth, _TOP, mouth, _FOOT, "mark", width=BOLD)
    sheet.arrow(146, y, 214, y, "mark")
    sheet.say(mouth, 140, say("to the mark"), "middle")
    return Drawing(say("Push and turn."), sheet.markup(), fit.with_scale(words))


def hold_still(fit: Fit) -> Drawing:
    """Both hands press the joint together."""
    words = say("Press both sides together and keep still. Let go when the time is up.")
    sheet = Sheet(132)
    mouth, y = 150.0, _TOP + _WIDE / 2
    sheet.box(70, _TOP, mouth + fit.deep - 70, _WIDE, "wall")
    _socket(sheet, fit, mouth)
    sheet.box(mouth, _TOP, fit.deep, _WIDE, "wall")
    sheet.arrow(12, y, 62, y, "mark")
    sheet.arrow(348, y, mouth + fit.deep + 22, y, "mark")
    return Drawing(say("Hold."), sheet.markup(), words)


def even_bead(fit: Fit) -> Drawing:
    """The bead of cement at the socket's mouth, all round."""
    words = say("A bead shows all round the mouth of the socket. Wipe off what is over.")
    sheet = Sheet(146)
    mouth = 190.0
    sheet.box(-6, _TOP, mouth + 6, _WIDE, "wall")
    sheet.box(mouth, _TOP - _WALL, fit.deep + 14, _WIDE + 2 * _WALL, "wall")
    sheet.box(mouth - 9, _TOP - 5, 9, _WIDE + 10, "band")
    sheet.line(mouth - 5, _FOOT + 8, mouth - 5, _FOOT + 20, "help", width=HELP)
    sheet.say(mouth - 5, 140, say("even all round"), "middle")
    return Drawing(say("The bead."), sheet.markup(), words)
