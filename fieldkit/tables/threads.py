"""Threads, which pair with which, and what seals them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import BadTable, load


@dataclass(frozen=True, slots=True)
class Thread:
    """One thread. Taper pipe threads carry all figures, straight ones only what was collected.

    ``pitch_dia_end_in`` is the pitch diameter at the small end of a taper thread (E0), or the
    only one of a straight thread; ``pitch_dia_hand_in`` that at the hand-tight plane (E1), which
    is the mouth of the female. ``hand_length_in`` is L1, ``effective_length_in`` L2, and
    ``wrench_turns`` L3 in turns, for metal only.
    """

    id: str
    form: str
    size: str
    tpi: float
    major_od_in: float | None
    pitch_dia_end_in: float | None
    pitch_dia_hand_in: float | None
    hand_length_in: float | None
    effective_length_in: float | None
    wrench_turns: float | None
    seals_by: str
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class Pairing:
    """A male material in a female one. ``turns_max`` None means: as the thread's wrench turns."""

    male: str
    female: str
    verdict: str
    turns_min: float
    turns_usual: float
    turns_max: float | None
    why: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Sealant:
    """What goes on a thread; for a taper thread and for one that seals on a washer."""

    id: str
    on_taper: str
    on_washer: str
    why_taper: str
    why_washer: str
    source: str
    status: str


TABLES: dict[str, type] = {
    "threads": Thread,
    "thread_pairings": Pairing,
    "sealants": Sealant,
}


@cache
def threads() -> dict[str, Thread]:
    """Threads by id."""
    return {row.id: row for row in load("threads", Thread)}


@cache
def taper_threads() -> dict[str, Thread]:
    """NPT threads by trade size."""
    return threads_of("npt")


@cache
def threads_of(form: str) -> dict[str, Thread]:
    """The threads of a form that is the same on both sides, by trade size."""
    return {row.size: row for row in threads().values() if row.form == form}


@cache
def pairings() -> dict[tuple[str, str], Pairing]:
    """Pairings by (male material, female material)."""
    return {(row.male, row.female): row for row in load("thread_pairings", Pairing)}


@cache
def sealants() -> dict[str, Sealant]:
    """Sealants by id."""
    return {row.id: row for row in load("sealants", Sealant)}


def check() -> None:
    """Hold the thread table to the geometry of a 1 in 16 taper.

    Raises
    ------
    BadTable
        A row breaks a rule.
    """
    for line, row in enumerate(threads().values(), start=2):
        if row.form not in ("npt", "r"):
            continue
        end, hand, length = row.pitch_dia_end_in, row.pitch_dia_hand_in, row.hand_length_in
        if end is None or hand is None or length is None or row.wrench_turns is None:
            raise BadTable("threads", line, "all", row.id, "lacks a figure of a taper thread")
        if abs(hand - length / 16 - end) > 0.00003:
            raise BadTable("threads", line, "pitch_dia_end_in", end, "is not E1 − L1/16")
    verdicts = {"good", "avoid"}
    for line, pair in enumerate(pairings().values(), start=2):
        if pair.verdict not in verdicts:
            rule = f"must be one of {sorted(verdicts)}"
            raise BadTable("thread_pairings", line, "verdict", pair.verdict, rule)
        top = pair.turns_usual if pair.turns_max is None else pair.turns_max
        if not 0 <= pair.turns_min <= pair.turns_usual <= top:
            rule = "is not between the least and the most"
            raise BadTable("thread_pairings", line, "turns_usual", pair.turns_usual, rule)
    allowed = {"yes", "no", "wasteful"}
    for line, seal in enumerate(sealants().values(), start=2):
        for column in ("on_taper", "on_washer"):
            if getattr(seal, column) not in allowed:
                rule = f"must be one of {sorted(allowed)}"
                raise BadTable("sealants", line, column, getattr(seal, column), rule)
