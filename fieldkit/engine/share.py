"""How often something happens, from a count: the share, and how far it may be off."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from fieldkit.engine.problems import OutOfRange
from fieldkit.engine.words import say

#: The normal distribution's point that leaves 2.5 % on either side.
Z_95 = 1.959963984540054

#: An interval wider than this says too little to act upon. Our choice.
WIDE = 0.20


@dataclass(frozen=True, slots=True)
class Share:
    """``found`` of ``of``, with a 95 % interval."""

    found: int
    of: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """The share itself. [1]"""
        return self.found / self.of

    @property
    def too_few(self) -> bool:
        """Whether the interval is so wide that the share tells nothing."""
        return self.high - self.low > WIDE


def share_of(found: int, of: int) -> Share:
    """The share with Wilson's score interval, which holds for few and for rare ones too.

    (p + z²/2n ± z √(p(1 − p)/n + z²/4n²)) / (1 + z²/n), with z = 1.96.

    Parameters
    ----------
    found : int
        How many were found, 0 to ``of``. [1]
    of : int
        Among how many, 1 or more. [1]

    Returns
    -------
    Share
        The bounds are 0 to 1. [1]

    Raises
    ------
    OutOfRange
        The counts are outside the range given above.

    Source
    ------
    wilson-1927; newcombe-1998 for its worked examples. Status: from memory. The limit of "too
    few" is fieldkit-rule.

    Examples
    --------
    >>> one = share_of(15, 148)
    >>> round(one.low, 4), round(one.high, 4), one.too_few, share_of(1, 3).too_few
    (0.0624, 0.1605, False, True)
    """
    if of < 1 or not 0 <= found <= of:
        raise OutOfRange(
            "found",
            found,
            say("{found} of {of} is no share.", found=found, of=of),
            say("Give how many were found among how many, 1 or more."),
        )
    p, z2 = found / of, Z_95**2
    middle = p + z2 / (2 * of)
    reach = Z_95 * sqrt(p * (1 - p) / of + z2 / (4 * of**2))
    whole = 1 + z2 / of
    low = 0.0 if found == 0 else (middle - reach) / whole
    high = 1.0 if found == of else (middle + reach) / whole
    return Share(found, of, low, high)
