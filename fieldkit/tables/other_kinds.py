"""Kinds of pipe that PVC pressure pipe must not be taken for, and the print that tells them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.cautions import cautions
from fieldkit.tables.load import BadTable, load
from fieldkit.tables.pipes import FAMILIES, Pipe, pipes

#: What a kind means for the work: gas stops it; pipe without a pressure rating and pipe that no
#: fitting here is made for take no joint; the others are only told by name. The gravest first.
EFFECTS = ("gas", "no pressure", "no joint", "name")


@dataclass(frozen=True, slots=True)
class OtherKind:
    """One kind. ``marks`` are words of its print line; one of ``unless`` speaks against them."""

    id: str
    name: str
    effect: str
    families: tuple[str, ...]
    marks: tuple[str, ...]
    unless: tuple[str, ...]
    cautions: tuple[str, ...]
    source: str
    status: str
    note: str

    @property
    def takes_no_joint(self) -> bool:
        """Whether nothing here may be joined to it."""
        return self.effect != "name"


TABLES: dict[str, type] = {"other_kinds": OtherKind}


@cache
def other_kinds() -> dict[str, OtherKind]:
    """All kinds by id, the gravest effect first, then in the table's order."""
    rows = load("other_kinds", OtherKind)
    return {row.id: row for row in sorted(rows, key=lambda row: EFFECTS.index(row.effect))}


@cache
def kind_of_family(family: str) -> OtherKind | None:
    """The kind that a family of the pipe table is, where nothing may be joined to it.

    Examples
    --------
    >>> kind_of_family("conduit").effect, kind_of_family("ips-pvc")
    ('no pressure', None)
    """
    found = (one for one in other_kinds().values() if one.takes_no_joint)
    return next((one for one in found if family in one.families), None)


@cache
def water_pipes() -> tuple[Pipe, ...]:
    """The rows of the pipe table that a joint may be made to, in the table's order."""
    return tuple(row for row in pipes().values() if kind_of_family(row.family) is None)


def check() -> None:
    """Effects, families and cautions are known ones."""
    for line, row in enumerate(load("other_kinds", OtherKind), start=2):
        if row.effect not in EFFECTS:
            raise BadTable("other_kinds", line, "effect", row.effect, f"must be one of {EFFECTS}")
        for column, known in (("families", set(FAMILIES)), ("cautions", set(cautions()))):
            strangers = set(getattr(row, column)) - known
            if strangers:
                raise BadTable("other_kinds", line, column, strangers, "are not known")
        if not row.marks:
            raise BadTable("other_kinds", line, "marks", row.marks, "must not be empty")
