"""Log entries, facts and verdicts in plain words, for the pages that list them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from fieldkit.engine.words import Span
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import FACTS
from fieldkit.flows.step import Choice, Confirm, Group, Quantity, Readings, Series, Several, Step
from fieldkit.joblog import Entry, Hit, JointNow

#: verdict → (tone, words). Tones: holds (square), look (triangle), stop (octagon), none.
VERDICTS: dict[str, tuple[str, str]] = {
    "holds": ("holds", "Holds"),
    "leaks": ("stop", "Leaks"),
    "repeat": ("look", "Test again"),
    "marginal": ("look", "Close to the limit"),
    "lets_go": ("stop", "Would let go"),
    "wait": ("look", "Wait"),
    "do_not_test": ("stop", "Do not test yet"),
    "override": ("look", "Early, with a reason"),
    "ready": ("holds", "Ready to test"),
    "works": ("holds", "Works"),
    "change": ("look", "Change something first"),
    "change_part": ("stop", "Change the part"),
    "too_tight": ("stop", "Too tight"),
    "too_loose": ("look", "Too loose"),
    "wrong_pair": ("stop", "Wrong pair"),
    "wrong_sealant": ("stop", "Wrong sealant"),
    "does_not_match": ("stop", "Does not match"),
    "too_much": ("stop", "Too much for this end"),
    "moved": ("look", "It moved"),
    "not_tugged": ("look", "Not tugged yet"),
    "look_again": ("look", "Look again"),
    "even": ("holds", "Even"),
    "uneven": ("look", "Uneven"),
    "fast": ("look", "Too fast"),
}


def tone(answer: Mapping[str, Any]) -> tuple[str, str]:
    """The tone and the word of an answer's verdict; no word where the headline says it all."""
    return VERDICTS.get(str(answer.get("verdict")), ("", ""))


def number(value: float) -> str:
    """A number as a person writes it, without a tail of digits."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return text if text not in {"", "-0"} else "0"


def answer_words(step: Step, value: Any) -> str:
    """An answer as it reads on the page: the option's label, the number with its unit."""
    if value is None:
        return step.way_out
    kind = step.kind
    if isinstance(kind, Confirm):
        return kind.done
    if isinstance(kind, Choice | Several):
        chosen = value if isinstance(value, list) else [value]
        labels = {option.value: option.label for option in kind.options}
        return "; ".join(labels.get(str(one), str(one)) for one in chosen) or "none of these"
    if isinstance(kind, Quantity) and isinstance(value, int | float):
        return f"{number(value)} {kind.unit}"
    if isinstance(kind, Readings) and isinstance(value, list):
        return ", ".join(number(one) for one in value) + f" {kind.unit}"
    if isinstance(kind, Group) and isinstance(value, Mapping):
        units = {name: (label, unit) for name, label, unit in kind.parts}
        return "; ".join(
            f"{units[name][0]}: {number(one)} {units[name][1]}"
            for name, one in value.items()
            if name in units
        )
    if isinstance(kind, Series) and isinstance(value, list):
        return f"{len(value)} readings"
    if isinstance(value, float):
        return number(value)
    return str(value)


def entry_words(entry: Entry) -> str:
    """One entry in one line."""
    flow = flows().get(entry.flow)
    said = entry.understood if isinstance(entry.understood, Mapping) else {}
    match entry.kind:
        case "job":
            return f"Job opened: {said.get('name', '')}"
        case "joint":
            return f"Joint added: {said.get('name', '')}"
        case "note":
            return f"Note: {entry.note}"
        case "result" if entry.result is not None:
            title = flow.title if flow else entry.flow
            return f"{title}: {entry.result.get('headline', '')}"
        case "answer":
            step = flow.step(entry.step) if flow else None
            return f"{step.ask} {answer_words(step, entry.understood)}" if step else "Answered"
        case "reading":
            return "Reading: " + ", ".join(
                number(value) for value in said.values() if isinstance(value, int | float)
            )
        case "pick":
            return f"Picked: {entry.understood}"
        case "strike":
            struck = FACTS.get(entry.note, entry.note)
            return f"Struck out: {fact_label(struck)}"
        case "prices":
            return "Price list saved"
        case "signature":
            return f"Signed by {said.get('name', '')}"
        case "photo":
            return f"Photo: {said.get('about') or 'no words'}"
        case _:
            return entry.kind.capitalize()


def hit_words(hit: Hit) -> str:
    """What a search found, in one line."""
    return entry_words(hit.entry)


def fact_label(meaning: str) -> str:
    """The meaning of a fact without its unit, as a label.

    Examples
    --------
    >>> fact_label("wall of the tubing [in]")
    'Wall of the tubing'
    """
    text = meaning.split(" [", maxsplit=1)[0].split(" (", maxsplit=1)[0]
    return text[:1].upper() + text[1:]


def fact_value(value: Any, name: str) -> str:
    """A fact's value with the unit that its meaning names."""
    meaning = FACTS.get(name, "")
    unit = meaning.rsplit("[", 1)[1].rstrip("]") if "[" in meaning else ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{number(value)} {unit}".strip()
    if isinstance(value, list):
        return ", ".join(str(one).replace("_", " ") for one in value)
    return str(value)


def waiting(joint: JointNow) -> str:
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
    return f" The cement cures for another {Span(max(1, round(minutes)))}."


def waiting_until(joint: JointNow) -> str:
    """When that wait ends, in UTC, or nothing when the joint waits for nothing."""
    return str(joint.facts["weld.ready_at"]) if waiting(joint) else ""


def lower_first(text: str) -> str:
    """The same words inside a sentence."""
    return text[:1].lower() + text[1:]


FILTERS = {
    "tone": tone,
    "entry_words": entry_words,
    "hit_words": hit_words,
    "fact_label": fact_label,
    "fact_value": fact_value,
    "waiting": waiting,
    "waiting_until": waiting_until,
    "lower_first": lower_first,
}
