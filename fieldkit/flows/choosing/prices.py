"""Price lists: a CSV with the columns part and price_usd, and pack where parts are sold in packs.

A list is kept as part → price of one piece, and ``pack:part`` → pieces in a pack. Further columns
are left alone.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.flows.demo import demo_folder
from fieldkit.tables.fittings import fittings, sundries
from fieldkit.typed.answers import read_quantity, read_whole
from fieldkit.typed.given import kept, shown

#: Longest list that is read, in lines; ours has under 150 parts.
MOST_LINES = 5000

#: Dearest price that is taken for one part. [$]
DEAREST_USD = 100_000.0

#: Largest pack.
LARGEST_PACK = 10_000

#: What stands before a part where a list says how many are sold together.
PACK = "pack:"

#: Families of parts as a shopper looks for them.
_GROUPS = {
    say("Pipe fittings"): ("socket", "reducer", "adapter"),
    say("Tube ends"): ("tube-thread", "dual", "ring-insert", "ring-coupling", "run-tee", "saddle"),
    say("Valves"): ("valve",),
    say("Push-fit parts, no cement"): ("grip-pvc",),
    say("Riser, swing and hose parts"): ("riser", "hose"),
    say("Clamps and pipe"): ("clamp", "stub"),
}


@dataclass(frozen=True, slots=True)
class PricedPart:
    """A part that can have a price."""

    id: str
    name: str


def priced_parts() -> dict[str, tuple[PricedPart, ...]]:
    """Every part and sundry, by group, for a page with a box each."""
    groups: dict[str, tuple[PricedPart, ...]] = {
        title: tuple(PricedPart(p.id, p.name) for p in fittings().values() if p.family in families)
        for title, families in _GROUPS.items()
    }
    groups[say("Cement and tape")] = tuple(PricedPart(s.id, s.name) for s in sundries().values())
    return groups


def read_price(given: object, *, field: str) -> float:
    """One price in dollars: a plain number, with or without the sign.

    Raises
    ------
    Problem
        It is not a number from 0 up.

    Examples
    --------
    >>> read_price("$1.25", field="coupling_0500"), read_price(3, field="coupling_0500")
    (1.25, 3.0)
    """
    bare = given.strip().removeprefix("$").strip() if isinstance(given, str) else given
    try:
        return read_quantity(bare, "", field=field, at_least=0.0, at_most=DEAREST_USD)
    except Problem:
        raise Problem(
            field,
            kept(given),
            say("“{given}” is not a price.", given=shown(given)),
            say("Give dollars as a plain number from 0 up, such as 1.25."),
        ) from None


def split_list(kept: Mapping[str, Any]) -> tuple[dict[str, float], dict[str, int]]:
    """A list as it is kept: prices by part, and how many are sold together by part.

    Examples
    --------
    >>> split_list({"tee_0500": 0.9, "pack:tee_0500": 10.0})
    ({'tee_0500': 0.9}, {'tee_0500': 10})
    """
    prices = {part: price for part, price in kept.items() if not part.startswith(PACK)}
    packs = {part[len(PACK) :]: int(n) for part, n in kept.items() if part.startswith(PACK)}
    return prices, {part: n for part, n in packs.items() if n >= 1}


def read_price_list(text: str) -> dict[str, float]:
    """Prices by part id, and packs. A line with an empty price is a part without one.

    Raises
    ------
    Problem
        A column is missing, a part stands twice, or a price cannot be read; the sentence names
        the line.

    Examples
    --------
    >>> read_price_list("part,price_usd\\ncoupling_0500,0.72\\ntee_0500,\\n")
    {'coupling_0500': 0.72}
    >>> read_price_list("part,price_usd,pack\\ncoupling_0500,0.72,10\\n")
    {'coupling_0500': 0.72, 'pack:coupling_0500': 10}
    """
    lines = text.removeprefix("\ufeff")
    reader = csv.DictReader(io.StringIO(lines, newline=""), skipinitialspace=True)
    try:
        names = [(name or "").strip().lower() for name in reader.fieldnames or ()]
        _need_columns(names)
        reader.fieldnames = names
        found: dict[str, float] = {}
        for row in reader:
            if reader.line_num > MOST_LINES:
                raise _bad(
                    say("The list has more than {most} lines."),
                    say("Cut it down."),
                    most=MOST_LINES,
                )
            _take_row(row, reader.line_num, found)
    except csv.Error:
        raise _bad(
            say("Line {line} cannot be read as CSV."),
            say("Put a text with commas or quotes in double quotes."),
            line=reader.line_num,
        ) from None
    if not found:
        raise _bad(say("No price stands in the list."), say("Fill in the column price_usd."))
    return found


def _need_columns(names: list[str]) -> None:
    if "part" not in names or "price_usd" not in names:
        raise _bad(
            say("Line 1 must name the columns part and price_usd."),
            say("Start from the list that this page gives out."),
        )


def _take_row(row: Mapping[str | None, object], line: int, found: dict[str, float]) -> None:
    part, price = str(row.get("part") or "").strip(), str(row.get("price_usd") or "").strip()
    if not part and not price:
        return
    if not part:
        raise _bad(say("Line {line} has a price and no part."), say("Name the part."), line=line)
    if part in found:
        raise _bad(
            say("Line {line} names {part} again."),
            say("Keep one line a part."),
            line=line,
            part=shown(part),
        )
    if price:
        try:
            found[part] = read_price(price, field="file")
            if pack := str(row.get("pack") or "").strip():
                found[PACK + part] = read_whole(
                    pack, field="file", at_least=1, at_most=LARGEST_PACK
                )
        except Problem as problem:
            raise _bad(
                say("Line {line}, {part}: {wrong}"),
                problem.instead,
                line=line,
                part=shown(part),
                wrong=problem.wrong,
            ) from None


def _bad(wrong: Text, instead: Text, /, **parts: object) -> Problem:
    return Problem("file", None, say(str(wrong), **parts), instead)


def price_list_csv(prices: Mapping[str, float], packs: Mapping[str, int]) -> str:
    """The whole list as CSV, each of our parts a line, ready to fill in and to read back."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("part", "price_usd", "pack", "name"))
    for group in priced_parts().values():
        for part in group:
            price = "" if part.id not in prices else f"{prices[part.id]:.10g}"
            writer.writerow((part.id, price, packs.get(part.id, ""), part.name))
    return out.getvalue()


@cache
def _demo() -> tuple[tuple[str, float], ...]:
    text = (demo_folder() / "price_list.csv").read_text(encoding="utf-8")
    return tuple(read_price_list(text).items())


def demo_prices() -> dict[str, float]:
    """The demo's list: illustrative and invented, never a claim about any shop."""
    return dict(_demo())
