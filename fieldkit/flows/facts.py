"""The facts that a joint's log can know, by name: what one flow learned, the next never asks.

A fact is a JSON value. Two sides: ``pipe`` is the rigid side, ``tube`` the flexible one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from fieldkit.engine.choosing.assembly import Assembly
from fieldkit.flows.shapes import (
    FLAG,
    TEXT,
    ListOf,
    Maybe,
    Moment,
    Number,
    Parts,
    Shape,
    Wording,
    shape_of,
)

CODE = Wording(80)
INCHES, PSI, MINUTES = Number(0, 10_000), Number(-15, 1e6), Number(0, 1e8)
#: What there is has a size, what bears or loads has no vacuum, and a gauge has marks.
SIZE, LENGTH_FT, LOAD = Number(1e-3, 10_000), Number(1e-3, 1e7), Number(0, 1e6)
MARK = Number(1e-3, 1e6)
DEGREES_F = Number(-460, 2000)

_READING = Parts(
    {"at": Moment(), "pressure_psi": PSI, "water_temperature_f": Maybe(DEGREES_F)},
    ("at", "pressure_psi"),
)
_PIECE = Parts(
    {
        "bore_in": SIZE,
        "length_ft": LENGTH_FT,
        "material": CODE,
        "name": TEXT,
        "wall_in": SIZE,
    },
    ("bore_in", "length_ft", "material", "name", "wall_in"),
)

#: Each fact in words (a label, in brackets what a program needs to know, and the unit), and the
#: shape of its value. Null, which strikes it out, is always allowed.
_DECLARED: dict[str, tuple[str, Shape]] = {
    # Found by measuring and identifying
    "pipe.print": ("what is printed along the rigid pipe, empty for nothing", Wording(400)),
    "tube.print": ("what is printed along the tubing, empty for nothing", Wording(400)),
    "pipe.od_in": ("mean outside diameter of the rigid pipe (at 73 °F) [in]", SIZE),
    "pipe.u_od_in": ("expanded uncertainty of the rigid pipe’s diameter (k = 2) [in]", INCHES),
    "pipe.od_tool": ("what the rigid pipe was measured with (caliper, strip, screen)", CODE),
    "pipe.screen_od_in": ("outside of the rigid pipe, read on a screen (at 73 °F) [in]", SIZE),
    "pipe.screen_u_od_in": ("what that reading of the rigid pipe may be off (k = 2) [in]", INCHES),
    "pipe.screen_bore_in": ("inside diameter of the rigid pipe, read on a screen [in]", SIZE),
    "pipe.ovality_in": ("largest less smallest reading of the rigid pipe [in]", INCHES),
    "pipe.bore_in": ("inside diameter of the rigid pipe [in]", SIZE),
    "pipe.cut_end": ("whether a cut end of the rigid pipe was there to measure (no)", CODE),
    "pipe.wall_in": ("wall of the rigid pipe [in]", SIZE),
    "pipe.id": ("row of pipes.csv that the rigid pipe was taken to be", CODE),
    "pipe.name": ("name of the rigid pipe", TEXT),
    "pipe.family": ("family of the rigid pipe (ips-pvc, cts-cpvc, …)", CODE),
    "pipe.material": ("material of the rigid pipe (pvc, cpvc, …)", CODE),
    "pipe.nominal": ("trade size of the rigid pipe (1/2, 3/4, …)", CODE),
    "pipe.class": ("class of the rigid pipe (Sch 40, SDR 21, …)", CODE),
    "pipe.rating_psi": ("published rating of the rigid pipe (at 73 °F) [psi]", LOAD),
    "tube.od_in": ("mean outside diameter of the tubing (at 73 °F) [in]", SIZE),
    "tube.u_od_in": ("expanded uncertainty of the tubing’s diameter (k = 2) [in]", INCHES),
    "tube.od_tool": ("what the tubing was measured with (caliper, strip, screen)", CODE),
    "tube.screen_od_in": ("outside of the tubing, read on a screen (at 73 °F) [in]", SIZE),
    "tube.screen_u_od_in": ("what that reading of the tubing may be off (k = 2) [in]", INCHES),
    "tube.screen_bore_in": ("inside diameter of the tubing, read on a screen [in]", SIZE),
    "tube.ovality_in": ("largest less smallest reading of the tubing [in]", INCHES),
    "tube.bore_in": ("inside diameter of the tubing [in]", SIZE),
    "tube.cut_end": ("whether a cut end of the tubing was there to measure (no)", CODE),
    "tube.wall_in": ("wall of the tubing [in]", SIZE),
    "tube.id": ("row of pipes.csv that the tubing was taken to be", CODE),
    "tube.name": ("name of the tubing", TEXT),
    "tube.family": ("family of the tubing (drip, sidr-pe, …)", CODE),
    "tube.material": ("material of the tubing (pe, drip, …)", CODE),
    "tube.nominal": ("trade size of the tubing as sold", CODE),
    "tube.class": ("class of the tubing, where it has one", CODE),
    "tube.rating_psi": ("published rating of the tubing (at 73 °F) [psi]", LOAD),
    "pipe.other_kind": ("what the rigid pipe is, where nothing may be joined to it", CODE),
    "tube.other_kind": ("what the tubing is, where nothing may be joined to it", CODE),
    # The tools
    "caliper.zero_in": ("what the caliper shows with its jaws closed [in]", Number(-1, 1)),
    "caliper.zero_at": ("when that was read (ISO 8601, UTC)", Moment()),
    "measured.temperature_f": ("how warm it was where it was measured [°F]", DEGREES_F),
    "measured.at": ("when it was measured (ISO 8601, UTC)", Moment()),
    # The site
    "site.pressure_psi": ("highest static pressure at the joint [psi]", LOAD),
    "site.temperature_f": ("hottest that joint and water get in use [°F]", DEGREES_F),
    "site.place": ("where the tubing starts (end, inline, riser)", CODE),
    "site.gluing_f": ("how cold parts and air were where it was glued last [°F]", DEGREES_F),
    "site.gluing_at": ("when that was (ISO 8601, UTC)", Moment()),
    "site.stop": ("why the work on this joint was stopped (id of stops.csv)", CODE),
    "site.regulator_psi": ("pressure regulator that the parts need [psi]", LOAD),
    "site.buried": ("whether it will be buried out of reach", FLAG),
    # The parts
    "parts.assembly": ("the assembly chosen, as transition answers it", shape_of(Assembly)),
    "parts.joints": ("kinds of joint in the assembly (ids of joints.csv)", ListOf(CODE)),
    "parts.holds_psi": ("what the weakest joint holds at the site’s temperature [psi]", LOAD),
    "parts.count": ("how many such joints the job has", Number(1, 100_000, whole=True)),
    # Cemented joints
    "weld.made_at": ("when the last cemented joint was closed (ISO 8601, UTC)", Moment()),
    "weld.temperature_f": ("coldest temperature while it set and cured [°F]", DEGREES_F),
    "weld.humidity_pct": ("relative humidity [%]", Number(0, 100)),
    "weld.set_minutes": ("time before careful handling [min]", MINUTES),
    "weld.cure_minutes": ("time before pressure [min]", MINUTES),
    "weld.cured": ("when the last joint was glued, as told (long)", CODE),
    "weld.pressure_psi": ("pressure that the cure was looked up for [psi]", LOAD),
    "weld.ready_at": ("when it may be pressurized (ISO 8601, UTC)", Moment()),
    "weld.primer": ("whether primer was used", CODE),
    "weld.dry_fit": ("how the dry fit was judged", CODE),
    # Threads
    "thread.size": ("size of the thread (1/2, 3/4, …)", CODE),
    "thread.pair": ("what the two screwed parts are", CODE),
    "thread.turns": ("turns past hand tight", Number(0, 100)),
    "thread.sealant": ("what seals the thread (tape, paste, none, washer)", CODE),
    "thread.verdict": ("how the make-up was judged", CODE),
    # Tube ends
    "tube_end.kind": ("kind of end that the tubing was put on (id of joints.csv)", CODE),
    "tube_end.clamps": ("clamps on the tube’s end", Number(0, 20, whole=True)),
    "tube_end.verdict": ("how the tube’s end was judged (ok, too_much, moved, not_tugged)", CODE),
    # A part that is clamped on
    "fitted.verdict": ("how the clamped part was judged (ok, too_much, moved, not_tried)", CODE),
    # The test
    "test.pressure_psi": ("planned test pressure at the gauge [psi]", LOAD),
    "test.hold_minutes": ("planned hold [min]", MINUTES),
    "test.limited_by": ("the part that limits the test", TEXT),
    "test.length_ft": ("rigid pipe under test [ft]", LENGTH_FT),
    "test.gauge_height_ft": (
        "how high the gauge is above the lowest pipe [ft]",
        Number(-500, 500),
    ),
    "test.tubing": ("whether tubing is under the test pressure too (yes, no)", CODE),
    "test.restraint": ("how the line under test lies (buried, free, gasketed)", CODE),
    "test.gauge_division_psi": ("division of the gauge [psi]", MARK),
    "test.thermometer": ("how the water is measured (fine, yes)", CODE),
    "test.override": ("reason given for testing before the cure was over", Wording(300)),
    "test.readings": (
        "readings of the test (list of {at, pressure_psi, water_temperature_f})",
        ListOf(_READING, 500),
    ),
    "test.line": ("the line that was tested", ListOf(_PIECE, 200)),
    "test.verdict": ("how the test was judged (holds, leaks, repeat)", CODE),
    "test.leak_ml_per_min": ("size of the leak, where there is one [mL/min]", Number()),
    # Will it last
    "last.peak_psi": ("highest pressure with surge [psi]", PSI),
    "last.verdict": ("whether it will last (holds, marginal, lets_go)", CODE),
    "last.surge_psi": ("what water hammer adds [psi]", PSI),
    "last.longest_ft": ("longest run of the drip line [ft]", Number(0, 1e7)),
    # Why it failed
    "leak.cause": ("what the diagnosis put first (id of causes.csv)", CODE),
    "leak.probability": ("how likely the cause put first was thought to be", Number(0, 1)),
    "leak.joint": ("type of the joint that failed (option of fitting_type)", CODE),
    "leak.really": ("what it was found to be in the end", TEXT),
    "leak.remake": ("how the joint is made anew (join-cement, join-thread, join-tube)", CODE),
    "leak.mended_at": ("when it was repaired (ISO 8601, UTC)", Moment()),
}

#: Each fact in words.
FACTS: dict[str, str] = {name: meaning for name, (meaning, _) in _DECLARED.items()}

#: What its value may be.
FACT_SHAPES: dict[str, Shape] = {name: Maybe(shape) for name, (_, shape) in _DECLARED.items()}


#: A caliper's zero is read once a working day.
_A_DAY = timedelta(hours=14)


def shared_facts(
    names: tuple[str, ...], joints: Iterable[Mapping[str, Any]], now: str
) -> dict[str, Any]:
    """Facts that hold for all joints of a job, from the joint where they were found last.

    The last of ``names`` says when; what is older than a working day is none, on any joint.

    Examples
    --------
    >>> names = ("caliper.zero_in", "caliper.zero_at")
    >>> found = {"caliper.zero_in": 0.001, "caliper.zero_at": "2026-05-01T09:00:00Z"}
    >>> shared_facts(names, [{}, found], "2026-05-01T15:00:00Z")["caliper.zero_in"]
    0.001
    >>> shared_facts(names, [found], "2026-05-02T09:00:00Z")["caliper.zero_in"] is None
    True
    """
    if not names:
        return {}
    last = max(joints, key=lambda facts: str(facts.get(names[-1]) or ""), default={})
    at = last.get(names[-1])
    fresh = bool(at) and datetime.fromisoformat(now) - datetime.fromisoformat(str(at)) < _A_DAY
    return {name: last.get(name) if fresh else None for name in names}


def taught(given: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    """Answers of a flow that are facts of the joint, by fact; what was left open is none.

    Examples
    --------
    >>> taught({"pressure": 40.0, "bore": None}, {"pressure": "site.pressure_psi", "bore": "b"})
    {'site.pressure_psi': 40.0}
    """
    return {fact: given[step] for step, fact in names.items() if given.get(step) is not None}


#: What most flows ask of the site, by their steps.
SITE_FACTS = {"pressure": "site.pressure_psi", "temperature": "site.temperature_f"}


def warmth_of_the_hour(known: Mapping[str, Any], fact: str, at: str) -> str:
    """A temperature that the log holds, as typed, where it was told within the hour; else empty.

    Examples
    --------
    >>> told = {"site.gluing_f": 50.0, "site.gluing_at": "2026-05-18T09:00:00.000Z"}
    >>> warmth_of_the_hour(told | {"now": "2026-05-18T09:30:00.000Z"}, *told)
    '50 °F'
    >>> warmth_of_the_hour(told | {"now": "2026-05-18T10:30:00.000Z"}, *told)
    ''
    >>> warmth_of_the_hour(told | {"now": "2026-05-17T09:00:00.000Z"}, *told)
    ''
    """
    when, warm = known.get(at), known.get(fact)
    if not when or warm is None or not known.get("now"):
        return ""
    since = datetime.fromisoformat(str(known["now"])) - datetime.fromisoformat(str(when))
    # The sun moves on; a clock that is far ahead says nothing of this hour.
    return f"{warm:g} °F" if abs(since) < timedelta(hours=1) else ""


#: What a joint has in common with one like it: sizes, parts and site, what the can and the roll
#: are, the line and the gauge. What is made and read at each joint is never taken over.
SHARED = (
    *("pipe.", "tube.", "parts.", "site."),
    *("thread.size", "thread.sealant", "tube_end.kind", "weld.primer"),
    *("test.length_ft", "test.restraint", "test.tubing", "test.thermometer"),
    *("test.gauge_division_psi", "test.gauge_height_ft"),
)


def shared(facts: Mapping[str, Any]) -> dict[str, Any]:
    """The facts of a joint that hold for another like it.

    Examples
    --------
    >>> shared({"pipe.nominal": "3/4", "weld.made_at": "2026-05-18", "test.verdict": "holds"})
    {'pipe.nominal': '3/4'}
    """
    return {name: value for name, value in facts.items() if name.startswith(SHARED)}
