"""The stages of one joint's job, in order, and how the facts tell which are done."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

Facts = Mapping[str, Any]
State = Literal["done", "next", "later", "not needed", "failed", "waiting"]

#: Joint kinds (ids of joints.csv) by the way they are made.
CEMENTED = frozenset({"solvent_socket", "solvent_spigot"})
THREADED = frozenset({"npt", "npt_swivel", "hose"})
PUSHED = frozenset(
    {"barb_bare", "barb_clamped", "collar", "ring", "grip_tube", "grip_pvc", "micro_barb"}
)


@dataclass(frozen=True, slots=True)
class Stage:
    """One line of a joint's checklist.

    ``done`` and ``needed`` look at the joint's facts; ``summary`` says what is known, in words.
    """

    id: str
    flow: str
    label: str
    trade: str
    done: Callable[[Facts], bool]
    summary: Callable[[Facts], str]
    needed: Callable[[Facts], bool] = lambda facts: True
    failed: Callable[[Facts], bool] = lambda facts: False


def _has(*names: str) -> Callable[[Facts], bool]:
    return lambda facts: all(facts.get(name) not in (None, "") for name in names)


def _made_with(kinds: frozenset[str]) -> Callable[[Facts], bool]:
    def needed(facts: Facts) -> bool:
        joints = facts.get("parts.joints")
        return joints is None or any(kind in kinds for kind in joints)

    return needed


def _od(side: str) -> Callable[[Facts], str]:
    def words(facts: Facts) -> str:
        od, u = facts.get(f"{side}.od_in"), facts.get(f"{side}.u_od_in")
        if od is None:
            return "Known by its name." if facts.get(f"{side}.id") else ""
        return f"{od:.3f} in ± {u:.3f}" if u else f"{od:.3f} in"

    return words


def _parts(facts: Facts) -> str:
    assembly = facts.get("parts.assembly") or {}
    names = [
        f"{part['count']} × {part['name']}" if part.get("count", 1) > 1 else str(part["name"])
        for part in assembly.get("parts", ())
    ]
    return "; ".join(names)


def _verdict(facts: Facts) -> str:
    return {
        "holds": "It holds.",
        "leaks": "It leaks.",
        "repeat": "Test again: the readings cannot tell.",
    }.get(str(facts.get("test.verdict")), "")


STAGES: tuple[Stage, ...] = (
    Stage(
        "measure-pipe",
        "measure-pipe",
        "Measure the rigid pipe",
        "outside diameter",
        lambda facts: _has("pipe.od_in")(facts) or _has("pipe.id")(facts),
        _od("pipe"),
    ),
    Stage(
        "identify-pipe",
        "identify-pipe",
        "Name the rigid pipe",
        "family, size, schedule",
        _has("pipe.nominal"),
        lambda facts: str(facts.get("pipe.name") or ""),
    ),
    Stage(
        "measure-tube",
        "measure-tube",
        "Measure the tubing",
        "outside and inside diameter",
        lambda facts: _has("tube.od_in")(facts) or _has("tube.id")(facts),
        _od("tube"),
    ),
    Stage(
        "identify-tube",
        "identify-tube",
        "Name the tubing",
        "tubing size",
        _has("tube.id"),
        lambda facts: str(facts.get("tube.name") or ""),
    ),
    Stage(
        "choose",
        "choose",
        "Choose the parts",
        "transition",
        _has("parts.assembly"),
        _parts,
    ),
    Stage(
        "join-cement",
        "join-cement",
        "Glue the rigid joints",
        "solvent weld",
        _has("weld.made_at"),
        lambda facts: "",
        _made_with(CEMENTED),
    ),
    Stage(
        "join-thread",
        "join-thread",
        "Screw the threads together",
        "thread make-up",
        lambda facts: facts.get("thread.verdict") == "ok",
        lambda facts: "",
        _made_with(THREADED),
        failed=lambda facts: facts.get("thread.verdict") not in {None, "", "ok"},
    ),
    Stage(
        "join-tube",
        "join-tube",
        "Put the tubing on",
        "barb, collar or ring",
        lambda facts: facts.get("tube_end.verdict") == "ok",
        lambda facts: "",
        _made_with(PUSHED),
        failed=lambda facts: facts.get("tube_end.verdict") not in {None, "", "ok"},
    ),
    Stage(
        "plan-test",
        "plan-test",
        "Plan the pressure test",
        "test pressure",
        _has("test.pressure_psi"),
        lambda facts: (
            f"{facts['test.pressure_psi']:.0f} psi at the gauge"
            if facts.get("test.pressure_psi") is not None
            else ""
        ),
    ),
    Stage(
        "prove",
        "prove",
        "Test it and judge the result",
        "pressure test",
        lambda facts: facts.get("test.verdict") == "holds",
        _verdict,
        failed=lambda facts: facts.get("test.verdict") in {"leaks", "repeat"},
    ),
)

#: Flows that a joint offers beside its stages, by heading.
BESIDE: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("It leaks or came off", ("leak-now", "popped-off", "failed-test")),
    ("Will it last?", ("hold", "size-line", "riser-to-tube", "flow-loss", "longest-run", "surge")),
)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one stage stands for one joint."""

    stage: Stage
    state: State
    summary: str


def standing(facts: Facts) -> tuple[Standing, ...]:
    """Each stage with its state; the first that is neither done nor needless is next."""
    found: list[Standing] = []
    met_next = False
    for stage in STAGES:
        state: State
        if stage.done(facts):
            state = "done"
        elif not stage.needed(facts):
            state = "not needed"
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
    if states.get(flow_id) == "done":
        for one in standings:
            if one.stage.flow in then and one.state not in {"done", "not needed"}:
                return one
    return next_of(standings)


def next_of(standings: tuple[Standing, ...]) -> Standing | None:
    """The stage to do next, or the one that failed; None when all is done."""
    return next((one for one in standings if one.state in {"next", "failed"}), None)
