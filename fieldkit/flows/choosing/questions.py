"""The guided flow that chooses the parts from the rigid pipe to the tubing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fieldkit.engine.choosing.fit import Tube
from fieldkit.engine.choosing.rules import Need
from fieldkit.engine.choosing.transition import Transition, transition
from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.flows.choosing.page import learn, pick, show, to_the_card
from fieldkit.flows.choosing.request import (
    checked_tube,
    nearest_iron_size,
    read_prices,
)
from fieldkit.flows.flow import Flow, Onward
from fieldkit.flows.measures import plain_inches, warmer
from fieldkit.flows.nearest import Change
from fieldkit.flows.pipe_asks import TUBE_OD, class_options, riser_top, size_options
from fieldkit.flows.question import Choice, Known, Option, Quantity, Several, Step, Whole
from fieldkit.tables.pipes import pipes


def _place(known: Known) -> object:
    return known.get("place") or known.get("site.place")


def _tube_not_named(known: Known) -> bool:
    """A tube named by its row of the pipe table has its diameters there."""
    return not known.get("tube.id")


_WANTS = (
    Option("reusable", "It comes apart and goes back", "reusable"),
    Option("no_cement", "No primer or cement", "no solvent welds"),
    Option("easy_hands", "No hard pushing", "low hand force"),
    Option("buried", "It will be buried out of reach", "direct burial"),
    Option("cheapest", "The cheapest first", "cost"),
)

STEPS = (
    Step(
        "nominal",
        "What size is the rigid pipe?",
        Choice(size_options("1/2", "3/4", "1", "1-1/4")),
        trade="nominal size, NPS",
        why="Sockets and push-fit ends take one size of pipe each.",
        hint="Read the print on the pipe, or measure across its outside.",
        fact="pipe.nominal",
        sources=("astm-d1785",),
        short="Size",
    ),
    Step(
        "class",
        "What class is printed on it?",
        Choice(class_options("Sch 40", "Sch 80", "SDR 21", "SDR 13.5")),
        trade="schedule or class",
        why="It tells what the pipe itself can bear.",
        fact="pipe.class",
        sources=("astm-d1785", "astm-d2241"),
        short="Class printed on it",
    ),
    replace(TUBE_OD, when=_tube_not_named),
    Step(
        "half_inch",
        "Is it sold as half-inch drip tubing?",
        Choice(
            (
                Option("yes", "Yes, half-inch, I don’t know which", "1/2 in drip tubing"),
                Option("no", "No, or something else"),
            )
        ),
        why="Some ends take the whole half-inch range, and can be chosen without measuring.",
        when=lambda known: "tube_od" in known and known["tube_od"] is None,
        short="Sold as half-inch drip?",
    ),
    Step(
        "tube_bore",
        "How wide is the hole in the tubing?",
        Quantity("in", at_least=0.05, at_most=4.0, common=("0.520", "0.600", "0.620", "0.820")),
        trade="inside diameter, bore",
        why="A ridged end (barb) holds by the hole, so it must match.",
        hint="Use the inner jaws of a caliper, or the largest drill shank that slides in.",
        fact="tube.bore_in",
        when=lambda known: (
            _tube_not_named(known)
            and known.get("half_inch") != "yes"
            and ("tube_bore" in known or known.get("tube.cut_end") != "no")
        ),
        sources=("drip-market",),
        short="Bore (hole)",
    ),
    Step(
        "place",
        "Where does the tubing start?",
        Choice(
            (
                Option("end", "At the end of the pipe", "end of run"),
                Option("inline", "From the middle of the pipe", "cut in, tee"),
                Option("riser", "From a pipe that comes up", "riser"),
            )
        ),
        trade="end, inline or riser",
        why="A cut into the run must also join the pipe again.",
        fact="site.place",
        cant_tell="I can’t tell: take the end",
    ),
    replace(
        riser_top(("pipe", "npt-male", "npt-female", "socket")),
        when=lambda known: _place(known) == "riser",
    ),
    Step(
        "branches",
        "How many tubes leave here?",
        Choice((Option("1", "One"), Option("2", "Two, one each way", "both ways"))),
        trade="outlets",
        why="A tee that feeds both ways saves a joint.",
        cant_tell="I can’t tell: take one",
        short="Tubes that leave here",
        folded=True,
    ),
    Step(
        "valve",
        "Do you want a valve right here?",
        Choice((Option("no", "No"), Option("yes", "Yes", "valve"))),
        trade="valve",
        why="A valve with a tube end saves a part.",
        cant_tell="I can’t tell: no",
        short="A valve right here?",
        folded=True,
    ),
    Step(
        "count",
        "How many joints like this does the job have?",
        Whole(at_least=1, at_most=100_000, common=(1, 4, 12, 30)),
        trade="number of joints",
        why="One joint is best bought ready-made; for many, separate parts may be cheaper.",
        fact="parts.count",
        cant_tell="I can’t tell: take one",
        short="Joints like this",
        folded=True,
    ),
    Step(
        "pressure",
        "What is the highest pressure here?",
        Quantity("psi", at_least=0.0, at_most=2000.0, common=("20", "30", "50")),
        trade="static pressure",
        why="Each joint has a ceiling. What holds it with room for a surge stands first.",
        hint="A gauge on a faucet reads it with everything shut. A regulator prints its own.",
        fact="site.pressure_psi",
        short="Highest pressure",
    ),
    # Answered by a change only: one that was told is part of the pressure.
    Step(
        "regulator",
        "What is the pressure regulator set to?",
        Quantity("psi", at_least=1.0, at_most=150.0),
        trade="regulator setting",
        why="Behind it the pressure is no higher than this.",
        when=lambda known: known.get("regulator") is not None,
        fact="site.regulator_psi",
        cant_tell="There is none",
    ),
    Step(
        "temperature",
        "How hot do the pipe and tubing get?",
        Quantity("°F", at_least=-40.0, at_most=140.0, common=("73", "100", "120")),
        trade="hottest in use",
        why=say(
            "Plastic loses strength in the heat: at {heat} half of it is gone.",
            heat=Figure(110.0, "°F"),
        ),
        hint=say("Bare black tubing in the sun runs about {heat} over the air.", heat=warmer(30.0)),
        fact="site.temperature_f",
        sources=("ppfa-3-96",),
        short="Hottest it gets",
    ),
    Step(
        "wants",
        "What matters to you?",
        Several(_WANTS),
        why="What you pick here must hold; the rest is shown side by side.",
        cant_tell="Nothing special",
    ),
)


def changes(answer: Known | None, given: Known, facts: Known) -> tuple[Change, ...]:
    """Where nothing is known of the tubing: it may be the usual one."""
    if answer is not None:
        return ()
    try:
        work_out({**given, "half_inch": "yes"}, facts)
    except Problem:
        return ()
    return (Change(say("Take half-inch drip tubing"), (("half_inch", ("yes",)),)),)


#: Which step each key of a request belongs to, for a problem to send the person back there.
_STEP_OF_FIELD = {
    "pipe.nominal": "nominal",
    "pipe.class": "class",
    "temperature": "temperature",
    "cure_temperature": "temperature",
    "pressure": "pressure",
    "pvc.material": "place",
}


def _known_tube(given: Known, facts: Known) -> Tube:
    row = pipes().get(str(facts.get("tube.id") or ""))
    od = given.get("tube_od", facts.get("tube.od_in", row.od_in if row else None))
    bore = given.get("tube_bore", facts.get("tube.bore_in", row.bore_in if row else None))
    tube = checked_tube(od, bore, given.get("half_inch") == "yes", "tube_od", "tube_bore")
    return replace(tube, family=str(facts.get("tube.family") or (row.family if row else "")))


def _known_pipe(given: Known, facts: Known) -> dict[str, Any]:
    row = pipes().get(str(facts.get("pipe.id") or ""))
    if row is not None and row.family != "ips-pvc" and given.get("nominal") is None:
        return {"nominal": nearest_iron_size(row.od_in), "pipe_od_in": row.od_in}
    nominal = given.get("nominal") or facts.get("pipe.nominal")
    if nominal is None:
        raise Problem(
            "nominal",
            None,
            say("The size of the pipe must be known: each fitting takes one."),
            say(
                "Measure across it: {half} is ½ in, {three_quarters} is ¾ in, {one} is 1 in.",
                half=plain_inches(0.84),
                three_quarters=plain_inches(1.05),
                one=plain_inches(1.315),
            ),
        )
    pipe_class = given.get("class") or facts.get("pipe.class")
    rigid_pvc(str(nominal), str(pipe_class or "Sch 40"))
    return {
        "nominal": str(nominal),
        "pipe_class": str(pipe_class or "Sch 40"),
        "class_assumed": pipe_class is None,
    }


def work_out(given: Known, facts: Known) -> Transition:
    """From the flow's answers and the joint's facts to the assemblies."""

    def value(step: str, fact: str) -> Any:
        return facts.get(fact) if given.get(step) is None else given[step]

    prices, illustrative = read_prices(facts.get("prices"), "prices")
    try:
        place = str(value("place", "site.place") or "end")
        return transition(
            Need(
                **_known_pipe(given, facts),
                pipe_material=str(facts.get("pipe.material") or "pvc"),
                tube=_known_tube(given, facts),
                place=place,
                start=str(given.get("start") or "pipe") if place == "riser" else "pipe",
                branches=int(given.get("branches") or 1),
                valve=given.get("valve") == "yes",
                count=int(value("count", "parts.count") or 1),
                pressure_psi=value("pressure", "site.pressure_psi"),
                temperature_f=value("temperature", "site.temperature_f"),
                wants=frozenset(given.get("wants") or ()),
                prices=prices,
                prices_illustrative=illustrative,
            )
        )
    except Problem as found:
        step = _STEP_OF_FIELD.get(found.field, found.field)
        raise found.at(step) from None


FLOWS = (
    Flow(
        id="choose",
        title="Choose the parts",
        trade="transition from PVC to tubing",
        about="Shows the ways to join this pipe to this tubing, what each asks and what it holds.",
        together=(
            ("nominal", "class"),
            ("tube_od", "tube_bore", "half_inch"),
            ("place", "pressure", "temperature", "wants", "branches", "valve", "count"),
        ),
        pages=(
            "The rigid pipe",
            "The tubing",
            "How it will be used",
        ),
        steps=STEPS,
        work_out=work_out,
        show=show,
        learn=learn,
        pick=pick,
        cautions=("local_code",),
        then=("join-cement", "join-thread", "join-tube"),
        uses_prices=True,
        refusals={
            "": ("class",),
            **dict.fromkeys(
                ("none", "marginal"), ("pressure", "wants", "temperature", "valve", "place")
            ),
        },
        otherwise=Onward("measure-tube", "Measure the tubing again"),
        ways=lambda answer: len(getattr(answer, "assemblies", ())),
        changes=changes,
        onward=to_the_card,
    ),
)
