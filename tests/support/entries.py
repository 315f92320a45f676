"""Entries for tests: made by number, so that a test says what matters and nothing else."""

from __future__ import annotations

import os
from typing import Any

from fieldkit.joblog import Entry, new_id, utc_text
from fieldkit.joblog.fold import READ_MODELS

#: 1 May 2026, 14:03 UTC. [ms since 1970]
START_MS = 1_777_644_180_000
NOW = utc_text(START_MS)


def entry(n: int = 0, kind: str = "note", **fields: Any) -> Entry:
    """An entry made ``n`` seconds after the start, by chance unlike any other."""
    at_ms = START_MS + 1000 * n
    given: dict[str, Any] = {
        "id": new_id(at_ms, os.urandom(10)),
        "at": utc_text(at_ms),
        "job": "job-1",
    }
    return Entry(**(given | fields), kind=kind)


def a_job() -> list[Entry]:
    """A small job: one joint, one flow worked out, one note, one part's price."""
    joint: dict[str, Any] = {"joint": "joint-1"}
    run = joint | {"flow": "measure-pipe", "run": "run-1"}
    return [
        entry(0, "job", understood={"name": "North bed", "place": "Gate 2"}, who="Ann"),
        entry(1, "joint", **joint, understood={"name": "Valve box, left"}),
        entry(2, "answer", **run, step="od", typed={"value": ["13/16 in"]}, understood=0.8125),
        entry(3, "answer", **run, step="wall", typed={"answer": ["cant-tell"]}, understood=None),
        entry(
            4,
            "result",
            **run,
            result={"verdict": "decided", "headline": "It is ½ in. pipe.", "od_in": 0.84},
            facts={"pipe.od_in": 0.84, "pipe.nominal": "1/2"},
        ),
        entry(5, **joint, note="=SUM(A1) is what “he” wrote,\nwet \N{DROPLET} box"),
        entry(6, "prices", job="", understood={"coupling-1/2": 0.5}),
    ]


def tables_of(log: Any) -> dict[str, list[tuple[Any, ...]]]:
    """Everything the read models say, and each word that search knows, to compare two logs."""
    with log.reading() as conn:
        said = {
            table: [tuple(row) for row in conn.execute(f"SELECT * FROM {table} ORDER BY {order}")]  # noqa: S608
            for table, order in READ_MODELS.items()
        }
    log.search("bring the index up to date")
    with log.reading() as conn:
        conn.execute("CREATE VIRTUAL TABLE temp.words USING fts5vocab(main, search, row)")
        said["words"] = [
            tuple(row) for row in conn.execute("SELECT term, doc, cnt FROM temp.words ORDER BY 1")
        ]
        conn.execute("DROP TABLE temp.words")
    return said
