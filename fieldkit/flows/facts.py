"""The facts that a joint's log can know, by name: what one flow learned, the next never asks.

A fact is a JSON value. Two sides: ``pipe`` is the rigid side, ``tube`` the flexible one.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

#: Each fact in words: a label, in brackets what a program needs to know, and the unit.
FACTS: dict[str, str] = {
    # Found by measuring and identifying
    "pipe.od_in": "mean outside diameter of the rigid pipe (at 73 °F) [in]",
    "pipe.u_od_in": "expanded uncertainty of the rigid pipe’s diameter (k = 2) [in]",
    "pipe.od_tool": "what the rigid pipe was measured with (caliper, strip)",
    "pipe.ovality_in": "largest less smallest reading of the rigid pipe [in]",
    "pipe.bore_in": "inside diameter of the rigid pipe [in]",
    "pipe.wall_in": "wall of the rigid pipe [in]",
    "pipe.id": "row of pipes.csv that the rigid pipe was taken to be",
    "pipe.name": "name of the rigid pipe",
    "pipe.family": "family of the rigid pipe (ips-pvc, cts-cpvc, …)",
    "pipe.material": "material of the rigid pipe (pvc, cpvc, …)",
    "pipe.nominal": "trade size of the rigid pipe (1/2, 3/4, …)",
    "pipe.class": "class of the rigid pipe (Sch 40, SDR 21, …)",
    "pipe.rating_psi": "published rating of the rigid pipe (at 73 °F) [psi]",
    "tube.od_in": "mean outside diameter of the tubing (at 73 °F) [in]",
    "tube.u_od_in": "expanded uncertainty of the tubing’s diameter (k = 2) [in]",
    "tube.od_tool": "what the tubing was measured with (caliper, strip)",
    "tube.ovality_in": "largest less smallest reading of the tubing [in]",
    "tube.bore_in": "inside diameter of the tubing [in]",
    "tube.wall_in": "wall of the tubing [in]",
    "tube.id": "row of pipes.csv that the tubing was taken to be",
    "tube.name": "name of the tubing",
    "tube.family": "family of the tubing (drip, sidr-pe, …)",
    "tube.material": "material of the tubing (pe, drip, …)",
    "tube.nominal": "trade size of the tubing as sold",
    "tube.class": "class of the tubing, where it has one",
    "tube.rating_psi": "published rating of the tubing (at 73 °F) [psi]",
    # The site
    "site.pressure_psi": "highest static pressure at the joint [psi]",
    "site.temperature_f": "hottest that joint and water get in use [°F]",
    "site.place": "where the tubing starts (end, inline, riser)",
    "site.regulator_psi": "pressure regulator that the parts need [psi]",
    "site.buried": "whether it will be buried out of reach",
    # The parts
    "parts.assembly": "the assembly chosen, as transition answers it",
    "parts.joints": "kinds of joint in the assembly (ids of joints.csv)",
    "parts.holds_psi": "what the weakest joint holds at the site’s temperature [psi]",
    "parts.count": "how many such joints the job has",
    # Cemented joints
    "weld.made_at": "when the last cemented joint was closed (ISO 8601, UTC)",
    "weld.temperature_f": "coldest temperature while it set and cured [°F]",
    "weld.humidity_pct": "relative humidity [%]",
    "weld.set_minutes": "time before careful handling [min]",
    "weld.cure_minutes": "time before pressure [min]",
    "weld.pressure_psi": "pressure that the cure was looked up for [psi]",
    "weld.ready_at": "when it may be pressurised (ISO 8601, UTC)",
    "weld.primer": "whether primer was used",
    "weld.dry_fit": "how the dry fit was judged",
    # Threads
    "thread.size": "size of the thread (1/2, 3/4, …)",
    "thread.turns": "turns past hand tight",
    "thread.sealant": "what seals the thread (tape, paste, none, washer)",
    "thread.verdict": "how the make-up was judged",
    # Tube ends
    "tube_end.kind": "kind of end that the tubing was put on (id of joints.csv)",
    "tube_end.clamps": "clamps on the tube’s end",
    "tube_end.verdict": "how the tube’s end was judged (ok, too_much, moved, not_tugged)",
    # The test
    "test.pressure_psi": "planned test pressure at the gauge [psi]",
    "test.hold_minutes": "planned hold [min]",
    "test.limited_by": "the part that limits the test",
    "test.override": "reason given for testing before the cure was over",
    "test.readings": "readings of the test (list of {at, pressure_psi, water_temperature_f})",
    "test.line": "the line that was tested",
    "test.verdict": "how the test was judged (holds, leaks, repeat)",
    "test.leak_ml_per_min": "size of the leak, where there is one [mL/min]",
    # Will it last
    "last.peak_psi": "highest pressure with surge [psi]",
    "last.verdict": "whether it will last (holds, marginal, lets_go)",
    "last.surge_psi": "what the knock of a valve adds [psi]",
    "last.longest_ft": "longest run of the drip line [ft]",
    # Why it failed
    "leak.cause": "what the diagnosis put first (id of causes.csv)",
    "leak.probability": "how likely the cause put first was thought to be",
    "leak.joint": "type of the joint that failed (option of fitting_type)",
    "leak.really": "what it was found to be in the end",
    "leak.remake": "how the joint is made anew (join-cement, join-thread, join-tube)",
    "leak.mended_at": "when it was mended (ISO 8601, UTC)",
}


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


#: What a joint has in common with one like it: sizes, parts and site. What is made and tested at
#: each joint is never taken over.
SHARED = ("pipe.", "tube.", "parts.", "site.", "thread.size", "tube_end.kind")


def shared(facts: Mapping[str, Any]) -> dict[str, Any]:
    """The facts of a joint that hold for another like it.

    Examples
    --------
    >>> shared({"pipe.nominal": "3/4", "weld.made_at": "2026-05-18", "test.verdict": "holds"})
    {'pipe.nominal': '3/4'}
    """
    return {name: value for name, value in facts.items() if name.startswith(SHARED)}
