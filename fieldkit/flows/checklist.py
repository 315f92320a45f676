"""The stages of one joint's job, in order, and how the facts tell which are done."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from fieldkit.engine.strength import rating_figure
from fieldkit.engine.words import Figure, join, say
from fieldkit.flows.figures import amount, counted
from fieldkit.flows.halt import STOP_FACT
from fieldkit.flows.measures import bare
from fieldkit.flows.pipe_names import name_on_side
from fieldkit.flows.stops import kind_on, stop_of
from fieldkit.tables.fittings import made_by

Facts = Mapping[str, Any]
State = Literal["done", "next", "later", "not needed", "failed", "waiting"]

#: The flow that makes joints of each making of joints.csv.
MADE_BY_FLOW = {
    "cement": "join-cement",
    "thread": "join-thread",
    "push": "join-tube",
    "steps": "fit-part",
}


@dataclass(frozen=True, slots=True)
class Stage:
    """One line of a joint's checklist, by the id of its flow where it has none of its own.

    ``done`` and ``needed`` look at the joint's facts; ``summary`` says what is known, in words.
    """

    flow: str
    label: str
    done: Callable[[Facts], bool]
    summary: Callable[[Facts], str] = lambda facts: ""
    needed: Callable[[Facts], bool] = lambda facts: True
    failed: Callable[[Facts], bool] = lambda facts: False
    #: Left out of the list, not shown as needless, while it is not needed.
    on_demand: bool = False
    own_id: str = ""

    @property
    def id(self) -> str:
        """What a signature names it by."""
        return self.own_id or self.flow


def _has(*names: str) -> Callable[[Facts], bool]:
    return lambda facts: all(facts.get(name) not in (None, "") for name in names)


def _repair_alone(facts: Facts) -> bool:
    """Whether the log knows this joint by its failure only: it was made before, by others."""
    made_here = facts.get("parts.assembly") or facts.get("parts.joints")
    return bool(facts.get("leak.cause")) and not made_here


def _made_here(facts: Facts) -> bool:
    return not _repair_alone(facts)


def by_eye(facts: Facts) -> bool:
    """Whether a repair is proven by running it: nothing was glued, and no test was planned."""
    glued = facts.get("leak.remake") == "join-cement" or bool(facts.get("weld.made_at"))
    mended = _repair_alone(facts) and facts.get("leak.mended_at") is not None
    return mended and not glued and facts.get("test.pressure_psi") is None


def makes(making: str) -> Callable[[Facts], bool]:
    """Whether a joint of that making is among the chosen parts, or nothing is chosen yet."""

    def needed(facts: Facts) -> bool:
        chosen = facts.get("parts.joints")
        return chosen is None or any(kind in made_by(making) for kind in chosen)

    return needed


def _to_make(making: str) -> Callable[[Facts], bool]:
    def needed(facts: Facts) -> bool:
        if _repair_alone(facts):
            return facts.get("leak.remake") == MADE_BY_FLOW[making]
        return makes(making)(facts)

    return needed


def _leaks_unexplained(facts: Facts) -> bool:
    """Whether the last test leaked and nobody has asked why since the last mend."""
    mended = facts.get("leak.mended_at") is not None
    return facts.get("test.verdict") == "leaks" and (mended or not facts.get("leak.cause"))


def _to_be_mended(facts: Facts) -> bool:
    return bool(facts.get("leak.cause")) and facts.get("test.verdict") != "holds"


def _measured(side: str) -> Callable[[Facts], bool]:
    """Whether its outside was measured, if only on a screen, or is known by its row."""
    names = (f"{side}.od_in", f"{side}.screen_od_in", f"{side}.id")
    return lambda facts: any(_has(one)(facts) for one in names)


def _tube_known(facts: Facts) -> bool:
    """Whether the tubing is named, or its parts were chosen by its sizes."""
    named = facts.get("tube.id") is not None
    return named or (facts.get("tube.nominal") is not None and bool(facts.get("parts.assembly")))


def _od(side: str) -> Callable[[Facts], str]:
    def words(facts: Facts) -> str:
        od, u = facts.get(f"{side}.od_in"), facts.get(f"{side}.u_od_in")
        if od is None:
            od, u = (facts.get(f"{side}.screen_{one}_in") for one in ("od", "u_od"))
        if od is None:
            return say("Known by its name.") if facts.get(f"{side}.id") else ""
        if not u:
            return amount(od, "in", 3)
        return say("{od} ± {u}", od=Figure(od, "in", 3), u=bare(u, "in", 3))

    return words


def _parts(facts: Facts) -> str:
    assembly = facts.get("parts.assembly") or {}
    names = [
        counted(part["count"], part["name"]) if part.get("count", 1) > 1 else str(part["name"])
        for part in assembly.get("parts", ())
    ]
    return join(names, "; ")


def _verdict(facts: Facts) -> str:
    return {
        "holds": say("It holds."),
        "leaks": say("It leaks."),
        "repeat": say("Test again: the readings cannot tell."),
    }.get(str(facts.get("test.verdict")), "")


STAGES: tuple[Stage, ...] = (
    # A repair comes before what else is to be done.
    Stage(
        "failed-test",
        say("Find out why it leaks"),
        lambda facts: False,
        needed=_leaks_unexplained,
        on_demand=True,
        own_id="why",
    ),
    Stage(
        "mend",
        say("Repair it"),
        _has("leak.mended_at"),
        needed=_to_be_mended,
        on_demand=True,
    ),
    Stage(
        "measure-pipe",
        say("Measure the rigid pipe"),
        _measured("pipe"),
        _od("pipe"),
        _made_here,
    ),
    Stage(
        "identify-pipe",
        say("Name the rigid pipe"),
        _has("pipe.nominal"),
        lambda facts: name_on_side(facts, "pipe"),
        _made_here,
    ),
    Stage(
        "measure-tube",
        say("Measure the tubing"),
        _measured("tube"),
        _od("tube"),
        _made_here,
    ),
    Stage(
        "identify-tube",
        say("Name the tubing"),
        _tube_known,
        lambda facts: name_on_side(facts, "tube"),
        _made_here,
    ),
    Stage(
        "choose",
        say("Choose the parts"),
        _has("parts.assembly"),
        _parts,
        _made_here,
    ),
    Stage(
        "fit-part",
        say("Clamp the part on the pipe"),
        lambda facts: facts.get("fitted.verdict") == "ok",
        needed=lambda facts: bool(facts.get("parts.joints")) and _to_make("steps")(facts),
        failed=lambda facts: facts.get("fitted.verdict") not in {None, "", "ok"},
        on_demand=True,
    ),
    Stage(
        "join-cement",
        say("Glue the rigid joints"),
        _has("weld.made_at"),
        needed=_to_make("cement"),
    ),
    Stage(
        "join-thread",
        say("Screw the threads together"),
        lambda facts: facts.get("thread.verdict") == "ok",
        needed=_to_make("thread"),
        failed=lambda facts: facts.get("thread.verdict") not in {None, "", "ok"},
    ),
    Stage(
        "join-tube",
        say("Put the tubing on"),
        lambda facts: facts.get("tube_end.verdict") == "ok",
        needed=_to_make("push"),
        failed=lambda facts: facts.get("tube_end.verdict") not in {None, "", "ok"},
    ),
    Stage(
        "plan-test",
        say("Plan the pressure test"),
        _has("test.pressure_psi"),
        lambda facts: (
            say("{pressure} at the gauge", pressure=rating_figure(facts["test.pressure_psi"]))
            if facts.get("test.pressure_psi") is not None
            else ""
        ),
        lambda facts: not by_eye(facts),
    ),
    Stage(
        "prove",
        say("Test it and judge the result"),
        lambda facts: facts.get("test.verdict") == "holds",
        _verdict,
        failed=lambda facts: facts.get("test.verdict") in {"leaks", "repeat"},
    ),
)

#: Points of a joint that are no stage.
_OWN_POINTS = {
    "cured": say("Let the cement cure"),
    "closed": say("Close the diagnosis"),
    "reproduced": say("Work it out once more"),
}


def point_name(point_id: str) -> str:
    """What a stage or another point of a joint is called, by its id; a signature holds the id.

    Examples
    --------
    >>> point_name("cured"), point_name("measure-pipe")
    ('Let the cement cure', 'Measure the rigid pipe')
    """
    return _OWN_POINTS.get(point_id) or next(
        (one.label for one in STAGES if one.id == point_id), point_id
    )


#: Flows that a joint offers beside its stages, by heading.
BESIDE: tuple[tuple[str, tuple[str, ...]], ...] = (
    (say("It leaks or came off"), ("leak-now", "popped-off", "failed-test")),
    (
        say("Will it last?"),
        ("hold", "size-line", "riser-to-tube", "flow-loss", "longest-run", "surge"),
    ),
)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one stage stands for one joint."""

    stage: Stage
    state: State
    summary: str
    #: Whether it is where the work on the joint was stopped: there is nothing to do next.
    stopped: bool = False


def standing(facts: Facts) -> tuple[Standing, ...]:
    """Each stage with its state; the first that is neither done nor needless is next.

    Where the work was stopped, none is: what was open waits until the stop is taken away.
    """
    found: list[Standing] = []
    stopped = facts.get(STOP_FACT) is not None
    met_next = stop_of(facts) is not None
    for stage in STAGES:
        state: State
        kind = kind_on(facts, stage.id.removeprefix("identify-"))
        if kind is not None:
            words = say("It is {kind}.", kind=kind.name)
            found.append(Standing(stage, "failed", words, stopped=True))
            continue
        if stage.on_demand and not stage.needed(facts):
            continue
        if stage.done(facts):
            state = "done"
        elif not stage.needed(facts):
            state = "not needed"
        elif stopped:
            state = "waiting"
        elif stage.failed(facts):
            state, met_next = "failed", True
        elif not met_next:
            state, met_next = "next", True
        else:
            state = "later"
        found.append(Standing(stage, state, stage.summary(facts)))
    return tuple(found)


def next_after(
    flow_id: str, then: tuple[str, ...], standings: tuple[Standing, ...]
) -> Standing | None:
    """The stage to offer after a flow: one that follows from it, else the next of all.

    What follows is offered only when the flow's own stage is done: nothing is glued before its
    parts are chosen.
    """
    states = {one.stage.flow: one.state for one in standings}
    if any(one.stopped for one in standings):
        return None
    if states.get(flow_id) == "done":
        for one in standings:
            if one.stage.flow in then and one.state not in {"done", "not needed"}:
                return one
    return next_of(standings)


def next_of(standings: tuple[Standing, ...]) -> Standing | None:
    """The stage to do next, or the one that failed; None when all is done, or stopped."""
    if any(one.stopped for one in standings):
        return None
    return next((one for one in standings if one.state in {"next", "failed"}), None)
