"""What a length of pipe takes from the pressure, with its working.

Darcy–Weisbach is the physics, good for any bore and temperature. Hazen–Williams is the trade's
shorthand, good in ordinary water pipe at ordinary speed. Both are worked out and both shown.
"""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.hydraulics.friction import (
    GRAVITY,
    LAMINAR_BELOW,
    M_PER_IN,
    barb_loss_ft,
    darcy_loss_ft_per_100ft,
    friction_factor,
    hazen_williams_loss_ft_per_100ft,
    psi_per_ft,
    regime,
    reynolds_number,
    velocity_ft_s,
)
from fieldkit.engine.problems import require
from fieldkit.engine.water import water_at
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.hydraulics import hydraulics


@dataclass(frozen=True, kw_only=True, slots=True)
class FrictionAnswer(Answer):
    """Loss along one pipe of steady flow."""

    loss_psi: float
    loss_ft_per_100ft: float
    velocity_ft_s: float
    reynolds: float
    friction_factor: float
    regime: str
    method: str
    pipe_loss_psi: float
    barb_loss_psi: float
    darcy_ft_per_100ft: float
    hazen_williams_ft_per_100ft: float
    c: float
    temperature_f: float
    bore_in: float
    bore_least_in: float | None
    loss_most_psi: float | None


def friction(
    *,
    bore_in: float,
    flow_gpm: float,
    length_ft: float,
    method: str = "darcy",
    c: float = 140.0,
    roughness_m: float = 1.5e-6,
    temperature_f: float = 68.0,
    barbs: int = 0,
    barb_bore_in: float | None = None,
    bore_least_in: float | None = None,
    assumed: tuple[Line, ...] = (),
) -> FrictionAnswer:
    """Pressure that a steady flow loses along a pipe and through the barbs in it.

    Parameters
    ----------
    bore_in : float
        Inside diameter, above 0. [in]
    flow_gpm : float
        Flow, above 0. [gpm]
    length_ft : float
        Length of pipe, 0 or more. [ft]
    method : str
        ``darcy`` or ``hazen_williams``: which rules the answer; the other is shown beside it.
    c : float
        Hazen–Williams C, 60 to 160. [1]
    roughness_m : float
        Wall roughness, 0 or more. [m]
    temperature_f : float
        Water temperature, 36 to 140. [°F]
    barbs : int
        Barbs in line. [1]
    barb_bore_in : float, optional
        Bore of a barb; needed with ``barbs``. [in]
    bore_least_in : float, optional
        Smallest bore that the pipe's standard allows, where ``bore_in`` is the mean. [in]
    assumed : tuple of Line
        Defaults that the caller filled in, shown with the working.

    Returns
    -------
    FrictionAnswer
        Loss with its working. [psi]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    darcy-weisbach and hazen-williams. Status: secondary.
    """
    require(bore_in, "bore", above=0.0, unit="in")
    require(flow_gpm, "flow", above=0.0, unit="gpm")
    require(length_ft, "length", at_least=0.0, unit="ft")
    require(c, "c", at_least=60.0, at_most=160.0)
    water = water_at(temperature_f)
    velocity = velocity_ft_s(flow_gpm, bore_in)
    reynolds = reynolds_number(flow_gpm, bore_in, water.kinematic_viscosity_m2_s)
    roughness = roughness_m / (bore_in * M_PER_IN)
    factor = friction_factor(reynolds, roughness)
    darcy = darcy_loss_ft_per_100ft(factor, bore_in, velocity)
    hazen = hazen_williams_loss_ft_per_100ft(flow_gpm, bore_in, c)
    rules = hazen if method == "hazen_williams" else darcy
    psi_ft = psi_per_ft(water.density_kg_m3)
    pipe_psi = rules * length_ft / 100.0 * psi_ft
    barb_psi = barb_loss_ft(barbs, barb_bore_in or bore_in, bore_in, velocity) * psi_ft
    moves = regime(reynolds)
    most = None
    if bore_least_in is not None:
        most = friction(
            bore_in=bore_least_in,
            flow_gpm=flow_gpm,
            length_ft=length_ft,
            method=method,
            c=c,
            roughness_m=roughness_m,
            temperature_f=temperature_f,
            barbs=barbs,
            barb_bore_in=None if barb_bore_in is None else min(barb_bore_in, bore_least_in),
        )
    limit = hydraulics()["velocity_limit"]
    fast = velocity > limit.value
    return FrictionAnswer(
        verdict="fast" if fast else "fine",
        headline=_headline(length_ft, pipe_psi + barb_psi, most, flow_gpm, velocity),
        cautions=(
            *_notes(method, moves, velocity, bore_in, fast=fast),
            *caution("local_code"),
        ),
        working=(
            *assumed,
            *_working(
                viscosity_m2_s=water.kinematic_viscosity_m2_s,
                bore_in=bore_in,
                flow_gpm=flow_gpm,
                velocity=velocity,
                reynolds=reynolds,
                factor=factor,
                roughness=roughness,
            ),
            worked(
                "head_loss_darcy",
                darcy,
                f=precise(factor),
                D=precise(bore_in, "in"),
                V=precise(velocity, "ft/s"),
                g=precise(GRAVITY, "ft/s²"),
            ),
            worked(
                "head_loss_hazen",
                hazen,
                C=precise(c),
                Q=precise(flow_gpm, "gpm"),
                d=precise(bore_in, "in"),
            ),
            worked(
                "loss_in_the_pipe",
                pipe_psi,
                rests=water,
                h=precise(rules, "ft per 100 ft"),
                L=precise(length_ft, "ft"),
                w=precise(psi_ft, "psi/ft"),
            ),
            worked(
                "loss_in_the_barbs",
                barb_psi,
                n=barbs,
                b=precise((barb_bore_in or bore_in) / bore_in),
                V=precise(velocity, "ft/s"),
                g=precise(GRAVITY, "ft/s²"),
                w=precise(psi_ft, "psi/ft"),
            ),
            *_most_line(length_ft, psi_ft, most),
        ),
        loss_psi=pipe_psi + barb_psi,
        loss_ft_per_100ft=rules,
        velocity_ft_s=velocity,
        reynolds=reynolds,
        friction_factor=factor,
        regime=moves,
        method=method,
        pipe_loss_psi=pipe_psi,
        barb_loss_psi=barb_psi,
        darcy_ft_per_100ft=darcy,
        hazen_williams_ft_per_100ft=hazen,
        c=c,
        temperature_f=temperature_f,
        bore_in=bore_in,
        bore_least_in=bore_least_in,
        loss_most_psi=None if most is None else most.loss_psi,
    )


def _headline(
    length_ft: float, loss_psi: float, most: FrictionAnswer | None, flow_gpm: float, velocity: float
) -> Text:
    figures = {
        "length": Figure(length_ft, "ft", 0),
        "loss": Figure(loss_psi, "psi", 2),
        "flow": Figure(flow_gpm, "gpm", 2),
        "velocity": Figure(velocity, "ft/s", 1),
    }
    if most is None:
        return say(
            "{length} of this pipe take {loss} at {flow}; the water moves at {velocity}.",
            **figures,
        )
    return say(
        "{length} of this pipe likely take {loss} at {flow}, and {most} with the smallest legal "
        "bore: count on that. The water moves at {velocity}.",
        most=Figure(most.loss_psi, "psi", 2),
        **figures,
    )


def _most_line(length_ft: float, psi_ft: float, most: FrictionAnswer | None) -> tuple[Line, ...]:
    if most is None:
        return ()
    return (
        worked(
            "loss_with_least_bore",
            most.loss_psi,
            {
                "h": precise(most.loss_ft_per_100ft, "ft per 100 ft"),
                "L": precise(length_ft, "ft"),
                "w": precise(psi_ft, "psi/ft"),
                "barbs": precise(most.barb_loss_psi, "psi"),
                "least bore": precise(most.bore_in, "in"),
            },
        ),
    )


def _working(
    *,
    viscosity_m2_s: float,
    bore_in: float,
    flow_gpm: float,
    velocity: float,
    reynolds: float,
    factor: float,
    roughness: float,
) -> tuple[Line, ...]:
    """The lines that both methods share."""
    return (
        worked("velocity", velocity, Q=precise(flow_gpm, "gpm"), d=precise(bore_in, "in")),
        worked(
            "reynolds_number",
            reynolds,
            V=precise(velocity, "ft/s"),
            D=precise(bore_in, "in"),
            ν=precise(viscosity_m2_s, "m²/s"),
        ),
        worked(
            "friction_factor_laminar" if reynolds < LAMINAR_BELOW else "friction_factor",
            factor,
            {"Re": precise(reynolds), "ε/D": precise(roughness)},
        ),
    )


def _notes(
    method: str, moves: str, velocity: float, bore_in: float, *, fast: bool
) -> tuple[Text, ...]:
    """What the reader must know of this figure's limits."""
    rows = hydraulics()
    notes = []
    if fast:
        notes.append(
            say(
                "{velocity} is over the usual limit of {limit}. Use a larger bore or less flow.",
                velocity=Figure(velocity, "ft/s", 1),
                limit=Figure(rows["velocity_limit"].value, "ft/s"),
            )
        )
    if moves == "transition":
        notes.append(
            say(
                "Flow is between smooth and tumbling (transition). "
                "The real loss may be less; the larger figure is used."
            )
        )
    slow, small = rows["hw_low_velocity"].value, rows["hw_low_bore"].value
    if method == "hazen_williams" and (velocity < slow or bore_in < small):
        notes.append(
            say(
                "Hazen–Williams drifts below {velocity} and in bores under {bore}. "
                "Prefer the Darcy figure here.",
                velocity=Figure(slow, "ft/s"),
                bore=Figure(small, "in", 1),
            )
        )
    return tuple(notes)
