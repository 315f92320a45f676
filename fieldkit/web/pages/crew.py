"""A lead's page: what leaks, was waived, waits, is to be ordered, and what comes back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any

from flask import Blueprint, Response, jsonify, render_template, request, url_for

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, Quote, Text, join, say
from fieldkit.flows.block import Drawing, Table
from fieldkit.flows.checklist import point_name
from fieldkit.flows.choosing.order import Chosen, OrderLine, order_of
from fieldkit.flows.drawings.shares import in_a_hundred, share_plot
from fieldkit.flows.localize import as_text, localize
from fieldkit.flows.outcome import cause_title
from fieldkit.joblog import JobLog
from fieldkit.joblog.crew import (
    HEAT_BANDS,
    NUMBERS,
    Asked,
    CrewJoint,
    Rate,
    Week,
    begun_since,
    choices,
    rates,
    week_of,
)
from fieldkit.joblog.exchange import guarded
from fieldkit.tables.diagnosis import options
from fieldkit.tables.fittings import fittings
from fieldkit.typed import answers
from fieldkit.web import clock
from fieldkit.web.localize import language, localized_in
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import csv_text, download

pages = Blueprint("crew", __name__, url_prefix="/crew")

#: Periods in days; ``all`` is everything.
PERIODS = {"7": say("7 days"), "30": say("30 days"), "365": say("a year"), "all": say("all time")}

FILTERS = ("place", "person", "kind", "cause")

#: What comes back is counted over joints begun in so many days, unless all time is asked for.
RETURNS_DAYS = 365

#: What comes back is told by these; by person only if the lead asks.
BY = {
    "kind": say("by kind of joint"),
    "part": say("by part"),
    "cause": say("by cause"),
    "heat": say("by heat at cementing"),
    "person": say("by person"),
}

#: Rows of a list, and of a plot.
SHOWN, PLOTTED = 20, 8

#: The numbers: tone and word.
WORDS: dict[str, tuple[str, Text]] = {
    "leaks": ("stop", say("Leaking or failed")),
    "waived": ("look", say("Waived")),
    "untested": ("look", say("Curing or untested")),
    "to_buy": ("", say("Joints to order for")),
    "failed": ("", say("Failed, and why")),
}


def asked_from(given: Mapping[str, str], now: str) -> tuple[Asked, str]:
    """What an address asks for, and its period."""
    period = given.get("period", "7")
    period = period if period in PERIODS else "7"
    since = "" if period == "all" else _days_before(now, int(period))
    only = {name: given.get(name, "")[:200] for name in FILTERS}
    return Asked(now=now, since=since, **only), period


def _days_before(now: str, days: int) -> str:
    return str(date.fromisoformat(now[:10]) - timedelta(days=days))


def kind_words(kind: str) -> Text | Quote:
    """A kind of joint in plain words."""
    label = next((o.label for o in options()["fitting_type"] if o.option_id == kind), "")
    return as_text(label) if label else Quote(kind)


def heat_words(band: str) -> Text:
    """A band of heat at cementing."""
    n = int(band)
    edges = [Figure(edge, "°F", 0) for edge in HEAT_BANDS]
    if n == 0:
        return say("under {heat}", heat=edges[0])
    if n == len(edges):
        return say("{heat} and over", heat=edges[-1])
    return say("{low} to under {high}", low=edges[n - 1], high=edges[n])


def name_of(by: str, name: str) -> Text | Quote:
    """What a rate or a filter is about, in words."""
    match by:
        case "kind":
            return kind_words(name)
        case "part":
            return as_text(fittings()[name].name) if name in fittings() else Quote(name)
        case "cause":
            return as_text(cause_title(name)) if name else say("not found out")
        case "heat":
            return heat_words(name)
        case _:
            return Quote(name)


@dataclass(frozen=True, slots=True)
class Row:
    """One joint behind a number, as its line says it."""

    joint: CrewJoint
    name: str
    words: Text | Quote | str
    ready_at: str = ""


def row_of(log: JobLog, one: CrewJoint, number: str, week: Week, now: str) -> Row:
    """What stands on a joint's line behind one of the numbers."""
    joint = log.joint(one.joint, one.job)
    name = joint.name if joint is not None else one.joint
    if number == "waived":
        lines = [
            say(
                "Without “{point}”: {reason} ({who})",
                point=point_name(waiver.point),
                reason=Quote(waiver.reason),
                who=Quote(waiver.who),
            )
            for waiver in week.waived[one.job, one.joint]
        ]
        return Row(one, name, lines[0] if len(lines) == 1 else join(lines, "; "))
    if one.doubted:
        return Row(one, name, say("A result here was not reproduced."))
    if number in {"leaks", "failed"} and one.cause:
        cause = cause_title(one.cause)
        return Row(one, name, as_text(cause) if one.seen else say("Likely: {cause}", cause=cause))
    if number == "untested":
        cures = one.ready_at > now
        words = say("The cement cures.") if cures else say("Made, and not tested.")
        return Row(one, name, words, one.ready_at if cures else "")
    if number == "to_buy":
        named = (as_text(fittings()[part].name) for part in one.parts if part in fittings())
        return Row(one, name, join(named, "; "))
    last = max(joint.states.values(), key=lambda state: state.at, default=None) if joint else None
    return Row(one, name, last.sentence if last is not None else "")


@dataclass(frozen=True, slots=True)
class Returns:
    """What comes back: the whole, and the rates by one thing as plot and table."""

    by: str
    whole: Rate | None
    plot: Drawing | None
    table: Table | None


def returns_of(joints: list[CrewJoint], by: str) -> Returns:
    """The rates of what was made, by kind, part, cause, heat or person."""
    whole = next(iter(rates(joints, "all")), None)
    found = rates(joints, by)
    if whole is None or not found:
        return Returns(by, whole, None, None)
    plot = share_plot(
        [(name_of(by, one.name), one.share) for one in found[:PLOTTED]],
        title=say("Came back, of a hundred made."),
    )
    table = Table(
        say("Came back, {by}", by=BY[by]),
        ("", say("came back"), say("of"), say("in a hundred")),
        tuple(
            (name_of(by, one.name), str(one.share.found), str(one.share.of), _rate_words(one))
            for one in found
        ),
    )
    return Returns(by, whole, plot, table)


def _rate_words(one: Rate) -> Text:
    share = one.share
    if share.too_few:
        return say("too few to tell")
    return say(
        "{share} ({low} to {high})",
        share=in_a_hundred(share.value),
        low=in_a_hundred(share.low),
        high=in_a_hundred(share.high),
    )


@pages.get("")
def show() -> str:
    """The numbers with what is behind them, and what comes back."""
    log, now = joblog(), clock.now()
    asked, period = asked_from(request.args, now)
    joints, signed = log.crew()
    week = week_of(joints, signed, asked)
    by = request.args.get("by", "kind")
    by = by if by in BY else "kind"
    since = "" if period == "all" else _days_before(now, RETURNS_DAYS)
    whole = request.args.get("whole", "")
    kept = {*FILTERS, "period", "by"}
    narrowed = {name: value for name, value in request.args.items() if name in kept}

    def link(**other: str | None) -> str:
        wanted: dict[str, Any] = {**narrowed, **other}
        return url_for("crew.show", **wanted)

    return render_template(
        "crew.html",
        week=week,
        sections=[
            (
                number,
                *WORDS[number],
                [
                    row_of(log, one, number, week, now)
                    for one in week.behind[number][: None if whole == number else SHOWN]
                ],
            )
            for number in NUMBERS
        ],
        asked=asked,
        causes=Counter(one.cause for one in week.behind["failed"]).most_common(),
        period=period,
        periods=PERIODS,
        returns=returns_of(begun_since(joints, asked, since), by),
        since=since,
        returns_days=RETURNS_DAYS,
        by=BY,
        filters=[
            (
                name,
                [
                    (value, name_of(name, value), n)
                    for value, n in choices(joints, asked, name).items()
                ],
            )
            for name in FILTERS
        ],
        name_of=name_of,
        link=link,
        narrowed=narrowed,
        demo=bool(joints) and all(job.demo for job in log.jobs(1)),
    )


# ── The same for programs ───────────────────────────────────────────────────────────────────


def week_json(
    log: JobLog, given: Mapping[str, str], now: str, *, by_person: bool
) -> dict[str, Any]:
    """The page as data: the numbers with their joints, what comes back, and the order."""
    asked, period = asked_from(given, now)
    joints, signed = log.crew()
    week = week_of(joints, signed, asked)
    since = "" if period == "all" else _days_before(now, RETURNS_DAYS)
    counted = begun_since(joints, asked, since)
    return {
        "asked": {**asdict(asked), "period": period},
        "numbers": {
            number: {
                "count": len(week.behind[number]),
                "before_the_period": week.older[number],
                "joints": [_joint_json(log, one, number, week, now) for one in week.behind[number]],
            }
            for number in NUMBERS
        },
        "returns": {
            "begun_since": since,
            "interval": "Wilson, 95 %",
            **{
                by: [
                    {
                        "name": one.name,
                        "in_words": str(name_of(by, one.name)) if by != "all" else "",
                        "came_back": one.share.found,
                        "of": one.share.of,
                        "low": round(one.share.low, 4),
                        "high": round(one.share.high, 4),
                        "too_few_to_tell": one.share.too_few,
                    }
                    for one in rates(counted, by)
                ]
                for by in ("all", *BY)
                if by != "person" or by_person
            },
        },
        "order": [_line_json(one) for one in order_for(log, joints, week, {})],
    }


def _joint_json(log: JobLog, one: CrewJoint, number: str, week: Week, now: str) -> dict[str, Any]:
    row = row_of(log, one, number, week, now)
    return {
        "job": one.job,
        "job_name": one.job_name,
        "place": one.place,
        "joint": one.joint,
        "joint_name": row.name,
        "last": one.day,
        "people": list(one.people),
        "cause": one.cause,
        "words": str(row.words),
        "ready_at": row.ready_at,
    }


def _line_json(line: OrderLine) -> dict[str, Any]:
    return {**asdict(line), "to_buy": line.to_buy, "packs": line.packs}


def csv_of(data: Mapping[str, Any]) -> str:
    """A line for each joint behind a number, for a spreadsheet."""
    names = ("job", "job_name", "place", "joint", "joint_name", "last", "people", "cause", "words",
             "ready_at")  # fmt: skip
    rows = [
        (number, *(guarded(str(cells[name])) for name in names))
        for number, behind in data["numbers"].items()
        for one in behind["joints"]
        for cells in ({**one, "people": "; ".join(one["people"])},)
    ]
    return csv_text([("number", *names), *rows])


@pages.get("/week.json")
def as_json() -> Response:
    """The page as JSON."""
    person = request.args.get("by") == "person"
    return jsonify(week_json(joblog(), request.args, clock.now(), by_person=person))


@pages.get("/week.csv")
def as_csv() -> Response:
    """The joints behind the numbers as CSV."""
    text = csv_of(week_json(joblog(), request.args, clock.now(), by_person=False))
    return download(text, "text/csv", f"fieldkit-crew-{clock.now()[:10]}.csv")


# ── The order ───────────────────────────────────────────────────────────────────────────────


def order_for(
    log: JobLog, joints: list[CrewJoint], week: Week, in_van: Mapping[str, int]
) -> tuple[OrderLine, ...]:
    """What to buy for the joints behind "to order"."""
    made: dict[tuple[str, tuple[str, ...]], int] = {}
    for one in joints:
        if one.made:
            made[one.job, one.parts] = made.get((one.job, one.parts), 0) + 1
    kept = log.prices()
    chosen = []
    for one in week.behind["to_buy"]:
        joint = log.joint(one.joint, one.job)
        if joint is not None and joint.facts.get("parts.assembly"):
            chosen.append(Chosen(one.job, joint.facts, made.get((one.job, one.parts), 0)))
    return order_of(chosen, in_van, kept.prices, kept.packs)


@dataclass(frozen=True, slots=True)
class Order:
    """The order that an address asks for, and what in the address could not be read."""

    lines: tuple[OrderLine, ...]
    joints: tuple[CrewJoint, ...]
    problem: Problem | None

    @property
    def cost(self) -> float | None:
        """What it comes to, where every price is known. [$]"""
        costs = [line.cost for line in self.lines if line.to_buy]
        return sum(one or 0.0 for one in costs) if costs and None not in costs else None


def order_asked(log: JobLog) -> Order:
    """What to buy for all joints that are chosen and not made, less what is in the van."""
    given = {"period": "all", **request.args.to_dict()}
    asked, _ = asked_from(given, clock.now())
    joints, signed = log.crew()
    week = week_of(joints, signed, asked)
    in_van, problem = _in_van()
    return Order(order_for(log, joints, week, in_van), week.behind["to_buy"], problem)


@pages.get("/order")
def order() -> tuple[str, int]:
    """The order as a card: to show, to print, to share as a picture."""
    log = joblog()
    made = order_asked(log)
    found = {one.joint: log.joint(one.joint, one.job) for one in made.joints}
    other = "es" if language() == "en" else "en"
    page = render_template(
        "order.html",
        lines=made.lines,
        joints=made.joints,
        names={one: joint.name if joint else one for one, joint in found.items()},
        cost=made.cost,
        illustrative=log.prices().illustrative,
        problem=made.problem,
        typed=request.args,
        narrowed={n: value for n, value in request.args.items() if n in {*FILTERS, "period"}},
        other=other,
        in_other=lambda words: localized_in(other, words),
    )
    return page, 422 if made.problem else 200


@pages.get("/order.txt")
def order_text() -> Response:
    """The same as words, a line a part, to send to the shop."""
    lines = [
        f"{line.to_buy} × {localize(as_text(line.name))} ({localize(as_text(line.trade))})"
        for line in order_asked(joblog()).lines
        if line.to_buy
    ]
    return download("\n".join([*lines, ""]), "text/plain", f"order-{clock.now()[:10]}.txt")


def _in_van() -> tuple[dict[str, int], Problem | None]:
    """What somebody says is in the van: a box a part, ``van-PART``."""
    found: dict[str, int] = {}
    for name, given in request.args.items():
        if name.startswith("van-") and given.strip():
            try:
                found[name[4:]] = answers.read_whole(given, field=name, at_least=0, at_most=100_000)
            except Problem as problem:
                return found, problem
    return found, None
