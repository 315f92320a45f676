"""The ``join`` calculation: a cemented joint, from a request."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from fieldkit.engine.joining.cement import METRIC_MM
from fieldkit.engine.joining.cure_clock import Spell
from fieldkit.engine.joining.dry_fit import WORDS, DryFit, judge_dry_fit, judge_od_in_socket
from fieldkit.engine.joining.weld import Site, Weld, weld
from fieldkit.engine.joining.weld_parts import METRIC_CLASSES, PVC_CLASSES, refuse_material
from fieldkit.engine.problems import OutOfRange, Problem, Refused
from fieldkit.engine.words import say
from fieldkit.flows.joining.ready import at_the_clock
from fieldkit.flows.trade_names import material_named
from fieldkit.typed import answers
from fieldkit.typed.given import kept
from fieldkit.typed.moments import (
    EXAMPLE,
    Moment,
    clock_minutes,
    looks_like_moment,
    read_moment,
)
from fieldkit.typed.request import Request

#: The last row of a forecast is taken to last a day, where its end is not given.
LAST_ROW_MINUTES = 24 * 60.0

#: Words for damp, beside a figure in per cent.
_DRY, _DAMP = ("dry", "low"), ("damp", "humid", "wet", "rain", "fog", "high")


def ask_join(request: Request) -> Weld:
    """Answer ``join``: set, cure, cement, depth and steps of one cemented joint."""
    pipe = request.child("pipe")
    refuse_material(material_named(pipe.text("material", limit=60)))
    nominal = pipe.nominal("nominal")
    if nominal is None:
        raise pipe.missing("nominal", "1/2 in")
    pipe_class = _pipe_class(pipe, metric=nominal in METRIC_MM)
    measured = request.quantity("temperature", "°F")
    made = read_moment(request.raw("made_at"), field="made_at") if request.has("made_at") else None
    forecast = _forecast(request, measured, made)
    site = Site(
        spells=forecast.spells,
        until_minutes=forecast.until_minutes,
        humidity_pct=_humidity(request),
        pressure_psi=request.quantity("pressure", "psi"),
        made_f=measured,
        held_minutes=forecast.held_minutes,
        one_step=bool(request.flag("one_step", default=False)),
        sun=bool(request.flag("sun", default=False)),
        dry_fit=_dry_fit(request, pipe, nominal),
    )
    try:
        joint = weld(nominal, pipe_class, site)
    except OutOfRange as found:
        if found.field != "temperature" or measured is not None:
            raise
        field = f"forecast[{forecast.first_row}].temperature"
        raise found.at(field) from None
    return at_the_clock(joint, forecast.made, told=made is not None)


# ── Reading the request ──────────────────────────────────────────────────────────────────────


def _pipe_class(pipe: Request, *, metric: bool) -> str:
    """The class, or empty when none was given; a class that is another plastic's is refused."""
    given = pipe.raw("class")
    if isinstance(given, str):
        material = material_named(given)
        if material in {"cpvc", "pex", "pe"}:
            refuse_material(material, pipe.field("class"))
    pipe_class = pipe.pipe_class("class", default="") or ""
    if pipe_class in METRIC_CLASSES and metric:
        return pipe_class
    if pipe_class and pipe_class not in PVC_CLASSES:
        raise Refused(
            pipe.field("class"),
            pipe_class,
            say("{given} is not a class of PVC pressure pipe.", given=pipe_class),
            say("The cement times hold for: {classes}.", classes=", ".join(PVC_CLASSES)),
        )
    return pipe_class


def _humidity(request: Request) -> float | None:
    given = request.raw("humidity")
    if given in (None, ""):
        return None
    word = given.strip().casefold() if isinstance(given, str) else ""
    if word in _DRY:
        return 60.0
    if word in _DAMP:
        return 100.0
    return answers.read_quantity(given, "%", field="humidity")


def _dry_fit(request: Request, pipe: Request, nominal: str) -> DryFit | None:
    given = request.raw("dry_fit")
    if given in (None, ""):
        od_in = pipe.quantity("od", "in")
        u_in = pipe.quantity("u_od", "in", at_least=0.0, at_most=0.5)
        return None if od_in is None else judge_od_in_socket(nominal, od_in, u_in)
    if isinstance(given, str) and not re.match(r"\s*[-+.\d]", given):
        return judge_dry_fit(answers.read_choice(given, WORDS, field="dry_fit"))
    return judge_dry_fit(answers.read_quantity(given, "", field="dry_fit"))


@dataclass(frozen=True, slots=True)
class _Forecast:
    spells: tuple[Spell, ...]
    until_minutes: float | None
    held_minutes: float
    made: Moment | None

    @property
    def first_row(self) -> int:
        """The row that holds when the joint is closed."""
        return max((i for i, spell in enumerate(self.spells) if spell.from_minutes <= 0), default=0)


def _forecast(request: Request, measured: float | None, made: Moment | None) -> _Forecast:
    """The temperatures over time: one steady one, or the rows of a forecast."""
    rows = request.children("forecast")
    if not rows:
        if measured is None:
            raise request.missing("temperature", "68 F")
        return _Forecast((Spell(0.0, measured),), None, 0.0, made)
    clock = clock_minutes(rows[0].raw("from"))
    base = float(clock or 0) if made is None else made.minute_of_day
    spells: list[Spell] = []
    for i, row in enumerate(rows):
        given = row.raw("from")
        if given in (None, ""):
            raise row.missing("from", EXAMPLE)
        if i == 0 and made is None and looks_like_moment(given):
            made = read_moment(given, field=row.field("from"))
        start = _from_minutes(given, row.field("from"), made, base, spells)
        spells.append(Spell(start, row.need_quantity("temperature", "°F")))
    if measured is not None and spells[0].from_minutes > 0:
        spells.insert(0, Spell(0.0, measured))
    if not request.has("forecast_until"):
        until = max(0.0, spells[-1].from_minutes) + LAST_ROW_MINUTES
        return _Forecast(tuple(spells), until, LAST_ROW_MINUTES, made)
    given = request.raw("forecast_until")
    until = _from_minutes(given, "forecast_until", made, base, spells)
    return _Forecast(tuple(spells), until, 0.0, made)


def _from_minutes(
    given: object, field: str, made: Moment | None, base: float, before: list[Spell]
) -> float:
    """Minutes from the joint to a row: a moment, a time of day, or a time after the joint.

    ``base`` is the minute of the day at which the joint was made.
    """
    clock = clock_minutes(given)
    if clock is not None:
        return _next_time_of_day(clock - base, before)
    if looks_like_moment(given):
        moment = read_moment(given, field=field)
        if made is not None:
            return made.minutes_to(moment)
        raise Problem(
            field,
            kept(given),
            say("This is a clock time, and when the joint was made is not given."),
            say("Give made_at too, or say how long after the joint, such as 6 h."),
        )
    text = given.strip().removeprefix("+").casefold() if isinstance(given, str) else given
    if text in ("now", 0):
        return 0.0
    if isinstance(text, str) and not re.fullmatch(r"[\d.\s]*", text):
        return answers.read_quantity(text, "min", field=field)
    if isinstance(text, str) and re.fullmatch(r"0+(\.0*)?", text.strip()):
        return 0.0
    raise Problem(
        field,
        kept(given),
        say("It is not clear whether this counts minutes or hours."),
        say("Add the unit, such as 6 h, or give a moment, such as {example}.", example=EXAMPLE),
    )


def _next_time_of_day(minutes: float, before: list[Spell]) -> float:
    """The first row is the nearest such time, before or after; a later one the next of its kind."""
    if not before:
        return (minutes + 720) % 1440 - 720
    return minutes + 1440 * max(0, math.floor((before[-1].from_minutes - minutes) / 1440) + 1)
