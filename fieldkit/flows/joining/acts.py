"""The acts of making a joint: no water in it first, then what to do in order, and why each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.block import Block, Clock, Notes, Steps
from fieldkit.flows.localize import as_text
from fieldkit.flows.question import Confirm, Known, Quantity, Step
from fieldkit.typed.moments import read_moment


def shut_off(when: Callable[[Known], bool]) -> Step:
    """The first act of any joint; whoever cannot shut the water off goes no further."""
    return Step(
        "shut",
        "If it has held water: shut it off, and let it run dry",
        Confirm("No water in it"),
        trade="isolate and depressurize",
        why="A cut under pressure lets go in your face, and cement does not hold on a wet pipe.",
        when=when,
        cant_tell="I can’t shut it off",
        out_stops="cannot_shut_off",
    )


def highest_pressure(why: str, when: Callable[[Known], bool]) -> Step:
    """How much pressure a joint without cement must bear."""
    buttons = (("25 psi", "Behind a drip regulator"), "60 psi")
    return Step(
        "pressure",
        "What is the highest pressure here?",
        Quantity("psi", at_least=0.0, at_most=500.0, common=buttons),
        trade="static pressure",
        why=why,
        hint="With everything shut, on a gauge at the faucet.",
        fact="site.pressure_psi",
        when=when,
        cant_tell="I can’t tell: show the usual ceiling",
        short="Highest pressure",
    )


def borne(known: Known) -> dict[str, Any]:
    """What a joint without cement must bear, as the engine takes it: pressure and heat."""
    pressure_psi = known.get("pressure")
    if pressure_psi is None:
        pressure_psi = known.get("site.pressure_psi")
    hot_f = known.get("site.temperature_f")
    return {
        "pressure_psi": None if pressure_psi is None else float(pressure_psi),
        "temperature_f": 73.0 if hot_f is None else float(hot_f),
    }


def in_order(title: str, steps: Sequence[Known]) -> tuple[Steps, Notes]:
    """The ``steps`` of an answer, each with ``do``, ``why`` and, where it takes time, seconds.

    Examples
    --------
    >>> todo, _ = in_order("Step by step", [{"do": "Hold it", "why": "It creeps.", "seconds": 30}])
    >>> todo.items
    ('Hold it (30 s)',)
    """
    return (
        Steps(title, tuple(_line(step) for step in steps)),
        Notes(say("Why each step"), tuple(step["why"] for step in steps), folded=True),
    )


def still(given: Known, facts: Known) -> tuple[Block, ...]:
    """How long a glued joint of this run must not be moved, while that is so."""
    made, minutes, now = (facts.get(name) for name in ("weld.made_at", "weld.set_minutes", "now"))
    if not (made and minutes and now):
        return ()
    moment = read_moment(str(made), field="weld.made_at")
    until = moment.after(float(minutes))
    if until is None:
        return ()
    if datetime.fromisoformat(until) <= datetime.fromisoformat(str(now)):
        return ()
    over = say("It has set: handle it with care.")
    return (Clock(say("Leave it still until"), until, over),)


def _line(step: Known) -> Text:
    seconds = step.get("seconds")
    if seconds is None:
        return as_text(step["do"])
    return say("{what} ({time})", what=step["do"], time=Figure(seconds, "s"))
