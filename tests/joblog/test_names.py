"""Names that look alike. The pairs are from Unicode's own table (UTS #39, confusables.txt 15.1)."""

from __future__ import annotations

import pytest

from fieldkit.engine.problems import Problem
from fieldkit.joblog.names import look_alike, read_name, same_name

#: A name, and one that looks like it: letters of another alphabet, unseen ones, twins of a face.
PAIRS = [
    ("Bill", "Bil\uffe8"),
    ("Ann Lee", "\u0410nn Lee"),  # Cyrillic A
    ("Ann Lee", "Ann\u200b Lee"),  # zero-width space
    ("Ann Lee", "Ann\u2060 Lee"),  # word joiner
    ("Ann Lee", "Ann\ufe0f Lee"),  # variation selector
    ("Ann Lee", "Ann\u3000\u00a0Lee"),  # other blanks
    ("Ann Lee", "\uff21nn Lee"),  # full width
    ("Ann Lee", "\U0001d400nn Lee"),  # mathematical bold
    ("Paul", "PauI"),
    ("Paul", "Pau1"),
    ("Bob", "\u0412\u043e\u0432"),  # all Cyrillic, as capitals read
    ("BOB", "\u0412\u041e\u0412"),
    ("Oscar", "0scar"),
    ("Marn", "Mam"),
    ("O'Brien", "O\u2019Brien"),
    ("Jos\u00e9", "Jose\u0301"),
]


@pytest.mark.parametrize(("name", "twin"), PAIRS)
def test_a_twin_is_seen(name, twin):
    assert look_alike(name, twin)
    assert look_alike(twin, name)


@pytest.mark.parametrize(
    ("one", "other"),
    [("Ann", "Anna"), ("José", "Jose"), ("Peña", "Pena"), ("Ann Lee", "Annlee"), ("Иван", "Ivan")],
)
def test_names_that_differ_differ(one, other):
    assert not look_alike(one, other)
    assert same_name(one) != same_name(other)


@pytest.mark.parametrize(
    "name",
    [
        "José Ñúñez",
        "O’Brien-Smith",
        "Иван Петров",
        "山田 たろう",
        "김철수",
        "Łukasz",
        "Nguyễn Văn A",
    ],
)
def test_people_of_one_alphabet_are_called_as_they_are(name):
    assert read_name(f"  {name} ") == name
    assert same_name(name.upper()) == same_name(name)


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("", "1 to 80"),
        ("x" * 81, "1 to 80"),
        ("Ann\u200bLee", "nobody can see"),
        ("Ann\u202eeeL", "nobody can see"),
        ("Ann\u3164", "nobody can see"),
        ("\u0410nn", "two alphabets"),
        ("Annα", "two alphabets"),
    ],
)
def test_a_name_that_passes_for_another_is_refused(name, why):
    with pytest.raises(Problem, match=why):
        read_name(name)
