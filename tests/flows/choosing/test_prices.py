"""Price lists: what is read, and the line that cannot be."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.problems import Problem
from fieldkit.flows.choosing.prices import (
    demo_prices,
    price_list_csv,
    priced_parts,
    read_price,
    read_price_list,
)
from fieldkit.flows.demo import demo_folder
from fieldkit.tables.fittings import fittings, sundries


def test_the_demo_list_prices_every_part_and_says_that_it_is_invented():
    prices = demo_prices()
    assert set(fittings()) - {"pipe_stub"} <= set(prices)
    assert set(sundries()) <= set(prices)
    lines = (demo_folder() / "price_list.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "part,price_usd,note"
    assert all(line.endswith('"illustrative, invented"') for line in lines[1:])


def test_the_demo_list_cannot_be_spoilt_by_who_reads_it():
    demo_prices().clear()
    assert demo_prices()


def test_columns_may_stand_in_any_order_with_others_between():
    text = "\ufeffnote, Price_USD ,part\r\nshelf 3,$1.10,tee_0500\r\n,,\r\n,,coupling_0500\r\n"
    assert read_price_list(text) == {"tee_0500": 1.10}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "columns part and price_usd"),
        ("part,cost\ntee_0500,1\n", "columns part and price_usd"),
        ("part,price_usd\ntee_0500,1\ntee_0500,2\n", "Line 3 names tee_0500 again"),
        ("part,price_usd\ntee_0500,1\ncoupling_0500,cheap\n", "Line 3, coupling_0500: “cheap”"),
        ("part,price_usd\ntee_0500,-1\n", "Line 2, tee_0500"),
        ("part,price_usd\ntee_0500,nan\n", "Line 2, tee_0500"),
        ("part,price_usd\n,3\n", "Line 2 has a price and no part"),
        ("part,price_usd\ntee_0500,\n", "No price stands"),
        ("part,price_usd\n" + "x,\n" * 6000, "more than 5000 lines"),
    ],
)
def test_a_list_that_cannot_be_read_names_the_line(text, words):
    with pytest.raises(Problem, match=r".") as caught:
        read_price_list(text)
    assert words in caught.value.wrong
    assert caught.value.field == "file"
    assert caught.value.instead


@pytest.mark.parametrize("given_price", ["", "free", "1,5", "-2", "inf", True, [1]])
def test_what_is_not_a_price_is_refused(given_price):
    with pytest.raises(Problem, match="is not a price") as caught:
        read_price(given_price, field="tee_0500")
    assert caught.value.field == "tee_0500"


def test_every_part_has_a_box_once():
    boxes = [part.id for group in priced_parts().values() for part in group]
    assert sorted(boxes) == sorted([*fittings(), *sundries()])


every_part = st.sampled_from(sorted([*fittings(), *sundries()]))


@given(st.dictionaries(every_part, st.floats(0, 9999).map(lambda x: round(x, 2)), min_size=1))
def test_a_list_given_out_comes_back_the_same(prices):
    assert read_price_list(price_list_csv(prices, {})) == prices
