"""Fittings with typed ends, the joints that pairs of ends make, and which tubing an end takes.

A property such as minutes, strength or reuse belongs to the joint that two ends make, never to
the part: a part brings only its ends. No table here carries a price; the user brings a list.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import BadTable, load

#: Ends that take tubing.
TUBE_ENDS = ("barb", "collar", "ring", "grip-tube", "micro-barb")

#: What is joined, as ends: a plain end of rigid pipe, its uncut run, and an end of tubing.
RUN_ENDS = ("pipe", "run", "tube")

#: How joints are made: with cement, by screwing, by pushing, or step by step as their row says.
MAKINGS = ("cement", "thread", "push", "steps")

REUSE = ("yes", "limited", "cut back", "no")
BURIED = ("yes", "fair", "no")


@dataclass(frozen=True, slots=True, order=True)
class End:
    """One end of a part: its kind, and its size as the trade prints it."""

    kind: str
    size: str


@dataclass(frozen=True, slots=True)
class Fitting:
    """One type and size of part. ``turns``: it leaves a rising pipe sideways."""

    id: str
    family: str
    name: str
    trade_name: str
    end_a: str
    size_a: str
    end_b: str
    size_b: str
    end_c: str
    size_c: str
    end_d: str
    size_d: str
    end_e: str
    size_e: str
    made_of: str
    turns: bool
    thread: str
    note: str
    source: str
    status: str

    @property
    def ends(self) -> tuple[End, ...]:
        """Its ends, in the order of the table."""
        pairs = (
            (self.end_a, self.size_a),
            (self.end_b, self.size_b),
            (self.end_c, self.size_c),
            (self.end_d, self.size_d),
            (self.end_e, self.size_e),
        )
        return tuple(End(kind, size) for kind, size in pairs if kind)


@dataclass(frozen=True, slots=True)
class Joint:
    """What a pair of mated ends asks of people, and what it bears.

    ``ceiling_psi`` stands where size or class is not known. ``pipe_share`` is what a moulded
    fitting leaves of the rating of equal pipe, empty where nothing is published. ``making`` is
    one of ``MAKINGS`` and ``how`` the same in words. Water is held in the ``bore`` of what is
    joined or round its ``outside``. ``end_name`` is what people call ``end_x``. ``diagnosed_as``
    is its type in the diagnosis. ``steps`` and the reason for each stand where they make it; where
    it is pushed on, ``depth`` says how far, then come the acts with its ``nut``, the ``push`` and
    the ``lock``, and what to ``watch``.
    """

    id: str
    end_x: str
    end_y: str
    name: str
    trade_name: str
    minutes: float
    cemented: bool
    reuse: str
    hand_strength: int
    ceiling_psi: float
    ceiling_note: str
    pipe_share: float | None
    share_source: str
    buried: str
    proneness: int
    undo: str
    likely_causes: tuple[str, ...]
    making: str
    how: str
    seals: str
    end_name: str
    diagnosed_as: str
    also_called: tuple[str, ...]
    steps: tuple[str, ...]
    step_whys: tuple[str, ...]
    depth: str
    nut: str
    push: str
    lock: str
    watch: str
    source: str
    status: str

    @property
    def holds_tube(self) -> bool:
        """Whether it holds tubing."""
        return self.end_y == "tube"

    @property
    def pipe_whole(self) -> bool:
        """Whether the pipe that it is made on stays uncut."""
        return self.end_y == "run"

    @property
    def on_pipe(self) -> bool:
        """Whether it is sized by the outside of rigid pipe."""
        return self.end_y in {"pipe", "spigot", "run"}


@dataclass(frozen=True, slots=True)
class FitWindow:
    """Which tubing one tube end takes: ``measure`` tells what is read, OD or ID.

    ``bore_low_in`` is the least bore of an end that is told by the outside but has a barb in
    it. ``usual_bore_in`` tells two tubes apart whose outsides nearly agree. ``thick_only`` ends
    are made for thick pipe sized by its bore, and need clamps. ``clamp`` is the size code of
    the clamps that go over it.
    """

    end_kind: str
    size: str
    label: str
    measure: str
    low_in: float
    high_in: float
    bore_low_in: float | None
    usual_bore_in: float | None
    thick_only: bool
    clamp: str
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class Sundry:
    """What is used up: joints to a pack before it is empty or spoilt, and the volume of it."""

    id: str
    name: str
    trade_name: str
    serves: str
    joints_a_pack: int
    quarts_a_pack: float | None
    source: str
    status: str
    note: str


TABLES: dict[str, type] = {
    "fittings": Fitting,
    "joints": Joint,
    "fit_windows": FitWindow,
    "sundries": Sundry,
}


@cache
def fittings() -> dict[str, Fitting]:
    """All parts by id."""
    return {row.id: row for row in load("fittings", Fitting)}


@cache
def joints() -> dict[str, Joint]:
    """All joints by kind."""
    return {row.id: row for row in load("joints", Joint)}


@cache
def made_by(making: str) -> frozenset[str]:
    """The kinds of joint that are made in one way, one of ``MAKINGS``."""
    return frozenset(row.id for row in joints().values() if row.making == making)


def made_right(diagnosed: str) -> Joint | None:
    """The kind that a type of the diagnosis ought to be: the one of them that bears most.

    Examples
    --------
    >>> made_right("barb").id, made_right("elsewhere")
    ('barb_clamped', None)
    """
    kinds = [row for row in joints().values() if row.diagnosed_as == diagnosed]
    return max(kinds, key=lambda row: row.ceiling_psi, default=None)


def is_tube_joint(kind: str) -> bool:
    """Whether it is a kind of joint that holds tubing."""
    return kind in joints() and joints()[kind].holds_tube


@cache
def rigid_ends() -> frozenset[str]:
    """The kinds of end that take a rigid pipe, another part or a thread."""
    held = (row for row in joints().values() if not row.holds_tube)
    return frozenset(end for row in held for end in (row.end_x, row.end_y)) - {*RUN_ENDS}


@cache
def fit_windows() -> dict[End, FitWindow]:
    """The window of each tube end, by kind and size."""
    return {End(row.end_kind, row.size): row for row in load("fit_windows", FitWindow)}


@cache
def sundries() -> dict[str, Sundry]:
    """What is used up, by id."""
    return {row.id: row for row in load("sundries", Sundry)}


def check() -> None:
    """The rules that reach across rows and tables.

    Raises
    ------
    BadTable
        The first row that breaks one.
    """
    _check_fittings()
    _check_joints()
    _check_windows()


def _check_fittings() -> None:
    seen: set[str] = set()
    for line, row in enumerate(load("fittings", Fitting), start=2):
        if row.id in seen:
            raise BadTable("fittings", line, "id", row.id, "stands twice")
        seen.add(row.id)
        for end in row.ends:
            if end.kind not in TUBE_ENDS and end.kind not in rigid_ends():
                raise BadTable("fittings", line, "end", end.kind, "is not a kind of end")
            if not end.size:
                raise BadTable("fittings", line, "size", end.kind, "needs a size")
            if end.kind in TUBE_ENDS and end not in fit_windows():
                raise BadTable("fittings", line, "size", end.size, "has no row in fit_windows")
        if row.family not in {"clamp", "stub"} and len(row.ends) < 2:
            raise BadTable("fittings", line, "end_b", row.id, "a part joins at least two things")


def _check_joints() -> None:
    for line, row in enumerate(load("joints", Joint), start=2):
        for column, value, allowed in (
            ("end_x", row.end_x, TUBE_ENDS if row.holds_tube else rigid_ends()),
            ("making", row.making, MAKINGS),
            ("seals", row.seals, ("bore", "outside")),
            ("reuse", row.reuse, REUSE),
            ("buried", row.buried, BURIED),
            ("hand_strength", row.hand_strength, (1, 2, 3)),
        ):
            if value not in allowed:
                raise BadTable("joints", line, column, value, f"must be one of {allowed}")
        if row.ceiling_psi <= 0 or row.minutes <= 0:
            raise BadTable("joints", line, "minutes", row.id, "and ceiling must be above 0")
        if (row.making == "steps") != bool(row.steps) or len(row.steps) != len(row.step_whys):
            raise BadTable("joints", line, "steps", row.id, "must stand with a reason for each")
        if (row.making == "push") != bool(row.depth and row.push):
            raise BadTable("joints", line, "push", row.id, "and depth stand where it is pushed on")


def _check_windows() -> None:
    for line, row in enumerate(load("fit_windows", FitWindow), start=2):
        if row.end_kind not in TUBE_ENDS:
            raise BadTable("fit_windows", line, "end_kind", row.end_kind, "is not a tube end")
        if row.measure not in ("OD", "ID"):
            raise BadTable("fit_windows", line, "measure", row.measure, "must be OD or ID")
        if not 0 < row.low_in < row.high_in:
            raise BadTable("fit_windows", line, "low_in", row.low_in, "must be under high_in")
        if row.clamp and f"clamp_screw_{row.clamp}" not in fittings():
            raise BadTable("fit_windows", line, "clamp", row.clamp, "has no clamp in fittings")
