"""The name of a pipe or a tube as a text, so that each of its words can be told by itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fieldkit.engine.words import Text, say
from fieldkit.flows.localize import as_text
from fieldkit.flows.measures import plain_inches
from fieldkit.tables.pipes import Pipe, pipes


def pipe_name(row: Pipe) -> Text:
    """The name of a row of the pipe table, as ``Pipe.name`` writes it.

    Examples
    --------
    >>> pipe_name(pipes()["pvc-ips-0500-sch40"])
    '1/2 in. Sch 40 rigid PVC pipe'
    """
    size = _size(row.nominal)
    if row.family in {"drip", "micro", "swing"} and row.bore_in is not None:
        return say(
            "{size} {family}, {od} × {bore}",
            size=size,
            family=row.family_name,
            od=plain_inches(row.od_in),
            bore=plain_inches(row.bore_in),
        )
    if not row.pipe_class:
        return family_name(row)
    return say(
        "{size} {pipe_class} {family}",
        size=size,
        pipe_class=row.pipe_class,
        family=row.family_name,
    )


def family_name(row: Pipe) -> Text:
    """Size and family only, where the class is not settled."""
    return say("{size} {family}", size=_size(row.nominal), family=row.family_name)


def name_on_side(facts: Mapping[str, Any], side: str) -> Text:
    """What one side of a joint was named, or nothing.

    The log keeps the name in English. It is said anew from the facts beside it, as long as that
    comes to the same: one that was kept by an older version is looked up whole.
    """
    kept = str(facts.get(f"{side}.name") or "")
    row = pipes().get(str(facts.get(f"{side}.id") or ""))
    if row is not None and kept in {"", row.name}:
        return pipe_name(row)
    if not kept:
        return as_text(kept)
    family, nominal = facts.get(f"{side}.family"), facts.get(f"{side}.nominal")
    same = (one for one in pipes().values() if (one.family, one.nominal) == (family, nominal))
    told = (family_name(one) for one in same)
    return next((one for one in told if one == kept), as_text(kept))


def _size(nominal: str) -> Text:
    return as_text(nominal) if nominal.endswith("mm") else say("{size} in.", size=nominal)
