"""Random walks through every flow: each page is sound, and each walk ends in words."""

from __future__ import annotations

import re
from random import Random

import pytest
from support.walks import answer_some
from support.working_lines import lines_in
from support.working_reader import fault

from fieldkit.engine.working import Answer
from fieldkit.flows.catalogue import flows

#: More answers than any flow asks for; a walk that is longer goes in circles.
LONGEST = 60


def open_cautions(page) -> list[str]:
    """The cautions that stand open on a page, unless the work is stopped there."""
    return re.findall(r'<p class="care"><b>Take care:</b> (.*?)</p>', page.html)


@pytest.fixture
def faults(monkeypatch):
    """Lines of working, of any answer on the way, that do not give the figure they show."""
    found, as_json = [], Answer.as_json

    def read(answer):
        shaped = as_json(answer)
        found.extend(one for line in lines_in(shaped) if (one := fault(line)))
        return shaped

    monkeypatch.setattr(Answer, "as_json", read)
    return found


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("flow_id", list(flows()))
def test_a_walk_ends_in_an_answer_or_in_a_plain_problem(hand, faults, flow_id, seed):
    chance = Random(f"{flow_id} {seed}")  # noqa: S311  -- a repeatable walk, not a secret
    start = hand.send(hand.read("/"), "/start", what="new")
    joint = start.path.split("/")[2]
    page = hand.read(f"/joint/{joint}/{flow_id}")
    met: set[str] = set()
    for _ in range(LONGEST):
        assert page.status in {200, 422}
        if page.status == 200 and 'class="band band--stop"' not in page.html:
            cautions = open_cautions(page)
            assert len(cautions) <= 2
            assert not met & set(cautions), "each once in a job"
            met |= set(cautions)
        last = page.path.rsplit("/", 1)[1]
        if last == "answer":
            break
        page = hand.send(page, last, **answer_some(page, chance))
    else:
        pytest.fail(f"{flow_id} does not end: still at {page.path}")
    assert page.heading
    assert not faults
    again = hand.read(page.path)
    assert again.status == page.status
    assert hand.read(f"/joint/{joint}").status == 200
