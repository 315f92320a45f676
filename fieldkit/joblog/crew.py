"""What a lead asks of all joints at once: one small row a joint, kept as entries arrive.

``crew`` says where each joint stands, what it is made of and whether it came back; ``taught`` what
of its making and failing was learned when, and by whom; ``waivers`` what was signed without. All
are read models: ``fold.rebuild`` makes them again.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from fieldkit.engine.share import Share, share_of
from fieldkit.flows.outcome import (
    TELLING_FACTS,
    is_to_buy,
    kinds_of,
    parts_of,
    returned,
    state_of,
)
from fieldkit.joblog.entry import Entry, json_text
from fieldkit.joblog.marks import BROUGHT_IN, NOT_REPRODUCED, among

#: Kinds of entry that change where a joint stands.
_TELLING = frozenset({"joint", "result", "pick", "strike", "close"})

#: So much of what a joint was taught is looked back at: a save must not take longer the more of it
#: one phone has sent.
_LOOKED_BACK = 200

#: Upper ends of the bands of heat at cementing; the last band is open. [°F]
HEAT_BANDS = (40.0, 60.0, 80.0, 100.0)


# ── Kept as entries arrive ──────────────────────────────────────────────────────────────────


def apply(conn: sqlite3.Connection, entry: Entry) -> None:
    """Fold one entry, whose job and joint are folded already, into these read models."""
    if entry.joint and entry.kind in _TELLING:
        _fold_joint(conn, entry)
    elif entry.kind == "signature":
        _fold_signature(conn, entry)


def _fold_joint(conn: sqlite3.Connection, entry: Entry) -> None:
    """Put down where the entry's joint stands."""
    where = (entry.job, entry.joint)
    about, held, states = map(
        json.loads,
        conn.execute(
            "SELECT about, facts, states FROM joints WHERE job = ? AND id = ?", where
        ).fetchone(),
    )
    if "moved_to" in about:
        conn.execute("DELETE FROM crew WHERE job = ? AND joint = ?", where)
        conn.execute("DELETE FROM taught WHERE job = ? AND joint = ?", where)
        return
    old = conn.execute("SELECT * FROM crew WHERE job = ? AND joint = ?", where).fetchone()
    people = {*(old["people"].split("\n") if old else ()), entry.who} - {""}
    facts = {name: one["value"] for name, one in held.items() if one["value"] is not None}
    times = {name: one["at"] for name, one in held.items()}
    telling = {name: entry.facts[name] for name in TELLING_FACTS if name in entry.facts}
    if telling:
        conn.execute(
            "INSERT OR IGNORE INTO taught VALUES (?, ?, ?, ?, ?, ?)",
            (*where, entry.at, entry.id, entry.who, json_text(telling)),
        )
    came = returned(
        (row["who"], json.loads(row["facts"]))
        for row in conn.execute(
            "SELECT who, facts FROM (SELECT * FROM taught WHERE job = ? AND joint = ?"
            " ORDER BY at DESC, entry DESC LIMIT ?) ORDER BY at, entry",
            (*where, _LOOKED_BACK),
        )
    )
    row = (
        *where,
        min(old["opened"], entry.at) if old else entry.at,
        max(old["day"], entry.at[:10]) if old else entry.at[:10],
        state_of(facts),
        str(facts.get("weld.ready_at") or ""),
        _strung(kinds_of(facts)),
        _strung(parts_of(facts)),
        "\n".join(sorted(people)),
        int(is_to_buy(facts, times)),
        int(came.made),
        int(came.failed),
        came.kind,
        came.cause,
        int(came.opened),
        came.heat_f,
        came.made_by,
        str(facts.get("leak.really") or ""),
        _is_doubted(conn, held, states),
    )
    conn.execute(f"REPLACE INTO crew VALUES ({', '.join('?' * len(row))})", row)  # noqa: S608


def _is_doubted(conn: sqlite3.Connection, *held: Mapping[str, Any]) -> int:
    """Whether what a joint knows, or how a flow stands, comes from an entry not reproduced."""
    said = {one["entry"] for part in held for one in part.values()}
    return int(bool(among(conn, said, NOT_REPRODUCED)))


def look_at_doubts(conn: sqlite3.Connection, entries: Sequence[str]) -> None:
    """Put down anew whether the joints of some entries are in doubt: marks have come or gone."""
    rows = conn.execute(
        "SELECT DISTINCT joints.job, joints.id, joints.facts, joints.states"
        " FROM json_each(?) AS said JOIN entries ON entries.id = said.value"
        " JOIN joints ON joints.job = entries.job AND joints.id = entries.joint",
        (json_text(entries),),
    )
    for job, joint, facts, states in rows.fetchall():
        doubted = _is_doubted(conn, json.loads(facts), json.loads(states))
        conn.execute(
            "UPDATE crew SET doubted = ? WHERE job = ? AND joint = ?", (doubted, job, joint)
        )


def _strung(ids: Iterable[str]) -> str:
    """Ids as one text, each between blanks."""
    return "".join(f" {one}" for one in ids) + " " if ids else ""


def _fold_signature(conn: sqlite3.Connection, entry: Entry) -> None:
    """Put down what was signed without, and why."""
    said = entry.understood if isinstance(entry.understood, Mapping) else {}
    rows = [
        (entry.job, one["joint"], one["point"], entry.id, entry.at, said.get("name", ""),
         one.get("reason", ""))
        for one in said.get("waived", ())
    ]  # fmt: skip
    conn.executemany("REPLACE INTO waivers VALUES (?, ?, ?, ?, ?, ?, ?)", rows)


# ── Asked ───────────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Asked:
    """Which joints are asked for; empty is all. ``since`` is a day; ``now`` a moment."""

    now: str
    since: str = ""
    place: str = ""
    person: str = ""
    kind: str = ""
    cause: str = ""


class CrewJoint(NamedTuple):
    """One joint as a lead looks at it. There may be twenty thousand: a tuple is made quickly."""

    kinds: tuple[str, ...]
    parts: tuple[str, ...]
    people: tuple[str, ...]
    job: str
    joint: str
    opened: str
    day: str
    state: str
    ready_at: str
    to_buy: bool
    made: bool
    failed: bool
    failed_kind: str
    cause: str
    seen: bool
    heat_f: float | None
    made_by: str
    doubted: bool
    job_name: str
    place: str
    closed: bool

    @property
    def came_back(self) -> bool:
        """Whether it was made here and then failed."""
        return self.made and self.failed


@dataclass(frozen=True, slots=True)
class Waiver:
    """What was signed without at a joint, by whom and why."""

    job: str
    joint: str
    point: str
    at: str
    who: str
    reason: str


def all_joints(conn: sqlite3.Connection) -> list[CrewJoint]:
    """Every joint, the one worked on last first; invented ones only where there are no others."""
    cursor = conn.cursor()
    cursor.row_factory = None  # a row that knows its names takes twice as long to read
    return [
        CrewJoint(_parts_of(kinds), _parts_of(parts), _parts_of(people, "\n"), *rest)
        for kinds, parts, people, *rest in cursor.execute(
            "SELECT kinds, parts, people, crew.job, joint, opened, day,"
            " CASE WHEN doubted AND state = 'holds' THEN 'untested' ELSE state END, ready_at,"
            " to_buy, made AND NOT doubted, failed, failed_kind, cause, seen, heat_f, made_by,"
            " doubted, jobs.name, place, closed FROM crew JOIN jobs ON jobs.id = crew.job"
            " WHERE jobs.demo = (SELECT min(demo) FROM jobs WHERE joints > 0)"
            " ORDER BY day DESC, joint DESC"
        )
    ]


@lru_cache(10_000)
def _parts_of(text: str, between: str | None = None) -> tuple[str, ...]:
    """What one text holds; few are unlike each other."""
    return tuple(text.split(between)) if text else ()


def waivers(conn: sqlite3.Connection) -> list[Waiver]:
    """What stands waived, each point of a joint once, by its last signature that is one's own."""
    rows = conn.execute(
        "SELECT job, joint, point, max(at || entry), at, who, reason FROM waivers"
        " WHERE NOT EXISTS (SELECT 1 FROM marks WHERE mark = ? AND marks.entry = waivers.entry)"
        " GROUP BY job, joint, point ORDER BY at DESC",
        (BROUGHT_IN,),
    )
    return [
        Waiver(row["job"], row["joint"], row["point"], row["at"], row["who"], row["reason"])
        for row in rows
    ]


def fits(one: CrewJoint, asked: Asked, *but: str) -> bool:
    """Whether a joint is among those asked for; ``but`` are filters that do not count."""
    return (
        ("since" in but or one.day >= asked.since)
        and ("place" in but or not asked.place or one.place == asked.place)
        and ("person" in but or not asked.person or asked.person in one.people)
        and ("kind" in but or not asked.kind or asked.kind in one.kinds)
        and ("cause" in but or not asked.cause or one.cause == asked.cause)
    )


def choices(joints: Iterable[CrewJoint], asked: Asked, by: str) -> dict[str, int]:
    """What one filter can be set to, given the others, with how many joints that leaves."""
    found: dict[str, int] = {}
    for one in joints:
        if fits(one, asked, by):
            names = {
                "place": (one.place,),
                "person": one.people,
                "kind": one.kinds,
                "cause": (one.cause,),
            }[by]
            for name in names:
                if name:
                    found[name] = found.get(name, 0) + 1
    return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))


#: The numbers, in the order of their urgency, and which joints each counts, also by the joints that
#: were signed without something. What failed counts what was repaired since, too.
_IS: Mapping[str, Callable[[CrewJoint, Container[tuple[str, str]]], bool]] = {
    "leaks": lambda one, _: one.state == "leaks",
    "waived": lambda one, waived: (one.job, one.joint) in waived and one.state != "holds",
    "untested": lambda one, _: one.state == "untested" and not one.closed,
    "to_buy": lambda one, _: one.to_buy and not one.closed,
    "failed": lambda one, _: one.failed or one.state == "leaks",
}

NUMBERS = tuple(_IS)


@dataclass(frozen=True, slots=True)
class Week:
    """What stands behind the numbers, and how much lies before the period."""

    behind: Mapping[str, tuple[CrewJoint, ...]]
    older: Mapping[str, int]
    waived: Mapping[tuple[str, str], tuple[Waiver, ...]]


def week_of(joints: Sequence[CrewJoint], signed: Sequence[Waiver], asked: Asked) -> Week:
    """The numbers. What is finished leaks all the same; it is not waited for any more."""
    waived: dict[tuple[str, str], list[Waiver]] = {}
    for one in signed:
        waived.setdefault((one.job, one.joint), []).append(one)
    alike = [one for one in joints if fits(one, asked, "since")]
    recent = tuple(one for one in alike if one.day >= asked.since)
    behind = {name: tuple(one for one in recent if test(one, waived)) for name, test in _IS.items()}
    return Week(
        behind=behind,
        older={
            name: sum(1 for one in alike if one.day < asked.since and test(one, waived))
            for name, test in _IS.items()
        },
        waived={where: tuple(all_of) for where, all_of in waived.items()},
    )


def begun_since(joints: Iterable[CrewJoint], asked: Asked, since: str) -> list[CrewJoint]:
    """The joints that what comes back is counted over: those begun since a day, whatever cause."""
    return [one for one in joints if one.opened >= since and fits(one, asked, "since", "cause")]


def counted(conn: sqlite3.Connection, job: str, but: str) -> dict[str, Any]:
    """What the log teaches the diagnosis of a joint: outcomes of all joints but that one.

    Invented jobs teach invented jobs, and no others.

    Returns
    -------
    dict
        ``found``: cause → failures found out to be that. ``kinds``: kind of joint → how many were
        ``made`` here, and how many ``came_back``.
    """
    rows = conn.execute(
        "SELECT crew.kinds, crew.made, crew.failed, crew.failed_kind, crew.really, count(*) AS n"
        " FROM crew JOIN jobs ON jobs.id = crew.job WHERE crew.joint <> ?2"
        " AND NOT crew.doubted AND jobs.demo = coalesce((SELECT demo FROM jobs WHERE id = ?1), 0)"
        " GROUP BY crew.kinds, crew.made, crew.failed, crew.failed_kind, crew.really",
        (job, but),
    )
    found: dict[str, int] = {}
    kinds: dict[str, dict[str, int]] = {}
    for row in rows:
        if row["really"]:
            found[row["really"]] = found.get(row["really"], 0) + row["n"]
        own = row["kinds"].split()
        for kind in own if row["made"] else ():
            held = kinds.setdefault(kind, {"made": 0, "came_back": 0})
            held["made"] += row["n"]
            if row["failed"] and _is_of(row["failed_kind"], kind, own):
                held["came_back"] += row["n"]
    return {"found": found, "kinds": kinds}


def _is_of(failed_kind: str, kind: str, kinds: Sequence[str]) -> bool:
    """Whether a failure counts for a kind: the one that failed, or the only one there is."""
    return kind == failed_kind or (not failed_kind and len(kinds) == 1)


# ── What comes back ─────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Rate:
    """How many of the joints of one sort came back."""

    name: str
    share: Share


def heat_band(heat_f: float | None) -> str:
    """The band of a temperature, by its number; empty where it is not known.

    Examples
    --------
    >>> heat_band(39.0), heat_band(40.0), heat_band(101.0), heat_band(None)
    ('0', '1', '4', '')
    """
    return "" if heat_f is None else str(sum(heat_f >= edge for edge in HEAT_BANDS))


def rates(joints: Iterable[CrewJoint], by: str) -> tuple[Rate, ...]:
    """Failures of the joints made here, by ``all``, ``kind``, ``part``, ``cause``, ``heat``
    or ``person``; those that come back most often first.

    A joint of several kinds counts once for each, and its failure for the kind that failed. The
    heat is that of the first cementing, and only failures of a cemented joint, or of one that
    nobody named, count for it.
    """
    made = [one for one in joints if one.made]
    of: dict[str, int] = {}
    failed: dict[str, int] = {}
    for one in made:
        for name in dict.fromkeys(_sorts(one, by)):
            of[name] = of.get(name, 0) + 1
            failed[name] = failed.get(name, 0) + _counts(one, by, name)
    if by == "cause":
        failed = {}
        for one in made:
            if one.came_back:
                failed[one.cause] = failed.get(one.cause, 0) + 1
        of = dict.fromkeys(failed, len(made))
    found = [Rate(name, share_of(failed[name], of[name])) for name in of]
    if by == "heat":
        return tuple(sorted(found, key=lambda one: one.name))
    return tuple(sorted(found, key=lambda one: (-one.share.value, -one.share.of, one.name)))


def _sorts(one: CrewJoint, by: str) -> tuple[str, ...]:
    match by:
        case "all":
            return ("",)
        case "kind":
            return one.kinds
        case "part":
            return one.parts
        case "heat":
            return (heat_band(one.heat_f),) if one.heat_f is not None else ()
        case "person":
            return (one.made_by,) if one.made_by else ()
        case _:
            return ()


def _counts(one: CrewJoint, by: str, name: str) -> bool:
    if not one.came_back:
        return False
    if by == "kind":
        return _is_of(one.failed_kind, name, one.kinds)
    if by == "heat":
        return one.failed_kind in {"", "solvent_socket"}
    return True
