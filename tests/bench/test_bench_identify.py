"""How fast an identification is: it runs at every step of the guided flow, on a phone too."""

import pytest

from fieldkit.engine.identifying.identify import identify

#: The product's own limit for one call with an outside and its uncertainty.
LIMIT_S = 0.0003


@pytest.mark.parametrize("od_in", [0.630, 0.700, 0.840, 1.050])
def test_identify_by_outside(benchmark, od_in):
    found = benchmark(identify, od_in=od_in, u_od_in=0.0042)
    assert found.candidates[0]["probability"] > 0
    if benchmark.stats is not None:  # None when benchmarks are switched off
        assert benchmark.stats.stats.median < LIMIT_S


def test_identify_by_everything(benchmark):
    found = benchmark(
        identify, od_in=0.705, u_od_in=0.0042, bore_in=0.612, wall_in=0.046, rigid=False,
        print_line="1/2 drip",
    )  # fmt: skip
    assert found.candidates[0]["family"] == "drip"
