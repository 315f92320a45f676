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
from fieldkit.engine.working import Line, precise

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
    lines.append(
        Line(
            "share kept for what is not listed",
            "rule",
            {},
            UNLISTED_SHARE,
            "",
            "fieldkit-rule",
            _NO_SOURCE,
        )
    )
    if evidence.rigid is not None:
        lines.append(
            Line(
                "stiffness judged wrong by hand",
                "rule",
                {},
                RIGID_MISJUDGED,
                "",
                "fieldkit-rule",
                _NO_SOURCE,
            )
        )
    if evidence.line is not None:
        inputs: dict[str, object] = {"clue fits": CLUE_FITS, "clue misfits": CLUE_MISFITS}
        lines.append(
            Line(
                "print line taken from another piece",
                "rule",
                inputs,
                WRONG_LINE,
                "",
                "fieldkit-rule",
                _NO_SOURCE,
            )
        )
    if evidence.region is not None:
        weights = dict(REGION_WEIGHTS[evidence.region])
        lines.append(
            Line(
                "region",
                "rule: share × weight of where a row is sold",
                {"region": evidence.region, **weights},
                None,
                "",
                "fieldkit-rule",
                _NO_SOURCE,
            )
        )
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
        Line(
            "how common it is here, before measuring",
            "listed × share / all shares; each by where it is sold",
            {
                "listed": precise(1 - UNLISTED_SHARE),
                "share": precise(share_here(pipe, evidence.region)),
                "all shares": precise(all_shares(evidence.region)),
            },
            (1 - UNLISTED_SHARE) * share_here(pipe, evidence.region) / all_shares(evidence.region),
            "",
            "trade",
            _NO_SOURCE,
        )
    )
    od = evidence.of("od")
    if od is not None:
        spread = math.sqrt(od.u_in**2 + made.od_var)
        inputs = {"U": precise(2 * od.u_in, "in"), "T": precise(math.sqrt(3 * made.od_var), "in")}
        lines.append(
            Line(
                "spread expected of the reading",
                "σ = √((U/2)² + T²/3)",
                inputs,
                spread,
                "in",
                "bayes",
                "computed",
            )
        )
        inputs = {
            "OD": Figure(od.value_in, "in", 6),
            "middle": Figure(made.od_mean, "in", 6),
            "σ": precise(spread, "in"),
        }
        lines.append(
            Line(
                "distance of the reading",
                "z = |OD − middle| / σ",
                inputs,
                abs(od.value_in - made.od_mean) / spread,
                "",
                "bayes",
                "computed",
            )
        )
    lines.append(
        Line(
            "chance of the likeliest",
            "by steps: prior × likelihood of each row, over the sum of all",
            {},
            leader.probability,
            "",
            "bayes",
            "computed",
        )
    )
    return tuple(lines)
