"""Measure a pipe or a tube: by caliper, strip of paper or phone screen, or find another way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from fieldkit.engine.measuring.measure import (
    WALLS,
    Measured,
    doubt_of_circle,
    measure_on_screen,
    measure_with_caliper,
    measure_with_strip,
)
from fieldkit.engine.measuring.no_caliper import bore_between, not_measured
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer, precise, worked
from fieldkit.flows.block import Block, Facts, Notes, Table
from fieldkit.flows.drawings.measuring import four_ways, hole_by_drills, thinnest_wall
from fieldkit.flows.drawings.section import cross_section
from fieldkit.flows.drawings.strip import strip_method
from fieldkit.flows.facts import warmth_of_the_hour
from fieldkit.flows.flow import Flow, Onward
from fieldkit.flows.measures import other_units, plain_inches
from fieldkit.flows.nearest import Change
from fieldkit.flows.question import Choice, Group, Known, Option, Quantity, Readings, Step, Words
from fieldkit.flows.trade_names import MATERIALS, by_name, read_word, refuse_trade_size
from fieldkit.typed.request import Request

#: What people call each way of measuring, and each wall.
_METHODS = by_name(
    {"caliper": "calipers vernier", "strip": "paper paper_strip wrap thread", "screen": "phone"}
)
_MATERIALS = by_name({one: MATERIALS[one] for one in WALLS})

#: What each tool's readings are called in the flow.
_READ_BY = {"caliper": "readings", "strip": "strips", "screen": "screen"}


def ask_measure(request: Request) -> Measured:
    """Answer the calculation ``measure``.

    With the method ``strip`` each reading is the length of a strip round the pipe, or of a
    thread wound ``turns`` times round it, and ``paper`` is the thickness of either. ``paired``
    says that caliper readings come two by two, a quarter turn apart, and ``zero`` is what the
    caliper shows with its jaws closed. With ``screen`` each reading is a circle that matched the
    outside on a screen fitted to a bank card, and ``bore`` one that matched the hole.
    """
    material = read_word(request, "material", _MATERIALS, ("pvc", "pe"))
    if material is None:
        raise request.missing("material", "pvc")
    named = read_word(request, "method", _METHODS, _READ_BY)
    method = named or "caliper"
    typed = request.raw("readings")
    if method != "strip":
        for at, one in enumerate(typed if isinstance(typed, list | tuple) else [typed]):
            refuse_trade_size(one, f"readings[{at}]")
    readings_in = request.quantities("readings", "in")
    temperature_f = request.quantity("temperature", "°F")
    resolution_in = request.quantity("resolution", "in")
    found: Measured
    if method == "strip":
        found = measure_with_strip(
            readings_in,
            material,
            temperature_f=temperature_f,
            thickness_in=request.quantity("paper", "in"),
            resolution_in=resolution_in,
            turns=request.whole("turns", default=1, at_least=1, at_most=50) or 1,
        )
    elif method == "screen":
        found = measure_on_screen(
            readings_in,
            material,
            temperature_f=temperature_f,
            resolution_in=resolution_in,
            bore_in=request.quantity("bore", "in"),
        )
    else:
        found = measure_with_caliper(
            readings_in,
            material,
            temperature_f=temperature_f,
            resolution_in=resolution_in,
            paired=request.flag("paired", default=False) or False,
            zero_in=request.quantity("zero", "in"),
        )
    if named is not None:
        return found
    assumed = worked("assumed_way_of_measuring", "caliper")
    return replace(found, working=(assumed, *found.working))


# ── The guided flows ─────────────────────────────────────────────────────────────────────────

_FOUR_WAYS = (
    "Across, one way (0°)",
    "A quarter turn on (90°)",
    "Half-way between (45°)",
    "The other half-way (135°)",
)


#: What the other side was measured with is at hand for this one, too.
_OTHER = {"pipe": "tube", "tube": "pipe"}


def _tool(known: Known) -> str:
    """What is measured with: as answered here, else what the other side was measured with."""
    if "tool" in known:
        return str(known["tool"] or "none")
    if known.get("screen"):  # sent by the screen gauge, which is not asked for a tool
        return "screen"
    told = (known.get(f"{side}.od_tool") for side in _OTHER)
    return next((str(one) for one in told if one in _READ_BY), "none")


def _with_tool(given: Known, facts: Known) -> Known:
    """The answers of this flow, and the tool where the log knows it."""
    return {**{f"{side}.od_tool": facts.get(f"{side}.od_tool") for side in _OTHER}, **given}


def _lengths(known: Known) -> list[float]:
    """What was measured with the tool at hand, if anything was."""
    given = known.get(_READ_BY.get(_tool(known), "")) or ()
    if isinstance(given, Mapping):
        return [given["outside"]] if "outside" in given else []
    return list(given)


def _steps(side: str) -> tuple[Step, ...]:
    thing = "pipe" if side == "pipe" else "tubing"
    return (
        Step(
            id="tool",
            ask=f"What can you measure the {thing} with?",
            trade="outside diameter, OD",
            why="The outside tells which fittings go on. How you measure tells how sure we can be.",
            kind=Choice(
                (
                    Option("caliper", "A caliper", "digital or dial"),
                    Option(
                        "strip",
                        "A strip of paper and a ruler",
                        "wrap",
                        "Four times coarser, and often enough.",
                    ),
                    Option(
                        "screen",
                        "This phone’s screen",
                        "circles on the glass",
                        say(
                            "A bank card makes it a ruler, give or take {u}.",
                            u=Figure(doubt_of_circle(1.0), "in", 2),
                        ),
                    ),
                    Option("none", "I have none of these", "", "We show other ways to the size."),
                )
            ),
            cant_tell="I can’t measure it",
            when=lambda known: "tool" in known or not known.get("screen"),
            fact=f"{_OTHER[side]}.od_tool",
            see=(("ruler", "Print a paper ruler that reads the width"),),
        ),
        Step(
            id="print",
            ask=f"What is printed along the {thing}?",
            short="Printed on it? It may settle everything",
            trade="print line",
            why="The print often names the size and class outright.",
            hint=say(
                "Wipe it and look all round, over about {length}. Type it as it stands.",
                length=Figure(5.0, "ft"),
            ),
            kind=Words(limit=400),
            fact=f"{side}.print",
            when=lambda known: _tool(known) in {"caliper", "strip"},
            cant_tell="Nothing that can be read",
        ),
        Step(
            id="readings",
            ask=f"How wide is the {thing}, outside to outside?",
            trade="OD, four ways round",
            why="Readings a quarter turn apart make an oval cancel out. Four show how sure we are.",
            hint="Measure an inch from the cut, clear of print and flare. "
            "Close the jaws until they just drag."
            + (" Soft tubing dents." if side == "tube" else ""),
            kind=Readings("in", _FOUR_WAYS, at_least=2, outside=True),
            when=lambda known: _tool(known) == "caliper",
            sources=("iso-3126",),
            picture=lambda known: four_ways(),
        ),
        Step(
            id="zero",
            ask="What does the caliper show with its jaws closed?",
            trade="zero of the caliper",
            why="Few calipers close at zero. What yours shows is taken off each reading.",
            hint="Wipe the jaws, close them gently and read. Once a day is enough.",
            kind=Quantity("in", at_least=-0.05, at_most=0.05, common=(("0", "0.000"),)),
            when=lambda known: _tool(known) == "caliper",
            fact="caliper.zero_in",
            short="Jaws closed, it shows",
            folded=True,
        ),
        Step(
            id="strips",
            ask=f"How long is the strip, once round the {thing}?",
            trade="circumference",
            why="The length round, over 3.1416, is the width across. An oval does not matter.",
            hint="Wrap it square and snug. Mark where it meets itself, lay it flat, "
            "measure to the mark. Half a millimeter counts.",
            kind=Readings("in", ("First strip", "Second strip", "Third strip")),
            when=lambda known: _tool(known) == "strip",
            sources=("statics",),
            picture=lambda known: strip_method(),
        ),
        Step(
            id="screen",
            ask=f"How wide are the {thing}’s circles on the screen?",
            trade="outside and bore by the screen gauge",
            why="The circle that matches the cut end is as wide as the end itself.",
            hint="Open the gauge, lay the cut end on the glass and match the circles. "
            "It writes both here.",
            kind=Group(
                (("outside", "Outside", "in"), ("bore", "Bore (hole), if you saw it", "in"))
            ),
            when=lambda known: _tool(known) == "screen",
            caution=("depressurise", "blade"),
            cant_tell="It does not work here",
            sources=("iso-7810",),
            by=(("gauge", "Open the screen gauge"),),
        ),
        Step(
            id="temperature",
            ask=f"How warm is the {thing} itself?",
            short="How warm it is",
            trade="wall temperature",
            why="Tubing grows in the sun, enough to look like the next size."
            if side == "tube"
            else say(
                "Pipe grows a little in the sun. Sizes hold at {heat}.", heat=Figure(73.0, "°F")
            ),
            hint="Lay a hand on it. Shade it for ten minutes if you can.",
            kind=Quantity(
                "°F",
                at_least=-40.0,
                at_most=180.0,
                common=(
                    ("50 °F", "Cool to the hand"),
                    ("73 °F", "Neither warm nor cool"),
                    ("95 °F", "Warm"),
                    ("120 °F", "Hot from the sun"),
                ),
            ),
            when=lambda known: _tool(known) in {"caliper", "strip"},
            likely=partial(warmth_of_the_hour, fact="measured.temperature_f", at="measured.at"),
            sources=("alpha-supplier-tables", "trade"),
        ),
        _wall_step() if side == "pipe" else _bore_step(),
    )


def _wall_step() -> Step:
    return Step(
        id="wall",
        ask="How thick is the wall at a cut end?",
        short="Wall, thinnest place",
        trade="wall, for the schedule",
        why="Pipe of one outside comes in thin and thick walls. The wall tells how strong it is.",
        hint="Measure the thinnest place. No cut end, no matter.",
        kind=Quantity("in", at_least=0.01, at_most=1.0),
        when=lambda known: _tool(known) == "caliper",
        caution=("depressurise", "blade"),
        cant_tell="There is no cut end, or I can’t tell",
        picture=lambda known: thinnest_wall(),
    )


def _bore_step() -> Step:
    return Step(
        id="bore",
        ask="How wide is the hole in the tubing?",
        short="Bore (hole)",
        trade="inside diameter, bore",
        why=say(
            "Ridged ends go by the hole. It tells {one} tubing from {other}.",
            one=plain_inches(0.7),
            other=plain_inches(0.71),
        ),
        hint="Use a caliper’s inside jaws. Or try the smooth ends of drills, without force. "
        "Note the largest that slides in, and the next that does not.",
        kind=Group(
            (
                ("bore", "Across the hole, by caliper", "in"),
                ("goes", "Largest drill that slides in", "in"),
                ("stops", "Next drill that does not", "in"),
            )
        ),
        when=lambda known: _tool(known) == "caliper",
        caution=("depressurise", "blade"),
        cant_tell="There is no cut end, or I can’t tell",
        sources=("trade",),
        picture=lambda known: hole_by_drills(),
    )


def _work_out(side: str, given: Known, facts: Known) -> Answer:
    tool = _tool(given)
    lengths_in = tuple(_lengths(given))
    circles = given.get("screen") if tool == "screen" else None
    if circles and not lengths_in:
        raise Problem(
            "screen",
            None,
            say("The hole alone does not tell the size."),
            say("Match the circle to the outside, too."),
        )
    if not lengths_in:
        return not_measured(side)
    temperature_f = given.get("temperature")
    material = "pvc" if side == "pipe" else "pe"
    try:
        if circles:
            return measure_on_screen(lengths_in, material, bore_in=circles.get("bore"))
        if tool == "strip":
            found = measure_with_strip(lengths_in, material, temperature_f=temperature_f)
        else:  # with all four boxes filled, the page's order is two pairs at right angles
            found = measure_with_caliper(
                lengths_in,
                material,
                temperature_f=temperature_f,
                paired=len(lengths_in) == len(_FOUR_WAYS),
                zero_in=given["zero"] if "zero" in given else facts.get("caliper.zero_in"),
            )
            found = replace(found, zero_at=facts.get("now"))
    except Problem as problem:
        if circles or problem.field.startswith("readings"):
            problem.field = _READ_BY[tool]
        raise
    return _with_wall(found, given) if side == "pipe" else _with_bore(found, given)


def _with_wall(found: Measured, given: Known) -> Measured:
    wall_in = given.get("wall")
    if wall_in is None:
        return found
    wall_in -= found.zero_in or 0.0
    if wall_in >= found.od_in / 2:
        raise OutOfRange(
            "wall",
            wall_in,
            say(
                "A wall of {wall} leaves no hole in a pipe of {od}.",
                wall=Figure(wall_in, "in", 3),
                od=Figure(found.od_in, "in", 3),
            ),
            say("Measure the wall only, not across the pipe."),
        )
    return replace(found, wall_in=wall_in)


def _with_bore(found: Measured, given: Known) -> Measured:
    parts = given.get("bore")
    if not parts:
        return found
    bore_in, u_bore_in = parts.get("bore"), None
    goes, stops = parts.get("goes"), parts.get("stops")
    if bore_in is None:
        if goes is None or stops is None:
            raise Problem(
                "bore",
                goes if goes is not None else stops,
                say("One drill alone leaves the hole open to one side."),
                say("Give both: the largest that slides in and the next that does not."),
            )
        bore_in, u_bore_in = bore_between(goes, stops)
    else:
        bore_in -= found.zero_in or 0.0
    if not 0 < bore_in < found.od_in:
        raise OutOfRange(
            "bore",
            bore_in,
            say(
                "A hole of {bore} does not fit in tubing of {od}.",
                bore=Figure(bore_in, "in", 3),
                od=Figure(found.od_in, "in", 3),
            ),
            say("Measure the hole again, or go back and measure the outside."),
        )
    if u_bore_in is None:
        return replace(found, bore_in=bore_in)
    between = worked(
        "hole_between_shanks", bore_in, goes=precise(goes, "in"), stops=precise(stops, "in")
    )
    return replace(found, bore_in=bore_in, u_bore_in=u_bore_in, working=(*found.working, between))


# ── What the page shows and what the log learns ──────────────────────────────────────────────


def _both(inches: float) -> Text:
    """Inches as on a caliper, and millimetres; for a metric reader the other way round."""
    figure = Figure(inches, "in", 3)
    return say("{figure} ({other})", figure=figure, other=other_units(figure))


def _show(result: Known) -> tuple[Block, ...]:
    if result["verdict"] == "no_measurement":
        return _show_ways(result)
    heat = Figure(result["temperature_f"], "°F")
    rows: list[tuple[str, str]] = [
        (say("Outside, at {heat}", heat=Figure(73.0, "°F")), _both(result["od_in"])),
        (say("Give or take"), _both(result["u_od_in"])),
    ]
    more = (
        (say("Oval by"), "ovality_in"),
        (say("Wall"), "wall_in"),
        (say("Hole"), "bore_in"),
    )
    for label, key in more:
        if result[key] is not None:
            rows.append((label, _both(result[key])))
    rows.append(
        (
            say("Taken to be at"),
            say("{heat}, assumed", heat=heat)
            if result["temperature_assumed"]
            else say("{heat}", heat=heat),
        )
    )
    odd = {one["number"] for one in result["odd_readings"]}
    readings = tuple(
        (str(number), _both(one), say("Take this one again") if number in odd else "")
        for number, one in enumerate(result["readings_in"], start=1)
    )
    by_tool = {"strip": say("Strip"), "screen": say("Circle")}
    what = by_tool.get(result["method"], say("Reading"))
    columns: tuple[str, ...] = (what, say("Length"), say("Note"))
    shown = len(columns) if odd else 2  # a column only where there is something to note
    return (
        Facts(tuple(rows)),
        cross_section(
            result["od_in"],
            u_od_in=result["u_od_in"],
            bore_in=_hole(result),
            od_tool=result["method"],
        ),
        Table(say("What you read"), columns[:shown], tuple(row[:shown] for row in readings)),
    )


def _hole(result: Known) -> float | None:
    """The bore that was measured, or that the wall leaves."""
    if result["bore_in"] is not None or result["wall_in"] is None:
        return None if result["bore_in"] is None else float(result["bore_in"])
    return float(result["od_in"]) - 2 * float(result["wall_in"])


def _show_ways(result: Known) -> tuple[Block, ...]:
    ways = tuple((way["way"], way["how"]) for way in result["ways"])
    passes = {
        "drill": say("Drill in the hole"),
        "wrench": say("Wrench on the outside"),
        "coin": say("Coin"),
    }
    rows = tuple(
        (passes[one["kind"]], one["goes"], one["stops"] or "–", one["means"])
        for one in result["gauges"]
    )
    return (
        Table(say("Other ways to the size"), (say("Way"), say("How")), ways),
        strip_method(),
        Table(
            say("What goes and what stops"),
            (say("Way"), say("Goes"), say("Stops"), say("It is likely")),
            rows,
        ),
        Notes(
            say("Then"),
            (say("Come back with any of these, or start again with a strip of paper."),),
        ),
    )


def _learn(side: str, given: Known, result: Known) -> dict[str, Any]:
    seen = {f"{side}.print": given["print"] or ""} if "print" in given else {}
    at_cut_end = "wall" if side == "pipe" else "bore"
    if at_cut_end in given:
        seen[f"{side}.cut_end"] = "no" if given[at_cut_end] is None else None
    if result["verdict"] == "no_measurement":
        return seen
    if result["method"] == "screen":
        # Too coarse to choose by a part that must grip: it serves to name the size, no more.
        read = {f"{side}.screen_{key}": result[key] for key in ("od_in", "u_od_in", "bore_in")}
        return read | {f"{side}.od_tool": "screen"}
    keys = ("od_in", "u_od_in", "ovality_in", "wall_in", "bore_in")
    learned = {f"{side}.{key}": result[key] for key in keys if result[key] is not None}
    if given.get("zero") is not None and _tool(given) == "caliper":
        learned |= {"caliper.zero_in": given["zero"], "caliper.zero_at": result["zero_at"]}
    if given.get("temperature") is not None and result["zero_at"]:
        learned |= {
            "measured.temperature_f": given["temperature"],
            "measured.at": result["zero_at"],
        }
    return learned | seen | {f"{side}.od_tool": result["method"]}


def _other_tools(answer: Known | None, given: Known) -> tuple[Change, ...]:
    """What can be measured with after all, where nothing was measured."""
    if answer is None or answer.get("od_in") is not None:
        return ()
    ways = {
        "screen": say("Measure on this phone’s screen"),
        "strip": say("Wrap a strip of paper round it"),
    }
    tried = _tool(given)
    return tuple(
        Change(words, (("tool", (tool,)),)) for tool, words in ways.items() if tool != tried
    )


def _flow(side: str, title: str, about: str) -> Flow:
    thing = "pipe" if side == "pipe" else "tubing"
    return Flow(
        id=f"measure-{side}",
        title=title,
        trade="outside diameter" if side == "pipe" else "outside and inside diameter",
        about=about,
        together=(("print", "readings", "strips", "wall", "bore", "temperature", "zero"),),
        pages=(f"At the end of the {thing}",),
        steps=_steps(side),
        work_out=lambda given, facts: _work_out(side, _with_tool(given, facts), facts),
        show=_show,
        learn=lambda given, result: _learn(side, given, result),
        then=(f"identify-{side}",),
        changes=lambda answer, given, facts: _other_tools(answer, _with_tool(given, facts)),
        onward=lambda answer, facts: (
            None
            if answer.get("od_in") is not None
            else Onward(f"identify-{side}", say("Read the print on it"))
        ),
        straight_on=lambda answer: "" if answer.get("od_in") is None else f"identify-{side}",
        shares=("caliper.zero_in", "caliper.zero_at"),
        goes_on=("no pressure", "no joint"),  # measuring gas pipe tempts to cut it
    )


FLOWS = (
    _flow("pipe", "Measure the rigid pipe", "The outside of the PVC pipe, and how sure it is."),
    _flow("tube", "Measure the tubing", "The outside and the hole of the flexible tubing."),
)
