"""How fast flow is worked out, beside programs that do the same."""

import time

import fluids
import pytest
from witnesses import epanet

from fieldkit.engine.hydraulics.friction import friction_factor
from fieldkit.engine.hydraulics.lateral import lateral
from fieldkit.engine.hydraulics.march import Emitter, Layout, Pipe, end_pressure, loss_per_ft, march
from fieldkit.flows.calculations import calculate

OUTLETS, INLET_PSI = 100, 20.0
EMITTER = Emitter(1.0 / 60 / INLET_PSI**0.5, 0.5)
LAYOUT = Layout(1.0, 1.0)
REQUEST = {
    "bore": "0.600 in",
    "outlet_flow": "1 gph",
    "spacing": "1 ft",
    "inlet_pressure": "20 psi",
    "outlets": OUTLETS,
}


def ours(method):
    pipe = Pipe(0.600, method=method)
    end = end_pressure(pipe, LAYOUT, EMITTER, OUTLETS, INLET_PSI)
    return march(pipe, LAYOUT, EMITTER, OUTLETS, end).pressures_psi


def theirs(method):
    hazen = method == "hazen_williams"
    model = epanet.network(inlet_psi=INLET_PSI, exponent=0.5, headloss="H-W" if hazen else "D-W")
    nodes = epanet.add_line(
        model,
        "source",
        name="e",
        outlets=OUTLETS,
        spacing_ft=1.0,
        bore_in=0.600,
        roughness=140.0 if hazen else 1.5e-6,
        emitter=EMITTER,
    )
    found = epanet.pressures_psi(model)
    return [found[node] for node in nodes]


def best_of(work, *, rounds, repeats=1):
    """The quickest of several rounds, a call: the least disturbed by whatever else runs. [s]"""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        for _ in range(repeats):
            work()
        times.append((time.perf_counter() - start) / repeats)
    return min(times)


@pytest.mark.parametrize(("method", "times"), [("hazen_williams", 100), ("darcy", 75)])
def test_a_lateral_of_100_outlets_beside_epanet(method, times, measuring):
    # EPANET through wntr, its set-up included: the same line, the same pressures.
    assert ours(method) == pytest.approx(theirs(method), rel=0.005)
    quick = best_of(lambda: ours(method), rounds=10 if measuring else 1, repeats=10)
    slow = best_of(lambda: theirs(method), rounds=5 if measuring else 1)
    assert slow > 0
    if measuring:
        assert slow / quick >= times


@pytest.mark.parametrize(("reynolds", "relative"), [(1e3, 1e-4), (1e4, 0.0), (1e5, 1e-4)])
def test_friction_factor_beside_fluids(reynolds, relative, measuring):
    # Their own scalar call, fluids.friction_factor: Clamond's solution of Colebrook.
    quick = best_of(
        lambda: friction_factor(reynolds, relative), rounds=20 if measuring else 1, repeats=2000
    )
    slow = best_of(
        lambda: fluids.friction_factor(Re=reynolds, eD=relative),
        rounds=20 if measuring else 1,
        repeats=2000,
    )
    assert quick > 0
    if measuring:
        assert quick <= 2 * slow


def test_loss_of_a_flow_beside_fluids(measuring):
    # From a flow to a pressure drop: fluids.one_phase_dP, friction factor and all.
    loss = loss_per_ft(Pipe(1.049, method="darcy"))
    quick = best_of(lambda: loss(10.0), rounds=20 if measuring else 1, repeats=2000)
    slow = best_of(
        lambda: fluids.one_phase_dP(
            m=0.63, rho=998.5, mu=1.0e-3, D=0.0266, L=0.3048, roughness=1.5e-6
        ),
        rounds=20 if measuring else 1,
        repeats=2000,
    )
    assert quick > 0
    if measuring:
        assert quick <= 2 * slow


def test_bench_lateral(benchmark):
    benchmark(ours, "hazen_williams")


def test_bench_lateral_answer(benchmark):
    benchmark(
        lambda: lateral(
            pipe=Pipe(0.6), layout=LAYOUT, outlet_gph=1.0, inlet_psi=20.0, outlets=OUTLETS
        )
    )


def test_bench_lateral_by_request(benchmark):
    benchmark(lambda: calculate("lateral", REQUEST))


def test_bench_epanet(benchmark):
    benchmark(theirs, "hazen_williams")


def test_bench_friction_factor(benchmark):
    benchmark(friction_factor, 1e5, 1e-4)


def test_bench_fluids_friction_factor(benchmark):
    benchmark(fluids.friction_factor, Re=1e5, eD=1e-4)
