"""Where on a joint the first drop shows: a run of pipe to touch, one place an option."""

from __future__ import annotations

from fieldkit.engine.words import say
from fieldkit.flows.block import Drawing, Spot
from fieldkit.flows.drawings.svg import BOLD, HELP, Sheet

#: Option → where on the picture its drop shows, and where its number stands.
_DROPS = {
    "socket_weld": (46.0, 76.0),
    "valve": (108.0, 84.0),
    "thread": (172.0, 72.0),
    "barb": (236.0, 70.0),
    "tube_wall": (316.0, 66.0),
    "hose": (36.0, 258.0),
    "ring": (108.0, 258.0),
    "collar": (180.0, 258.0),
    "grip": (252.0, 258.0),
    "saddle": (325.0, 258.0),
}
_FIRST_ROW, _SECOND_ROW = 120.0, 306.0


def leak_places() -> Drawing:
    """Rigid pipe, valve, adapter and tubing in a row, and the other five ends under it."""
    words = say(
        "Ten places on a joint. From the pipe on: its glued socket, the body of the valve, the "
        "screw thread, the tube’s mouth, the tube itself. Below: hose nut, ring, nut, "
        "grip, and the clamp of a tee."
    )
    sheet = Sheet(336)
    _run(sheet)
    _ends(sheet)
    spots = []
    for option, (x, y) in _DROPS.items():
        number_y = _FIRST_ROW if y < _FIRST_ROW else _SECOND_ROW
        sheet.line(x, y, x, number_y - 20, "mark", width=HELP)
        sheet.path(f"M{x} {y - 7}c5 7 6 10 0 10s-5-3 0-10z", "drop")
        spots.append(Spot(option, x, number_y))
    return Drawing(
        say("Touch the place, or pick it below."), sheet.markup(), words, tuple(spots), sheet.height
    )


def _run(sheet: Sheet) -> None:
    middle = 44.0
    sheet.box(-6, middle - 20, 60, 40, "wall")  # pipe
    sheet.box(46, middle - 27, 38, 54, "wall")  # the valve's socket
    sheet.box(84, middle - 34, 54, 68, "wall")  # its body
    sheet.box(138, middle - 27, 34, 54, "wall")  # its threaded hole
    sheet.line(111, middle - 34, 111, 2)
    sheet.line(90, 3, 132, 3, width=BOLD)
    sheet.box(172, middle - 19, 12, 38, "wall")  # the adapter's thread, outside the hole
    for crest in (175.0, 179.0, 183.0):
        sheet.line(crest, middle - 19, crest, middle + 19, "help", width=HELP)
    sheet.box(184, middle - 26, 22, 52, "wall")  # its shoulder
    sheet.box(206, middle - 13, 30, 26, "wall")  # its barb, before the tube
    sheet.trace([(214, middle - 13), (224, middle - 18), (224, middle - 13)])
    sheet.trace([(214, middle + 13), (224, middle + 18), (224, middle + 13)])
    sheet.shape(
        [
            (236, middle - 22),
            (266, middle - 22),
            (280, middle - 18),
            (366, middle - 18),
            (366, middle + 18),
            (280, middle + 18),
            (266, middle + 22),
            (236, middle + 22),
        ],
        "wall",
    )


def _ends(sheet: Sheet) -> None:
    """Hose nut, ring, collar, grip and saddle, each on its own piece of tube or pipe."""
    middle = 230.0
    for left in (0.0, 72.0, 144.0, 216.0):
        sheet.box(left + 36, middle - 15, 34, 30, "wall")
    sheet.box(4, middle - 15, 14, 30, "wall")
    sheet.box(12, middle - 24, 30, 48, "wall")  # hose nut, ribbed
    for rib in (19.0, 27.0, 35.0):
        sheet.line(rib, middle - 24, rib, middle + 24, "help", width=HELP)
    sheet.box(78, middle - 24, 34, 48, "wall")  # ring body
    sheet.line(104, middle - 24, 104, middle + 24, width=BOLD)
    sheet.box(148, middle - 18, 12, 36, "wall")
    sheet.shape(  # collar: a nut that narrows towards the tube
        [(160, middle - 26), (178, middle - 26), (190, middle - 17),
         (190, middle + 17), (178, middle + 26), (160, middle + 26)],
        "wall",
    )  # fmt: skip
    sheet.box(222, middle - 24, 34, 48, "wall")  # grip body, its teeth
    for tooth in (240.0, 246.0, 252.0):
        sheet.line(tooth, middle - 24, tooth - 5, middle - 15, "help", width=HELP)
        sheet.line(tooth, middle + 24, tooth - 5, middle + 15, "help", width=HELP)
    sheet.box(292, middle - 15, 66, 30, "wall")  # saddle: uncut pipe, clamped round, outlet up
    sheet.box(308, middle - 21, 34, 42, "wall")
    sheet.box(319, middle - 32, 12, 11, "wall")
    for n, words in enumerate((say("hose nut"), say("ring"), say("nut"), say("grip"), say("tee"))):
        sheet.say(36.0 + 72 * n, 190, words, "middle", room=72, up=True)
