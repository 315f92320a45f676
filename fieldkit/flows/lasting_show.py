"""Lays out a line of emitters for a page: the plot, and the same in a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fieldkit.engine.words import Figure
from fieldkit.flows.drawings.line_plot import Limit, Panel, line_plot
from fieldkit.flows.step import Drawing, Table

#: Rows of the table beside the plot.
_ROWS = 8


def amount(value: float | None, unit: str, places: int = 1) -> str:
    """A figure of an answer's JSON with its unit, or a dash."""
    return "–" if value is None else str(Figure(value, unit, places))


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
        limits = (Limit(lowest_allowed_psi, f"lowest wanted, {lowest_allowed_psi:.1f} psi"),)
    end = profile[-1]
    lowest = min(row["pressure_psi"] for row in profile)
    words = (
        f"Pressure goes from {inlet_psi:.1f} psi to {end['pressure_psi']:.1f} psi at "
        f"{end['distance_ft']:.0f} ft; the lowest is {lowest:.1f} psi. "
        f"Flow in the tube falls from {flow:.2f} gpm to {end['line_flow_gpm']:.2f} gpm; "
        f"the limit of {speed_limit_ft_s:.0f} ft/s is {flow_limit_gpm:.1f} gpm."
    )
    svg = line_plot(
        distances,
        (
            Panel("Pressure, psi", (inlet_psi, *(row["pressure_psi"] for row in profile)), limits),
            Panel(
                "Flow in the tube, gpm",
                (flow, *(row["line_flow_gpm"] for row in profile)),
                (Limit(flow_limit_gpm, f"limit, {speed_limit_ft_s:.0f} ft/s"),),
            ),
        ),
        along="feet from the start",
        words=words,
    )
    return Drawing("Pressure and flow along the line.", svg, words)


def profile_table(profile: Sequence[Mapping[str, Any]]) -> Table:
    """The plot's figures at a few places along the line."""
    last = len(profile) - 1
    picked = sorted({round(last * n / (_ROWS - 1)) for n in range(_ROWS)})
    return Table(
        "Along the line",
        ("Distance", "Pressure", "Emitter", "Flow in the tube", "Speed"),
        tuple(
            (
                amount(profile[i]["distance_ft"], "ft", 0),
                amount(profile[i]["pressure_psi"], "psi"),
                amount(profile[i]["flow_gph"], "gph", 2),
                amount(profile[i]["line_flow_gpm"], "gpm", 2),
                amount(profile[i]["velocity_ft_s"], "ft/s"),
            )
            for i in picked
        ),
    )
