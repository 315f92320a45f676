"""The pocket tables: what somebody just wants to look up, as plain columns and rows.

Each is made from the same rows and the same functions as the calculations use, so a look-up
and an answer can never differ.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fieldkit.engine.joining.cement import CureTime, SetTime, cure_time, set_time
from fieldkit.engine.words import Span
from fieldkit.tables.cautions import cautions
from fieldkit.tables.fittings import fit_windows, joints
from fieldkit.tables.joining import sockets
from fieldkit.tables.materials import heat_factors
from fieldkit.tables.pipes import Pipe, pipes
from fieldkit.tables.threads import taper_threads

#: One temperature inside each band of the set and cure tables. [°F]
BANDS = ((80.0, "60 to 100 °F"), (50.0, "40 to 60 °F"), (20.0, "0 to 40 °F"))

#: Sizes that the set and cure tables treat alike are shown by one of them.
WELD_SIZES = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4")


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


def _rests(rows: list[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple(dict.fromkeys(rows))


def _whole(
    rows: tuple[tuple[str, ...], ...],
) -> tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]:
    return (("", rows),)


def _inches(value: float | None) -> str:
    return "–" if value is None else f"{value:.3f}"


def _pipe_rows(keep: Callable[[Pipe], bool]) -> list[Pipe]:
    return sorted((row for row in pipes().values() if keep(row)), key=lambda row: row.od_in)


def rigid_sizes() -> Sheet:
    """Outside diameters of rigid PVC, one row a size, with wall and rating of Sch 40."""
    rows = _pipe_rows(lambda row: row.family == "ips-pvc" and row.pipe_class == "Sch 40")
    return Sheet(
        "rigid-sizes",
        "Rigid PVC pipe",
        "iron pipe size",
        "Every schedule and class of one size has the same outside. Measure across the outside.",
        ("Size", "Outside, in", "Wall Sch 40, in", "psi at 73 °F"),
        _whole(
            tuple(
                (
                    row.nominal,
                    _inches(row.od_in),
                    _inches(row.wall_in),
                    "–" if row.rating_psi is None else f"{row.rating_psi:.0f}",
                )
                for row in rows
            )
        ),
        _rests([(row.source, row.status) for row in rows]),
    )


def flexible_sizes() -> Sheet:
    """Every tubing and flexible pipe in the table, thinnest first."""
    rows = _pipe_rows(lambda row: not row.rigid and row.od_in < 1.7 and row.family != "hose")
    return Sheet(
        "tubing-sizes",
        "Tubing and flexible pipe",
        "drip, micro, swing, SIDR, CTS, metric",
        "“Half-inch” names tubes from 0.620 to 0.742 in across. Only a measurement tells.",
        ("Sold as", "Outside, in", "Inside, in", "What it is"),
        _whole(
            tuple(
                (
                    row.nominal,
                    _inches(row.od_in),
                    _inches(row.bore_in),
                    f"{row.family_name} {row.pipe_class}".strip(),
                )
                for row in rows
            )
        ),
        _rests([(row.source, row.status) for row in rows]),
    )


def weld_times() -> Sheet:
    """Set and cure by size and temperature, the slower of the two schedules."""
    parts: list[tuple[str, tuple[tuple[str, ...], ...]]] = []
    rests: list[tuple[str, str]] = []
    for temperature_f, band in BANDS:
        alike: dict[tuple[str, ...], list[str]] = {}
        for size in WELD_SIZES:
            times: list[SetTime | CureTime] = [set_time(size, temperature_f, 50.0)]
            times.extend(cure_time(size, temperature_f, 50.0, psi) for psi in (160.0, 315.0))
            alike.setdefault(tuple(str(Span(one.minutes)) for one in times), []).append(size)
            rests.extend((row.source, row.status) for one in times for row in one.rows)
        rows = tuple(
            (sizes[0] if len(sizes) == 1 else f"{sizes[0]} to {sizes[-1]}", *cells)
            for cells, sizes in alike.items()
        )
        parts.append((band, rows))
    return Sheet(
        "weld-times",
        "Cement: wait before handling, wait before pressure",
        "initial set and cure",
        "Take the coldest temperature while it cures. Over 60 % humidity: half as long again."
        " These are the slower of two published schedules.",
        ("Size, in", "To handle", "To 160 psi", "To 315 psi"),
        tuple(parts),
        _rests(rests),
    )


def thread_turns() -> Sheet:
    """NPT threads: turns by hand, and what a plastic joint adds."""
    rows = list(taper_threads().values())
    return Sheet(
        "threads",
        "Tapered pipe threads",
        "NPT",
        "Plastic: hand tight, then one to two turns more. Never past two. Tape winds clockwise.",
        ("Size", "Threads per inch", "Outside, in", "Turns by hand"),
        _whole(
            tuple(
                (
                    row.size,
                    f"{row.tpi:g}",
                    _inches(row.major_od_in),
                    "–" if row.hand_length_in is None else f"{row.hand_length_in * row.tpi:.1f}",
                )
                for row in rows
            )
        ),
        _rests([(row.source, row.status) for row in rows] + [("astm-f1498", "secondary")]),
    )


def socket_depths() -> Sheet:
    """How deep a pipe goes into a socket."""
    rows = list(sockets().values())
    return Sheet(
        "sockets",
        "How deep the pipe goes in",
        "socket depth",
        "Mark this depth on the pipe before priming. Dry, it should stop a third to two thirds in.",
        ("Size", "Sch 40, in", "Sch 80, in"),
        _whole(
            tuple(
                (row.size, _inches(row.depth_sch40_in), _inches(row.depth_sch80_in)) for row in rows
            )
        ),
        _rests([(row.source, row.status) for row in rows]),
    )


def fitting_windows() -> Sheet:
    """What a ring, a barb or a locking nut takes."""
    rows = list(fit_windows().values())
    return Sheet(
        "windows",
        "Which tube fits which fitting",
        "fit windows",
        "A ring takes one outside diameter. A barb takes one bore. A locking nut takes a range.",
        ("Fitting", "Measured on", "From, in", "To, in"),
        _whole(
            tuple(
                (
                    row.label,
                    "outside" if row.measure == "OD" else "inside",
                    _inches(row.low_in),
                    _inches(row.high_in),
                )
                for row in rows
            )
        ),
        _rests([(row.source, row.status) for row in rows]),
    )


def joint_ceilings() -> Sheet:
    """What each kind of joint usually holds."""
    rows = list(joints().values())
    return Sheet(
        "ceilings",
        "What a joint usually holds",
        "ceiling at 73 °F",
        "Usual ceilings; the maker’s figure wins. In heat they fall: see the next table.",
        ("Joint", "psi at 73 °F", "Undone by"),
        _whole(tuple((row.name, f"{row.ceiling_psi:.0f}", row.undo) for row in rows)),
        _rests([(row.source, row.status) for row in rows]),
    )


def heat_shares() -> Sheet:
    """How much strength is left in the heat."""
    names = {"pvc": "PVC, drip tubing", "pe3608": "PE 3408/3608", "pe4710": "PE 4710"}
    series = heat_factors()
    grid = [row.temperature_f for row in series["pvc"]]
    return Sheet(
        "heat",
        "Strength left in the heat",
        "temperature derating",
        "Between rows use the hotter one. Hotter than 140 °F: not rated.",
        ("Up to", *(names[key] for key in series)),
        _whole(
            tuple(
                (
                    f"{temperature_f:.0f} °F",
                    *(f"{series[key][i].factor:.2f}" for key in series),
                )
                for i, temperature_f in enumerate(grid)
            )
        ),
        _rests([(row.source, row.status) for rows in series.values() for row in rows]),
    )


def care() -> Sheet:
    """All cautions."""
    rows = list(cautions().values())
    return Sheet(
        "cautions",
        "Take care",
        "cautions",
        "What has hurt people at this work.",
        ("About", "What to do"),
        _whole(tuple((row.trade_word, row.text) for row in rows)),
        _rests([(row.source, row.status) for row in rows]),
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
