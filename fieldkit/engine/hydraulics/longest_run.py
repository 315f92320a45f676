"""How many outlets a line may have before its pressure varies too much."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from fieldkit.engine.hydraulics.march import (
    Draw,
    Layout,
    Marched,
    Pipe,
    barb_psi,
    end_pressure,
    loss_per_ft,
    march,
    rise_psi_per_ft,
)
from fieldkit.engine.hydraulics.uniformity import variation
from fieldkit.engine.problems import OutOfRange

#: No line of the trade has more outlets; it also bounds the search.
MOST_OUTLETS = 5000


@lru_cache(maxsize=256)  # a size of tubing is asked for again and again at one pressure
def most_outlets(pipe: Pipe, layout: Layout, draw: Draw, inlet_psi: float, allowed: float) -> int:
    """The most outlets that keep the spread of pressure within ``allowed``.

    On the flat and uphill the far end is lowest, so one march from it tells how many outlets
    there are before the inlet's pressure is reached. Downhill the lowest may be anywhere, and
    each number of outlets is worked out: first in strides, then one by one.

    Parameters
    ----------
    pipe : Pipe
        The pipe. [in]
    layout : Layout
        Where the outlets stand. [ft]
    draw : callable
        Flow of an outlet at a pressure. [gpm]
    inlet_psi : float
        Pressure at the inlet, above 0. [psi]
    allowed : float
        Spread allowed, a share between 0 and 1. [1]

    Returns
    -------
    int
        Outlets; 0 when not even one stays within; at most ``MOST_OUTLETS``. [1]

    Source
    ------
    statics. Status: computed.
    """
    if pipe.rise < 0.0:
        return _most_downhill(pipe, layout, draw, inlet_psi, allowed)
    loss, climb = loss_per_ft(pipe), rise_psi_per_ft(pipe)
    top = inlet_psi * (1.0 + 1e-12)
    pressure = (1.0 - allowed) * inlet_psi
    flow = 0.0
    barb, start = pipe.outlet_k * barb_psi(pipe), pipe.inlet_k * barb_psi(pipe)
    for outlets in range(MOST_OUTLETS):
        flow += draw(pressure)
        friction, minor = loss(flow), barb * flow * flow + pipe.outlet_ft * loss(flow)
        first = layout.first_ft * (friction + climb) + start * flow * flow + minor
        if pressure + first > top:
            return outlets
        pressure += layout.spacing_ft * (friction + climb) + minor
    return MOST_OUTLETS


def _most_downhill(pipe: Pipe, layout: Layout, draw: Draw, inlet_psi: float, allowed: float) -> int:
    guess = 0.0  # the end pressure of the line looked at before: a neighbour's is close

    def solved(outlets: int) -> Marched | None:
        nonlocal guess
        try:
            guess = end_pressure(pipe, layout, draw, outlets, inlet_psi, guess_psi=guess)
        except OutOfRange:
            return None
        return march(pipe, layout, draw, outlets, guess)

    def within(outlets: int) -> bool:
        line = solved(outlets)
        return line is not None and variation(inlet_psi, line) <= allowed + 1e-9

    def fed(outlets: int) -> bool:
        """Whether the lowest pressure is high enough; more outlets never help that."""
        line = solved(outlets)
        return line is not None and min(line.pressures_psi) >= (1.0 - allowed - 1e-9) * inlet_psi

    bound = _last_true(fed, 1, MOST_OUTLETS)
    if bound == 0 or within(bound):
        return bound
    # The fall itself makes too much pressure: look at shorter lines, longest first.
    stride = max(1, bound // 40)
    above = bound
    for outlets in range(bound - stride, 0, -stride):
        if within(outlets):
            return _last_true(within, outlets, above)
        above = outlets
    return _last_true(within, 1, above)


def _last_true(holds: Callable[[int], bool], low: int, high: int) -> int:
    """The last number in ``low`` to ``high`` for which ``holds``, true first and then false."""
    if not holds(low):
        return low - 1
    reach = 1
    while low + reach <= high and holds(low + reach):
        low, reach = low + reach, reach * 2
    high = min(high + 1, low + reach)
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            low = middle
        else:
            high = middle
    return low
