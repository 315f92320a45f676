"""Which pipe or tube is this: the calculation by request, and a guided flow for each side.

The flow asks for the outside (unless the log has it), then always for the look that the engine
finds most worth its trouble, and stops once one product is clear.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from fieldkit.engine.identifying.identify import Identified, identify
from fieldkit.engine.identifying.next_measurement import SIXTY_FOURTH_IN, best_look, sixty_fourths
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.block import Block, Card, Cards, Drawing, Facts, Notes, Steps, Table
from fieldkit.flows.drawings.section import Rival, cross_section
from fieldkit.flows.figures import amount
from fieldkit.flows.flow import Flow
from fieldkit.flows.measures import UnitName, bare
from fieldkit.flows.pipe_names import family_name
from fieldkit.flows.question import Choice, Known, Option, Quantity, Step, Words
from fieldkit.flows.stops import kind_on, refusal
from fieldkit.flows.trade_names import refuse_trade_size
from fieldkit.tables.other_kinds import EFFECTS, kind_of_family
from fieldkit.tables.pipes import pipes
from fieldkit.typed.request import Request

# ── By request ──────────────────────────────────────────────────────────────────────────────

#: Words for a region, lower case, and the region of the pipe table they stand for.
REGIONS: Mapping[str, str] = {
    word: region
    for region, words in {
        "na": ("na", "north america", "us", "u.s.", "usa", "united states", "canada", "america"),
        "oceania": ("oceania", "australia", "au", "new zealand", "nz"),
        "metric": ("metric", "europe", "eu", "uk", "asia", "india", "africa", "middle east"),
    }.items()
    for word in words
}

_STIFF = {"rigid": True, "stiff": True, "hard": True, "flexible": False, "soft": False}


def ask_identify(request: Request) -> Identified:
    """Read the request and name the pipe."""
    place = request.text("region", limit=80).lower()
    region = REGIONS.get(place)
    stiffness = request.raw("rigid")
    rigid = _STIFF.get(stiffness.strip().lower()) if isinstance(stiffness, str) else None
    refuse_trade_size(request.raw("od"), "od")
    found = identify(
        od_in=request.quantity("od", "in"),
        u_od_in=request.quantity("u_od", "in"),
        wall_in=request.quantity("wall", "in"),
        u_wall_in=request.quantity("u_wall", "in"),
        bore_in=request.quantity("bore", "in"),
        u_bore_in=request.quantity("u_bore", "in"),
        rigid=request.flag("rigid") if rigid is None else rigid,
        print_line=request.text("print_line", limit=400),
        region=region,
    )
    if not place or region is not None:
        return found
    note = say(
        "Region not used: “{place}” is none of North America, Oceania, metric.", place=place[:40]
    )
    return dataclasses.replace(found, cautions=(*found.cautions, note))


# ── The questions ───────────────────────────────────────────────────────────────────────────

#: Drill shanks by 64ths: the largest that enters, and the next that does not. They bracket the
#: bores of tubing, from swing pipe (0.490) to 1 in.
DRILLS = (
    (30, 32),
    (32, 34),
    (34, 36),
    (36, 37),
    (37, 38),
    (38, 39),
    (39, 40),
    (40, 42),
    (52, 54),
    (66, 70),
)


def drill_bore(choice: str) -> tuple[float, float]:
    """Bore and its k = 2 uncertainty from a drill choice: anywhere between the two shanks. [in]

    Source
    ------
    gum: a uniform spread of half-width a has standard uncertainty a/√3. Status: checked.

    Examples
    --------
    >>> drill_bore("38-39")[0], round(drill_bore("38-39")[1], 4)
    (0.6015625, 0.009)
    """
    enters, refused = (int(part) * SIXTY_FOURTH_IN for part in choice.split("-"))
    return (enters + refused) / 2, 2 * (refused - enters) / 2 / math.sqrt(3)


def _drill_option(enters: int, refused: int) -> Option:
    return Option(
        f"{enters}-{refused}",
        say(
            "{enters} goes in, {refused} does not",
            enters=sixty_fourths(enters),
            refused=sixty_fourths(refused),
        ),
        say(
            "{low} to {high}",
            low=bare(enters * SIXTY_FOURTH_IN, "in", 3),
            high=bare(refused * SIXTY_FOURTH_IN, "in", 3),
        ),
    )


@dataclass(frozen=True, slots=True)
class Side:
    """What differs between the rigid side and the flexible one."""

    name: str
    thing: str
    rigid: bool
    looks: tuple[str, ...]


PIPE = Side("pipe", "pipe", True, ("print_line", "wall", "bore", "region"))
TUBE = Side("tube", "tube", False, ("print_line", "bore", "drill", "wall", "region"))

#: Which steps take a look that the engine proposes, the better first.
_STEPS_OF_LOOK = {"print": ("print_line",), "wall": ("wall",), "bore": ("bore", "drill")}


def _steps(side: Side) -> tuple[Step, ...]:
    all_steps = (
        Step(
            "od",
            f"How far across is the outside of the {side.thing}?",
            Quantity("in", at_least=0.1, at_most=12.0, outside=True),
            trade="outside diameter, OD",
            why="The outside tells most sizes apart.",
            hint="Close the caliper until it just drags. Take the mean of two ways across.",
            fact=f"{side.name}.od_in",
        ),
        Step(
            "print_line",
            f"What is printed along the {side.thing}?",
            Words(limit=400),
            trade="print line",
            why="The print often names the size and class outright.",
            hint=say(
                "Wipe it and look all round, over about {length}. Type it as it stands.",
                length=Figure(5.0, "ft"),
            ),
        ),
        Step(
            "wall",
            f"How thick is the wall of the {side.thing}?",
            Quantity("in", at_least=0.01, at_most=2.0),
            trade="wall thickness",
            why="The same outside comes with thin and thick walls, for low and high pressure.",
            hint="Measure a clean cut end at four places and give the mean.",
            fact=f"{side.name}.wall_in",
            caution=("depressurise", "blade"),
        ),
        Step(
            "bore",
            f"How wide is the hole in the {side.thing}?",
            Quantity("in", at_least=0.05, at_most=12.0),
            trade="inside diameter, ID, bore",
            why="A ridged fitting (barb) holds by the hole, so it must match.",
            hint="Use the inner jaws on a clean cut end, both ways, without force.",
            fact=f"{side.name}.bore_in",
            caution=("depressurise", "blade"),
        ),
        Step(
            "drill",
            "Which drill’s smooth end slides into the hole?",
            Choice(tuple(_drill_option(*pair) for pair in DRILLS)),
            trade=say("drill shank as a pin gauge, {unit}", unit=UnitName("inches")),
            why="Drill shanks are good gauges when you have no caliper.",
            hint="Use the smooth end, by hand, without force. Find the largest that goes in.",
        ),
        Step(
            "region",
            "Where was it bought?",
            Choice(
                (
                    Option("na", "United States, Canada or Mexico", "inch sizes"),
                    Option("oceania", "Australia or New Zealand"),
                    Option("metric", "Elsewhere, where pipe is sold in mm", "metric sizes"),
                )
            ),
            trade="region",
            why="Inch and metric products of nearly the same size are sold in different places.",
        ),
    )
    return tuple(step for step in all_steps if step.id == "od" or step.id in side.looks)


# ── From answers to evidence ────────────────────────────────────────────────────────────────


def _name_it(side: Side, given: Known, facts: Known) -> Identified:
    """Run the engine on what was answered here, else on what the log knows.

    Raises
    ------
    Problem
        ``field`` is the id of the step to go back to.
    Refused
        The log has it as a pipe that nothing may be joined to, and no print was read since.
    """
    od = _outside_of(side, given, facts)
    bore = _bore_of(side, given, facts)
    try:
        found = identify(
            od_in=od.value_in,
            u_od_in=od.u_in,
            wall_in=_size(side, "wall", given, facts),
            bore_in=bore.value_in,
            u_bore_in=bore.u_in,
            rigid=side.rigid,
            print_line=str(_print_of(side, given, facts) or ""),
            region=given.get("region"),
        )
    except Problem as problem:
        step = problem.field.removeprefix("u_")
        raise problem.at("drill" if step == "bore" and bore.tool else step) from None
    named = kind_on(facts, side.name)
    if named is not None and found.other_kind is None and not _print_agrees(found.print_clues):
        raise refusal(named)
    return dataclasses.replace(found, od_tool=od.tool, bore_tool=bore.tool)


class _Size(NamedTuple):
    """A size, how sure it is where that is known, and what it was found with."""

    value_in: float | None
    u_in: float | None = None
    tool: str = ""


def _size(side: Side, step: str, given: Known, facts: Known) -> float | None:
    value = given.get(step)
    return facts.get(f"{side.name}.{step}_in") if value is None else float(value)


def _outside_of(side: Side, given: Known, facts: Known) -> _Size:
    """As measured here, else as the log knows it, else as laid on the screen."""
    od = _size(side, "od", given, facts)
    if given.get("od") is not None:
        return _Size(od, None, "caliper")  # this flow's own question asks for one
    on_screen = facts.get(f"{side.name}.screen_od_in")
    u_screen = facts.get(f"{side.name}.screen_u_od_in")
    if od is None and None not in {on_screen, u_screen}:
        return _Size(on_screen, u_screen, "screen")
    return _Size(
        od, facts.get(f"{side.name}.u_od_in"), str(facts.get(f"{side.name}.od_tool") or "")
    )


def _bore_of(side: Side, given: Known, facts: Known) -> _Size:
    """As measured, else by the drill that goes in, else as laid on the screen."""
    bore, drill = _size(side, "bore", given, facts), given.get("drill")
    u_screen = facts.get(f"{side.name}.screen_u_od_in")  # its bore may be off as much, or less
    if bore is None and drill:
        return _Size(*drill_bore(str(drill)), "drill")
    if bore is None and u_screen is not None:
        return _Size(facts.get(f"{side.name}.screen_bore_in"), u_screen)
    return _Size(bore)


def _print_of(side: Side, given: Known, facts: Known) -> Any:
    """What is printed on it: as read here, else when it was measured."""
    return given["print_line"] if "print_line" in given else facts.get(f"{side.name}.print")


def _print_agrees(clues: Sequence[Mapping[str, Any]]) -> bool:
    """Whether a print was read that says something, and nothing against what was measured.

    Only such a print takes away a stop that the log has: "worn off" does not.
    """
    return bool(clues) and all(one["fits_likeliest"] is not False for one in clues)


def _choose_next(side: Side, steps: Mapping[str, Step]) -> Callable[[Known, Known], Step | None]:
    def choose(given: Known, facts: Known) -> Step | None:
        def open_to_ask(step_id: str) -> bool:
            return step_id not in given and _can_be_asked(side, steps.get(step_id), facts)

        if kind_on(facts, side.name) is not None:  # only its print can show that to be wrong
            return steps["print_line"] if "print_line" not in given else None
        if open_to_ask("od"):
            return steps["od"]
        try:
            found = _name_it(side, given, facts)
        except OutOfRange:
            return None  # sizes that cannot be: working it out will say which to change
        except Problem:
            # Nothing to go by yet: ask on while there is a look left.
            looks = (one for one in side.looks if one != "region")
            return next((steps[one] for one in looks if open_to_ask(one)), None)
        if found.decided or found.other_kind is not None:
            return None
        if found.look_alikes and open_to_ask("print_line"):
            return steps["print_line"]
        gains = dict(found.next["gains_bits"])
        while (look := best_look(gains)) is not None:
            for step_id in _STEPS_OF_LOOK.get(look, ()):
                bore = _can_be_asked(side, steps.get("bore"), facts)
                worth = _worth_asking(step_id, given, bore_can_be_asked=bore)
                if open_to_ask(step_id) and worth:
                    return steps[step_id]
            del gains[look]
        if open_to_ask("region") and _sold_apart(found):
            return steps["region"]
        return None

    return choose


#: The looks that share a page.
_TOGETHER = ("print_line", "od", "wall", "bore", "drill")


def _looks_together(side: Side, steps: Mapping[str, Step]) -> Callable[..., tuple[Step, ...]]:
    """The steps of a page; a look that tempts to cut says so where it may be gas pipe."""

    def together(step: Step, given: Known, facts: Known) -> tuple[Step, ...]:
        if step.id not in _TOGETHER or kind_on(facts, side.name) is not None:
            return (step,)
        may_be_gas = _may_be_gas(side, given, facts)

        def warned(one: Step) -> Step:
            tempts = may_be_gas and one.id in {"wall", "bore", "drill"}
            more = ("gas_unknown", *one.caution)
            return dataclasses.replace(one, caution=more) if tempts else one

        page = (step if one == step.id else steps.get(one) for one in _TOGETHER)
        return tuple(
            warned(one)
            for one in page
            if one is step or (one and (one.id in given or _can_be_asked(side, one, facts)))
        )

    return together


def _may_be_gas(side: Side, given: Known, facts: Known) -> bool:
    """Whether gas pipe has the sizes that are known so far; where none is, it may."""
    try:
        found = _name_it(side, given, facts)
    except Problem:
        return True
    return any(one["stops"] for one in found.look_alikes)


_AT_THE_CUT_END = frozenset({"wall", "bore", "drill"})


def _can_be_asked(side: Side, step: Step | None, facts: Known) -> bool:
    """Whether nobody told, or found that it cannot be told, and the tool at hand can tell."""
    if step is None or _follows(side, step.id, facts):
        return False
    read = _READ_ELSEWHERE.get(step.id, "")
    told = (step.fact, read and f"{side.name}.{read}")
    if any(one and facts.get(one) is not None for one in told):
        return False
    if step.id in _AT_THE_CUT_END and facts.get(f"{side.name}.cut_end") == "no":
        return False
    tool = facts.get(f"{side.name}.od_tool")
    if tool is None or side is PIPE:
        return True
    # The caliper's page asked for drills, too; who has no caliper has drills at the best.
    return step.id != "drill" if tool == "caliper" else step.id not in {"wall", "bore"}


#: Steps that another flow may have answered: the fact that says so.
_READ_ELSEWHERE = {"od": "screen_od_in", "print_line": "print"}
_SIZES = ("od", "wall", "bore")


def _follows(side: Side, step_id: str, facts: Known) -> bool:
    """Whether a size is known by the two others: outside less two walls is the bore."""
    others = [one for one in _SIZES if one != step_id]
    measured = all(facts.get(f"{side.name}.{one}_in") is not None for one in others)
    return step_id in _SIZES and measured


def _worth_asking(step_id: str, given: Known, *, bore_can_be_asked: bool) -> bool:
    """The drill stands in for a bore that could not be measured."""
    return step_id != "drill" or given.get("bore", bore_can_be_asked) in {None, False}


def _sold_apart(found: Identified) -> bool:
    """Whether likely rivals are sold in different regions."""
    likely = [one for one in found.candidates if one["probability"] >= 0.05]
    regions = {pipes()[one["id"]].region for one in likely if one["id"] in pipes()}
    return len(regions) > 1


# ── What the page shows, and what the log gains ─────────────────────────────────────────────


def _inches(value: float | None) -> Text:
    return amount(value, "in", 3, missing="")


def _show_other_kind(answer: Known) -> tuple[Block, ...]:
    """What a pipe is called that nothing may be joined to, and what to do about it."""
    do: tuple[Text, ...]
    if answer["stops"]:
        do = (
            say("Leave it as it is. Fill in again by hand only."),
            say("Walk away from it. Then call the gas utility and say what is printed on it."),
            say("Mark the place, so that nobody else works on it."),
        )
    else:
        do = (
            say("Join nothing to it that has to hold water."),
            say("Look for the pipe that brings the water, and name that one."),
        )
    return (
        Steps(say("What to do"), do),
        Notes(
            say("If the print was read wrong"),
            (say("Go back, type it again as it stands, and this is worked out anew."),),
        ),
    )


def _show(answer: Known) -> tuple[Block, ...]:
    if answer.get("other_kind"):  # an older version wrote none
        return _show_other_kind(answer)
    listed = [one for one in answer["candidates"] if one["id"] != "unlisted"]
    blocks: list[Block] = []
    if listed:
        blocks += [_likeliest(listed[0], answer["verdict"]), _picture(answer, listed)]
    blocks.append(
        Table(
            say("What it may be"),
            (say("What"), say("Chance"), say("Outside"), say("Bore")),
            tuple(
                (
                    one["name"],
                    one["chance"],
                    _inches(one["od_in"]),
                    _inches(one["bore_in"]),
                )
                for one in answer["candidates"][:8]
            ),
        )
    )
    if answer["next_measurement"] or answer["verdict"] in {"unlisted", "measure again"}:
        blocks.append(Notes(say("To be surer"), (answer["next"]["how"],)))
    if answer.get("look_alikes"):
        alikes = tuple(one["why"] for one in answer["look_alikes"][:6])
        blocks.append(Notes(say("Has the same sizes, and only the print tells"), alikes))
    why = [rival["why"] for rival in answer["cannot_by_od"][:4]] + list(answer["notes"])
    if why:
        blocks.append(Notes(say("Why"), tuple(why)))
    cards = _cards(answer, listed)
    if cards:
        blocks.append(Cards(say("Which one is it?"), cards, ask=say("It is this one")))
    return tuple(blocks)


def _likeliest(best: Known, verdict: str) -> Facts:
    """What the likeliest row of the table says."""
    rating = amount(best["rating_psi"] or None, "psi", 0, missing=say("see its print"))
    rows = (
        (say("Nearest listed") if verdict == "unlisted" else say("Likeliest"), best["name"]),
        (say("Chance"), best["chance"]),
        (say("Outside"), _inches(best["od_in"])),
        (say("Bore"), _inches(best["bore_in"])),
        (say("Wall"), _inches(best["wall_in"])),
        (say("Printed pressure rating"), rating),
    )
    return Facts(tuple(row for row in rows if row[1]))


def _picture(answer: Known, listed: list[dict[str, Any]]) -> Drawing:
    """What was measured, else what the likeliest is listed as, and all that it may be."""
    likely = [one for one in listed if one["probability"] >= 0.01] or listed[:1]
    best, od, bore = listed[0], answer["od_in"], answer.get("bore_in")
    return cross_section(
        best["od_in"] if od is None else od,
        u_od_in=answer["u_od_in"],
        bore_in=best["bore_in"] if bore is None else bore,
        rivals=[Rival(one["name"], one["od_in"], one["bore_in"]) for one in likely],
        od_tool="listed" if od is None else answer.get("od_tool") or "",
        bore_tool="listed" if bore is None else answer.get("bore_tool") or "",
    )


def _cards(answer: Known, listed: list[dict[str, Any]]) -> tuple[Card, ...]:
    if answer["verdict"] == "measure again":
        return ()
    likely = [one for one in listed[:6] if one["probability"] >= 0.01]
    return tuple(
        Card(
            one["name"],
            (
                (say("Chance"), one["chance"]),
                (say("Outside"), _inches(one["od_in"])),
                (say("Bore"), _inches(one["bore_in"])),
            ),
            note=pipes()[one["id"]].note,
            pick=one["id"],
            picked=bool(answer["decided"]) and one is listed[0],
        )
        for one in likely
    )


def _facts_of(side: Side, pipe_id: str) -> dict[str, Any]:
    """All that a row tells about one side of the joint."""
    row = pipes()[pipe_id]
    told = {
        "id": row.id,
        "name": row.name,
        "family": row.family,
        "material": row.material,
        "nominal": row.nominal,
        "class": row.pipe_class,
        "rating_psi": row.rating_psi,
    }
    return {f"{side.name}.{k}": v for k, v in told.items() if v not in (None, "")}


def _learn(side: Side) -> Callable[[Known, Known], dict[str, Any]]:
    def learn(given: Known, answer: Known) -> dict[str, Any]:
        gained: dict[str, Any] = {}
        if answer["verdict"] != "measure again":
            for size in ("od", "wall", "bore"):
                if given.get(size) is not None:
                    gained[f"{side.name}.{size}_in"] = given[size]
            if given.get("od") is not None:
                gained[f"{side.name}.u_od_in"] = answer["u_od_in"]
                gained[f"{side.name}.od_tool"] = answer["od_tool"]
        if answer["other_kind"] or _print_agrees(answer["print_clues"]):
            gained[f"{side.name}.other_kind"] = answer["other_kind"]
        if answer["other_kind"]:
            return gained
        likeliest = next((one for one in answer["candidates"] if one["id"] != "unlisted"), None)
        if likeliest is None:
            return gained
        if answer["decided"]:
            return gained | _facts_of(side, likeliest["id"])
        settled = answer["settled"]
        if settled["nominal"] is None:
            return gained
        row = pipes()[likeliest["id"]]
        gained |= {
            f"{side.name}.family": settled["family"],
            f"{side.name}.material": row.material,
            f"{side.name}.nominal": settled["nominal"],
            f"{side.name}.name": str(family_name(row)),
        }
        if settled["class"]:
            gained[f"{side.name}.class"] = settled["class"]
        return gained

    return learn


def _pick(side: Side) -> Callable[[Known, str], dict[str, Any]]:
    def pick(answer: Known, chosen: str) -> dict[str, Any]:
        offered = {one["id"] for one in answer["candidates"]} & set(pipes())
        if chosen not in offered:
            return {}
        kind = kind_of_family(pipes()[chosen].family)
        named = {f"{side.name}.other_kind": kind.id if kind is not None else None}
        return _facts_of(side, chosen) | named

    return pick


def _goes_on(side: Side, answer: Known) -> bool:
    """Whether parts can be chosen: it is named, or tubing whose sizes are all measured."""
    if answer.get("decided"):
        return True
    open_only = answer.get("verdict") not in {"measure again", "unlisted"}
    sizes = all(answer.get(one) is not None for one in ("od_in", "bore_in"))
    harmless = not answer.get("other_kind") and not answer.get("look_alikes")
    settled = (answer.get("settled") or {}).get("nominal")
    return side is TUBE and open_only and sizes and harmless and bool(settled)


def _flow(side: Side, flow_id: str, title: str, trade: str, then: tuple[str, ...]) -> Flow:
    steps = _steps(side)
    by_id = {step.id: step for step in steps}
    return Flow(
        id=flow_id,
        title=title,
        trade=trade,
        about="A few looks and measurements name it, with the chance that it is something else.",
        straight_on=lambda answer: then[0] if _goes_on(side, answer) else "",
        choose_together=_looks_together(side, by_id),
        pages=("What you can see and measure",),
        steps=steps,
        work_out=lambda given, facts: _name_it(side, given, facts),
        show=_show,
        learn=_learn(side),
        cautions=("depressurise", "blade", "local_code"),
        pick=_pick(side),
        then=then,
        choose_next=_choose_next(side, by_id),
        goes_on=EFFECTS,
    )


FLOWS = (
    _flow(
        PIPE, "identify-pipe", "Name the rigid pipe", "family, size, schedule", ("measure-tube",)
    ),
    _flow(TUBE, "identify-tube", "Name the tubing", "tubing size", ("choose",)),
)
