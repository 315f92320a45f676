"""Lays out the acts of making a joint: what to do in order, and why each, folded away."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.flows.step import Known, Notes, Steps


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
        Notes("Why each step", tuple(step["why"] for step in steps), folded=True),
    )


def _line(step: Known) -> str:
    seconds = step.get("seconds")
    return step["do"] if seconds is None else f"{step['do']} ({seconds:.0f} s)"
