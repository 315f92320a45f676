"""The ``join`` calculation from requests, in the many forms a person or a program may send."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.problems import OutOfRange, Problem, Refused
from fieldkit.flows.calculations import calculate

PIPE = {"nominal": "1/2 in", "class": "Sch 40"}
ASK = {"pipe": PIPE, "temperature": "70 F", "humidity": "50 %", "pressure": "100 psi"}

KEYS = {
    "verdict", "headline", "cautions", "working", "set_minutes", "cure_minutes", "primer",
    "cement_body", "insert_depth_in", "hold_seconds", "joints_per_quart", "ready_at",
}  # fmt: skip


def join(**changes):
    return calculate("join", {**ASK, **changes}).as_json()


def test_every_key_of_the_contract_is_answered():
    answer = join(made_at="2026-11-25T14:00")
    assert answer.keys() >= KEYS
    json.dumps(answer, allow_nan=False)
    # Two published schedules, ½ in at 60 to 100 °F, to 160 psi: A 2 / 15 min, B 15 min / 1 h.
    assert (answer["set_minutes"], answer["cure_minutes"]) == (15, 60)
    assert answer["ready_at"] == "2026-11-25T15:00"
    assert [row["cure_minutes"] for row in answer["schedules"]] == [15, 60]


@pytest.mark.parametrize(
    ("changes", "minutes"),
    [
        ({"temperature": "20 °C"}, 60),
        ({"temperature": 70}, 60),
        ({"humidity": 75}, 90),
        ({"humidity": "damp"}, 90),
        ({"humidity": "dry"}, 60),
        ({"pressure": "12 bar"}, 360),
        ({"pressure": 0}, 60),
        ({"pipe": {"nominal": 0.5, "class": "40"}}, 60),
        ({"pipe": {"nominal": "½", "class": "Class 200", "material": "PVC"}}, 60),
        ({"pipe": {"nominal": "2"}, "temperature": "38 F", "humidity": "80 %"}, 1440),
    ],
)
def test_the_same_asked_in_other_forms(changes, minutes):
    assert join(**changes)["cure_minutes"] == minutes


@pytest.mark.parametrize(
    ("pipe", "field", "wrong"),
    [
        ({"nominal": "1/2", "class": "SIDR 15"}, "pipe.class", "does not bond polyethylene"),
        ({"nominal": "1/2", "material": "pe"}, "pipe.material", "does not bond polyethylene"),
        ({"nominal": "1/2", "material": "Poly tubing"}, "pipe.material", "does not bond poly"),
        ({"nominal": "1/2", "class": "CPVC"}, "pipe.class", "CPVC needs CPVC cement"),
        ({"nominal": "1/2", "material": "C-PVC"}, "pipe.material", "CPVC needs CPVC cement"),
        ({"nominal": "1/2", "material": "copper"}, "pipe.material", "rigid PVC only"),
        ({"nominal": "1/2", "class": "SDR 11"}, "pipe.class", "not a class of PVC pressure pipe"),
    ],
)
def test_other_plastics_are_refused(pipe, field, wrong):
    with pytest.raises(Refused, match=wrong) as refused:
        join(pipe=pipe)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"pipe": {}}, "pipe.nominal"),
        ({"pipe": "1/2"}, "pipe"),
        ({"pipe": {"nominal": "26 mm"}}, "pipe.nominal"),
        ({"temperature": None}, "temperature"),
        ({"temperature": "-5 F"}, "temperature"),
        ({"temperature": "110 F"}, "temperature"),
        ({"humidity": "120 %"}, "humidity"),
        ({"humidity": "muggy"}, "humidity"),
        ({"pressure": "-1 psi"}, "pressure"),
        ({"pressure": "400 psi"}, "pressure"),
        ({"made_at": "yesterday"}, "made_at"),
        ({"one_step": "perhaps"}, "one_step"),
        ({"dry_fit": "wobbly"}, "dry_fit"),
        ({"forecast": "cold"}, "forecast"),
        ({"temperature": None, "forecast": [{"temperature": "50 F"}]}, "forecast[0].from"),
        ({"temperature": None, "forecast": [{"from": "0 h"}]}, "forecast[0].temperature"),
        (
            {"temperature": None, "forecast": [{"from": "0 h", "temperature": "-5 F"}]},
            "forecast[0].temperature",
        ),
        ({"forecast": [{"from": "soon", "temperature": "50 F"}]}, "forecast[0].from"),
    ],
)
def test_a_problem_names_the_key(changes, field):
    with pytest.raises(Problem, match=r"\w") as told:
        join(**changes)
    assert told.value.field == field


# ── Forecasts: our estimate is half of 1 h at 70 °F and half of 8 h at 38 °F; the coldest hour
# met, 38 °F, asks for 8 h as published, and that rules. ──

HALF_AND_HALF = 30 + 240


@pytest.mark.parametrize(
    ("made_at", "first", "second", "ready_at"),
    [
        ("2026-11-25T14:00", "2026-11-25T14:00", "2026-11-25T14:30", "2026-11-25T22:00"),
        ("2026-11-25T14:00Z", "2026-11-25T14:00", "2026-11-25T07:30-07:00", "2026-11-25T22:00Z"),
        ("2026-11-25T14:00", "2026-11-25T13:00", "2026-11-25T14:30", "2026-11-25T22:00"),
        ("2026-11-25T14:00", "0 h", "30 min", "2026-11-25T22:00"),
        ("2026-11-25T14:00", 0, "+0.5 h", "2026-11-25T22:00"),
        ("2026-11-25T14:00", "14:00", "14:30", "2026-11-25T22:00"),
        ("2026-11-25T23:45", "now", "0:15", "2026-11-26T07:45"),
        (None, "2026-11-25T14:00", "2026-11-25T14:30", "2026-11-25T22:00"),
        (None, "14:00", "14:30", None),
        (None, "0 h", "0.5 h", None),
    ],
)
def test_a_forecast_in_many_forms(made_at, first, second, ready_at):
    rows = [{"from": first, "temperature": "70 F"}, {"from": second, "temperature": "38 F"}]
    answer = join(temperature=None, made_at=made_at, forecast=rows)
    assert answer["cure_minutes_estimate"] == pytest.approx(HALF_AND_HALF)
    assert answer["cure_minutes"] == answer["cure_minutes_coldest"] == 480
    assert answer["ready_at"] == ready_at


def test_a_bare_number_of_no_unit_is_asked_again():
    rows = [{"from": 0, "temperature": "70 F"}, {"from": 6, "temperature": "38 F"}]
    with pytest.raises(Problem, match="counts minutes or hours") as told:
        join(temperature=None, forecast=rows)
    assert told.value.field == "forecast[1].from"


def test_a_forecast_that_starts_late_needs_the_temperature_now():
    rows = [{"from": "1 h", "temperature": "38 F"}]
    with pytest.raises(Problem, match="nothing about the time when the joint was made"):
        join(temperature=None, forecast=rows)
    # 1 h at 70 °F is the whole of its need.
    assert join(temperature="70 F", forecast=rows)["cure_minutes"] == pytest.approx(60)


def test_a_forecast_that_ends_first_gives_no_time_of_readiness():
    rows = [{"from": "0 h", "temperature": "38 F"}]
    answer = join(temperature=None, made_at="2026-11-25T14:00", forecast=rows, forecast_until="2 h")
    assert answer["ready_at"] is None
    assert answer["forecast_reaches"] is False
    assert answer["cure_minutes"] == pytest.approx(480)
    assert "25 %" in answer["headline"]


def test_the_last_row_lasts_a_day_and_says_so():
    rows = [{"from": "0 h", "temperature": "38 F"}]
    answer = join(temperature=None, made_at="2026-11-25T14:00", forecast=rows)
    assert answer["ready_at"] == "2026-11-25T22:00"
    assert any("is taken to last 24 h" in caution for caution in answer["cautions"])
    # 48 h of cure at 250 psi is past that day.
    long = join(temperature=None, made_at="2026-11-25T14:00", forecast=rows, pressure="250 psi")
    assert long["ready_at"] is None
    assert long["cure_minutes"] == pytest.approx(48 * 60)


def test_a_bad_dry_fit_gives_no_time_of_readiness():
    answer = join(dry_fit="falls_off", made_at="2026-11-25T14:00")
    assert (answer["verdict"], answer["ready_at"]) == ("change_part", None)
    assert join(pipe={**PIPE, "od": "0.625 in"})["verdict"] == "change_part"
    assert join(dry_fit=0.5)["verdict"] == "wait"


def test_unknown_keys_are_told():
    assert any("colour" in caution for caution in join(colour="purple")["cautions"])


@given(
    st.dictionaries(
        st.sampled_from(
            ["pipe", "temperature", "humidity", "pressure", "one_step", "made_at", "forecast",
             "dry_fit", "forecast_until", "sun"]
        ),
        st.recursive(
            st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20)
            | st.sampled_from(["1/2", "70 F", "6 h", "2026-11-25T14:00", "14:00"]),
            lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
                st.sampled_from(["nominal", "class", "material", "from", "temperature", "od"]),
                inner, max_size=3,
            ),
            max_leaves=6,
        ),
    )
)  # fmt: skip
def test_anything_at_all_is_answered_or_told(body):
    try:
        told = calculate("join", {"pipe": PIPE, "temperature": "70 F", **body}).as_json()
    except Problem as found:
        told = found.as_dict()
    assert told.get("headline") or (told["wrong"] and told["instead"])
    assert "headline" not in told or json.dumps(told, allow_nan=False)


def test_the_refusal_in_the_cold_says_what_would_do():
    with pytest.raises(OutOfRange, match="Make the joint indoors"):
        join(temperature="-10 F")
    with pytest.raises(OutOfRange, match="Shade the parts"):
        join(temperature="105 F")
