"""Log entries, facts and verdicts in plain words, for the pages that list them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

from fieldkit.engine.words import Figure, Quote, Span, Text, join, retold, say
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import STAGES
from fieldkit.flows.fact_words import fact_told
from fieldkit.flows.facts import FACTS
from fieldkit.flows.figures import fact_figure
from fieldkit.flows.localize import as_text, localize
from fieldkit.flows.measures import metric_figure
from fieldkit.flows.question import (
    Choice,
    Confirm,
    Group,
    Quantity,
    Readings,
    Series,
    Several,
    Step,
)
from fieldkit.joblog import Entry, JointNow
from fieldkit.joblog.signing import Point, points
from fieldkit.tables.diagnosis import causes, questions
from fieldkit.tables.fittings import fittings, joints
from fieldkit.web import clock
from fieldkit.web.localize import language, units

#: verdict → (tone, words). Tones: holds (square), look (triangle), stop (octagon), none.
VERDICTS: dict[str, tuple[str, Text]] = {
    "holds": ("holds", say("Holds")),
    "leaks": ("stop", say("Leaks")),
    "repeat": ("look", say("Test again")),
    "marginal": ("look", say("Close to the limit")),
    "lets_go": ("stop", say("Would let go")),
    "wait": ("look", say("Wait")),
    "do_not_test": ("stop", say("Do not test yet")),
    "override": ("look", say("Early, with a reason")),
    "ready": ("holds", say("Ready to test")),
    "works": ("holds", say("Works")),
    "change": ("look", say("Change something first")),
    "change_part": ("stop", say("Change the part")),
    "shade_first": ("look", say("Shade it first")),
    "too_tight": ("stop", say("Too tight")),
    "too_loose": ("look", say("Too loose")),
    "wrong_pair": ("stop", say("Wrong pair")),
    "wrong_sealant": ("stop", say("Wrong sealant")),
    "does_not_match": ("stop", say("Does not match")),
    "too_much": ("stop", say("Too much for this end")),
    "moved": ("look", say("It moved")),
    "not_tugged": ("look", say("Not tugged yet")),
    "mended": ("look", say("Not proven yet")),
    "make_anew": ("look", say("Make it anew")),
    "elsewhere": ("look", say("Look elsewhere")),
    "look_again": ("look", say("Look again")),
    "even": ("holds", say("Even")),
    "gas": ("stop", say("Stop work")),
    "other kind": ("stop", say("Not for this work")),
    "look-alikes": ("look", say("Read the print")),
    "uneven": ("look", say("Uneven")),
    "too_low": ("stop", say("Too little pressure")),
    "too_high": ("stop", say("Too much pressure")),
    "fast": ("look", say("Too fast")),
    "stop": ("stop", say("Stop")),
}


#: What an entry is, where no more can be said of it.
KINDS: dict[str, Text] = {
    "prices": say("Price list saved"),
    "answer": say("Answer"),
    "result": say("Result"),
    "person": say("Person"),
}


def tone(answer: Mapping[str, Any]) -> tuple[str, str]:
    """The tone and the word of an answer's verdict; no word where the headline says it all."""
    return VERDICTS.get(str(answer.get("verdict")), ("", ""))


def number(value: float) -> str:
    """A number as a person writes it, without a tail of digits.

    Examples
    --------
    >>> number(0.7), number(20.0), number(1 / 3)
    ('0.7', '20', '0.3333')
    """
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return text if text not in {"", "-0"} else "0"


def measured(value: float, unit: str = "") -> Figure:
    """A kept number with its unit, in the reader's units, without a tail of digits."""
    shown = Figure(float(value), unit, 4)
    if units() == "metric":
        shown = metric_figure(shown)
    digits = number(round(shown.value, shown.places))
    return Figure(float(digits), shown.unit, len(digits.partition(".")[2]))


def known_words(step: Step, value: Any) -> Text | Figure | Quote | str:
    """An answer that the log knew, rounded as the page that taught it."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        known = fact_figure(step.fact, value)
        if known is not None:
            return known
    return answer_words(step, value)


def answer_words(step: Step, value: Any) -> Text | Figure | Quote | str:
    """An answer as it reads on the page: the option's label, the number with its unit."""
    if value is None:
        return step.way_out
    kind = step.kind
    if isinstance(kind, Confirm):
        return kind.done
    if isinstance(kind, Choice | Several):
        return _chosen_words(kind, value if isinstance(value, list) else [value])
    if isinstance(kind, Quantity) and isinstance(value, int | float):
        return measured(value, kind.unit)
    if isinstance(kind, Readings) and isinstance(value, list) and value:
        *first, last = value
        bare = [replace(measured(one, kind.unit), unit="") for one in first]
        return join([*bare, measured(last, kind.unit)])
    if isinstance(kind, Group) and isinstance(value, Mapping):
        return _group_words(kind, value)
    if isinstance(kind, Series) and isinstance(value, list):
        return say("{n} readings", n=len(value))
    if isinstance(value, float):
        return measured(value)
    return Quote(value)


def _chosen_words(kind: Choice | Several, chosen: list[Any]) -> Text:
    if not chosen:
        return say("none of these")
    labels = {option.value: option.label for option in kind.options}
    return join([labels.get(str(one), Quote(one)) for one in chosen], "; ")


def _group_words(kind: Group, values: Mapping[str, Any]) -> Text:
    parts = {name: (label, unit) for name, label, unit in kind.parts}
    told = ((*parts[name], one) for name, one in values.items() if name in parts)
    return join(
        (
            say("{label}: {value}", label=label, value=measured(one, unit))
            for label, unit, one in told
        ),
        "; ",
    )


def _struck(entry: Entry) -> Text:
    if entry.step:
        return say("A reading was struck out")
    return say("Struck out: {fact}", fact=fact_label(FACTS.get(entry.note, entry.note)))


def entry_words(entry: Entry) -> Text:  # noqa: PLR0912  -- a line a kind
    """One entry in one line."""
    flow = flows().get(entry.flow)
    said = entry.understood if isinstance(entry.understood, Mapping) else {}
    match entry.kind:
        case "job":
            return say("Job opened: {name}", name=Quote(said.get("name", "")))
        case "joint" if entry.note:
            return say(
                "Joint added: {name}, like {other}",
                name=Quote(said.get("name", "")),
                other=Quote(entry.note),
            )
        case "joint":
            return say("Joint added: {name}", name=Quote(said.get("name", "")))
        case "note":
            return say("Note: {note}", note=Quote(entry.note))
        case "result" if entry.result is not None:
            title = flow.title if flow else Quote(entry.flow)
            return say("{title}: {headline}", title=title, headline=headline(entry.result))
        case "answer":
            step = flow.step(entry.step) if flow else None
            return _answered(step, entry.understood) if step else say("Answered")
        case "reading":
            values = [measured(one) for one in said.values() if isinstance(one, int | float)]
            return say("Reading: {values}", values=join(values))
        case "pick":
            return say("Picked: {what}", what=_picked(entry))
        case "strike":
            return _struck(entry)
        case "signature":
            return say("Signed by {name}", name=Quote(said.get("name", "")))
        case "rename" | "close":
            return _changed(entry, said)
        case "photo":
            about = Quote(said.get("about") or "")
            return say("Photo: {about}", about=about or say("no words"))
        case _:
            return KINDS.get(entry.kind) or Text(entry.kind.capitalize(), {})


def _changed(entry: Entry, said: Mapping[str, Any]) -> Text:
    """Another name, or another place on the lists."""
    if entry.kind == "rename":
        return say("Another name: {name}", name=Quote(said.get("name", "")))
    if entry.joint:
        return say("Moved to another job")
    return say("Finished") if said.get("closed", True) else say("Opened again")


def headline(result: Mapping[str, Any]) -> Text:
    """The sentence of a kept result, with the figures it was made from where they were kept."""
    sentence, said = str(result.get("headline", "")), result.get("said")
    return retold(sentence, said.get(sentence) if isinstance(said, Mapping) else None)


def _picked(entry: Entry) -> Text | str:
    """What was picked: its parts by name, or else the first thing that it taught."""
    assembly = entry.facts.get("parts.assembly")
    if isinstance(assembly, Mapping):
        return join((as_text(one["name"]) for one in assembly["parts"]), " + ")
    named = (fact_told(*fact, entry.facts) for fact in entry.facts.items())
    return next((one for one in named if one), Quote(entry.understood))


def _answered(step: Step, value: Any) -> Text:
    return say("{question} {answer}", question=step.ask, answer=answer_words(step, value))


def in_words_of_the_log(asked: str) -> tuple[str, ...]:
    """What a reader of another language types, in the log's own English: verdicts, causes, flows.

    Each text of those that has all the words typed, as beginnings.
    """
    if language() == "en":
        return ()
    typed = asked.casefold().split()
    known = [
        *(words for _, words in VERDICTS.values()),
        *(as_text(row.title) for row in causes().values()),
        *(as_text(flow.title) for flow in flows().values()),
        *(as_text(stage.label) for stage in STAGES),
        *(as_text(part.name) for part in fittings().values()),
    ]
    found = dict.fromkeys(
        str(text)
        for text in known
        if all(
            any(word.startswith(one) for word in localize(text).casefold().split()) for one in typed
        )
    )
    return tuple(found)[:20]


def fact_label(meaning: str) -> Text:
    """The meaning of a fact without its unit, as a label.

    Examples
    --------
    >>> fact_label("wall of the tubing [in]")
    'Wall of the tubing'
    """
    text = meaning.split(" [", maxsplit=1)[0].split(" (", maxsplit=1)[0]
    return Text(text[:1].upper() + text[1:], {})


def fact_value(value: Any, name: str, facts: Mapping[str, Any]) -> Text | Figure:
    """A fact's value: a code in words, a number with the unit that its meaning names."""
    told = fact_told(name, value, facts)
    if told is not None:
        return told
    meaning = FACTS.get(name, "")
    unit = meaning.rsplit("[", 1)[1].rstrip("]") if "[" in meaning else ""
    if isinstance(value, bool):
        return say("yes") if value else say("no")
    if isinstance(value, int | float):
        return fact_figure(name, value) or measured(value, unit)
    if isinstance(value, list):
        return join([str(one).replace("_", " ") for one in value])
    return as_text(str(value))


def waiting(joint: JointNow) -> Text | str:
    """What the joint waits for: the cure of its last cemented joint."""
    ready_at = joint.facts.get("weld.ready_at")
    if not ready_at or joint.facts.get("test.verdict"):
        return ""
    try:
        left = datetime.fromisoformat(str(ready_at)) - datetime.now(UTC)
    except ValueError:
        return ""
    minutes = left / timedelta(minutes=1)
    if minutes <= 0:
        return ""
    return say("The cement cures for another {left}.", left=Span(max(1, round(minutes))))


def waiting_until(joint: JointNow) -> str:
    """When that wait ends, in UTC, or nothing when the joint waits for nothing."""
    return str(joint.facts["weld.ready_at"]) if waiting(joint) else ""


def lower_first(text: str) -> str:
    """The same words inside a sentence, told to the reader first."""
    told = localize(as_text(text))
    return told[:1].lower() + told[1:]


@cache
def _by_id() -> Mapping[str, Text]:
    """The ids that lines of working name, in words: parts, kinds of joint, questions."""
    named = {one.id: one.name for one in fittings().values()}
    named |= {one.id: one.name for one in joints().values()}
    named |= {one.id: one.trade for one in questions().values()}
    return {id_: as_text(name) for id_, name in named.items() if "_" in id_}


def without_ids(words: str | Text) -> str:
    """Words of a line of working; what stands there by its id, by its name.

    Examples
    --------
    >>> without_ids("1 solvent_socket"), without_ids("z_gauge")
    ('1 pipe glued into a socket', 'z_gauge')
    """
    named = _by_id()
    told = localize(as_text(words))
    return re.sub(r"\w+", lambda m: localize(named[m[0]]) if m[0] in named else m[0], told)


def asked_of(joint: JointNow) -> tuple[Point, ...]:
    """What this joint needs, done or not: the one count of the joint, the job and the signing."""
    return points(joint, clock.now())


FILTERS = {
    "points": asked_of,
    "tone": tone,
    "entry_words": entry_words,
    "fact_label": fact_label,
    "fact_value": fact_value,
    "waiting": waiting,
    "waiting_until": waiting_until,
    "lower_first": lower_first,
    "without_ids": without_ids,
}
