"""A whole file brought in: a lot at a time, so that others save between and memory stays flat."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from itertools import islice

from fieldkit.engine.problems import Problem
from fieldkit.joblog import acceptance
from fieldkit.joblog.acceptance import Rules
from fieldkit.joblog.exchange import Carried
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.marks import NOT_REPRODUCED

#: Entries of one lot.
LOT = 500

#: So many refused entries are named, those after them only counted.
MOST_NAMED = 1_000


@dataclass(slots=True)
class Brought:
    """What became of the entries of a file.

    ``writers`` says of each who wrote new ones how many, and whether one of them signs;
    ``doubted`` are new results that come out otherwise; ``stopped``: it was given up.
    """

    new: int = 0
    already: int = 0
    refused: int = 0
    named: list[tuple[str, Problem]] = field(default_factory=list)
    writers: dict[str, tuple[int, bool]] = field(default_factory=dict)
    doubted: int = 0
    stopped: bool = False

    def refuse(self, more: list[tuple[str, Problem]]) -> None:
        """Count what was refused, and name the first."""
        self.refused += len(more)
        self.named.extend(more[: MOST_NAMED - len(self.named)])


def bring_in(
    log: JobLog,
    carried: Carried,
    rules: Rules,
    now: Callable[[], str],
    *,
    tell: Callable[[int, int], None] = lambda *_: None,
    most_refused: int | None = None,
) -> Brought:
    """Take in the entries of a file under rules; with ``most_refused`` it is given up there.

    ``tell`` is told how far it is: so many of so many.
    """
    done = Brought()
    doubted: set[str] = set()
    seen = 0
    with closing(carried.entries()) as entries:
        while lot := list(islice(entries, LOT)):
            kept = acceptance.take_in(log, [body for _, body in lot], rules, now(), seen)
            wrote = {where: body for where, body in lot if isinstance(body, dict)}
            for one in kept.stored:
                who, signs = wrote[one].get("who", ""), wrote[one]["kind"] == "signature"
                count, signed = done.writers.get(who, (0, False))
                done.writers[who] = (count + 1, signed or signs)
            doubted.update(log.marked(kept.stored, NOT_REPRODUCED))
            done.new += len(kept.stored)
            done.already += len(kept.already)
            done.refuse(list(kept.refused))
            tell(seen := seen + len(lot), carried.count)
            if most_refused is not None and done.refused > most_refused:
                done.stopped = True  # it is no file for this log; the rest would be refused as well
                break
    # What came later in the file may have been what a result rests on.
    done.doubted = len(log.marked(doubted, NOT_REPRODUCED))
    return done
