"""One solvent-cemented joint: cement, depth, hold, steps, set and cure."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from fieldkit.engine.cautions import caution
from fieldkit.engine.hydraulics.sun import sun_line, wall_temperature_f
from fieldkit.engine.joining.cement import (
    HOTTEST_F,
    Row,
    Scheduled,
    cure_time,
    nominal_in,
    set_time,
)
from fieldkit.engine.joining.cure_clock import (
    Elapsed,
    Spell,
    at_start,
    by_coldest,
    check_spells,
    coldest_f,
    elapsed,
    out_of_table,
    slower,
)
from fieldkit.engine.joining.dry_fit import DryFit
from fieldkit.engine.joining.weld_parts import (
    CLOSE_WITHIN_SECONDS,
    Do,
    cement_choice,
    hold_seconds,
    insert_depth_in,
    quart_row,
    weld_steps,
)
from fieldkit.engine.strength import rating_figure
from fieldkit.engine.words import Figure, Span, Text, say
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.joining import CementChoice, CureTimeRow, JointsPerQuart, SetTimeRow

#: Widespread plain wait before any test. [min]
PLAIN_WAIT_MINUTES = 24 * 60.0


@dataclass(frozen=True, slots=True)
class Schedule:
    """What one published schedule says, damp air counted in."""

    schedule: str
    set_minutes: float
    cure_minutes: float
    source: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Weld(Answer):
    """A cemented joint; times run in minutes from closing the last joint.

    With a forecast, ``cure_minutes_coldest`` is by the coldest temperature met, as published,
    ``cure_minutes_estimate`` by shares of each spell (ours), and ``cure_minutes`` the slower of
    the two. ``ready_at`` is filled in where a clock time is known.
    """

    set_minutes: float
    cure_minutes: float
    set_minutes_estimate: float
    set_minutes_coldest: float
    cure_minutes_estimate: float
    cure_minutes_coldest: float
    cure_minutes_damp: float | None
    forecast_reaches: bool
    cure_share: float
    schedules: tuple[Schedule, ...]
    rules: str
    temperature_f: float
    coldest_f: float
    humidity_pct: float
    pressure_psi: float
    primer: str
    cement_body: str
    heavier_bodies: tuple[str, ...]
    insert_depth_in: float | None
    hold_seconds: float
    close_within_seconds: float
    joints_per_quart: float
    primer_joints_per_quart: float | None
    dry_fit: DryFit | None
    steps: tuple[Do, ...]
    made_at: str | None = None
    set_at: str | None = None
    ready_at: str | None = None
    spells: tuple[Spell, ...] = ()
    skin_f: float = 73.0


@dataclass(frozen=True, slots=True)
class Site:
    """Where and how the joint is made. A None was not given, and is assumed in plain sight.

    ``sun`` shines on the pipe: it is hotter than the air, which never shortens the cure.
    ``until_minutes`` None means one steady temperature. ``made_f`` is that of the parts when the
    joint is closed, where it was measured beside a forecast. ``held_minutes`` is how far the
    last row of the forecast was stretched, where its end was not given.
    """

    spells: tuple[Spell, ...]
    until_minutes: float | None
    humidity_pct: float | None
    pressure_psi: float | None
    made_f: float | None = None
    held_minutes: float = 0.0
    one_step: bool = False
    dry_fit: DryFit | None = None
    sun: bool = False


def weld(nominal: str, pipe_class: str, site: Site) -> Weld:
    """Everything one cemented joint asks for, and when it may see pressure.

    Parameters
    ----------
    nominal : str
        Trade size of the pipe, ½ to 16 in.
    pipe_class : str
        One of ``PVC_CLASSES``, or empty when not known.
    site : Site
        Temperatures, damp and pressure. [°F, %, psi]

    Returns
    -------
    Weld
        The joint with its times. [min]

    Raises
    ------
    OutOfRange
        Size, temperature, humidity or pressure lies outside the schedules.
    Problem
        The forecast is out of order or starts late.

    Source
    ------
    cement-guide-a, cement-guide-b, astm-d2855, astm-d2466; fieldkit-rule: the slower rules.

    Examples
    --------
    >>> site = Site((Spell(0.0, 70.0),), None, 50.0, 100.0)
    >>> joint = weld("1", "Sch 40", site)
    >>> joint.set_minutes, joint.cure_minutes, joint.cement_body
    (15.0, 60.0, 'regular')
    """
    humidity_pct = 60.0 if site.humidity_pct is None else site.humidity_pct
    pressure_psi = _assumed_pressure(nominal) if site.pressure_psi is None else site.pressure_psi

    def sets(temperature_f: float) -> float:
        return set_time(nominal, temperature_f, humidity_pct).minutes

    def cures(temperature_f: float) -> float:
        return cure_time(nominal, temperature_f, humidity_pct, pressure_psi).minutes

    if site.until_minutes is not None:
        check_spells(site.spells, site.until_minutes)
    made_f = at_start(site.spells).temperature_f if site.made_f is None else site.made_f
    coldest = min(made_f, coldest_f(site.spells))
    steady = site.until_minutes is None
    set_row = set_time(nominal, made_f, humidity_pct)
    cure_row = cure_time(nominal, made_f, humidity_pct, pressure_psi)
    set_sum, set_cold = _clocks(sets, site, made_f)
    cure_sum, cure_cold = _clocks(cures, site, made_f)
    set_clock, cure_clock = slower(set_sum, set_cold), slower(cure_sum, cure_cold)
    too_cold, too_hot = out_of_table(site.spells)

    bodies = cement_choice(
        nominal, pipe_class, fills=site.dry_fit is not None and site.dry_fit.heavier_body
    )
    depth_row = insert_depth_in(nominal, pipe_class)
    depth = None if depth_row is None else depth_row.depth_in
    quart = quart_row(nominal)
    hold_s = hold_seconds(made_f)
    skin_f = wall_temperature_f(made_f, sun=site.sun)
    joint = Weld(
        verdict=_verdict(site, skin_f),
        skin_f=skin_f,
        headline=say(""),
        set_minutes=set_clock.minutes_if_coldest,
        cure_minutes=cure_clock.minutes_if_coldest,
        set_minutes_estimate=set_sum.minutes_if_coldest,
        set_minutes_coldest=set_cold.minutes_if_coldest,
        cure_minutes_estimate=cure_sum.minutes_if_coldest,
        cure_minutes_coldest=cure_cold.minutes_if_coldest,
        cure_minutes_damp=(
            1.5 * cure_clock.minutes_if_coldest if steady and site.humidity_pct is None else None
        ),
        forecast_reaches=cure_clock.minutes is not None,
        cure_share=cure_clock.share,
        schedules=_schedules(set_row, cure_row),
        rules=cure_row.rules,
        temperature_f=made_f,
        coldest_f=coldest,
        humidity_pct=humidity_pct,
        pressure_psi=pressure_psi,
        primer="none" if site.one_step else "required",
        cement_body="one-step" if site.one_step else bodies[0].body,
        heavier_bodies=() if site.one_step else tuple(row.body for row in bodies[1:]),
        insert_depth_in=depth,
        hold_seconds=hold_s,
        spells=site.spells,
        close_within_seconds=CLOSE_WITHIN_SECONDS,
        joints_per_quart=quart.cement_joints,
        primer_joints_per_quart=(
            None if site.one_step else quart.cement_joints * quart.primer_factor
        ),
        dry_fit=site.dry_fit,
        steps=weld_steps(nominal, depth, hold_s, site.one_step),
    )
    return replace(
        joint,
        headline=_headline(joint),
        cautions=_cautions(joint, pipe_class, site, too_cold=too_cold, too_hot=too_hot),
        working=_working(joint, nominal, pipe_class, site, (set_row, cure_row, bodies[0], quart)),
    )


def _verdict(site: Site, skin_f: float) -> str:
    if site.dry_fit is not None and not site.dry_fit.use:
        return "change_part"
    return "shade_first" if skin_f > HOTTEST_F else "wait"


def waiting(minutes: float) -> Span:
    """A wait as a person says it, in whole minutes and never rounded down."""
    return Span(math.ceil(minutes - 1e-6))


def _assumed_pressure(nominal: str) -> float:
    """The low pressure band that both schedules print for the size. [psi]"""
    return 160.0 if nominal_in(nominal) <= 8 else 100.0


def _clocks(needed: Callable[[float], float], site: Site, made_f: float) -> tuple[Elapsed, Elapsed]:
    """By our sum of shares, and by the published rule of the coldest hour met."""
    if site.until_minutes is None:
        minutes = needed(site.spells[0].temperature_f)
        return Elapsed(minutes, 1.0, minutes), Elapsed(minutes, 1.0, minutes)
    return (
        elapsed(needed, site.spells, site.until_minutes),
        by_coldest(needed, site.spells, site.until_minutes, made_f),
    )


def _schedules(
    set_row: Scheduled[SetTimeRow], cure_row: Scheduled[CureTimeRow]
) -> tuple[Schedule, ...]:
    return tuple(
        Schedule(
            one.schedule, one.minutes * set_row.factor, two.minutes * cure_row.factor, two.source
        )
        for one, two in zip(set_row.rows, cure_row.rows, strict=True)
    )


def _headline(joint: Weld) -> Text:
    if joint.verdict == "change_part" and joint.dry_fit is not None:
        return joint.dry_fit.sentence
    if joint.verdict == "shade_first":
        return say(
            "Shade the pipe and let it cool first: in the sun it is about {skin}."
            " Then no pressure for {cure}.",
            skin=Figure(joint.skin_f, "°F"),
            cure=waiting(joint.cure_minutes),
        )
    if not joint.forecast_reaches:
        return say(
            "The forecast ends before the joint is ready: {share} of the cure by then.",
            share=Figure(100 * joint.cure_share, "%"),
        )
    return say(
        "Do not move it for {set}. No pressure for {cure}, then up to {psi}.",
        set=waiting(joint.set_minutes),
        cure=waiting(joint.cure_minutes),
        psi=rating_figure(joint.pressure_psi),
    )


def _cautions(
    joint: Weld, pipe_class: str, site: Site, *, too_cold: bool, too_hot: bool
) -> tuple[Text, ...]:
    found: list[Text] = []
    if joint.dry_fit is not None and joint.verdict != "change_part":
        found.append(joint.dry_fit.sentence)
    if site.until_minutes is not None:
        found += _forecast_cautions(joint, site, too_cold=too_cold, too_hot=too_hot)
    if site.sun:
        found.append(
            say("In the sun cement skins over sooner: shade the parts, and close each at once.")
        )
    found += _assumed_cautions(joint, pipe_class, site)
    if site.one_step:
        found += [
            say(
                "One-step cement (ASTM F3328) is outside the two-step practice: ask the inspector."
            ),
            say("Its maker’s times win; take these as the least."),
        ]
    if joint.temperature_f <= 40:
        found.append(say("Cold: keep cans warm, brush off frost, and make what you can indoors."))
    if joint.cure_minutes < PLAIN_WAIT_MINUTES:
        found.append(say("Many makers and codes ask for a plain 24 h before any pressure test."))
    found.append(say("Where glued sizes differ, take the largest: it cures slowest."))
    found.append(say("Throw away cement that strings, lumps or has turned to jelly."))
    return (*found, *caution("vapour", "vapour_box", "eyes", "blade", "no_cement_pe", "local_code"))


def _forecast_cautions(joint: Weld, site: Site, *, too_cold: bool, too_hot: bool) -> list[Text]:
    last = site.spells[-1]
    found: list[Text] = []
    if not joint.forecast_reaches:
        found.append(
            say(
                "If it stays at {t} after that, it is ready {all} after closing. Look again.",
                t=Figure(max(joint.coldest_f, 0.0), "°F"),
                all=waiting(joint.cure_minutes),
            )
        )
    if joint.cure_minutes_estimate < joint.cure_minutes:
        found.append(
            say(
                "The coldest hour met sets the wait, as published. Adding up the hours,"
                " we estimate {cure}: no more than an estimate.",
                cure=waiting(joint.cure_minutes_estimate),
            )
        )
    if site.held_minutes and joint.cure_minutes > last.from_minutes:
        found.append(
            say(
                "The forecast’s last {t} is taken to last {time}. Look again if it turns colder.",
                t=Figure(last.temperature_f, "°F"),
                time=Span(site.held_minutes),
            )
        )
    if too_cold:
        found.append(say("Hours below 0 °F do not count: cement does not cure there."))
    if too_hot:
        found.append(say("Hours above 100 °F count as 60 to 100 °F: heat does not shorten it."))
    return found


def _assumed_cautions(joint: Weld, pipe_class: str, site: Site) -> list[Text]:
    found: list[Text] = []
    if site.humidity_pct is None:
        found.append(
            say("No humidity was given: 60 % or less is taken. If damp, wait half again as long.")
        )
    if site.pressure_psi is None:
        found.append(
            say(
                "Pressure was not given: this holds up to {psi} only.",
                psi=rating_figure(joint.pressure_psi),
            )
        )
    if not pipe_class:
        found.append(
            say("The wall was not given: a heavy cement suits any. Measure the socket’s depth.")
        )
    return found


def _working(
    joint: Weld,
    nominal: str,
    pipe_class: str,
    site: Site,
    rows: tuple[Scheduled[SetTimeRow], Scheduled[CureTimeRow], CementChoice, JointsPerQuart],
) -> tuple[Line, ...]:
    set_row, cure_row, body, quart = rows
    asked: dict[str, object] = {
        "size": nominal,
        "temperature": Figure(joint.temperature_f, "°F", 1),
        "humidity": Figure(joint.humidity_pct, "%"),
    }
    pressed = asked | {"pressure": precise(joint.pressure_psi, "psi")}
    lines = [
        *_assumed(joint, site),
        *([sun_line(joint.temperature_f, sun=True)] if site.sun else []),
        *_schedule_lines(lambda of: say("set, schedule {schedule}", schedule=of), set_row, asked),
        *_schedule_lines(
            lambda of: say("cure, schedule {schedule}", schedule=of), cure_row, pressed
        ),
        worked("set_that_rules", set_row.minutes, _by_schedule(set_row)),
        worked("cure_that_rules", cure_row.minutes, _by_schedule(cure_row)),
    ]
    if site.until_minutes is not None:
        spells = "; ".join(
            f"{Span(max(0.0, s.from_minutes))}: {Figure(s.temperature_f, '°F', 1)}"
            for s in site.spells
        )
        shares: dict[str, object] = {
            "forecast": spells,
            "reaches to": Span(site.until_minutes),
            "share reached": Figure(joint.cure_share, "", 2),
        }
        lines += [
            worked("set_over_forecast", joint.set_minutes_estimate, shares),
            worked("cure_over_forecast", joint.cure_minutes_estimate, shares),
            worked(
                "cure_by_coldest_hour",
                joint.cure_minutes_coldest,
                {"coldest of the forecast": Figure(joint.coldest_f, "°F", 1)},
            ),
        ]
    depth = insert_depth_in(nominal, pipe_class)
    if depth is not None:
        lines.append(worked("insert_depth", depth.depth_in, rests=depth, size=nominal))
    lines += [
        worked(
            "cement_body",
            joint.cement_body,
            {"size": nominal, "class": pipe_class or "not known: as the thickest"},
            rests=body,
        ),
        worked(
            "hold_of_weld", joint.hold_seconds, temperature=Figure(joint.temperature_f, "°F", 1)
        ),
        worked(
            "joints_per_quart",
            joint.joints_per_quart,
            rests=quart,
            row=Figure(quart.size_in, "in", 2),
        ),
    ]
    return tuple(lines)


def _schedule_lines(
    name: Callable[[str], Text], found: Scheduled[Row], asked: dict[str, object]
) -> Iterator[Line]:
    """What each schedule says, damp air counted in."""
    for row in found.rows:
        yield Line(
            name(row.schedule),
            "table × damp factor",
            asked | {"table": precise(row.minutes, "min"), "damp factor": precise(found.factor)},
            row.minutes * found.factor,
            "min",
            row.source,
            row.status,
        )


def _by_schedule(found: Scheduled[Row]) -> dict[str, object]:
    return {
        f"schedule {row.schedule}": precise(row.minutes * found.factor, "min") for row in found.rows
    }


def _assumed(joint: Weld, site: Site) -> list[Line]:
    lines: list[Line] = []
    if site.humidity_pct is None:
        lines.append(worked("assumed_humidity", joint.humidity_pct))
    if site.held_minutes:
        lines.append(worked("assumed_end_of_forecast", site.held_minutes))
    if site.pressure_psi is None:
        lines.append(worked("assumed_pressure_on_weld", joint.pressure_psi))
    return lines
