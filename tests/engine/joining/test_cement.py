"""Set and cure against the published schedules, and the properties any schedule must have."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.joining.cement import TRADE_SIZES, band_of, cure_time, nominal_in, set_time
from fieldkit.engine.problems import OutOfRange

# Two public charts as printed, typed from the charts and not from our tables: schedule A
# (a cement supplier's application guide) / schedule B (a pipe supplier's technical manual, p. 96).
# size → hours of set (A, B), cure to 160/180 psi (A, B), cure to 315 psi (A, B).
M = 1 / 60
PRINTED = {
    70.0: {
        "1/2": ((2 * M, 15 * M), (15 * M, 1), (6, 6)),
        "1-1/4": ((2 * M, 15 * M), (15 * M, 1), (6, 6)),
        "1-1/2": ((5 * M, 30 * M), (30 * M, 2), (12, 12)),
        "2": ((5 * M, 30 * M), (30 * M, 2), (12, 12)),
        "3": ((30 * M, 30 * M), (1.5, 2), (24, 12)),
        "4": ((30 * M, 1), (1.5, 6), (24, 24)),
        "8": ((30 * M, 1), (1.5, 6), (24, 24)),
    },
    50.0: {
        "3/4": ((5 * M, 1), (20 * M, 2), (12, 12)),
        "2": ((10 * M, 2), (45 * M, 4), (24, 24)),
        "2-1/2": ((2, 2), (4, 4), (48, 24)),
        "6": ((2, 4), (4, 12), (48, 48)),
    },
    30.0: {
        "1": ((10 * M, 3), (30 * M, 8), (48, 48)),
        "1-1/2": ((15 * M, 6), (1, 16), (96, 96)),
        "3": ((12, 6), (72, 16), (192, 96)),
        "4": ((12, 12), (72, 48), (192, 192)),
    },
}
CELLS = [(f, size, *row) for f, rows in PRINTED.items() for size, row in rows.items()]


@pytest.mark.parametrize(("temperature_f", "size", "sets", "low", "high"), CELLS)
def test_both_printed_schedules_are_shown_and_the_slower_rules(
    temperature_f, size, sets, low, high
):
    for pressure_psi, hours in ((100.0, low), (250.0, high)):
        found = cure_time(size, temperature_f, 50.0, pressure_psi)
        assert [row.minutes / 60 for row in found.rows] == pytest.approx(list(hours))
        assert found.minutes / 60 == pytest.approx(max(hours))
    found_set = set_time(size, temperature_f, 50.0)
    assert [row.minutes / 60 for row in found_set.rows] == pytest.approx(list(sets))
    assert found_set.minutes / 60 == pytest.approx(max(sets))


def test_the_one_that_rules_is_named():
    assert cure_time("1/2", 70.0, 50.0, 100.0).rules == "B"
    assert cure_time("3", 30.0, 50.0, 100.0).rules == "A"
    assert cure_time("1/2", 70.0, 50.0, 250.0).rules == "A and B"


# Both charts: above 60 % relative humidity allow half again as long.
@pytest.mark.parametrize(("humidity_pct", "factor"), [(0, 1), (60, 1), (60.1, 1.5), (100, 1.5)])
def test_damp_takes_half_as_long_again(humidity_pct, factor):
    assert cure_time("1", 70.0, humidity_pct, 100.0).minutes == 60 * factor
    assert set_time("1", 70.0, humidity_pct).minutes == 15 * factor


# Our choice, said in the module: an edge belongs to the colder band; 0 and 100 °F are answered.
@pytest.mark.parametrize(
    ("edge_f", "band"),
    [(0.0, (0, 40)), (40.0, (0, 40)), (40.01, (40, 60)), (60.0, (40, 60)), (100.0, (60, 100))],
)
def test_an_edge_belongs_to_the_colder_band(edge_f, band):
    assert band_of(edge_f) == band
    assert cure_time("1/2", edge_f, 50.0, 100.0).rows[0].warmest_f == band[1]


# Between 160 psi (where A splits) and 180 psi (where B does) A already asks for the long cure.
@pytest.mark.parametrize(("pressure_psi", "hours"), [(160, 1), (160.1, 6), (180, 6), (181, 6)])
def test_each_schedule_splits_at_its_own_pressure(pressure_psi, hours):
    assert cure_time("1/2", 70.0, 50.0, pressure_psi).minutes == 60 * hours


@pytest.mark.parametrize(
    ("temperature_f", "wrong"),
    [(-0.1, "colder than the schedules"), (100.1, "hotter than the schedules")],
)
def test_colder_or_hotter_than_the_schedules_is_refused(temperature_f, wrong):
    with pytest.raises(OutOfRange, match=wrong):
        cure_time("1/2", temperature_f, 50.0, 100.0)
    with pytest.raises(OutOfRange, match=wrong):
        set_time("1/2", temperature_f, 50.0)


@pytest.mark.parametrize("size", ["3/8", "3-1/2", "9", "18", "26 mm", "", "1/0", "-1/2", "²", "1-"])
def test_a_size_not_in_both_schedules_is_refused_with_the_list(size):
    with pytest.raises(OutOfRange, match="They list these, in inches: 1/2, 3/4, 1,"):
        cure_time(size, 70.0, 50.0, 50.0)


@pytest.mark.parametrize(
    ("size", "pressure_psi"), [("1/2", 371), ("2", 316), ("8", 316), ("12", 101)]
)
def test_a_pressure_not_in_both_schedules_is_refused(size, pressure_psi):
    with pytest.raises(OutOfRange, match="The schedules stop at"):
        cure_time(size, 70.0, 50.0, pressure_psi)
    assert cure_time(size, 70.0, 50.0, pressure_psi - 1).minutes > 0


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -1.0])
def test_numbers_that_are_none_are_refused(bad):
    with pytest.raises(OutOfRange, match=r"is under 0 psi|not a finite"):
        cure_time("1", 70.0, 50.0, bad)
    with pytest.raises(OutOfRange, match=r"is under 0 %|not a finite"):
        set_time("1", 70.0, bad)


@pytest.mark.parametrize("size", TRADE_SIZES)
def test_every_size_we_name_is_answered_in_every_band(size):
    for temperature_f in (0.0, 20.0, 40.0, 50.0, 60.0, 80.0, 100.0):
        assert cure_time(size, temperature_f, 50.0, 100.0).minutes > 0
        assert set_time(size, temperature_f, 50.0).minutes > 0


temperatures = st.floats(0, 100)
humidities = st.floats(0, 100)
pressures = st.floats(0, 315)
small = st.sampled_from([s for s in TRADE_SIZES if nominal_in(s) <= 8])


@given(small, temperatures, temperatures, humidities, pressures)
def test_colder_is_never_shorter(size, one_f, two_f, humidity_pct, pressure_psi):
    cold_f, warm_f = sorted((one_f, two_f))
    assert (
        set_time(size, cold_f, humidity_pct).minutes >= set_time(size, warm_f, humidity_pct).minutes
    )
    assert (
        cure_time(size, cold_f, humidity_pct, pressure_psi).minutes
        >= cure_time(size, warm_f, humidity_pct, pressure_psi).minutes
    )


def pairs_of(values):
    return st.tuples(values, values).map(sorted)


@given(small, temperatures, pairs_of(humidities), pairs_of(pressures))
def test_damper_or_higher_is_never_shorter(size, temperature_f, humidity, pressure):
    (dry, damp), (low, high) = humidity, pressure
    assert (
        cure_time(size, temperature_f, damp, high).minutes
        >= cure_time(size, temperature_f, dry, low).minutes
    )


def test_larger_is_never_shorter():
    sizes = [s for s in TRADE_SIZES if nominal_in(s) <= 8]
    for temperature_f, pressure_psi in product((20.0, 50.0, 80.0), (100.0, 250.0)):
        minutes = [cure_time(s, temperature_f, 50.0, pressure_psi).minutes for s in sizes]
        assert minutes == sorted(minutes)
