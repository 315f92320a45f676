"""When a cemented joint is ready, by the clock."""

from __future__ import annotations

from dataclasses import replace

from fieldkit.engine.joining.weld import Weld
from fieldkit.engine.working import worked
from fieldkit.typed.moments import Moment


def at_the_clock(joint: Weld, made: Moment | None, *, told: bool = True) -> Weld:
    """The joint with its clock times, where it is known when it was closed.

    A joint that must not be made, or whose forecast ends too soon, has no time of readiness.
    """
    if made is None:
        return joint
    good = joint.verdict != "change_part"
    ready_at = made.after(joint.cure_minutes) if good and joint.forecast_reaches else None
    lines = joint.working
    if not told:
        first = worked("assumed_closed_at", made.after(0.0))
        lines = (first, *lines)
    return replace(
        joint,
        made_at=made.after(0.0),
        set_at=made.after(joint.set_minutes) if good else None,
        ready_at=ready_at,
        working=lines,
    )
