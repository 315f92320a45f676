"""A pipe with many outlets, worked out step by step from its far end to its inlet.

Each outlet gives q = k P^x, so the flow in each piece depends on every pressure beyond it.
From the far end the march needs no guess but the end pressure; one root search then finds the
end pressure that meets the pressure at the inlet. Plain floats throughout: this is the inner
loop of every lateral and of every lateral on a submain.

Units: pressure psi, flow gpm, lengths ft, bore in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from math import log10, pow

from fieldkit.engine.hydraulics.friction import (
    FLOW_CONSTANT,
    GRAVITY,
    HW_FLOW_POWER,
    LAMINAR_BELOW,
    M_PER_IN,
    barb_coefficient,
    emitter_barb_ft,
    hazen_williams_loss_ft_per_100ft,
    psi_per_ft,
    reynolds_number,
)
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.water import water_at
from fieldkit.engine.words import Figure, say
from fieldkit.tables.hydraulics import figure

#: Loss of a flow [gpm] in one foot of pipe [psi/ft].
Loss = Callable[[float], float]
#: Flow out of one outlet [gpm] at a pressure [psi].
Draw = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Pipe:
    """The pipe of a lateral or a submain: what its loss depends on.

    ``rise`` is feet up for each foot along, positive uphill away from the inlet. Each outlet's
    barb loses as ``outlet_ft`` of pipe, or ``outlet_k`` velocity heads, of the flow that comes to
    it; the fitting at the inlet ``inlet_k`` velocity heads.
    """

    bore_in: float
    method: str = "hazen_williams"
    c: float = 140.0
    roughness_m: float = 1.5e-6
    temperature_f: float = 68.0
    rise: float = 0.0
    outlet_ft: float = 0.0
    outlet_k: float = 0.0
    inlet_k: float = 0.0


def with_barbs(pipe: Pipe, emitter_barb: str = "standard") -> Pipe:
    """The pipe with the barb of each emitter in its wall, and the usual barb at its start.

    Source
    ------
    montalvo for the emitters, minor-loss for the start. Status: from memory.

    Examples
    --------
    >>> line = with_barbs(Pipe(0.600))
    >>> round(line.outlet_ft, 2), round(line.inlet_k, 1)
    (0.38, 1.3)
    """
    start = barb_coefficient(figure("inlet_barb_share") * pipe.bore_in, pipe.bore_in)
    return replace(pipe, outlet_ft=emitter_barb_ft(emitter_barb, pipe.bore_in), inlet_k=start)


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the outlets stand: the first one, then one every ``spacing_ft``."""

    spacing_ft: float
    first_ft: float

    def length_ft(self, outlets: int) -> float:
        """Distance from the inlet to the last of ``outlets``."""
        return self.first_ft + (outlets - 1) * self.spacing_ft if outlets else 0.0


@dataclass(frozen=True, slots=True)
class Marched:
    """A line worked out, listed from the inlet to the far end."""

    inlet_psi: float
    flow_gpm: float
    pressures_psi: tuple[float, ...]
    flows_gpm: tuple[float, ...]


@cache
def loss_per_ft(pipe: Pipe) -> Loss:
    """Loss in one foot of ``pipe`` for a flow, with all that does not change worked out before.

    Parameters
    ----------
    pipe : Pipe
        The pipe; slope plays no part here. [in]

    Returns
    -------
    callable
        gpm → psi per foot.

    Source
    ------
    hazen-williams or darcy-weisbach, as ``engine.friction``. Status: secondary.
    """
    water = water_at(pipe.temperature_f)
    weight = psi_per_ft(water.density_kg_m3)
    if pipe.method == "hazen_williams":
        at_one_gpm = hazen_williams_loss_ft_per_100ft(1.0, pipe.bore_in, pipe.c) / 100.0 * weight

        def hazen_williams(flow_gpm: float) -> float:
            return at_one_gpm * pow(flow_gpm, HW_FLOW_POWER)

        return hazen_williams

    reynolds_at_one = reynolds_number(1.0, pipe.bore_in, water.kinematic_viscosity_m2_s)
    speed_at_one = FLOW_CONSTANT / pipe.bore_in**2
    head_at_one = 12.0 / pipe.bore_in * speed_at_one**2 / (2.0 * GRAVITY) * weight
    laminar = head_at_one * 64.0 / reynolds_at_one
    rough = pipe.roughness_m / (pipe.bore_in * M_PER_IN) / 3.7

    def darcy(flow_gpm: float) -> float:
        # As friction_factor, with the constants of this pipe folded in.
        reynolds = reynolds_at_one * flow_gpm
        if reynolds < LAMINAR_BELOW:
            return laminar * flow_gpm
        smooth = 2.51 / reynolds
        a = -2.0 * log10(rough + 12.0 / reynolds)
        b = -2.0 * log10(rough + smooth * a)
        c = -2.0 * log10(rough + smooth * b)
        bend = c - 2.0 * b + a
        # Past all real flow the three are one number, and there is nothing left to improve.
        root = a - (b - a) * (b - a) / bend if bend else c
        return head_at_one * flow_gpm * flow_gpm / (root * root)

    return darcy


def rise_psi_per_ft(pipe: Pipe) -> float:
    """Pressure that the climb takes in each foot along.

    Parameters
    ----------
    pipe : Pipe
        The pipe and its rise. [ft/ft]

    Returns
    -------
    float
        Positive uphill. [psi/ft]

    Source
    ------
    statics. Status: computed.
    """
    return pipe.rise * psi_per_ft(water_at(pipe.temperature_f).density_kg_m3)


@dataclass(frozen=True, slots=True)
class Emitter:
    """The outlet q = k P^x, nothing at or below 0 psi.

    ``k`` is the flow at 1 psi [gpm]; ``exponent`` x is 0 for a pressure-compensating emitter and
    0.5 for a plain hole. Below ``least_psi`` a compensating one gives less, as a plain hole.

    Examples
    --------
    >>> Emitter(0.1, 0.5)(25.0)
    0.5
    """

    k: float
    exponent: float
    least_psi: float = field(default=0.0, repr=False)

    def __call__(self, pressure_psi: float) -> float:
        """Flow at a pressure. [gpm]"""
        if pressure_psi <= 0.0:
            return 0.0
        if pressure_psi < self.least_psi:
            return self.k * pow(self.least_psi, self.exponent - 0.5) * pow(pressure_psi, 0.5)
        return self.k * pow(pressure_psi, self.exponent)


def barb_psi(pipe: Pipe) -> float:
    """One velocity head at 1 gpm; times K and the flow squared it is the loss of a barb. [psi]"""
    speed = FLOW_CONSTANT / pipe.bore_in**2
    weight = psi_per_ft(water_at(pipe.temperature_f).density_kg_m3)
    return speed**2 / (2.0 * GRAVITY) * weight


def require_line(pipe: Pipe, layout: Layout, under: str = "") -> None:
    """Refuse a pipe or a layout that no march can walk along.

    Parameters
    ----------
    pipe : Pipe
        Its bore above 0, C from 60 to 160, rise from -1 to 1. [in]
    layout : Layout
        Its spacing above 0, the first outlet at 0 or beyond. [ft]
    under : str
        What the request's keys stand under, such as ``"submain."``.

    Raises
    ------
    OutOfRange
        A value is outside the range given above.
    """
    require(pipe.bore_in, f"{under}bore", above=0.0, unit="in")
    require(pipe.c, f"{under}c", at_least=60.0, at_most=160.0)
    require(pipe.rise, f"{under}slope", at_least=-1.0, at_most=1.0)
    rough = pipe.roughness_m / (pipe.bore_in * M_PER_IN)
    require(rough, f"{under}roughness", at_least=0.0, at_most=0.05)
    for name in ("outlet_ft", "outlet_k", "inlet_k"):
        require(getattr(pipe, name), f"{under}{name}", at_least=0.0, at_most=1000.0)
    require(layout.spacing_ft, f"{under}spacing", above=0.0, unit="ft")
    require(layout.first_ft, f"{under}first", at_least=0.0, unit="ft")


def march(pipe: Pipe, layout: Layout, draw: Draw, outlets: int, end_psi: float) -> Marched:
    """Walk from the last outlet, held at ``end_psi``, to the inlet, and list every outlet.

    Parameters
    ----------
    pipe : Pipe
        The pipe. [in]
    layout : Layout
        Where the outlets stand. [ft]
    draw : callable
        Flow of an outlet at a pressure. [gpm]
    outlets : int
        How many, 1 or more. [1]
    end_psi : float
        Pressure at the last outlet. [psi]

    Returns
    -------
    Marched
        Pressures and flows from the inlet on. [psi]

    Source
    ------
    christiansen, statics: balance of flow and energy at each outlet. Status: computed.
    """
    loss, climb = loss_per_ft(pipe), rise_psi_per_ft(pipe)
    pressures, flows = [end_psi], [draw(end_psi)]
    pressure, flow = end_psi, flows[0]
    rises, length = layout.spacing_ft * climb, layout.spacing_ft + pipe.outlet_ft
    barb, start = pipe.outlet_k * barb_psi(pipe), pipe.inlet_k * barb_psi(pipe)
    for _ in range(outlets - 1):
        pressure += length * loss(flow) + barb * flow * flow + rises
        out = draw(pressure)
        flow += out
        pressures.append(pressure)
        flows.append(out)
    first = layout.first_ft + pipe.outlet_ft
    inlet = pressure + first * loss(flow) + (barb + start) * flow * flow
    inlet += layout.first_ft * climb
    return Marched(inlet, flow, tuple(reversed(pressures)), tuple(reversed(flows)))


def inlet_of(pipe: Pipe, layout: Layout, draw: Draw, outlets: int) -> Callable[[float], float]:
    """Only the inlet pressure of ``march``, as a function of the end pressure: the hot loop."""
    loss, climb = loss_per_ft(pipe), rise_psi_per_ft(pipe)
    more = outlets - 1
    step, first = layout.spacing_ft + pipe.outlet_ft, layout.first_ft + pipe.outlet_ft
    rises, first_rises = layout.spacing_ft * climb, layout.first_ft * climb
    barb = pipe.outlet_k * barb_psi(pipe)
    start = barb + pipe.inlet_k * barb_psi(pipe)

    def inlet(end_psi: float) -> float:
        pressure, flow = end_psi, draw(end_psi)
        for _ in range(more):
            pressure += step * loss(flow) + barb * flow * flow + rises
            flow += draw(pressure)
        return pressure + first * loss(flow) + start * flow * flow + first_rises

    if not isinstance(draw, Emitter) or draw.least_psi or barb:
        return inlet

    # The common lines with less called in their loops: the same arithmetic, twice as fast.
    k, exponent, power, every = draw.k, draw.exponent, HW_FLOW_POWER, range(more)
    at_one, a_step = loss(1.0), loss(1.0) * step

    def plain(end_psi: float) -> float:
        pressure = end_psi
        flow = k * pressure**exponent if pressure > 0.0 else 0.0
        for _ in every:
            pressure += step * loss(flow) + rises
            if pressure > 0.0:
                flow += k * pressure**exponent
        return float(pressure + first * loss(flow) + start * flow * flow + first_rises)

    def hazen_williams(end_psi: float) -> float:
        pressure = end_psi
        flow = k * pressure**exponent if pressure > 0.0 else 0.0
        for _ in every:
            pressure += a_step * flow**power + rises
            if pressure > 0.0:
                flow += k * pressure**exponent
        return float(pressure + first * at_one * flow**power + start * flow * flow + first_rises)

    return hazen_williams if pipe.method == "hazen_williams" else plain


def end_pressure(
    pipe: Pipe,
    layout: Layout,
    draw: Draw,
    outlets: int,
    inlet_psi: float,
    *,
    guess_psi: float | None = None,
) -> float:
    """The end pressure that a pressure at the inlet leaves, found by a search.

    A secant held between bounds: the inlet pressure only rises with the end pressure.

    Parameters
    ----------
    pipe : Pipe
        The pipe. [in]
    layout : Layout
        Where the outlets stand. [ft]
    draw : callable
        Flow of an outlet at a pressure. [gpm]
    outlets : int
        How many, 1 or more. [1]
    inlet_psi : float
        Pressure at the inlet, above 0. [psi]
    guess_psi : float, optional
        Where to begin, such as the answer for a neighbouring line. [psi]

    Returns
    -------
    float
        Pressure at the last outlet. [psi]

    Raises
    ------
    OutOfRange
        The inlet's pressure does not reach the last outlet.

    Source
    ------
    statics. Status: computed.
    """
    inlet = inlet_of(pipe, layout, draw, outlets)
    climb = rise_psi_per_ft(pipe) * layout.length_ft(outlets)
    low, high = 0.0, inlet_psi - climb  # no flow, no loss: the most the end could have
    if high <= 0.0 or (climb > 0.0 and inlet(0.0) > inlet_psi):
        raise _out_of_reach(inlet_psi, outlets)
    now = _first_guess(pipe, layout, draw, outlets, high)
    if guess_psi is not None and low < guess_psi < high:
        now = guess_psi
    previous, previous_miss = 0.0, 0.0
    for turn in range(200):
        miss = inlet(now) - inlet_psi
        if miss > 0.0:
            high = now
        else:
            low = now
        # A line's losses grow nearly as its pressures do, hence the first step by a share. What
        # the end gains the inlet gains at least, hence no slope under 1.
        step = now - previous
        slope = (inlet_psi - climb + miss) / now if turn == 0 else (miss - previous_miss) / step
        slope = max(slope, 1.0)
        if abs(miss) <= (1e-5 if turn else 1e-8) * inlet_psi:
            return now - miss / slope  # the last step, small enough not to be walked again
        if high - low <= 1e-13 * high:
            break  # Laminar flow turns turbulent here: the loss itself has a step.
        previous, previous_miss = now, miss
        now -= miss / slope
        if not low < now < high:
            now = (low + high) / 2.0
    if inlet_psi - inlet(low) > 0.01 * inlet_psi:
        raise _out_of_reach(inlet_psi, outlets)  # outlets of fixed flow want more than there is
    return low


def _first_guess(pipe: Pipe, layout: Layout, draw: Draw, outlets: int, most_psi: float) -> float:
    """The closed form: every outlet at the flow of the highest pressure, less the usual share."""
    share = 1.0 / (HW_FLOW_POWER + 1.0) + 0.5 / outlets
    length = layout.length_ft(outlets) + outlets * pipe.outlet_ft
    fed = length * loss_per_ft(pipe)(outlets * draw(most_psi)) * share
    return most_psi * most_psi / (most_psi + fed)


def _out_of_reach(inlet_psi: float, outlets: int) -> OutOfRange:
    return OutOfRange(
        "inlet_pressure",
        inlet_psi,
        say(
            "{given} does not reach the last of {outlets} outlets.",
            given=Figure(inlet_psi, "psi", 1),
            outlets=outlets,
        ),
        say("Shorten the line, climb less, or start with more pressure."),
    )
