"""Rules of a standard that stand beside the bound on the leak, each with its own verdict."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.pressure_test.line_stiffness import Segment
from fieldkit.engine.words import Text, say
from fieldkit.tables.proving_rules import proving_rules, proving_value

#: From the mildest to the strictest.
VERDICTS = ("holds", "repeat", "leaks")


@dataclass(frozen=True, slots=True)
class GoverningRule:
    """One rule: what it allows, what was measured, and what it alone would say."""

    id: str
    name: Text
    limit: float
    measured: float
    unit: str
    verdict: str
    source: str
    status: str


def stricter(one: str, other: str) -> str:
    """The stricter of two verdicts.

    Examples
    --------
    >>> stricter("holds", "repeat"), stricter("leaks", "repeat")
    ('repeat', 'leaks')
    """
    return max(one, other, key=VERDICTS.index)


def makeup_rule(
    allowed_ml_min: float, best_ml_min: float, lower_ml_min: float, upper_ml_min: float
) -> GoverningRule:
    """Make-up that gasketed joints may take, against the leak that was measured. [mL/min]

    Source
    ------
    awwa-c605. Status: secondary.
    """
    if upper_ml_min <= allowed_ml_min:
        verdict = "holds"
    else:
        verdict = "leaks" if lower_ml_min > allowed_ml_min else "repeat"
    return GoverningRule(
        "makeup",
        say("make-up allowed to gasketed joints"),
        allowed_ml_min,
        max(0.0, best_ml_min),
        "mL/min",
        verdict,
        "awwa-c605",
        "secondary",
    )


def follows_polyethylene_rule(segments: tuple[Segment, ...]) -> bool:
    """Whether polyethylene pressure pipe is under test; drip tubing has no such method."""
    return any(segment.material.id in {"pe", "pe4710"} for segment in segments)


def polyethylene_rule(
    start_psi: float, fell_psi: float, minutes: float, expansion: bool | None
) -> GoverningRule:
    """The share of its pressure that a polyethylene line may lose in its hold.

    A fall over it condemns only a line that was topped up for hours first, and held for an
    hour: a longer hold stretches the wall further.

    Source
    ------
    astm-f2164. Status: from memory.
    """
    rule, hold = proving_rules()["pe_share"], proving_value("pe_hold_min")
    limit = rule.value * start_psi
    if fell_psi <= limit:
        verdict = "holds" if minutes >= hold else "repeat"
    else:
        verdict = "leaks" if expansion and minutes <= 1.25 * hold else "repeat"
    return GoverningRule(
        "polyethylene",
        say("fall allowed to polyethylene in its hold"),
        limit,
        fell_psi,
        "psi",
        verdict,
        rule.source,
        rule.status,
    )
