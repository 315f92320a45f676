"""What an entry may hold, by its kind: asked at the door, and again when an entry is read.

What arrives and does not fit is refused. What is in the log already and does not fit, since an
older version let it in or a hand put it there, is set aside on reading: the rest of it counts,
a lead can see its name, and nothing else stops.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from hashlib import sha256
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows.catalogue import flows
from fieldkit.flows.choosing.prices import DEAREST_USD
from fieldkit.flows.facts import FACT_SHAPES, SHARED
from fieldkit.flows.question import Series
from fieldkit.flows.shapes import (
    FLAG,
    TEXT,
    Either,
    Keyed,
    ListOf,
    Maybe,
    Number,
    OneOf,
    Parts,
    Shape,
    Tree,
    Wording,
    answer_shape,
    reading_shape,
)
from fieldkit.joblog.entry import Entry

#: Longest note, as its form has it. [characters]
NOTE = Wording(2000)

#: Largest photo that an entry may name. [bytes]
LARGEST_PHOTO_BYTES = 15_000_000

_NULL = Maybe(OneOf(()))
_DIGEST = Wording(64, "[0-9a-f]{64}")
_SCALAR = Maybe(Either(Either(Number(-1e300, 1e300), Wording(4000)), FLAG))
_LINE = Parts(
    {
        **dict.fromkeys(("name", "formula", "unit", "source", "status"), Wording(2000)),
        "inputs": Keyed(_SCALAR),
        "value": _SCALAR,
    }
)
#: What any calculation answers; the rest is its own, and a flow shows it as far as it can.
_RESULT = Parts(
    {
        "verdict": Wording(80),
        "headline": Wording(4000),
        "cautions": ListOf(Wording(4000)),
        "working": ListOf(_LINE, 2000),
        "said": Keyed(Tree(8, 400), 5000, 8000),
    },
    more=Tree(12, 40_000),
)
_WAIVED = Parts({"joint": TEXT, "point": TEXT, "reason": Wording(500)}, ("joint", "point"))
_NAMED = Parts({"name": TEXT, "place": TEXT, "demo": FLAG})

#: What an answer is whose question no flow of this version asks.
_UNKNOWN = Tree(3, 300)

#: What was typed: the boxes of a form.
_TYPED = Keyed(Either(ListOf(Wording(4000), 100), Wording(4000)))

_UNDERSTOOD: dict[str, Shape] = {
    "job": _NAMED,
    "joint": Parts({"name": TEXT, "like": TEXT}),
    "rename": _NAMED,
    "close": Maybe(Parts({"closed": FLAG})),
    "reading": _UNKNOWN,
    "answer": _UNKNOWN,
    "result": Maybe(Keyed(Tree(4, 3000))),
    "pick": TEXT,
    "strike": _NULL,
    "note": _NULL,
    "prices": Keyed(Number(0, DEAREST_USD), 5000),
    "signature": Parts(
        {
            "name": TEXT,
            "complete": Keyed(ListOf(TEXT), 20_000),
            "waived": ListOf(_WAIVED, 20_000),
        },
        ("name",),
        Tree(4, 5000),
    ),
    "photo": Parts(
        {
            "digest": _DIGEST,
            "bytes": Number(1, LARGEST_PHOTO_BYTES, whole=True),
            "about": TEXT,
            "kept_metadata": FLAG,
        },
        ("digest", "bytes"),
    ),
    "person": Parts({"name": TEXT, "role": TEXT, "job": TEXT, "ended": FLAG}, ("name",)),
}

_RESULTS: dict[str, Shape] = {
    "result": Maybe(_RESULT),
    "signature": Maybe(
        Parts(
            {
                "digests": Keyed(_DIGEST, 100_000),
                "digest": _DIGEST,
                "entries": Number(0, 1e9, whole=True),
                "headline": Wording(400),
            },
            ("digests", "digest"),
            Tree(4, 5000),
        )
    ),
}

#: The kinds that teach a joint facts; a strike only takes them back.
_TEACHING = frozenset({"result", "pick"})

#: What these shapes are, in short: a log that was read by others is looked through again.
FORM = sha256(repr((FACT_SHAPES, _UNDERSTOOD, _RESULTS, _TYPED, NOTE)).encode()).hexdigest()[:16]


@lru_cache(4096)
def _said(kind: str, flow_id: str, step_id: str) -> Shape:
    """What was understood, by the kind of entry, and of an answer by its question."""
    flow = flows().get(flow_id) if kind in {"answer", "reading"} else None
    step = flow.step(step_id) if flow is not None else None
    if step is not None and kind == "answer":
        return answer_shape(step)
    if step is not None and isinstance(step.kind, Series):
        return reading_shape(step.kind)
    return _UNDERSTOOD[kind]


def _misfits(entry: Entry) -> dict[str, str]:
    """Each field that does not fit, with the first part of it that does not."""
    shapes: dict[str, Shape] = {
        "typed": _TYPED,
        "understood": _said(entry.kind, entry.flow, entry.step),
        "result": _RESULTS.get(entry.kind, _NULL),
        "note": NOTE,
    }
    found = {
        name: f"{name}{wrong}"[:120]
        for name, shape in shapes.items()
        if (wrong := shape.misfit(getattr(entry, name))) is not None
    }
    if not isinstance(entry.facts, Mapping):
        found["facts"] = "facts"
    elif wrong := next((f"facts.{one}" for one in entry.facts if not _teaches(entry, one)), ""):
        found["facts"] = wrong[:120]
    return found


def _teaches(entry: Entry, fact: str) -> bool:
    """Whether the entry may say this of this fact."""
    shape = FACT_SHAPES.get(fact)
    value = entry.facts[fact]
    if shape is None or shape.misfit(value) is not None:
        return False
    if entry.kind == "joint":  # what is taken over from one like it
        return fact.startswith(SHARED)
    return entry.kind in _TEACHING or (entry.kind == "strike" and value is None)


def require_fit(entry: Entry) -> None:
    """Refuse an entry that holds what its kind does not.

    Raises
    ------
    Problem
        ``field`` names the first part that does not fit.
    """
    for name, where in _misfits(entry).items():
        raise Problem(
            name,
            None,
            say("An entry of the kind {kind} cannot hold this: {part}.", kind=entry.kind,
                part=where),
            say("Make it again with the version that is here now."),
        )  # fmt: skip


_EMPTY: dict[str, Any] = {"typed": {}, "understood": None, "result": None, "note": ""}


def fitted(entry: Entry) -> tuple[Entry, tuple[str, ...]]:
    """The entry without what does not fit, and the names of the parts that were set aside."""
    wrong = _misfits(entry)
    if not wrong:
        return entry, ()
    emptied = {name: _EMPTY[name] for name in wrong if name != "facts"}
    if "facts" in wrong:
        facts = entry.facts if isinstance(entry.facts, Mapping) else {}
        emptied["facts"] = {one: facts[one] for one in facts if _teaches(entry, one)}
    return replace(entry, **emptied), tuple(wrong.values())
