"""A request is read by name and type, and what nobody read is told."""

from __future__ import annotations

import pytest

from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.typed.request import Request


@pytest.mark.parametrize("body", [None, [], "od", 7, True, [{"od": 1}]])
def test_a_request_must_be_named_values(body: object) -> None:
    with pytest.raises(Problem, match="not a set of named values") as caught:
        Request(body)
    assert caught.value.field == "request"


def test_a_problem_names_the_nested_key() -> None:
    request = Request({"pvc": {"nominal": "7/16"}, "forecast": [{}, {"temperature": "5 psi"}]})
    with pytest.raises(Problem, match="not a trade size") as caught:
        request.child("pvc").nominal("nominal")
    assert caught.value.field == "pvc.nominal"
    with pytest.raises(Problem, match="a temperature is asked") as caught:
        request.children("forecast")[1].quantity("temperature", "°F")
    assert caught.value.field == "forecast[1].temperature"


@pytest.mark.parametrize("body", [{}, {"od": None}, {"od": ""}, {"od": "  "}])
def test_nothing_given_is_the_default_or_a_problem_with_an_example(body: dict[str, object]) -> None:
    request = Request(body)
    assert not request.has("od")
    assert request.quantity("od", "in") is None
    assert request.quantity("od", "in", default=0.7) == 0.7
    assert request.choice("od", ["a"], default="a") == "a"
    assert request.flag("od") is None
    assert request.whole("od", default=3) == 3
    assert request.text("od", default="none") == "none"
    assert request.nominal("od") is None
    assert request.pipe_class("od", default="Sch 40") == "Sch 40"
    with pytest.raises(Problem, match=r"Give a value, such as 0\.700 in"):
        request.need_quantity("od", "in")
    with pytest.raises(Problem, match=r'such as \["0.700 in"\]'):
        request.quantities("od", "in")


def test_false_and_nought_are_given() -> None:
    request = Request({"buried": False, "count": 0})
    assert request.has("buried")
    assert request.flag("buried", default=True) is False
    assert request.whole("count", default=4) == 0


def test_bounds_hold() -> None:
    with pytest.raises(OutOfRange, match="more than 1 in"):
        Request({"od": "50 mm"}).quantity("od", "in", at_most=1.0)


def test_one_value_stands_for_a_list_of_one() -> None:
    assert Request({"readings": "0.700 in"}).quantities("readings", "in") == (0.7,)
    assert Request({"readings": 0.7}).quantities("readings", "in") == (0.7,)


def test_a_list_names_the_item_that_is_wrong_and_has_an_end() -> None:
    request = Request({"readings": ["0.700", "0,701"], "many": [1] * 51, "few": []})
    with pytest.raises(Problem, match="can be read as") as caught:
        request.quantities("readings", "in")
    assert caught.value.field == "readings[1]"
    with pytest.raises(Problem, match="51 values were given here"):
        request.quantities("many", "in")
    with pytest.raises(Problem, match="0 values"):
        request.quantities("few", "in")


@pytest.mark.parametrize("given", ["text", {"a": 1}, 3, True])
def test_a_list_of_objects_must_be_one(given: object) -> None:
    with pytest.raises(Problem, match="not a list"):
        Request({"parts": given}).children("parts")


def test_a_list_of_objects_has_an_end() -> None:
    with pytest.raises(Problem, match="Give 200 or fewer"):
        Request({"parts": [{}] * 201}).children("parts")


def test_a_missing_child_is_empty() -> None:
    request = Request({})
    assert request.child("pvc").nominal("nominal") is None
    assert request.children("parts") == ()


def test_what_nobody_read_is_told_with_its_place() -> None:
    request = Request({"od": 0.7, "odd": 1, "pvc": {"nominal": "1/2", "clas": 40}})
    request.quantity("od", "in")
    request.child("pvc").nominal("nominal")
    assert request.unused() == ("odd", "pvc.clas")


def test_a_strange_key_is_told_in_characters_a_page_can_carry() -> None:
    (key,) = Request({"\ud800\x00" + "x" * 1000: 1}).unused()
    key.encode("utf-8")
    assert len(key) <= 41
