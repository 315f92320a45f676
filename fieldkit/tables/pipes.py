"""Pipe and tubing that turn up at a poly-to-PVC irrigation joint, one row a product.

Diameters and walls are inches at 73 °F. A size with its ``minus`` and ``plus`` spans what may be
sold under that name: ``wall_in`` of a standard is its minimum, so ``wall_minus_in`` is 0 there,
and ``bore_in`` of pipe sized by its outside is the middle of what the wall's tolerance leaves.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from itertools import pairwise

from fieldkit.tables.load import BadTable, load
from fieldkit.tables.materials import materials

#: Every family that a row may belong to.
FAMILIES = (
    "ips-pvc",
    "cts-cpvc",
    "cts-pex",
    "cts-pe",
    "cts-pvc",
    "cts-copper",
    "sidr-pe",
    "ips-pe",
    "metric-pvc",
    "metric-pe",
    "metric-lateral",
    "drip",
    "micro",
    "swing",
    "conduit",
    "sewer",
    "hose",
    "rural-pe",
    "gas-pe-ips",
    "gas-pe-cts",
    "drain",
    "drain-foam",
    "drain-thin",
    "abs",
    "cpvc-ips",
    "as-pvc",
    "bs-pvc",
    "jis-pvc",
    "cts-pb",
    "pexal",
)

#: Where a product is sold: North America, Oceania, anywhere that works in mm, or everywhere.
REGIONS = ("na", "oceania", "metric", "any")

#: Which cement bonds it: only rigid PVC and CPVC of water pipe have one.
CEMENTS = ("pvc", "cpvc", "none")

#: Families whose outside need not rise with the trade size: that name means little there.
_NAMED_LOOSELY = ("drip", "micro", "swing", "hose")


@dataclass(frozen=True, slots=True)
class Pipe:
    """One product. ``share`` weighs how often it turns up at such a joint: a judgement."""

    id: str
    family: str
    family_name: str
    standard: str
    nominal: str
    pipe_class: str
    material: str
    rigid: bool
    od_in: float
    od_minus_in: float
    od_plus_in: float
    oor_max_in: float | None
    wall_in: float | None
    wall_minus_in: float | None
    wall_plus_in: float | None
    bore_in: float | None
    bore_minus_in: float | None
    bore_plus_in: float | None
    sized_by: str
    rating_psi: float | None
    cement: str
    region: str
    share: float
    source: str
    status: str
    unverified: tuple[str, ...]
    note: str

    @property
    def name(self) -> str:
        """The row in words, such as ``1/2 in. Sch 40 rigid PVC pipe``."""
        size = self.nominal if self.nominal.endswith("mm") else f"{self.nominal} in."
        if self.family in {"drip", "micro", "swing"}:
            return f"{size} {self.family_name}, {self.od_in:.3f} × {self.bore_in:.3f}"
        return " ".join(part for part in (size, self.pipe_class, self.family_name) if part)

    @property
    def nominal_in(self) -> float:
        """The trade size as a number of inches, for putting sizes in order."""
        return nominal_inches(self.nominal)


TABLES: dict[str, type] = {"pipes": Pipe}


@lru_cache(maxsize=128)  # a few dozen sizes are asked for again and again
def nominal_inches(nominal: str) -> float:
    """A trade size as inches.

    Examples
    --------
    >>> nominal_inches("1-1/4"), nominal_inches("25.4 mm")
    (1.25, 1.0)
    """
    if nominal.endswith("mm"):
        return float(Fraction(nominal.removesuffix("mm").strip()) / Fraction("25.4"))
    return float(sum(Fraction(part) for part in nominal.split("-")))


@cache
def pipes() -> dict[str, Pipe]:
    """All pipe and tubing by id."""
    return {row.id: row for row in load("pipes", Pipe)}


@cache
def ips_pvc() -> dict[tuple[str, str], Pipe]:
    """Rigid PVC pressure pipe on iron-pipe sizes, by (nominal, pipe class)."""
    return {(p.nominal, p.pipe_class): p for p in pipes().values() if p.family == "ips-pvc"}


def check() -> None:
    """The rules that reach across cells and rows.

    Raises
    ------
    BadTable
        The first row that breaks one.
    """
    rows = load("pipes", Pipe)
    seen: set[object] = set()
    for line, row in enumerate(rows, start=2):
        told_by = (row.family, row.standard, row.nominal, row.pipe_class, row.material, row.od_in,
                   row.wall_in, row.bore_in)  # fmt: skip
        if row.id in seen or told_by in seen:
            raise BadTable("pipes", line, "id", row.id, "stands twice, or nothing tells it apart")
        seen |= {row.id, told_by}
        _check_words(line, row)
        _check_sizes(line, row)
    _check_series(rows)


def _check_words(line: int, row: Pipe) -> None:
    lists: dict[str, tuple[str, ...]] = {
        "family": FAMILIES,
        "region": REGIONS,
        "cement": CEMENTS,
        "sized_by": ("OD", "ID"),
        "material": tuple(materials()),
    }
    for column, allowed in lists.items():
        value = getattr(row, column)
        if value not in allowed:
            raise BadTable("pipes", line, column, value, f"must be one of {allowed}")
    strangers = [name for name in row.unverified if name not in Pipe.__slots__]
    if strangers:
        raise BadTable("pipes", line, "unverified", strangers, "are not columns")


def _check_sizes(line: int, row: Pipe) -> None:
    wall, bore = row.wall_in, row.bore_in
    low, high = _bores_left(row)
    rules = [
        (row.share > 0, "share", "must be above 0"),
        (
            min(row.od_minus_in, row.od_plus_in) >= 0,
            "od_minus_in",
            "and od_plus_in must be 0 or more",
        ),
        *_trio_rules("wall_in", (wall, row.wall_minus_in, row.wall_plus_in)),
        *_trio_rules("bore_in", (bore, row.bore_minus_in, row.bore_plus_in)),
        (wall is not None or bore is not None, "wall_in", "or bore_in must be given"),
        (
            wall is None or 0 < wall < row.od_in / 2,
            "wall_in",
            "must be above 0, under half the outside",
        ),
        (bore is None or 0 < bore < row.od_in, "bore_in", "must be above 0, under the outside"),
        (
            bore is None or low <= bore <= high,
            "bore_in",
            f"is not left by outside and wall: {low:.3f} to {high:.3f}",
        ),
    ]
    for holds, column, rule in rules:
        if not holds:
            raise BadTable("pipes", line, column, getattr(row, column), rule)


def _trio_rules(column: str, trio: tuple[float | None, ...]) -> list[tuple[bool, str, str]]:
    """What a size, its minus and its plus must keep."""
    given = [one for one in trio if one is not None]
    whole = len(given) in (0, len(trio))
    return [
        (whole, column, "needs its minus and plus, or none of the three"),
        (min(given, default=0) >= 0, column, "and its tolerances must be 0 or more"),
    ]


def _bores_left(row: Pipe) -> tuple[float, float]:
    """The bores that outside and wall leave within their tolerances, to half a thousandth."""
    if row.wall_in is None or row.wall_minus_in is None or row.wall_plus_in is None:
        return 0.0, row.od_in
    low = row.od_in - row.od_minus_in - 2 * (row.wall_in + row.wall_plus_in)
    high = row.od_in + row.od_plus_in - 2 * (row.wall_in - row.wall_minus_in)
    return low - 0.0005, high + 0.0005


def _check_series(rows: tuple[Pipe, ...]) -> None:
    """In a series of one family and class, outside rises with the trade size, each once."""
    series: dict[tuple[str, str], list[tuple[float, float, int]]] = {}
    for line, row in enumerate(rows, start=2):
        if row.family not in _NAMED_LOOSELY:
            key = (row.family, row.pipe_class)
            series.setdefault(key, []).append((row.nominal_in, row.od_in, line))
    for members in series.values():
        for (size, od, _), (next_size, next_od, line) in pairwise(sorted(members)):
            if size == next_size:
                raise BadTable("pipes", line, "nominal", next_size, "stands twice in its series")
            if od >= next_od:
                raise BadTable("pipes", line, "od_in", next_od, "must rise with the trade size")
