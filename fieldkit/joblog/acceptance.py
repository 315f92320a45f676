"""What may come in from another device: each entry by itself, refused by name, kept to be seen.

One bad entry never holds the others up. A refused one is kept whole, so that a person can look at
what a phone said and why it did not count.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Quote, say
from fieldkit.engine.working import sentences
from fieldkit.flows.given import kept
from fieldkit.joblog.append import Appended
from fieldkit.joblog.entry import Entry, row_of
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.names import look_alike

#: A phone's clock may run ahead by so much.
AHEAD = timedelta(days=1)

#: Largest refused entry that is kept whole. [characters]
_SHOWN = 20_000

#: Largest photo that an entry may name. [bytes]
LARGEST_PHOTO_BYTES = 15_000_000

_DIGEST = re.compile("[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Rules:
    """Who sends, from where, and what this copy takes from them.

    Parameters
    ----------
    who : str
        The person who is logged in; empty where nobody logs in.
    refused_kinds : frozenset of str
        What is never taken from the sender.
    for_others : bool
        The sender may bring in what others wrote.
    company : str
        Whose log this is; empty: nobody's in particular, so what comes may be anybody's.
    from_company : str or None
        Whose log the sender says it comes from; None: nothing is said, as by an older phone.
    names : tuple of str
        Those who may enter here: nothing comes in under a name that only looks like one.
    """

    who: str = ""
    refused_kinds: frozenset[str] = frozenset()
    for_others: bool = True
    company: str = ""
    from_company: str | None = None
    names: tuple[str, ...] = ()


#: What only a lead may bring in; people are made where they log in, and nowhere else.
OF_LEADS = frozenset({"signature", "prices"})
OF_NOBODY = frozenset({"person"})


def rules_for(who: str, *, lead: bool, company: str = "", from_company: str | None = None) -> Rules:
    """The rules for a sender: a lead answers for what others wrote, anyone else for their own.

    Examples
    --------
    >>> sorted(rules_for("Bo", lead=False).refused_kinds)
    ['person', 'prices', 'signature']
    """
    trusted = lead or not who
    kinds = OF_NOBODY if trusted else OF_NOBODY | OF_LEADS
    return Rules(who, kinds, trusted, company, from_company)


def acceptable(entry: Entry, rules: Rules, received: str) -> None:
    """Whether an entry may come in from this sender.

    Raises
    ------
    Problem
        It comes from another company's log, its time is absurd, it is not the sender's to send,
        its writer's name passes for another's, or it names no photo where it should.
    """
    if rules.company and rules.from_company not in {None, rules.company}:
        raise another_company(rules.from_company)
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
    if not rules.for_others and entry.who != rules.who:
        raise Problem(
            "who",
            entry.who,
            say("This entry was made by {who}, not by you.", who=entry.who or say("nobody named")),
            say("Its writer can send it, or a crew lead can bring it in."),
        )
    if entry.who not in rules.names:
        for name in rules.names:
            if look_alike(entry.who, name):
                raise Problem(
                    "who",
                    entry.who,
                    say("This name looks like {name}, and is another.", name=Quote(name)),
                    say("Write the name as it stands among the people here."),
                )
    if entry.kind == "photo" and not _names_a_photo(entry.understood):
        raise Problem(
            "understood",
            None,
            say("This entry does not name its photo."),
            say("Take the photo again."),
        )


def another_company(given: str | None) -> Problem:
    """What is said of entries, and of phones, of another company."""
    return Problem(
        "company",
        given,
        say("This belongs to another company’s log."),
        say("A crew lead can bring it in here on purpose, from a file."),
    )


def _names_a_photo(said: object) -> bool:
    if not isinstance(said, Mapping):
        return False
    digest, size, about = said.get("digest"), said.get("bytes"), said.get("about", "")
    return (
        isinstance(digest, str)
        and _DIGEST.fullmatch(digest) is not None
        and type(size) is int
        and 0 < size <= LARGEST_PHOTO_BYTES
        and isinstance(about, str)
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
        name = str(kept(given)) if isinstance(given, str) else f"entry {n + 1}"
        bodies[name] = body
        try:
            entry = Entry.from_json(body)
            row_of(entry)  # before its id, which may be no text at all, is looked up
            here = log.entry(entry.id)
            if here is None or here.entry != entry:
                acceptable(entry, rules, received)
        except Problem as problem:
            refused.append((name, problem))
        else:
            good.append(entry)
    done = log.append(good, received)
    everything = (*refused, *done.refused)
    log.set_aside(
        [(name, _text(bodies.get(name)), reason(why), rules.who) for name, why in everything],
        received,
    )
    return Appended(done.stored, done.already, everything)


def _text(body: object) -> str:
    try:
        return json.dumps(body, ensure_ascii=True)[:_SHOWN]
    except (TypeError, ValueError, RecursionError):
        return ""


def reason(problem: Problem) -> dict[str, Any]:
    """Why something was refused, as it is kept beside it."""
    wrong, instead = problem.wrong, problem.instead
    said = sentences((wrong, instead))
    return {"field": problem.field, "wrong": str(wrong), "instead": str(instead), "said": said}
