"""Which further look would tell most, for the least trouble.

The gain of a look is the mutual information between what it would show and what the thing is,
in bits: never negative, and 0 when every rival would show the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from fieldkit.engine.identifying.model import Belief, Product, Size

#: Trouble of each look in minutes, and how often it succeeds: print lines wear off. Ours.
TROUBLE_MINUTES = {"rigid": 0.5, "print": 1.0, "bore": 2.0, "wall": 2.0}
SUCCEEDS = {"rigid": 1.0, "print": 0.5, "bore": 1.0, "wall": 1.0}

#: A hand judges stiffness wrong this often. Ours.
RIGID_MISJUDGED = 0.03

#: A print line read wrong, as ``print_line`` has it.
PRINT_MISREAD = 0.05

#: Cells in which a reading's spread is cut to add up its information.
CELLS = 20

#: Below this no look is worth the trouble. [bits]
LEAST_GAIN = 0.02


class Rival(NamedTuple):
    """One thing it may still be: a product with what is believed of its sizes, or unlisted."""

    product: Product | None
    belief: Belief | None
    probability: float


def entropy_bits(probabilities: Sequence[float]) -> float:
    """Uncertainty left, in bits.

    Source
    ------
    shannon. Status: checked.

    Examples
    --------
    >>> entropy_bits([0.5, 0.5]), entropy_bits([1.0, 0.0])
    (1.0, 0.0)
    """
    return -sum([p * math.log2(p) for p in probabilities if p > 0]) or 0.0


#: What a hand's slip leaves open. [bits]
_SLIP_BITS = entropy_bits((RIGID_MISJUDGED, 1 - RIGID_MISJUDGED))


def gain_from_rigid(rivals: Sequence[Rival]) -> float:
    """Bits that bending it by hand would bring; what is not listed may be either. [bits]"""
    shows = noise = 0.0
    for product, _, p in rivals:
        if product is None:
            shows, noise = shows + p / 2, noise + p
        else:
            stiff = 1 - RIGID_MISJUDGED if product.pipe.rigid else RIGID_MISJUDGED
            shows, noise = shows + p * stiff, noise + p * _SLIP_BITS
    return max(entropy_bits((shows, 1 - shows)) - noise, 0.0)


def gain_from_print(rivals: Sequence[Rival]) -> float:
    """Bits that the print line would bring if it can be read. [bits]

    It names the very row, and ``PRINT_MISREAD`` of the time any of the others alike.
    """
    n = len(rivals)
    if n < 2:
        return 0.0
    wrong = PRINT_MISREAD / (n - 1)
    shows = [one.probability * (1 - PRINT_MISREAD - wrong) + wrong for one in rivals]
    noise = entropy_bits((1 - PRINT_MISREAD, *([wrong] * (n - 1))))
    return max(entropy_bits(shows) - noise, 0.0)


def gain_from_size(rivals: Sequence[Rival], size: Size, u_in: float) -> float:
    """Bits that a reading of wall or bore with standard uncertainty ``u_in`` would bring. [bits]

    Each rival's expected reading is a normal, cut into ``CELLS`` equal cells over all of them.
    Cutting can only lose information, so the gain errs low. What is not listed could read
    anything: it has every cell alike.
    """
    spreads = [_spread(one, size, u_in) for one in rivals]
    known = [spread for spread in spreads if spread is not None]
    if not known or len(rivals) < 2:
        return 0.0
    low = min(mean - 3 * sd for mean, sd in known)
    high = max(mean + 3 * sd for mean, sd in known)
    step = (high - low) / CELLS
    shows = [0.0] * CELLS
    noise = 0.0
    for one, spread in zip(rivals, spreads, strict=True):
        first, cells, entropy = _EVEN if spread is None else _cells(low, step, *spread)
        noise += one.probability * entropy
        for i, cell in enumerate(cells, start=first):
            shows[i] += one.probability * cell
    return max(entropy_bits(shows) - noise, 0.0)


#: What is not listed could read anything.
_EVEN = (0, [1 / CELLS] * CELLS, math.log2(CELLS))


def _cells(low: float, step: float, mean: float, sd: float) -> tuple[int, list[float], float]:
    """A normal cut into cells that sum to 1: the first within reach, the cells, their entropy.

    With weights w = exp(−e), entropy is ln Σw + Σ(w e)/Σw: one logarithm instead of one a cell.
    """
    first = max(int((mean - 4 * sd - low) / step), 0)
    last = min(int((mean + 4 * sd - low) / step), CELLS - 1)
    sharp = 0.5 / (sd * sd)
    nearest = low + (int((mean - low) / step) + 0.5) * step
    least = sharp * (nearest - mean) ** 2  # so that no weight is lost below the smallest float
    weights, total, moment = [], 0.0, 0.0
    x = low + (first + 0.5) * step
    for _ in range(first, last + 1):
        energy = sharp * (x - mean) ** 2 - least
        weight = math.exp(-energy)
        weights.append(weight)
        total += weight
        moment += weight * energy
        x += step
    entropy = (math.log(total) + moment / total) / math.log(2)
    return first, [weight / total for weight in weights], entropy


def _spread(one: Rival, size: Size, u_in: float) -> tuple[float, float] | None:
    if one.product is None or one.belief is None:
        return None
    mean, var = one.product.expect(one.belief, size)
    return mean, math.sqrt(max(var, 0.0) + u_in * u_in)


def best_look(gains: dict[str, float]) -> str | None:
    """The look with the most bits a minute, or None when none is worth it."""
    worth = {
        look: gain * SUCCEEDS[look] / TROUBLE_MINUTES[look]
        for look, gain in gains.items()
        if gain * SUCCEEDS[look] >= LEAST_GAIN
    }
    return max(worth, key=lambda look: worth[look]) if worth else None


# ── How to do it without a caliper ──────────────────────────────────────────────────────────

#: Drill shanks that a kit holds run in 64ths. [in]
SIXTY_FOURTH_IN = 1 / 64


def splitting_drill(small_bore_in: float, large_bore_in: float) -> int | None:
    """The drill, in 64ths of an inch, whose shank enters the larger bore and not the smaller.

    Returns
    -------
    int or None
        The one nearest the middle, or None where none lies between with 0.003 in to spare.

    Source
    ------
    fieldkit-rule: the spare is ours.

    Examples
    --------
    >>> splitting_drill(0.580, 0.600), splitting_drill(0.600, 0.620), splitting_drill(0.614, 0.615)
    (38, 39, None)
    """
    middle = round((small_bore_in + large_bore_in) / 2 / SIXTY_FOURTH_IN)
    shank = middle * SIXTY_FOURTH_IN
    return middle if small_bore_in + 0.003 <= shank <= large_bore_in - 0.003 else None


def sixty_fourths(count: int) -> str:
    """A drill's name from its 64ths.

    Examples
    --------
    >>> sixty_fourths(38), sixty_fourths(40), sixty_fourths(39), sixty_fourths(72)
    ('19/32', '5/8', '39/64', '1-1/8')
    """
    whole, rest = divmod(count, 64)
    if not rest:
        return str(whole)
    shared = math.gcd(rest, 64)
    fraction = f"{rest // shared}/{64 // shared}"
    return f"{whole}-{fraction}" if whole else fraction
