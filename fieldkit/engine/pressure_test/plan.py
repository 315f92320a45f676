"""Planning a pressure test: how high, for how long, in what order, and when not to."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.line_pipe import thinnest_bore_in
from fieldkit.engine.pressure_test.figures import refuse_freezing
from fieldkit.engine.pressure_test.leak_bound import Conditions, at_most
from fieldkit.engine.pressure_test.line_stiffness import (
    Restraint,
    Segment,
    line_of,
    segment_of,
)
from fieldkit.engine.pressure_test.part_ceiling import PIPE_KINDS, Ceiling, LinePart, part_ceiling
from fieldkit.engine.pressure_test.stored_energy import StoredEnergy, stored_energy
from fieldkit.engine.pressure_test.working import assumed
from fieldkit.engine.pressure_test.would_settle import Change, Setting, would_settle
from fieldkit.engine.problems import Problem, require
from fieldkit.engine.words import Figure, Span, Text, say, those
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.fittings import is_tube_joint, made_by
from fieldkit.tables.materials import materials
from fieldkit.tables.pipes import Pipe, nominal_inches
from fieldkit.tables.proving_rules import ProvingRule, proving_rules, proving_value

#: Said in place of a part when the working pressure, not a part, sets the test.
BY_WORKING = "1.5 × working pressure"
#: How a line lies where nobody said: then its walls give most.
_WORST_RESTRAINT: Restraint = "free"
#: Length of a pipe where none was given.
_ASSUMED_LENGTH_FT = 100.0
#: Hours of the clock between which the sun may be on an open pipe.
_SUN_FROM, _SUN_TO = 9, 18


@dataclass(frozen=True, slots=True)
class LineToTest:
    """What is to be tested, and what is known of the day.

    ``use`` is ``"lateral"``, ``"main"`` or ``"drip"``, None where nobody said.
    ``cure_left_min`` is how long the last cement still needs, None where nobody knows.
    ``restraint``, ``hour`` (0 to 23), ``gauge_division_psi`` and ``thermometer_step_f`` are taken
    at their worst where nobody said; ``thermometer`` is whether there is one at all.
    """

    parts: tuple[LinePart, ...]
    working_psi: float
    temperature_f: float
    gauge_height_ft: float = 0.0
    use: str | None = None
    restraint: Restraint | None = None
    hour: int | None = None
    gauge_division_psi: float | None = None
    thermometer: bool = True
    thermometer_step_f: float | None = None
    leak_that_matters_ml_min: float | None = None
    cure_left_min: float | None = None
    override_reason: str = ""
    assumed: tuple[Line, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class LinePlan(Answer):
    """Verdict ``ready``, ``wait``, ``override`` or ``do_not_test``, and the plan.

    ``shows_ml_per_min`` is the bound on the leak that this test would give a tight line, None
    where no pipe was given; ``would_settle`` what would bring it under the leak that matters.
    """

    test_pressure_psi: float
    limited_by: Text
    limited_by_kind: str
    hold_minutes: float
    hold_source: str
    steps: tuple[Text, ...]
    fill_gpm: float | None
    look_psi: float
    shows_ml_per_min: float | None
    leak_that_matters_ml_per_min: float
    would_settle: tuple[Change, ...]
    polyethylene: bool
    minutes_left: float | None
    override_reason: str
    ceilings: tuple[Ceiling, ...]
    energy_length_ft: float | None
    energy: StoredEnergy | None


def fill_gpm(bore_in: float) -> float:
    """Fastest filling that keeps the water at 1 ft/s or less: Q = v d² / 0.4085.

    Parameters
    ----------
    bore_in : float
        Smallest bore on the way d, above 0. [in]

    Returns
    -------
    float
        Flow. [gpm]

    Raises
    ------
    OutOfRange
        The bore is not above 0.

    Source
    ------
    hazen-williams for the velocity constant; trade for 1 ft/s. Status: from memory.

    Examples
    --------
    >>> round(fill_gpm(1.0), 2)
    2.45
    """
    require(bore_in, "bore_in", above=0.0, unit="in")
    return proving_value("fill_ft_s") * bore_in**2 / proving_value("velocity_factor")


def plan_line(line: LineToTest) -> LinePlan:
    """Plan the pressure test of a line.

    P = min(1.5 × working pressure, min over parts of ceiling − 0.433 (z_gauge − z_part)).

    Parameters
    ----------
    line : LineToTest
        The parts with their heights, the working pressure where the gauge is, the day. [psi, °F]

    Returns
    -------
    LinePlan
        Test pressure at the gauge, what limits it, the hold and the steps. [psi, min]

    Raises
    ------
    Problem
        There is no part, or nothing is known of the strength of one.
    OutOfRange
        The working pressure or the temperature is outside what can be worked out.
    Refused
        Pipe and water are under 40 °F.

    Source
    ------
    nashua-clause, pvc-test-sheet; holds and limits from proving_rules.csv. Status: secondary.
    """
    if not line.parts:
        raise Problem(
            "parts",
            None,
            say("No part was given."),
            say("Give each pipe and joint, with its size and class."),
        )
    require(line.working_psi, "working_pressure", above=0.0, at_most=1000.0, unit="psi", places=0)
    require(line.gauge_height_ft, "gauge_height", at_least=-1000.0, at_most=1000.0, unit="ft")
    require(line.temperature_f, "temperature", at_least=-100.0, unit="°F", places=0)
    refuse_freezing(line.temperature_f, "temperature")
    ceilings = tuple(part_ceiling(p, line.temperature_f, line.gauge_height_ft) for p in line.parts)
    weakest = min(ceilings, key=lambda one: one.at_gauge_psi)
    by_working = proving_value("working_factor") * line.working_psi
    by_part = weakest.at_gauge_psi < by_working
    pressure = max(0.0, min(by_working, weakest.at_gauge_psi))
    limited_by = weakest.part if by_part else say(BY_WORKING)

    polyethylene = any(_is_polyethylene(part) for part in line.parts)
    hold = _hold(line.parts, line.use)
    bore = _smallest_bore(line.parts)
    look = min(proving_value("look_high_psi"), max(pressure / 2, 0.0))
    energy, length = _energy(line, pressure)
    verdict, headline = _verdict(line, pressure, weakest, limited_by, hold)
    shown = _Shown.of(line, pressure, hold.value)
    return LinePlan(
        verdict=verdict,
        headline=headline,
        cautions=(
            *(shown.cautions if verdict != "do_not_test" else ()),
            *_cautions(line, verdict, pressure, energy, length),
        ),
        working=_working(
            line,
            ceilings=ceilings,
            by_working=by_working,
            pressure=pressure,
            hold=hold,
            bore=bore,
            energy=energy,
        )
        + shown.working,
        test_pressure_psi=pressure,
        limited_by=limited_by,
        limited_by_kind=weakest.kind if by_part else "working_pressure",
        hold_minutes=hold.value,
        hold_source=hold.source,
        steps=_steps(pressure, look, hold, bore, _method(line.parts))
        if verdict != "do_not_test"
        else (),
        fill_gpm=None if bore is None else fill_gpm(bore),
        look_psi=look,
        shows_ml_per_min=shown.ml_min,
        leak_that_matters_ml_per_min=shown.matters_ml_min,
        would_settle=shown.settle,
        polyethylene=polyethylene,
        minutes_left=line.cure_left_min,
        override_reason=line.override_reason,
        ceilings=ceilings,
        energy_length_ft=length,
        energy=energy,
    )


@dataclass(frozen=True, slots=True)
class _Shown:
    """What leak the planned test would show, and what would make it show a smaller one."""

    ml_min: float | None
    matters_ml_min: float
    settle: tuple[Change, ...] = ()
    cautions: tuple[Text, ...] = ()
    working: tuple[Line, ...] = ()

    @classmethod
    def of(cls, line: LineToTest, pressure_psi: float, hold_min: float) -> _Shown:
        """The sum of a judged test, run before anybody fills the line."""
        matters = line.leak_that_matters_ml_min or proving_value("leak_that_matters_ml_min")
        none = () if line.thermometer else (_no_thermometer(),)
        swing = _swing(line)
        setting = _setting(line, pressure_psi, hold_min, swing)
        if setting is None:
            return cls(None, matters, cautions=none)
        shown, how = setting.shown(), setting.how
        changes = would_settle(setting, matters)
        hidden = () if none else _hidden(shown.ml_per_min, matters, changes)
        step = Figure(how.thermometer_step_f, "°F", 1) if how.thermometer_step_f else say("none")
        working = shown.line(
            **{
                "length": Figure(setting.length_ft, "ft"),
                "restraint": line.restraint or _WORST_RESTRAINT,
                "gauge division": Figure(how.gauge_division_psi, "psi", 2),
                "thermometer step": step,
                "change of the water": Figure(setting.change_f, "°F", 1),
                "limited by": shown.limited_by,
            }
        )
        guessed = (
            (line.gauge_division_psi, "gauge_division_psi"),
            (line.thermometer_step_f if line.thermometer else 0.0, "thermometer_step_f"),
            (line.restraint if line.restraint == "buried" else line.hour, swing.id),
        )
        owned = tuple(assumed(rule) for given, rule in guessed if given is None)
        notes = (*none, *hidden, *_coarse(line, setting))
        return cls(shown.ml_per_min, matters, changes, notes, (*owned, working))


def _setting(
    line: LineToTest, pressure_psi: float, hold_min: float, swing: ProvingRule
) -> Setting | None:
    """The planned test as it would be judged; None where no pipe of a known wall is given."""
    runs = [
        segment_of(pipe, materials()[pipe.material], part.length_ft or _ASSUMED_LENGTH_FT)
        for part, pipe in _runs(line)
    ]
    if not runs or pressure_psi <= 0:
        return None
    division = line.gauge_division_psi or proving_value("gauge_division_psi")
    step = line.thermometer_step_f or proving_value("thermometer_step_f")
    polyethylene = any(run.material.id in {"pe", "pe4710"} for run in runs)
    settle = proving_value("pe_expansion_min" if polyethylene else "settle_min")
    return Setting(
        line_of(runs, line.restraint or _WORST_RESTRAINT, line.temperature_f),
        sum(run.length_ft for run in runs),
        pressure_psi,
        line.temperature_f,
        swing.value * hold_min / 60,
        Conditions(hold_min, division, step if line.thermometer else None, settle),
    )


def _runs(line: LineToTest) -> list[tuple[LinePart, Pipe]]:
    """The pipe and tubing of the line whose stiffness is known."""
    return [
        (part, part.pipe)
        for part in line.parts
        if part.kind in PIPE_KINDS and part.pipe is not None
        if part.pipe.wall_in is not None and materials()[part.pipe.material].modulus_psi is not None
    ]


def _hidden(shows: float, matters: float, changes: tuple[Change, ...]) -> list[Text]:
    """That a leak which matters could hide, with the change that would help most."""
    if shows <= matters:
        return []
    return [
        say(
            "As planned, a leak of {shows} could hide, and {matters} matters. {change}",
            shows=at_most(shows),
            matters=at_most(matters),
            change=one.what,
        )
        for one in changes[:1]
    ]


def _coarse(line: LineToTest, setting: Setting) -> list[Text]:
    """What makes this gauge and this hour of the day too coarse for the test."""
    division = setting.how.gauge_division_psi
    return those(
        (
            setting.pressure_psi <= proving_value("least_divisions") * division,
            say(
                "{pressure} is only a mark or two of a gauge with marks of {division}. Use a "
                "finer gauge.",
                pressure=Figure(setting.pressure_psi, "psi"),
                division=Figure(division, "psi", 1),
            ),
        ),
        (
            setting.change_f > proving_value("swing_f") and line.restraint is not None,
            say(
                "In the open by day the water may change by {change}: over {limit} the gauge "
                "proves nothing. Test early, late or in shade.",
                change=Figure(setting.change_f, "°F"),
                limit=Figure(proving_value("swing_f"), "°F"),
            ),
        ),
    )


def _no_thermometer() -> Text:
    return say(
        "Without a thermometer in the water this test can only end in “test again”, or show a "
        "big leak. Get one before you fill the line."
    )


def _swing(line: LineToTest) -> ProvingRule:
    """By how much the water may change in an hour, by how the line lies and when."""
    if line.restraint == "buried":
        return proving_rules()["swing_buried_f"]
    shade = line.hour is not None and not _SUN_FROM <= line.hour < _SUN_TO
    return proving_rules()["swing_shade_f" if shade else "swing_sun_f"]


def _is_polyethylene(part: LinePart) -> bool:
    if part.pipe is not None:
        return not part.pipe.rigid
    return part.kind == "tubing" or is_tube_joint(part.kind)


def _method(parts: tuple[LinePart, ...]) -> str:
    """``pe`` where polyethylene pipe is under test, ``drip`` where only thin tubing, or ``pvc``."""
    if any(p.pipe and not p.pipe.rigid and p.pipe.material != "drip" for p in parts):
        return "pe"
    return "drip" if any(_is_polyethylene(part) for part in parts) else "pvc"


def _hold(parts: tuple[LinePart, ...], use: str | None) -> ProvingRule:
    """The longest hold that any part of the line asks for."""
    rules = proving_rules()
    named = {"lateral": "hold_lateral_min", "main": "hold_main_min", "drip": "hold_drip_min"}
    wanted = [rules[named[use]]] if use else []
    for part in parts:
        pipe = part.pipe
        if pipe is not None and not pipe.rigid and pipe.material != "drip":
            wanted.append(rules["pe_hold_min"])
        elif _is_polyethylene(part):
            wanted.append(rules["hold_drip_min"])
        elif not use:
            nominal = pipe.nominal if pipe is not None else part.size
            big = bool(nominal) and nominal_inches(nominal) >= proving_value("main_from_in")
            wanted.append(rules["hold_main_min" if big else "hold_lateral_min"])
    return max(wanted, key=lambda rule: rule.value)


def _smallest_bore(parts: tuple[LinePart, ...]) -> float | None:
    """Bore of the narrowest pipe; the walls at their least, as the rating takes them."""
    bores = [thinnest_bore_in(p.pipe) for p in parts if p.pipe is not None and p.pipe.wall_in]
    return min(bores, default=None)


def _energy(line: LineToTest, pressure: float) -> tuple[StoredEnergy | None, float | None]:
    """Energy in the pipes of the line, or in 100 ft of each where no length was given."""
    segments = [
        Segment(
            pipe.name,
            materials()[pipe.material],
            thinnest_bore_in(pipe),
            pipe.wall_in or 0.0,
            part.length_ft or _ASSUMED_LENGTH_FT,
        )
        for part, pipe in _runs(line)
    ]
    if not segments or pressure <= 0:
        return None, None
    # The water table ends there; a hotter day does not change the picture.
    temperature = min(line.temperature_f, 140.0)
    length = sum(segment.length_ft for segment in segments)
    return stored_energy(line_of(segments, "buried"), pressure, temperature), length


def _verdict(
    line: LineToTest, pressure: float, weakest: Ceiling, limited_by: Text, hold: ProvingRule
) -> tuple[str, Text]:
    if weakest.ceiling_psi <= 0:
        return "do_not_test", say(
            "Do not put pressure on this line: {part} may bear none at {heat}.",
            part=weakest.part,
            heat=Figure(line.temperature_f, "°F"),
        )
    if line.working_psi > weakest.at_gauge_psi + 1e-9:
        return "do_not_test", say(
            "Do not test: working at {working} is already over the {limit} that {part} may see.",
            working=Figure(line.working_psi, "psi"),
            limit=Figure(max(0.0, weakest.at_gauge_psi), "psi"),
            part=weakest.part,
        )
    if line.cure_left_min is not None and line.cure_left_min > 0 and not line.override_reason:
        return "wait", say(
            "Wait {left} more: the cement has not cured.", left=Span(line.cure_left_min)
        )
    planned = say(
        "Test at {pressure} for {hold}. The limit is {limit}.",
        pressure=Figure(_whole_psi(pressure), "psi"),
        hold=Span(hold.value),
        limit=limited_by,
    )
    early = line.cure_left_min is not None and line.cure_left_min > 0
    return ("override" if early else "ready"), planned


def _whole_psi(pressure: float) -> float:
    """Whole psi, never rounded up past a limit."""
    return float(int(pressure + 1e-9))


def _cautions(
    line: LineToTest,
    verdict: str,
    pressure: float,
    energy: StoredEnergy | None,
    length: float | None,
) -> tuple[Text, ...]:
    notes: list[Text] = []
    if verdict == "override" and line.cure_left_min is not None:
        notes.append(
            say(
                "Tested {left} before the cement cured. A joint can let go. Reason given: {reason}",
                left=Span(line.cure_left_min),
                reason=line.override_reason,
            )
        )
    glued = any(part.kind in made_by("cement") for part in line.parts)
    if glued and line.cure_left_min is None:
        notes.append(
            say("Test only when the cement has cured. We were not told when the joints were made.")
        )
    if verdict == "do_not_test":
        notes.append(
            say("Lower the working pressure with a regulator, or change the weakest part.")
        )
    notes.extend(caution("water_only"))
    if energy is not None and length is not None:
        notes.append(
            say(
                "At {pressure}, water in {length} stores {water}. Air would store {air}: "
                "{ratio} times as much, like {tnt} of TNT.",
                pressure=Figure(_whole_psi(pressure), "psi"),
                length=Figure(length, "ft"),
                water=Figure(energy.water_j, "J", 0 if energy.water_j >= 10 else 1),
                air=Figure(energy.air_j / 1000, "kJ", 1),
                ratio=Figure(energy.ratio),
                tnt=Figure(energy.air_tnt_g, "g", 1),
            )
        )
        if energy.air_j / 1000 > proving_value("high_energy_kj"):
            notes.append(
                say(
                    "With air that would be over {limit}, which counts as highly hazardous.",
                    limit=Figure(proving_value("high_energy_kj"), "kJ"),
                )
            )
    if any(
        part.kind == "npt" and part.pipe and "40" in part.pipe.pipe_class for part in line.parts
    ):
        notes.append(say("Never cut a thread on Sch 40 pipe. Use a molded threaded part."))
    always = caution("depressurise", "stand_clear", "eyes")
    caps = say("Block every cap against something solid: pressure pushes it off the pipe.")
    return (*notes, caps, *always, *caution("local_code"))


def _steps(
    pressure: float, look: float, hold: ProvingRule, bore: float | None, method: str
) -> tuple[Text, ...]:
    at = Figure(_whole_psi(pressure), "psi")
    fill = (
        say("Fill slowly from the lowest point.")
        if bore is None
        else say(
            "Fill from the lowest point, no faster than {flow}.",
            flow=Figure(fill_gpm(bore), "gpm", 1),
        )
    )
    settle = (
        say(
            "Top it up to {at} for {top}, let it down {down}, then shut it. The tubing stretches.",
            at=at,
            top=Span(proving_value("pe_expansion_min")),
            down=Figure(proving_value("pe_step_down_psi"), "psi"),
        )
        if method == "pe"
        else say(
            "Let it settle for {settle}, top it up to {at}, then shut the fill valve.",
            settle=Span(proving_value("settle_min")),
            at=at,
        )
    )
    return (
        say("Cap and block every open end. Cover the pipe between joints; leave joints in sight."),
        say("Close off or take out what bears less than {at}: valves, filters, emitters.", at=at),
        fill,
        say("Open each high point until water runs without spitting, then shut it."),
        say(
            "Raise to {look}, or line pressure if less. Every joint must be dry.",
            look=Figure(_whole_psi(look), "psi"),
        ),
        say("Stand clear. Raise slowly to {at} at the gauge.", at=at),
        settle,
        say("Write down gauge, clock and the water’s temperature."),
        say("Hold for {hold}. Walk the line and look at each joint.", hold=Span(hold.value)),
        *(
            [say("Tubing stretches, so the gauge falls a little. Trust your eyes more than it.")]
            if method == "drip"
            else []
        ),
        say("Write down gauge, clock and the water’s temperature again."),
        say("Let the pressure out at a valve before you touch a joint. Then drain, or use it."),
    )


def _working(
    line: LineToTest,
    *,
    ceilings: tuple[Ceiling, ...],
    by_working: float,
    pressure: float,
    hold: ProvingRule,
    bore: float | None,
    energy: StoredEnergy | None,
) -> tuple[Line, ...]:
    rules = proving_rules()
    factor = rules["working_factor"]
    lines = [
        *line.assumed,
        worked(
            "by_working_pressure",
            by_working,
            {
                "factor": precise(factor.value),
                "working pressure": precise(line.working_psi, "psi"),
            },
            rests=factor,
        ),
        *(
            Line(
                one.part,
                "rating × joint factor × heat factor − 0.433 (z_gauge − z_part)",
                {
                    "rating": precise(one.rating_psi, "psi"),
                    "joint factor": precise(one.joint_factor),
                    "heat factor": precise(one.heat_factor),
                    "at": Figure(line.temperature_f, "°F", 1),
                    "z_gauge": precise(line.gauge_height_ft, "ft"),
                    "z_part": precise(part.height_ft, "ft"),
                },
                one.at_gauge_psi,
                "psi",
                one.source,
                one.status,
            )
            for one, part in zip(ceilings, line.parts, strict=True)
        ),
        worked(
            "test_pressure",
            pressure,
            {"by working pressure": precise(by_working, "psi")}
            | {
                f"{at} {one.part}": precise(one.at_gauge_psi, "psi")
                for at, one in enumerate(ceilings, 1)
            },
            rests=factor,
        ),
        Line(
            hold.name,
            "table: the longest hold that any part asks for",
            {},
            hold.value,
            "min",
            hold.source,
            hold.status,
        ),
    ]
    if bore is not None:
        fill = rules["fill_ft_s"]
        lines.append(
            worked(
                "fastest_filling",
                fill_gpm(bore),
                rests=fill,
                v=precise(fill.value, "ft/s"),
                d=precise(bore, "in"),
            )
        )
    if energy is not None:
        of = {"P": precise(pressure, "psi"), "V": precise(energy.volume_ft3, "ft³")}
        lines.append(
            worked(
                "energy_with_water",
                energy.water_j,
                of | {"Keff": precise(energy.stiffness_psi, "psi")},
            )
        )
        lines.append(
            worked(
                "energy_with_air",
                energy.air_j,
                of
                | {
                    "k": precise(proving_value("air_exponent")),
                    "Pa": precise(proving_value("atmosphere_psi"), "psi"),
                },
            )
        )
    return tuple(lines)
