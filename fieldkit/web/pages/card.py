"""The card for the store: one screen, to show, to print or to share as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, render_template

from fieldkit.engine.working import tellable
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import next_after, standing
from fieldkit.flows.choosing.card import store_card
from fieldkit.joblog import JobLog, JointNow
from fieldkit.web.localize import LANGUAGES, language, localized_in
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import joint_or_404

pages = Blueprint("card", __name__)


@pages.get("/joint/<joint>/card")
def show(joint: str) -> str:
    """What to buy for a joint, with sizes and counts, and what not to buy."""
    log, found = joblog(), joint_or_404(joint)
    chosen, riser = answer_of(log, found, "choose"), answer_of(log, found, "riser-to-tube")
    transition = chosen or (riser or {}).get("transition")
    other = next(code for code in LANGUAGES if code != language())
    return render_template(
        "card.html",
        joint=found,
        card=store_card(found.facts, transition, riser),
        next_stage=next_after("choose", flows()["choose"].then, standing(found.facts)),
        other=other,
        in_other=lambda words: localized_in(other, words),
    )


def answer_of(log: JobLog, joint: JointNow, flow: str) -> Mapping[str, Any] | None:
    """What a flow came to last at a joint, its sentences to be told anew."""
    state = joint.states.get(flow)
    run = log.run(state.run, joint.job, joint.id, flow) if state else None
    kept = run.last_result if run else None
    return tellable(kept.result) if kept is not None and kept.result else None
