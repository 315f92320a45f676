"""How the assemblies are laid out, and what choosing one teaches the log."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fieldkit.engine.words import Figure, Span, say
from fieldkit.flows.drawings.assembly import assembly_drawing
from fieldkit.flows.facts import SITE_FACTS, taught
from fieldkit.flows.step import Block, Card, Cards, Known, Notes, Table

HANDS = {1: "fingers", 2: "a firm grip", 3: "a hard push"}

#: Said under the cards, whatever they are.
NO_STUDY = (
    "Minutes, hand strength, reuse and ceilings are common practice: no study stands behind them.",
    "What is printed on the part, and its maker’s instructions, win.",
)


def show(answer: Known) -> tuple[Block, ...]:
    """Cards to pick from, the parts to buy, from how many on another way pays, and why not."""
    blocks: list[Block] = []
    found = answer["assemblies"]
    cards = tuple(_card(one, first=one is found[0]) for one in found)
    picture = assembly_drawing(found[0]) if found else None
    if picture is not None:
        blocks.append(replace(picture, title=say("The first way, as parts in a row.")))
    if cards:
        blocks.append(Cards("Ways to join them", cards, ask="Use this one"))
    if answer["parts_list"] is not None:
        blocks.append(_to_buy(answer["parts_list"]))
    if answer["break_even"]:
        told = tuple(pair["how"] for pair in answer["break_even"][:3])
        blocks.append(Notes("From how many joints another way pays", told))
    if answer["nearest"]:
        lines = tuple(f"{one['title']}: {' '.join(one['lacks'])}" for one in answer["nearest"])
        blocks.append(Notes("The nearest, and what each lacks", lines))
    if answer["refused"]:
        lines = tuple(f"{one['name']}: {one['why']}" for one in answer["refused"])
        blocks.append(Notes("What does not fit, and why", lines, folded=True))
    blocks.append(Notes("How far to trust this", NO_STUDY))
    return tuple(blocks)


def _money(cost: float | None) -> str:
    return "no price" if cost is None else f"${cost:,.2f}"


def _card(one: Known, *, first: bool) -> Card:
    wait = str(Span(one["wait_minutes"])) if one["wait_minutes"] else "none"
    lines = (
        ("Parts cost", _money(one["cost"])),
        ("Work", f"{one['minutes']:.1f} min"),
        ("Cement must cure", wait),
        ("Holds", str(Figure(int(one["holds_psi"] + 1e-9), "psi"))),
        ("Used again", "yes" if one["reusable"] else "no"),
        ("Hands", HANDS[one["hand_strength"]]),
        ("In the trade", "; ".join(part["trade_name"] for part in one["parts"])),
    )
    return Card(one["title"], lines, note=one["why"], pick=one["key"], picked=first)


def _to_buy(listed: Known) -> Table:
    rows = [
        (line["name"], str(line["count"]), _money(line["each"]), _money(line["cost"]))
        for line in (*listed["parts"], *listed["sundries"])
    ]
    rows.append(("All together", "", "", _money(listed["total"])))
    joints = listed["joints"]
    title = "To buy for one joint" if joints == 1 else f"To buy for {joints} joints"
    return Table(f"{title}, first way", ("Part", "How many", "Each", "Cost"), tuple(rows))


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
    if "buried" in (given.get("wants") or ()):
        gained["site.buried"] = True
    return gained


def pick(answer: Known, chosen: str) -> dict[str, Any]:
    """The facts that choosing one assembly gives, or none where it was not on offer."""
    one = next((one for one in answer["assemblies"] if one["key"] == chosen), None)
    if one is None:
        return {}
    return {
        "parts.assembly": one,
        "parts.joints": [joint["kind"] for joint in one["joints"]],
        "parts.holds_psi": one["holds_psi"],
        "parts.count": answer["parts_list"]["joints"],
    }
