"""The order: parts for all joints that are chosen and not made, as one list to buy from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import ceil
from typing import Any

from fieldkit.engine.choosing.parts_list import share_of_pack, whole_packs
from fieldkit.flows.choosing.card import kept_assembly
from fieldkit.tables.fittings import sundries


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One part: how many are needed, are in the van, and are to buy.

    ``pack`` is how many are sold together, 1 where no list says; ``to_buy`` is rounded up to it.
    ``cost`` is None where no price is known.
    """

    id: str
    name: str
    trade: str
    needed: int
    in_van: int = 0
    pack: int = 1
    cost: float | None = None

    @property
    def to_buy(self) -> int:
        """How many to buy: whole packs, never less than none."""
        return self.pack * self.packs

    @property
    def packs(self) -> int:
        """How many packs to buy."""
        return ceil(max(0, self.needed - self.in_van) / self.pack)


@dataclass(frozen=True, slots=True)
class Chosen:
    """One joint whose parts are chosen; ``made_alike`` of its job have the same, made already."""

    job: str
    facts: Mapping[str, Any]
    made_alike: int = 0


def order_of(
    chosen: Iterable[Chosen],
    in_van: Mapping[str, int],
    prices: Mapping[str, float],
    packs: Mapping[str, int],
) -> tuple[OrderLine, ...]:
    """What to buy for all of them together; what is used up is shared by all joints.

    Where a job's joint says that it is one of several alike, and fewer than that are in the log,
    the parts are for as many as it says.

    Parameters
    ----------
    chosen : iterable of Chosen
        The joints to be made.
    in_van : mapping
        Part or sundry id → pieces that are there already. [1]
    prices : mapping
        Part id → price of one. [$]
    packs : mapping
        Part id → how many are sold together. [1]
    """
    lines: dict[str, OrderLine] = {}
    shares: dict[str, float] = {}
    for kept, count in _alike(chosen):
        assembly = kept_assembly(kept)
        for part in assembly.parts:
            before = lines.get(part.id) or OrderLine(part.id, part.name, part.trade_name, 0)
            lines[part.id] = replace(before, needed=before.needed + part.count * count)
        for one in assembly.sundries:
            shares[one] = shares.get(one, 0.0) + count * share_of_pack(one, assembly)
    for one, share in shares.items():
        if needed := whole_packs(share):
            row = sundries()[one]
            lines[one] = OrderLine(one, row.name, row.trade_name, needed)
    return tuple(
        _priced(replace(line, in_van=in_van.get(line.id, 0), pack=packs.get(line.id, 1)), prices)
        for line in lines.values()
    )


def _priced(line: OrderLine, prices: Mapping[str, float]) -> OrderLine:
    each = prices.get(line.id, 0.0 if line.id == "pipe_stub" and prices else None)
    return replace(line, cost=None if each is None else round(each * line.to_buy, 4))


def _alike(chosen: Iterable[Chosen]) -> list[tuple[Mapping[str, Any], int]]:
    """The assemblies to be made, each with how many of it."""
    groups: dict[tuple[str, str], list[Chosen]] = {}
    for one in chosen:
        parts = one.facts["parts.assembly"]["parts"]
        key = " ".join(sorted(f"{part['id']}*{part.get('count', 1)}" for part in parts))
        groups.setdefault((one.job, key), []).append(one)
    return [
        (
            of[0].facts["parts.assembly"],
            max(
                len(of),
                *(int(one.facts.get("parts.count") or 1) - one.made_alike for one in of),
            ),
        )
        for of in groups.values()
    ]
