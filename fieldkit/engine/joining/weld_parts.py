"""What one cemented joint is made with: cement, depth, hold and the steps in order."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from fieldkit.engine.joining.cement import METRIC_MM, nominal_in
from fieldkit.engine.problems import OutOfRange, Refused
from fieldkit.engine.words import Figure, Text, say
from fieldkit.tables.joining import (
    CementChoice,
    JointsPerQuart,
    cement_choices,
    joints_per_quart,
    sockets,
)
from fieldkit.tables.pipes import nominal_inches

#: Hold against push-out: twice as long in the colder bands. Published range 15 to 60 s.
HOLD_SECONDS, HOLD_SECONDS_COLD, HOLD_COLD_UP_TO_F = 30.0, 60.0, 60.0

#: Once cement is on, so long to close the joint; less in heat.
CLOSE_WITHIN_SECONDS = 20.0

#: Walls that only a heavy cement may fill.
HEAVY_WALLS = frozenset({"Sch 80", "Sch 120"})

#: Pipe classes that PVC pressure pipe comes in.
PVC_CLASSES = (
    "Sch 40",
    "Sch 80",
    "Sch 120",
    "SDR 13.5",
    "SDR 17",
    "SDR 21",
    "SDR 26",
    "SDR 32.5",
    "SDR 41",
    "SDR 64",
)

#: Classes of metric PVC pressure pipe, all of them thin beside Sch 80.
METRIC_CLASSES = ("PN 6", "PN 8", "PN 10", "PN 12", "PN 12.5", "PN 15", "PN 16", "PN 18")


@dataclass(frozen=True, slots=True)
class Do:
    """One thing to do, how long it takes or lasts where that matters, and why."""

    do: Text
    seconds: float | None
    why: Text


def refuse_material(material: str, field: str = "pipe.material") -> None:
    """Stop when the pipe is not PVC: no answer may make such a joint look possible.

    Raises
    ------
    Refused
        Polyethylene, CPVC, ABS, metal, or anything but PVC.
    """
    if material in {"", "pvc"}:
        return
    if material in {"pe", "drip", "pe4710", "pex"}:
        raise Refused(
            field,
            material,
            say("Cement does not bond polyethylene: it is not made to soften it."),
            say("Use a barbed, ring or threaded-collar fitting on the tubing instead."),
        )
    if material == "cpvc":
        raise Refused(
            field,
            material,
            say("CPVC needs CPVC cement and fittings: what is listed here is for PVC."),
            say(
                "Glue a CPVC adapter with a pipe thread on it, as the CPVC cement’s own"
                " instructions say, and begin here at that thread."
            ),
        )
    raise Refused(
        field,
        material,
        say("What is listed here is for rigid PVC only."),
        say("Use a fitting made to change between the two materials."),
    )


def cement_choice(
    nominal: str, pipe_class: str, *, fills: bool = False
) -> tuple[CementChoice, ...]:
    """The bodies of cement that may be used, the lightest first.

    A heavier body is always allowed, a lighter one never. A class that is not known is taken as
    the thickest wall. A loose dry fit (``fills``) takes one body heavier.

    Parameters
    ----------
    nominal : str
        Trade size, up to 30 in.
    pipe_class : str
        ``Sch 40``, ``SDR 21``, …; empty when not known.
    fills : bool
        Whether the cement has a gap to fill.

    Returns
    -------
    tuple of CementChoice
        Rows of the table, never empty.

    Raises
    ------
    OutOfRange
        Too large for any row.

    Source
    ------
    cement-body-article; astm-d2564 from memory for thick walls.

    Examples
    --------
    >>> [row.body for row in cement_choice("2", "Sch 40")]
    ['regular', 'medium', 'heavy', 'extra heavy']
    """
    wall = "heavy" if not pipe_class or pipe_class in HEAVY_WALLS else "light"
    size_in = nominal_in(nominal)
    allowed = tuple(r for r in cement_choices() if r.wall == wall and size_in <= r.up_to_in)
    if not allowed:
        raise OutOfRange(
            "pipe.nominal",
            nominal,
            say("No cement is listed for size {given}.", given=nominal),
            say("Ask the cement’s maker."),
        )
    return allowed[1:] if fills and len(allowed) > 1 else allowed


def quart_row(nominal: str) -> JointsPerQuart:
    """The row of joints per quart: a size between two rows takes the larger one's.

    Parameters
    ----------
    nominal : str
        Trade size, up to 18 in.

    Returns
    -------
    JointsPerQuart
        Cement joints and the factor for primer. [1]

    Raises
    ------
    OutOfRange
        Larger than the table.

    Source
    ------
    cement-guide-b; between rows fieldkit-rule, the side that buys more.

    Examples
    --------
    >>> quart_row("1/2").cement_joints, quart_row("1-1/4").cement_joints
    (300.0, 90.0)
    """
    size_in = nominal_in(nominal)
    for row in joints_per_quart():
        if size_in <= row.size_in:
            return row
    raise OutOfRange(
        "pipe.nominal",
        nominal,
        say("Joints per quart are not listed for size {given}.", given=nominal),
        say("Ask the cement’s maker."),
    )


class Depth(NamedTuple):
    """Least depth of a socket, the outside of its pipe, and where the depth rests. [in]"""

    depth_in: float
    pipe_od_in: float
    source: str
    status: str


def insert_depth_in(nominal: str, pipe_class: str) -> Depth | None:
    """Least depth of the socket that goes with the pipe, or None where the table has no size.

    Metric sockets: half the outside and 6 mm, 12 mm at least.

    Parameters
    ----------
    nominal : str
        Trade size.
    pipe_class : str
        Thick walls take Sch 80 fittings, all others Sch 40.

    Returns
    -------
    Depth or None
        With its source. [in]

    Source
    ------
    astm-d2466; Sch 80 by astm-d2467, metric by iso-1452-3, both from memory.

    Examples
    --------
    >>> insert_depth_in("1/2", "Sch 40")[0], insert_depth_in("6", "Sch 40")
    (0.688, None)
    """
    if nominal in METRIC_MM:
        outside = nominal_inches(nominal)
        depth = max(12 / 25.4, outside / 2 + 6 / 25.4)
        return Depth(depth, outside, "iso-1452-3", "from memory")
    socket = sockets().get(nominal)
    if socket is None:
        return None
    if pipe_class in HEAVY_WALLS:
        return Depth(socket.depth_sch80_in, socket.pipe_od_in, "astm-d2467", socket.status)
    return Depth(socket.depth_sch40_in, socket.pipe_od_in, socket.source, socket.status)


def hold_seconds(temperature_f: float) -> float:
    """How long to hold a joint against push-out after it is closed.

    Parameters
    ----------
    temperature_f : float
        Temperature of the parts; 60 itself counts as cold, as in the schedules. [°F]

    Returns
    -------
    float
        30, or 60 in the colder bands. [s]

    Source
    ------
    fieldkit-rule within the published 15 s to 60 s. Status: secondary.

    Examples
    --------
    >>> hold_seconds(70.0), hold_seconds(50.0)
    (30.0, 60.0)
    """
    return HOLD_SECONDS_COLD if temperature_f <= HOLD_COLD_UP_TO_F else HOLD_SECONDS


@lru_cache(maxsize=64)
def weld_steps(
    nominal: str, depth_in: float | None, hold_s: float, one_step: bool
) -> tuple[Do, ...]:
    """The steps of one joint in order, each with its reason."""
    mark = (
        say("Mark the socket’s depth on the pipe: {d} or more.", d=Figure(depth_in, "in", 3))
        if depth_in is not None
        else say("Measure the socket’s depth and mark it on the pipe.")
    )
    prime = (
        Do(
            say("No primer with a one-step cement: wipe both parts clean and dry."),
            None,
            say("The cement does both jobs, if its label says so."),
        )
        if one_step
        else Do(
            say("Prime the socket, then the pipe, then the socket again, and keep it wet."),
            None,
            say("Primer softens the surface; a scraped edge should lift a film."),
        )
    )
    return (
        Do(say("Cut the {n} in pipe square.", n=nominal), None, say("A slant leaves a gap.")),
        Do(
            say("Take off the burr inside and out, and bevel the outer edge."),
            None,
            say("A sharp edge scrapes the cement off the socket."),
        ),
        Do(say("Wipe both parts dry."), None, say("Water and dirt keep cement from bonding.")),
        Do(
            say("Push them together dry: the pipe should stop a third to two thirds in."),
            None,
            say("The taper must grip, or cement has a gap to fill."),
        ),
        Do(mark, None, say("The mark shows that the pipe is home.")),
        prime,
        Do(
            say("Cement: a full coat on pipe, a thin one in the socket, a second on the pipe."),
            None,
            say("The pipe needs most; a puddle in the socket eats thin parts."),
        ),
        Do(
            say("Push to the bottom with a quarter turn, at once. Do not turn it after that."),
            CLOSE_WITHIN_SECONDS,
            say("The turn spreads the cement; in heat it skins over sooner."),
        ),
        Do(say("Hold it still."), hold_s, say("The taper pushes the pipe back out.")),
        Do(
            say("Look for an even bead all round, then wipe off the rest."),
            None,
            say("A gap in the bead is a dry spot."),
        ),
        Do(say("Leave it alone until it has set."), None, say("A moved weld does not heal.")),
        Do(
            say("Count the wait before pressure from the last joint closed."),
            None,
            say("The youngest joint is the weakest."),
        ),
    )
