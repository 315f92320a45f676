"""What people type is read in one way only, or asked again in one plain sentence."""

from __future__ import annotations

import contextlib
import csv
import math
import unicodedata
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Figure, Span
from fieldkit.tables.load import text_of
from fieldkit.typed import amounts, answers, units

# ── Read exactly ─────────────────────────────────────────────────────────────────────────────

# Expected values are arithmetic on the definitions: 1 in = 25.4 mm, 1 ft = 12 in.
LENGTHS = [
    ("11/16", 0.6875),
    ('1-1/16"', 1.0625),
    ("1 1/16 in", 1.0625),
    ("1–1/16 in", 1.0625),
    ("1- 1/16 in", 1.0625),
    ("½ in", 0.5),
    ("1½", 1.5),
    ("1-½", 1.5),
    ("1⁄2 in", 0.5),
    (".700", 0.7),
    ("0.700", 0.7),
    ("5.", 5.0),
    ('0.700"', 0.7),
    ("0.700”", 0.7),
    ("0.700″", 0.7),
    ("0.700''", 0.7),
    ("0.700 in.", 0.7),
    ("0.700 INCHES", 0.7),
    ("1/2-inch", 0.5),
    ("25.4 mm", 1.0),
    ("25.4mm", 1.0),
    ("2.54 cm", 1.0),
    ("0.0254 m", 1.0),
    ("1 yd", 36.0),
    ("6'", 72.0),
    ("6’ 2 1/2”", 74.5),
    ("6'-2\"", 74.0),
    ("6 ft 2 in", 74.0),
    ("6 ft. 2 in.", 74.0),
    ("1,234.5 in", 1234.5),
    ("1,234,567 in", 1234567.0),
    ("+3 in", 3.0),
    ("-1 1/2 in", -1.5),
    ("−1/2", -0.5),
    ("1e-3", 0.001),
    ("１１／１６ in", 0.6875),  # full-width
    ("٠٫٧ in", 0.7),  # Arabic-Indic digits with their decimal sign
    ("\u200b0.700 in\ufeff", 0.7),  # no-width characters around
    ("0.7\u200b00\u2009in", 0.7),
    ("\u20680.700 in\u2069", 0.7),
    ("  0.700\tin\n", 0.7),
    (0.7, 0.7),
    (1, 1.0),
]


@pytest.mark.parametrize(("typed", "inches"), LENGTHS)
def test_a_length_is_read_exactly(typed: object, inches: float) -> None:
    assert answers.read_quantity(typed, "in", field="od") == inches


# NIST Special Publication 811 (2008), appendix B.8, conversion factors, as printed there.
NIST_SP_811 = [
    ("1 psi", "kPa", 6.894757),
    ("1 bar", "kPa", 100.0),
    ("1 kg/cm2", "kPa", 98.0665),
    ("1 lbf", "N", 4.448222),
    ("1 gpm", "L/s", 6.309020e-02),
    ("1 gpm", "m3/s", 6.309020e-05),
    ("1 ft/s", "m/s", 0.3048),
    ("1 yd", "m", 0.9144),
    ("1 ft", "m", 0.3048),
    ("1 in", "cm", 2.54),
]


@pytest.mark.parametrize(("typed", "unit", "printed"), NIST_SP_811)
def test_units_agree_with_nist_sp_811(typed: str, unit: str, printed: float) -> None:
    assert answers.read_quantity(typed, unit, field="x") == pytest.approx(printed, rel=1e-6)


# Fixed points of the temperature scales: melting ice, steam, −40, and 20 °C = 68 °F.
TEMPERATURES = [
    ("68F", 68.0),
    ("68 °F", 68.0),
    ("68 deg F", 68.0),
    ("68 degrees Fahrenheit", 68.0),
    ("68 º F", 68.0),
    ("20 °C", 68.0),
    ("20C", 68.0),
    ("20 ℃", 68.0),
    ("-5 C", 23.0),
    ("−5 C", 23.0),
    ("–5 C", 23.0),
    ("0 °C", 32.0),
    ("100 C", 212.0),
    ("-40 C", -40.0),
    ("293.15 K", 68.0),
    (68, 68.0),
]


@pytest.mark.parametrize(("typed", "fahrenheit"), TEMPERATURES)
def test_a_temperature_is_read_with_its_offset(typed: object, fahrenheit: float) -> None:
    assert answers.read_quantity(typed, "°F", field="t") == fahrenheit


OTHERS = [
    ("2 bar", "psi", 29.007547546),
    ("200 kPa", "psi", 29.007547546),
    ("0.2 MPa", "psi", 29.007547546),
    ("30 PSI", "psi", 30.0),
    ("30 psig", "psi", 30.0),
    ("5 gpm", "gpm", 5.0),
    ("300 gph", "gpm", 5.0),
    ("5 gallons per minute", "gpm", 5.0),
    ("5 GAL / MIN", "gpm", 5.0),
    ("3.785411784 L/min", "gpm", 1.0),
    ("3.785411784 l/h", "gph", 1.0),
    ("3785.411784 ml/min", "gpm", 1.0),
    ("90", "min", 90.0),
    ("2 h", "min", 120.0),
    ("2 hours", "h", 2.0),
    ("2 days", "h", 48.0),
    ("30 s", "min", 0.5),
    ("1h30", "min", 90.0),
    ("1 h 30 min", "min", 90.0),
    ("1 h, 30 m", "min", 90.0),
    ("2 days 6 h", "h", 54.0),
    ("50 %", "%", 50.0),
    ("50", "%", 50.0),
    ("50 percent", "%", 50.0),
    ("0.3048 m/s", "ft/s", 1.0),
    ("5 fps", "ft/s", 5.0),
    ("1 1/2", "turns", 1.5),
    ("1 turn", "turns", 1.0),
    ("0.54", "", 0.54),
]


@pytest.mark.parametrize(("typed", "unit", "value"), OTHERS)
def test_other_kinds_are_read(typed: str, unit: str, value: float) -> None:
    assert answers.read_quantity(typed, unit, field="x") == pytest.approx(value, rel=1e-10)


# ── Asked again ──────────────────────────────────────────────────────────────────────────────

REFUSED = [
    ("17,8 mm", "in", "can be read as 17.8 or as 178. Use a point and no comma: 17.8 mm."),
    ("1,200 ft", "ft", "can be read as 1.200 or as 1200.*: 1200 ft or 1.200 ft."),
    ("0,5", "in", "can be read as 0.5 or as 5"),
    ("1.200,5 mm", "in", "cannot be read as one number"),
    ("68°", "°F", "can be read as °F or as °C. Add the letter"),
    ("1:30", "min", "can be read as hours and minutes or as minutes and seconds"),
    ("0.2 mpa", "psi", "unit that is not known here: mpa"),
    ("30 lb", "psi", "Units that work: psi, bar"),
    ("30 psi", "in", "is a pressure, and a length is asked here. Give a length, such as 0.700"),
    ("5 m", "min", "is a length, and a length of time is asked"),
    ("5 ft", "ft/s", "is a length, and a speed is asked"),
    ("5 psi", "", "is a pressure, and a plain number is asked"),
    ("5 apples", "", "Give a number without a unit"),
    ("", "in", "Nothing was typed here"),
    (" \u200b ", "in", "Nothing was typed here"),
    ("nan", "in", "cannot be read as one number"),
    ("inf", "in", "cannot be read as one number"),
    ("-Infinity", "in", "cannot be read as one number"),
    ("1e400", "in", "larger than any real measurement"),
    ("1e308 yd", "in", "larger than any real measurement"),
    ("9**9**9", "in", "cannot be read as one number"),
    ("9" * 10_000, "in", "too long for one number"),
    ("1/0", "in", "is not a fraction"),
    ("1 17/16", "in", "is not a fraction"),
    ("1/2/3", "in", "cannot be read"),
    ("1.2.3", "in", "cannot be read"),
    ("5-6 in", "in", "cannot be read"),
    ("1 200 ft", "in", "cannot be read"),
    ("1_000", "in", "cannot be read"),
    ("½½", "in", "cannot be read"),
    ("5²", "in", "cannot be read|not known"),
    ("5 ft 6", "in", "cannot be read"),
    ("5 ft 13 in", "in", "cannot be read"),
    ("1.5 h 30 min", "min", "cannot be read"),
    ("-1 h 30 min", "min", "cannot be read"),
    ("30 min 1 h", "min", "cannot be read"),
    ("0.7 in 0.8 in", "in", "not known|cannot be read"),
    ("1\x00 in", "in", "cannot be seen"),
    ("0.7\nin", "in", "cannot be seen"),
    ("\u202e0.7 in", "in", "cannot be seen"),
    ("\ud800", "in", "cannot be seen"),
    ("שלום", "in", "cannot be read"),
    ("אחד 1 in", "in", "cannot be read"),
    ("-600 F", "°F", "colder than anything can be"),
    (True, "in", "True or false is not a number"),
    (False, "in", "True or false is not a number"),
    (None, "in", "Nothing was given"),
    ([0.7], "in", "not one number"),
    ({"od": 1}, "in", "not one number"),
    (float("nan"), "in", "not a finite number"),
    (-math.inf, "in", "not a finite number"),
    pytest.param(10**400, "in", "larger than any real", id="400 digits"),
    pytest.param(10**5000, "in", "larger than any real", id="5000 digits"),
]


@pytest.mark.parametrize(("typed", "unit", "sentence"), REFUSED)
def test_what_cannot_be_read_is_asked_again(typed: object, unit: str, sentence: str) -> None:
    with pytest.raises(Problem, match=sentence) as caught:
        answers.read_quantity(typed, unit, field="pvc.od")
    _is_fit_to_show(caught.value, "pvc.od")


def _is_fit_to_show(problem: Problem, field: str) -> None:
    """Three beats, each short; what was given comes back, cut, and any page can carry it."""
    assert problem.field == field
    assert 0 < len(problem.wrong.split()) < 20
    assert 0 < len(problem.instead.split()) < 20
    assert problem.wrong.endswith(".")
    assert problem.instead.endswith(".")
    assert len(str(problem.given)) <= 81
    str(problem.as_dict()).encode("utf-8")
    shown = f"{problem.wrong}{problem.given}"
    assert not any(
        unicodedata.category(one) in {"Cc", "Cs"} for one in shown if one not in "\r\n\t"
    )
    assert not set(shown) & set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def test_the_given_comes_back_as_typed() -> None:
    with pytest.raises(Problem, match="can be read as") as caught:
        answers.read_quantity("17,8 mm", "in", field="od")
    assert caught.value.given == "17,8 mm"


@pytest.mark.parametrize(
    ("typed", "bounds", "sentence"),
    [
        ("5 bar", {"at_most": 10.0}, "“5 bar” is more than 10 psi. Give 10 psi or less."),
        (5, {"at_least": 7.5}, "“5” is less than 7.5 psi. Give 7.5 psi or more."),
        ("-1 psi", {"at_least": 0.0}, "“-1 psi” is less than 0 psi."),
    ],
)
def test_bounds_are_said_in_the_unit_asked(
    typed: object, bounds: dict[str, float], sentence: str
) -> None:
    with pytest.raises(OutOfRange, match=sentence):
        answers.read_quantity(typed, "psi", field="pressure", **bounds)


def test_bounds_themselves_are_allowed_after_conversion() -> None:
    assert answers.read_quantity("0 °C", "°F", field="t", at_least=32.0, at_most=32.0) == 32.0


# ── Any text at all ──────────────────────────────────────────────────────────────────────────

TYPED = st.one_of(
    st.text(),
    st.text(alphabet="0123456789./,-+ e½¼'\"°FCinmftpsibarhg%\u200b\u202e٣", max_size=80),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
        max_leaves=5,
    ),
)


@given(TYPED, st.sampled_from(sorted(answers.EXAMPLES)))
@example("1e9999 in", "in")
def test_anything_typed_ends_in_a_number_or_a_problem(typed: object, unit: str) -> None:
    try:
        value = answers.read_quantity(typed, unit, field="x")
    except Problem as problem:
        _is_fit_to_show(problem, "x")
    else:
        assert isinstance(value, float)
        assert math.isfinite(value)


@given(TYPED)
def test_the_other_readers_end_in_a_value_or_a_problem_too(typed: object) -> None:
    for read in (
        lambda: answers.read_choice(typed, ["a", "b c"], field="x"),
        lambda: answers.read_flag(typed, field="x"),
        lambda: answers.read_whole(typed, field="x", at_least=0, at_most=50),
        lambda: answers.read_text(typed, field="x", limit=100),
        lambda: answers.read_nominal(typed, field="x"),
        lambda: answers.read_pipe_class(typed, field="x"),
    ):
        try:
            read()
        except Problem as problem:
            _is_fit_to_show(problem, "x")


def test_long_text_is_measured_and_not_looked_through(monkeypatch: pytest.MonkeyPatch) -> None:
    """The work is bounded by counting it: no character of an overlong text is examined."""
    looked_at = 0
    real = amounts._plain_character

    def counting(one: str) -> str:
        nonlocal looked_at
        looked_at += 1
        return real(one)

    monkeypatch.setattr(amounts, "_plain_character", counting)
    for typed in ("9" * 10_000, "1/" * 5_000, "9 " * 30, "9" * amounts.LONGEST):
        with contextlib.suppress(Problem):
            answers.read_quantity(typed, "in", field="x")
    assert looked_at <= 2 * amounts.LONGEST


# ── What formatting gives, reading gives back ────────────────────────────────────────────────

UNIT_NAMES = sorted(name for name in answers.EXAMPLES if name not in {"°F", "°C"})


@given(
    st.floats(min_value=-999, max_value=999),
    st.sampled_from(UNIT_NAMES),
    st.integers(min_value=0, max_value=4),
)
def test_a_figure_reads_back(value: float, unit: str, places: int) -> None:
    figure = Figure(value, unit, places)
    assert answers.read_quantity(str(figure), unit, field="x") == float(f"{value:.{places}f}")


@given(st.floats(min_value=1000, max_value=9e8), st.integers(min_value=1, max_value=3))
def test_a_large_figure_reads_back_with_its_commas(value: float, places: int) -> None:
    figure = Figure(value, "ft", places)
    assert answers.read_quantity(str(figure), "ft", field="x") == float(f"{value:.{places}f}")


@given(st.integers(min_value=1, max_value=60 * 24 * 60))
def test_a_span_reads_back(minutes: int) -> None:
    assert answers.read_quantity(str(Span(minutes)), "min", field="x") == minutes


@given(st.integers(0, 40), st.integers(0, 63), st.sampled_from(["-", " "]))
def test_a_mixed_number_reads_back(whole: int, sixty_fourths: int, joint: str) -> None:
    typed = f"{whole}{joint}{sixty_fourths}/64 in"
    expected = float(whole + Fraction(sixty_fourths, 64))
    assert answers.read_quantity(typed, "in", field="x") == expected


measurable = st.floats(1e-9, 1e9) | st.floats(-1e9, -1e-9) | st.just(0.0)


@pytest.mark.parametrize("given", [1e-10, -1e-10, 1.1e9, -1.1e9, "1e-10", "1e10 ft", "1e400"])
def test_no_real_measurement_is_so_large_or_so_small(given: object) -> None:
    with pytest.raises(Problem, match="than any real measurement"):
        answers.read_quantity(given, "ft", field="x")


@given(measurable)
def test_a_bare_number_is_itself_as_text_and_as_json(value: float) -> None:
    assert answers.read_quantity(value, "psi", field="x") == value
    assert answers.read_quantity(repr(value), "psi", field="x") == value


@given(st.floats(min_value=0.001, max_value=1e6), st.sampled_from(sorted(units.OFFERED)))
def test_converting_there_and_back_changes_nothing(value: float, kind: str) -> None:
    names = units.OFFERED[kind].split(", ")
    first, last = (units.unit_of(name) for name in (names[0], names[-1]))
    assert first is not None
    assert last is not None
    there = units.convert(value, first, last)
    assert units.convert(there, last, first) == pytest.approx(value, rel=1e-10, abs=1e-9)


@pytest.mark.parametrize(("unit", "typed"), sorted(answers.EXAMPLES.items()))
def test_each_example_is_read_in_its_own_unit(unit: str, typed: str) -> None:
    number = float(typed.split(" ", maxsplit=1)[0])
    assert answers.read_quantity(typed, unit, field="x") == number


@pytest.mark.parametrize("kind", sorted(units.OFFERED))
def test_each_unit_offered_is_known_and_of_its_kind(kind: str) -> None:
    for name in units.OFFERED[kind].split(", "):
        unit = units.unit_of(name)
        assert unit is not None
        assert (unit.kind, unit.name) == (kind, name)


# ── Sizes and classes ────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("typed", "size"),
    [
        ("1/2", "1/2"),
        ("½", "1/2"),
        ("0.5", "1/2"),
        ("0.5 in", "1/2"),
        ('1/2"', "1/2"),
        ("1/2 inch", "1/2"),
        (0.5, "1/2"),
        (".75", "3/4"),
        ("1", "1"),
        (1, "1"),
        (1.0, "1"),
        ("1 1/4", "1-1/4"),
        ("1-1/4", "1-1/4"),
        ("1¼", "1-1/4"),
        ("1.25", "1-1/4"),
        ("5/4", "1-1/4"),
        (1.5, "1-1/2"),
        ("2 1/2 in.", "2-1/2"),
        ("0.125", "1/8"),
        ("1/4", "1/4"),
        ("3/8", "3/8"),
        ("5/8", "5/8"),
        ("4", "4"),
        ("25 mm", "25 mm"),
        ("16mm", "16 mm"),
    ],
)
def test_a_trade_size_is_written_as_in_the_tables(typed: object, size: str) -> None:
    assert answers.read_nominal(typed, field="pvc.nominal") == size
    assert answers.read_nominal(size, field="pvc.nominal") == size


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("16", "If millimeters are meant, type 16 mm"),
        (25, "type 25 mm"),
        ("0.7", "not a trade size"),
        ("12.7 mm", "not a trade size"),
        ("1 ft", "not a trade size"),
        ("1 ft 1 in", "not a trade size"),
        ("-1/2", "not a trade size"),
        ("0", "not a trade size"),
        ("30 psi", "is a pressure"),
        (None, "Nothing was given"),
        (True, "not a number"),
    ],
)
def test_other_sizes_are_asked_again(typed: object, sentence: str) -> None:
    with pytest.raises(Problem, match=sentence) as caught:
        answers.read_nominal(typed, field="pvc.nominal")
    _is_fit_to_show(caught.value, "pvc.nominal")


@pytest.mark.parametrize(
    ("typed", "pipe_class"),
    [
        ("Sch 40", "Sch 40"),
        ("sch40", "Sch 40"),
        ("SCH. 80", "Sch 80"),
        ("schedule 40", "Sch 40"),
        ("PVC Sch 40", "Sch 40"),
        ("40", "Sch 40"),
        (40, "Sch 40"),
        (80.0, "Sch 80"),
        ("SDR 21", "SDR 21"),
        ("sdr21", "SDR 21"),
        ("SDR-13.5", "SDR 13.5"),
        ("DR 11", "DR 11"),
        ("SIDR 15", "SIDR-15"),
        ("sidr-11.5", "SIDR-11.5"),
        ("PN 12.5", "PN 12.5"),
    ],
)
def test_a_pipe_class_is_written_as_in_the_tables(typed: object, pipe_class: str) -> None:
    assert answers.read_pipe_class(typed, field="pvc.class") == pipe_class
    assert answers.read_pipe_class(pipe_class, field="pvc.class") == pipe_class


# ASTM D2241: rating = 2 × 2000 psi / (SDR − 1), printed rounded as the class.
@pytest.mark.parametrize("printed", [315, 250, 200, 160, 125, 100])
def test_a_class_is_the_ratio_whose_rating_it_is(printed: int) -> None:
    ratio = float(answers.read_pipe_class(f"Class {printed}", field="x").removeprefix("SDR "))
    assert 2 * 2000 / (ratio - 1) == pytest.approx(printed, rel=0.02)


@pytest.mark.parametrize("typed", ["21", "class 40", "Sch 41", "SDR 13,5", "SDR 0", "", None, [40]])
def test_other_classes_are_asked_again(typed: object) -> None:
    with pytest.raises(Problem, match=r"not a pipe class|Nothing was") as caught:
        answers.read_pipe_class(typed, field="pvc.class")
    _is_fit_to_show(caught.value, "pvc.class")


def test_the_tables_pipe_classes_and_sizes_read_as_themselves() -> None:
    for row in csv.DictReader(text_of("pipes").splitlines()):
        assert answers.read_nominal(row["nominal"], field="x") == row["nominal"]
        if any(one.isdigit() for one in row["pipe_class"]):  # no request asks by a letter alone
            assert answers.read_pipe_class(row["pipe_class"], field="x") == row["pipe_class"]


# ── Choices, flags, counts, text ─────────────────────────────────────────────────────────────


@pytest.mark.parametrize("typed", ["hazen_williams", "Hazen-Williams", " HAZEN WILLIAMS "])
def test_a_choice_is_read_in_any_case(typed: str) -> None:
    found = answers.read_choice(typed, ["darcy", "hazen_williams"], field="method")
    assert found == "hazen_williams"


def test_a_choice_of_numbers_takes_a_json_number() -> None:
    assert answers.read_choice(2, ["1", "2"], field="branches") == "2"


@pytest.mark.parametrize("typed", ["tape", True, None, 3, ["caliper"], "x" * 10_000])
def test_another_choice_names_the_choices(typed: object) -> None:
    with pytest.raises(Problem, match="Choose one of: caliper, strip") as caught:
        answers.read_choice(typed, ["caliper", "strip"], field="method")
    _is_fit_to_show(caught.value, "method")


@pytest.mark.parametrize(
    ("typed", "flag"),
    [
        (True, True),
        (False, False),
        ("Yes", True),
        ("NO", False),
        ("true", True),
        (1, True),
        (0, False),
    ],
)
def test_a_flag_is_yes_or_no(typed: object, flag: bool) -> None:
    assert answers.read_flag(typed, field="buried") is flag


@pytest.mark.parametrize("typed", ["maybe", None, 2, [], pytest.param(10**5000, id="5000 digits")])
def test_neither_yes_nor_no_is_asked_again(typed: object) -> None:
    with pytest.raises(Problem, match="neither yes nor no"):
        answers.read_flag(typed, field="buried")


@pytest.mark.parametrize(("typed", "count"), [("4", 4), (4, 4), (4.0, 4), ("٤", 4), ("1e1", 10)])
def test_a_count_is_whole(typed: object, count: int) -> None:
    found = answers.read_whole(typed, field="count", at_least=0, at_most=10)
    assert (found, type(found)) == (count, int)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("4.5", "not a whole number"),
        (11, "more than 10"),
        (-1, "less than 0"),
        (True, "not a number"),
        ("four", "cannot be read"),
    ],
)
def test_other_counts_are_asked_again(typed: object, sentence: str) -> None:
    with pytest.raises(Problem, match=sentence):
        answers.read_whole(typed, field="count", at_least=0, at_most=10)


@pytest.mark.parametrize(
    ("typed", "text"),
    [
        ("  Valve box 3 ", "Valve box 3"),
        ("one\r\ntwo\rthree", "one\ntwo\nthree"),
        ("צינור דולף", "צינור דולף"),
        ("می\u200cچکد", "می\u200cچکد"),  # Persian needs its no-width joint
        ("leak \u202e!won\u202c now", "leak !won now"),  # would show as "now!" reversed
        ("e\u0301", "\u00e9"),  # one spelling, so that a search finds it
        (40, "40"),
        ("👩\u200d🔧", "👩\u200d🔧"),
        ("   ", ""),
    ],
)
def test_text_is_kept_in_any_script(typed: object, text: str) -> None:
    assert answers.read_text(typed, field="note", limit=50) == text


@pytest.mark.parametrize("typed", ["a\x00b", "a\x1b[2J", "\ud83d", "a\ufffe"])
def test_text_that_no_page_can_carry_is_asked_again(typed: str) -> None:
    with pytest.raises(Problem, match="cannot be shown") as caught:
        answers.read_text(typed, field="note", limit=50)
    _is_fit_to_show(caught.value, "note")


@pytest.mark.parametrize("length", [51, 10_000])
def test_long_text_is_refused_and_not_cut_in_silence(length: int) -> None:
    with pytest.raises(Problem, match="Shorten it to 50"):
        answers.read_text("x" * length, field="note", limit=50)
