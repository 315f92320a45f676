"""An uncertainty budget after the GUM: independent parts, each with its own source."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fieldkit.engine.working import Line, precise
from fieldkit.tables.measuring import UncertaintyRow

#: Standard deviation of a uniform spread is its half-width over this.
RECTANGULAR = math.sqrt(3.0)

#: The same over its full width, as for a display step.
FULL_STEP = math.sqrt(12.0)


@dataclass(frozen=True, slots=True)
class Part:
    """One independent cause of doubt.

    ``spread`` over ``divisor`` is its standard uncertainty; ``sensitivity`` turns that into
    inches of outside diameter. ``inputs`` are the figures of ``formula``, which gives ``u_in``.
    """

    name: str
    formula: str
    inputs: Mapping[str, object]
    spread: float
    divisor: float
    sensitivity: float
    source: str
    status: str

    @property
    def u_in(self) -> float:
        """Standard uncertainty that it puts on the diameter. [in]"""
        return abs(self.sensitivity) * self.spread / self.divisor

    def line(self) -> Line:
        """The part as a line of working."""
        return Line(
            self.name,
            self.formula,
            self.inputs,
            self.u_in,
            "in",
            self.source,
            self.status,
        )


def half_width(
    row: UncertaintyRow,
    *,
    sensitivity: float = 1.0,
    spread: float | None = None,
    unit: str | None = None,
) -> Part:
    """A part known only by how far off it may be, either way; a row's value unless given."""
    spread = row.value if spread is None else spread
    return Part(
        name=row.name,
        formula="half-width × sensitivity / √3",
        inputs={
            "half-width": precise(spread, row.unit if unit is None else unit),
            "sensitivity": precise(abs(sensitivity)),
        },
        spread=spread,
        divisor=RECTANGULAR,
        sensitivity=sensitivity,
        source=row.source,
        status=row.status,
    )


def step_width(step_in: float, name: str, source: str, status: str) -> Part:
    """A part from reading in steps of ``step_in``, uniform over one step. [in]"""
    return Part(
        name=name,
        formula="step / √12",
        inputs={"step": precise(step_in, "in")},
        spread=step_in,
        divisor=FULL_STEP,
        sensitivity=1.0,
        source=source,
        status=status,
    )


def combined_in(parts: Iterable[Part]) -> float:
    """Combined standard uncertainty of independent parts: root of the sum of squares.

    Parameters
    ----------
    parts : iterable of Part
        The parts, each with ``u_in``. [in]

    Returns
    -------
    float
        Standard uncertainty u_c. [in]

    Source
    ------
    gum, 5.1.2. Status: secondary.

    Examples
    --------
    >>> combined_in([])
    0.0
    """
    return math.sqrt(math.fsum(part.u_in**2 for part in parts))


def sample_deviation(values: tuple[float, ...]) -> float:
    """Sample standard deviation, with n − 1; 0 of a single value.

    Parameters
    ----------
    values : tuple of float
        One or more values, all in one unit. [any]

    Returns
    -------
    float
        Standard deviation s. [as the values]

    Source
    ------
    gum, 4.2.2. Status: secondary.

    Examples
    --------
    >>> sample_deviation((1.0, 2.0, 3.0))
    1.0
    """
    if len(values) < 2:
        return 0.0
    middle = math.fsum(values) / len(values)
    return math.sqrt(math.fsum((one - middle) ** 2 for one in values) / (len(values) - 1))
