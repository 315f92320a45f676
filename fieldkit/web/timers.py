"""When a wait is over, from the times of the log's entries: nothing is counted, nothing is lost."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from flask import g
from markupsafe import Markup

from fieldkit.flows.question import Step
from fieldkit.web import clock
from fieldkit.web.localize import local_time

if TYPE_CHECKING:
    from fieldkit.web.flow_run import Passage

#: A wait this short is told to the second. [min]
_SHORT_MINUTES = 10


def server_now() -> str:
    """This moment by the log's clock, which need not be the phone's."""
    return clock.now()


def timer_until(passage: Passage, step: Step) -> str | None:
    """When the step's wait ends, in UTC, or None where it has none or it has not begun."""
    if step.timer is None or passage.run is None:
        return None
    began = [
        one.entry.at
        for one in passage.run.entries
        if one.entry.kind == "answer" and one.entry.step == step.timer.after
    ]
    if not began:
        return None
    seconds = step.timer.seconds(passage.facts | passage.given)
    end = datetime.fromisoformat(max(began)) + timedelta(seconds=seconds)
    return end.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def end_time(until: str) -> Markup:
    """The end of a wait on this machine's clock, with seconds where it is near."""
    end = datetime.fromisoformat(until)
    near = end - datetime.fromisoformat(clock.now()) < timedelta(minutes=_SHORT_MINUTES)
    at = end.astimezone()
    zone = clock.zone_name(at)
    shown = f"{at:%H:%M:%S} {zone}".strip() if near else local_time(at, zone)
    return time_tag(until, shown)


def time_tag(at: str, shown: str) -> Markup:
    """A ``<time>``; its page brings the script that tells it in the reader's zone."""
    g.tells_times = True
    return Markup('<time datetime="{}">{}</time>').format(at, shown)
