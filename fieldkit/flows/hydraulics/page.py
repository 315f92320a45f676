"""Lays out a line of emitters for a page: the plot, and the same in a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fieldkit.engine.words import Figure, say
from fieldkit.flows.block import Drawing, Table
from fieldkit.flows.drawings.line_plot import Limit, Panel, line_plot
from fieldkit.flows.figures import amount

#: Rows of the table beside the plot.
_ROWS = 8


def profile_drawing(
    profile: Sequence[Mapping[str, Any]],
    *,
    inlet_psi: float,
    lowest_allowed_psi: float | None,
    flow_limit_gpm: float,
    speed_limit_ft_s: float,
) -> Drawing:
    """Pressure and flow along the line, with the limits drawn in."""
    flow = profile[0]["line_flow_gpm"]
    distances = (0.0, *(row["distance_ft"] for row in profile))
    limits: tuple[Limit, ...] = ()
    if lowest_allowed_psi is not None:
        words = say("lowest wanted, {level}", level=Figure(lowest_allowed_psi, "psi", 1))
        limits = (Limit(lowest_allowed_psi, words),)
    end = profile[-1]
    lowest = min(row["pressure_psi"] for row in profile)
    speed_limit = Figure(speed_limit_ft_s, "ft/s")
    words = say(
        "Pressure goes from {start} to {far} at {length}; the lowest is {lowest}. Flow in the tube "
        "falls from {flow} to {end_flow}; the limit of {speed_limit} is {flow_limit}.",
        start=Figure(inlet_psi, "psi", 1),
        far=Figure(end["pressure_psi"], "psi", 1),
        length=Figure(end["distance_ft"], "ft"),
        lowest=Figure(lowest, "psi", 1),
        flow=Figure(flow, "gpm", 2),
        end_flow=Figure(end["line_flow_gpm"], "gpm", 2),
        speed_limit=speed_limit,
        flow_limit=Figure(flow_limit_gpm, "gpm", 1),
    )
    pressures = (inlet_psi, *(row["pressure_psi"] for row in profile))
    flows = (flow, *(row["line_flow_gpm"] for row in profile))
    fastest = Limit(flow_limit_gpm, say("limit, {speed}", speed=speed_limit))
    return line_plot(
        distances,
        (
            Panel(say("Pressure"), "psi", pressures, limits),
            Panel(say("Flow in the tube"), "gpm", flows, (fastest,)),
        ),
        title=say("Pressure and flow along the line."),
        words=words,
    )


def profile_table(profile: Sequence[Mapping[str, Any]]) -> Table:
    """The plot's figures at a few places along the line."""
    last = len(profile) - 1
    picked = sorted({round(last * n / (_ROWS - 1)) for n in range(_ROWS)})
    return Table(
        say("Along the line"),
        (say("Distance"), say("Pressure"), say("Emitter"), say("In the tube")),
        tuple(
            (
                amount(profile[i]["distance_ft"], "ft", 0),
                amount(profile[i]["pressure_psi"], "psi"),
                amount(profile[i]["flow_gph"], "gph", 2),
                amount(profile[i]["line_flow_gpm"], "gpm", 2),
            )
            for i in picked
        ),
    )
