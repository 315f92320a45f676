"""The guided flow that watches the gauge of a shut-in line and judges what it said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

from fieldkit.engine.line_pipe import line_pipe
from fieldkit.engine.pressure_test.figures import HeldLine, Reading
from fieldkit.engine.pressure_test.leak_bound import PumpIn
from fieldkit.engine.pressure_test.line_stiffness import RESTRAINTS, Restraint, Segment, segment_of
from fieldkit.engine.pressure_test.verdict import LineVerdict, judge_line
from fieldkit.engine.pressure_test.watched import WATCH_MIN, watched
from fieldkit.engine.pressure_test.working import assumed
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Answer, Line
from fieldkit.flows.block import Block, Clock, Facts
from fieldkit.flows.checklist import by_eye
from fieldkit.flows.figures import rating
from fieldkit.flows.flow import Flow, Onward
from fieldkit.flows.pressure_test.job_pipe import (
    DIVISION,
    LENGTH,
    NOMINAL,
    PIPE_CLASS,
    RESTRAINT,
    TUBING,
    WATER,
    largest,
    learn_pipe,
    learn_reading,
    restraint_of,
    rigid_of,
    step_f,
    thermometer,
    told,
)
from fieldkit.flows.pressure_test.page import show_verdict
from fieldkit.flows.pressure_test.request import clock_of, minutes_between, or_rule, owned_line
from fieldkit.flows.question import Choice, Confirm, Known, Option, Quantity, Series, Step, Timer
from fieldkit.tables.materials import Material, materials
from fieldkit.tables.pipes import Pipe, pipes
from fieldkit.tables.proving_rules import proving_value


def _tubing(known: Known) -> str | None:
    """Whether tubing is shut in, too: as answered here, else as the plan was told."""
    return known[TUBING.id] if TUBING.id in known else known.get(TUBING.fact)


_TUBE_LENGTH = Step(
    "tube_length",
    "How much tubing is shut in?",
    Quantity("ft", at_least=0.5, at_most=20_000.0, common=("10 ft", "100 ft")),
    trade="length under test",
    why="More tubing, more stretch.",
    when=lambda known: _tubing(known) == "yes",
)
_EXPANSION = Step(
    "expansion",
    say("Was it topped up for 4 hours and then let down by {drop}?", drop=Figure(10.0, "psi")),
    Choice((Option("yes", "Yes"), Option("no", "No"))),
    trade="expansion phase",
    why="That lets the tubing stretch before the hold, so that a fall means something.",
    when=lambda known: _tubing(known) != "no",
    sources=("astm-f2164",),
)


def _long(known: Known) -> bool:
    """Whether the line is so long, or so soft, that two answers more make the test sharper."""
    length = known[LENGTH.id] if LENGTH.id in known else known.get(LENGTH.fact)
    return _tubing(known) != "no" or (length is not None and length > 100.0)


_SINCE = Step(
    "since",
    "How long was it at pressure before the first reading?",
    Quantity("min", at_least=0.0, at_most=100_000.0, common=("5 min", "30 min", "2 h")),
    trade="settling time",
    why="A wall under fresh pressure goes on stretching. The gauge falls a little without a leak.",
    when=_long,
    cant_tell="I can’t tell: take it as just pumped up",
)
_PUMP_IN = Step(
    "pump_in",
    "How much water brought the full line from no pressure up to the first reading?",
    Quantity("mL", at_least=1.0, at_most=10_000_000.0),
    trade="pump-in volume",
    why="It tells how much air is in the line. Air cushions the gauge and hides a leak.",
    hint="Pump from a jug with marks, or count strokes and measure what one stroke gives.",
    when=_long,
    cant_tell="I did not measure it: allow for air",
)
_PRESSURE_PART = ("pressure", "Gauge", "psi")
_READINGS = Step(
    "readings",
    "Read the gauge and the water",
    Series((_PRESSURE_PART, ("water_temperature", "Water", "°F")), closed_by="seen"),
    trade="test readings",
    why="Each reading is saved with its time. The first and the last decide; more show the shape.",
    hint="One when you shut it in, one or two on the way, one at the end. "
    "Leave the water empty where you have no thermometer.",
    when=lambda known: thermometer(known) != "no",
    caution=("stand_clear", "eyes"),
)
_GAUGE_ONLY = Step(
    "gauge_readings",
    "Read the gauge",
    Series((_PRESSURE_PART,), closed_by="seen"),
    trade="test readings",
    why="Each reading is saved with its time.",
    hint="One when you shut it in, one at the end. Look for water in between.",
    when=lambda known: thermometer(known) == "no",
    caution=("stand_clear", "eyes"),
)
_SEEN = Step(
    "seen",
    "Did you see water at any joint?",
    Choice((Option("no", "No, I looked at them all"), Option("yes", "Yes"))),
    trade="visible leak",
    why="A drip you can see counts for more than any gauge.",
    hint="A dry tissue shows a weep. Look at caps and valves too.",
    caution=("stand_clear",),
    cant_tell="I could not look",
)


def _judge(given: Known, facts: Known) -> LineVerdict:
    owned: list[Line] = []
    length = or_rule(told(LENGTH, given, facts), "unknown_length_ft", owned)
    pipe = rigid_of(given, facts, owned, size=largest)
    runs = [segment_of(pipe, _material(pipe), length)]
    if told(TUBING, given, facts) != "no":
        runs.append(_tube_run(given, facts, owned, length))
    known = dict(facts) | dict(given)
    division = or_rule(told(DIVISION, given, facts), "gauge_division_psi", owned)
    step = step_f(known)
    if step is None and thermometer(known) != "no":
        owned.append(assumed("thermometer_step_f"))
    since, pumped = given.get("since"), given.get("pump_in")
    if since is None:
        owned.append(assumed("worst_pump_min"))
    expansion = {"yes": True, "no": False}.get(str(given.get("expansion")))
    readings = _read(given, facts)
    line = HeldLine(
        segments=tuple(runs),
        restraint="buried",
        readings=readings,
        visible_leak=given.get("seen") == "yes",
        gauge_division_psi=division,
        thermometer_step_f=step,
        minutes_since_pumped=since,
        pump_in=None if pumped is None else PumpIn(pumped, 0.0, readings[0].pressure_psi),
        expansion_phase=expansion,
        looked=given.get("seen") is not None,
        assumed=tuple(owned),
    )
    restraint = restraint_of(given, facts)
    if restraint is not None:
        return judge_line(replace(line, restraint=restraint))
    return max((judge_line(_lying(line, one)) for one in RESTRAINTS), key=_least_proven)


def _lying(line: HeldLine, restraint: Restraint) -> HeldLine:
    """The line as it may lie, where nobody can tell."""
    row = owned_line(say("restraint"), restraint, "fieldkit-rule", _PRACTICE)
    return replace(line, restraint=restraint, assumed=(*line.assumed, row))


def _least_proven(verdict: LineVerdict) -> tuple[bool, float]:
    """How little a verdict proves: the worst of several is the greatest."""
    return verdict.verdict != "holds", verdict.leak_upper_ml_per_min


_PRACTICE = "common practice, no source"


def _material(pipe: Pipe) -> Material:
    return materials()[pipe.material]


def _tube_run(given: Known, facts: Known, owned: list[Line], rigid_ft: float) -> Segment:
    """The tubing under test: as measured, else the commonest of the trade."""
    length = given.get("tube_length")
    if length is None:
        owned.append(
            owned_line(
                say("length of tubing"), say("as long as the pipe"), "fieldkit-rule", _PRACTICE
            )
        )
        length = rigid_ft
    od, bore = facts.get("tube.od_in"), facts.get("tube.bore_in")
    found = pipes().get(str(facts.get("tube.id") or ""))
    if od is not None and bore is not None and 0 < bore < od:
        material = materials()["drip" if found is None else found.material]
        if material.modulus_psi is not None:
            return Segment(say("tubing as measured"), material, bore, (od - bore) / 2, length)
    if found is None or found.wall_in is None or _material(found).modulus_psi is None:
        found = line_pipe("drip", "1/2", None)
        owned.append(owned_line(say("tubing taken to be"), found.name, found.source, found.status))
    return segment_of(found, _material(found), length)


def _series(given: Known, facts: Known) -> tuple[str, list[Known]]:
    measured = thermometer(dict(facts) | dict(given)) != "no"
    step = "readings" if measured else "gauge_readings"
    return step, list(given.get(step) or ())


def _read(given: Known, facts: Known) -> tuple[Reading, ...]:
    """The saved readings, each placed by its own clock."""
    step, rows = _series(given, facts)
    if len(rows) < 2:
        raise Problem(
            step,
            None,
            say("A test cannot be judged without two readings of the gauge."),
            say("Read it once now, and again after the hold. Water running out is a leak."),
        )
    clocks = [clock_of(row["at"], step) for row in rows]
    first = min(clocks)
    found = (
        Reading(minutes_between(first, clock, step), row["pressure"], row.get("water_temperature"))
        for clock, row in zip(clocks, rows, strict=True)
    )
    return tuple(sorted(found, key=lambda reading: reading.minutes))


# ── By eye ───────────────────────────────────────────────────────────────────────────────────


def _by_eye(known: Known) -> bool:
    """Whether the joint is proven by running it: one that was repaired, and that can be seen."""
    return by_eye(known) and known.get("watched", "") is not None


_EYE_STEPS = (
    Step(
        "open",
        "Stand aside and open the valve slowly",
        Confirm("Open"),
        trade="put under pressure",
        why="What lets go lets go now.",
        when=_by_eye,
        caution=("stand_clear", "eyes"),
    ),
    Step(
        "tissue",
        "Wipe the joint dry and wrap a dry tissue round it",
        Confirm("Wrapped"),
        trade="leak check",
        why="A tissue shows what the eye does not.",
        when=_by_eye,
    ),
    Step(
        "watched",
        say("Look at it after {time}. Is it dry?", time=Figure(WATCH_MIN, "min")),
        Choice((Option("dry", "Dry"), Option("wet", "Wet"))),
        trade="visible leak",
        why="A repair in plain sight needs no gauge. What cannot be seen is tested with one.",
        when=by_eye,
        cant_tell="I can’t see it: test with a gauge",
        timer=Timer("tissue", lambda _: WATCH_MIN * 60.0, "Look at it at"),
        short=say("After {time} the tissue is", time=Figure(WATCH_MIN, "min")),
    ),
)


def _with_the_gauge(step: Step) -> Step:
    """The step as it is asked where the line is tested with a gauge."""
    asked = step.when
    return replace(step, when=lambda known: not _by_eye(known) and asked(known))


def _prove(given: Known, facts: Known) -> Answer:
    seen = given.get("watched")
    return _judge_homed(given, facts) if seen is None else watched(dry=seen == "dry")


def _homed(work: Callable[[Known, Known], LineVerdict]) -> Callable[[Known, Known], LineVerdict]:
    """Send a problem back to the step that can mend it."""
    homes = {"minutes": "", "gauge_division": "division", "line": "length"}
    homes["minutes_since_pumped"] = "since"

    def work_out(given: Known, facts: Known) -> LineVerdict:
        try:
            return work(given, facts)
        except Problem as problem:
            step = homes.get(problem.field, problem.field)
            if step.startswith("pump_in."):
                step = "pump_in"
            if step.split(".")[0] in {"", "start", "end", "readings"}:
                step = _series(given, facts)[0]
            problem.field = step
            raise

    return work_out


_judge_homed = _homed(_judge)


def _learn_verdict(given: Known, answer: Known) -> dict[str, Any]:
    if "line" not in answer:
        return {"test.verdict": answer["verdict"]}
    rows = given.get("readings") or given.get("gauge_readings") or ()
    leaks = answer["verdict"] == "leaks"
    return (
        learn_pipe(given)
        | learn_reading(given)
        | {
            "test.verdict": answer["verdict"],
            "test.readings": [
                {
                    "at": row["at"],
                    "pressure_psi": row["pressure"],
                    "water_temperature_f": row.get("water_temperature"),
                }
                for row in rows
            ],
            "test.line": answer["line"],
            "test.leak_ml_per_min": (answer["leak_ml_per_min"] or None) if leaks else None,
        }
    )


def _why(answer: Known, facts: Known) -> Onward | None:
    """After a leak comes why, never another test; after one that holds, the next like it."""
    if answer.get("verdict") == "leaks":
        return Onward("failed-test", say("Find out why"))
    if answer.get("verdict") == "holds" and facts.get("parts.assembly"):
        return Onward("another", say("Done: next joint like this"))
    return None


def _watch(given: Known, facts: Known) -> tuple[Block, ...]:
    """While a planned test runs: the pressure, the band for the gauge, and when it is over."""
    rows = given.get("so_far") or ()
    hold, target = facts.get("test.hold_minutes"), facts.get("test.pressure_psi")
    if not hold or not target:
        return ()
    if not rows:
        return (Facts(((say("Pump up to"), rating(float(target))),)),)
    first = min(rows, key=lambda row: str(row["at"]))
    start = float(first["pressure"])
    until = clock_of(first["at"], "readings") + timedelta(minutes=float(hold))
    low = start - _fall_to_watch(given, facts, start)
    return (
        Facts(
            (
                (say("Hold at, never above"), rating(float(target))),
                (
                    say("Look for water below"),
                    say("{low}", low=Figure(max(0.0, low), "psi", 1)),
                ),
            )
        ),
        Clock(
            say("The hold is over at"),
            until.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            say("The hold is over: read the gauge."),
        ),
    )


def _fall_to_watch(given: Known, facts: Known, start_psi: float) -> float:
    """The fall from which one looks at the joints: a mark of the gauge, or that of polyethylene.

    Source
    ------
    astm-f2164 for polyethylene, from memory; else what a gauge can show: common practice, no
    source.
    """
    row = pipes().get(str(facts.get("tube.id") or ""))
    if told(TUBING, given, facts) != "no" and row is not None and row.material in {"pe", "pe4710"}:
        return proving_value("pe_share") * start_psi
    return or_rule(told(DIVISION, given, facts), "gauge_division_psi", [])


PROVE_FLOW = Flow(
    id="prove",
    title="Test it and judge the result",
    trade="pressure test",
    about="Shut the line in, read the gauge over time, and learn whether it holds.",
    together=(
        ("open", "tissue"),
        ("nominal", "class", "length", "tubing", "restraint", "division", "water"),
        ("tube_length", "expansion", "since", "pump_in"),
    ),
    pages=("Run it", "The line under test", "Before the first reading"),
    onward=_why,
    aside=_watch,
    steps=(
        *_EYE_STEPS,
        *map(
            _with_the_gauge,
            (
                *(NOMINAL, PIPE_CLASS, WATER, LENGTH, TUBING, _TUBE_LENGTH, _EXPANSION, RESTRAINT),
                *(DIVISION, _SINCE, _PUMP_IN, _READINGS, _GAUGE_ONLY, _SEEN),
            ),
        ),
    ),
    work_out=_prove,
    show=show_verdict,
    learn=_learn_verdict,
    refusals={"": ("class",)},
    cautions=("water_only", "stand_clear", "eyes"),
    then=("failed-test",),
)

FLOWS: tuple[Flow, ...] = (PROVE_FLOW,)
