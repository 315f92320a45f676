"""Screwed joints against ASME B1.20.1 geometry and the figures of trade and standards."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.joining.thread import Screwed, thread, thread_hoop_stress, thread_wraps
from fieldkit.engine.joining.thread_match import ADAPTERS, FORMS, does_not_match, thread_of
from fieldkit.engine.problems import OutOfRange
from fieldkit.tables.threads import sealants, taper_threads, threads_of

# ASME B1.20.1 table 2, read in reproduced tables: size, threads per inch, E1, turns by hand (L1 n).
B1_20_1 = [
    ("1/2", 14, 0.77843, 4.48), ("3/4", 14, 0.98887, 4.75), ("1", 11.5, 1.23863, 4.60),
    ("1-1/4", 11.5, 1.58338, 4.83), ("1-1/2", 11.5, 1.82234, 4.83), ("2", 11.5, 2.29627, 5.01),
    ("3", 8, 3.38850, 6.13), ("4", 8, 4.38712, 6.75),
]  # fmt: skip


@pytest.mark.parametrize(("size", "tpi", "e1_in", "hand_turns"), B1_20_1)
def test_hand_turns_and_stress_follow_the_standard_thread(size, tpi, e1_in, hand_turns):
    joint = thread(Screwed(size, turns=1.0, sealant="tape"))
    assert joint.hand_turns == pytest.approx(hand_turns, abs=0.005)
    # Hooke on a ring: strain is the rise of diameter (pitch/16 a turn) over the diameter.
    strain = (1 / tpi / 16) / e1_in
    assert joint.hoop_stress_psi == pytest.approx(400_000 * strain, rel=1e-9)
    assert joint.hoop_stress_shared_psi == pytest.approx(joint.hoop_stress_psi / 2)


# Worked by hand, E 400,000 psi: two turns on ½ in give 4590 psi, against the listed 4000 psi
# long-term basis and 2000 psi design stress of PVC 1120 (ASTM D1785).
def test_two_turns_on_half_inch_pass_the_long_term_strength():
    joint = thread(Screwed("1/2", turns=2.0, sealant="tape"))
    assert joint.hoop_stress_psi == pytest.approx(4590, abs=5)
    assert (joint.design_stress_psi, joint.strength_psi) == (2000, 4000)
    assert joint.crack_risk
    assert joint.verdict == "too_tight"
    assert any("split days later" in caution for caution in joint.cautions)


@pytest.mark.parametrize("form", ["npt", "r"])
@pytest.mark.parametrize("female", ["plastic", "plastic valve"])
@pytest.mark.parametrize("male", ["plastic", "metal"])
def test_no_count_offered_cracks_a_plastic_female(form, female, male):
    # PVC 1120: long-term basis 4000 psi (ASTM D1785). E (p/16) n / D by hand, beside our own.
    for size, row in threads_of(form).items():
        plan = thread(Screwed(size, male, female, form, form))
        assert plan.turns_min <= plan.turns_usual <= plan.turns_max
        for quarters in range(int(4 * plan.turns_max) + 5):
            turns = quarters / 4
            done = thread(Screwed(size, male, female, form, form, turns=turns, sealant="tape"))
            stress_psi = 400_000 / row.tpi / 16 * turns / row.pitch_dia_hand_in
            assert done.hoop_stress_psi == pytest.approx(stress_psi)
            if stress_psi > 4000:
                assert done.verdict != "ok", (size, turns)
                assert turns > plan.turns_max


# ISO 228-1 and ISO 7-1 as a thread chart prints them: size, threads per inch, major and pitch
# diameter [in]; gauge length [mm] of ISO 7-1 from memory.
BSP = [
    ("1/8", 28, 0.3830, 0.3601, 4.0), ("1/4", 19, 0.5180, 0.4843, 6.0),
    ("3/8", 19, 0.6560, 0.6223, 6.4), ("1/2", 14, 0.8250, 0.7793, 8.2),
    ("3/4", 14, 1.0410, 0.9953, 9.5), ("1", 11, 1.3090, 1.2508, 10.4),
    ("1-1/4", 11, 1.6500, 1.5918, 12.7), ("1-1/2", 11, 1.8820, 1.8238, 12.7),
    ("2", 11, 2.3470, 2.2888, 15.9), ("2-1/2", 11, 2.9600, 2.9018, 17.5),
    ("3", 11, 3.4600, 3.4018, 20.6), ("4", 11, 4.4500, 4.3918, 25.4),
]  # fmt: skip


@pytest.mark.parametrize(("size", "tpi", "major_in", "pitch_in", "gauge_mm"), BSP)
def test_parallel_and_taper_55_degree_threads(size, tpi, major_in, pitch_in, gauge_mm):
    for form in ("g", "r"):
        row = thread_of(form, size, "male")
        assert (row.tpi, row.major_od_in) == (tpi, pytest.approx(major_in, abs=6e-4))
    assert thread_of("g", size, "male").pitch_dia_end_in == pytest.approx(pitch_in, abs=6e-4)
    taper = thread_of("r", size, "male")
    assert taper.pitch_dia_hand_in == pytest.approx(pitch_in, abs=6e-4)
    assert taper.hand_length_in * 25.4 == pytest.approx(gauge_mm, abs=0.01)
    washer = thread(Screwed(size, male_thread="g", female_thread="g", sealant="washer"))
    assert (washer.verdict, washer.turns_max) == ("ok", 0.25)
    for other in ("npt", "g"):
        pair = thread(Screwed(size, male_thread="r", female_thread=other))
        assert pair.verdict == "does_not_match"


# ASTM F1498 as four trade sources have it: finger tight plus one to two turns, no more.
@pytest.mark.parametrize(
    ("turns", "verdict"),
    [(0, "too_loose"), (0.99, "too_loose"), (1, "ok"), (2, "ok"), (2.01, "too_tight")],
)
def test_one_to_two_turns(turns, verdict):
    assert thread(Screwed("3/4", turns=float(turns), sealant="tape")).verdict == verdict


# The trade: a plastic valve body takes a quarter turn to one.
@pytest.mark.parametrize(
    ("turns", "verdict"), [(0.2, "too_loose"), (0.25, "ok"), (1, "ok"), (1.5, "too_tight")]
)
def test_a_plastic_valve_takes_less(turns, verdict):
    joint = Screwed("3/4", female="plastic valve", turns=float(turns), sealant="tape")
    assert thread(joint).verdict == verdict


# ASME B1.20.1: L3 is 3 wrench turns to 2 in, 2 above.
@pytest.mark.parametrize(("size", "most"), [("1/2", 3), ("2", 3), ("2-1/2", 2), ("4", 2)])
def test_metal_takes_its_wrench_turns(size, most):
    joint = thread(Screwed(size, male="metal", female="metal", turns=float(most), sealant="paste"))
    assert (joint.turns_max, joint.verdict, joint.hoop_stress_psi) == (most, "ok", 0.0)


# A pipe supplier's manual, p. 102: metal male into plastic female is to be avoided.
@pytest.mark.parametrize(
    ("male", "female", "verdict"),
    [
        ("plastic", "plastic", "ok"), ("plastic", "metal", "ok"),
        ("metal", "plastic", "wrong_pair"), ("metal", "plastic valve", "too_tight"),
        ("metal", "banded plastic", "ok"), ("plastic", "banded plastic", "ok"),
    ],
)  # fmt: skip
def test_pairings(male, female, verdict):
    assert thread(Screwed("1", male, female, turns=1.5, sealant="tape")).verdict == verdict


# Thread articles: tape or a paste that is marked safe for PVC, and never both at once.
@pytest.mark.parametrize(
    ("sealant", "verdict", "advice"),
    [
        ("tape", "ok", "One pass of ordinary tape"), ("paste", "ok", "Only if the label says"),
        ("tape and paste", "ok", "Thread-seal tape, or"), ("none", "wrong_sealant", "Thread-seal"),
        ("oil paste", "wrong_sealant", "Thread-seal tape, or"),
        ("cement", "wrong_sealant", "Thread-seal tape, or"),
        ("washer", "wrong_sealant", "Thread-seal tape, or"),
    ],
)  # fmt: skip
def test_sealants_on_a_taper(sealant, verdict, advice):
    made = thread(Screwed("1", turns=1.5, sealant=sealant))
    assert made.verdict == verdict
    assert str(made.sealant_advice).startswith(advice)


def test_oil_paste_harms_plastic_only():
    metal = Screwed("1", "metal", "metal", turns=3.0, sealant="oil paste")
    assert thread(metal).verdict == "ok"


def test_over_tightening_is_told_before_all_else():
    joint = Screwed("1/2", male="metal", turns=4.0, sealant="oil paste")
    assert thread(joint).verdict == "too_tight"


# Trade articles: one wrap of 2.5 to 3.5 mil tape under 2 in, two from 2 in on.
@pytest.mark.parametrize(("size", "wraps"), [("1/2", 1), ("1-1/2", 1), ("2", 2), ("4", 2)])
def test_wraps(size, wraps):
    assert thread(Screwed(size)).wraps == wraps


# ASME B1.20.7 and B1.20.1: 11.5 against 14 threads per inch, 1.0625 against 1.050 in across;
# the pitches differ by 0.0155 in.
def test_hose_into_pipe_thread_never_matches():
    for male, female in (("hose", "npt"), ("npt", "hose")):
        joint = thread(
            Screwed("3/4", male_thread=male, female_thread=female, turns=1.5, sealant="tape")
        )
        assert joint.verdict == "does_not_match"
        assert "11.5" in joint.headline
        assert "14" in joint.headline
        assert joint.adapter is not None
        figures = {line.name: line.value for line in joint.working}
        assert figures["pitch apart"] == pytest.approx(0.0155, abs=5e-5)
        assert {
            figures["male outside diameter"], figures["female outside diameter"]
        } & {1.0625, 1.05}  # fmt: skip


@pytest.mark.parametrize(
    ("male", "female"),
    [("hose", "hose"), ("npt", "swivel"), ("g", "g"), ("fire hose", "fire hose")],
)
def test_washer_joints_take_no_tape_and_hardly_a_turn(male, female):
    plain = thread(Screwed("3/4", male_thread=male, female_thread=female, sealant="washer"))
    assert (plain.verdict, plain.wraps, plain.turns_max) == ("ok", 0, 0.25)
    taped = thread(Screwed("3/4", male_thread=male, female_thread=female, sealant="tape"))
    assert taped.verdict == "wrong_sealant"
    tight = thread(Screwed("3/4", male_thread=male, female_thread=female, turns=1.0))
    assert tight.verdict == "too_tight"


def test_every_pair_of_forms_either_matches_or_has_an_adapter():
    for male in FORMS:
        for female in FORMS:
            rows = thread_of(male, "3/4", "male"), thread_of(female, "3/4", "female")
            if does_not_match(*rows) is not None:
                assert frozenset((male, female)) in ADAPTERS, (male, female)
                answer = thread(Screwed("3/4", male_thread=male, female_thread=female))
                assert answer.verdict == "does_not_match"


@pytest.mark.parametrize(
    ("joint", "field"),
    [
        (Screwed("5/8"), "size"), (Screwed("1/2", male_thread="hose"), "size"),
        (Screwed("1/2", male="wood"), "male"), (Screwed("1/2", female="wood"), "female"),
        (Screwed("1/2", male="plastic valve"), "male"), (Screwed("1/2", sealant="gum"), "sealant"),
        (Screwed("3/4", male_thread="acme"), "male_thread"),
        (Screwed("1/2", turns=-1.0), "turns_past_hand_tight"),
        (Screwed("1/2", turns=11.0), "turns_past_hand_tight"),
        (Screwed("1/2", turns=float("nan")), "turns_past_hand_tight"),
    ],
)  # fmt: skip
def test_what_is_not_listed_is_refused_by_name(joint, field):
    with pytest.raises(OutOfRange, match=r"\w") as refused:
        thread(joint)
    assert refused.value.field == field


@given(
    st.sampled_from(sorted(taper_threads())),
    st.floats(0, 10),
    st.floats(0, 10),
    st.sampled_from(sorted(sealants())),
)
def test_more_turns_never_stress_less(size, one, two, sealant):
    few, many = sorted((one, two))
    loose = thread(Screwed(size, turns=few, sealant=sealant))
    tight = thread(Screwed(size, turns=many, sealant=sealant))
    assert loose.hoop_stress_psi <= tight.hoop_stress_psi
    if loose.verdict == "too_tight":
        assert tight.verdict == "too_tight"


def test_small_females_are_stressed_most():
    sizes = ["1/2", "3/4", "1", "1-1/4", "1-1/2", "2"]
    stress = [thread(Screwed(size, turns=1.0)).hoop_stress_psi for size in sizes]
    assert stress == sorted(stress, reverse=True)


@pytest.mark.parametrize("args", [(-1, 14, 0.8, 4e5), (1, 0, 0.8, 4e5), (1, 14, 0, 4e5)])
def test_impossible_threads_are_refused(args):
    with pytest.raises(OutOfRange, match=r"is not above|is under"):
        thread_hoop_stress(*args)
    with pytest.raises(OutOfRange, match="is not above"):
        thread_wraps(0.0)


def test_sentences_stay_short():
    for joint in (Screwed("1/2", turns=2.0), Screwed("1/2", male="metal", sealant="oil paste"),
                  Screwed("3/4", male_thread="hose"), Screwed("3/4", turns=3.0)):  # fmt: skip
        answer = thread(joint)
        for text in (answer.headline, *answer.cautions, *(step.do for step in answer.steps)):
            for sentence in text.split(". "):
                assert len(sentence.split()) <= 20, sentence
