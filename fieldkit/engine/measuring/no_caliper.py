"""Ways to a size without a caliper: what is at hand, and drill shanks in the bore."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.measuring.budget import FULL_STEP
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Answer
from fieldkit.tables.measuring import Gauge, MeasuringWay, gauges, measuring_ways


@dataclass(frozen=True, kw_only=True, slots=True)
class NotMeasured(Answer):
    """Nothing was measured: the ways on without a caliper."""

    ways: tuple[MeasuringWay, ...]
    gauges: tuple[Gauge, ...]


def not_measured(side: str) -> NotMeasured:
    """What to do without a caliper or a strip; ``side`` is ``"pipe"`` or ``"tube"``."""
    return NotMeasured(
        verdict="no_measurement",
        headline=say("Nothing was measured. There are other ways to the size."),
        ways=tuple(way for way in measuring_ways() if way.side in {side, "any"}),
        gauges=gauges(),
    )


def bore_between(goes_in: float, stops_in: float) -> tuple[float, float]:
    """Bore from the largest drill shank that slides in and the smallest that does not.

    Parameters
    ----------
    goes_in : float
        Diameter of the shank that goes in, above 0. [in]
    stops_in : float
        Diameter of the next that does not, above ``goes_in``. [in]

    Returns
    -------
    tuple of float
        The middle, and its expanded uncertainty (k = 2) for a bore anywhere between. [in]

    Raises
    ------
    OutOfRange
        The two are not in order.

    Source
    ------
    gum, uniform spread. Status: computed.

    Examples
    --------
    >>> bore, u_bore = bore_between(0.59375, 0.609375)
    >>> round(bore, 4), round(u_bore, 4)
    (0.6016, 0.009)
    """
    require(goes_in, "bore", above=0.0, unit="in")
    require(stops_in, "bore", above=0.0, unit="in")
    if stops_in <= goes_in:
        raise OutOfRange(
            "bore",
            stops_in,
            say(
                "A shank of {stops} cannot stop where one of {goes} goes in.",
                stops=Figure(stops_in, "in", 4),
                goes=Figure(goes_in, "in", 4),
            ),
            say("Give the smaller one as the one that goes in."),
        )
    return (goes_in + stops_in) / 2, 2 * (stops_in - goes_in) / FULL_STEP
