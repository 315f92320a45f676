"""What every template may use: figures, times, the light, and the page's own frame."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, MutableMapping
from datetime import UTC, datetime, timedelta
from functools import partial
from math import floor, log10
from typing import Any

from flask import Flask, current_app, request, url_for
from flask.templating import Environment
from jinja2.runtime import Context
from markupsafe import Markup, escape

from fieldkit.engine.words import Figure, Quote, Span, Text, say
from fieldkit.flows.drawings.joint_strip import ZONE_OF_FLOW, JointStrip, joint_strip
from fieldkit.flows.drawings.tiles import tile
from fieldkit.flows.figures import dollars
from fieldkit.flows.localize import as_text, localize
from fieldkit.flows.measures import metric_figure, metric_unit
from fieldkit.joblog import JobLog, JointNow
from fieldkit.joblog.marks import words_of
from fieldkit.tables.cautions import cautions
from fieldkit.tables.load import source_titles
from fieldkit.typed.units import unit_of
from fieldkit.web import clock
from fieldkit.web.localize import language, local_day, local_time, reader, units, written
from fieldkit.web.timers import end_time, server_now, time_tag, timer_until
from fieldkit.web.wording import FILTERS, answer_words, known_words, waiting

LIGHT_COOKIE = "light"

#: Parts of pages that are kept at most, some 2 kB each.
MOST_PARTS = 300

#: The lights that a page can be seen in: as the phone says, bright sun, dark.
LIGHTS = ("plain", "sun", "dark")


def joblog() -> JobLog:
    """The log of the application that is answering."""
    log: JobLog = current_app.extensions["joblog"]
    return log


def known_light(asked: str | None) -> str:
    """The light that was asked for, or the phone's own when there is no such light.

    Examples
    --------
    >>> known_light("sun"), known_light("blue"), known_light(None)
    ('sun', 'plain', 'plain')
    """
    return asked if asked in LIGHTS else "plain"


def figure(value: object) -> str:
    """A figure of the working, to a sensible number of digits."""
    if isinstance(value, bool):
        return localize(say("yes") if value else say("no"))
    if isinstance(value, float):
        return written(_digits(value))
    if isinstance(value, list | tuple):
        return ", ".join(figure(one) for one in value)
    return "–" if value is None else localize(value)


def _digits(value: float) -> str:
    """The digits of a figure as a reader of English writes them."""
    if value == 0:
        return "0"
    if abs(value) >= 1e6 or abs(value) < 1e-6:
        return f"{value:.3e}"
    if abs(value) < 1e-3:
        return f"{value:.{3 - floor(log10(abs(value)))}f}"
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:,.0f}"


def moment(value: str) -> Markup:
    """A time kept in UTC as a ``<time>`` in this machine's zone, named."""
    try:
        at = datetime.fromisoformat(value).astimezone()
    except ValueError:
        return escape(value)
    shown = local_time(at, clock.zone_name(at))
    return time_tag(value, shown)


def day(value: str) -> Markup:
    """The day of a kept time as a ``<time>``, as the reader writes it."""
    shown = local_day(datetime.fromisoformat(value))
    return time_tag(value, shown)


def ago(value: str) -> Text | str:
    """How long ago or how far ahead a kept time lies, in words."""
    try:
        minutes = (datetime.now(UTC) - datetime.fromisoformat(value)) / timedelta(minutes=1)
    except ValueError:
        return ""
    if abs(minutes) < 1:
        return say("now")
    days = round(abs(minutes) / 1440)
    length = say("{d} days", d=days) if days >= 2 else Span(round(abs(minutes)))
    return say("{time} ago", time=length) if minutes > 0 else say("in {time}", time=length)


def in_reader_words(value: object) -> str:
    """A text, or a string of ours that is looked up whole, as the reader wants it told."""
    return localize(as_text(value) if type(value) is str else value)


def _typed_in(unit: str) -> str:
    """The unit that a box asks for: the reader's own, where people can type it."""
    metric = metric_unit(unit) if units() == "metric" else unit
    return unit if unit_of(metric) is None else metric


def box_unit(unit: str) -> str:
    """The unit beside a box, in the reader's words."""
    return in_reader_words(_typed_in(unit))


def in_box_unit(value: object, unit: str) -> object:
    """A kept number in the unit that its box asks for."""
    if isinstance(value, bool) or not isinstance(value, int | float) or _typed_in(unit) == unit:
        return value
    return metric_figure(Figure(float(value), unit)).value


def typable(value: object) -> str:
    """What was typed, without the control characters that no page can hold.

    Examples
    --------
    >>> typable("17,8\\x00 mm")
    '17,8 mm'
    """
    return "".join(c for c in str(value) if c.isprintable() or c in "\n\t" or ord(c) > 0x9F)


def strip_of(joint: JointNow, flow: str = "") -> JointStrip:
    """The strip of a joint, the zone that ``flow`` is about marked."""
    return joint_strip(joint.facts, ZONE_OF_FLOW.get(flow, ""), curing=bool(waiting(joint)))


class Addresses(dict[str, str]):
    """The address of a page that takes no further values, by endpoint; of a static file, by /file.

    No request changes them, and building them anew costs more than much of the page's text.
    """

    def __missing__(self, name: str) -> str:
        static = name.startswith("/")
        made = url_for("static", filename=name[1:]) if static else url_for(name)
        return self.setdefault(name, made)


def addresses() -> Addresses:
    """The addresses as they are from where this request was sent to."""
    known: dict[str, Addresses] = current_app.extensions["addresses"]
    return known[request.script_root]


def kept_part(parts: dict[Hashable, Markup], name: str, /, **about: Hashable) -> Markup:
    """A part of a page that is made once for all who are shown the same.

    Its template is handed ``about``, the addresses and the language, and sees nothing else of the
    request: these, with the reader's units, are what it is kept under among ``parts``. So it can
    hold no token and no name of who is asking.
    """
    key = (name, request.script_root, reader(), *about.values())
    found = parts.get(key)
    if found is None:
        if len(parts) >= MOST_PARTS:
            parts.clear()
        made = current_app.jinja_env.get_template(name)
        found = Markup(made.render(address=addresses(), language=language(), **about))  # noqa: S704
        parts[key] = found
    return found


def marks_beside(entry_id: str) -> list[Text]:
    """What this copy has to say of an entry."""
    return [words_of(one) for one in joblog().marks_on(entry_id)]


def arrived_beside(entry_id: str) -> str:
    """When an entry arrived here, where that is far from when it was made; else empty."""
    kept = joblog().entry(entry_id)
    return kept.apart if kept else ""


class Page(Context):
    """What a template works with. None of what ours call asks for it, so a call is just a call."""

    def call(
        self, called: Callable[..., Any], /, *args: Any,
        _block_vars: object = None, _loop_vars: object = None, **kwargs: Any,
    ) -> Any:  # fmt: skip
        return called(*args, **kwargs)


class Templates(Environment):
    """Templates that share one mapping of globals; each import on a page walked layers of them."""

    context_class = Page

    def make_globals(self, d: MutableMapping[str, Any] | None) -> MutableMapping[str, Any]:
        return super().make_globals(d) if d else self.globals


def attach(app: Flask) -> None:
    """Give the templates their filters and globals."""
    app.extensions["addresses"] = defaultdict(Addresses)
    parts = app.extensions["kept_parts"] = {}
    app.jinja_env.filters.update(
        FILTERS,
        typable=typable,
        dollars=dollars,
        figure=figure,
        moment=moment,
        ago=ago,
        day=day,
        end_time=end_time,
        localized=in_reader_words,
        in_box_unit=in_box_unit,
        own=Quote,
        marks=marks_beside,
        arrived=arrived_beside,
    )
    app.jinja_env.globals.update(
        caution_row=lambda key: cautions()[key],
        source_titles=source_titles,
        answer_words=answer_words,
        known_words=known_words,
        box_unit=box_unit,
        strip_of=strip_of,
        tile=tile,
        timer_until=timer_until,
        server_now=server_now,
        kept_part=partial(kept_part, parts),
    )
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True

    @app.context_processor
    def frame() -> dict[str, Any]:
        return {
            "light": known_light(request.cookies.get(LIGHT_COOKIE)),
            "address": addresses(),
        }
