"""The one small family of errors: what was given, what is wrong, what would be right."""

from __future__ import annotations

import math
from typing import Self

from fieldkit.engine.words import Figure, Text, say


class Problem(ValueError):  # noqa: N818  -- it is shown to people under this name
    """Something that was asked cannot be answered as it stands.

    Parameters
    ----------
    field : str
        Which question it belongs to, dotted for a nested one (``"pvc.nominal"``).
    given : object
        What was typed or sent, kept as it came.
    wrong : Text
        One plain sentence: what is wrong.
    instead : Text
        One plain sentence: what would be right.
    """

    def __init__(self, field: str, given: object, wrong: Text, instead: Text) -> None:
        super().__init__(f"{wrong} {instead}".strip())
        self.field = field
        self.given = given
        self.wrong = wrong
        self.instead = instead

    def at(self, field: str) -> Self:
        """The same problem, told of another question: the step of a flow that asked for it.

        Examples
        --------
        >>> OutOfRange("pipe.nominal", "7", say("None."), say("Some.")).at("size").field
        'size'
        """
        return type(self)(field, self.given, self.wrong, self.instead)

    def as_dict(self) -> dict[str, object]:
        """The one shape that a page, the API and the command line all show."""
        return {
            "field": self.field,
            "given": self.given,
            "wrong": str(self.wrong),
            "instead": str(self.instead),
        }


class OutOfRange(Problem):
    """A number lies outside the range that a formula or a table covers."""


class Refused(Problem):
    """The trade forbids it: no table or formula may make it look possible."""


def require(
    value: float,
    field: str,
    *,
    above: float | None = None,
    at_least: float | None = None,
    below: float | None = None,
    at_most: float | None = None,
    unit: str = "",
    places: int = 3,
) -> None:
    """Refuse a value outside the bounds, and refuse ``nan`` and infinity always.

    Raises
    ------
    OutOfRange
        The value is not a finite number within the bounds.

    Examples
    --------
    >>> require(5.0, "wall_in", above=0.0, unit="in")
    >>> require(-1.0, "wall_in", above=0.0, unit="in")
    Traceback (most recent call last):
        ...
    fieldkit.engine.problems.OutOfRange: -1.000 in is not above 0 in. Give more than 0 in.
    """

    def bound(limit: float) -> Figure:
        return Figure(limit, unit, 0 if float(limit).is_integer() else places)

    if not math.isfinite(value):
        raise OutOfRange(
            field, str(value), say("This is not a finite number."), say("Give a plain number.")
        )
    given = Figure(value, unit, places)
    if above is not None and value <= above:
        raise OutOfRange(
            field,
            value,
            say("{given} is not above {limit}.", given=given, limit=bound(above)),
            say("Give more than {limit}.", limit=bound(above)),
        )
    if at_least is not None and value < at_least:
        raise OutOfRange(
            field,
            value,
            say("{given} is under {limit}.", given=given, limit=bound(at_least)),
            say("Give {limit} or more.", limit=bound(at_least)),
        )
    if below is not None and value >= below:
        raise OutOfRange(
            field,
            value,
            say("{given} is not below {limit}.", given=given, limit=bound(below)),
            say("Give less than {limit}.", limit=bound(below)),
        )
    if at_most is not None and value > at_most:
        raise OutOfRange(
            field,
            value,
            say("{given} is over {limit}.", given=given, limit=bound(at_most)),
            say("Give {limit} or less.", limit=bound(at_most)),
        )
