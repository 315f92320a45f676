"""A straight scale of a quantity, with round numbers of the reader's own units along it."""

from __future__ import annotations

import math
from collections.abc import Iterable

from fieldkit.engine.words import Figure
from fieldkit.flows.localize import as_measured


def nice_ticks(low: float, high: float, most: int = 4) -> tuple[float, ...]:
    """Round numbers that span ``low`` to ``high``, at most about ``most`` steps of them.

    Examples
    --------
    >>> nice_ticks(0.0, 20.0)
    (0.0, 5.0, 10.0, 15.0, 20.0)
    >>> nice_ticks(15.2, 20.0)
    (14.0, 16.0, 18.0, 20.0)
    """
    least = 1e-6 * max(abs(low), abs(high), 1.0)  # a flat line still needs a scale
    rough = max(high - low, least) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    if first == last:
        last += 1
    return tuple(round(n * step, 10) for n in range(first, last + 1))


def numeral(value: float) -> Figure:
    """A number with as many places as it needs, thousandths at most.

    Examples
    --------
    >>> str(numeral(1.5)), str(numeral(20.0)), str(numeral(-0.25))
    ('1.5', '20', '-0.25')
    """
    return Figure(value, "", len(f"{value:.3f}".rstrip("0").partition(".")[2]))


class Scale:
    """From values of a quantity to places on a sheet.

    Parameters
    ----------
    values : iterable of float
        What must lie on it, in ``unit``.
    unit : str
        Unit of the values: one that ``Figure`` knows.
    start, end : float
        Where the least and the most stand. [units of the sheet]
    most : int
        About how many steps.
    snug : bool
        Whether it begins and ends at the values, not at round numbers around them.

    Examples
    --------
    >>> pressure = Scale([31.0, 58.0], "psi", start=200.0, end=0.0)
    >>> [(round(place), str(figure)) for place, figure in pressure.ticks]
    [(200, '30'), (133, '40'), (67, '50'), (0, '60')]
    >>> pressure(45.0)
    100.0
    """

    __slots__ = ("_low", "_rate", "_start", "_unit", "ticks", "unit")

    def __init__(
        self,
        values: Iterable[float],
        unit: str,
        *,
        start: float,
        end: float,
        most: int = 4,
        snug: bool = False,
    ) -> None:
        self._unit = unit
        self.unit = as_measured(Figure(0.0, unit)).unit
        seen = [self._shown(one) for one in values]
        marks = nice_ticks(min(seen), max(seen), most)
        self._low = min(seen) if snug else marks[0]
        high = max(*seen, self._low + 1e-9) if snug else marks[-1]
        self._start, self._rate = start, (end - start) / (high - self._low)
        slack = 1e-9 * max(1.0, abs(high))
        self.ticks = [
            (self._place(one), numeral(one))
            for one in marks
            if self._low - slack <= one <= high + slack
        ]

    def __call__(self, value: float) -> float:
        """Where a value stands."""
        return self._place(self._shown(value))

    def _shown(self, value: float) -> float:
        return as_measured(Figure(value, self._unit)).value

    def _place(self, shown: float) -> float:
        return self._start + (shown - self._low) * self._rate
