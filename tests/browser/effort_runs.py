"""Who comes with what in front of them: each run is a person's errands and what they know.

A run names no page. ``knows`` holds what the person would say to a question, by ``flow.step`` or
by the step alone; what is not in it they cannot tell. An errand says what shows that it is done
and which words the person looks for; where none of them is on the screen they take the page's
own next action. All of it is invented.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from fieldkit.flows.diagnosing.mend import MEND_FLOW


@dataclass(frozen=True)
class Screen:
    """What a person has before them, and what the log holds of the joint they are at."""

    path: str
    words: str
    facts: Mapping[str, Any]
    read: str  # all that they read in this errand, this screen included

    def says(self, *patterns: str) -> bool:
        """Whether all of this stands somewhere in what was read."""
        return all(re.search(one, self.read, re.IGNORECASE) for one in patterns)


@dataclass(frozen=True)
class Errand:
    """Something to get done. ``presses`` are words to look for, the best first."""

    name: str
    done: Callable[[Screen], bool]
    presses: tuple[str, ...] = ()
    otherwise: tuple[str, ...] = ()  # looked for once the page's next action led back here
    follows: bool = True  # takes the page's next action where none of the words is found
    writes: Mapping[str, str] = field(default_factory=dict)  # boxes of a plain form, by name


@dataclass(frozen=True)
class Change:
    """What a person decides on reading something: what they say from then on, what they press."""

    reading: str
    knows: Mapping[str, Any]
    presses: tuple[str, ...]


@dataclass(frozen=True)
class Run:
    """One person's way through, and the moment at which it begins."""

    id: str
    who: str
    errands: tuple[Errand, ...]
    knows: Mapping[str, Any] = field(default_factory=dict)
    #: Said only when "I can't tell" is refused.
    guesses: Mapping[str, Any] = field(default_factory=dict)
    #: Hours that pass once a question is answered: cement cures.
    waits: Mapping[str, float] = field(default_factory=dict)
    changes: tuple[Change, ...] = ()
    language: str = "en"
    units: str = "us"
    after: str = ""  # goes on in the log, and with what was told, of this run
    begins: str = "2026-05-18T15:00:00+00:00"
    month: bool = False  # the log holds a crew's month


# ── What was told already ────────────────────────────────────────────────────────────────────

#: A question → the matter it asks about. Two questions about one matter: the second was known.
#: "I can't tell" counts as told: no cut end stays no cut end.
MATTERS = {
    "measure-pipe.readings": "pipe outside", "measure-pipe.strips": "pipe outside",
    "identify-pipe.od": "pipe outside",
    "measure-pipe.wall": "pipe cut end", "identify-pipe.wall": "pipe cut end",
    "identify-pipe.bore": "pipe cut end",
    "measure-tube.readings": "tube outside", "measure-tube.strips": "tube outside",
    "identify-tube.od": "tube outside", "choose.tube_od": "tube outside",
    "riser-to-tube.tube_od": "tube outside",
    "measure-tube.bore": "tube cut end", "measure-pipe.print": "pipe print",
    "identify-pipe.print_line": "pipe print", "measure-tube.print": "tube print",
    "identify-tube.print_line": "tube print", "identify-tube.wall": "tube cut end",
    "identify-tube.bore": "tube cut end", "identify-tube.drill": "tube cut end",
    "choose.tube_bore": "tube cut end", "riser-to-tube.bore": "tube cut end",
    "measure-pipe.tool": "tool", "measure-tube.tool": "tool",
    "measure-pipe.temperature": "how warm here", "measure-tube.temperature": "how warm here",
    "identify-pipe.region": "where bought", "identify-tube.region": "where bought",
    "choose.nominal": "pipe size", "join-cement.size": "pipe size",
    "plan-test.nominal": "pipe size", "prove.nominal": "pipe size",
    "choose.class": "pipe class", "join-cement.wall": "pipe class",
    "plan-test.class": "pipe class", "prove.class": "pipe class",
    "static_psi": "pressure", "choose.pressure": "pressure", "join-cement.pressure": "pressure",
    "join-tube.pressure": "pressure", "plan-test.pressure": "pressure",
    "riser-to-tube.pressure": "pressure", "hold.pressure": "pressure",
    "choose.temperature": "hottest", "plan-test.temperature": "hottest",
    "riser-to-tube.temperature": "hottest", "hold.temperature": "hottest",
    "leak-now.place": "place", "leak_place": "place",
    "fitting_type": "kind of joint", "join-tube.kind": "kind of joint",
    "plan-test.joints": "kind of joint", "hold.joints": "kind of joint",
    "join-tube.tube": "tube thin or thick",
    "join-thread.kind": "thread", "join-thread.size": "thread", "riser-to-tube.size": "thread",
    "join-thread.male": "thread parts", "join-thread.female": "thread parts",
    "thread_parts": "thread parts",
    "choose.start": "riser top", "riser-to-tube.start": "riser top",
    "join-cement.closed": "when cemented", "plan-test.cured": "when cemented",
    "prove.restraint": "how it lies",
    "turns_past_hand": "turns", "join-thread.turns": "turns made",
    "failure_form": "how it shows", "crack_seen": "crack",
}  # fmt: skip

#: A matter that was told (not left open) tells these too.
IMPLIES = {
    "tube cut end": ("tube thin or thick",),
    "place": ("kind of joint",),
    "pipe print": ("pipe size", "pipe class"),
    "parts": ("kind of joint", "thread", "thread parts"),
    "buried": ("how it lies",),
    "popped-off.safe": ("how it shows",),
}

#: Of a joint like the last, what is anew all the same.
ANEW = frozenset(
    {"pipe outside", "tube outside", "when cemented", "turns made", "join-tube.tug", "prove.seen",
     "prove.readings", "prove.gauge_readings", "join-cement.dry_fit"}
)  # fmt: skip


def matter_of(question: str) -> str:
    """What a question is about."""
    step = question.rsplit(".", 1)[-1]
    return MATTERS.get(question) or MATTERS.get(step) or question


def says_also(question: str, value: Any) -> set[str]:
    """Other matters that an answer tells."""
    if value is None:
        return set()
    matter = matter_of(question)
    if question == "choose.wants" and "buried" in value:
        matter = "buried"
    return set(IMPLIES.get(matter, ()))


# ── What shows that an errand is done ────────────────────────────────────────────────────────


def learned(fact: str, *values: Any) -> Callable[[Screen], bool]:
    """The log holds the fact of this joint, and it is one of these if any are named."""

    def done(screen: Screen) -> bool:
        found = screen.facts.get(fact)
        return found in values if values else found not in (None, "", [], {})

    return done


def shown(*patterns: str) -> Callable[[Screen], bool]:
    """The person read all of this."""
    return lambda screen: screen.says(*patterns)


# ── The runs ─────────────────────────────────────────────────────────────────────────────────

#: Done as the screen asks for it.
DOES = {
    f"{flow}.{step}": True
    for flow, steps in {
        "join-cement": (
            "shut", "cut", "deburr", "mark", "prime", "cement", "push", "hold", "wipe",
        ),
        "join-tube": (
            "shut", "cut", "mark", "warm", "clamps_on", "nut", "push_over", "push_in", "lock",
        ),
        "join-thread": ("shut", "clean", "wrap", "washer", "hand"),
    }.items()
    for step in steps
} | {f"mend.{step.id}": True for step in MEND_FLOW.steps if step.id != "cause"} | {
    f"{flow}.safe": "shut" for flow in ("leak-now", "popped-off", "failed-test")
}  # fmt: skip

#: A test that holds, read at the gauge.
HOLDS = {
    "plan-test.gauge_height": "1 ft",
    "plan-test.cured": "long",
    "prove.length": "40 ft",
    "prove.tubing": "no",
    "prove.restraint": "buried",
    "prove.division": "0.5 psi",
    "prove.water": "yes",
    "prove.seen": "no",
    "prove.open": True,
    "prove.tissue": True,
    "prove.watched": "dry",
    "plan-test.length": "40 ft",
    "plan-test.tubing": "no",
    "plan-test.restraint": "buried",
    "plan-test.division": "0.5 psi",
    "plan-test.water": "yes",
}

#: How a technician joins.
CRAFT = {
    **DOES,
    "join-cement.temperature": "70 F",
    "join-cement.humidity": "60 %",
    "join-cement.one_step": "two",
    "join-cement.dry_fit": "snug",
    "join-cement.closed": "0 min",
    "join-thread.male": "plastic",
    "join-thread.female": "plastic",
    "join-thread.kind": "npt",
    "join-thread.sealant": "tape",
    "join-thread.turns": "1.5 turns",
    "join-tube.tube": "thin",
    "join-tube.tug": "holds",
    "region": "na",
}

#: The gauge and the water at the start of the planned hold and at its end.
STEADY = tuple(
    {"after": after, "pressure": "{test}", "water_temperature": "62"} for after in ("start", "hold")
)

PICK = "pick="

#: What was offered does not hold the pressure: a regulator it is.
REGULATED = Change(
    r"fit a pressure regulator to \d+ psi",
    {"pressure": "25 psi"},
    (r"with a .*regulator", r"change\W+what is the highest pressure", "what you answered"),
)
PROVEN = learned("test.verdict", "holds")


def bought(screen: Screen) -> bool:
    """The parts are settled, or the card for the store is on the screen."""
    settled = bool(screen.facts.get("parts.assembly"))
    return settled or bool(re.search(r"/(card|store|buy)\b", screen.path))


T1 = Run(
    "T1",
    "technician, drip end off its barb: why, mend, prove, log",
    (
        Errand("why it came off", learned("leak.cause"), ("what=popped", "came off")),
        Errand("say what it was", learned("leak.really"), (PICK, "it was this", "confirm")),
        Errand("repair it and prove it", PROVEN, ("repair it", "put the tubing on", PICK)),
    ),
    {
        **CRAFT,
        **HOLDS,
        "fitting_type": "barb",
        "leak_place": "tube_mouth",
        "failure_form": "came_apart",
        "when_first": "hot_afternoon",
        "id_gap_in": {"tube": "0.600", "fitting": "0.600"},
        "hold_down": "none",
        "push_effort": "firm",
        "tube_state": "firm",
        "side_load": "relaxed",
        "short_of_stop_in": "0 in",
        "end_cut": "square_clean",
        "regulator": "none",
        "bang_on_close": "no",
        "static_psi": "30 psi",
        "crack_seen": "none",
        "tool": "caliper",
        "measure-pipe.readings": ["0.840", "0.841", "0.839", "0.841"],
        "measure-tube.readings": ["0.700", "0.701", "0.699", "0.700"],
        "temperature": "73 F",
        "measure-tube.bore": {"bore": "0.600"},
        "identify-pipe.print_line": "1/2 IN PVC 1120 SCH 40",
        "measure-pipe.print": "1/2 IN PVC 1120 SCH 40",
        "choose.place": "end",
        "choose.branches": "1",
        "choose.valve": "no",
        "choose.count": "1",
        "choose.temperature": "100 F",
        "choose.wants": [],
        "pressure": "30 psi",
        "join-tube.kind": "barb_clamped",
        "join-thread.size": "1/2",
        "nominal": "1/2",
        "class": "Sch 40",
        "plan-test.joints": ["barb_clamped"],
        "plan-test.temperature": "73 F",
        "readings": STEADY,
    },
    waits={"join-cement.wipe": 48},
)

_T2_KNOWS = {
    **CRAFT,
    **HOLDS,
    "tool": "caliper",
    "measure-pipe.readings": ["1.050", "1.051", "1.049", "1.050"],
    "measure-pipe.temperature": "73 F",
    "measure-pipe.wall": "0.113",
    "measure-tube.readings": ["0.708", "0.709", "0.707", "0.708"],
    "measure-tube.temperature": "73 F",
    "measure-tube.bore": {"bore": "0.618"},
    "choose.nominal": "3/4",
    "choose.class": "Sch 40",
    "choose.place": "end",
    "choose.branches": "1",
    "choose.valve": "no",
    "choose.count": "3",
    "pressure": "40 psi",
    "choose.temperature": "100 F",
    "choose.wants": ["reusable", "buried"],
    "join-thread.size": "3/4",
    "readings": STEADY,
}

T2 = Run(
    "T2",
    "technician, unmarked 1.050 × 0.113 pipe to 0.708 × 0.618 tubing, first of three joints",
    (Errand("make it and prove it", PROVEN, ("what=new", "a joint to make", PICK)),),
    _T2_KNOWS,
    waits={"join-cement.wipe": 48},
    changes=(REGULATED,),
)

T2_MORE = Run(
    "T2+",
    "technician, a further joint like it",
    (
        Errand(
            "add the joint",
            lambda screen: "/joint/" in screen.path and not screen.facts.get("test.verdict"),
            ("joint like this", "same as", "another like"),
            follows=False,
        ),
        Errand("make it and prove it", PROVEN, (PICK,)),
    ),
    {**_T2_KNOWS, "pressure": "25 psi"},
    waits={"join-cement.wipe": 48},
    after="T2",
)

T3 = Run(
    "T3",
    "technician, seep at a threaded adapter, cracked by tightening",
    (
        Errand("why it leaks", learned("leak.cause"), ("what=leak", "it leaks")),
        Errand("say what it was", learned("leak.really"), (PICK, "it was this", "confirm")),
        Errand(
            "make the thread anew",
            learned("thread.verdict", "ok"),
            ("repair it", "screw the threads together", "back to this joint"),
            follows=False,
        ),
    ),
    {
        **CRAFT,
        "leak-now.place": "thread",
        "fitting_type": "npt_thread",
        "leak_place": "thread_line",
        "failure_form": "slow_drip",
        "when_first": "hours_days",
        "crack_seen": "lengthwise_female",
        "turns_past_hand": "3 turns",
        "thread_sealant": "right",
        "thread_start": "straight",
        "thread_parts": "moulded_pair",
        "side_load": "relaxed",
        "regulator": "working",
        "bang_on_close": "no",
        "static_psi": "45 psi",
        "join-thread.size": "3/4",
    },
)

H1 = Run(
    "H1",
    "homeowner, it came off; no tools, no trade words: what to buy, what to do, when to call",
    (
        Errand(
            "why, what to do, when to call",
            lambda screen: (
                bool(screen.facts.get("leak.cause"))
                and screen.says(r"how to repair|what to do|do this", r"licen[sc]ed person|call a")
            ),
            ("what=popped", "came off"),
        ),
        Errand(
            "what to buy",
            bought,
            ("what to buy", "at the store", PICK),
            ("name the rigid pipe", "name the tubing", "choose the parts"),
        ),
    ),
    {
        **DOES,
        "fitting_type": "barb",
        "failure_form": "came_apart",
        "leak_place": "tube_mouth",
        "when_first": "hot_afternoon",
        "hold_down": "none",
        "tube_state": "firm",
        "side_load": "relaxed",
        "end_cut": "square_clean",
        "bang_on_close": "no",
        "regulator": None,
        "tool": "none",
        "region": "na",
        "identify-pipe.print_line": "1/2 SCH 40",
        "choose.half_inch": "yes",
        "choose.place": "end",
        "choose.branches": "1",
        "choose.valve": "no",
        "choose.count": "1",
        "choose.wants": ["easy_hands"],
    },
    guesses={"choose.tube_od": "0.700 in", "choose.nominal": "1/2", "choose.tube_bore": "0.600 in"},
)

H2 = Run(
    "H2",
    "homeowner in Spanish and metric, strip of paper: which size is this",
    (
        Errand("which size", lambda screen: bool(
            screen.facts.get("tube.id") or screen.facts.get("tube.name")
        ), ("what=tube",)),
    ),
    {
        "tool": "strip",
        "strips": ["56", "56", "56"],
        "temperature": "23 °C",
        "region": "na",
    },
    language="es",
    units="metric",
)  # fmt: skip

H3 = Run(
    "H3",
    "homeowner, riser to drip",
    (Errand("what to buy for it", bought, ("what=riser", "what to buy", PICK)),),
    {
        **DOES,
        "riser-to-tube.head": "spray",
        "riser-to-tube.size": "1/2",
        "riser-to-tube.start": "npt-male",
        "riser-to-tube.heads": "5",
        "riser-to-tube.others": "cap",
        "riser-to-tube.spacing": "12 in",
        "riser-to-tube.outlet_flow": "1 gph",
        "riser-to-tube.sun": "yes",
    },
    guesses={"riser-to-tube.tube_od": "0.700 in", "riser-to-tube.bore": "0.600 in"},
)

L1 = Run(
    "L1",
    "lead: review two joints, waive one, sign, record, verify",
    (
        Errand(
            "see how Box 3 stands",
            lambda screen: screen.says("box 3", "it holds|^holds")
            and screen.path.startswith(("/joint/", "/job/"))
            and not re.fullmatch("/job/[^/]+", screen.path),
            ("larkspur row", "box 3", "test it and judge"),
        ),
        Errand(
            "see how Box 4 stands",
            lambda screen: screen.says("box 4, practice") and "/joint/" in screen.path,
            ("box 4", "larkspur row"),
        ),
        Errand(
            "sign, without Box 4",
            shown("signed so far|signed by ruth"),
            ("sign without", "sign this job", "^sign", "check and sign", "larkspur row"),
            writes={"waive-all": "Practice only, not built", "name": "Ruth"},
        ),
        Errand("verify the seal", shown("seal holds"), ("verify", "seal", "^sign")),
        Errand("have the record", lambda screen: screen.path.endswith("/record"),
               ("record", "larkspur row")),
    ),
)  # fmt: skip

L2 = Run(
    "L2",
    "lead: what failed last month and why, what to order",
    (
        Errand(
            "what failed and why",
            shown("what failed and why|failed, and why", "stair 2", "no sealant on a tapered"),
            ("what failed",),
            follows=False,
        ),
        Errand(
            "what to order",
            shown("for 2 joints", r"\d+ ×"),
            ("order for all", "to order"),
            follows=False,
        ),
    ),
    month=True,
)

RUNS = {one.id: one for one in (T1, T2, T2_MORE, T3, H1, H2, H3, L1, L2)}
