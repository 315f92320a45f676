"""How the assemblies are laid out, and what choosing one teaches the log."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fieldkit.engine.words import Text, join, say
from fieldkit.flows.block import Block, Card, Cards, Lead, Notes, Table
from fieldkit.flows.drawings.assembly import assembly_drawing
from fieldkit.flows.facts import SITE_FACTS, taught
from fieldkit.flows.figures import amount, dollars, rating, span
from fieldkit.flows.flow import Onward
from fieldkit.flows.question import Known

HANDS = {1: say("fingers"), 2: say("a firm grip"), 3: say("a hard push")}

#: Said under the cards, whatever they are.
NO_STUDY = (
    say(
        "Minutes, hand strength, reuse and ceilings are common practice: "
        "no study stands behind them."
    ),
    say("What is printed on the part, and its maker’s instructions, win."),
)


def show(answer: Known) -> tuple[Block, ...]:
    """Cards to pick from, the parts to buy, from how many on another way pays, and why not."""
    found = answer["assemblies"]
    blocks: list[Block] = [_lead(answer)]
    cards = tuple(_card(one, first=one is found[0]) for one in found)
    picture = assembly_drawing(found[0]) if found else None
    if picture is not None:
        blocks.append(replace(picture, title=say("The first way, as parts in a row.")))
    if cards:
        blocks.append(Cards(say("Ways to join them"), cards, ask=say("Use this one")))
    if answer["parts_list"] is not None:
        blocks.append(_to_buy(answer["parts_list"]))
    if answer["break_even"]:
        told = tuple(pair["how"] for pair in answer["break_even"][:3])
        blocks.append(Notes(say("From how many joints another way pays"), told))
    if answer["nearest"]:
        lines = tuple(
            say("{what}: {why}", what=one["title"], why=join(one["lacks"], " "))
            for one in answer["nearest"]
        )
        blocks.append(Notes(say("The nearest, and what each lacks"), lines))
    if answer["refused"]:
        lines = tuple(
            say("{what}: {why}", what=one["name"], why=one["why"]) for one in answer["refused"]
        )
        blocks.append(Notes(say("What does not fit, and why"), lines, folded=True))
    blocks.append(Notes(say("How far to trust this"), NO_STUDY))
    return tuple(blocks)


def _lead(answer: Known) -> Lead:
    found = answer["assemblies"]
    if not found:
        return Lead(do=say("Change what stands in the way, below."))
    holds = say("Holds {pressure}", pressure=rating(found[0]["holds_psi"]))
    # Where all are too close the headline says what to do.
    close = answer.get("verdict") == "marginal"
    return Lead(holds, "" if close else say("Pick the way that you will make."))


def _card(one: Known, *, first: bool) -> Card:
    wait = span(one["wait_minutes"]) if one["wait_minutes"] else say("none")
    lines = (
        (say("Parts cost"), dollars(one["cost"])),
        (say("Holds"), rating(one["holds_psi"])),
        (say("Work"), amount(one["minutes"], "min")),
        (say("Cement must cure"), wait),
        (say("Used again"), say("yes") if one["reusable"] else say("no")),
        (say("Hands"), HANDS[one["hand_strength"]]),
        (say("In the trade"), join((part["trade_name"] for part in one["parts"]), "; ")),
    )
    return Card(one["title"], lines, note=one["why"], pick=one["key"], picked=first)


def _to_buy(listed: Known) -> Table:
    rows: list[tuple[str, ...]] = [
        (line["name"], str(line["count"]), dollars(line["each"]), dollars(line["cost"]))
        for line in (*listed["parts"], *listed["sundries"])
    ]
    rows.append((say("All together"), "", "", dollars(listed["total"])))
    return Table(
        _to_buy_for(listed["joints"]),
        (say("Part"), say("How many"), say("Each"), say("Cost")),
        tuple(rows),
    )


def _to_buy_for(joints: int) -> Text:
    if joints == 1:
        return say("To buy for one joint, first way")
    return say("To buy for {joints} joints, first way", joints=joints)


def learn(given: Known, answer: Known) -> dict[str, Any]:
    """What was answered here, by the log's names; the parts come with the choice."""
    names = {
        "nominal": "pipe.nominal",
        "class": "pipe.class",
        "tube_od": "tube.od_in",
        "tube_bore": "tube.bore_in",
        "place": "site.place",
        "count": "parts.count",
    }
    gained = taught(given, names | SITE_FACTS)
    if given.get("regulator") is not None and given.get("regulator") == given.get("pressure"):
        gained["site.regulator_psi"] = given["regulator"]
    if "buried" in (given.get("wants") or ()):
        gained["site.buried"] = True
    return gained


def to_the_card(answer: Known, facts: Known) -> Onward | None:
    """From parts on offer to the card for the store."""
    return Onward("card", say("What to buy")) if answer["assemblies"] else None


def pick(answer: Known, chosen: str) -> dict[str, Any]:
    """The facts that choosing one assembly gives, or none where it was not on offer."""
    one = next((one for one in answer["assemblies"] if one["key"] == chosen), None)
    if one is None:
        return {}
    screwed = [joint["nominal"] for joint in one["joints"] if joint["kind"] == "npt"]
    thread = {"thread.size": screwed[0]} if len(set(screwed)) == 1 and screwed[0] else {}
    return thread | {
        "parts.assembly": one,
        "parts.joints": [joint["kind"] for joint in one["joints"]],
        "parts.holds_psi": one["holds_psi"],
        "parts.count": answer["parts_list"]["joints"],
    }
