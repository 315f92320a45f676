"""What stops the work on a joint: a pipe or tube that was named as one that takes no joint.

Naming keeps it as a fact of its side. Every flow looks here before it asks and before it works
anything out, and every calculation looks here at its request, so no stage has a check of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fieldkit.engine.identifying.print_line import printed_kind
from fieldkit.engine.problems import Refused
from fieldkit.engine.words import say
from fieldkit.tables.other_kinds import EFFECTS, OtherKind, kind_of_family, other_kinds
from fieldkit.tables.pipes import pipes

SIDES = ("pipe", "tube")

#: Keys of a request by which it carries what a pipe was named as; so an answer of ``identify``
#: may be sent along with the pipe that it is about.
CARRIED = ("stops", "not_for_pressure", "other_kind", "print_line")

#: Rows and families of the pipe table, by which a request may name one as well.
_NAMES = ("family", "id")

#: The calculations that only look: they may be asked about any pipe.
LOOKING = frozenset({"measure", "identify"})

_DEEPEST = 12

#: What stands for a kind that this version's table lacks. It may be gas, so it stops as gas does.
UNKNOWN = OtherKind(
    id="unknown",
    name=say("a kind that only a newer version knows"),
    effect="gas",
    families=(),
    marks=(),
    unless=(),
    cautions=(),
    source="fieldkit-rule",
    status="computed",
    note="",
)


def kind_on(facts: Mapping[str, Any], side: str) -> OtherKind | None:
    """The kind that one side of a joint was named as, where nothing may be joined to it."""
    named = facts.get(f"{side}.other_kind")
    return other_kinds().get(str(named), UNKNOWN) if named else None


def stop_of(facts: Mapping[str, Any], goes_on: Sequence[str] = ()) -> OtherKind | None:
    """The gravest kind on either side, apart from those of an effect in ``goes_on``.

    Examples
    --------
    >>> stop_of({"tube.other_kind": "gas", "pipe.other_kind": "conduit"}).id
    'gas'
    >>> stop_of({"pipe.other_kind": "conduit"}, goes_on=("no pressure",)) is None
    True
    """
    found = [kind for side in SIDES if (kind := kind_on(facts, side)) is not None]
    found = [kind for kind in found if kind.effect not in goes_on]
    return min(found, key=lambda kind: EFFECTS.index(kind.effect), default=None)


def refusal(kind: OtherKind, field: str = "", given: object = None) -> Refused:
    """Why nothing is worked out for such a pipe, and what to do instead."""
    if kind is UNKNOWN:
        return Refused(
            field,
            given,
            say("One pipe of this joint is {kind}: nothing may be cut or joined.", kind=kind.name),
            say("Do not go on. Open the joint in that version to read why."),
        )
    if kind.effect == "gas":
        return Refused(
            field,
            given,
            say("One pipe of this joint is {kind}: nothing may be cut or joined.", kind=kind.name),
            say("Leave it as it is and call the gas utility."),
        )
    if kind.effect == "no pressure":
        wrong = say("One pipe of this joint is {kind}, not made for pressure.", kind=kind.name)
    else:
        wrong = say(
            "One pipe of this joint is {kind}: no joint here is made for it.", kind=kind.name
        )
    return Refused(field, given, wrong, say("Join to a pressure pipe instead, or read its print."))


def refuse_carried(body: object, path: str = "", deep: int = 0) -> None:
    """Refuse a request that carries such a pipe, however deep it stands in it.

    Raises
    ------
    Refused
        A key of ``CARRIED``, a row or family of the pipe table, or a fact of a joint names one.
    """
    if deep > _DEEPEST:
        return
    if isinstance(body, Mapping):
        for key, value in body.items():
            field = f"{path}.{key}" if path else str(key)
            kind = _kind_carried(str(key).rpartition(".")[2], value)
            if kind is not None:
                raise refusal(kind, field, value)
            refuse_carried(value, field, deep + 1)
    elif isinstance(body, Sequence) and not isinstance(body, str | bytes):
        for at, one in enumerate(body):
            refuse_carried(one, f"{path}[{at}]", deep + 1)


def _kind_carried(key: str, value: object) -> OtherKind | None:
    if key not in (*CARRIED, *_NAMES) or not isinstance(value, str) or not value.strip():
        return None
    kinds = other_kinds()
    found: OtherKind | None
    match key:
        case "stops":
            return kinds["gas"]
        case "not_for_pressure":
            return next((one for one in kinds.values() if one.name == value), kinds["unpressured"])
        case "other_kind":
            found = kinds.get(value, UNKNOWN)
        case "print_line":
            found = printed_kind(value[:2000])
        case "id":
            row = pipes().get(value)
            found = kind_of_family(row.family) if row is not None else None
        case _:
            found = kind_of_family(value)
    return found if found is not None and found.takes_no_joint else None
