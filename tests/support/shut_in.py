"""A shut-in line played out apart from the program, to count how often its verdict is wrong.

``python tests/support/shut_in.py 500`` plays 500 tests for each line and prints the rates.

The line is a mass of IAPWS-97 water in a tube whose wall is solved in displacements, with air as
a gas, a leak through a hole, and walls, moduli and growth drawn from what may be sold. What the
program is told is only what a crew would read: a gauge to half a mark, a thermometer in steps.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from dataclasses import dataclass
from functools import cache
from random import Random

import numpy as np
from iapws import IAPWS97
from scipy.interpolate import RectBivariateSpline
from scipy.optimize import brentq

from fieldkit.engine.line_pipe import line_pipe
from fieldkit.engine.pressure_test.figures import HeldLine, Reading
from fieldkit.engine.pressure_test.leak_bound import PumpIn
from fieldkit.engine.pressure_test.line_stiffness import segment_of
from fieldkit.engine.pressure_test.verdict import judge_line
from fieldkit.tables.materials import materials

_PA_PER_PSI, _ATMOSPHERE_PSI = 6894.757293168, 14.696
LIMIT = 4.0  # mL/min: the leak that matters


@dataclass(frozen=True)
class Kind:
    """One kind of line and how it is tested; ``air`` is the most that is left in it."""

    name: str
    material: str
    nominal: str
    pipe_class: str | None
    length_ft: float
    restraint: str
    psi: float
    water_f: tuple[float, float]
    drift_f: float
    minutes: float
    division: float
    step_f: float = 1.0
    settled: float | None = 30.0
    air: float = 0.02
    pump_in: bool = False


KINDS = (
    Kind("2 in Sch 40, buried", "pvc", "2", "Sch 40", 300, "buried", 100, (50, 75), 1, 60, 1),
    Kind("3/4 in Sch 40, open, hot", "pvc", "3/4", "Sch 40", 200, "free", 80, (85, 105), 3, 60, 1),
    Kind("1/2 in Sch 40, open, hot", "pvc", "1/2", "Sch 40", 100, "free", 60, (85, 105), 3, 60, 2),
    Kind("1 in SDR 21", "pvc", "1", "SDR 21", 300, "buried", 80, (55, 80), 1, 60, 2, settled=None),
    Kind("1 in Sch 40, 30 min", "pvc", "1", "Sch 40", 150, "buried", 90, (55, 80), 1, 30, 2, 2.0),
    Kind("drip zone", "drip", "1/2", None, 200, "free", 30, (60, 90), 2, 30, 1, settled=None),
    Kind("4 in Sch 40, 700 ft, 2 h", "pvc", "4", "Sch 40", 700, "buried", 100, (55, 80), 1, 120, 2),
    Kind(
        "2 in, to 5 % air, pumped",
        "pvc",
        "2",
        "Sch 40",
        300,
        "buried",
        80,
        (50, 75),
        1,
        60,
        1,
        air=0.05,
        pump_in=True,
    ),
)

#: What may be sold, apart from the program's tables: modulus at 73 °F, its share lost for each
#: °F above, Poisson, growth with heat, and stretch for a tenfold time.
_SOLD = {
    "pvc": ((372e3, 428e3), 0.005, (0.35, 0.41), (2.7e-5, 3.4e-5), (0.01, 0.03)),
    "drip": ((42e3, 78e3), 0.010, (0.42, 0.48), (0.8e-4, 1.2e-4), (0.1, 0.3)),
}


@cache
def _density() -> RectBivariateSpline:
    """Density of water by temperature [°F] and absolute pressure [psi], from IAPWS-97."""
    heats, pressures = np.linspace(40, 125, 18), np.linspace(5, 205, 9)
    rows = [
        [IAPWS97(T=(f + 459.67) / 1.8, P=p * _PA_PER_PSI / 1e6).rho for p in pressures]
        for f in heats
    ]
    return RectBivariateSpline(heats, pressures, rows)


def swelling(bore: float, wall: float, poisson: float, restraint: str) -> float:
    """Volume strain of the bore for a pressure of one modulus, by displacements.

    u = A r + B / r with an axial strain e; the three follow from the radial stress at both
    faces and from how the ends are held.
    """
    a, b, nu = bore / 2, bore / 2 + wall, poisson
    lame, shear = nu / ((1 + nu) * (1 - 2 * nu)), 1 / (2 * (1 + nu))

    def radial(r: float) -> list[float]:
        return [2 * (lame + shear), -2 * shear / r**2, lame]

    axial = [2 * lame, 0.0, lame + 2 * shear]
    end = {
        "buried": ([0.0, 0.0, 1.0], 0.0),
        "gasketed": (axial, 0.0),
        "free": (axial, a**2 / (b**2 - a**2)),
    }[restraint]
    rows = [radial(a), radial(b), end[0]]
    big_a, big_b, e = np.linalg.solve(rows, [-1.0, 0.0, end[1]])
    along = 0.0 if restraint == "gasketed" else e  # rings slip: the line keeps its length
    return float(2 * (big_a + big_b / a**2) + along)


def grown(alpha: float, poisson: float, restraint: str) -> float:
    """Volume growth of a bore for each degree."""
    across = alpha * (1 + poisson) if restraint == "buried" else alpha
    along = alpha if restraint == "free" else 0.0
    return 2 * across + along


@dataclass(frozen=True)
class Played:
    """What a test was, and what was made of it."""

    leak: float
    verdict: str
    upper: float
    lower: float
    shows: float


def play(kind: Kind, leak_ml_min: float, chance: Random) -> Played:
    """One test of one line that leaks so much at its start."""
    row = line_pipe(kind.material, kind.nominal, kind.pipe_class)
    modulus, fall, poisson, growth, stretch = _SOLD[kind.material]
    start_f = chance.uniform(*kind.water_f)
    stiff = chance.uniform(*modulus) * (1 - fall * (start_f - 73))
    nu, alpha, rate = (chance.uniform(*span) for span in (poisson, growth, stretch))
    wall = row.wall_in + chance.uniform(-(row.wall_minus_in or 0), row.wall_plus_in or 0)
    bore = row.od_in + chance.uniform(-row.od_minus_in, row.od_plus_in) - 2 * wall
    give = swelling(bore, wall, nu, kind.restraint) / stiff
    swell = grown(alpha, nu, kind.restraint)
    volume = math.pi / 4 * bore**2 * kind.length_ft * 12 * 16.387064
    air = chance.uniform(0, kind.air) * volume  # at no pressure
    since = kind.settled or chance.uniform(2, 60)
    end_f = start_f + chance.uniform(-kind.drift_f, kind.drift_f)
    first = kind.psi * chance.uniform(0.95, 1.05)

    def vessel(psi: float, heat_f: float, minutes: float) -> float:
        slow = rate * math.log10((since + minutes) / since)
        return volume * (1 + give * (psi + (psi + first) / 2 * slow) + swell * (heat_f - start_f))

    def water_g(psi: float, heat_f: float, minutes: float) -> float:
        absolute = psi + _ATMOSPHERE_PSI
        gas = air * _ATMOSPHERE_PSI / absolute * (heat_f + 459.67) / (start_f + 459.67)
        rho = float(_density()(heat_f, absolute)[0, 0]) / 1000
        return rho * (vessel(psi, heat_f, minutes) - gas)

    def too_full(psi: float, heat_f: float, minutes: float, mass: float) -> float:
        return water_g(psi, heat_f, minutes) - mass

    mass, psi, lost, steps = water_g(first, start_f, 0), first, 0.0, 6
    for n in range(1, steps + 1):
        out = leak_ml_min * math.sqrt(max(psi, 0) / first) * kind.minutes / steps
        lost, mass = lost + out, mass - out
        heat, minutes = start_f + (end_f - start_f) * n / steps, kind.minutes * n / steps
        if water_g(0.0, heat, minutes) > mass:
            psi = 0.0
            break
        psi = brentq(too_full, 0, 190, args=(heat, minutes, mass), xtol=1e-3)

    def gauge(true_psi: float) -> float:
        return round(true_psi / kind.division * 2) / 2 * kind.division

    def thermometer(true_f: float) -> float:
        return round(chance.gauss(true_f, 0.5) / kind.step_f) * kind.step_f

    took = water_g(first, start_f, 0) - water_g(0.0, start_f, 0)
    pumped = PumpIn(took * chance.uniform(0.95, 1.05), 0.0, gauge(first)) if kind.pump_in else None
    segment = segment_of(row, materials()[row.material], kind.length_ft)
    found = judge_line(
        HeldLine(
            segments=(segment,),
            restraint=kind.restraint,
            readings=(
                Reading(0, gauge(first), thermometer(start_f)),
                Reading(kind.minutes, gauge(psi), thermometer(end_f)),
            ),
            visible_leak=False,
            gauge_division_psi=kind.division,
            thermometer_step_f=kind.step_f,
            minutes_since_pumped=kind.settled,
            pump_in=pumped,
        )
    )
    return Played(
        lost / kind.minutes,
        found.verdict,
        found.leak_upper_ml_per_min,
        found.leak_lower_ml_per_min,
        found.shows_ml_per_min,
    )


@dataclass(frozen=True)
class Rates:
    """Shares of the tests of one kind of line, in per cent, and what they would show."""

    name: str
    false_alarm: float
    repeat: float
    false_pass: float
    caught: float
    over_bound: float
    under_bound: float
    shows: float


def rates(kind: Kind, tests: int, seed: int = 1) -> Rates:
    """Play a kind of line tight, with leaks over the limit, and with small ones."""
    chance = Random(f"{seed} {kind.name}")  # noqa: S311  -- a simulation
    tight = [play(kind, 0.0, chance) for _ in range(tests)]
    # A leak slows as the pressure falls: the hole is wider, and the mean over the hold counts.
    bad = [play(kind, LIMIT * chance.uniform(1.1, 3.0), chance) for _ in range(tests)]
    small = [play(kind, chance.uniform(0.2, 3.0), chance) for _ in range(tests)]
    judged = Counter(one.verdict for one in tight)
    leaking = [one for one in bad if one.leak > LIMIT] or bad
    passed = sum(one.verdict == "holds" for one in leaking)
    every = tight + bad + small
    return Rates(
        kind.name,
        100 * judged["leaks"] / tests,
        100 * judged["repeat"] / tests,
        100 * passed / len(leaking),
        100 * sum(one.verdict == "leaks" for one in leaking) / len(leaking),
        100 * sum(one.leak > one.upper for one in every) / len(every),
        100 * sum(one.leak < one.lower - 1e-9 for one in every) / len(every),
        sum(one.shows for one in tight) / tests,
    )


COLUMNS = ("false_alarm", "repeat", "false_pass", "caught", "over_bound", "under_bound", "shows")


def main() -> None:
    """Print the rates of each kind of line."""
    tests = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print(" " * 26, *(f"{column:>12}" for column in COLUMNS))  # noqa: T201
    for kind in KINDS:
        found = rates(kind, tests)
        print(f"{kind.name:26}", *(f"{getattr(found, one):12.1f}" for one in COLUMNS))  # noqa: T201


if __name__ == "__main__":
    main()
