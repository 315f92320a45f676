"""Canonical JSON, against the examples and the table of numbers that RFC 8785 prints."""

from __future__ import annotations

import json
import math
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.entries import NOW, entry

from fieldkit.joblog.canonical import canonical, number
from fieldkit.joblog.entry import entry_digest

#: RFC 8785, appendix B: bits of an IEEE 754 double, and how it is written.
APPENDIX_B = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


@pytest.mark.parametrize(("bits", "text"), APPENDIX_B)
def test_numbers_are_written_as_in_appendix_b(bits, text):
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert number(value) == canonical(value) == text


@pytest.mark.parametrize("bits", ["7fffffffffffffff", "7ff0000000000000"])
def test_the_two_of_appendix_b_that_are_no_numbers_are_refused(bits):
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    with pytest.raises(ValueError, match="not finite"):
        canonical(value)


def test_the_example_of_section_3_2_comes_out_as_printed():
    """RFC 8785, sections 3.2.2 and 3.2.3."""
    given_ = r"""{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"""
    assert canonical(json.loads(given_)) == (
        '{"literals":[null,true,false],'
        '"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_keys_go_in_the_order_of_their_utf_16_code_units():
    """RFC 8785, section 3.2.3."""
    given_ = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    assert list(json.loads(canonical(given_)).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


@pytest.mark.parametrize(
    "value",
    ["\ud800", ["a\udfff"], {"\udbff": 1}, 2**53 + 1, 10**400, {1: 2}, {"a": object()}, b"a"],
)
def test_what_has_no_canonical_form_is_refused(value):
    """Half a letter (section 3.2.2.2), a number beyond I-JSON (section 3.2.2.3), no JSON."""
    with pytest.raises(ValueError, match=r"canonical form|surrogates|codec"):
        canonical(value)


def test_a_nesting_without_end_is_refused():
    nested: list[object] = []
    for _ in range(100_000):
        nested = [nested]
    with pytest.raises(ValueError, match="canonical"):
        canonical(nested)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@given(JSON)
def test_it_reads_back_as_the_same_and_is_its_own_canonical_form(value):
    try:
        text = canonical(value)
    except ValueError:
        return  # a key with half a letter
    assert json.loads(text, parse_int=float) == value
    assert canonical(json.loads(text)) == text


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_no_figure_of_a_number_is_lost(value):
    """Only the sign of zero goes."""
    assert float(number(value)) == value
    assert "inf" not in number(value)
    assert math.isfinite(float(number(value)))


def test_a_phones_copy_has_the_same_digest():
    """What a browser makes of the numbers of an entry: 68 of 68.0, 0 of -0.0, 1e-7 of 1e-07."""
    made = entry(1, understood=[68.0, -0.0, 1e-07, 1e16, 1e21, 0.00001])
    copied = entry(1, understood=[68, 0, 1e-7, 10000000000000000, 1e21, 1e-5], id=made.id)
    assert entry_digest(made) == entry_digest(copied)


def test_a_whole_number_that_a_browser_would_round_is_refused_at_the_door(log):
    ((_, problem),) = log.append([entry(1, understood=2**53 + 1)], NOW).refused
    assert problem.field == "entry"
    assert "15 figures" in problem.instead
