"""One cemented joint: cement body, depth, hold, quantities, and what is assumed in the open."""

import pytest

from fieldkit.engine.joining.cement import cure_time, set_time
from fieldkit.engine.joining.cure_clock import Spell
from fieldkit.engine.joining.dry_fit import judge_dry_fit
from fieldkit.engine.joining.weld import Site, waiting, weld
from fieldkit.engine.joining.weld_parts import (
    cement_choice,
    hold_seconds,
    insert_depth_in,
    quart_row,
    refuse_material,
)
from fieldkit.engine.problems import OutOfRange, Refused


def steady(temperature_f=70.0, **more):
    told = {"humidity_pct": 50.0, "pressure_psi": 100.0} | more
    return Site((Spell(0.0, temperature_f),), None, **told)


# A pipe supplier's manual, p. 96: joints to a quart of cement; primer makes twice as many.
QUART = {"1/2": 300, "3/4": 200, "1": 125, "1-1/2": 90, "2": 60, "3": 40, "4": 30, "6": 10, "8": 5}


@pytest.mark.parametrize(("size", "joints"), QUART.items())
def test_joints_per_quart(size, joints):
    joint = weld(size, "Sch 40", steady())
    assert (joint.joints_per_quart, joint.primer_joints_per_quart) == (joints, 2 * joints)


# Between two rows the larger size's count is taken: it buys more cement.
@pytest.mark.parametrize(("size", "joints"), [("1-1/4", 90), ("2-1/2", 40), ("5", 10)])
def test_a_size_between_rows_buys_for_the_larger(size, joints):
    assert quart_row(size).cement_joints == joints


# A cement trade article: regular to 2 in, medium to 6, heavy to 12; thick walls take heavy.
@pytest.mark.parametrize(
    ("size", "pipe_class", "lightest"),
    [
        ("1/2", "Sch 40", "regular"), ("2", "SDR 21", "regular"), ("2-1/2", "Sch 40", "medium"),
        ("6", "Sch 40", "medium"), ("8", "Sch 40", "heavy"), ("1/2", "Sch 80", "heavy"),
        ("1/2", "", "heavy"), ("16", "Sch 40", "extra heavy"),
    ],
)  # fmt: skip
def test_lightest_cement_allowed(size, pipe_class, lightest):
    bodies = [row.body for row in cement_choice(size, pipe_class)]
    assert bodies[0] == lightest
    order = ["regular", "medium", "heavy", "extra heavy"]
    assert bodies == order[order.index(lightest) :]


def test_a_loose_dry_fit_takes_a_heavier_body():
    joint = weld("1/2", "Sch 40", steady(dry_fit=judge_dry_fit("bottoms")))
    assert (joint.verdict, joint.cement_body) == ("wait", "medium")


@pytest.mark.parametrize("word", ["tight", "falls off"])
def test_a_bad_dry_fit_is_not_cemented(word):
    joint = weld("1/2", "Sch 40", steady(dry_fit=judge_dry_fit(word)))
    assert joint.verdict == "change_part"
    assert joint.headline == judge_dry_fit(word).sentence


# ASTM D2466 (Sch 40) least socket depths, read in the identical D2468-96a Table 1; D2467 (Sch 80).
@pytest.mark.parametrize(
    ("size", "sch40_in", "sch80_in"),
    [("1/2", 0.688, 0.875), ("3/4", 0.719, 1.0), ("1", 0.875, 1.125), ("2", 1.156, 1.5)],
)
def test_insert_depths(size, sch40_in, sch80_in):
    for pipe_class, depth_in in (("Sch 40", sch40_in), ("SDR 26", sch40_in), ("Sch 80", sch80_in)):
        found = insert_depth_in(size, pipe_class)
        assert found is not None
        assert found[0] == depth_in


def test_a_size_without_a_listed_socket_is_measured():
    joint = weld("6", "Sch 40", steady())
    assert joint.insert_depth_in is None
    assert any("Measure the socket’s depth" in step.do for step in joint.steps)


@pytest.mark.parametrize(("temperature_f", "seconds"), [(80, 30), (60.1, 30), (60, 60), (10, 60)])
def test_hold_is_longer_in_the_cold(temperature_f, seconds):
    assert hold_seconds(temperature_f) == seconds
    assert seconds in [step.seconds for step in weld("1", "Sch 40", steady(temperature_f)).steps]


@pytest.mark.parametrize("material", ["pe", "drip", "pex", "cpvc", "abs", "copper"])
def test_nothing_but_pvc_is_cemented(material):
    with pytest.raises(Refused, match=r"bond polyethylene|CPVC cement|rigid PVC only"):
        refuse_material(material)


def test_one_step_drops_the_primer_and_says_what_that_changes():
    two, one = weld("1", "Sch 40", steady()), weld("1", "Sch 40", steady(one_step=True))
    assert (two.primer, one.primer, one.cement_body) == ("required", "none", "one-step")
    assert one.cure_minutes == two.cure_minutes
    assert one.primer_joints_per_quart is None
    assert any("F3328" in caution for caution in one.cautions)


def test_what_was_not_given_is_assumed_in_the_open():
    joint = weld("1", "", Site((Spell(0.0, 70.0),), None, None, None))
    assumed = {line.name for line in joint.working if "assumed" in line.formula}
    assert assumed == {"humidity", "pressure"}
    assert joint.cure_minutes_damp == 1.5 * joint.cure_minutes
    told = " ".join(joint.cautions)
    for words in ("No humidity was given", "Pressure was not given", "The wall was not given"):
        assert words in told


def test_the_forecast_is_shown_beside_the_coldest_hour():
    spells = (Spell(0.0, 70.0), Spell(30.0, 35.0))
    joint = weld("1/2", "Sch 40", Site(spells, 1500.0, 50.0, 100.0))
    assert joint.cure_minutes_estimate == pytest.approx(270)
    assert joint.cure_minutes == joint.cure_minutes_coldest == 480
    assert cure_time("1/2", 35.0, 50.0, 100.0).minutes == 480  # schedule B, 0 to 40 °F: 8 h
    assert joint.set_minutes == set_time("1/2", 70.0, 50.0).minutes  # set before the cold comes
    assert any("no more than an estimate" in caution for caution in joint.cautions)
    assert "No pressure for 8 h" in joint.headline


def test_pipe_in_the_sun_is_shaded_first_and_never_cures_sooner():
    shade = weld("1", "Sch 40", Site((Spell(0.0, 85.0),), None, 50.0, 100.0))
    sun = weld("1", "Sch 40", Site((Spell(0.0, 85.0),), None, 50.0, 100.0, sun=True))
    assert (sun.verdict, sun.skin_f, sun.cure_minutes) == ("shade_first", 115, shade.cure_minutes)
    assert "about 115 °F" in sun.headline
    mild = weld("1", "Sch 40", Site((Spell(0.0, 60.0),), None, 50.0, 100.0, sun=True))
    assert mild.verdict == "wait"


# Metric sockets, least depth in mm, as printed for EN ISO 1452-3 and ISO 727-1 (from memory).
METRIC_DEPTHS = {20: 16, 25: 18.5, 32: 22, 40: 26, 50: 31, 63: 37.5, 75: 43.5, 90: 51, 110: 61}


@pytest.mark.parametrize(("mm", "depth_mm"), METRIC_DEPTHS.items())
def test_metric_pipe_takes_the_next_larger_outside_and_its_own_depth(mm, depth_mm):
    joint = weld(f"{mm} mm", "PN 10", steady())
    assert joint.insert_depth_in * 25.4 == pytest.approx(depth_mm)
    # The slower neighbour: the next trade size whose outside (ASTM D1785) is no smaller.
    sizes = {"1/2": 0.840, "3/4": 1.050, "1": 1.315, "1-1/4": 1.660, "1-1/2": 1.900, "2": 2.375,
             "2-1/2": 2.875, "3": 3.500, "4": 4.500}  # fmt: skip
    like = next(size for size, od_in in sizes.items() if od_in >= mm / 25.4)
    assert joint.cure_minutes == weld(like, "Sch 40", steady()).cure_minutes


def test_a_forecast_below_zero_counts_the_coldest_band_after_it():
    spells = (Spell(0.0, 70.0), Spell(30.0, -5.0), Spell(60.0, 70.0))
    joint = weld("1/2", "Sch 40", Site(spells, 1500.0, 50.0, 100.0))
    assert joint.cure_minutes_estimate == pytest.approx(90)
    assert joint.cure_minutes == joint.cure_minutes_coldest == 60 + 480
    assert any("below 0 °F do not count" in caution for caution in joint.cautions)


@pytest.mark.parametrize("made_f", [-5.0, 105.0])
def test_a_joint_is_not_made_outside_the_schedules_whatever_follows(made_f):
    spells = (Spell(0.0, made_f), Spell(30.0, 70.0))
    with pytest.raises(OutOfRange, match="than the schedules"):
        weld("1/2", "Sch 40", Site(spells, 1500.0, 50.0, 100.0))


def test_every_line_of_working_has_a_source():
    joint = weld("1/2", "Sch 40", steady(40.0))
    assert all(line.source and line.status for line in joint.working)
    assert {line.source for line in joint.working} >= {"cement-guide-a", "cement-guide-b"}


def test_a_wait_is_never_rounded_down():
    assert str(waiting(22.5)) == "23 min"
    assert str(waiting(60.0000000001)) == "1 h"


def test_sentences_stay_short():
    for site in (steady(), steady(30.0, one_step=True), Site((Spell(0, 70.0),), 60.0, None, None)):
        joint = weld("2", "Sch 40", site)
        said = [joint.headline, *joint.cautions, *(s.do for s in joint.steps)]
        for text in said:
            for sentence in text.split(". "):
                assert len(sentence.split()) <= 20, sentence
