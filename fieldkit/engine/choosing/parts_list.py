"""Everything to buy for a number of like joints: parts, and packs of what is used up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, floor

from fieldkit.engine.choosing.assembly import Assembly
from fieldkit.engine.joining.cement import nominal_in
from fieldkit.tables.fittings import Sundry, sundries
from fieldkit.tables.joining import joints_per_quart


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list; money is None where the price is not known."""

    id: str
    name: str
    trade_name: str
    count: int
    each: float | None
    cost: float | None


@dataclass(frozen=True, slots=True)
class PartsList:
    """What a job of ``joints`` like joints needs. ``total`` is None where a price is missing."""

    joints: int
    parts: tuple[Item, ...]
    sundries: tuple[Item, ...]
    total: float | None
    minutes: float


def welds_per_pack(pack: Sundry, nominal: str) -> int:
    """Cemented joints that one pack of primer and cement makes before it is empty or spoilt.

    Parameters
    ----------
    pack : Sundry
        Row of ``sundries.csv`` with ``quarts_a_pack``.
    nominal : str
        Trade size of the pipe, ½ to 18 in.

    Returns
    -------
    int
        The lesser of what keeps and what the volume makes: the size of the table at or above
        it, the safe side.

    Source
    ------
    cement-guide-b for joints per quart; trade for how long an opened can keeps.

    Examples
    --------
    >>> pack = sundries()["sundry_primer_cement"]
    >>> welds_per_pack(pack, "1/2"), welds_per_pack(pack, "1")
    (30, 15)
    """
    size = nominal_in(nominal)
    row = next((row for row in joints_per_quart() if row.size_in >= size), joints_per_quart()[-1])
    return max(1, min(pack.joints_a_pack, floor(row.cement_joints * (pack.quarts_a_pack or 0.0))))


def share_of_pack(sundry_id: str, assembly: Assembly) -> float:
    """How much of a pack one assembly uses up. [1]

    Source
    ------
    trade. Status: common practice, no source.
    """
    pack = sundries()[sundry_id]
    if pack.serves == "weld":
        return sum(
            1 / welds_per_pack(pack, joint.nominal)
            for joint in assembly.joints
            if joint.kind.startswith("solvent")
        )
    return sum(joint.kind == "npt" for joint in assembly.joints) / pack.joints_a_pack


def whole_packs(shares: float) -> int:
    """Packs to buy for so many shares of a pack: the whole is rounded up.

    Examples
    --------
    >>> whole_packs(1.0000000001), whole_packs(1.1)
    (1, 2)
    """
    return ceil(round(shares, 9))


def packs(sundry_id: str, assembly: Assembly, count: int) -> int:
    """Packs of one sundry for ``count`` assemblies.

    Joints of several sizes use up shares of a pack each.
    """
    return whole_packs(count * share_of_pack(sundry_id, assembly))


def parts_list(assembly: Assembly, count: int, prices: Mapping[str, float] | None) -> PartsList:
    """The list for ``count`` joints made as ``assembly``.

    Parameters
    ----------
    assembly : Assembly
        How each of them is made.
    count : int
        Joints, 1 or more.
    prices : mapping or None
        Price of each part id. [$]

    Returns
    -------
    PartsList
        With the minutes of work in all, no cure wait. [min]

    Source
    ------
    fieldkit-rule
    """
    known = prices or {}

    def item(one: str, name: str, trade_name: str, number: int) -> Item:
        each = known.get(one, 0.0 if one == "pipe_stub" and prices is not None else None)
        cost = None if each is None else round(each * number, 4)
        return Item(one, name, trade_name, number, each, cost)

    parts = tuple(item(p.id, p.name, p.trade_name, p.count * count) for p in assembly.parts)
    used = tuple(
        item(one, sundries()[one].name, sundries()[one].trade_name, packs(one, assembly, count))
        for one in assembly.sundries
    )
    costs = [line.cost for line in (*parts, *used)]
    total = None if any(cost is None for cost in costs) else sum(cost or 0.0 for cost in costs)
    return PartsList(count, parts, used, total, assembly.minutes * count)
