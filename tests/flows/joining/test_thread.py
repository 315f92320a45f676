"""The ``thread`` calculation from requests, in the many forms a person may write a thread."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.problems import Problem
from fieldkit.flows.calculations import calculate

ASK = {
    "size": "1/2 in",
    "male": "plastic",
    "female": "plastic",
    "turns_past_hand_tight": 1.5,
    "sealant": "tape",
}


def thread(**changes):
    return calculate("thread", {**ASK, **changes}).as_json()


def test_every_key_of_the_contract_is_answered():
    answer = thread()
    assert answer.keys() >= {
        "verdict", "headline", "cautions", "working", "turns_min", "turns_max", "wraps",
        "hoop_stress_psi",
    }  # fmt: skip
    json.dumps(answer, allow_nan=False)
    # By hand: 400,000 psi × (1/14/16) × 1.5 / 0.77843 in.
    assert answer["hoop_stress_psi"] == pytest.approx(3441, abs=1)
    assert (answer["turns_min"], answer["turns_max"], answer["verdict"]) == (1, 1.5, "ok")


@pytest.mark.parametrize(
    ("size", "nominal", "form"),
    [
        ("1/2", "1/2", "npt"), (0.5, "1/2", "npt"), ('1/2"', "1/2", "npt"),
        ("½ in", "1/2", "npt"), ("1/2 in NPT", "1/2", "npt"), ("1-1/2-11.5 NPT", "1-1/2", "npt"),
        ("1-11.5 NPT", "1", "npt"), ("3/4 FIPT", "3/4", "npt"), ("3/4-11.5 NH", "3/4", "hose"),
        ("3/4 hose", "3/4", "hose"), ("3/4 in. garden hose thread", "3/4", "hose"),
        ("3/4 MHT", "3/4", "hose"), ("3/4-8 NH", "3/4", "fire hose"), ("G 3/4", "3/4", "g"),
        ("G1/2", "1/2", "g"), ("R 3/4", "3/4", "r"), ("Rc 1", "1", "r"), ("Rp 1/2", "1/2", "r"),
        ("1 in BSPT", "1", "r"), ("1/2 BSPP", "1/2", "g"), ("R½", "1/2", "r"),
        ("3/4 BSP taper", "3/4", "r"), ("2 BSP parallel", "2", "g"),
    ],
)  # fmt: skip
def test_sizes_as_people_write_them(size, nominal, form):
    answer = thread(size=size, turns_past_hand_tight=None, sealant=None)
    assert (answer["size"], answer["male_thread"], answer["female_thread"]) == (nominal, form, form)


@pytest.mark.parametrize(
    ("male", "female", "verdict"),
    [
        ("PVC", "pvc", "ok"), ("nylon", "brass", "ok"), ("brass", "PVC", "wrong_pair"),
        ("galvanized steel", "plastic valve body", "too_tight"), ("steel", "reinforced PVC", "ok"),
        ("plastic", "brass valve", "ok"), ("hose", "npt", "does_not_match"),
        ("brass hose thread", "PVC FIPT", "does_not_match"),
    ],
)  # fmt: skip
def test_materials_as_people_say_them(male, female, verdict):
    assert thread(size="3/4", male=male, female=female)["verdict"] == verdict


@pytest.mark.parametrize(
    ("sealant", "read"),
    [
        ("PTFE tape", "tape"), ("tape", "tape"), ("paste", "paste"), ("both", "tape and paste"),
        ("tape + paste", "tape and paste"), ("pipe dope", "oil paste"), ("glue", "cement"),
        ("rubber washer", "washer"), ("none", "none"), (False, "none"),
    ],
)  # fmt: skip
def test_sealants_as_people_say_them(sealant, read):
    assert thread(sealant=sealant)["sealant"] == read


def test_threads_may_be_told_side_by_side():
    answer = thread(size="3/4", male_thread="NPT", female_thread="swivel", sealant="washer",
                    turns_past_hand_tight=0)  # fmt: skip
    assert answer["verdict"] == "ok"
    mixed = thread(size="3/4", male_thread="hose", female_thread="npt")
    assert mixed["verdict"] == "does_not_match"
    assert "adapter" in mixed["adapter"]


def test_what_was_not_given_is_assumed_in_the_open():
    answer = calculate("thread", {"size": "1/2"}).as_json()
    assumed = [row["name"] for row in answer["working"] if "assumed" in row["formula"]]
    assert assumed == ["male", "female", "turns"]
    assert answer["turns_past_hand_tight"] == 1.5


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"size": None}, "size"), ({"size": "5/8"}, "size"), ({"size": "25 mm"}, "size"),
        ({"size": "1/2 hose"}, "size"), ({"size": "1/2 BSP"}, "size"),
        ({"male": "wood"}, "male"), ({"female": 3}, "female"),
        ({"sealant": "gum"}, "sealant"), ({"turns_past_hand_tight": -1}, "turns_past_hand_tight"),
        ({"turns_past_hand_tight": "many"}, "turns_past_hand_tight"),
        ({"male_thread": "acme"}, "male_thread"),
    ],
)  # fmt: skip
def test_a_problem_names_the_key(changes, field):
    with pytest.raises(Problem, match=r"\w") as told:
        thread(**changes)
    assert told.value.field == field


@given(
    st.dictionaries(
        st.sampled_from([*ASK, "male_thread", "female_thread"]),
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=30)
        | st.lists(st.text(max_size=3), max_size=2)
        | st.sampled_from(["3/4", "3/4-11.5 NH", "hose", "metal", "plastic valve", "tape"]),
    )
)  # fmt: skip
def test_anything_at_all_is_answered_or_told(body):
    try:
        told = calculate("thread", {**ASK, **body}).as_json()
    except Problem as found:
        told = found.as_dict()
    assert told.get("headline") or (told["wrong"] and told["instead"])
    assert "headline" not in told or json.dumps(told, allow_nan=False)
