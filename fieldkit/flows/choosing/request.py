"""A request for a transition, read strictly: the rigid side, the tubing, what is wanted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from fieldkit.engine.choosing.fit import Tube
from fieldkit.engine.choosing.rules import WANTS, Need
from fieldkit.engine.choosing.transition import Transition, transition
from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.flows.choosing.prices import demo_prices, read_price
from fieldkit.flows.trade_names import material_named
from fieldkit.tables.fittings import fittings
from fieldkit.tables.pipes import Pipe, ips_pvc, pipes
from fieldkit.typed.answers import read_choice
from fieldkit.typed.given import kept, shown
from fieldkit.typed.request import Request

PLACES = ("end", "inline", "riser")
STARTS = ("pipe", "socket", "npt-male", "npt-female", "hose-male", "hose-female")

#: Families of pipe, by a word that people put where the class goes.
_OTHER_PIPE = {
    "cts": "cts-cpvc",
    "cpvc": "cts-cpvc",
    "copper": "cts-copper",
    "pex": "cts-pex",
}


def ask_transition(request: Request) -> Transition:
    """Read the request and find the assemblies."""
    start = request.choice("start", STARTS, default="pipe") or "pipe"
    static = request.quantity("pressure", "psi", at_least=0.0, at_most=2000.0)
    surge = request.quantity("surge", "psi", at_least=0.0, at_most=2000.0)
    prices, illustrative = read_prices(request.raw("prices"), request.field("prices"))
    need = Need(
        nominal="1/2",
        tube=_tube(request.child("tubing")),
        place=request.choice("place", PLACES, default="end") or "end",
        branches=request.whole("branches", default=1, at_least=1, at_most=2) or 1,
        valve=bool(request.flag("valve", default=False)),
        count=request.whole("count", default=1, at_least=1, at_most=100_000) or 1,
        pressure_psi=None if static is None else static + (surge or 0.0),
        surge_psi=surge,
        temperature_f=request.quantity("temperature", "°F", at_least=-40.0),
        cure_temperature_f=request.quantity("cure_temperature", "°F"),
        humidity_pct=request.quantity("humidity", "%", at_least=0.0, at_most=100.0),
        wants=_wants(request),
        prices=prices,
        prices_illustrative=illustrative,
        start=start,
        start_metal=request.choice("start_material", ("metal", "plastic"), default="") == "metal",
        only=_parts_to_hand(request),
        labour_per_hour=_dollars(request, "labour_per_hour"),
        wait_cost=_dollars(request, "wait_cost"),
    )
    if need.place == "inline" and start != "pipe":
        raise Problem(
            "start",
            start,
            say("A cut into the run begins at two ends of pipe."),
            say("Leave start out, or give place as end or riser."),
        )
    pipe = request.child("pvc")
    return transition(replace(_with_pipe(need, pipe), pipe_material=_material_of(pipe)))


def _material_of(pipe: Request) -> str:
    """What the rigid pipe is of: as it is named, else by its family in our tables."""
    named, family = pipe.text("material", limit=60), pipe.text("family", limit=60)
    row = next((row for row in pipes().values() if row.family == family), None)
    return material_named(named) if named or row is None else row.material


def _tube(request: Request) -> Tube:
    od = request.quantity("od", "in", at_least=0.1, at_most=4.0)
    bore = request.quantity("bore", "in", at_least=0.05, at_most=4.0)
    wall = request.quantity("wall", "in", at_least=0.01, at_most=1.0)
    half_inch = bool(request.flag("half_inch", default=False))
    if od is None and bore is not None and wall is not None:
        od = bore + 2 * wall
    if bore is None and od is not None and wall is not None:
        bore = od - 2 * wall
    tube = checked_tube(od, bore, half_inch, request.field("od"), request.field("bore"))
    return replace(tube, family=_tube_family(request))


def _tube_family(request: Request) -> str:
    """The family of copper tube size, where any of the tube's own words says so."""
    words = " ".join(
        request.text(key, limit=80).casefold() for key in ("family", "material", "class")
    )
    if "pex" in words:
        return "cts-pex"
    return "cts-pe" if "cts" in words else ""


def checked_tube(
    od_in: float | None, bore_in: float | None, half_inch: bool, od_field: str, bore_field: str
) -> Tube:
    """The tubing, its two diameters held against each other.

    Raises
    ------
    Problem
        Nothing is known of it, or the bore is not under the outside.
    """
    if od_in is None and bore_in is None:
        if half_inch:
            return Tube(None, None, half_inch=True)
        raise Problem(
            od_field,
            None,
            say("Nothing is known of the tubing."),
            say(
                "Measure across its outside, such as {example}: half-inch tubes differ.",
                example=Figure(0.7, "in", 3),
            ),
        )
    if od_in is not None and bore_in is not None and not 0 < bore_in < od_in:
        raise Problem(
            bore_field,
            bore_in,
            say("The bore is not smaller than the outside."),
            say("Measure both again, on a clean cut end."),
        )
    return Tube(od_in, bore_in)


def _with_pipe(need: Need, request: Request) -> Need:
    """Put the rigid side into the request. Pipe that is not iron-pipe size keeps its outside."""
    od = request.quantity("od", "in", at_least=0.1, at_most=20.0)
    named = str(request.raw("class") or "").strip().casefold()
    nominal = request.nominal("nominal")
    if nominal is None:
        raise request.missing("nominal", "1/2")
    family = next((f for word, f in _OTHER_PIPE.items() if word in named), None)
    if family is not None or nominal.endswith("mm"):
        return replace(need, **_other_pipe(nominal, family, od))
    pipe_class = request.pipe_class("class")
    if pipe_class is not None or need.start == "pipe":
        rigid_pvc(
            nominal, pipe_class or "Sch 40", request.field("nominal").removesuffix(".nominal")
        )
    return replace(
        need,
        nominal=nominal,
        pipe_class=pipe_class or "Sch 40",
        class_assumed=pipe_class is None,
        pipe_od_in=od,
    )


def _other_pipe(nominal: str, family: str | None, od_in: float | None) -> dict[str, Any]:
    """The nearest iron-pipe size, and the outside that tells it is not that."""
    if od_in is None and family is not None:
        rows = (row for row in pipes().values() if row.family == family)
        od_in = next((row.od_in for row in rows if row.nominal == nominal), None)
    if od_in is None and nominal.endswith("mm"):
        od_in = float(nominal.removesuffix("mm")) / 25.4
    if od_in is None:
        raise Problem(
            "pvc.nominal",
            nominal,
            say("This pipe is not iron-pipe size, and its outside is not in our tables."),
            say("Measure across it and send that as od, such as 0.625 in."),
        )
    if not nominal.endswith("mm"):
        return {"nominal": nominal, "pipe_od_in": od_in}
    return {"nominal": nearest_iron_size(od_in), "pipe_od_in": od_in}


def nearest_iron_size(od_in: float) -> str:
    """The iron-pipe size whose outside comes nearest.

    Examples
    --------
    >>> nearest_iron_size(25 / 25.4)
    '3/4'
    """
    rows: list[Pipe] = list(ips_pvc().values())
    return min(rows, key=lambda row: abs(row.od_in - od_in)).nominal


def _wants(request: Request) -> frozenset[str]:
    """What is wanted: an object of yes and no, or a list of names."""
    given = request.raw("wants")
    if isinstance(given, str):
        given = [given] if given else []
    if isinstance(given, list | tuple):
        return frozenset(read_choice(one, tuple(WANTS), field="wants") for one in given)
    wants = request.child("wants")
    return frozenset(one for one in WANTS if wants.flag(one, default=False))


def _parts_to_hand(request: Request) -> frozenset[str] | None:
    given = request.raw("parts_to_hand")
    if given in (None, "", []):
        return None
    if not isinstance(given, list | tuple) or not all(isinstance(one, str) for one in given):
        raise Problem(
            "parts_to_hand",
            kept(given),
            say("This is not a list of part ids."),
            say('Send a list, such as ["coupling_0500"].'),
        )
    unknown = [one for one in given if one not in fittings()]
    if unknown:
        raise Problem(
            "parts_to_hand",
            kept(unknown[0]),
            say("“{part}” is not a part in our list.", part=shown(unknown[0])),
            say("Take ids from the table of fittings."),
        )
    return frozenset(given)


def _dollars(request: Request, key: str) -> float:
    given = request.raw(key)
    return 0.0 if given in (None, "") else read_price(given, field=request.field(key))


def read_prices(given: object, field: str) -> tuple[dict[str, float] | None, bool]:
    """Prices by part id, and whether they are the demo's: an object, ``"demo"``, or nothing.

    Raises
    ------
    Problem
        It is neither, or a price in it cannot be read.
    """
    if given in (None, "", {}):
        return None, False
    if isinstance(given, str) and given.strip().casefold() == "demo":
        return demo_prices(), True
    if isinstance(given, Mapping):
        priced = {k: v for k, v in given.items() if v not in (None, "")}
        return {
            str(k): read_price(v, field=f"{field}.{str(k)[:40]}") for k, v in priced.items()
        }, False
    raise Problem(
        field,
        kept(given),
        say("This is not a price list."),
        say('Send an object of part ids and prices, or "demo".'),
    )
