"""Questions that several of the "will it last" flows ask, and how their answers are read."""

from __future__ import annotations

from typing import Any

from fieldkit.engine.hydraulics.hold import HeldJoint
from fieldkit.engine.hydraulics.sun import sun_line, wall_temperature_f
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Line, worked
from fieldkit.flows.hydraulics.request import usual
from fieldkit.flows.measures import plain_inches, warmer
from fieldkit.flows.pressure_test.job_pipe import told
from fieldkit.flows.question import Choice, Known, Option, Quantity, Several, Step, Whole
from fieldkit.tables.fittings import is_tube_joint, joints
from fieldkit.tables.hydraulics import hydraulics
from fieldkit.tables.materials import materials
from fieldkit.tables.pipes import Pipe, ips_pvc, pipes

BORE = Step(
    "bore",
    "How wide is the tubing inside?",
    Quantity(
        "in",
        at_least=0.1,
        at_most=6.0,
        common=(
            ("0.520 in", say("{size} in, {bore}", size="½", bore=plain_inches(0.52))),
            ("0.600 in", say("{size} in, {bore}", size="½", bore=plain_inches(0.6))),
            ("0.820 in", say("{size} in, {bore}", size="¾", bore=plain_inches(0.82))),
            ("1.049 in", say("{size} in, {bore}", size="1", bore=plain_inches(1.049))),
        ),
    ),
    trade="inside diameter",
    why="A little less bore takes much more pressure.",
    hint="Print on the tubing, or a drill shank that just slides in.",
    fact="tube.bore_in",
    cant_tell="I can’t tell: take the narrowest ½ in",
    sources=("drip-market",),
    short="Bore (hole)",
)
STATIC = Step(
    "pressure",
    "How high is the pressure with everything shut?",
    Quantity("psi", at_least=1.0, at_most=400.0, common=("40 psi", "60 psi", "80 psi")),
    trade="static pressure",
    why="With no flow, all of it reaches every joint.",
    hint="Screw a gauge on the nearest faucet, shut everything, and read it.",
    fact="site.pressure_psi",
    short="Pressure, all shut",
)
HOT = Step(
    "temperature",
    "How hot do tubing and water get?",
    Quantity("°F", at_least=33.0, at_most=140.0, common=("73 °F", "100 °F", "120 °F")),
    trade="wall temperature",
    why=say("Hot plastic holds less: at {heat} drip tubing keeps 40 %.", heat=Figure(120.0, "°F")),
    hint="Hold a thermometer on the tubing in the afternoon.",
    fact="site.temperature_f",
    caution=("scald",),
    cant_tell="I have not measured it",
    sources=("ppfa-3-96",),
    short="Hottest it gets",
)


def _unmeasured(known: Known) -> bool:
    return known.get("temperature", known.get("site.temperature_f")) is None


AIR = Step(
    "air",
    "How warm is the air on a hot day there?",
    Quantity("°F", at_least=-40.0, at_most=140.0, common=("80 °F", "95 °F", "105 °F")),
    trade="air temperature",
    why="From air and sun we estimate how hot the wall gets.",
    when=_unmeasured,
    cant_tell=say("I can’t tell: take {usual}", usual=Figure(100.0, "°F")),
    sources=("trade",),
    short="Air on a hot day",
)
SUN = Step(
    "sun",
    "Does the sun shine on it?",
    Choice(
        (
            Option("yes", "Yes, it lies bare", "exposed"),
            Option("no", "No: buried, or under mulch or shade", "shaded"),
        )
    ),
    trade="exposure",
    why=say("Bare black tubing gets about {heat} hotter than the air.", heat=warmer(30.0)),
    when=_unmeasured,
    cant_tell="I can’t tell: take full sun",
    sources=("trade",),
    short="Sun on it?",
)
JOINTS = Step(
    "joints",
    "Which kinds of joint are on it?",
    Several(tuple(Option(row.id, row.name, row.trade_name) for row in joints().values())),
    trade="joints",
    why="The weakest joint gives first.",
    hint="Pick all that you can see, and those under the ground.",
    fact="parts.joints",
    cant_tell="I can’t tell: take a bare barb",
    short="Joints on it",
)
OUTLET_FLOW = Step(
    "outlet_flow",
    "How much does one emitter give?",
    Quantity(
        "gph",
        at_least=0.05,
        at_most=100.0,
        common=(("0.5 gph", "½ gph"), "1 gph", "2 gph", "2 L/h"),
    ),
    trade="emitter flow",
    why="All of them together must come through the tubing.",
    hint="Printed on the emitter or on the tubing, gallons or liters an hour.",
    cant_tell=say("I can’t tell: take {usual}", usual=Figure(1.0, "gph")),
    short="One emitter gives",
)
SPACING = Step(
    "spacing",
    "How far apart are the emitters?",
    Quantity("in", at_least=1.0, at_most=1200.0, common=("12 in", "18 in", "24 in", "30 cm")),
    trade="emitter spacing",
    why="Closer together means more of them on each foot.",
    cant_tell=say("I can’t tell: take {usual}", usual=Figure(12.0, "in")),
    short="Apart",
)
EMITTER = Step(
    "emitter",
    "Do the emitters hold their flow when pressure changes?",
    Choice(
        (
            Option("plain", "No, or plain holes", "non-compensating"),
            Option("steady", "Yes, the print says so", "pressure-compensating (PC)"),
        )
    ),
    trade="compensating or not",
    why="Plain ones give less at the far end, so the line must be shorter.",
    hint="Look for PC in the print.",
    cant_tell="I can’t tell: take plain ones",
    sources=("ep405",),
    short="Emitters hold their flow?",
)
RISE = Step(
    "rise",
    "How much does the line climb?",
    Quantity(
        "%",
        at_least=-50.0,
        at_most=50.0,
        common=(("0", "Level"), ("2 %", "2 ft up each 100 ft"), ("-2 %", "2 ft down each 100 ft")),
    ),
    trade="slope, per cent",
    why=say(
        "Each {rise} up takes {loss}; each {rise} down gives it back.",
        rise=Figure(2.31, "ft", 2),
        loss=Figure(1.0, "psi"),
    ),
    hint="Up, away from the start, is plus. Down is minus.",
    cant_tell="I can’t tell: take it as level",
    sources=("statics",),
    short="Climbs by",
)
VALVE = Step(
    "valve",
    "What kind of valve shuts the water off?",
    Choice(
        (
            Option("automatic", "An automatic valve", "solenoid"),
            Option("quick", "A quarter-turn handle", "ball valve"),
            Option("slow", "A hand wheel, turned slowly", "gate or globe valve"),
        )
    ),
    trade="closing time",
    why="Water stopped fast makes a short, high pressure: water hammer.",
    cant_tell="I can’t tell: take it as sudden",
    sources=("joukowsky",),
    short="Valve that shuts",
)
COUNT = Whole(1, 5000, common=(20, 50, 100))

_CLOSING = {"automatic": "closing_solenoid", "quick": "closing_quick", "slow": "closing_slow"}


def closing_seconds(given: Known, owned: list[Line]) -> float | None:
    """How long the valve takes to shut; None is sudden."""
    row = _CLOSING.get(str(given.get("valve")))
    return None if row is None else usual(row, owned)


#: The closing curve of each; a hand wheel may be any valve, so the worst is taken.
_CURVES = {"automatic": "solenoid", "quick": "ball"}


def closing_valve(given: Known) -> str | None:
    """The kind of valve by its closing curve; None takes the worst."""
    return _CURVES.get(str(given.get("valve")))


def value_of(step: Step, given: Known, facts: Known, row: str, owned: list[Line]) -> float:
    """What was told for a step, else a default of hydraulics.csv that is owned up to."""
    value = told(step, given, facts)
    return usual(row, owned) if value is None else float(value)


def need(step: Step, given: Known, facts: Known, wrong: Text, instead: Text) -> float:
    """What was told for a step that nothing can stand in for.

    Raises
    ------
    Problem
        It is not known; the sentence says what else would do.
    """
    value = told(step, given, facts)
    if value is None:
        raise Problem(step.id, None, wrong, instead)
    return float(value)


def heat_of(given: Known, facts: Known, owned: list[Line]) -> float:
    """Hottest wall: measured, or estimated from air and sun and marked so."""
    measured = told(HOT, given, facts)
    if measured is not None:
        return float(measured)
    air = value_of(AIR, given, facts, "hot_day", owned)
    sun = given.get("sun") != "no"
    owned.append(sun_line(air, sun=sun))
    return wall_temperature_f(air, sun=sun)


def rated(temperature_f: float) -> float:
    """Refuse an estimate hotter than the heat table, and point at what would settle it."""
    if temperature_f > 140.0:
        raise Problem(
            "temperature",
            temperature_f,
            say(
                "In that sun the wall may pass {limit}, where nothing is rated.",
                limit=Figure(140.0, "°F"),
            ),
            say("Measure it, or shade or bury the tubing."),
        )
    return temperature_f


def rigid_heat_of(given: Known, facts: Known, owned: list[Line]) -> float:
    """Hottest that the rigid side gets: as measured, else the air's, since it is not black."""
    measured = told(HOT, given, facts)
    if measured is not None:
        return float(measured)
    air = given.get("air")
    heat = hydraulics()["hot_day"].value if air is None else float(air)
    owned.append(worked("assumed_rigid_side", heat))
    return heat


def exponent_of(given: Known, owned: list[Line]) -> float:
    """Emitter exponent: 0 where the flow holds steady, else that of a plain hole."""
    return 0.0 if given.get("emitter") == "steady" else usual("exponent_default", owned)


def quick_modulus_psi(pipe: Pipe) -> float:
    """Modulus of a pipe whose wall is known, for a quick load. [psi]

    Raises
    ------
    Problem
        Wall or modulus is not known.
    """
    modulus = materials()[pipe.material].dynamic_modulus_psi
    if pipe.wall_in is None or modulus is None:
        raise Problem(
            "class",
            pipe.name,
            say("We do not know the wall of {pipe}.", pipe=pipe.name),
            say("Pick the class printed on the pipe."),
        )
    return modulus


def tubing_row(facts: Known) -> Pipe | None:
    """The row of the tubing that the log knows."""
    return pipes().get(str(facts.get("tube.id") or ""))


def held_joints(
    given: Known, facts: Known, bore_in: float | None, owned: list[Line]
) -> tuple[HeldJoint, ...]:
    """The joints picked or logged, each with the pipe or tubing that it is made on."""
    kinds = told(JOINTS, given, facts)
    if not kinds:
        row = joints()["barb_bare"]
        owned.append(worked("assumed_joint", row.name, rests=row))
        kinds = [row.id]
    return tuple(_held(str(kind), facts, bore_in) for kind in dict.fromkeys(kinds))


def _held(kind: str, facts: Known, bore_in: float | None) -> HeldJoint:
    if is_tube_joint(kind):
        outside = joints()[kind].seals == "outside"
        seal: Any = facts.get("tube.od_in") if outside else (bore_in or facts.get("tube.bore_in"))
        row = tubing_row(facts)
        return HeldJoint(
            kind,
            pipe=row if row is not None and row.material == "pe" else None,
            seal_in=None if seal is None else float(seal),
            clamps=facts.get("tube_end.clamps"),
        )
    # By its row, or by the size and class that the job knows: as transition and plan read it.
    named = ips_pvc().get((str(facts.get("pipe.nominal")), str(facts.get("pipe.class"))))
    rigid = pipes().get(str(facts.get("pipe.id") or "")) or named
    od: Any = facts.get("pipe.od_in")
    return HeldJoint(
        kind,
        pipe=rigid if rigid is not None and rigid.rigid else None,
        seal_in=None if od is None else float(od),
    )
