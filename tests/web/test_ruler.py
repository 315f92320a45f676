"""The page of the ruler, and the ways to it."""

import re


def test_the_page_holds_the_sheet_and_says_what_to_do(hand):
    page = hand.read("/ruler")
    assert page.status == 200
    assert page.heading.startswith("A paper ruler")
    assert 'width="7.2in"' in page.html
    assert "Print at 100 %" in page.words
    assert 'href="/gauge"' in page.html


def test_it_is_linked_from_the_tables_and_from_where_one_measures(hand):
    assert 'href="/ruler"' in hand.read("/tables").html
    joint = hand.send(hand.read("/"), "/start", what="new")
    where = re.search(r"/joint/[^/\"]+", joint.html + joint.path)
    assert 'href="/ruler"' in hand.read(f"{where[0]}/measure-tube").html
