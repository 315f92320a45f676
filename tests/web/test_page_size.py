"""A first page under 50 KB compressed with all it needs, and each later page under 20 KB."""

from __future__ import annotations

import re

import pytest

from fieldkit.flows.reference import SHEETS


def squeezed(client, path: str) -> int:
    """Bytes over the wire, as the server itself sends them."""
    packed = {"Accept-Encoding": "gzip"}
    with client.get(path, follow_redirects=True, headers=packed) as response:
        assert response.status_code == 200
        return len(response.get_data()) + len(str(response.headers))


def test_the_first_page_with_all_it_needs(hand):
    html = hand.client.get("/").get_data(as_text=True)
    needed = re.findall(r'(?:href|src)="(/static/[^"]+)"', html)
    assert needed
    total = squeezed(hand.client, "/") + sum(squeezed(hand.client, one) for one in needed)
    assert total < 50_000


@pytest.mark.parametrize("path", ["/jobs", "/tables", "/sources", "/prices", "/paper"])
def test_a_later_page(hand, path):
    assert squeezed(hand.client, path) < 20_000


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_table(hand, sheet):
    assert squeezed(hand.client, f"/tables/{sheet}") < 20_000


def test_a_question_and_a_joint(hand):
    question = hand.send(hand.read("/"), "/start", what="new")
    assert squeezed(hand.client, question.path) < 20_000
    assert squeezed(hand.client, "/joint/" + question.path.split("/")[2]) < 20_000
