"""Random walks through every flow: each page is sound, and each walk ends in words."""

from __future__ import annotations

from random import Random

import pytest
from support.walks import answer_some

from fieldkit.flows.catalogue import flows

#: More answers than any flow asks for; a walk that is longer goes in circles.
LONGEST = 60


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("flow_id", list(flows()))
def test_a_walk_ends_in_an_answer_or_in_a_plain_problem(hand, flow_id, seed):
    chance = Random(f"{flow_id} {seed}")  # noqa: S311  -- a repeatable walk, not a secret
    start = hand.send(hand.read("/"), "/start", what="new")
    joint = start.path.split("/")[2]
    page = hand.read(f"/joint/{joint}/{flow_id}")
    for _ in range(LONGEST):
        assert page.status in {200, 422}
        last = page.path.rsplit("/", 1)[1]
        if last == "answer":
            break
        page = hand.send(page, last, **answer_some(page, chance))
    else:
        pytest.fail(f"{flow_id} does not end: still at {page.path}")
    assert page.heading
    again = hand.read(page.path)
    assert again.status == page.status
    assert hand.read(f"/joint/{joint}").status == 200
