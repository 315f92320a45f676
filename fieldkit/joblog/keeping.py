"""Which copies in a folder stay: the last of so many days, weeks, months and years."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

#: What a letter of a rule means: days with the same name belong together.
_PERIODS: dict[str, Callable[[date], object]] = {
    "d": lambda day: day,
    "w": lambda day: day.isocalendar()[:2],
    "m": lambda day: (day.year, day.month),
    "y": lambda day: day.year,
}

_RULE = re.compile(r"(?:[1-9]\d{0,3}[dwmy])+")
_NAME = re.compile(r"(?P<log>.+)-(?P<at>\d{8}T\d{6}Z)\.zip(?:\.age)?")
_STAMP = "%Y%m%dT%H%M%SZ"


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy in a folder, and when it was made, by its name."""

    path: Path
    at: datetime


def read_rule(text: str) -> dict[str, int]:
    """How many periods of each kind keep a copy.

    Raises
    ------
    ValueError
        It is no rule.

    Examples
    --------
    >>> read_rule("7d4w12m")
    {'d': 7, 'w': 4, 'm': 12}
    """
    if not _RULE.fullmatch(text):
        raise ValueError(text)
    return {letter: int(n) for n, letter in re.findall(r"(\d{1,4})([dwmy])", text)}


def copy_name(log: Path, at: str, *, encrypted: bool) -> str:
    """The file name of a copy of a log, made at a moment (UTC, as ``Entry.at``).

    Examples
    --------
    >>> copy_name(Path("fieldkit.db"), "2026-05-01T14:03:00.000Z", encrypted=True)
    'fieldkit-20260501T140300Z.zip.age'
    """
    stamp = datetime.fromisoformat(at).astimezone(UTC).strftime(_STAMP)
    return f"{log.stem}-{stamp}.zip{'.age' if encrypted else ''}"


def copies_of(log: Path, folder: Path) -> list[Copy]:
    """The copies of a log in a folder, the newest first; other files are nobody's business."""
    found = []
    for path in folder.iterdir():
        named = _NAME.fullmatch(path.name)
        if named and named["log"] == log.stem:
            at = datetime.strptime(named["at"], _STAMP).replace(tzinfo=UTC)
            found.append(Copy(path, at))
    return sorted(found, key=lambda one: one.at, reverse=True)


def too_many(copies: Iterable[Copy], rule: dict[str, int]) -> list[Copy]:
    """Those of the copies, newest first, that no part of a rule keeps.

    A part keeps the newest copy of each of the last so many periods *that have one*. So a server
    that stood still for a year loses nothing when it goes on, and neither does one whose clock
    was wrong. The newest copy always stays.
    """
    copies = list(copies)
    stay = set(copies[:1])
    for letter, n in rule.items():
        last: dict[object, Copy] = {}
        for one in copies:
            last.setdefault(_PERIODS[letter](one.at.date()), one)
        stay.update(list(last.values())[:n])
    return [one for one in copies if one not in stay]
