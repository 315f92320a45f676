"""How long the joining calculations take: they run on a phone, and inside the choice of parts."""

from fieldkit.engine.joining.cement import cure_time
from fieldkit.engine.joining.cure_clock import Spell
from fieldkit.engine.joining.thread import Screwed, thread
from fieldkit.engine.joining.weld import Site, weld


def test_bench_cure_time(benchmark):
    assert benchmark(cure_time, "1", 50.0, 70.0, 100.0).minutes == 180


def test_bench_weld_over_two_days_by_the_hour(benchmark):
    spells = tuple(Spell(60.0 * hour, 45.0 + 20.0 * (hour % 24 < 8)) for hour in range(48))
    joint = benchmark(weld, "2", "Sch 40", Site(spells, 2880.0, 50.0, 250.0))
    assert joint.forecast_reaches


def test_bench_thread(benchmark):
    assert benchmark(thread, Screwed("1/2", turns=1.5, sealant="tape")).verdict == "ok"
