"""Bayes' rule over every row of the pipe table, and one "unlisted".

Before measuring, a row weighs its share of what turns up at such a joint (a judgement, in the
table). Readings weigh it by the normal model of ``pipe_model``, stiffness and print line by the
error rates stated beside them, and a region by how much of a row is sold there.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from fieldkit.engine.identifying.model import (
    UNLISTED_SHARE,
    Belief,
    Reading,
    products,
    unlisted_log_density,
)
from fieldkit.engine.identifying.next_measurement import RIGID_MISJUDGED, Rival
from fieldkit.engine.identifying.print_line import PrintLine
from fieldkit.tables.pipes import Pipe

#: How much of what is sold under a row's region is met in the region asked about. Ours.
REGION_WEIGHTS: Mapping[str, Mapping[str, float]] = {
    "na": {"na": 1.0, "any": 1.0, "metric": 0.1, "oceania": 0.05},
    "oceania": {"na": 0.2, "any": 1.0, "metric": 1.0, "oceania": 1.0},
    "metric": {"na": 0.1, "any": 1.0, "metric": 1.0, "oceania": 0.15},
}

#: Rows farther out than this many standard deviations are beyond reach of the reading.
REACH = 7.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that is known of the piece. Sizes in inches at 73 °F, each with its k = 2."""

    readings: tuple[Reading, ...] = ()
    rigid: bool | None = None
    line: PrintLine | None = None
    region: str | None = None

    def of(self, size: str) -> Reading | None:
        """The reading of one size, where there is one."""
        return next((one for one in self.readings if one.size == size), None)


def share_here(pipe: Pipe, region: str | None) -> float:
    """How common a row is in a region, beside the other rows. [1]"""
    weights = REGION_WEIGHTS[region] if region is not None else {}
    return pipe.share * weights.get(pipe.region, 1.0)


@cache
def all_shares(region: str | None) -> float:
    """The sum of ``share_here`` over all rows. [1]"""
    return math.fsum(share_here(one.pipe, region) for one in products())


@cache
def _log_priors(region: str | None, rigid: bool | None) -> tuple[tuple[float, ...], float]:
    """Log weight of each row, and of "unlisted", before any reading."""
    total = all_shares(region)
    logs = [math.log((1 - UNLISTED_SHARE) * share_here(p.pipe, region) / total) for p in products()]
    unlisted = math.log(UNLISTED_SHARE)
    if rigid is not None:
        same, other = math.log(1 - RIGID_MISJUDGED), math.log(RIGID_MISJUDGED)
        pairs = zip(logs, products(), strict=True)
        logs = [log + (same if p.pipe.rigid is rigid else other) for log, p in pairs]
        unlisted += math.log(0.5)
    return tuple(logs), unlisted


#: Outsides that spread no more than this are looked up in order; hose spreads more. [in]
_NARROW_IN = 0.02


@cache
def _outsides() -> tuple[tuple[float, ...], tuple[int, ...], tuple[int, ...]]:
    """Narrow outsides in order, the row of each, and the rows whose outside spreads more."""
    narrow = sorted(
        (p.od_mean, i) for i, p in enumerate(products()) if math.sqrt(p.od_var) <= _NARROW_IN
    )
    rows = tuple(i for _, i in narrow)
    return tuple(od for od, _ in narrow), rows, tuple(set(range(len(products()))) - set(rows))


def posterior(evidence: Evidence) -> tuple[Rival, ...]:
    """Every row within reach and "unlisted" (``product`` None), likeliest first; sums to 1.

    Source
    ------
    bayes. Status: computed.

    Examples
    --------
    >>> seen = posterior(Evidence((Reading("od", 0.840, 0.0012),), rigid=True))
    >>> seen[0].product.pipe.id, abs(sum(one.probability for one in seen) - 1) < 1e-12
    ('pvc-ips-0500-sch40', True)
    """
    logs, log_unlisted = _log_priors(evidence.region, evidence.rigid)
    if evidence.line is not None:
        logs = tuple(a + b for a, b in zip(logs, evidence.line.log_chance, strict=True))
        log_unlisted += evidence.line.log_chance_unlisted
    log_unlisted += unlisted_log_density(evidence.readings)
    rows = products()
    weighed: list[tuple[float, int, Belief]] = []
    for i in _within_reach(evidence.of("od")):
        made, belief, log = rows[i], rows[i].belief, logs[i]
        if log == -math.inf:  # the print says another kind
            continue
        for reading in evidence.readings:
            belief, more = made.see(belief, reading)
            log += more
        weighed.append((log, i, belief))
    top = max((log for log, _, _ in weighed), default=log_unlisted)
    top = max(top, log_unlisted)
    found = [(math.exp(log - top), i, belief) for log, i, belief in weighed]
    alone = math.exp(log_unlisted - top)
    total = math.fsum((alone, *(weight for weight, _, _ in found)))
    rivals = [Rival(rows[i], belief, weight / total) for weight, i, belief in found]
    rivals.append(Rival(None, None, alone / total))
    rivals.sort(key=lambda one: -one.probability)
    return tuple(rivals)


def _within_reach(od: Reading | None) -> Sequence[int]:
    """Rows whose outside could give this reading at all: most drop out before any exponent."""
    rows = products()
    if od is None:
        return range(len(rows))
    value, var, reach = od.value_in, od.u_in**2, REACH**2
    means, in_order, wide = _outsides()
    far = REACH * math.sqrt(var + _NARROW_IN**2)
    near = in_order[bisect_left(means, value - far) : bisect_right(means, value + far)]
    return [
        i
        for i in (*near, *wide)
        if (value - rows[i].od_mean) ** 2 <= reach * (rows[i].od_var + var)
    ]
