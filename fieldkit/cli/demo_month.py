"""A crew's month, invented: the played joints of ``demo_jobs/crew``, each under another name.

``month.csv`` says which joint is taken as which, how many days ago, and who made and tested it.
So thirty joints weigh no more than the dozen that were played, and the month ends today.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from hashlib import sha256
from typing import Any

from fieldkit.flows.demo import demo_folder
from fieldkit.joblog import Entry, JobLog, new_id, utc_text
from fieldkit.joblog.signing import all_entries, points, seal

_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}")
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{3})?Z")

#: Flows that the one who tests goes through; the others are the maker's.
_TESTING = frozenset({"plan-test", "prove", "failed-test", "popped-off", "leak-now"})

#: Jobs that were signed, by whom, and why what was missing was left.
_SIGNED = {
    "Alder Court": ("Mara Quill", ""),
    "Mill Lane beds": ("Jon Abbey", ""),
    "Station green": ("Mara Quill", "The line is dry until spring. To be tested then."),
}

#: When the ids are from: they are no times, and are the same on whatever day it is loaded.
_IDS_FROM_MS = 1_767_225_600_000


@dataclass(frozen=True, slots=True)
class Line:
    """One joint of the month."""

    job: str
    place: str
    joint: str
    source: str
    days_ago: int
    at: str
    made_by: str
    tested_by: str


def lines() -> list[Line]:
    """The joints of the month, in the order of the work."""
    text = (demo_folder() / "crew" / "month.csv").read_text(encoding="utf-8")
    return [
        Line(row["job"], row["place"], row["joint"], row["from"], int(row["days_ago"]), row["at"],
             row["made_by"], row["tested_by"])
        for row in csv.DictReader(text.splitlines())
    ]  # fmt: skip


@cache
def _played() -> dict[str, list[dict[str, Any]]]:
    """The entries of each played joint: those of the crew by name, of a demo job its first."""
    found: dict[str, list[dict[str, Any]]] = {}
    folder = demo_folder()
    for name, file in [
        ("", folder / "crew" / "joints.json"),
        *((one, folder / f"{one}.json") for one in ("1-new-install", "2-repair", "3-riser")),
    ]:
        names: dict[str, str] = {}
        for one in json.loads(file.read_text(encoding="utf-8"))["entries"]:
            if one["kind"] == "joint":
                first = name if name and not names else f"{name} {one['understood']['name']}"
                names[one["joint"]] = first.strip()
            if one["joint"]:
                found.setdefault(names[one["joint"]], []).append(one)
    return found


def _fresh(*parts: object, nth: int = 0) -> str:
    return new_id(_IDS_FROM_MS + nth, sha256(" ".join(map(str, parts)).encode()).digest()[:10])


def job_id(name: str) -> str:
    """The id of one of the month's jobs."""
    return _fresh("crew", name)


def month(today: str) -> Iterator[Entry]:
    """Every entry of the month but the signatures; ``today`` is a moment."""
    opened: set[str] = set()
    for number, line in enumerate(lines()):
        begin = datetime.fromisoformat(today) - timedelta(days=line.days_ago)
        begin = begin.replace(second=0, microsecond=0)
        if line.at:
            hour, minute = map(int, line.at.split(":"))
            begin = begin.replace(hour=hour, minute=minute)
        else:  # an hour ago
            begin -= timedelta(hours=1)
        if line.job not in opened:
            opened.add(line.job)
            said = {"name": line.job, "place": line.place, "demo": True}
            at = utc_text(round(begin.timestamp() * 1000) - 60_000)
            one = job_id(line.job)
            yield Entry(id=one, at=at, job=one, kind="job", understood=said, who=line.tested_by)
        yield from _as_line(line, number, begin)


def _as_line(line: Line, number: int, begin: datetime) -> Iterator[Entry]:
    played = _played()[line.source]
    by = begin - datetime.fromisoformat(played[0]["at"])
    # One after the other, as entries of the same instant count in the order of their ids.
    in_order = sorted(played, key=lambda one: (one["at"], one["id"]))
    ids = {one["id"]: _fresh("crew", number, one["id"], nth=n) for n, one in enumerate(in_order)}

    def other_id(found: re.Match[str]) -> str:
        return ids.setdefault(found[0], _fresh("crew", number, found[0]))

    def other_time(found: re.Match[str]) -> str:
        shifted = datetime.fromisoformat(found[0]) + by
        whole = f"{shifted:%Y-%m-%dT%H:%M:%S}"
        return whole + (f".{shifted.microsecond // 1000:03d}Z" if "." in found[0] else "Z")

    for one in played:
        moved = json.loads(_ID.sub(other_id, _TIME.sub(other_time, json.dumps(one))))
        if one["kind"] == "joint":
            moved |= {"understood": {"name": line.joint}, "note": ""}
        who = line.tested_by if one["flow"] in _TESTING else line.made_by
        yield Entry.from_json(moved | {"job": job_id(line.job), "who": who})


def load_month(log: JobLog, today: str) -> int:
    """Bring the month in, ending today, once; says how many entries were added."""
    if log.job(job_id(lines()[0].job)) is not None:
        return 0
    added = len(log.append(list(month(today)), today).stored)
    for name, (who, reason) in _SIGNED.items():
        added += len(log.append([_signature(log, name, who, reason)], today).stored)
    return added


def _signature(log: JobLog, name: str, who: str, reason: str) -> Entry:
    job = job_id(name)
    entries = all_entries(log, job)
    last = max(datetime.fromisoformat(one.at) for one in entries)
    at = utc_text(round(last.timestamp() * 1000) + 3_600_000)
    needed = [(joint.id, point) for joint in log.joints(job) for point in points(joint, at)]
    said: Mapping[str, Any] = {
        "name": who,
        "complete": {
            joint.id: [point.id for one, point in needed if one == joint.id and point.met]
            for joint in log.joints(job)
        },
        "waived": [
            {"joint": joint, "point": point.id, "reason": reason or "Seen on site, and accepted."}
            for joint, point in needed
            if not point.met
        ],
    }
    made = Entry(id=_fresh("crew", name, "signed"), at=at, job=job, kind="signature",
                 understood=said, result={"headline": f"Signed by {who}"}, who=who)  # fmt: skip
    return seal(made, entries)


def month_ids() -> list[str]:
    """The ids of everything that the month adds, whatever the day."""
    signed = [_fresh("crew", name, "signed") for name in _SIGNED]
    return [one.id for one in month("2026-01-31T00:00:00.000Z")] + signed
