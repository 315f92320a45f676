"""The guided flow that watches the gauge of a shut-in line and judges what it said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fieldkit.engine.line_pipe import line_pipe, thinnest_bore_in
from fieldkit.engine.pressure_test.figures import HeldLine, Reading
from fieldkit.engine.pressure_test.line_stiffness import RESTRAINTS, Segment
from fieldkit.engine.pressure_test.verdict import LineVerdict, judge_line
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line
from fieldkit.flows.flow import Flow
from fieldkit.flows.pressure_test.job_pipe import NOMINAL, PIPE_CLASS, learn_pipe, rigid_of
from fieldkit.flows.pressure_test.page import show_verdict
from fieldkit.flows.pressure_test.request import assumed, clock_of, minutes_between, owned_line
from fieldkit.flows.question import Choice, Known, Option, Quantity, Series, Step
from fieldkit.tables.materials import Material, materials
from fieldkit.tables.pipes import Pipe, pipes
from fieldkit.tables.proving_rules import proving_value

_LENGTH = Step(
    "length",
    "How much rigid pipe is shut in?",
    Quantity(
        "ft", at_least=0.5, at_most=20_000.0, common=(("20 ft", "20 ft"), ("100 ft", "100 ft"))
    ),
    trade="length under test",
    why="A long line hides a small leak. The length tells how small a leak you could see.",
    hint=say(
        "Pace it out: a long step is about {length}. Near enough is good enough.",
        length=Figure(3.0, "ft"),
    ),
)
_TUBE = Step(
    "tubing",
    "Is flexible tubing under the test pressure too?",
    Choice((Option("yes", "Yes"), Option("no", "No, rigid pipe only"))),
    trade="polyethylene in the line",
    why="Tubing goes on stretching, and the gauge falls without any leak.",
    cant_tell="I can’t tell: take it that there is",
)
_TUBE_LENGTH = Step(
    "tube_length",
    "How much tubing is shut in?",
    Quantity(
        "ft", at_least=0.5, at_most=20_000.0, common=(("10 ft", "10 ft"), ("100 ft", "100 ft"))
    ),
    trade="length under test",
    why="More tubing, more stretch.",
    when=lambda known: known.get("tubing") == "yes",
)
_EXPANSION = Step(
    "expansion",
    say("Was it topped up for 4 hours and then let down by {drop}?", drop=Figure(10.0, "psi")),
    Choice((Option("yes", "Yes"), Option("no", "No"))),
    trade="expansion phase",
    why="That lets the tubing stretch before the hold, so that a fall means something.",
    when=lambda known: known.get("tubing") != "no",
    sources=("astm-f2164",),
)
_LIES = Step(
    "restraint",
    "How does the line lie?",
    Choice(
        (
            Option("buried", "In the ground, covered", "restrained"),
            Option("free", "In the open, or hung up", "free to lengthen"),
            Option("gasketed", "Rubber-ring joints that slip", "gasketed"),
        )
    ),
    trade="restraint",
    why="Pipe held by the ground swells differently with heat.",
    cant_tell="I can’t tell: take it as covered",
)
_DIVISION = Step(
    "division",
    "How fine is the gauge?",
    Quantity(
        "psi", at_least=0.01, at_most=50.0, common=(("1 psi", "1"), ("2 psi", "2"), ("5 psi", "5"))
    ),
    trade="gauge division",
    why="A fall smaller than the marks cannot be seen.",
    hint="The step between two small marks. A digital gauge: its last digit.",
    cant_tell=say("I can’t tell: take {usual}", usual=Figure(2.0, "psi")),
    sources=("trade",),
)
_WATER = Step(
    "water",
    "Can you measure the water’s temperature?",
    Choice((Option("yes", "Yes"), Option("no", "No"))),
    trade="water temperature",
    why="Water that cools by a few degrees looks just like a leak. Air temperature will not do.",
    hint="Let some run over a thermometer before you shut it in, and again at the end.",
)
_PRESSURE_PART = ("pressure", "Gauge", "psi")
_READINGS = Step(
    "readings",
    "Read the gauge and the water",
    Series((_PRESSURE_PART, ("water_temperature", "Water", "°F"))),
    trade="test readings",
    why="Each reading is saved with its time. The first and the last decide; more show the shape.",
    hint="One when you shut it in, one or two on the way, one at the end.",
    when=lambda known: known.get("water") == "yes",
    caution=("stand_clear", "eyes"),
)
_GAUGE_ONLY = Step(
    "gauge_readings",
    "Read the gauge",
    Series((_PRESSURE_PART,)),
    trade="test readings",
    why="Each reading is saved with its time.",
    hint="One when you shut it in, one at the end. Look for water in between.",
    when=lambda known: known.get("water") != "yes",
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
    length = given.get("length")
    if length is None:
        raise Problem(
            "length",
            None,
            say("Without the length, a fall of the gauge tells nothing about a leak."),
            say("Pace it out roughly; a long step is about {length}.", length=Figure(3.0, "ft")),
        )
    pipe = rigid_of(given, facts, owned)
    if pipe.wall_in is None:
        raise Problem(
            "nominal",
            pipe.name,
            say("We do not know the wall of this pipe."),
            say("Pick the nearest size of rigid pipe."),
        )
    runs = [Segment(pipe.name, _material(pipe), thinnest_bore_in(pipe), pipe.wall_in, length)]
    if given.get("tubing") != "no":
        runs.append(_tube_run(given, facts, owned, length))
    division = given.get("division")
    if division is None:
        owned.append(assumed("gauge_division_psi"))
        division = proving_value("gauge_division_psi")
    restraint = next((one for one in RESTRAINTS if one == given.get("restraint")), None)
    if restraint is None:
        owned.append(owned_line(say("restraint"), say("buried"), "fieldkit-rule", _PRACTICE))
        restraint = "buried"
    expansion = {"yes": True, "no": False}.get(str(given.get("expansion")))
    return judge_line(
        HeldLine(
            segments=tuple(runs),
            restraint=restraint,
            readings=_read(given),
            visible_leak=given.get("seen") == "yes",
            gauge_division_psi=float(division),
            expansion_phase=expansion,
            looked=given.get("seen") is not None,
            assumed=tuple(owned),
        )
    )


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
    return Segment(
        found.name, _material(found), thinnest_bore_in(found), found.wall_in or 0.0, length
    )


def _series(given: Known) -> tuple[str, list[Known]]:
    step = "readings" if given.get("water") == "yes" else "gauge_readings"
    return step, list(given.get(step) or ())


def _read(given: Known) -> tuple[Reading, ...]:
    """The saved readings, each placed by its own clock."""
    step, rows = _series(given)
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


def _homed(work: Callable[[Known, Known], LineVerdict]) -> Callable[[Known, Known], LineVerdict]:
    """Send a problem back to the step that can mend it."""
    homes = {"minutes": "", "gauge_division": "division", "line": "length"}

    def work_out(given: Known, facts: Known) -> LineVerdict:
        try:
            return work(given, facts)
        except Problem as problem:
            step = homes.get(problem.field, problem.field)
            if step.split(".")[0] in {"", "start", "end", "readings"}:
                step = _series(given)[0]
            problem.field = step
            raise

    return work_out


def _learn_verdict(given: Known, answer: Known) -> dict[str, Any]:
    _, rows = _series(given)
    leaks = answer["verdict"] == "leaks"
    return learn_pipe(given) | {
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
        "test.leak_ml_per_min": answer["leak_ml_per_min"] if leaks else None,
    }


PROVE_FLOW = Flow(
    id="prove",
    title="Test it and judge the result",
    trade="pressure test",
    about="Shut the line in, read the gauge over time, and learn whether it holds.",
    steps=(
        NOMINAL,
        PIPE_CLASS,
        _LENGTH,
        _TUBE,
        _TUBE_LENGTH,
        _EXPANSION,
        _LIES,
        _DIVISION,
        _WATER,
        _READINGS,
        _GAUGE_ONLY,
        _SEEN,
    ),
    work_out=_homed(_judge),
    show=show_verdict,
    learn=_learn_verdict,
    cautions=("water_only", "stand_clear", "eyes"),
    then=("failed-test",),
)
