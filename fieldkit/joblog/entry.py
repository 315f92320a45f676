"""One thing that happened at a job: an entry, its id, its time, and what makes it acceptable."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime
from hashlib import sha256
from json.encoder import encode_basestring as quoted
from operator import attrgetter
from typing import Any, Self

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog.canonical import canonical
from fieldkit.typed.given import shown

#: What can happen. The list is closed: a phone with a newer program must be told, not guessed.
KINDS = (
    "job",  # a job was opened: understood {name, place, demo}
    "joint",  # a joint was added to it: understood {name, like}; facts taken over from ``like``
    "rename",  # a job or a joint is called something else: understood {name, place}
    "close",  # a job was closed, or opened again: understood {closed}
    "reading",  # one reading of a series, before the step is answered: understood {at, …}
    "answer",  # one step of a flow was answered: understood is the answer, null for "can't tell"
    "result",  # a flow was worked out: result is the calculation's answer
    "pick",  # one of the choices in a result was taken: understood names it
    "strike",  # facts, or the answer or result of a run given before it, no longer count
    "note",  # words only
    "prices",  # the price list: understood {part id: price}
    "signature",  # a person signed what was there
    "photo",  # a picture belongs to the joint
    "person",  # someone who works here
)

#: Kinds that may stand outside any job.
JOBLESS = frozenset({"prices", "person"})

#: Longest text of one field, in UTF-8. [bytes]
FIELD_LIMIT = 64 * 1024

#: Longest result: a long line has a row for each of its outlets. [bytes]
RESULT_LIMIT = 1024 * 1024

#: Longest list of a signature: each entry under it with its digest takes 107 bytes, and what is
#: complete about 200 a joint. So a hundred thousand entries can be signed at once. [bytes]
SIGNATURE_LIMIT = 12 * 1024 * 1024

#: Deepest nesting of one field; the deepest answer of ours has nine levels.
DEEPEST = 40

_ID_FORM = "[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}"
_AT_FORM = r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}Z"
_NAME_FORM = "[A-Za-z0-9][A-Za-z0-9._-]{0,63}"

#: What the short fields look like.
_FORMS = {
    "id": _ID_FORM,
    "at": _AT_FORM,
    "job": f"(?:{_NAME_FORM})?",
    "joint": f"(?:{_NAME_FORM})?",
    "kind": "|".join(KINDS),
    "flow": f"(?:{_NAME_FORM})?",
    "run": f"(?:{_NAME_FORM})?",
    "step": f"(?:{_NAME_FORM})?",
    "replaces": f"(?:{_ID_FORM})?",
}
#: All of them in one look, for a save is quick; only if it fails is each looked at.
_SHORT_FIELDS = attrgetter(*_FORMS)
_ALL_FORMS = re.compile("\n".join(f"(?:{form})" for form in _FORMS.values()))
_ID = re.compile(_ID_FORM)
_WORD_LIMIT = 200

#: JSON as it is kept and compared: keys in order, nothing to spare.
_encode = json.JSONEncoder(
    ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")
).encode


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One thing that happened, made where it happened, never changed afterwards.

    Parameters
    ----------
    id : str
        UUIDv7, made with the entry (``new_id``), so that sending it twice does no harm.
    at : str
        When it happened, UTC, as ``2026-05-01T14:03:00.000Z`` (``utc_text``).
    job, joint : str
        What it belongs to; ``joint`` is empty for the job itself.
    kind : str
        One of ``KINDS``.
    flow, run, step : str
        Which guided flow, which going through of it, which question.
    typed : Mapping
        The form as it was typed, so the page can be shown again as it was.
    understood : JSON value
        What that was understood to mean.
    result : Mapping or None
        The answer of a calculation with its working.
    facts : Mapping
        What this teaches about the joint, by name; null strikes a fact out.
    who, device : str
        Who made it, on which device.
    replaces : str
        Id of the entry that this one corrects.
    note : str
        Words of the person.
    """

    id: str
    at: str
    job: str
    kind: str
    joint: str = ""
    flow: str = ""
    run: str = ""
    step: str = ""
    typed: Mapping[str, Any] = field(default_factory=dict)
    understood: Any = None
    result: Mapping[str, Any] | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    who: str = ""
    device: str = ""
    replaces: str = ""
    note: str = ""

    def as_json(self) -> dict[str, Any]:
        """All fields as JSON values, in the order of the columns."""
        return {name: getattr(self, name) for name in COLUMNS}

    @classmethod
    def from_json(cls, body: object) -> Self:
        """Read what ``as_json`` wrote; keys that are left out are empty.

        Raises
        ------
        Problem
            It is not an object, has a key we do not know, or lacks one that is needed.
        """
        if not isinstance(body, Mapping):
            raise Problem(
                "entry",
                None,
                say("This entry is not a set of named values."),
                say("Send each entry as a JSON object."),
            )
        stray = sorted(str(key) for key in body if key not in COLUMNS)
        if stray:
            raise Problem(
                shown(stray[0]),
                None,
                say("An entry has nothing called {key}.", key=shown(stray[0])),
                say("Use the names {names}.", names=", ".join(COLUMNS)),
            )
        for key in ("id", "at", "job", "kind"):
            if key not in body:
                raise Problem(
                    key,
                    None,
                    say("The entry has no {key}.", key=key),
                    say("Send id, at, job and kind with each entry."),
                )
        return cls(**body)


#: The fields of an entry, which are also the columns of the table, in order.
COLUMNS: tuple[str, ...] = (
    "id",
    "at",
    "job",
    "joint",
    "kind",
    "flow",
    "run",
    "step",
    "typed",
    "understood",
    "result",
    "facts",
    "who",
    "device",
    "replaces",
    "note",
)
assert {part.name for part in fields(Entry)} == set(COLUMNS)  # noqa: S101  -- one list, two uses

#: The same for a SELECT.
ENTRY_COLUMNS = ", ".join(COLUMNS)

#: Columns that hold JSON.
JSON_COLUMNS = ("typed", "understood", "result", "facts")

#: The columns as JSON has them.
_IN_ORDER = sorted(COLUMNS)

#: An entry as the table keeps it: text, or None where there is no result.
Row = tuple[str | None, ...]


def new_id(at_ms: int, random_bytes: bytes, nth: int = 0) -> str:
    """A UUIDv7 from a time and chance that are handed in.

    Parameters
    ----------
    at_ms : int
        Time since 1970, UTC. [ms]
    random_bytes : bytes
        Ten bytes of chance, such as ``os.urandom(10)``.
    nth : int
        Which entry of those made in the same instant, 0 to 4095: they sort in that order.

    Source
    ------
    RFC 9562, section 5.7. Status: checked by tests against its appendix A.6.

    Examples
    --------
    >>> new_id(0x017F22E279B0, bytes(2) + bytes.fromhex("18c4dc0c0c07398f"), 0xCC3)
    '017f22e2-79b0-7cc3-98c4-dc0c0c07398f'
    """
    if not 0 <= at_ms < 1 << 48:
        raise ValueError("at_ms does not fit 48 bits")
    if len(random_bytes) < 10 or not 0 <= nth < 1 << 12:
        raise ValueError("ten random bytes, and nth from 0 to 4095, are needed")
    chance = int.from_bytes(random_bytes[-8:]) & ((1 << 62) - 1)
    number = at_ms << 80 | 0x7 << 76 | nth << 64 | 0b10 << 62 | chance
    text = f"{number:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


def is_id(text: str) -> bool:
    """Whether an entry can have this id: a UUID of version 7 in small letters."""
    return _ID.fullmatch(text) is not None


def utc_text(at_ms: int) -> str:
    """A time since 1970 [ms] as an entry writes it.

    Examples
    --------
    >>> utc_text(1_777_644_180_000)
    '2026-05-01T14:03:00.000Z'
    """
    whole, ms = divmod(at_ms, 1000)
    return f"{datetime.fromtimestamp(whole, UTC).isoformat()[:19]}.{ms:03d}Z"


def just_after(at: str) -> str:
    """The moment after a kept time.

    Examples
    --------
    >>> just_after("2026-12-31T23:59:59.999Z")
    '2027-01-01T00:00:00.000Z'
    """
    return utc_text(round(datetime.fromisoformat(at).timestamp() * 1000) + 1)


def row_of(entry: Entry) -> Row:
    """The entry as the table keeps it, checked.

    Raises
    ------
    Problem
        Something in it cannot be kept; ``field`` names what.
    """
    _check_words(entry)
    understood_limit, result_limit = FIELD_LIMIT, RESULT_LIMIT
    if entry.kind == "signature":
        understood_limit = result_limit = SIGNATURE_LIMIT
    return (
        entry.id,
        entry.at,
        entry.job,
        entry.joint,
        entry.kind,
        entry.flow,
        entry.run,
        entry.step,
        _json_text("typed", entry.typed, Mapping),
        _json_text("understood", entry.understood, object, understood_limit),
        None if entry.result is None else _json_text("result", entry.result, Mapping, result_limit),
        _json_text("facts", entry.facts, Mapping),
        entry.who,
        entry.device,
        entry.replaces,
        entry.note,
    )


def entry_of(row: Row | sqlite3.Row) -> Entry:
    """The entry in a row of the table whose columns begin with ``COLUMNS``."""
    read: dict[str, Any] = dict(zip(COLUMNS, row, strict=False))
    for name in JSON_COLUMNS:
        if read[name] is not None:
            read[name] = json.loads(read[name])
    return Entry(**read)


def wary_entry_of(row: Row | sqlite3.Row) -> tuple[Entry, tuple[str, ...]]:
    """The same of a row that nobody has looked through, and the fields that were left out.

    Those are no JSON, or nested so deep that they could not be worked on, or written again.
    """
    read: dict[str, Any] = dict(zip(COLUMNS, row, strict=False))
    left_out = []
    for name in JSON_COLUMNS:
        text = read[name]
        if text is None:
            continue
        try:
            read[name] = json.loads(text)
        except (RecursionError, ValueError):
            left_out.append(name)
        else:
            if too_deep(text, read[name]):
                left_out.append(name)
        if name in left_out:
            read[name] = {} if name in {"typed", "facts"} else None
    return Entry(**read), tuple(left_out)


def too_deep(text: str, value: Any) -> bool:
    """Whether JSON, as text and as what that means, is nested deeper than ``DEEPEST``."""
    if text.count("[") + text.count("{") <= DEEPEST:
        return False
    level = [value]
    for _ in range(DEEPEST + 1):
        inner: list[Any] = []
        for one in level:
            if isinstance(one, Mapping):
                inner.extend(one.values())
            elif isinstance(one, list | tuple):
                inner.extend(one)
        if not inner:
            return False
        level = inner
    return True


def entry_digest(entry: Entry) -> str:
    """SHA-256 of an entry's canonical JSON: every field, the same on every device.

    An entry that was kept before what has no canonical form was refused goes as Python writes it.
    """
    try:
        return digest_of_new(entry)
    except Problem:
        return sha256(json_text(entry.as_json()).encode()).hexdigest()


def digest_of_new(entry: Entry) -> str:
    """The same, of an entry that is to be kept.

    Raises
    ------
    Problem
        It holds something that has no canonical form, such as a whole number that a phone's
        browser would round.
    """
    try:
        return sha256(canonical(entry.as_json()).encode()).hexdigest()
    except ValueError:
        raise Problem(
            "entry",
            None,
            say("This entry holds something that not every device can keep as it is."),
            say("Use whole letters, and whole numbers of up to 15 figures."),
        ) from None


def _check_words(entry: Entry) -> None:
    try:
        fits = _ALL_FORMS.fullmatch("\n".join(_SHORT_FIELDS(entry)))
    except TypeError:
        fits = None
    if fits is None:
        raise _misshapen(entry)
    if not _is_time(entry.at):
        raise _wrong_form("at", entry.at)
    if not entry.job and (entry.joint or entry.kind not in JOBLESS):
        raise Problem(
            "job",
            "",
            say("The entry belongs to no job."),
            say("Name the job that it belongs to."),
        )
    for name, given, limit in (
        ("who", entry.who, _WORD_LIMIT),
        ("device", entry.device, _WORD_LIMIT),
        ("note", entry.note, FIELD_LIMIT),
    ):
        if given == "":
            continue
        if not isinstance(given, str):
            raise _wrong_form(name, None)
        _check_size(name, given, limit)


def _misshapen(entry: Entry) -> Problem:
    """Which of the short fields is not as it must be, and what it must be."""
    for name, form in _FORMS.items():
        given = getattr(entry, name)
        if not isinstance(given, str):
            return _wrong_form(name, None)
        if not re.fullmatch(form, given):
            return _wrong_form(name, given)
    raise AssertionError("each field fits, yet not all of them do")


def _wrong_form(name: str, given: str | None) -> Problem:
    if given is None:
        wrong, instead = say("{name} is not text.", name=name), say("Send text in quotes.")
    elif name in {"id", "replaces"}:
        wrong = say("This is not an id that an entry can have.")
        instead = say("Make it as a UUID of version 7, in small letters.")
    elif name == "at":
        wrong = say("This is not a time as the log writes it.")
        instead = say(
            "Write UTC, from 2020 to 2100, such as {example}.", example="2026-05-01T14:03:00.000Z"
        )
    elif name == "kind":
        wrong = say("There is no kind of entry called {kind}.", kind=shown(given))
        instead = say("Use one of: {kinds}.", kinds=", ".join(KINDS))
    else:
        wrong = say("This cannot be the id of a {what}.", what=name)
        instead = say("Use up to 64 letters, figures, dots and dashes.")
    return Problem(name, None if given is None else given[:80], wrong, instead)


def _is_time(at: str) -> bool:
    """Whether a time of the right form is a real one, from 2020 to 2100."""
    if not "2020" <= at[:4] <= "2100":
        return False
    try:
        datetime.fromisoformat(at)
    except ValueError:
        return False
    return True


def _check_size(name: str, text: str, limit: int = FIELD_LIMIT) -> None:
    try:
        size = len(text.encode())
    except UnicodeEncodeError:
        raise Problem(
            name, None, say("There is half a letter in {name}.", name=name), say("Send UTF-8.")
        ) from None
    if size > limit:
        raise Problem(
            name,
            None,
            say("{name} holds {size} bytes.", name=name, size=size),
            say("Keep it to {limit} bytes.", limit=limit),
        )


def _json_text(name: str, value: object, kind: type, limit: int = FIELD_LIMIT) -> str:
    if not isinstance(value, kind):
        raise Problem(
            name,
            None,
            say("{name} is not a set of named values.", name=name),
            say("Send a JSON object."),
        )
    if value is None:
        return "null"
    if value == {}:
        return "{}"
    try:
        text = _encode(value)
    except (TypeError, ValueError, RecursionError):
        raise Problem(
            name,
            None,
            say("{name} holds something that JSON cannot carry.", name=name),
            say("Use text, finite numbers, true, false, null, lists and objects."),
        ) from None
    _check_size(name, text, limit)
    if too_deep(text, value):
        raise Problem(
            name,
            None,
            say("{name} is nested too deep.", name=name),
            say("Nest it {n} levels deep or less.", n=DEEPEST),
        )
    return text


def json_text(value: object) -> str:
    """JSON as the log keeps it: keys in order, so equal values are equal text."""
    return _encode(value)


def text_of_row(row: sqlite3.Row) -> str:
    """The ``json_text`` of the entry in a row, made of the JSON that the row holds already."""
    parts = [
        f'"{name}":{row[name] or "null" if name in JSON_COLUMNS else quoted(row[name])}'
        for name in _IN_ORDER
    ]
    return "{" + ",".join(parts) + "}"
