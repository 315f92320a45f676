"""What several flows ask of pipe and tubing in the same words, made from the pipe table."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from fieldkit.engine.words import Figure, say
from fieldkit.flows.measures import bare
from fieldkit.flows.question import Choice, Option, Quantity, Step
from fieldkit.tables.pipes import ips_pvc, nominal_inches


@cache
def size_options(*sizes: str) -> tuple[Option, ...]:
    """Trade sizes of rigid PVC pipe to pick from, each with the outside that a caliper shows.

    A pipe thread has the outside of its pipe (ASME B1.20.1), so these serve threads too.

    Parameters
    ----------
    *sizes : str
        Trade sizes, as ``pipes.csv`` writes them; none for every size listed.

    Examples
    --------
    >>> [(one.value, one.trade) for one in size_options("1/2", "1")]
    [('1/2', '0.840 in outside'), ('1', '1.315 in outside')]
    """
    outsides = {nominal: row.od_in for (nominal, _), row in ips_pvc().items()}
    return tuple(
        Option(
            size,
            say("{size} in.", size=size),
            say("{od} outside", od=Figure(outsides[size], "in", 3)) if size in outsides else "",
        )
        for size in sizes or sorted(outsides, key=nominal_inches)
    )


@cache
def class_options(*classes: str) -> tuple[Option, ...]:
    """Walls of rigid PVC pipe to pick from: in plain words, with what is printed on the pipe.

    Parameters
    ----------
    *classes : str
        Classes, as ``pipes.csv`` writes them; none for every class listed.

    Examples
    --------
    >>> [(str(one.label), one.trade) for one in class_options("Sch 80", "SDR 21")]
    [('Thick wall, often gray', 'Sch 80'), ('Printed Class 200', 'SDR 21')]
    """
    listed = dict.fromkeys(kind for _, kind in ips_pvc())
    return tuple(Option(kind, _class_words(kind), kind) for kind in classes or listed)


def _class_words(kind: str) -> str:
    if kind == "Sch 40":
        return say("Common wall, most white pipe")
    if kind == "Sch 80":
        return say("Thick wall, often gray")
    # An SDR has one rating in every size, and that is the number of its class.
    rating = next(row.rating_psi for (_, one), row in ips_pvc().items() if one == kind)
    return say("Printed Class {rating}", rating=Figure(rating or 0.0))


#: What a riser may end in; the flows put the likeliest first.
_TOPS = {
    "pipe": Option("pipe", "A plain pipe end", "plain end"),
    "npt-male": Option("npt-male", "A thread on the outside", "male pipe thread"),
    "npt-female": Option("npt-female", "A thread on the inside", "female pipe thread"),
    "socket": Option("socket", "A smooth cup for pipe", "solvent socket"),
}


def riser_top(order: Iterable[str]) -> Step:
    """Asks what a riser ends in, the options in that order."""
    return Step(
        "start",
        "What is at the top of the riser?",
        Choice(tuple(_TOPS[top] for top in order)),
        trade="end of the riser",
        why="A thread takes an adapter without cement.",
        short="Top of the riser",
    )


TUBE_OD = Step(
    "tube_od",
    "How far across is the outside of the tubing?",
    Quantity(
        "in", at_least=0.1, at_most=4.0, common=("0.620", "0.700", "0.710", "0.940"), outside=True
    ),
    trade="outside diameter, OD",
    why=say(
        "Tubing sold as half-inch runs from {low} to {high}. A ring takes one size only.",
        low=bare(0.62, "in", 3),
        high=Figure(0.742, "in", 3),
    ),
    hint="Use a caliper on a clean, round end. Do not squeeze.",
    fact="tube.od_in",
    sources=("drip-market",),
    short="Outside",
)
