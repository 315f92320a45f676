"""The pocket tables: what somebody just wants to look up, as plain columns and rows.

Each is made from the same rows and the same functions as the calculations use, so a look-up
and an answer can never differ.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from fieldkit.engine.joining.cement import Scheduled, cure_time, set_time
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Sourced
from fieldkit.flows.figures import amount, number, span
from fieldkit.flows.measures import UnitName, bare
from fieldkit.tables.cautions import cautions
from fieldkit.tables.fittings import fit_windows, joints
from fieldkit.tables.joining import sockets
from fieldkit.tables.materials import heat_factors
from fieldkit.tables.other_kinds import water_pipes
from fieldkit.tables.pipes import Pipe
from fieldkit.tables.threads import taper_threads

#: One temperature inside each band of the set and cure tables, and its ends. [°F]
BANDS = ((80.0, 60.0, 100.0), (50.0, 40.0, 60.0), (20.0, 0.0, 40.0))

#: The temperature that ratings hold at, and the head of a column of them.
COLD = Figure(73.0, "°F")
RATINGS = say("{unit} at {heat}", unit=UnitName("psi"), heat=COLD)

#: Sizes that the set and cure tables treat alike are shown by one of them.
WELD_SIZES = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4")

Row = TypeVar("Row", bound=Sourced)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One pocket table: its columns, its rows, and where they rest (source id, status).

    ``parts`` are (heading, rows); a table of one part has an empty heading.
    """

    id: str
    title: str
    trade: str
    about: str
    columns: tuple[str, ...]
    parts: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    rests_on: tuple[tuple[str, str], ...]


def _rests(rows: Iterable[Sourced]) -> tuple[tuple[str, str], ...]:
    return tuple(dict.fromkeys((row.source, row.status) for row in rows))


def _sheet(
    sheet_id: str,
    title: Text,
    trade: Text,
    about: Text,
    columns: tuple[str, ...],
    *,
    rows: Iterable[Row],
    cells: Callable[[Row], tuple[str, ...]],
) -> Sheet:
    """A table of one part, a row of ours a row."""
    listed = tuple(rows)
    parts = (("", tuple(map(cells, listed))),)
    return Sheet(sheet_id, title, trade, about, columns, parts, _rests(listed))


def _inches(value: float | None) -> str:
    return "–" if value is None else say("{size}", size=bare(value, "in", 3))


def _psi(value: float | None) -> str:
    return "–" if value is None else say("{pressure}", pressure=bare(value, "psi"))


def _in_inches(size: Text) -> Text:
    """The head of a column of sizes, with the unit of the figures below it."""
    return say("{size}, {unit}", size=size, unit=UnitName("in"))


def _what(row: Pipe) -> Text:
    if not row.pipe_class:
        return say("{family}", family=row.family_name)
    return say("{family} {pipe_class}", family=row.family_name, pipe_class=row.pipe_class)


def _pipe_rows(keep: Callable[[Pipe], bool]) -> list[Pipe]:
    return sorted((row for row in water_pipes() if keep(row)), key=lambda row: row.od_in)


def rigid_sizes() -> Sheet:
    """Outside diameters of rigid PVC, one row a size, with wall and rating of Sch 40."""
    return _sheet(
        "rigid-sizes",
        say("Rigid PVC pipe"),
        say("iron pipe size"),
        say(
            "Every schedule and class of one size has the same outside. Measure across the outside."
        ),
        (say("Size"), _in_inches(say("Outside")), _in_inches(say("Wall Sch 40")), RATINGS),
        rows=_pipe_rows(lambda row: row.family == "ips-pvc" and row.pipe_class == "Sch 40"),
        cells=lambda row: (
            row.nominal,
            _inches(row.od_in),
            _inches(row.wall_in),
            _psi(row.rating_psi),
        ),
    )


def flexible_sizes() -> Sheet:
    """Every tubing and flexible pipe in the table, thinnest first."""
    return _sheet(
        "tubing-sizes",
        say("Tubing and flexible pipe"),
        say("drip, micro, swing, SIDR, CTS, metric"),
        say(
            "“Half-inch” names tubes from {low} to {high} across. Only a measurement tells.",
            low=bare(0.62, "in", 3),
            high=Figure(0.742, "in", 3),
        ),
        (say("Sold as"), _in_inches(say("Outside")), _in_inches(say("Inside")), say("What it is")),
        rows=_pipe_rows(lambda row: not row.rigid and row.od_in < 1.7 and row.family != "hose"),
        cells=lambda row: (row.nominal, _inches(row.od_in), _inches(row.bore_in), _what(row)),
    )


def weld_times() -> Sheet:
    """Set and cure by size and temperature, the slower of the two schedules."""
    parts: list[tuple[str, tuple[tuple[str, ...], ...]]] = []
    rests: list[Sourced] = []
    for temperature_f, coldest, warmest in BANDS:
        alike: dict[tuple[str, ...], list[str]] = {}
        for size in WELD_SIZES:
            times: list[Scheduled[Any]] = [set_time(size, temperature_f, 50.0)]
            times.extend(cure_time(size, temperature_f, 50.0, psi) for psi in (160.0, 315.0))
            alike.setdefault(tuple(span(one.minutes) for one in times), []).append(size)
            rests.extend(row for one in times for row in one.rows)
        rows = tuple(
            (
                sizes[0]
                if len(sizes) == 1
                else say("{low} to {high}", low=sizes[0], high=sizes[-1]),
                *cells,
            )
            for cells, sizes in alike.items()
        )
        band = say("{low} to {high}", low=bare(coldest, "°F"), high=Figure(warmest, "°F"))
        parts.append((band, rows))
    return Sheet(
        "weld-times",
        say("Cement: wait before handling, wait before pressure"),
        say("initial set and cure"),
        say(
            "Take the coldest temperature while it cures. Over 60 % humidity: half again as long."
            " These are the slower of two published schedules."
        ),
        (
            say("Size, in"),
            say("To handle"),
            say("To {pressure}", pressure=Figure(160.0, "psi")),
            say("To {pressure}", pressure=Figure(315.0, "psi")),
        ),
        tuple(parts),
        _rests(rests),
    )


def thread_turns() -> Sheet:
    """NPT threads: turns by hand, and what a plastic joint adds."""
    sheet = _sheet(
        "threads",
        say("Tapered pipe threads"),
        say("NPT"),
        say(
            "Plastic: hand tight, then one turn or a little more: 1½ at most in ½ in, "
            "never past two. Tape winds clockwise."
        ),
        (say("Size"), say("Threads per inch"), _in_inches(say("Outside")), say("Turns by hand")),
        rows=taper_threads().values(),
        cells=lambda row: (
            row.size,
            number(row.tpi),
            _inches(row.major_od_in),
            amount(None if row.hand_length_in is None else row.hand_length_in * row.tpi),
        ),
    )
    return replace(sheet, rests_on=(*sheet.rests_on, ("astm-f1498", "secondary")))


def socket_depths() -> Sheet:
    """How deep a pipe goes into a socket."""
    return _sheet(
        "sockets",
        say("How deep the pipe goes in"),
        say("socket depth"),
        say(
            "Mark this depth on the pipe before priming. "
            "Dry, it should stop a third to two thirds in."
        ),
        (say("Size"), _in_inches(say("Sch 40")), _in_inches(say("Sch 80"))),
        rows=sockets().values(),
        cells=lambda row: (row.size, _inches(row.depth_sch40_in), _inches(row.depth_sch80_in)),
    )


def fitting_windows() -> Sheet:
    """What a ring, a barb or a locking nut takes."""
    return _sheet(
        "windows",
        say("Which tube fits which fitting"),
        say("fit windows"),
        say(
            "A ring takes one outside diameter. A barb takes one bore. A locking nut takes a range."
        ),
        (say("Fitting"), say("Measured on"), _in_inches(say("From")), _in_inches(say("To"))),
        rows=fit_windows().values(),
        cells=lambda row: (
            row.label,
            say("outside") if row.measure == "OD" else say("inside"),
            _inches(row.low_in),
            _inches(row.high_in),
        ),
    )


def joint_ceilings() -> Sheet:
    """What each kind of joint usually holds."""
    return _sheet(
        "ceilings",
        say("What a joint usually holds"),
        say("ceiling at {heat}", heat=COLD),
        say("Usual ceilings; the maker’s figure wins. In heat they fall: see the next table."),
        (say("Joint"), RATINGS, say("Why"), say("Undone by")),
        rows=joints().values(),
        cells=lambda row: (row.name, _psi(row.ceiling_psi), row.ceiling_note, row.undo),
    )


def heat_shares() -> Sheet:
    """How much strength is left in the heat."""
    names = {
        "pvc": say("PVC, drip tubing"),
        "pe3608": "PE 3408/3608",
        "pe4710": "PE 4710",
        "cpvc": "CPVC",
    }
    series = heat_factors()
    rows = tuple(
        (
            amount(row.temperature_f, "°F", 0),
            *(amount(series[key][i].factor, places=2) for key in series),
        )
        for i, row in enumerate(series["pvc"])
    )
    return Sheet(
        "heat",
        say("Strength left in the heat"),
        say("temperature derating"),
        say(
            "Between rows use the hotter one. Hotter than {limit}: not rated.",
            limit=Figure(140.0, "°F"),
        ),
        (say("Up to"), *(names[key] for key in series)),
        (("", rows),),
        _rests(row for rows in series.values() for row in rows),
    )


def care() -> Sheet:
    """All cautions."""
    return _sheet(
        "cautions",
        say("Take care"),
        say("cautions"),
        say("What has hurt people at this work."),
        (say("About"), say("What to do")),
        rows=cautions().values(),
        cells=lambda row: (row.trade_word, row.text),
    )


#: Every pocket table, in the order of the index.
SHEETS: dict[str, Callable[[], Sheet]] = {
    "rigid-sizes": rigid_sizes,
    "tubing-sizes": flexible_sizes,
    "windows": fitting_windows,
    "weld-times": weld_times,
    "sockets": socket_depths,
    "threads": thread_turns,
    "ceilings": joint_ceilings,
    "heat": heat_shares,
    "cautions": care,
}
