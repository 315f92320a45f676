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
from fieldkit.engine.words import Quote, say
from fieldkit.engine.working import sentences
from fieldkit.joblog import rework
from fieldkit.joblog.append import Appended
from fieldkit.joblog.door import require_fit
from fieldkit.joblog.entry import Entry, row_of
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.marks import BROUGHT_IN, Mark
from fieldkit.joblog.names import look_alike
from fieldkit.typed.given import kept

#: A phone's clock may run ahead by so much.
AHEAD = timedelta(minutes=5)

#: Largest refused entry that is kept whole. [characters]
_SHOWN = 20_000


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
    brought_from : str
        ``file`` or ``refused`` where a person brings in on purpose what others wrote: each entry
        then says so. Empty: it comes from the sender's own phone.
    names : tuple of str
        Those who may enter here: nothing comes in under a name that only looks like one.
    """

    who: str = ""
    refused_kinds: frozenset[str] = frozenset()
    for_others: bool = True
    company: str = ""
    from_company: str | None = None
    brought_from: str = ""
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
        its writer's name passes for another's, or it holds what its kind does not.
    """
    if rules.company and rules.from_company not in {None, rules.company}:
        raise another_company(rules.from_company)
    if datetime.fromisoformat(entry.at) > datetime.fromisoformat(received) + AHEAD:
        raise Problem(
            "at",
            entry.at,
            say("The clock of the device was ahead: this entry says it was made in the future."),
            say("It stays there and is taken when that time has come. Set the clock right."),
        )
    moves_a_joint = entry.kind == "close" and entry.joint != ""
    if entry.kind in rules.refused_kinds or (moves_a_joint and not rules.for_others):
        raise Problem(
            "kind",
            entry.kind,
            say("An entry of the kind {kind} is not yours to send.", kind=entry.kind),
            say("A crew lead can make it here."),
        )
    own = entry.who == rules.who or not rules.who
    if entry.kind == "signature" and not (own or rules.brought_from):
        raise Problem(
            "who",
            entry.who,
            say("This signature is {who}’s, and not yours to send.", who=Quote(entry.who)),
            say("Who signed can send it, or a crew lead can bring it in from a file."),
        )
    if not rules.for_others and entry.who != rules.who:
        raise Problem(
            "who",
            entry.who,
            say("This entry was made by {who}, not by you.", who=entry.who or say("nobody named")),
            say("Its writer can send it, or a crew lead can bring it in."),
        )
    alike = (name for name in rules.names if look_alike(entry.who, name))
    if entry.who not in rules.names and (name := next(alike, None)) is not None:
        raise Problem(
            "who",
            entry.who,
            say("This name looks like {name}, and is another.", name=Quote(name)),
            say("Write the name as it stands among the people here."),
        )
    require_fit(entry)


def another_company(given: str | None) -> Problem:
    """What is said of entries, and of phones, of another company."""
    return Problem(
        "company",
        given,
        say("This belongs to another company’s log."),
        say("A crew lead can bring it in here on purpose, from a file."),
    )


def take_in(
    log: JobLog, sent: Sequence[object], rules: Rules, received: str, before: int = 0
) -> Appended:
    """Add what a device sent, one by one; what cannot be kept is set aside with its reason.

    One without an id goes by its place, ``before`` being how many of the same file came already.

    An entry that is here already, word for word, is told so before any rule is asked, so a
    device that repeats itself is always answered the same.
    """
    good: list[Entry] = []
    refused: list[tuple[str, Problem]] = []
    bodies: dict[str, object] = {}
    read: list[tuple[str, Entry]] = []
    for n, body in enumerate(sent):
        given = body.get("id") if isinstance(body, Mapping) else None
        name = str(kept(given)) if isinstance(given, str) else f"entry {before + n + 1}"
        bodies[name] = body
        try:
            entry = Entry.from_json(body)
            row_of(entry)  # before its id, which may be no text at all, is looked up
            read.append((name, entry))
        except Problem as problem:
            refused.append((name, problem))
    here = log.entries(one.id for _, one in read)
    for name, one in read:
        try:
            if one.id not in here or here[one.id].entry != one:
                acceptable(one, rules, received)
            good.append(one)
        except Problem as problem:
            refused.append((name, problem))
    done = log.append(good, received)
    stored = set(done.stored)
    new = [one for one in good if one.id in stored]
    rework.mark_new(log, new)
    if rules.brought_from:
        said = {"by": rules.who, "from": rules.brought_from}
        log.mark([Mark(one.id, one.job, BROUGHT_IN, said) for one in new])
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
