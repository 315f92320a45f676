"""A result that another version wrote is shown by its sentence, never as an error."""

from __future__ import annotations

import pytest

from fieldkit.flows.catalogue import flows
from fieldkit.joblog import Entry, utc_text
from fieldkit.web.ids import fresh_id


@pytest.mark.parametrize("flow", list(flows()))
def test_a_result_without_our_keys_still_has_a_page(app, hand, flow):
    start = hand.send(hand.read("/"), "/start", what="new")
    joint = start.path.split("/")[2]
    log, run = app.extensions["joblog"], fresh_id()
    at = utc_text(1_777_644_180_000)
    told = Entry(
        id=fresh_id(),
        at=at,
        job=log.joint(joint).job,
        joint=joint,
        kind="result",
        flow=flow,
        run=run,
        result={"verdict": "holds", "headline": "A sentence of another version."},
    )
    assert not log.append([told], at).refused
    page = hand.read(f"/joint/{joint}/{flow}/{run}/answer")
    assert page.status in {200, 422}
    assert hand.read(f"/joint/{joint}").status == 200


def test_a_fault_in_an_answer_of_ours_is_not_taken_for_another_version():
    ours = {"verdict": "ok", "headline": "Pushed on.", "working": [], "depth_rule": "To the stop."}
    with pytest.raises(KeyError):
        flows()["join-tube"].blocks(ours)
