"""Each reader of typed text at its limit, on the worst that can be typed: under 20 ms.

As a bench: ``pytest tests/bench/test_bench_typed.py --benchmark-enable``.
"""

from __future__ import annotations

import pytest

from fieldkit.engine.identifying.print_line import LONGEST, read_print_line
from fieldkit.engine.problems import Problem
from fieldkit.flows.calculations import calculation
from fieldkit.flows.choosing.prices import read_price
from fieldkit.flows.forms import with_points
from fieldkit.flows.question import Quantity, Step
from fieldkit.joblog.read import match_of
from fieldkit.typed import answers
from fieldkit.typed.request import Request

#: More than any form takes. [characters]
_TYPED = 4000

RUNS = ("9", " ", "9 ", "9.", "1/", "-", "9,", "PSI 9", "0.70 ", "ASTM D1785 ", "9 MM ", "SDR 9 ")

_STEP = Step("od", "How wide?", Quantity("in"))


def calculated(name, **body):
    try:
        calculation(name)(Request(body))
    except Problem:
        return


READERS = {
    "print line": lambda text: read_print_line.__wrapped__(text[:LONGEST]),
    "print line, too long": read_print_line.__wrapped__,
    "quantity": lambda text: answers.read_quantity(text, "in", field="x"),
    "time": lambda text: answers.read_quantity(text, "min", field="x"),
    "trade size": lambda text: answers.read_nominal(text, field="x"),
    "pipe class": lambda text: answers.read_pipe_class(text, field="x"),
    "choice": lambda text: answers.read_choice(text, ["a", "b"], field="x"),
    "words": lambda text: answers.read_text(text, field="x", limit=2000),
    "price": lambda text: read_price(text, field="x"),
    "decimal comma": lambda text: with_points(_STEP, {"value": [text]}),
    "search": match_of,
    "thread": lambda text: calculated("thread", size=text, sealant=text, male=text),
    "slope": lambda text: calculated("lateral", slope=text),
    "made at": lambda text: calculated("weld", made_at=text),
}


@pytest.mark.parametrize("name", READERS)
def test_bench_reader(benchmark, name):
    def play():
        for run in RUNS:
            for end in ("", "!"):
                try:
                    READERS[name]((run * _TYPED)[:_TYPED] + end)
                except Problem:
                    continue

    benchmark(play)
    if benchmark.stats is not None:
        # For all of the runs together.
        assert benchmark.stats["median"] < 0.020 * 2 * len(RUNS)
