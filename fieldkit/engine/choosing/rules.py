"""From what a person asks to what the search may use: fits, ceilings, waits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

from fieldkit.engine.choosing.fit import Refusal, Tube, TubeJoint, hold_tube
from fieldkit.engine.joining.cement import COLDEST_F, HOTTEST_F, cure_time
from fieldkit.engine.pressure_test.part_ceiling import LinePart, part_ceiling
from fieldkit.engine.strength import HOLDS, share_of_limit, verdict_of
from fieldkit.engine.words import Text, say
from fieldkit.tables.fittings import TUBE_ENDS, End, fit_windows, fittings, joints
from fieldkit.tables.materials import materials
from fieldkit.tables.pipes import ips_pvc, pipes

#: Temperature assumed where none is given: that of all ratings. [°F]
RATED_AT_F = 73.0

#: Pressure that the cure is looked up for where none is given: a usual irrigation line. [psi]
CURE_FOR_PSI = 100.0

#: What can be wanted, and the plain word for it.
WANTS = {
    "reusable": say("comes apart and goes back"),
    "no_cement": say("no cement"),
    "easy_hands": say("no hard push"),
    "buried": say("may be buried out of reach"),
    "cheapest": say("cheapest"),
}


UNMEASURED = Tube(None, None)


@dataclass(frozen=True, slots=True)
class Need:
    """One request, read and in one unit each.

    ``start`` is the kind of end that the rigid side offers: ``pipe``, ``socket``,
    ``npt-male``, ``npt-female``, or a hose end. ``only`` limits the parts to those to hand.
    ``pressure_psi`` is static pressure and surge together, ``surge_psi`` the surge in it where it
    is known. ``wait_cost`` is what one wait for
    the cure costs the crew. [$]
    """

    nominal: str
    pipe_class: str = "Sch 40"
    tube: Tube = UNMEASURED
    place: str = "end"
    branches: int = 1
    valve: bool = False
    count: int = 1
    pressure_psi: float | None = None
    surge_psi: float | None = None
    temperature_f: float | None = None
    cure_temperature_f: float | None = None
    humidity_pct: float | None = None
    wants: frozenset[str] = frozenset()
    prices: Mapping[str, float] | None = None
    prices_illustrative: bool = False
    start: str = "pipe"
    start_metal: bool = False
    only: frozenset[str] | None = None
    labour_per_hour: float = 0.0
    wait_cost: float = 0.0
    pipe_od_in: float | None = None
    pipe_material: str = "pvc"
    class_assumed: bool = False

    def with_room(self, bears_psi: float) -> bool:
        """Whether that bears the pressure asked with room to spare, by the rule of ``hold``."""
        if self.pressure_psi is None:
            return True
        static = self.pressure_psi - (self.surge_psi or 0.0)
        return verdict_of(static, self.surge_psi, bears_psi) == HOLDS

    @property
    def room_psi(self) -> float:
        """What a joint must bear to leave that room. [psi]"""
        return (self.pressure_psi or 0.0) / share_of_limit(self.surge_psi).value

    @property
    def hottest_f(self) -> float:
        """Temperature that the joints are rated at. [°F]"""
        return RATED_AT_F if self.temperature_f is None else self.temperature_f

    @property
    def curing_f(self) -> float:
        """Coldest temperature of the cure. Heat in use never shortens it. [°F]"""
        if self.cure_temperature_f is not None:
            return self.cure_temperature_f
        return min(self.hottest_f, RATED_AT_F)


@cache
def sizes() -> tuple[str, ...]:
    """Every size that a rigid end of a listed part has."""
    ends = (end for part in fittings().values() for end in part.ends)
    return tuple(sorted({end.size for end in ends if end.kind not in TUBE_ENDS}))


def cure_minutes(need: Need, nominal: str) -> float:
    """Wait before pressure for a cemented joint of a size. [min]

    Raises
    ------
    OutOfRange
        Outside the published schedules.
    """
    asked = CURE_FOR_PSI if need.pressure_psi is None else need.pressure_psi
    pressure = min(asked, joints()["solvent_socket"].ceiling_psi)  # more is refused anyway
    humidity = 50.0 if need.humidity_pct is None else need.humidity_pct
    return cure_time(nominal, need.curing_f, humidity, pressure).minutes


def can_cement(need: Need) -> bool:
    """Whether the schedules of cement cover the temperature of the cure."""
    return COLDEST_F <= need.curing_f <= HOTTEST_F


def clamps_on(pipe_class: str) -> bool:
    """Whether a part may be clamped round pipe of that class: thinner walls give way."""
    return pipe_class.startswith("Sch")


def waits(need: Need) -> dict[str, float]:
    """Cure of each size; none where cement is out of the question."""
    if not can_cement(need):
        return {}
    return {size: cure_minutes(need, size) for size in sizes()}


@lru_cache(maxsize=1024)
def joint_bears(kind: str, nominal: str, pipe_class: str, temperature_f: float) -> float:
    """What a joint on the rigid side bears in the heat, long term.

    The one figure of ``part_ceiling``, which ``hold`` and plans of a test use too.

    Parameters
    ----------
    kind : str
        Id in ``joints.csv``.
    nominal : str
        Trade size of the pipe that the joint belongs to.
    pipe_class : str
        Class of that pipe; where the size has no such class, Sch 40 is taken.
    temperature_f : float
        Hottest in use, up to 140. [°F]

    Returns
    -------
    float
        Pressure. [psi]

    Source
    ------
    fitting-share-notes for welds and threads, joints.csv for the rest; ppfa-3-96 for heat.
    Status: secondary.

    Examples
    --------
    >>> int(joint_bears("solvent_socket", "2", "Sch 40", 73.0))
    166
    >>> joint_bears("npt", "1/2", "Sch 40", 120.0)
    0.0
    """
    rows = ips_pvc()
    pipe = rows.get((nominal, pipe_class)) or rows[nominal, "Sch 40"]
    return part_ceiling(LinePart(kind, pipe), temperature_f, 0.0).ceiling_psi


def tube_series(family: str) -> str:
    """The heat series of tubing: its own where it was named, else PVC's, the safe side."""
    named = {materials()[row.material].heat for row in pipes().values() if row.family == family}
    return named.pop() or "pvc" if len(named) == 1 else "pvc"


def tube_fits(tube: Tube) -> tuple[dict[End, tuple[TubeJoint, ...]], dict[End, Text]]:
    """Each tube end of the tables: the ways it holds this tubing, or why it does not."""
    holds: dict[End, tuple[TubeJoint, ...]] = {}
    refused: dict[End, Text] = {}
    for end in fit_windows():
        found = hold_tube(end, tube)
        if isinstance(found, Refusal):
            refused[end] = found.why
        else:
            holds[end] = found
    return holds, refused


def unwanted(kind: str, wants: frozenset[str]) -> Text | None:
    """Why a joint is left out for the sake of what was wanted, or None."""
    row = joints()[kind]
    if "no_cement" in wants and row.cemented:
        return say("It is cemented, and no cement was wanted.")
    if "easy_hands" in wants and row.hand_strength == 3:
        return say("It needs a hard push, and none was wanted.")
    if "buried" in wants and row.buried == "no":
        return say("This joint must stay in reach, and it will be buried.")
    return None
