"""What may come in from another device: each entry by itself, refused by name, kept to be seen.

One bad entry never holds the others up. A refused one is kept whole, so that a person can look at
what a phone said and why it did not count.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog.append import Appended
from fieldkit.joblog.entry import Entry, row_of
from fieldkit.joblog.log import JobLog

#: A phone's clock may run ahead by so much.
AHEAD = timedelta(days=1)

#: Largest refused entry that is kept whole. [characters]
_SHOWN = 20_000


@dataclass(frozen=True, slots=True)
class Rules:
    """Who sends, and what this copy takes from them.

    ``kinds`` are never taken from the sender; ``who`` empty means nobody logs in here.
    """

    who: str = ""
    refused_kinds: frozenset[str] = frozenset()


#: What only a lead may bring in; people are made where they log in, and nowhere else.
OF_LEADS = frozenset({"signature", "prices"})
OF_NOBODY = frozenset({"person"})


def rules_for(who: str, *, lead: bool) -> Rules:
    """The rules for a sender.

    Examples
    --------
    >>> sorted(rules_for("Bo", lead=False).refused_kinds)
    ['person', 'prices', 'signature']
    """
    return Rules(who, OF_NOBODY if lead or not who else OF_NOBODY | OF_LEADS)


def acceptable(entry: Entry, rules: Rules, received: str) -> None:
    """Whether an entry may come in from this sender.

    Raises
    ------
    Problem
        Its time is absurd, or it is not the sender's to send.
    """
    if datetime.fromisoformat(entry.at) > datetime.fromisoformat(received) + AHEAD:
        raise Problem(
            "at",
            entry.at,
            say("This entry says it was made in the future."),
            say("Set the clock of the device, then make it again."),
        )
    if entry.kind in rules.refused_kinds:
        raise Problem(
            "kind",
            entry.kind,
            say("An entry of the kind {kind} is not yours to send.", kind=entry.kind),
            say("A crew lead can make it here."),
        )


def take_in(log: JobLog, sent: Sequence[object], rules: Rules, received: str) -> Appended:
    """Add what a device sent, one by one; what cannot be kept is set aside with its reason.

    An entry that is here already, word for word, is told so before any rule is asked, so a
    device that repeats itself is always answered the same.
    """
    good: list[Entry] = []
    refused: list[tuple[str, Problem]] = []
    bodies: dict[str, object] = {}
    for n, body in enumerate(sent):
        given = body.get("id") if isinstance(body, Mapping) else None
        name = given[:80] if isinstance(given, str) else f"entry {n + 1}"
        bodies[name] = body
        try:
            entry = Entry.from_json(body)
            kept = log.entry(entry.id) if isinstance(entry.id, str) else None
            if kept is None or kept.entry != entry:
                _check_shape_then_rules(entry, rules, received)
        except Problem as problem:
            refused.append((name, problem))
        else:
            good.append(entry)
    done = log.append(good, received)
    everything = (*refused, *done.refused)
    log.set_aside(
        [(name, _text(bodies.get(name)), _reason(why), rules.who) for name, why in everything],
        received,
    )
    return Appended(done.stored, done.already, everything)


def _check_shape_then_rules(entry: Entry, rules: Rules, received: str) -> None:
    row_of(entry)
    acceptable(entry, rules, received)


def _text(body: object) -> str:
    try:
        return json.dumps(body, ensure_ascii=True)[:_SHOWN]
    except (TypeError, ValueError, RecursionError):
        return ""


def _reason(problem: Problem) -> dict[str, Any]:
    return {"field": problem.field, "wrong": str(problem.wrong), "instead": str(problem.instead)}
