"""A submain that feeds several like laterals: each lateral is an outlet with its own march."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.hydraulics.march import (
    Draw,
    Layout,
    Marched,
    Pipe,
    end_pressure,
    march,
    require_line,
)
from fieldkit.engine.problems import OutOfRange, require


@dataclass(frozen=True, slots=True)
class Branch:
    """One lateral on the submain; pressures and flows from its inlet to its far end."""

    lateral: int
    distance_ft: float
    inlet_pressure_psi: float
    end_pressure_psi: float
    flow_gpm: float
    pressures_psi: tuple[float, ...]
    flows_gpm: tuple[float, ...]


def lateral_as_outlet(pipe: Pipe, layout: Layout, draw: Draw, outlets: int) -> Draw:
    """The whole lateral as one outlet: its flow at a pressure where it leaves the submain.

    Parameters
    ----------
    pipe : Pipe
        The lateral's pipe. [in]
    layout : Layout
        Where its outlets stand. [ft]
    draw : callable
        Flow of one of its outlets at a pressure. [gpm]
    outlets : int
        Outlets on it, 1 or more. [1]

    Returns
    -------
    callable
        psi → gpm; 0 where the pressure does not reach its far end.

    Source
    ------
    statics. Status: computed.
    """
    share = 0.0  # end pressure over inlet pressure, of the lateral looked at before

    def flow(pressure_psi: float) -> float:
        nonlocal share
        if pressure_psi <= 0.0:
            return 0.0
        try:
            end = end_pressure(
                pipe, layout, draw, outlets, pressure_psi, guess_psi=share * pressure_psi
            )
        except OutOfRange:
            return 0.0
        share = end / pressure_psi
        return march(pipe, layout, draw, outlets, end).flow_gpm

    return flow


def submain(
    *,
    pipe: Pipe,
    layout: Layout,
    laterals: int,
    inlet_psi: float,
    lateral_pipe: Pipe,
    lateral_layout: Layout,
    draw: Draw,
    outlets: int,
) -> tuple[Marched, tuple[Branch, ...]]:
    """Work out a submain and every lateral on it.

    Parameters
    ----------
    pipe : Pipe
        The submain's pipe. [in]
    layout : Layout
        Where the laterals leave it. [ft]
    laterals : int
        How many, 1 to 500. [1]
    inlet_psi : float
        Pressure at the submain's inlet, above 0. [psi]
    lateral_pipe : Pipe
        The pipe of each lateral. [in]
    lateral_layout : Layout
        Where the outlets stand on each. [ft]
    draw : callable
        Flow of one outlet at a pressure. [gpm]
    outlets : int
        Outlets on each lateral, 1 or more. [1]

    Returns
    -------
    (Marched, tuple of Branch)
        The submain, and its laterals from its inlet on. [psi]

    Raises
    ------
    OutOfRange
        The pressure does not reach the last outlet of every lateral.

    Source
    ------
    statics. Status: computed.
    """
    require_line(pipe, layout, "submain.")
    require_line(lateral_pipe, lateral_layout)
    require(inlet_psi, "inlet_pressure", above=0.0, unit="psi", places=1)
    require(laterals, "submain.laterals", at_least=1, at_most=500, places=0)
    whole = lateral_as_outlet(lateral_pipe, lateral_layout, draw, outlets)
    main = march(
        pipe, layout, whole, laterals, end_pressure(pipe, layout, whole, laterals, inlet_psi)
    )
    branches = []
    for number, pressure in enumerate(main.pressures_psi, start=1):
        end = end_pressure(lateral_pipe, lateral_layout, draw, outlets, pressure)
        line = march(lateral_pipe, lateral_layout, draw, outlets, end)
        branches.append(
            Branch(
                number,
                layout.length_ft(number),
                pressure,
                end,
                line.flow_gpm,
                line.pressures_psi,
                line.flows_gpm,
            )
        )
    return main, tuple(branches)
