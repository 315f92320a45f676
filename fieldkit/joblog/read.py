"""What can be asked of the log, and the shapes of its answers. Each reads along an index."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from fieldkit.engine.words import Text, retold
from fieldkit.flows.choosing.prices import split_list
from fieldkit.joblog import door, schema
from fieldkit.joblog.entry import (
    COLUMNS,
    ENTRY_COLUMNS,
    Entry,
    entry_of,
    json_text,
    text_of_row,
    wary_entry_of,
)
from fieldkit.joblog.marks import NOT_REPRODUCED, among

#: An entry that arrived so long after it was made, or before, says so.
APART = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Stored:
    """An entry in the file: its place in order of arrival, when it arrived, and itself."""

    seq: int
    received: str
    entry: Entry

    @property
    def apart(self) -> str:
        """When it arrived, where that is far from when it says it was made; else empty."""
        try:
            made, here = map(datetime.fromisoformat, (self.entry.at, self.received))
        except ValueError:  # a hand changed it
            return ""
        return self.received if abs(here - made) > APART else ""


@dataclass(frozen=True, slots=True)
class JobNow:
    """A job as it is now. ``after`` is the cursor that continues a list behind it."""

    id: str
    name: str
    place: str
    demo: bool
    closed: bool
    opened_at: str
    last_at: str
    joints: int
    entries: int

    @property
    def after(self) -> tuple[str, str]:
        """Where a list of jobs goes on."""
        return (self.last_at, self.id)


@dataclass(frozen=True, slots=True)
class State:
    """How one flow stands at a joint: what its last result said."""

    flow: str
    verdict: str
    headline: str
    at: str
    entry: str
    run: str
    said: Mapping[str, Any] | None = None

    @property
    def sentence(self) -> Text:
        """The headline as a text, to be told in any language."""
        return retold(self.headline, self.said)


@dataclass(frozen=True, slots=True)
class JointNow:
    """A joint as it is now: what is known about it and how each flow stands.

    ``fact_entries`` names the entry that each fact came from, ``fact_times`` when it was made.
    ``doubted`` are those of its facts and flows whose entry was not reproduced. ``moved_to`` is
    the joint that it is now, in another job; empty where it was not moved.
    """

    job: str
    id: str
    name: str
    opened_at: str
    last_at: str
    entries: int
    facts: Mapping[str, Any]
    fact_entries: Mapping[str, str]
    fact_times: Mapping[str, str]
    states: Mapping[str, State]
    doubted: frozenset[str] = frozenset()
    moved_to: str = ""


@dataclass(frozen=True, slots=True)
class RunNow:
    """One going through of a flow as it is now.

    Parameters
    ----------
    answers : Mapping
        Step id → what was understood, null for "can't tell"; struck answers are left out.
    typed : Mapping
        Step id → the form as it was typed.
    answer_entries : Mapping
        Step id → the entry that holds the answer.
    result : Entry or None
        The last result, unless it was struck out or an answer has changed since.
    last_result : Entry or None
        The last result, also when answers have changed since.
    pick : Entry or None
        What was picked from that last result.
    entries : tuple of Stored
        All of them, in order of time.
    """

    id: str
    job: str
    joint: str
    flow: str
    answers: Mapping[str, Any]
    typed: Mapping[str, Mapping[str, Any]]
    answer_entries: Mapping[str, str]
    result: Entry | None
    last_result: Entry | None
    pick: Entry | None
    entries: tuple[Stored, ...]


@dataclass(frozen=True, slots=True)
class Taught:
    """Facts that an entry taught its joint."""

    at: str
    entry: str
    joint: str
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Hit:
    """An entry that was found by its words, with the names it stands under."""

    entry: Entry
    job_name: str
    joint_name: str
    seq: int


class Sealed(NamedTuple):
    """An entry as the text that was sealed, with its place and when it arrived."""

    seq: int
    id: str
    text: str
    received: str


@dataclass(frozen=True, slots=True)
class Prices:
    """The latest price list; empty ``entry`` when none was ever given.

    ``illustrative`` tells the demo's invented list from prices that somebody typed.
    """

    prices: Mapping[str, Any]
    at: str = ""
    entry: str = ""
    illustrative: bool = False
    packs: Mapping[str, int] = field(default_factory=dict)


#: The note on a price list that is invented, to show how prices work.
ILLUSTRATIVE = "illustrative, invented"


#: What every reading of entries selects, in the order that ``stored`` takes it.
_UNFIT = (
    "EXISTS (SELECT 1 FROM marks WHERE marks.entry = entries.id AND marks.mark = 'unfit') AS unfit"
)
_STORED = f"SELECT {ENTRY_COLUMNS}, seq, received, {_UNFIT} FROM entries"  # noqa: S608  -- our own names


def fitting(row: sqlite3.Row) -> Entry:
    """The entry of a row as pages work with it: what does not fit its kind is set aside."""
    if row["unfit"]:
        return door.fitted(wary_entry_of(row)[0])[0]
    return entry_of(row)


def stored(row: sqlite3.Row) -> Stored:
    """The row as an entry with its place in the file."""
    return Stored(row["seq"], row["received"], fitting(row))


def stored_whole(row: sqlite3.Row) -> Stored:
    """The same with all that is kept, fitting or not, as it is carried on and sealed."""
    whole = wary_entry_of(row)[0] if row["unfit"] else entry_of(row)
    return Stored(row["seq"], row["received"], whole)


def jobs(
    conn: sqlite3.Connection,
    limit: int = 50,
    after: tuple[str, str] | None = None,
    *,
    closed: bool | None = None,
) -> tuple[JobNow, ...]:
    """Jobs, the one touched last first; ``after`` is the ``.after`` of the last one seen.

    ``closed`` tells open jobs from closed ones; without it come both.
    """
    last_at, last_id = after or ("~", "~")  # "~" sorts behind every time
    which = "" if closed is None else "closed = ?5 AND"
    rows = conn.execute(
        f"SELECT * FROM jobs WHERE {which} last_day <= ?1 AND (last_at, id) < (?2, ?3)"  # noqa: S608
        " ORDER BY last_day DESC, last_at DESC, id DESC LIMIT ?4",
        (last_at[:10], last_at, last_id, limit, *(() if closed is None else (int(closed),))),
    )
    return tuple(map(_job, rows))


def job(conn: sqlite3.Connection, job_id: str) -> JobNow | None:
    """One job."""
    row = conn.execute("SELECT * FROM jobs WHERE id = ?", (job_id,)).fetchone()
    return None if row is None else _job(row)


def joints(
    conn: sqlite3.Connection, job_id: str, *, moved: bool = False, limit: int = -1, skip: int = 0
) -> tuple[JointNow, ...]:
    """The joints of a job, oldest first; those that were moved away only if they are asked for."""
    rows = conn.execute(
        "SELECT * FROM joints WHERE rowid IN (SELECT rowid FROM joints WHERE job = ?1"
        " AND (?2 OR coalesce(json_extract(about, '$.moved_to.value'), '') = '')"
        " ORDER BY opened_at, id LIMIT ?3 OFFSET ?4) ORDER BY opened_at, id",
        (job_id, moved, limit, skip),
    )
    return _with_doubts(conn, rows.fetchall())


def joint_names(conn: sqlite3.Connection, job_id: str) -> frozenset[str]:
    """What all joints of a job are called, also those that were moved away."""
    rows = conn.execute("SELECT name FROM joints WHERE job = ?", (job_id,))
    return frozenset(row[0] for row in rows)


def _with_doubts(conn: sqlite3.Connection, rows: list[sqlite3.Row]) -> tuple[JointNow, ...]:
    """Joints with what of them was not reproduced: of what they know alone, as a phone may have
    sent any number of others.
    """
    found = tuple(map(_joint, rows))
    held = {one for joint in found for one in joint.fact_entries.values()}
    held |= {state.entry for joint in found for state in joint.states.values()}
    doubts = frozenset(among(conn, held, NOT_REPRODUCED) if held else ())
    return tuple(_joint(row, doubts) for row in rows) if doubts else found


def is_doubted(conn: sqlite3.Connection, job_id: str) -> bool:
    """Whether a joint of a job rests on a result that was not reproduced.

    The last two hundred of these are looked at: a list must not wait for what one phone sent.
    """
    row = conn.execute(
        "SELECT 1 FROM (SELECT entry FROM marks WHERE job = ?1 AND mark = ?2"
        " ORDER BY entry DESC LIMIT 200) AS doubt"
        " JOIN entries ON entries.id = doubt.entry"
        " JOIN joints ON joints.job = ?1 AND joints.id = entries.joint"
        " WHERE instr(joints.facts, doubt.entry) OR instr(joints.states, doubt.entry) LIMIT 1",
        (job_id, NOT_REPRODUCED),
    ).fetchone()
    return row is not None


def joints_knowing(conn: sqlite3.Connection, fact: str) -> tuple[JointNow, ...]:
    """The joints that know a fact, oldest first; see ``schema.FOUND_BY_FACT``."""
    rows = conn.execute(
        f"SELECT * FROM joints WHERE {schema.fact_value(fact)} IS NOT NULL"  # noqa: S608
        " ORDER BY opened_at, id"
    )
    return tuple(one for one in map(_joint, rows) if not one.moved_to)


def curing(
    conn: sqlite3.Connection, job_id: str, after: str, limit: int = 20
) -> tuple[JointNow, ...]:
    """The joints of a job whose cement is ready after a time, the last first."""
    value = schema.fact_value("weld.ready_at")
    rows = conn.execute(
        f"SELECT * FROM joints WHERE job = ? AND {value} > ?"  # noqa: S608
        f" ORDER BY {value} DESC LIMIT ?",
        (job_id, after, limit),
    )
    return tuple(map(_joint, rows))


def facts_found_last(conn: sqlite3.Connection, job_id: str, fact: str) -> dict[str, Any]:
    """What the joint of a job knows that has the latest of a fact, a time; of none, nothing.

    It may stand in another job by now.
    """
    value = schema.fact_value(fact)
    row = conn.execute(
        f"SELECT facts FROM joints WHERE job = ? AND {value} IS NOT NULL"  # noqa: S608
        f" ORDER BY {value} DESC, opened_at, id LIMIT 1",
        (job_id,),
    ).fetchone()
    return {} if row is None else {name: held["value"] for name, held in _held(row[0])}


def joint(conn: sqlite3.Connection, joint_id: str, job_id: str = "") -> JointNow | None:
    """One joint. Without ``job_id`` the job in which its first entry arrived: no other can have it.

    Only a log that an older version wrote may know the same joint in two jobs.
    """
    row = conn.execute(
        "SELECT * FROM joints WHERE id = ?1 AND (?2 = '' OR job = ?2) ORDER BY rowid LIMIT 1",
        (joint_id, job_id),
    ).fetchone()
    return None if row is None else _with_doubts(conn, [row])[0]


def history(
    conn: sqlite3.Connection,
    *,
    job_id: str = "",
    joint_id: str = "",
    before_seq: int | None = None,
    limit: int = 20,
) -> tuple[Stored, ...]:
    """Entries of a job or a joint, the last to arrive first; go on below the last seq."""
    before = (1 << 62) if before_seq is None else before_seq
    if joint_id:
        rows = conn.execute(
            _STORED + " WHERE joint = ?1 AND joint <> '' AND (?2 = '' OR job = ?2)"
            " AND seq < ?3 ORDER BY seq DESC LIMIT ?4",
            (joint_id, job_id, before, limit),
        )
    else:
        rows = conn.execute(
            _STORED + " WHERE job = ? AND seq < ? ORDER BY seq DESC LIMIT ?",
            (job_id, before, limit),
        )
    return tuple(map(stored, rows))


def since(
    conn: sqlite3.Connection, seq: int, limit: int = 500, *, job_id: str | None = None
) -> tuple[Stored, ...]:
    """Whole entries, of one job if it is named, that arrived after ``seq``, in that order.

    Those that belong to no job have an empty one.
    """
    return tuple(map(stored_whole, _rows_since(conn, seq, limit, job_id)))


def texts_since(
    conn: sqlite3.Connection, seq: int, limit: int, *, job_id: str | None = None
) -> list[Sealed]:
    """The same as the texts that are carried on, mostly without reading their JSON."""
    return [
        Sealed(
            row["seq"],
            row["id"],
            json_text(wary_entry_of(row)[0].as_json()) if row["unfit"] else text_of_row(row),
            row["received"],
        )
        for row in _rows_since(conn, seq, limit, job_id)
    ]


def _rows_since(
    conn: sqlite3.Connection, seq: int, limit: int, job_id: str | None
) -> sqlite3.Cursor:
    if job_id is not None:
        return conn.execute(
            _STORED + " WHERE job = ? AND seq > ? ORDER BY seq LIMIT ?", (job_id, seq, limit)
        )
    return conn.execute(_STORED + " WHERE seq > ? ORDER BY seq LIMIT ?", (seq, limit))


def taught(conn: sqlite3.Connection, job_id: str, names: tuple[str, ...]) -> tuple[Taught, ...]:
    """What the entries of a job taught of these facts, in order of time."""
    naming = " OR ".join(["instr(facts, ?)"] * len(names))
    rows = conn.execute(
        "SELECT at, id, joint, facts FROM entries"  # noqa: S608  -- our own words
        f" WHERE job = ? AND facts <> '{{}}' AND ({naming}) ORDER BY at, id",
        (job_id, *(f'"{one}"' for one in names)),
    )
    found = []
    for row in rows:
        facts = json.loads(row["facts"])
        said = {name: facts[name] for name in names if name in facts}
        found.append(Taught(row["at"], row["id"], row["joint"], said))
    return tuple(found)


def entry(conn: sqlite3.Connection, entry_id: str) -> Stored | None:
    """One whole entry by its id."""
    row = conn.execute(_STORED + " WHERE id = ?", (entry_id,)).fetchone()
    return None if row is None else stored_whole(row)


def entries(
    conn: sqlite3.Connection, ids: Iterable[str], *, fitting_only: bool = False
) -> dict[str, Stored]:
    """Those of some entries that are here, by id: whole, or as pages work with them."""
    which = " WHERE id IN (SELECT value FROM json_each(?))"
    rows = conn.execute(_STORED + which, (json_text(list(ids)),))
    return {row["id"]: stored(row) if fitting_only else stored_whole(row) for row in rows}


def last_at(conn: sqlite3.Connection, job_id: str) -> str:
    """The latest time that an entry of a job has, or of those without one; empty: there is none."""
    if job_id:
        row = conn.execute("SELECT last_at FROM jobs WHERE id = ?", (job_id,)).fetchone()
    else:
        row = conn.execute("SELECT max(at) FROM entries WHERE job = ''").fetchone()
    return str(row[0] or "") if row else ""


def run(
    conn: sqlite3.Connection, run_id: str, job_id: str, joint_id: str, flow_id: str
) -> RunNow | None:
    """One going through of a flow at a joint, folded from its entries there; no other counts."""
    if not run_id:
        return None
    rows = conn.execute(
        _STORED + " WHERE run = ? AND run <> '' AND job = ? AND joint = ? AND flow = ?"
        " ORDER BY seq",
        (run_id, job_id, joint_id, flow_id),
    )
    entries = tuple(map(stored, rows))
    return fold_run(entries) if entries else None


def fold_run(entries: Iterable[Stored]) -> RunNow:
    """What a run is now, from all of its entries in any order."""
    in_time = tuple(sorted(entries, key=lambda one: (one.entry.at, one.entry.id)))
    answers: dict[str, Entry] = {}
    result: Entry | None = None
    pick: Entry | None = None
    changed = False
    for made in (one.entry for one in in_time):
        match made.kind:
            case "answer":
                answers[made.step] = made
                changed = True
            case "result":
                result, pick, changed = made, None, False
            case "pick":
                pick = made
            case "strike" if made.step:
                held = answers.get(made.step)
                # A strike names one entry; without a name it strikes whatever was answered.
                if held is not None and made.replaces in ("", held.id):
                    del answers[made.step]
                changed = True
            case "strike":
                result = pick = None
            case _:
                pass
    first = in_time[0].entry
    return RunNow(
        id=first.run,
        job=first.job,
        joint=first.joint,
        flow=first.flow,
        answers={step: made.understood for step, made in answers.items()},
        typed={step: made.typed for step, made in answers.items()},
        answer_entries={step: made.id for step, made in answers.items()},
        result=None if changed else result,
        last_result=result,
        pick=pick,
        entries=in_time,
    )


def photos(conn: sqlite3.Connection, job_id: str, joint_id: str) -> tuple[Entry, ...]:
    """The photos of a joint, oldest first; one that does not name its file is passed over."""
    rows = conn.execute(
        _STORED + " WHERE joint = ? AND joint <> '' AND job = ? AND kind = 'photo' ORDER BY seq",
        (joint_id, job_id),
    )
    found = sorted(map(fitting, rows), key=lambda one: (one.at, one.id))
    return tuple(
        one
        for one in found
        if isinstance(one.understood, Mapping) and isinstance(one.understood.get("digest"), str)
    )


def photo_named(conn: sqlite3.Connection, digest: str) -> Entry | None:
    """The first entry that names a photo by its digest, as an entry should."""
    row = conn.execute(
        _STORED + " WHERE kind = 'photo' AND json_extract(understood, '$.digest') = ?"
        " AND NOT unfit ORDER BY seq LIMIT 1",
        (digest,),
    ).fetchone()
    return None if row is None else fitting(row)


def prices(conn: sqlite3.Connection) -> Prices:
    """The price list that was made last."""
    row = conn.execute(
        _STORED + " WHERE kind = 'prices' ORDER BY at DESC, id DESC LIMIT 1"
    ).fetchone()
    if row is None:
        return Prices({})
    made = fitting(row)
    listed = made.understood if isinstance(made.understood, dict) else {}
    prices, packs = split_list(listed)
    return Prices(prices, made.at, made.id, illustrative=made.note == ILLUSTRATIVE, packs=packs)


def price_history(conn: sqlite3.Connection, limit: int = 100) -> tuple[Entry, ...]:
    """Every price list, the newest first."""
    rows = conn.execute(
        _STORED + " WHERE kind = 'prices' ORDER BY at DESC, id DESC LIMIT ?", (limit,)
    )
    return tuple(map(fitting, rows))


def job_count(conn: sqlite3.Connection) -> int:
    """How many jobs there are."""
    return int(conn.execute("SELECT count(*) FROM jobs").fetchone()[0])


def count(conn: sqlite3.Connection) -> int:
    """How many entries there are. None is ever removed, so the last seq says it."""
    return int(conn.execute("SELECT coalesce(max(seq), 0) FROM entries").fetchone()[0])


def match_of(text: str, *also: str) -> str:
    """A search box's text as a full-text query: every word, each as a beginning.

    Or all words of one of ``also``, which say the same in the words that the log has.

    Examples
    --------
    >>> match_of('holds 1-1/4 "pip')
    '"holds"* "1 1 4"* "pip"*'
    >>> match_of("fuga", "leaks")
    '("fuga"*) OR ("leaks"*)'
    """
    ways = [match for one in (text, *also) if (match := _all_words(one))]
    return ways[0] if len(ways) == 1 else " OR ".join(f"({way})" for way in ways)


def _all_words(text: str) -> str:
    words = [" ".join(re.findall(r"[^\W_]+", word)) for word in text.split()]
    return " ".join(f'"{word}"*' for word in words[:12] if word)


def search(
    conn: sqlite3.Connection,
    text: str,
    limit: int,
    before_seq: int | None,
    also: tuple[str, ...] = (),
) -> tuple[Hit, ...]:
    """Entries that hold all the words, the last to arrive first; go on below the last seq."""
    match = match_of(text, *also)
    if not match:
        return ()
    rows = conn.execute(
        f"SELECT {_FOUND}, {_UNFIT},"  # noqa: S608  -- our own names
        " entries.seq AS seq, coalesce(jobs.name, '') AS job_name,"
        " coalesce(joints.name, '') AS joint_name"
        " FROM search JOIN entries ON entries.seq = search.rowid"
        " LEFT JOIN jobs ON jobs.id = entries.job"
        " LEFT JOIN joints ON joints.job = entries.job AND joints.id = entries.joint"
        " WHERE search MATCH ? AND search.rowid < ? ORDER BY search.rowid DESC LIMIT ?",
        (match, (1 << 62) if before_seq is None else before_seq, limit),
    )
    return tuple(Hit(fitting(row), row["job_name"], row["joint_name"], row["seq"]) for row in rows)


_FOUND = ", ".join(f"entries.{name}" for name in COLUMNS)


def _job(row: sqlite3.Row) -> JobNow:
    return JobNow(
        id=row["id"],
        name=row["name"],
        place=row["place"],
        demo=bool(row["demo"]),
        closed=bool(row["closed"]),
        opened_at=row["opened_at"],
        last_at=row["last_at"],
        joints=row["joints"],
        entries=row["entries"],
    )


def _joint(row: sqlite3.Row, doubts: frozenset[str] = frozenset()) -> JointNow:
    facts = {n: held for n, held in _held(row["facts"]) if held["value"] is not None}
    states = {flow: held for flow, held in _held(row["states"]) if held["verdict"] is not None}
    return JointNow(
        job=row["job"],
        id=row["id"],
        name=row["name"],
        opened_at=row["opened_at"],
        last_at=row["last_at"],
        entries=row["entries"],
        facts={name: held["value"] for name, held in facts.items()},
        fact_entries={name: held["entry"] for name, held in facts.items()},
        fact_times={name: held["at"] for name, held in facts.items()},
        states={flow: State(flow=flow, **held) for flow, held in states.items()},
        doubted=frozenset(
            name for name, held in (*facts.items(), *states.items()) if held["entry"] in doubts
        ),
        moved_to=json.loads(row["about"]).get("moved_to", {}).get("value", ""),
    )


def _held(text: str) -> Iterable[tuple[str, dict[str, Any]]]:
    held: dict[str, dict[str, Any]] = json.loads(text)
    return held.items()
