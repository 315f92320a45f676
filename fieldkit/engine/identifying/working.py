"""The working of an identification: what was taken for granted, and how the leader scores."""

from __future__ import annotations

import math

from fieldkit.engine.identifying.model import UNLISTED_SHARE
from fieldkit.engine.identifying.next_measurement import RIGID_MISJUDGED, Rival
from fieldkit.engine.identifying.posterior import (
    REGION_WEIGHTS,
    Evidence,
    all_shares,
    share_here,
)
from fieldkit.engine.identifying.print_line import CLUE_FITS, CLUE_MISFITS, WRONG_LINE
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line, precise, worked

_NO_SOURCE = "common practice, no source"

_SIZE_WORDS = {"od": "outside", "wall": "wall", "bore": "bore"}


def working_of(
    evidence: Evidence, assumed: frozenset[str], leader: Rival | None
) -> tuple[Line, ...]:
    """Each figure that went in, with its source; the leader's score last."""
    lines = [
        Line(
            say("uncertainty of the {size}, k = 2", size=_SIZE_WORDS[one.size]),
            "not given" if one.size in assumed else "given",
            {_SIZE_WORDS[one.size]: Figure(one.value_in, "in", 4)},
            2 * one.u_in,
            "in",
            ("gum" if one.size == "od" else "fieldkit-rule"),
            _NO_SOURCE if one.size in assumed else "computed",
        )
        for one in evidence.readings
    ]
    lines.append(worked("share_not_listed", UNLISTED_SHARE))
    if evidence.rigid is not None:
        lines.append(worked("stiffness_misjudged", RIGID_MISJUDGED))
    if evidence.line is not None:
        inputs: dict[str, object] = {"clue fits": CLUE_FITS, "clue misfits": CLUE_MISFITS}
        lines.append(worked("print_of_another_piece", WRONG_LINE, inputs))
    if evidence.region is not None:
        weights = dict(REGION_WEIGHTS[evidence.region])
        lines.append(worked("region_weights", None, {"region": evidence.region, **weights}))
    if leader is None or leader.product is None:
        return tuple(lines)
    made, pipe = leader.product, leader.product.pipe
    sizes = {
        "outside": Figure(pipe.od_in, "in", 4),
        "less": Figure(pipe.od_minus_in, "in", 4),
        "more": Figure(pipe.od_plus_in, "in", 4),
    }
    lines.append(
        Line(
            say("sizes of {pipe}", pipe=pipe.name),
            "table: pipes",
            sizes,
            pipe.id,
            "",
            pipe.source,
            pipe.status,
        )
    )
    lines.append(
        worked(
            "prior_share",
            (1 - UNLISTED_SHARE) * share_here(pipe, evidence.region) / all_shares(evidence.region),
            {
                "listed": precise(1 - UNLISTED_SHARE),
                "share": precise(share_here(pipe, evidence.region)),
                "all shares": precise(all_shares(evidence.region)),
            },
        )
    )
    od = evidence.of("od")
    if od is not None:
        spread = math.sqrt(od.u_in**2 + made.od_var)
        inputs = {"U": precise(2 * od.u_in, "in"), "T": precise(math.sqrt(3 * made.od_var), "in")}
        lines.append(worked("spread_of_reading", spread, inputs))
        inputs = {
            "OD": Figure(od.value_in, "in", 6),
            "middle": Figure(made.od_mean, "in", 6),
            "σ": precise(spread, "in"),
        }
        lines.append(
            worked("distance_of_reading", abs(od.value_in - made.od_mean) / spread, inputs)
        )
    lines.append(worked("chance_of_the_likeliest", leader.probability))
    return tuple(lines)
