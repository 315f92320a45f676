"""What stands on a tile: the thing itself, so that it is touched and not read.

Each is a cut lengthwise through the joint, rigid pipe at the left, tubing at the right, as on the
joint strip: PVC hatched, polyethylene black, cement violet, water blue. Nothing is to scale.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache

from fieldkit.flows.drawings.svg import WIDTH, Sheet

_HIGH, _AXIS = 150.0, 75.0
_EDGE = 5.0  # an edge, wide enough for a tile a third of the sheet's width
_BORE = 26.0  # half of it, on every tile


def _wall(sheet: Sheet, left: float, right: float, half: float, *, thick: float, css: str) -> None:
    """The two walls of something round, cut lengthwise; ``half`` from the axis to the outside."""
    for top in (_AXIS - half, _AXIS + half - thick):
        sheet.box(left, top, right - left, thick, css, width=_EDGE)
        if css == "strip__pipe":
            sheet.hatch(left, top, right - left, thick, gap=12)


def _pipe(sheet: Sheet, left: float = 0.0, right: float = 150.0, half: float = 40.0) -> None:
    _wall(sheet, left, right, half, thick=half - _BORE, css="strip__pipe")


def _hub(sheet: Sheet, left: float = 100.0, right: float = 210.0, half: float = 62.0) -> None:
    _wall(sheet, left, right, half, thick=half - 40.0, css="strip__pipe")


def _tube(sheet: Sheet, left: float = 200.0, right: float = WIDTH, half: float = 44.0) -> None:
    _wall(sheet, left, right, half, thick=12.0, css="strip__tube")


def _barb(sheet: Sheet, left: float = 120.0, right: float = 270.0) -> None:
    """A ridged stem: teeth that lean away from the tubing's end."""
    for side in (-1, 1):
        edge = _AXIS + side * 27
        points = [(left, edge)]
        for n in range(3):
            x = left + 40 + n * (right - left - 40) / 3
            points += [(x, edge + side * 8), (x + 8, edge)]
        points += [(right, edge), (right, _AXIS + side * 15), (left, _AXIS + side * 15)]
        sheet.shape(points, "strip__body", width=_EDGE)


def _thread(sheet: Sheet, left: float, right: float, half: float) -> None:
    for n in range(6):
        x = left + (n + 0.5) * (right - left) / 6
        for side in (-1, 1):
            sheet.line(x - 5, _AXIS + side * half, x + 5, _AXIS + side * (half - 16), width=_EDGE)


def _spray(sheet: Sheet, x: float, top: float, *, foot: bool = False) -> None:
    """Water that comes out at ``x``: upwards from ``top``, or as drops under it."""
    if foot:
        for n in (0, 1):
            sheet.path(f"M{x + 26 * n} {top}q-12 18 0 26q12 -8 0 -26z", "strip__water", width=1)
        return
    for lean in (-1, 0, 1):
        sheet.path(
            f"M{x} {top}q{lean * 10} -16 {lean * 34} {-22 + 6 * abs(lean)}",
            "tile__water",
            width=8,
        )


def _glued(sheet: Sheet) -> None:
    _pipe(sheet, 0, 200)
    _hub(sheet, 90, 270)
    for side in (-1, 1):
        sheet.line(92, _AXIS + side * 40, 200, _AXIS + side * 40, "tile__cement", width=9)


def _screwed(sheet: Sheet) -> None:
    _pipe(sheet, 0, 210)
    _hub(sheet, 110, 300)
    _thread(sheet, 115, 210, 46)


def _nut(sheet: Sheet) -> None:
    """A nut that turns: ridges for the hand outside, a washer at its bottom."""
    _screwed(sheet)
    for side in (-1, 1):
        sheet.box(212, _AXIS + side * 33 - 8, 16, 16, "strip__tube", width=3)
        for n in range(6):
            x = 122 + 30 * n
            sheet.line(x, _AXIS + side * 62, x, _AXIS + side * 70, width=_EDGE)


def _two_threads(sheet: Sheet) -> None:
    _pipe(sheet, 0, 150)
    _thread(sheet, 0, 120, 46)
    _wall(sheet, 150, WIDTH, 58, thick=32, css="strip__pipe")
    for n in range(3):
        for side in (-1, 1):
            x = 250 + 40 * n
            sheet.line(x - 9, _AXIS + side * 64, x + 9, _AXIS + side * 40, width=8)


def _small(sheet: Sheet) -> None:
    _wall(sheet, 0, 135, 34, thick=28, css="strip__pipe")
    for side in (-1, 1):
        edge = _AXIS + side * 14
        ridge = [(130, edge), (190, edge), (190, edge + side * 10), (220, edge)]
        sheet.shape(
            [*ridge, (220, _AXIS + side * 6), (130, _AXIS + side * 6)], "strip__body", width=4
        )
    _wall(sheet, 150, WIDTH, 30, thick=8, css="strip__tube")


def _barbed(sheet: Sheet, clamps: int = 0) -> None:
    _hub(sheet, 0, 120, 56)
    _barb(sheet)
    _tube(sheet, 140)
    for n in range(clamps):
        for side in (-1, 1):
            sheet.box(205 + 40 * n, _AXIS + side * 52 - 8, 22, 16, "tile__steel", width=_EDGE)


def _collar(sheet: Sheet) -> None:
    _barbed(sheet)
    for side in (-1, 1):
        y = _AXIS + side * 54 - (18 if side < 0 else 0)
        sheet.box(140, y, 100, 18, "strip__body", width=_EDGE)
        for n in range(5):
            sheet.line(150 + 18 * n, y + 3, 150 + 18 * n, y + 15, width=3)


def _ring(sheet: Sheet) -> None:
    _hub(sheet, 60, 230, 64)
    _tube(sheet, 130, WIDTH, 38)
    for side in (-1, 1):
        sheet.shape(
            [(180, _AXIS + side * 58), (215, _AXIS + side * 58), (190, _AXIS + side * 36)],
            "strip__body",
            width=_EDGE,
        )


def _grip(sheet: Sheet, *, tube: bool) -> None:
    _hub(sheet, 120, 300, 66)
    if tube:
        _tube(sheet, 170, WIDTH, 38)
    else:
        _pipe(sheet, 0, 240)
    for side in (-1, 1):
        sheet.circle(160 if not tube else 250, _AXIS + side * 48, 8, "strip__tube", width=3)
        for n in (0, 1):
            x = 195 + 18 * n
            sheet.line(x, _AXIS + side * 62, x + 8, _AXIS + side * 41, width=_EDGE)


def _saddle(sheet: Sheet) -> None:
    """Pipe that runs on, a tee clamped round it, its ridged outlet up."""
    _pipe(sheet, 0, WIDTH, 36)
    for side in (-1, 1):
        sheet.box(120, _AXIS + side * 45 - 9, 120, 18, "strip__body", width=_EDGE)
        sheet.line(180 + side * 48, 18, 180 + side * 48, 132, width=_EDGE)
    sheet.box(164, 2, 32, 46, "strip__body", width=_EDGE)
    sheet.box(172, 40, 16, 16, "tile__gap", width=0)


def _body(sheet: Sheet) -> None:
    _wall(sheet, 60, 300, 58, thick=24, css="strip__pipe")
    _crack(sheet, [(170, 12), (190, 30), (172, 44)])


def _crack(sheet: Sheet, points: list[tuple[float, float]]) -> None:
    if points:
        sheet.trace(points, "tile__crack", width=8)


def _tube_alone(sheet: Sheet) -> None:
    _tube(sheet, 0, WIDTH)


def _with(*draws: Callable[[Sheet], None]) -> Callable[[Sheet], None]:
    def draw(sheet: Sheet) -> None:
        for one in draws:
            one(sheet)

    return draw


def _leak(x: float, top: float, *, foot: bool = False) -> Callable[[Sheet], None]:
    return lambda sheet: _spray(sheet, x, top, foot=foot)


def _solid(sheet: Sheet, left: float, right: float, half: float) -> None:
    """Seen from outside, not cut: for cracks on a surface."""
    sheet.box(left, _AXIS - half, right - left, 2 * half, "strip__pipe", width=_EDGE)


def _outside_crack(points: list[tuple[float, float]]) -> Callable[[Sheet], None]:
    def draw(sheet: Sheet) -> None:
        _solid(sheet, 0, 150, 38)
        _solid(sheet, 130, 290, 58)
        _crack(sheet, points)

    return draw


def _crazed(sheet: Sheet) -> None:
    _solid(sheet, 60, 300, 54)
    for n in range(5):
        x = 95 + 40 * n
        sheet.trace([(x, 36), (x + 16, 60), (x - 6, 84), (x + 12, 112)], "tile__crack", width=3)
        sheet.trace([(x - 14, 70), (x + 24, 74)], "tile__crack", width=3)


def _black(sheet: Sheet, points: list[tuple[float, float]]) -> None:
    sheet.shape(points, "strip__tube", width=_EDGE)


def _tube_end(cut: list[tuple[float, float]]) -> Callable[[Sheet], None]:
    return lambda sheet: _black(sheet, [(0, 31), *cut, (0, 119)])


def _scored(sheet: Sheet) -> None:
    _tube_end([(250, 31), (250, 119)])(sheet)
    for y in (55, 75, 95):
        sheet.line(120, y, 245, y, "tile__scratch", width=5)


def _split_end(sheet: Sheet) -> None:
    _tube_end([(250, 31), (250, 70), (150, 75), (250, 82), (250, 119)])(sheet)


def _burst(sheet: Sheet) -> None:
    top = [(0, 40), (110, 40), (150, 24), (220, 24), (260, 40), (360, 40)]
    _black(sheet, [*top, *((x, 150 - y) for x, y in reversed(top))])
    sheet.shape([(130, 75), (180, 62), (240, 75), (180, 88)], "tile__gap", width=_EDGE)


def _tee(sheet: Sheet) -> None:
    sheet.box(0, 40, WIDTH, 56, "strip__pipe", width=_EDGE)
    sheet.hatch(0, 40, WIDTH, 56, gap=14)
    sheet.box(150, 30, 60, 76, "strip__body", width=_EDGE)
    sheet.box(163, 96, 34, 54, "strip__tube", width=_EDGE)


def _run_end(sheet: Sheet) -> None:
    sheet.box(0, 46, 170, 58, "strip__pipe", width=_EDGE)
    sheet.hatch(0, 46, 170, 58, gap=14)
    sheet.box(160, 40, 60, 70, "strip__body", width=_EDGE)
    sheet.box(220, 58, 140, 34, "strip__tube", width=_EDGE)


def _riser(sheet: Sheet) -> None:
    sheet.line(0, 122, WIDTH, 122, width=_EDGE)
    sheet.box(152, 50, 56, 98, "strip__pipe", width=_EDGE)
    sheet.hatch(152, 50, 56, 98, gap=14)
    sheet.box(142, 20, 76, 36, "strip__body", width=_EDGE)
    sheet.box(218, 24, 142, 28, "strip__tube", width=_EDGE)


def _head(fan: bool) -> Callable[[Sheet], None]:
    def draw(sheet: Sheet) -> None:
        sheet.line(0, 130, WIDTH, 130, width=_EDGE)
        sheet.box(150, 74, 60, 74, "strip__body", width=_EDGE)
        sheet.box(165, 48, 30, 28, "strip__body", width=_EDGE)
        if fan:
            for x in (40, 90, 180, 270, 320):
                sheet.line(180, 46, x, 8 if x == 180 else 22, "tile__water", width=7)
        else:
            sheet.line(196, 58, 345, 14, "tile__water", width=9)
            sheet.path("M70 40a112 30 0 0 1 70 -26", "ink", width=6)

    return draw


def _pipe_end(thread: str) -> Callable[[Sheet], None]:
    def draw(sheet: Sheet) -> None:
        if thread == "socket":
            _hub(sheet, 40, 260)
            return
        if thread == "female":
            _hub(sheet, 40, 260)
            _thread(sheet, 150, 255, 54)
            return
        _pipe(sheet, 0, 250)
        if thread == "male":
            _thread(sheet, 150, 245, 46)

    return draw


def _came_off(sheet: Sheet) -> None:
    _hub(sheet, 0, 90, 56)
    _barb(sheet, 90, 190)
    _tube(sheet, 240)


def _not_joined(sheet: Sheet) -> None:
    _pipe(sheet, 0, 120)
    _tube(sheet, 250)


def _cut_across(sheet: Sheet) -> None:
    sheet.circle(180, _AXIS, 66, "strip__tube", width=_EDGE)
    sheet.circle(180, _AXIS, 46, "tile__gap", width=_EDGE)


#: By option, or by step and option where the option alone is not enough.
TILES: Mapping[str, Callable[[Sheet], None]] = {
    # Where the water comes from
    "socket_weld": _with(_glued, _leak(86, 20)),
    "thread": _with(_screwed, _leak(104, 20)),
    "hose": _with(_nut, _leak(104, 110, foot=True)),
    "place.barb": _with(_barbed, _leak(132, 30)),
    "place.ring": _with(_ring, _leak(246, 30)),
    "place.collar": _with(_collar, _leak(258, 28)),
    "place.grip": _with(lambda s: _grip(s, tube=False), _leak(108, 24)),
    "valve": _with(_body, _leak(180, 20)),
    "tube_wall": _with(_tube_alone, _leak(190, 28)),
    "glue_line": _with(_glued, _leak(86, 20)),
    "thread_line": _with(_screwed, _leak(104, 20)),
    "fitting_body": _with(_body, _leak(180, 20)),
    "tube_mouth": _with(_barbed, _leak(132, 30)),
    "elsewhere": _with(_glued, _leak(20, 118, foot=True), _leak(330, 118, foot=True)),
    "pushfit_mouth": _with(lambda s: _grip(s, tube=False), _leak(108, 24)),
    # What kind of joint
    "solvent_socket": _glued,
    "npt_thread": _screwed,
    "npt": _screwed,
    "hose_thread": _nut,
    "npt_swivel": _nut,
    "r": _screwed,
    "g": _nut,
    "mixed": _two_threads,
    "solvent_spigot": _glued,
    "micro_barb": _small,
    "barb": _barbed,
    "barb_bare": _barbed,
    "barb_clamped": lambda s: _barbed(s, 1),
    "collar": _collar,
    "ring": _ring,
    "grip": lambda s: _grip(s, tube=False),
    "grip_ring": lambda s: _grip(s, tube=False),
    "grip_pvc": lambda s: _grip(s, tube=False),
    "saddle": _saddle,
    "place.saddle": _with(_saddle, _leak(262, 24)),
    "grip_tube": lambda s: _grip(s, tube=True),
    "tube_run": _tube_alone,
    # How a crack runs
    "crack_seen.none": _outside_crack([]),
    "lengthwise_female": _outside_crack([(150, 70), (200, 78), (250, 70), (288, 76)]),
    "round_at_root": _outside_crack([(128, 36), (120, 60), (132, 90), (122, 114)]),
    "tube_end_split": _split_end,
    "burst_split": _burst,
    "fine_crazing": _crazed,
    # How an end is cut
    "square_clean": _tube_end([(250, 31), (250, 119)]),
    "angled": _tube_end([(290, 31), (200, 119)]),
    "burr_or_ragged": _tube_end(
        [(250, 31), (262, 44), (246, 54), (268, 66), (250, 80), (272, 92), (244, 104), (258, 119)]
    ),
    "scored_lengthwise": _scored,
    # Where the tubing starts, and what the rigid end is
    "place.end": _run_end,
    "place.inline": _tee,
    "place.riser": _riser,
    "pipe": _pipe_end("plain"),
    "npt-male": _pipe_end("male"),
    "npt-female": _pipe_end("female"),
    "socket": _pipe_end("socket"),
    # What stands on the riser
    "head.spray": _head(fan=True),
    "head.rotor": _head(fan=False),
    # What is in front of one
    "what.leak": _with(_barbed, _leak(132, 30)),
    "what.popped": _came_off,
    "what.new": _not_joined,
    "what.tube": _cut_across,
    "what.riser": _riser,
}


@cache
def tile(step: str, option: str) -> str:
    """The drawing for an option of a step as SVG, or nothing where none is drawn."""
    draw = TILES.get(f"{step}.{option}") or TILES.get(option)
    if draw is None:
        return ""
    sheet = Sheet(_HIGH, "tile__draw")
    draw(sheet)
    return sheet.markup()
