"""From how many joints on the cheaper way with more joints, or more to buy once, pays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import floor

from fieldkit.engine.choosing.assembly import Assembly
from fieldkit.engine.words import Figure, Text, say

#: What a second kind of part in one job costs once, in mixed packs and learning. [$]
SECOND_PART_USD = 2.0


@dataclass(frozen=True, slots=True)
class BreakEven:
    """Two assemblies, and the number of joints from which ``many`` is the cheaper one.

    ``exact`` is N* of the formula; ``count`` the least whole number above it, or None where it
    never pays. ``labour_limit`` is the pay at which it stops paying. [$/h]
    """

    few: str
    many: str
    exact: float | None
    count: int | None
    labour_per_hour: float
    labour_limit: float | None
    one_off: float
    saved_each: float
    extra_minutes: float
    how: Text


def break_even_joints(
    saved_each: float, extra_minutes: float, one_off: float, labour_per_hour: float
) -> float | None:
    """N* = F / (saving − R m / 60): joints at which both ways cost the same.

    Parameters
    ----------
    saved_each : float
        Price of the one way less that of the other, each joint. [$]
    extra_minutes : float
        Minutes that the other way takes longer, each joint. [min]
    one_off : float
        What the other way costs once, at least 0. [$]
    labour_per_hour : float
        Pay, at least 0. [$/h]

    Returns
    -------
    float or None
        Number of joints, or None where it never pays. [1]

    Source
    ------
    statics: N (p₁ + R m₁/60) + F₁ = N (p₂ + R m₂/60) + F₂ solved for N. Status: computed.

    Examples
    --------
    >>> round(break_even_joints(1.475, 2.5, 2.0, 0.0), 2)
    1.36
    >>> break_even_joints(1.475, 2.5, 2.0, 35.5) is None
    True
    """
    left = saved_each - labour_per_hour * extra_minutes / 60
    return one_off / left if left > 1e-12 else None


def one_off_cost(one: Assembly, prices: Mapping[str, float], wait_cost: float) -> float:
    """What is paid once: cans and the wait where it is cemented, a second kind of part. [$]

    Source
    ------
    trade. Status: common practice, no source.
    """
    cement = prices.get("sundry_primer_cement", 0.0) + wait_cost if one.welds else 0.0
    return cement + SECOND_PART_USD * (len(one.parts) - 1)


def compare(
    few: Assembly,
    many: Assembly,
    prices: Mapping[str, float],
    labour_per_hour: float,
    wait_cost: float = 0.0,
) -> BreakEven | None:
    """``many`` against ``few``, or None where a price is missing or nothing is to be gained."""
    if few.cost is None or many.cost is None or many.cost >= few.cost:
        return None
    saved, extra = few.cost - many.cost, many.minutes - few.minutes
    one_off = max(0.0, one_off_cost(many, prices, wait_cost) - one_off_cost(few, prices, wait_cost))
    exact = break_even_joints(saved, extra, one_off, labour_per_hour)
    count = None if exact is None else floor(round(exact, 9)) + 1
    limit = saved * 60 / extra if extra > 1e-9 else None
    return BreakEven(
        few=few.key,
        many=many.key,
        exact=exact,
        count=count,
        labour_per_hour=labour_per_hour,
        labour_limit=limit,
        one_off=one_off,
        saved_each=saved,
        extra_minutes=extra,
        how=_how(few, many, count, saved=saved, one_off=one_off, labour=labour_per_hour),
    )


def _how(
    few: Assembly, many: Assembly, count: int | None, *, saved: float, one_off: float, labour: float
) -> Text:
    if count is None:
        return say(
            "{many} saves ${saved} a joint in parts, but at ${labour} an hour its longer work "
            "costs more: {few} stays cheaper.",
            many=many.title,
            few=few.title,
            saved=f"{saved:.2f}",
            labour=Figure(labour),
        )
    return say(
        "From {count} joints on, {many} is cheaper than {few}: it saves ${saved} a joint, and "
        "costs ${one_off} more once. Work is counted at ${labour} an hour.",
        count=count,
        many=many.title,
        few=few.title,
        saved=f"{saved:.2f}",
        one_off=f"{one_off:.2f}",
        labour=Figure(labour),
    )


def break_evens(
    assemblies: Sequence[Assembly],
    prices: Mapping[str, float] | None,
    labour_per_hour: float,
    wait_cost: float = 0.0,
) -> tuple[BreakEven, ...]:
    """The pairs worth telling: the fewest joints against each cheaper way that has more of
    them, and the way without cement against the cheapest cemented one. The first one rules.
    """
    if prices is None:
        return ()
    priced = [one for one in assemblies if one.cost is not None]
    by_cost = sorted(priced, key=lambda one: one.cost or 0.0)
    ready_made = min(by_cost, key=lambda one: len(one.joints), default=None)
    dry = next((one for one in by_cost if not one.welds), None)
    pairs = []
    if ready_made is not None:
        fewest = len(ready_made.joints)
        pairs += [(ready_made, other) for other in by_cost if len(other.joints) > fewest]
    if dry is not None:
        pairs += [(dry, other) for other in by_cost if other.welds]
    found = [compare(few, many, prices, labour_per_hour, wait_cost) for few, many in pairs]
    return tuple({(b.few, b.many): b for b in found if b is not None}.values())[:6]
