"""Pipe drawn as it turns up, measured as a hand measures it, and named by the engine.

Sizes are drawn evenly within the tolerances of the row, which is drawn by its share. The caliper
has a zero, an error of its own and a scatter; the wall is warmer or colder than was said; the
tube is oval. So what comes out is held against the truth, not against the model that named it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from random import Random
from unittest.mock import patch

from fieldkit.engine.identifying import model, posterior, print_line, words
from fieldkit.engine.identifying.identify import Identified, identify
from fieldkit.engine.identifying.next_measurement import RIGID_MISJUDGED, SUCCEEDS, best_look
from fieldkit.engine.measuring.measure import WALLS, measure_with_caliper
from fieldkit.tables.materials import materials
from fieldkit.tables.other_kinds import other_kinds
from fieldkit.tables.pipes import Pipe, pipes

#: Most looks that anybody has patience for.
MOST_LOOKS = 5

_WORDS = {"pvc": "PVC", "cpvc": "CPVC", "pe": "PE", "pex": "PEX", "drip": "DRIP",
          "copper": "COPPER", "abs": "ABS", "pb": "PB2110", "pex-al-pex": "PEX-AL-PEX",
          "vinyl": "VINYL"}  # fmt: skip


@dataclass
class TruePipe:
    """One piece in the hand: what it is, and its own sizes at 73 °F. [in]"""

    row: Pipe
    od_in: float
    wall_in: float
    bore_in: float

    @property
    def printed(self) -> str:
        """What its maker prints along it, as its standard asks."""
        row = self.row
        if row.family in {"drip", "micro", "swing"}:
            return f"{row.od_in:.3f} x {row.bore_in:.3f} {row.family}"
        said = [row.nominal, row.pipe_class, _WORDS[row.material]]
        if row.family == "hose":
            said.append("HOSE")
        said += [one.marks[0] for one in other_kinds().values() if row.family in one.families][:1]
        said.append(f"{row.rating_psi:g} PSI" if row.rating_psi else "")
        return " ".join([*said, "" if row.standard == "none" else row.standard])


def _even(chance: Random, value: float, minus: float, plus: float) -> float:
    return chance.uniform(value - minus, value + plus)


def draw(chance: Random, rows: list[Pipe]) -> TruePipe:
    """A piece of one of the rows, the commoner the likelier."""
    row = chance.choices(rows, [one.share for one in rows])[0]
    bore = wall = 0.0
    if row.wall_in is not None:
        wall = _even(chance, row.wall_in, row.wall_minus_in or 0.0, row.wall_plus_in or 0.0)
    if row.sized_by == "ID" and row.bore_in is not None:
        bore = _even(chance, row.bore_in, row.bore_minus_in or 0.0, row.bore_plus_in or 0.0)
        if row.wall_in is None:
            wall = (_even(chance, row.od_in, row.od_minus_in, row.od_plus_in) - bore) / 2
        return TruePipe(row, bore + 2 * wall, wall, bore)
    od = _even(chance, row.od_in, row.od_minus_in, row.od_plus_in)
    return TruePipe(row, od, wall, od - 2 * wall)


def by_caliper(chance: Random, true: TruePipe) -> tuple[float, float]:
    """Outside and its U as the measuring flow gives them, with a hand's errors. [in]"""
    material = (
        true.row.material if true.row.material in WALLS else "pvc" if true.row.rigid else "pe"
    )
    soft = WALLS[material] == "pe"
    said_f = chance.uniform(50.0, 100.0)
    warm_f = said_f + chance.uniform(-15.0, 15.0)
    oval = chance.uniform(0.0, 0.03 if soft else 0.01) * true.od_in
    zero, off = chance.uniform(-0.003, 0.003), chance.uniform(-0.001, 0.001)
    dent = chance.uniform(0.0, 0.002 if soft else 0.0002)
    start = chance.uniform(0.0, math.pi)
    width = true.od_in * (1 + materials()[material].alpha_per_f * (warm_f - 73.0))
    read = [
        width + oval / 2 * math.cos(2 * (start + turn * math.pi / 4)) + zero + off - dent
        + chance.gauss(0.0, 0.002)
        for turn in (0, 2, 1, 3)
    ]  # fmt: skip
    shown = tuple(round(one * 2000) / 2000 for one in read)
    found = measure_with_caliper(
        shown, "pe" if soft else "pvc", temperature_f=said_f, paired=True,
        zero_in=round(zero * 2000) / 2000,
    )  # fmt: skip
    return found.od_in, found.u_od_in


@dataclass
class Hand:
    """Somebody who measures the outside and then takes each look that is proposed."""

    chance: Random
    #: How often a print line can be read.
    legible: float = SUCCEEDS["print"]
    looks: int = 0
    given: dict[str, object] = field(default_factory=dict)
    tried: set[str] = field(default_factory=set)

    def name(self, true: TruePipe) -> tuple[Identified, Identified]:
        """What the outside alone gave, and what it was named in the end."""
        od_in, u_od_in = by_caliper(self.chance, true)
        self.given = {"od_in": od_in, "u_od_in": u_od_in}
        found = first = identify(**self.given)
        gains = dict(found.next["gains_bits"])
        while not found.decided and self.looks < MOST_LOOKS:
            look = found.next_measurement if found.next_measurement in gains else best_look(gains)
            if look is None:
                break
            self.looks += 1
            if self.look(look, true):
                found = identify(**self.given)
                gains = {k: v for k, v in found.next["gains_bits"].items() if k in gains}
            gains.pop(look, None)
        return first, found

    def take_the_rest(self, true: TruePipe) -> Identified:
        """What it would be named after each look that was left out."""
        for look in ("wall", "bore", "rigid", "print"):
            if look not in self.tried:
                self.look(look, true)
        return identify(**self.given)

    def look(self, look: str, true: TruePipe) -> bool:
        """Take one look; a print line may be worn off."""
        self.tried.add(look)
        if self.chance.random() > (self.legible if look == "print" else SUCCEEDS[look]):
            return False
        if look == "rigid":
            wrong = self.chance.random() < RIGID_MISJUDGED
            self.given["rigid"] = true.row.rigid is not wrong
        elif look == "print":
            self.given["print_line"] = true.printed
        else:
            error = 0.003 if look == "wall" else 0.004
            size = true.wall_in if look == "wall" else true.bore_in
            self.given[f"{look}_in"] = size + self.chance.gauss(0.0, error)
        return True


@contextmanager
def without(family: str) -> Iterator[list[Pipe]]:
    """The engine with a table that lacks one family; yields the rows that it lacks."""
    left = {name: row for name, row in pipes().items() if row.family != family}
    lacking = [row for row in pipes().values() if row.family == family]
    caches = (model.products, posterior._log_priors, posterior._outsides,
              print_line.read_print_line)  # fmt: skip

    def forget() -> None:
        for one in caches:
            one.cache_clear()

    forget()
    with (
        patch.object(model, "pipes", lambda: left),
        patch.object(print_line, "pipes", lambda: left),
        patch.object(words, "pipes", lambda: left),
    ):
        yield lacking
    forget()
