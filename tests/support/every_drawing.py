"""Every drawing that fieldkit makes, from usual numbers: by name, made anew at each call."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial

from fieldkit.engine.share import share_of
from fieldkit.engine.words import say
from fieldkit.flows.block import Drawing
from fieldkit.flows.calculations import calculate
from fieldkit.flows.drawings import gluing, measuring, pushing
from fieldkit.flows.drawings.assembly import assembly_drawing
from fieldkit.flows.drawings.cure import cure_bar
from fieldkit.flows.drawings.depth import depth_mark
from fieldkit.flows.drawings.held import readings_plot
from fieldkit.flows.drawings.line_plot import Limit, Panel, line_plot
from fieldkit.flows.drawings.places import leak_places
from fieldkit.flows.drawings.pushing import Ending
from fieldkit.flows.drawings.saddle import round_the_pipe
from fieldkit.flows.drawings.section import Rival, cross_section
from fieldkit.flows.drawings.shares import share_plot
from fieldkit.flows.drawings.strip import strip_method
from fieldkit.flows.drawings.thread import marked_hand_tight, tape_direction, turns_past_hand

DRIP = [
    Rival("0.700 drip", 0.700, 0.600),
    Rival("0.710 drip", 0.710, 0.620),
    Rival("0.700 thick drip", 0.700, 0.580),
    Rival("swing pipe", 0.690, 0.490),
]

#: ASTM D2466: 1/2 in pipe and its schedule 40 socket.
HALF_INCH = gluing.Fit(0.840, 0.688)

#: Each act of putting a tube on, by the kinds of end that it is done to.
ACTS = {
    "mark": (pushing.beside_the_fitting, ("barb_bare", "ring", "grip_pvc")),
    "warm": (partial(pushing.warm_water, minutes=1.0), ("barb_bare",)),
    "clamps": (pushing.clamps_first, ("barb_clamped",)),
    "nut": (pushing.which_way_the_nut, ("collar",)),
    "over": (pushing.over_the_ridges, ("barb_bare",)),
    "in": (pushing.into_the_stop, ("ring", "grip_tube")),
    "lock": (pushing.locked, ("barb_clamped", "collar")),
    "tug": (pushing.tug, ("barb_bare", "barb_clamped", "collar", "ring")),
}


@cache
def assemblies() -> dict[str, dict]:
    """Every way that a few usual joints can be made, by its key."""
    asked = [
        {"pvc": {"nominal": "1/2"}, "tubing": {"od": "0.700 in"}, "pressure": "25 psi"},
        {"pvc": {"nominal": "1"}, "tubing": {"od": "0.700 in", "bore": "0.600 in"}},
        {"pvc": {"nominal": "3/4"}, "tubing": {"od": "0.940 in", "bore": "0.820 in"}},
        {"pvc": {"nominal": "3/4"}, "tubing": {"od": "0.690 in", "bore": "0.490 in"}},
        {
            "pvc": {"nominal": "1/2"},
            "tubing": {"half_inch": True},
            "place": "inline",
            "branches": 2,
        },
        {"pvc": {"nominal": "1"}, "tubing": {"bore": "0.600 in"}, "place": "inline"},
    ]
    found = [one for body in asked for one in calculate("transition", body).as_json()["assemblies"]]
    return {one["key"]: one for one in found}


def _line() -> Drawing:
    far = (0.0, 40.0, 80.0, 120.0)
    lowest = Limit(15.0, say("lowest wanted, {level}", level="15.0 psi"))
    return line_plot(
        far,
        (
            Panel(say("Pressure"), "psi", (25.0, 22.0, 20.5, 20.0), (lowest,)),
            Panel(say("Flow in the tube"), "gpm", (4.0, 2.6, 1.3, 0.1)),
        ),
        title=say("Pressure and flow along the line."),
        words=say("Pressure falls along the line."),
    )


def every_drawing() -> dict[str, Callable[[], Drawing]]:
    """By name, what makes it."""
    rows = {key: partial(assembly_drawing, one) for key, one in assemblies().items()}
    acts = {
        f"tube, {act} {kind}": partial(draw, Ending(kind, 0.7, 0.6, 2))
        for act, (draw, kinds) in ACTS.items()
        for kind in kinds
    }
    return {
        "section": partial(
            cross_section, 0.705, u_od_in=0.004, bore_in=0.6, rivals=DRIP, od_tool="caliper"
        ),
        "section by strip": partial(cross_section, 0.84, od_tool="strip"),
        "section by drill": partial(cross_section, 0.7, bore_in=0.6, bore_tool="drill"),
        "section by name": partial(
            cross_section, 0.7, bore_in=0.6, rivals=DRIP, od_tool="listed", bore_tool="listed"
        ),
        "four ways": measuring.four_ways,
        "wall": measuring.thinnest_wall,
        "drills": measuring.hole_by_drills,
        "strip": strip_method,
        **{key: draw for key, draw in rows.items() if draw() is not None},
        "cut": gluing.square_cut,
        "smooth": gluing.smooth_end,
        "dry fit": partial(gluing.dry_fit, HALF_INCH),
        "dry fit, four inch": partial(gluing.dry_fit, gluing.Fit(4.500, 2.000)),
        "depth": partial(depth_mark, 0.840, 0.688),
        "depth, large": partial(depth_mark, 4.5, 2.0),
        "prime": partial(gluing.prime, HALF_INCH),
        "cement": partial(gluing.cement, HALF_INCH),
        "push": partial(gluing.push_and_turn, HALF_INCH),
        "hold": partial(gluing.hold_still, HALF_INCH),
        "bead": partial(gluing.even_bead, HALF_INCH),
        "cure": partial(cure_bar, 60.0, 480.0, [(0.0, 50.0), (360.0, 35.0)]),
        **acts,
        "saddle": partial(round_the_pipe, 1.315, 0.133),
        "saddle, size unknown": round_the_pipe,
        "tape": tape_direction,
        "hand tight": marked_hand_tight,
        "turns": partial(turns_past_hand, 1.0, 2.0, 3.0),
        "places": leak_places,
        "test": partial(
            readings_plot, [0.0, 20.0, 60.0], [100.0, 99.0, 90.0], [100.0, 99.5, 98.0], 2.0
        ),
        "line": _line,
        "shares": partial(
            share_plot,
            (
                (say("Rigid pipe glued into a plain socket"), share_of(7, 141)),
                (say("Tube pushed inside a fitting that grips its outside"), share_of(2, 9)),
            ),
            title=say("Came back, of a hundred made."),
        ),
    }
