"""A choice of parts comes back within a blink: under 20 ms."""

import pytest

from fieldkit.engine.choosing.fit import Tube
from fieldkit.engine.choosing.transition import Need, transition
from fieldkit.flows.choosing.prices import demo_prices

PRICES = demo_prices()
TUBE = Tube(0.700, 0.600)

NEEDS = {
    "end": Need("1/2", tube=TUBE, prices=PRICES),
    "end, no prices": Need("1/2", tube=TUBE),
    "cut in, both ways": Need("3/4", tube=TUBE, prices=PRICES, place="inline", branches=2),
    "nothing holds": Need("1/2", tube=TUBE, prices=PRICES, pressure_psi=65.0),
}


@pytest.mark.parametrize("name", NEEDS)
def test_bench_transition(benchmark, name):
    answer = benchmark(transition, NEEDS[name])
    assert answer.assemblies or answer.nearest
    if benchmark.stats is not None:  # None where benchmarks are switched off
        assert benchmark.stats.stats.min < 0.020  # the least is not the load of the machine
