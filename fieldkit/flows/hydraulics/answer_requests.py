"""Answers the calculations ``friction``, ``lateral``, ``surge`` and ``hold``."""

from __future__ import annotations

import dataclasses
import math

from fieldkit.engine.hydraulics.friction import velocity_ft_s
from fieldkit.engine.hydraulics.hold import HoldAnswer, hold
from fieldkit.engine.hydraulics.lateral import (
    LateralAnswer,
    compensates,
    emitter_of,
    lateral,
)
from fieldkit.engine.hydraulics.march import Layout
from fieldkit.engine.hydraulics.pipe_loss import FrictionAnswer, friction
from fieldkit.engine.hydraulics.submain import submain
from fieldkit.engine.hydraulics.surge import SurgeAnswer, surge
from fieldkit.engine.working import Line, worked
from fieldkit.flows.hydraulics.request import (
    read_barbs,
    read_bore,
    read_c,
    read_joints,
    read_layout,
    read_line_pipe,
    read_method,
    read_onward,
    read_roughness_m,
    read_share,
    read_sizes,
    read_surge,
    read_temperature,
    read_valve,
    read_wave_pipe,
    usual,
)
from fieldkit.typed.request import Request


def ask_friction(request: Request) -> FrictionAnswer:
    """Loss along one pipe of steady flow, with the barbs in it."""
    owned: list[Line] = []
    bore, sizes = read_bore(request)
    length = request.quantity("length", "ft", at_least=0.0)
    if length is None:
        length = 100.0
        owned.append(worked("assumed_length", length))
    return friction(
        bore_in=bore,
        flow_gpm=request.need_quantity("flow", "gpm"),
        length_ft=length,
        method=read_method(request, owned, "darcy"),
        c=read_c(request, sizes.material, owned),
        roughness_m=read_roughness_m(request, owned),
        temperature_f=read_temperature(request, owned),
        barbs=_barbs(request),
        barb_bore_in=request.quantity("barb_bore", "in"),
        bore_least_in=sizes.bore_least_in,
        assumed=tuple(owned),
    )


def _barbs(request: Request) -> int:
    count = request.whole("barbs", default=0, at_most=10_000) or 0
    if count and not request.has("barb_bore"):
        raise request.missing("barb_bore", "0.50 in")
    return count


def ask_lateral(request: Request) -> LateralAnswer:
    """A line of emitters: its longest run, or the run that ``length`` or ``outlets`` gives."""
    owned: list[Line] = []
    pipe = read_barbs(request, read_line_pipe(request, owned), owned)
    layout = read_layout(request)
    inlet = request.need_quantity("inlet_pressure", "psi")
    gph = request.need_quantity("outlet_flow", "gph")
    rated = request.quantity("outlet_pressure", "psi")
    exponent = request.quantity("exponent", "")
    if exponent is None:
        exponent = usual("exponent_default", owned)
    if rated is None:
        owned.append(_rated_line(inlet))
    allowed = read_share(request, "variation", "variation_usual", owned)
    least = request.quantity("least_pressure", "psi", at_least=0.0)
    most = request.quantity("most_pressure", "psi", at_least=0.0)
    if least is None and compensates(exponent):
        least = usual("emitter_least", owned)
    cv = read_share(request, "cv", "cv_default", owned)
    plant = request.quantity("emitters_per_plant", "") or 1.0
    outlets = _outlets(request, layout)

    def line_from(inlet_psi: float) -> LateralAnswer:
        return lateral(
            pipe=pipe,
            layout=layout,
            outlet_gph=gph,
            inlet_psi=inlet_psi,
            exponent=exponent,
            rated_psi=inlet if rated is None else rated,
            allowed=allowed,
            cv=cv,
            emitters_per_plant=plant,
            outlets=outlets,
            least_psi=least,
            most_psi=most,
            assumed=tuple(owned),
        )

    if not request.has("submain"):
        return line_from(inlet)
    if outlets is None:
        raise request.missing("outlets", "50")
    main = request.child("submain")
    main_owned: list[Line] = []
    main_pipe, main_layout = read_line_pipe(main, main_owned), read_layout(main)
    owned.extend(line for line in main_owned if line not in owned)
    laterals = main.whole("laterals", at_least=1, at_most=500)
    if laterals is None:
        raise main.missing("laterals", "6")
    _, branches = submain(
        pipe=main_pipe,
        layout=main_layout,
        laterals=laterals,
        inlet_psi=inlet,
        lateral_pipe=pipe,
        lateral_layout=layout,
        draw=emitter_of(gph, exponent, inlet, rated, least),
        outlets=outlets,
    )
    worst = min(branches, key=lambda branch: min(branch.pressures_psi))
    answer = line_from(worst.inlet_pressure_psi)
    return dataclasses.replace(answer, branches=branches)


def _rated_line(inlet_psi: float) -> Line:
    return worked("assumed_outlet_pressure", inlet_psi)


def _outlets(request: Request, layout: Layout) -> int | None:
    """How many outlets the line has, by ``outlets`` or by ``length``; None asks the longest."""
    outlets = request.whole("outlets", at_least=1, at_most=5000)
    length = request.quantity("length", "ft", at_least=0.0)
    if outlets is not None or length is None:
        return outlets
    return max(1, math.floor((length - layout.first_ft) / layout.spacing_ft + 1e-9) + 1)


def ask_surge(request: Request) -> SurgeAnswer:
    """The knock of a valve that shuts, and what a joint into other pipes passes on."""
    owned: list[Line] = []
    told = request.child("pipe") if request.has("pipe") else request
    od, wall, modulus = read_wave_pipe(told, owned)
    # A flow stops faster water in the smallest legal bore: the unsafe end.
    bore = read_sizes(told).bore_least_in or od - 2.0 * wall
    static = request.quantity("static_pressure", "psi")
    if static is None:
        owned.append(worked("assumed_static_pressure", 0.0))
    return surge(
        od_in=od,
        wall_in=wall,
        modulus_psi=modulus,
        velocity_change=_velocity_change(request, bore),
        static_psi=static or 0.0,
        length_ft=request.quantity("length", "ft"),
        closure_seconds=request.quantity("closure_seconds", "s"),
        valve=read_valve(request),
        onward=read_onward(request, owned),
        assumed=tuple(owned),
    )


def _velocity_change(request: Request, bore_in: float) -> float:
    """The velocity that is stopped, or the flow that is; its sign does not matter."""
    if not request.has("velocity_change") and request.has("flow"):
        return velocity_ft_s(abs(request.need_quantity("flow", "gpm")), bore_in)
    return abs(request.need_quantity("velocity_change", "ft/s"))


def ask_hold(request: Request) -> HoldAnswer:
    """Whether every joint holds static pressure and surge, hot."""
    owned: list[Line] = []
    temperature = request.quantity("temperature", "°F")
    if temperature is None:
        temperature = 73.0
        owned.append(worked("assumed_temperature", temperature))
    return hold(
        read_joints(request),
        static_psi=request.need_quantity("static_pressure", "psi"),
        surge_psi=read_surge(request),
        temperature_f=temperature,
        assumed=tuple(owned),
    )
