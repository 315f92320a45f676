"""Reads a pressure test as people and programs write it down: parts, line, clock, gauge."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import cast

from fieldkit.engine.line_pipe import line_pipe, third_size
from fieldkit.engine.pressure_test.figures import HeldLine, Reading
from fieldkit.engine.pressure_test.leak_bound import PumpIn
from fieldkit.engine.pressure_test.line_stiffness import RESTRAINTS, Restraint, Segment, segment_of
from fieldkit.engine.pressure_test.part_ceiling import PIPE_KINDS, LinePart, part_kinds
from fieldkit.engine.pressure_test.plan import LinePlan, LineToTest, plan_line
from fieldkit.engine.pressure_test.verdict import LineVerdict, judge_line
from fieldkit.engine.pressure_test.working import assumed
from fieldkit.engine.problems import Problem, require
from fieldkit.engine.words import say
from fieldkit.engine.working import Line
from fieldkit.flows.trade_names import (
    JOINTS,
    MATERIAL_NAMES,
    by_name,
    key_of,
    read_material,
    read_word,
)
from fieldkit.tables.fittings import is_tube_joint, joints
from fieldkit.tables.materials import materials
from fieldkit.tables.pipes import Pipe, nominal_inches
from fieldkit.tables.proving_rules import proving_value
from fieldkit.typed import answers
from fieldkit.typed.given import kept, shown
from fieldkit.typed.request import Request

_KINDS = by_name(
    JOINTS
    | {
        "pipe": "pvc rigid_pipe rigid rigid_pvc",
        "tubing": "tube drip drip_tubing drip_tube dripline poly poly_tubing poly_tube pe_tubing "
        "polyethylene_tubing drip_line",
        "gasket": "bell gasketed gasket_joint gasketed_joint bell_and_gasket",
    }
)

_RESTRAINTS = by_name(
    {
        "buried": "underground backfilled covered",
        "free": "exposed above_ground aboveground open unburied hung",
        "gasketed": "gasket slips",
    }
)


def owned_line(name: str, value: str, source: str, status: str) -> Line:
    """The same for a default that is no rule of proving_rules.csv."""
    return Line(say("assumed: {what}", what=name), "not given", {}, value, "", source, status)


def or_rule(value: float | None, rule_id: str, owned: list[Line]) -> float:
    """A value, else a figure of proving_rules.csv that is owned up to."""
    if value is None:
        owned.append(assumed(rule_id))
        return proving_value(rule_id)
    return float(value)


def _key(text: str) -> str:
    """As ``key_of``, with the point of SDR 13.5 kept."""
    return re.sub(r"[^a-z0-9.]+", "_", text.casefold()).strip("_")


def ask_plan_test(request: Request) -> LinePlan:
    """How high and how long to test a line, in what order, and whether it may be tested yet."""
    return plan_line(read_plan(request))


def ask_judge_test(request: Request) -> LineVerdict:
    """Whether a line that was shut in under pressure holds, leaks, or must be tested again."""
    return judge_line(read_held_line(request))


# ── Parts of a plan ──────────────────────────────────────────────────────────────────────────


def read_plan(request: Request) -> LineToTest:
    """The line of a ``plan_test`` request.

    Raises
    ------
    Problem
        A key is missing or cannot be read; the sentence names it.
    """
    owned: list[Line] = []
    temperature = or_rule(request.quantity("temperature", "°F"), "usual_temperature_f", owned)
    height = request.quantity("gauge_height", "ft")
    rows = request.children("parts")
    if height is None or not all(row.has("height") for row in rows):
        owned.append(
            owned_line(say("heights not given"), say("level with the gauge’s zero"), *_RULE)
        )
    use = request.choice("use", ("lateral", "main", "drip")) if request.has("use") else None
    parts = [_read_part(row, owned) for row in rows]
    if all(part.kind in PIPE_KINDS for part in parts):
        parts += _fittings_not_named(parts, owned)
    return LineToTest(
        parts=tuple(parts),
        working_psi=request.need_quantity("working_pressure", "psi"),
        temperature_f=temperature,
        gauge_height_ft=height or 0.0,
        use=use,
        restraint=_read_restraint(request, []) if request.has("restraint") else None,
        hour=request.whole("hour", at_least=0, at_most=23) if request.has("hour") else None,
        gauge_division_psi=_read_division(request),
        thermometer=request.flag("thermometer", default=True) is not False,
        thermometer_step_f=read_step_f(request),
        leak_that_matters_ml_min=_read_leak_that_matters(request),
        cure_left_min=read_cure_left(request),
        override_reason=request.text("override_reason", limit=500),
        assumed=tuple(owned),
    )


_RULE = ("fieldkit-rule", "common practice, no source")


def _fittings_not_named(parts: Sequence[LinePart], owned: list[Line]) -> list[LinePart]:
    """A socket on each rigid pipe of a line of pipe alone: it must be closed at its ends."""
    row = joints()["solvent_socket"]
    found = [
        replace(part, kind=row.id, length_ft=None, rating_psi=None)
        for part in parts
        if part.pipe is not None and part.pipe.rigid and part.pipe.material == "pvc"
    ]
    if found:
        owned.append(owned_line(say("fittings not named"), row.name, row.source, row.status))
    return found


def _read_part(row: Request, owned: list[Line]) -> LinePart:
    kind, hinted_class, hinted_material = _read_kind(row)
    nominal = row.nominal("nominal")
    material = read_material(row) or hinted_material
    pipe_class = _read_class(row) or hinted_class
    clamps = row.whole("clamps", at_least=0, at_most=4) if row.has("clamps") else None
    rating = row.quantity("rating", "psi")
    pipe = _part_pipe(row, kind, nominal, pipe_class, material, rated=rating is not None)
    if kind == "barb_clamped" and clamps is None and pipe is not None and pipe.material != "drip":
        owned.append(
            owned_line(say("clamps on each end"), "1", "trade", "common practice, no source")
        )
    if kind == "tubing" and pipe is not None and pipe.material == "drip":
        owned.append(owned_line(say("tubing taken to be"), pipe.name, pipe.source, pipe.status))
    return LinePart(
        kind=kind,
        pipe=pipe,
        size=nominal or "",
        height_ft=row.quantity("height", "ft", at_least=-1000.0, at_most=1000.0) or 0.0,
        length_ft=row.quantity("length", "ft", at_least=0.1, at_most=100_000.0),
        clamps=clamps,
        rating_psi=rating,
        field=row.field("kind").removesuffix(".kind"),
    )


def _part_pipe(
    row: Request,
    kind: str,
    nominal: str | None,
    pipe_class: str | None,
    material: str | None,
    *,
    rated: bool,
) -> Pipe | None:
    """The pipe that a part is or joins; None where its own ceiling is all there is."""
    where = row.field("kind").removesuffix(".kind")
    if kind == "pipe" and nominal is None and not rated:
        raise row.missing("nominal", "1/2 in")
    has_its_own = rated if kind == "pipe" else kind != "tubing"
    if nominal is None or (has_its_own and not pipe_class):
        return None
    if kind == "tubing" and not pipe_class and material in {None, "pe", "drip"}:
        with suppress(Problem):  # tubing of an odd size still has its joints' ceiling
            return line_pipe("drip", nominal, None, where)
        return None
    found = line_pipe(material or _material_of(pipe_class), nominal, pipe_class, where)
    # A joint that holds tubing is as strong as its tube end, whatever the rigid side is.
    return None if is_tube_joint(kind) and found.rigid else found


def _material_of(pipe_class: str | None) -> str:
    return "pe" if pipe_class and pipe_class.startswith("SIDR") else "pvc"


def _read_kind(row: Request) -> tuple[str, str | None, str | None]:
    """Kind of part, and the class and material that its name gave away."""
    given = row.raw("kind")
    if given is None or given == "":
        if row.has("class"):
            return "pipe", None, None
        raise row.missing("kind", "pipe")
    key = _key(given) if isinstance(given, str) else ""
    key = key.removesuffix("_joint") if key.removesuffix("_joint") in part_kinds() else key
    if key in part_kinds():
        return key, None, None
    if key in _KINDS:
        return _KINDS[key], None, "pvc" if key in {"pvc", "rigid_pvc"} else None
    words = key.split("_")
    flexible = any(word in {"pe", "poly", "polyethylene", "hdpe", "sidr"} for word in words)
    bare = [w for w in words if w not in {"pipe", "pvc", "pe", "poly", "rigid", "polyethylene"}]
    material = "pe" if flexible else None
    if "pipe" in words and not bare:
        return "pipe", None, material
    try:
        return "pipe", answers.read_pipe_class(" ".join(bare), field=row.field("kind")), material
    except Problem:
        raise Problem(
            row.field("kind"),
            kept(given),
            say("“{given}” is not a kind of part we know.", given=shown(given)),
            say("Choose one of: {kinds}.", kinds=", ".join(part_kinds())),
        ) from None


def _read_class(row: Request) -> str | None:
    """The class, where one is given; the word for drip tubing is none."""
    given = row.raw("class")
    if isinstance(given, str) and MATERIAL_NAMES.get(key_of(given)) == "drip":
        return None
    return row.pipe_class("class")


# ── The line of a judgement ──────────────────────────────────────────────────────────────────


def read_held_line(request: Request) -> HeldLine:
    """The test of a ``judge_test`` request.

    Raises
    ------
    Problem
        A key is missing or cannot be read; the sentence names it.
    """
    owned: list[Line] = []
    rows = request.children("line")
    if not rows:
        raise request.missing(
            "line", '[{"material": "pvc", "nominal": "2", "class": "Sch 40", "length": "300 ft"}]'
        )
    read = [_read_segment(row, owned) for row in rows]
    division = or_rule(_read_division(request), "gauge_division_psi", owned)
    leak = request.flag("visible_leak")
    if leak is None:
        owned.append(owned_line(say("leak seen"), say("no"), *_RULE))
    joints = request.whole("gasketed_joints", default=0, at_most=100_000) or 0
    readings = _read_readings(request)
    step = read_step_f(request)
    if step is None:
        owned.append(assumed("thermometer_step_f"))
    since = request.quantity("minutes_since_pumped", "min", at_least=0.0)
    if since is None:
        owned.append(assumed("worst_pump_min"))
    return HeldLine(
        segments=tuple(segment for segment, _ in read),
        restraint=_read_restraint(request, owned),
        readings=readings,
        visible_leak=bool(leak),
        gauge_division_psi=division,
        thermometer_step_f=step,
        minutes_since_pumped=since,
        pump_in=_read_pump_in(request, readings[0].pressure_psi),
        leak_that_matters_ml_min=_read_leak_that_matters(request),
        expansion_phase=request.flag("expansion_phase"),
        gasketed_joints=joints,
        gasketed_diameter_in=max(size for _, size in read),
        assumed=tuple(owned),
    )


def _read_segment(row: Request, owned: list[Line]) -> tuple[Segment, float]:
    """One run of the line, and its trade size in inches."""
    length = row.need_quantity("length", "ft", at_least=0.1, at_most=100_000.0)
    material = read_material(row)
    pipe_class = _read_class(row)
    nominal = row.nominal("nominal")
    od, bore, wall = (row.quantity(key, "in", at_least=0.01) for key in ("od", "bore", "wall"))
    material = material or _material_of(pipe_class)
    od, wall, bore = third_size(od, wall, bore)
    if od is not None and bore is not None:
        if not 0 < bore < od:
            raise Problem(
                row.field("bore"),
                bore,
                say("The bore is not smaller than the outside."),
                say("Give outside diameter and bore, or one of them and the wall."),
            )
        name = say("{material} pipe, {od} × {bore}", material=material, od=od, bore=bore)
        segment = Segment(name, materials()[material], bore, (od - bore) / 2, length)
        return segment, nominal_inches(nominal) if nominal else bore
    if nominal is None:
        raise row.missing("nominal", "2 in")
    if material == "pe" and not pipe_class and row.raw("class"):
        material = "drip"
    where = row.field("length").removesuffix(".length")
    pipe = line_pipe(material, nominal, pipe_class, where)
    if material == "drip":
        owned.append(owned_line(say("tubing taken to be"), pipe.name, pipe.source, pipe.status))
    found = materials()[material if material == "pe4710" else pipe.material]
    return segment_of(pipe, found, length), pipe.nominal_in


def _read_restraint(request: Request, owned: list[Line]) -> Restraint:
    found = read_word(request, "restraint", _RESTRAINTS, RESTRAINTS)
    if found is None:
        owned.append(owned_line(say("restraint"), say("buried"), *_RULE))
        return "buried"
    return cast("Restraint", found)


def _read_readings(request: Request) -> tuple[Reading, ...]:
    """Readings over time where they were sent, else start and end."""
    rows = request.children("readings")
    if len(rows) >= 2:
        found = read_times(rows, request)
        for key in ("minutes", "start", "end"):
            request.raw(key)  # the readings say the same, in more detail
        return found
    start, end = (
        (side.need_quantity("pressure", "psi"), side.quantity("water_temperature", "°F"))
        for side in (request.child("start"), request.child("end"))
    )
    minutes = request.need_quantity("minutes", "min")
    return (Reading(0.0, *start), Reading(minutes, *end))


def read_times(rows: Sequence[Request], request: Request) -> tuple[Reading, ...]:
    """Readings in order of time, each by its minutes or by its clock."""
    found = []
    clocks = [(row, read_clock(row, "at")) for row in rows if row.has("at")]
    after = [minutes_between(clocks[0][1], at, row.field("at")) for row, at in clocks]
    by_clock = iter([minutes - min(after) for minutes in after])
    for row in rows:
        minutes = next(by_clock) if row.has("at") else row.need_quantity("minutes", "min")
        pressure = row.need_quantity("pressure", "psi")
        found.append(Reading(minutes, pressure, row.quantity("water_temperature", "°F")))
    return tuple(sorted(found, key=lambda reading: reading.minutes))


def _read_division(request: Request) -> float | None:
    return request.quantity("gauge_division", "psi", at_least=0.001, at_most=100.0)


def _read_leak_that_matters(request: Request) -> float | None:
    """The least leak that a test must show, where a person, a code or a company sets it."""
    return request.quantity("leak_that_matters", "mL/min", at_least=0.01, at_most=100_000.0)


def read_step_f(request: Request) -> float | None:
    """Step of the thermometer: a difference, so 1 °C of it is 1.8 °F. None where not given.

    Raises
    ------
    Problem
        It cannot be read as a temperature, or is not above 0.
    """
    step = request.quantity("thermometer_step", "°F")
    given = request.raw("thermometer_step")
    if step is not None and isinstance(given, str):
        number = re.match(r"[\d.,/ ½¼¾]+", given.strip())
        unit = given.strip()[number.end() if number else 0 :].strip()
        if number and unit:
            step -= answers.read_quantity(
                f"0 {unit}", "°F", field=request.field("thermometer_step")
            )
    if step is not None:
        require(step, request.field("thermometer_step"), above=0.0, at_most=20.0, unit="°F")
    return step


def _read_pump_in(request: Request, start_psi: float) -> PumpIn | None:
    """Water that raised the full line from one pressure to another; by default 0 to the start."""
    if request.has("pump_in"):
        row = request.child("pump_in")
        return PumpIn(
            row.need_quantity("volume", "mL"),
            row.quantity("from", "psi", default=0.0) or 0.0,
            row.quantity("to", "psi", default=start_psi) or 0.0,
        )
    volume = request.quantity("pumped_volume", "mL", at_least=0.0)
    return None if volume is None else PumpIn(volume, 0.0, start_psi)


# ── The clock ────────────────────────────────────────────────────────────────────────────────


def read_cure_left(request: Request) -> float | None:
    """Minutes of cure still to wait, told outright or by ``ready_at`` and ``now``."""
    left = request.quantity("cure_remaining_minutes", "min")
    if left is not None:
        request.raw("now")
        return max(0.0, left)
    if not request.has("ready_at"):
        request.raw("now")
        return None
    if not request.has("now"):
        raise request.missing("now", "2026-05-01T14:03:00Z")
    ready, now = read_clock(request, "ready_at"), read_clock(request, "now")
    return max(0.0, minutes_between(now, ready, request.field("ready_at")))


def read_clock(request: Request, key: str) -> datetime:
    """A date and time as ISO 8601 writes it."""
    given = request.raw(key)
    return clock_of(given, request.field(key))


def clock_of(given: object, field: str) -> datetime:
    """A date and time from ISO 8601 text.

    Raises
    ------
    Problem
        It is not a date with a time.

    Examples
    --------
    >>> clock_of("2026-05-01T14:03:00Z", "at").minute
    3
    """
    if isinstance(given, str) and "T" in given[:40].upper().replace(" ", "T"):
        try:
            return datetime.fromisoformat(given.strip())
        except ValueError:
            pass
    raise Problem(
        field,
        kept(given),
        say("“{given}” is not a date and a time.", given=shown(given)),
        say("Write it as {example}.", example="2026-05-01T14:03:00Z"),
    )


def minutes_between(early: datetime, late: datetime, field: str) -> float:
    """Minutes from one time to another, both with a time zone or both without.

    Raises
    ------
    Problem
        One of them has a time zone and the other has none.
    """
    if (early.tzinfo is None) != (late.tzinfo is None):
        raise Problem(
            field,
            late.isoformat(),
            say("One time has a time zone and another has none."),
            say("Write both with one, such as {example}.", example="2026-05-01T14:03:00Z"),
        )
    return (late - early).total_seconds() / 60
