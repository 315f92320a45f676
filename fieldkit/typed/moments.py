"""Moments as people and phones write them, read strictly and answered in the same form."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.typed.given import kept, shown

_MOMENT = re.compile(
    r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(?P<seconds>:\d\d(?:\.\d{1,6})?)?(?P<zone>[Zz]|[+-]\d\d:?\d\d)?",
    re.ASCII,
)
_CLOCK = re.compile(r"(\d{1,2}):(\d\d)", re.ASCII)

EXAMPLE = "2026-11-25T14:00"


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment with the form it was written in: with seconds or not, with Z, offset or neither."""

    when: datetime
    seconds: bool
    zulu: bool

    def after(self, minutes: float) -> str | None:
        """The moment so many minutes later, never rounded to an earlier one.

        None past the end of the calendar.
        """
        step = timedelta(seconds=1) if self.seconds else timedelta(minutes=1)
        try:
            later = self.when + timedelta(minutes=minutes)
            whole = later.replace(microsecond=0, second=later.second if self.seconds else 0)
            # A millisecond of slack: a sum of shares may miss a whole minute by its last bit.
            if later - whole > timedelta(milliseconds=1):
                whole += step
        except OverflowError:
            return None
        text = whole.isoformat(timespec="seconds" if self.seconds else "minutes")
        return text.replace("+00:00", "Z") if self.zulu else text

    def earlier(self, minutes: float) -> Moment:
        """The moment so many minutes before, in the same form."""
        return replace(self, when=self.when - timedelta(minutes=minutes))

    @property
    def minute_of_day(self) -> float:
        """Minutes after its own midnight."""
        return self.when.hour * 60 + self.when.minute + self.when.second / 60

    def minutes_to(self, other: Moment) -> float:
        """Minutes from this moment to another; one without an offset is on this one's clock."""
        mine, theirs = self.when, other.when
        if mine.tzinfo is None and theirs.tzinfo is not None:
            mine = mine.replace(tzinfo=theirs.tzinfo)
        elif theirs.tzinfo is None and mine.tzinfo is not None:
            theirs = theirs.replace(tzinfo=mine.tzinfo)
        return (theirs - mine) / timedelta(minutes=1)


def read_moment(given: object, *, field: str) -> Moment:
    """A date with a time of day, ISO 8601.

    Raises
    ------
    Problem
        It is not such a moment.

    Examples
    --------
    >>> read_moment("2026-11-25T14:00Z", field="made_at").after(90)
    '2026-11-25T15:30Z'
    """
    found = _MOMENT.fullmatch(given.strip()) if isinstance(given, str) else None
    if found is None:
        raise _not_a_moment(given, field)
    try:
        when = datetime.fromisoformat(found[0].upper())
    except ValueError:
        raise _not_a_moment(given, field) from None
    return Moment(when, bool(found["seconds"]), (found["zone"] or "").upper() == "Z")


def clock_minutes(given: object) -> int | None:
    """Minutes after midnight of a plain ``14:00``, or None when it is not one.

    Examples
    --------
    >>> clock_minutes("14:30"), clock_minutes("6 h")
    (870, None)
    """
    found = _CLOCK.fullmatch(given.strip()) if isinstance(given, str) else None
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        return None
    return int(found[1]) * 60 + int(found[2])


def looks_like_moment(given: object) -> bool:
    """Whether it begins as a date does, so that a slip in it is told as one."""
    return isinstance(given, str) and re.match(r"\s*\d{4}-\d", given) is not None


def _not_a_moment(given: object, field: str) -> Problem:
    return Problem(
        field,
        kept(given),
        say("“{given}” is not a date with a time of day.", given=shown(given)),
        say("Write it such as {example}.", example=EXAMPLE),
    )
