"""How a cemented joint is laid out, and what making one teaches the log."""

from __future__ import annotations

from typing import Any

from fieldkit.engine.joining.weld import waiting
from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.block import Block, Clock, Drawing, Facts, Lead, Table
from fieldkit.flows.drawings.cure import cure_bar
from fieldkit.flows.figures import amount, number, rating
from fieldkit.flows.joining.acts import in_order
from fieldkit.flows.question import Known


def show(answer: Known) -> tuple[Block, ...]:
    if "cure_minutes" not in answer:
        return ()
    rows: list[tuple[str, str]] = [
        (say("Ready for pressure"), answer["ready_at"] or waiting(answer["cure_minutes"]).said),
        (say("Do not move it for"), waiting(answer["set_minutes"]).said),
        (say("No pressure for"), waiting(answer["cure_minutes"]).said),
        (say("Good up to"), rating(answer["pressure_psi"])),
        (say("Cement"), answer["cement_body"]),
        (say("Primer"), say("none") if answer["primer"] == "none" else say("required")),
        (say("Depth"), _depth(answer["insert_depth_in"])),
        (say("Hold"), amount(answer["hold_seconds"], "s", 0)),
        (say("Joints to a quart of cement"), number(answer["joints_per_quart"])),
    ]
    # An answer saved before this was told has none.
    estimate = answer.get("cure_minutes_estimate", answer["cure_minutes"])
    if estimate < answer["cure_minutes"]:
        guess = waiting(estimate).said
        rows.insert(3, (say("Our estimate, adding up the hours"), guess))
    if answer["verdict"] == "change_part":
        rows = rows[4:7]
    elif answer["ready_at"]:
        del rows[0]  # the clock above says it
    elif not answer["forecast_reaches"]:
        rows[0] = (say("Ready for pressure"), say("after the forecast ends: look again"))
    schedules = tuple(
        (
            say("Schedule {letter} (rules)", letter=row["schedule"])
            if row["schedule"] in rules
            else say("Schedule {letter}", letter=row["schedule"]),
            waiting(row["set_minutes"]).said,
            waiting(row["cure_minutes"]).said,
        )
        for rules in (answer["rules"].split(" and "),)
        for row in answer["schedules"]
    )
    return (
        _lead(answer),
        *_clocks(answer),
        Facts(tuple(rows)),
        *_cure_picture(answer),
        Table(
            say("Two published schedules, the slower rules"),
            ("", say("Set"), say("Cure")),
            schedules,
        ),
        *in_order(say("One joint, step by step"), answer["steps"]),
    )


def _lead(answer: Known) -> Lead:
    if answer["verdict"] == "change_part":
        return Lead(do=say("Do not glue these two. Take another part and try it dry."))
    cure = waiting(answer["cure_minutes"]).said
    if answer["made_at"]:
        return Lead(
            say("no pressure for {time}", time=cure), say("Leave it still. The clock runs on.")
        )
    return Lead(
        say("cures {time}", time=cure), say("Have everything in reach, then make the joint.")
    )


def _depth(depth_in: float | None) -> Text:
    if depth_in is None:
        return say("measure the socket")
    return say("{depth} or more", depth=Figure(depth_in, "in", 3))


def _clocks(answer: Known) -> tuple[Clock, ...]:
    """What to wait for, where it is known when the joint was closed."""
    named = (
        (say("Leave it still until"), answer["set_at"], say("It has set: handle it with care.")),
        (say("No pressure until"), answer["ready_at"], say("The cement has cured.")),
    )
    return tuple(Clock(title, until, over) for title, until, over in named if until)


def _cure_picture(answer: Known) -> tuple[Drawing, ...]:
    """The wait over time; not of a joint that must not be made, nor past the forecast's end."""
    spells = answer.get("spells")
    if not spells or answer["verdict"] == "change_part" or not answer["forecast_reaches"]:
        return ()
    warmth = [(spell["from_minutes"], spell["temperature_f"]) for spell in spells]
    return (cure_bar(answer["set_minutes"], answer["cure_minutes"], warmth),)


def _primer(given: Known, answer: Known) -> str:
    """Whether primer was used: a cement that wants none is no joint without primer."""
    if answer["primer"] == "none":
        return "not needed"
    undone = "prime" in given and given["prime"] is None
    return "none" if undone else str(answer["primer"])


def learn(given: Known, answer: Known) -> dict[str, Any]:
    if "cure_minutes" not in answer:
        return {}
    if answer["verdict"] == "change_part":
        return {"weld.dry_fit": given.get("dry_fit")}
    learned: dict[str, Any] = {
        "weld.set_minutes": answer["set_minutes"],
        "weld.cure_minutes": answer["cure_minutes"],
        "weld.pressure_psi": answer["pressure_psi"],
        "weld.primer": _primer(given, answer),
        # Always renewed: an older joint's times must never stand for a newer one's.
        "weld.made_at": answer["made_at"],
        "weld.ready_at": answer["ready_at"],
        "weld.dry_fit": given.get("dry_fit"),
    }
    # What was assumed for want of an answer is no fact.
    if given.get("temperature") is not None:
        learned["weld.temperature_f"] = answer["coldest_f"]
        # For the next joint of this hour.
        learned |= {"site.gluing_f": given["temperature"], "site.gluing_at": answer["made_at"]}
    if given.get("humidity") is not None:
        learned["weld.humidity_pct"] = answer["humidity_pct"]
    return learned
