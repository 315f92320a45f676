"""What a fact of the log says, in words: ids and codes as the questions and tables name them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from fieldkit.engine.words import Text, join, say
from fieldkit.flows.catalogue import flows
from fieldkit.flows.halt import STOP_FACT
from fieldkit.flows.localize import as_text
from fieldkit.flows.pipe_names import name_on_side
from fieldkit.flows.question import Choice, Several
from fieldkit.tables.cautions import stops
from fieldkit.tables.diagnosis import causes, options
from fieldkit.tables.materials import materials
from fieldkit.tables.other_kinds import other_kinds
from fieldkit.tables.pipes import pipes

#: Facts whose codes are the options of a question: flow and step.
_ASKED = {
    "pipe.od_tool": ("measure-pipe", "tool"),
    "tube.od_tool": ("measure-tube", "tool"),
    "site.place": ("choose", "place"),
    "parts.joints": ("plan-test", "joints"),
    "test.restraint": ("plan-test", "restraint"),
    "test.thermometer": ("plan-test", "water"),
    "test.tubing": ("plan-test", "tubing"),
    "weld.dry_fit": ("join-cement", "dry_fit"),
    "weld.cured": ("plan-test", "cured"),
    "thread.pair": ("leak-now", "thread_parts"),
    "thread.sealant": ("join-thread", "sealant"),
    "tube_end.kind": ("join-tube", "kind"),
}

_VERDICTS = {
    "thread.verdict": {
        "ok": say("right"),
        "too_loose": say("too loose"),
        "too_tight": say("too tight"),
        "wrong_pair": say("a wrong pair"),
        "wrong_sealant": say("a wrong sealant"),
        "does_not_match": say("threads that do not match"),
    },
    "tube_end.verdict": {
        "ok": say("right"),
        "too_much": say("too much pressure for this end"),
        "moved": say("it moved under a tug"),
        "not_tugged": say("not tugged yet"),
    },
    "fitted.verdict": {
        "ok": say("right"),
        "too_much": say("too much pressure for this part"),
        "moved": say("it turned by hand"),
        "not_tried": say("not tried yet"),
    },
    "test.verdict": {
        "holds": say("it holds"),
        "leaks": say("it leaks"),
        "repeat": say("test again"),
    },
    "last.verdict": {
        "holds": say("it holds"),
        "marginal": say("close to the limit"),
        "lets_go": say("it would let go"),
    },
}

#: Facts that a joint's page has in better words: this one is in the plan's own answer.
TOLD_ELSEWHERE = frozenset({"test.limited_by"})

_CAUSES = ("leak.cause", "leak.really")


def fact_told(name: str, value: Any, facts: Mapping[str, Any]) -> Text | None:
    """A fact's value in words; None of one that is a number, a time, or words as they are.

    Examples
    --------
    >>> fact_told("last.verdict", "lets_go", {}), fact_told("site.place", "riser", {})
    ('it would let go', 'From a pipe that comes up')
    >>> fact_told("leak.remake", "join-cement", {})
    'Glue the rigid joints'
    >>> fact_told("site.pressure_psi", 40.0, {}) is None
    True
    """
    side, _, what = name.partition(".")
    if what == "name":
        return name_on_side(facts, side)
    words = _NAMED[what]() if what in _NAMED else _words(name)
    if not words:
        return None
    codes = value if isinstance(value, list) else [value]
    told = [words.get(str(one)) or as_text(str(one)) for one in codes]
    return told[0] if len(told) == 1 else join(told, "; ")


@cache
def _families() -> Mapping[str, Text]:
    return {row.family: as_text(row.family_name) for row in pipes().values()}


@cache
def _materials() -> Mapping[str, Text]:
    return {id_: as_text(row.name) for id_, row in materials().items()}


@cache
def _kinds() -> Mapping[str, Text]:
    return {id_: as_text(row.name) for id_, row in other_kinds().items()}


#: Facts of either side whose codes are ids of the tables.
_NAMED = {"family": _families, "material": _materials, "other_kind": _kinds}


@cache
def _stops() -> Mapping[str, Text]:
    return {id_: as_text(row.headline) for id_, row in stops().items()}


@cache
def _words(name: str) -> Mapping[str, Text]:
    if name == STOP_FACT:
        return _stops()
    if name in _VERDICTS:
        return _VERDICTS[name]
    if name in _CAUSES:
        titles = {row.id: as_text(row.title) for row in causes().values()}
        return titles | {"something_else": say("Something else")}
    if name == "leak.joint":
        return {one.option_id: as_text(one.label) for one in options()["fitting_type"]}
    if name == "leak.remake":
        return {one: as_text(flow.title) for one, flow in flows().items()}
    if name not in _ASKED:
        return {}
    flow, step_id = _ASKED[name]
    step = flows()[flow].step(step_id)
    if step is None or not isinstance(step.kind, Choice | Several):
        raise KeyError(f"{flow} has no choice {step_id!r}")
    return {option.value: as_text(option.label) for option in step.kind.options}
