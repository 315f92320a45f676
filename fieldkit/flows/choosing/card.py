"""The card for the store: what to buy for a joint, how much of it, and what not to buy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fieldkit.engine.choosing.assembly import Assembly, MadeJoint, PartCount
from fieldkit.engine.choosing.parts_list import parts_list
from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.diagnosing.mend import cause_of, sizes_told
from fieldkit.flows.drawings.assembly import together_drawing
from fieldkit.flows.localize import as_text
from fieldkit.tables.fittings import TUBE_ENDS, fittings
from fieldkit.tables.hydraulics import figure

#: Most near misses that the card names: it is one screen.
MOST_AVOIDED = 3


@dataclass(frozen=True, slots=True)
class ToBuy:
    """One line: how many (0: as needed), the plain name, and the shop's word."""

    count: int
    name: Text
    trade: Text


@dataclass(frozen=True, slots=True)
class StoreCard:
    """What to buy and what not; ``chosen`` is false where it shows the first way on offer."""

    rows: tuple[ToBuy, ...]
    avoid: tuple[tuple[Text, Text], ...]
    fits: tuple[Text, ...]
    drawing: Drawing | None
    joints: int
    chosen: bool


def store_card(
    facts: Mapping[str, Any],
    transition: Mapping[str, Any] | None = None,
    riser: Mapping[str, Any] | None = None,
) -> StoreCard:
    """The card of a joint.

    Parameters
    ----------
    facts : mapping
        The joint's facts.
    transition : mapping or None
        The last answer that chose parts, as JSON: its first way stands while none is picked.
    riser : mapping or None
        The last answer that turned a riser, as JSON: what it prescribed is bought as well.
    """
    picked = facts.get("parts.assembly")
    offered = (transition or {}).get("assemblies") or ()
    assembly = picked if isinstance(picked, Mapping) else next(iter(offered), None)
    count = int(facts.get("parts.count") or 1)
    rows = [*_repair(facts), *_prescribed(facts, riser)]
    if assembly is not None:
        rows += _parts(assembly, count)
    return StoreCard(
        rows=tuple(rows),
        avoid=_avoid((transition or {}).get("refused") or (), assembly),
        fits=sizes_told(facts),
        drawing=together_drawing(assembly) if assembly is not None else None,
        joints=count if assembly is not None else 0,
        chosen=isinstance(picked, Mapping),
    )


def _parts(assembly: Mapping[str, Any], count: int) -> Iterator[ToBuy]:
    """Parts for all joints, and packs of what is used up."""
    listed = parts_list(kept_assembly(assembly), count, None)
    for one in (*listed.parts, *listed.sundries):
        if one.count:
            yield ToBuy(one.count, as_text(one.name), as_text(one.trade_name))


def kept_assembly(kept: Mapping[str, Any]) -> Assembly:
    """An assembly as the log keeps it, as the engine made it."""
    own: dict[str, Any] = {
        "parts": tuple(PartCount(**part) for part in kept["parts"]),
        "joints": tuple(
            MadeJoint(**{**joint, "between": tuple(joint["between"])}) for joint in kept["joints"]
        ),
    }
    return Assembly(**{**kept, **own})


def _prescribed(facts: Mapping[str, Any], riser: Mapping[str, Any] | None) -> Iterator[ToBuy]:
    """What an answer asked for beside the parts: regulator, filter, caps."""
    setting = (riser or {}).get("regulator_psi") or facts.get("site.regulator_psi")
    if riser:
        mesh = Figure(figure("filter_mesh"))
        yield ToBuy(1, say("filter, {mesh} mesh", mesh=mesh), say("irrigation filter"))
    if setting:
        set_to = Figure(float(setting), "psi")
        yield ToBuy(
            1,
            say("pressure regulator, {setting}", setting=set_to),
            say("preset pressure regulator, {n} psi", n=round(setting)),
        )
    caps = int((riser or {}).get("heads_to_cap") or 0)
    if caps:
        size = str(facts.get("thread.size") or "1/2")
        yield ToBuy(caps, say("cap for a {size} in riser", size=size), say("threaded cap"))


def _repair(facts: Mapping[str, Any]) -> Iterator[ToBuy]:
    """What the fix of a cause needs, while it is not mended."""
    cause = cause_of(facts)
    if cause is None or facts.get("leak.mended_at") is not None:
        return
    for part in cause.parts:
        yield ToBuy(0, as_text(part), say(""))


def _avoid(
    refused: Sequence[Mapping[str, Any]], assembly: Mapping[str, Any] | None
) -> tuple[tuple[Text, Text], ...]:
    """The parts that look like the right one: the same kind of tube end, and hose thread."""
    if assembly is None:
        return ()
    right = {
        end.kind
        for part in assembly["parts"]
        if part["id"] in fittings()
        for end in fittings()[part["id"]].ends
    }
    tube_ends = right & set(TUBE_ENDS)

    def near(one: Mapping[str, Any]) -> int:
        row = fittings().get(str(one["part"]))
        kinds = {end.kind for end in row.ends} if row else set()
        return 0 if kinds & tube_ends else 1 if any(k.startswith("hose") for k in kinds) else 2

    bought = {part["id"] for part in assembly["parts"]}  # refused without its clamp, bought with it
    ordered = sorted((one for one in refused if one["part"] not in bought), key=near)
    alike = [one for one in ordered if near(one) == 0][: MOST_AVOIDED - 1]
    mixed = [one for one in ordered if near(one) == 1][:1] if "npt-male" in right else []
    return tuple((as_text(one["name"]), as_text(one["why"])) for one in (*alike, *mixed))
