"""A line of many emitters: who gets what, how even it is, and how long it may be."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fieldkit.engine.cautions import caution
from fieldkit.engine.hydraulics.friction import (
    hazen_williams_loss_ft_per_100ft,
    psi_per_ft,
    velocity_ft_s,
)
from fieldkit.engine.hydraulics.longest_run import MOST_OUTLETS, most_outlets
from fieldkit.engine.hydraulics.march import (
    Emitter,
    Layout,
    Marched,
    Pipe,
    end_pressure,
    march,
    require_line,
)
from fieldkit.engine.hydraulics.submain import Branch
from fieldkit.engine.hydraulics.uniformity import (
    christiansen_factor,
    emission_uniformity,
    longest_closed_form,
    variation,
)
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.water import water_at
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.hydraulics import figure, hydraulics

GPH_PER_GPM = 60.0


@dataclass(slots=True)
class Outlet:
    """One outlet of the profile; ``line_flow_gpm`` is the flow in the pipe that reaches it."""

    outlet: int
    distance_ft: float
    pressure_psi: float
    flow_gph: float
    line_flow_gpm: float
    velocity_ft_s: float


@dataclass(frozen=True, slots=True)
class Longest:
    """The longest run for one spread of pressure."""

    variation_pct: float
    outlets: int
    max_length_ft: float


@dataclass(frozen=True, kw_only=True, slots=True)
class LateralAnswer(Answer):
    """One line of emitters, worked out from end to end.

    With a submain, ``branches`` are all its laterals and the rest is the worst fed of them.
    """

    max_length_ft: float
    outlets: int
    end_pressure_psi: float
    emission_uniformity: float
    profile: tuple[Outlet, ...]
    length_ft: float
    inlet_pressure_psi: float
    allowed_variation_pct: float
    lowest_pressure_psi: float
    highest_pressure_psi: float
    pressure_variation_pct: float
    flow_variation_pct: float
    inlet_flow_gpm: float
    inlet_velocity_ft_s: float
    mean_flow_gph: float
    longest: tuple[Longest, ...]
    closed_form_length_ft: float
    closed_form_end_pressure_psi: float
    christiansen_f: float
    method: str
    other_method_end_pressure_psi: float | None
    slope_pct: float
    outlets_below_range: int = 0
    branches: tuple[Branch, ...] = ()


def emitter_of(
    outlet_gph: float,
    exponent: float,
    inlet_psi: float,
    rated_psi: float | None = None,
    least_psi: float | None = None,
) -> Emitter:
    """The emitter that gives a rated flow at its rated pressure.

    Parameters
    ----------
    outlet_gph : float
        Rated flow, above 0. [gph]
    exponent : float
        Emitter exponent x, 0 to 1. [1]
    inlet_psi : float
        Pressure at the line's inlet, above 0; the rated pressure where none is given. [psi]
    rated_psi : float or None
        Pressure that the flow is rated at, above 0. [psi]
    least_psi : float or None
        Least pressure of a compensating emitter; below it it gives less. [psi]

    Returns
    -------
    Emitter
        Its law q = k P^x. [gpm]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    ep405. Status: secondary.

    Examples
    --------
    >>> emitter_of(60.0, 0.5, 16.0)
    Emitter(k=0.25, exponent=0.5)
    """
    require(outlet_gph, "outlet_flow", above=0.0, unit="gph")
    require(inlet_psi, "inlet_pressure", above=0.0, unit="psi", places=1)
    require(exponent, "exponent", at_least=0.0, at_most=1.0)
    rated = inlet_psi if rated_psi is None else rated_psi
    require(rated, "outlet_pressure", above=0.0, unit="psi", places=1)
    steady = least_psi is not None and compensates(exponent)
    k = outlet_gph / GPH_PER_GPM / rated**exponent
    return Emitter(k, exponent, least_psi or 0.0 if steady else 0.0)


def compensates(exponent: float) -> bool:
    """Whether an emitter of that exponent counts as pressure compensating."""
    return exponent <= figure("compensating_exponent")


def profile_of(pipe: Pipe, layout: Layout, marched: Marched) -> tuple[Outlet, ...]:
    """The march as rows a person can read.

    Parameters
    ----------
    pipe : Pipe
        The pipe. [in]
    layout : Layout
        Where the outlets stand. [ft]
    marched : Marched
        The line. [psi]

    Returns
    -------
    tuple of Outlet
        From the inlet on. [ft]

    Source
    ------
    statics. Status: computed.
    """
    rows = []
    left = marched.flow_gpm
    pairs = zip(marched.pressures_psi, marched.flows_gpm, strict=True)
    for number, (pressure, out) in enumerate(pairs, start=1):
        rows.append(
            Outlet(
                number,
                layout.length_ft(number),
                pressure,
                out * GPH_PER_GPM,
                left,
                velocity_ft_s(left, pipe.bore_in),
            )
        )
        left -= out
    return tuple(rows)


def lateral(
    *,
    pipe: Pipe,
    layout: Layout,
    outlet_gph: float,
    inlet_psi: float,
    exponent: float = 0.5,
    rated_psi: float | None = None,
    allowed: float = 0.20,
    cv: float = 0.05,
    emitters_per_plant: float = 1.0,
    outlets: int | None = None,
    least_psi: float | None = None,
    most_psi: float | None = None,
    beside: bool = True,
    assumed: tuple[Line, ...] = (),
) -> LateralAnswer:
    """Work a line of emitters out: its longest run, or the run that was given.

    Parameters
    ----------
    pipe : Pipe
        Bore, method, temperature and rise. [in]
    layout : Layout
        Spacing and the first outlet's distance. [ft]
    outlet_gph : float
        Flow of one outlet at ``rated_psi``, above 0. [gph]
    inlet_psi : float
        Pressure at the inlet, above 0. [psi]
    exponent : float
        Emitter exponent x, 0 to 1. [1]
    rated_psi : float, optional
        Pressure at which the outlet has its flow; the inlet's where not given. [psi]
    allowed : float
        Spread of pressure allowed, (highest − lowest)/highest, a share between 0 and 1. [1]
    cv : float
        Maker's variation of the emitters, 0 to 0.5. [1]
    emitters_per_plant : float
        Emitters a plant, 1 or more. [1]
    outlets : int, optional
        Work out a line of so many outlets; the longest run where not given. [1]
    least_psi, most_psi : float, optional
        Working range of the emitter. A compensating one is judged by it, not by the spread. [psi]
    beside : bool
        Whether the longest runs at the two usual spreads are worked out as well: they take time.
    assumed : tuple of Line
        Defaults that the caller filled in.

    Returns
    -------
    LateralAnswer
        Profile, uniformity and longest runs with their working. [ft]

    Raises
    ------
    OutOfRange
        A value is outside the range given above, or the pressure does not reach the end.

    Source
    ------
    christiansen, ep405, hazen-williams or darcy-weisbach. Status: secondary.
    """
    rated = inlet_psi if rated_psi is None else rated_psi
    require_line(pipe, layout)
    draw = emitter_of(outlet_gph, exponent, inlet_psi, rated, least_psi)
    steady = least_psi is not None and compensates(exponent)
    if least_psi is not None:
        _require_range(least_psi, most_psi)
        allowed = _down_to(least_psi, inlet_psi) if steady else allowed
    require(allowed, "variation", above=0.0, below=1.0)
    require(cv, "cv", at_least=0.0, at_most=0.5)
    require(emitters_per_plant, "emitters_per_plant", at_least=1.0)
    usual = (figure("variation_tight") / 100, figure("variation_usual") / 100) if beside else ()
    shares = dict.fromkeys((*usual, allowed))
    longest = {share: most_outlets(pipe, layout, draw, inlet_psi, share) for share in shares}
    number = longest[allowed] if outlets is None else outlets
    require(number, "outlets", at_least=0, at_most=MOST_OUTLETS, places=0)
    if number == 0:
        raise OutOfRange(
            "variation",
            allowed,
            say(
                "Not even one outlet stays within {share}.",
                share=Figure(allowed * 100, "%"),
            ),
            say("Use a larger bore, a smaller outlet, less slope or a shorter spacing."),
        )
    end = end_pressure(pipe, layout, draw, number, inlet_psi)
    line = march(pipe, layout, draw, number, end)
    other = _other_method(pipe, layout, draw, number, inlet_psi)
    spread = variation(inlet_psi, line)
    least, mean = min(line.flows_gpm), line.flow_gpm / number
    weight = psi_per_ft(water_at(pipe.temperature_f).density_kg_m3)
    factor = christiansen_factor(number)
    length = layout.length_ft(number)
    full_flow = hazen_williams_loss_ft_per_100ft(
        number * outlet_gph / GPH_PER_GPM, pipe.bore_in, pipe.c
    )
    closed_end = inlet_psi - (full_flow / 100 * factor + pipe.rise) * length * weight
    at_one = hazen_williams_loss_ft_per_100ft(
        outlet_gph / GPH_PER_GPM / layout.spacing_ft, pipe.bore_in, pipe.c
    )
    drop_ft = allowed * inlet_psi / weight
    closed_length = longest_closed_form(
        bore_in=pipe.bore_in,
        c=pipe.c,
        outlet_gpm=outlet_gph / GPH_PER_GPM,
        spacing_ft=layout.spacing_ft,
        drop_ft=drop_ft,
        rise=pipe.rise,
    )
    eu = emission_uniformity(least, mean, cv, emitters_per_plant)
    velocity = velocity_ft_s(line.flow_gpm, pipe.bore_in)
    lowest, highest = min(line.pressures_psi), max(inlet_psi, *line.pressures_psi)
    range_psi = (least_psi or 0.0, math.inf if most_psi is None else most_psi)
    verdict = _verdict(lowest, highest, range_psi, even=steady or spread <= allowed + 1e-9)
    rows = profile_of(pipe, layout, line)
    return LateralAnswer(
        verdict=verdict,
        headline=_headline(
            line,
            length,
            verdict=verdict,
            longest=outlets is None,
            spread=spread,
            range_psi=range_psi,
        ),
        cautions=(*_notes(velocity, longest[allowed]), *caution("local_code")),
        working=(
            *assumed,
            *_emitter_working(pipe, outlet_gph, rated, exponent),
            *_barb_working(pipe),
            *_march_working(pipe, layout, line, allowed),
            _uniformity_line(eu, cv, emitters_per_plant, least * GPH_PER_GPM, mean * GPH_PER_GPM),
            _other_line(pipe, other),
            worked(
                "far_end_closed_form",
                closed_end,
                P_in=precise(inlet_psi, "psi"),
                F=precise(factor),
                h=precise(full_flow, "ft per 100 ft"),
                slope=precise(pipe.rise),
                L=precise(length, "ft"),
                w=precise(weight, "psi/ft"),
            ),
            _longest_line(closed_length, pipe, at_one, drop_ft),
        ),
        max_length_ft=layout.length_ft(longest[allowed]),
        outlets=number,
        end_pressure_psi=end,
        emission_uniformity=eu,
        profile=rows,
        length_ft=length,
        inlet_pressure_psi=inlet_psi,
        allowed_variation_pct=allowed * 100,
        lowest_pressure_psi=lowest,
        highest_pressure_psi=highest,
        outlets_below_range=_below(range_psi[0], line),
        pressure_variation_pct=spread * 100,
        flow_variation_pct=100 * (1 - least / max(line.flows_gpm)),
        inlet_flow_gpm=line.flow_gpm,
        inlet_velocity_ft_s=velocity,
        mean_flow_gph=mean * GPH_PER_GPM,
        longest=tuple(
            Longest(share * 100, count, layout.length_ft(count))
            for share, count in sorted(longest.items())
        ),
        closed_form_length_ft=closed_length,
        closed_form_end_pressure_psi=closed_end,
        christiansen_f=factor,
        method=pipe.method,
        other_method_end_pressure_psi=other,
        slope_pct=pipe.rise * 100,
    )


def _require_range(least_psi: float, most_psi: float | None) -> None:
    """Refuse a working range of emitters that cannot be."""
    require(least_psi, "least_pressure", at_least=0.0, unit="psi", places=1)
    if most_psi is not None:
        require(most_psi, "most_pressure", above=least_psi, unit="psi", places=1)


def _verdict(
    lowest_psi: float, highest_psi: float, range_psi: tuple[float, float], *, even: bool
) -> str:
    """What is out of the emitters' range comes before what is uneven."""
    if lowest_psi < range_psi[0] * (1 - 1e-9):
        return "too_low"
    if highest_psi > range_psi[1] * (1 + 1e-9):
        return "too_high"
    return "even" if even else "uneven"


def _below(least_psi: float, line: Marched) -> int:
    """How many outlets get less than the least."""
    return sum(p < least_psi * (1 - 1e-9) for p in line.pressures_psi)


def _other_method(
    pipe: Pipe, layout: Layout, draw: Emitter, outlets: int, inlet_psi: float
) -> float | None:
    """The far end by the other friction formula; None where by it the water does not reach."""
    method = "darcy" if pipe.method == "hazen_williams" else "hazen_williams"
    try:
        return end_pressure(replace(pipe, method=method), layout, draw, outlets, inlet_psi)
    except OutOfRange:
        return None


def _other_line(pipe: Pipe, other: float | None) -> Line:
    hazen = pipe.method == "hazen_williams"
    return worked("far_end_by_darcy" if hazen else "far_end_by_hazen", other)


def _down_to(least_psi: float, inlet_psi: float) -> float:
    """Spread of pressure that leaves a compensating emitter its least. [1]"""
    if inlet_psi <= least_psi:
        raise OutOfRange(
            "inlet_pressure",
            inlet_psi,
            say(
                "The line starts with {given}, and these emitters want over {least}.",
                given=Figure(inlet_psi, "psi", 1),
                least=Figure(least_psi, "psi", 1),
            ),
            say("Start with more pressure, or use emitters made for less."),
        )
    return 1.0 - least_psi / inlet_psi if least_psi > 0.0 else 1.0 - 1e-9


def _headline(
    line: Marched,
    length: float,
    *,
    verdict: str,
    longest: bool,
    spread: float,
    range_psi: tuple[float, float],
) -> Text:
    number = len(line.flows_gpm)
    figures = {
        "number": number,
        "length": Figure(length, "ft", 0),
        "end": Figure(line.pressures_psi[-1], "psi", 1),
    }
    if verdict == "too_low":
        return say(
            "{below} of {number} outlets get under {least}, the least they work at: "
            "the lowest has {lowest}.",
            below=_below(range_psi[0], line),
            least=Figure(range_psi[0], "psi", 1),
            lowest=Figure(min(line.pressures_psi), "psi", 1),
            number=number,
        )
    if verdict == "too_high":
        return say(
            "The line sees {highest}, over the {most} that these emitters are made for.",
            highest=Figure(max(line.inlet_psi, *line.pressures_psi), "psi", 1),
            most=Figure(range_psi[1], "psi", 1),
        )
    if longest:
        return say(
            "The longest run is {length}, {number} outlets; the far end has {end}.", **figures
        )
    if verdict == "even":
        return say("{number} outlets over {length} are served; the far end has {end}.", **figures)
    return say(
        "{number} outlets over {length} are too uneven: pressure varies by {spread}.",
        spread=Figure(spread * 100, "%"),
        **figures,
    )


def _notes(velocity: float, most: int) -> tuple[Text, ...]:
    limit = hydraulics()["velocity_limit"].value
    notes = []
    if velocity > limit:
        notes.append(
            say(
                "At the inlet the water moves at {velocity}, over the usual limit of {limit}.",
                velocity=Figure(velocity, "ft/s", 1),
                limit=Figure(limit, "ft/s"),
            )
        )
    if most >= MOST_OUTLETS:
        notes.append(
            say("The search stops at {most} outlets; the line may be longer.", most=MOST_OUTLETS)
        )
    return tuple(notes)


def _emitter_working(
    pipe: Pipe, outlet_gph: float, rated_psi: float, exponent: float
) -> tuple[Line, ...]:
    return (
        worked("slope_given", pipe.rise * 100),
        worked(
            "emitter",
            outlet_gph / rated_psi**exponent,
            q=precise(outlet_gph, "gph"),
            P=precise(rated_psi, "psi"),
            x=precise(exponent),
        ),
    )


def _barb_working(pipe: Pipe) -> tuple[Line, ...]:
    """What the barbs take: nothing is said where they are left out."""
    lines = []
    if pipe.outlet_ft:
        lines.append(worked("emitter_barb", pipe.outlet_ft, bore=Figure(pipe.bore_in, "in", 3)))
    heads = (
        (say("each emitter’s barb, K"), pipe.outlet_k),
        (say("fitting at the start, K"), pipe.inlet_k),
    )
    for name, k in heads:
        if k:
            formula = "table: K V² / 2g is lost of the flow there"
            lines.append(Line(name, formula, {}, k, "", "minor-loss", "computed"))
    return tuple(lines)


def _march_working(pipe: Pipe, layout: Layout, line: Marched, allowed: float) -> tuple[Line, ...]:
    hazen = pipe.method == "hazen_williams"
    return (
        worked(
            "far_end_march_hazen" if hazen else "far_end_march_darcy",
            line.pressures_psi[-1],
            s=Figure(layout.spacing_ft, "ft", 2),
            loss=f"Hazen–Williams, C {pipe.c:.0f}" if hazen else "Darcy–Weisbach, Serghides",
            inlet=Figure(line.inlet_psi, "psi", 2),
        ),
        worked(
            "pressure_variation",
            variation(line.inlet_psi, line) * 100,
            highest=Figure(max(line.inlet_psi, *line.pressures_psi), "psi", 6),
            lowest=Figure(min(line.pressures_psi), "psi", 6),
            allowed=Figure(allowed * 100, "%", 1),
        ),
    )


def _uniformity_line(  # one argument a symbol
    eu: float, cv: float, per_plant: float, least: float, mean: float
) -> Line:
    return worked(
        "emission_uniformity",
        eu,
        Cv=precise(cv),
        n=precise(per_plant),
        qmin=precise(least),
        qmean=precise(mean),
    )


def _longest_line(length: float, pipe: Pipe, at_one: float, drop_ft: float) -> Line:
    return worked(
        "longest_run_closed_form" if pipe.rise == 0.0 else "longest_run_closed_form_on_slope",
        length,
        {
            "ΔH": precise(drop_ft, "ft"),
            "h₁": precise(at_one, "ft per 100 ft"),
            "slope": precise(pipe.rise),
        },
    )
