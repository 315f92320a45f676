"""One job's line worked out whole: supply, pipe, regulator, tubing, surge and joints.

Nothing is calculated here that another module of the engine does not calculate; this puts the
answers in the order in which water meets them and names the first thing that would give.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from fieldkit.engine.hydraulics.hold import Held, HeldJoint, hold, joint_limit
from fieldkit.engine.hydraulics.lateral import LateralAnswer, compensates, lateral
from fieldkit.engine.hydraulics.march import Layout, Pipe, with_barbs
from fieldkit.engine.hydraulics.pipe_loss import FrictionAnswer, friction
from fieldkit.engine.hydraulics.surge import SurgeAnswer, surge, wave_speed_ft_s
from fieldkit.engine.problems import OutOfRange
from fieldkit.engine.strength import HOLDS
from fieldkit.engine.words import Text
from fieldkit.tables.fittings import is_tube_joint
from fieldkit.tables.hydraulics import figure


@dataclass(frozen=True, slots=True)
class Tubing:
    """A size of tubing that could be laid."""

    name: str
    od_in: float
    bore_in: float
    wave_modulus_psi: float


@dataclass(frozen=True, slots=True)
class Rigid:
    """The rigid pipe from the supply to the tubing."""

    name: str
    od_in: float
    wall_in: float
    bore_in: float
    length_ft: float
    wave_modulus_psi: float


@dataclass(frozen=True, slots=True)
class Demand:
    """What the line must give: ``outlets`` of ``gph`` each, ``spacing_ft`` apart."""

    outlets: int
    gph: float
    spacing_ft: float
    exponent: float
    rise: float = 0.0

    @property
    def flow_gpm(self) -> float:
        """Flow of all outlets. [gpm]"""
        return self.outlets * self.gph / 60.0

    @property
    def length_ft(self) -> float:
        """Length of the line. [ft]"""
        return self.outlets * self.spacing_ft


@dataclass(frozen=True, slots=True)
class Head:
    """What stands between the rigid pipe and the tubing."""

    available_psi: float
    regulator_needed: bool
    regulator_psi: float | None
    inlet_psi: float
    enough: bool


@dataclass(frozen=True, slots=True)
class Fit:
    """How one size of tubing does: ``serves`` is pressure, evenness and speed together."""

    tubing: Tubing
    serves: bool
    velocity_ft_s: float
    variation_pct: float | None
    end_psi: float | None
    longest_ft: float
    flow_gpm: float = 0.0


def head_of(
    *,
    static_psi: float,
    main_loss_psi: float,
    joint_limit_psi: float,
    has_regulator_psi: float | None,
) -> Head:
    """Pressure at the tubing's start, and whether it must be regulated down.

    With everything shut the whole static pressure reaches the tubing, so that, and not the
    running pressure, decides whether a regulator is needed. Its setting is kept within the
    usual ones and within 0.72 of what the weakest tubing joint holds, hot.

    Parameters
    ----------
    static_psi : float
        Pressure at the supply with everything shut. [psi]
    main_loss_psi : float
        Loss in the rigid pipe while it runs. [psi]
    joint_limit_psi : float
        What the weakest joint of the tubing holds, hot. [psi]
    has_regulator_psi : float, optional
        Setting of a regulator that is there. [psi]

    Returns
    -------
    Head
        Pressures, and whether there is enough. [psi]

    Source
    ------
    nrcs-mo-livestock for 0.72; drip-blowoff-pages for settings. Status: secondary.
    """
    room = figure("surge_unknown_share") * joint_limit_psi
    available = static_psi - main_loss_psi - figure("filter_drop")
    low, high = figure("regulator_low"), figure("regulator_high")
    # Below the lowest setting a regulator has nothing to do.
    needed = has_regulator_psi is None and static_psi > min(max(room, low), high)
    setting = has_regulator_psi
    if needed:
        setting = max(low, min(figure("regulator_default"), room))
    if setting is None:
        return Head(available, False, None, available, available > 0.0)
    inlet = min(setting, available - figure("regulator_drop"))
    return Head(available, needed, setting, inlet, inlet > 0.0)


def fit_of(tubing: Tubing, demand: Demand, inlet_psi: float, allowed: float) -> Fit:
    """How a size of tubing does with the line's outlets at a pressure.

    Parameters
    ----------
    tubing : Tubing
        The size. [in]
    demand : Demand
        What it must give. [gph]
    inlet_psi : float
        Pressure where the tubing begins, above 0. [psi]
    allowed : float
        Spread of pressure allowed, as a share. [1]

    Returns
    -------
    Fit
        Whether it serves, and how long it could be. [ft]

    Source
    ------
    christiansen, ep405, nrcs-430. Status: secondary.
    """
    try:
        line = line_of(tubing, demand, inlet_psi, allowed, outlets=demand.outlets)
    except OutOfRange:
        return Fit(tubing, False, 0.0, None, None, _longest(tubing, demand, inlet_psi, allowed))
    serves = line.verdict == "even" and line.inlet_velocity_ft_s <= figure("velocity_limit")
    return Fit(
        tubing,
        serves,
        line.inlet_velocity_ft_s,
        line.pressure_variation_pct,
        line.end_pressure_psi,
        line.max_length_ft,
        flow_gpm=line.inlet_flow_gpm,
    )


def _longest(tubing: Tubing, demand: Demand, inlet_psi: float, allowed: float) -> float:
    try:
        return line_of(tubing, demand, inlet_psi, allowed, outlets=None).max_length_ft
    except OutOfRange:
        return 0.0


@lru_cache(maxsize=64)  # what is near a line is looked for by asking for the same again and again
def line_of(
    tubing: Tubing, demand: Demand, inlet_psi: float, allowed: float, *, outlets: int | None
) -> LateralAnswer:
    """The march along one size of tubing."""
    return lateral(
        pipe=with_barbs(Pipe(tubing.bore_in, c=figure("c_pe"), rise=demand.rise)),
        layout=Layout(demand.spacing_ft, demand.spacing_ft),
        outlet_gph=demand.gph,
        inlet_psi=inlet_psi,
        exponent=demand.exponent,
        allowed=allowed,
        outlets=outlets,
        least_psi=figure("emitter_least") if compensates(demand.exponent) else None,
        beside=False,
    )


@dataclass(frozen=True, slots=True)
class Pressures:
    """What each side of the job sees when the valve shuts."""

    rigid: SurgeAnswer
    tube: SurgeAnswer
    rigid_joints: tuple[Held, ...]
    tube_joints: tuple[Held, ...]


def pressures_of(
    *,
    rigid: Rigid,
    tubing: Tubing,
    head: Head,
    static_psi: float,
    rigid_velocity: float,
    tube_velocity: float,
    tube_length_ft: float,
    closing_s: float | None,
    valve: str | None,
    joints: tuple[HeldJoint, ...],
    temperature_f: float,
    rigid_temperature_f: float,
) -> Pressures:
    """Surge on both sides of the regulator, and every joint against it.

    The rigid joints see static pressure and the surge of a valve that shuts on their pipe.
    Without a regulator the tubing's joints see static pressure and what passes on of that wave.
    Behind one they see its setting, and 0.72 of their limit must be enough, since what gets
    through a regulator is not worked out. ``tube`` is for show: a valve in the tubing itself.

    Parameters
    ----------
    rigid : Rigid
        The rigid pipe. [in]
    tubing : Tubing
        The tubing. [in]
    head : Head
        Regulator and pressures. [psi]
    static_psi : float
        Pressure with everything shut. [psi]
    rigid_velocity : float
        Velocity in the rigid pipe. [ft/s]
    tube_velocity : float
        Velocity at the start of the tubing. [ft/s]
    tube_length_ft : float
        Length of the tubing. [ft]
    closing_s : float, optional
        Time that the valve takes to shut. [s]
    valve : str, optional
        What kind of valve it is; the worst where not told.
    joints : tuple of HeldJoint
        The joints of the assembly.
    temperature_f : float
        Hottest that the tubing gets. [°F]
    rigid_temperature_f : float
        Hottest that the rigid side gets. [°F]

    Returns
    -------
    Pressures
        Surges and verdicts. [psi]

    Raises
    ------
    OutOfRange
        Hotter than the heat table.

    Source
    ------
    joukowsky, lingireddy-wood. Status: secondary.
    """
    tube_wall = (tubing.od_in - tubing.bore_in) / 2.0
    tube_wave = wave_speed_ft_s(tubing.od_in, tube_wall, tubing.wave_modulus_psi)
    in_rigid = surge(
        od_in=rigid.od_in,
        wall_in=rigid.wall_in,
        modulus_psi=rigid.wave_modulus_psi,
        velocity_change=rigid_velocity,
        static_psi=static_psi,
        length_ft=rigid.length_ft,
        closure_seconds=closing_s,
        valve=valve,
        onward=((tubing.bore_in, tube_wave),),
    )
    in_tube = surge(
        od_in=tubing.od_in,
        wall_in=tube_wall,
        modulus_psi=tubing.wave_modulus_psi,
        velocity_change=tube_velocity,
        static_psi=static_psi if head.regulator_psi is None else head.regulator_psi,
        length_ft=tube_length_ft,
        closure_seconds=closing_s,
        valve=valve,
    )
    behind = head.regulator_psi is not None
    tube_static = static_psi if head.regulator_psi is None else head.regulator_psi
    sides: list[tuple[Held, ...]] = []
    for tubular, static, rise, heat in (
        (False, static_psi, in_rigid.surge_psi, rigid_temperature_f),
        (True, tube_static, None if behind else in_rigid.transmitted_psi, temperature_f),
    ):
        side = tuple(joint for joint in joints if is_tube_joint(joint.kind) == tubular)
        sides.append(
            hold(side, static_psi=static, surge_psi=rise, temperature_f=heat).joints if side else ()
        )
    return Pressures(in_rigid, in_tube, sides[0], sides[1])


def weakest_tube_limit(joints: tuple[HeldJoint, ...], temperature_f: float) -> float:
    """What the weakest tubing joint holds, hot. [psi]"""
    limits = [
        joint_limit(joint, temperature_f).hot_psi for joint in joints if is_tube_joint(joint.kind)
    ]
    return min(limits, default=figure("regulator_high"))


def main_loss(rigid: Rigid, flow_gpm: float) -> FrictionAnswer:
    """Loss in the rigid pipe while everything runs."""
    return friction(
        bore_in=rigid.bore_in, flow_gpm=flow_gpm, length_ft=rigid.length_ft, c=figure("c_pvc")
    )


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong and what would put it right, worst first."""

    what: Text
    change: Text


def weak_joints(joints: tuple[tuple[Held, float], ...]) -> tuple[tuple[Held, float], ...]:
    """The joints that do not hold well, with the pressure they see; the first to give first."""
    weak = [pair for pair in joints if pair[0].verdict != HOLDS]
    return tuple(sorted(weak, key=lambda pair: -pair[1] / max(pair[0].limit_psi, 1e-9)))
