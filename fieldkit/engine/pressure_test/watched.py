"""A repair in plain sight, proven by running it: a dry tissue says how small any leak must be."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.pressure_test.leak_bound import at_most
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Answer, Line, precise
from fieldkit.tables.proving_rules import proving_value

#: How long to look. [min]
WATCH_MIN = proving_value("watch_min")


@dataclass(frozen=True, kw_only=True, slots=True)
class Watched(Answer):
    """Verdict ``holds`` or ``leaks`` of one joint at the pressure in use, and what it rests on."""

    leak_upper_ml_per_min: float | None
    minutes: float


def largest_unseen_ml_per_min(minutes: float) -> float:
    """The largest leak that a tissue round the joint may hide: a drop, and what dries meanwhile.

    q = 1 / (n t) + e

    Parameters
    ----------
    minutes : float
        Time t for which the tissue stayed dry, above 0. [min]

    Returns
    -------
    float
        The leak. [mL/min]

    Source
    ------
    fieldkit-rule; drops a milliliter n and drying e from proving_rules.csv. Status: common
    practice, no source.

    Examples
    --------
    >>> round(largest_unseen_ml_per_min(10.0), 3)
    0.02
    """
    drops, dries = proving_value("drops_per_ml"), proving_value("tissue_dries_ml_min")
    return 1.0 / (drops * minutes) + dries


def watched(*, dry: bool) -> Watched:
    """Judge one joint by a dry tissue wrapped round it while it runs at its own pressure."""
    if not dry:
        return Watched(
            verdict="leaks",
            headline=say("It leaks: the tissue is wet."),
            cautions=caution("depressurise"),
            leak_upper_ml_per_min=None,
            minutes=WATCH_MIN,
        )
    upper = largest_unseen_ml_per_min(WATCH_MIN)
    return Watched(
        verdict="holds",
        headline=say(
            "Dry for {time} at its own pressure: any leak is under {leak}.",
            time=Figure(WATCH_MIN, "min"),
            leak=at_most(upper),
        ),
        cautions=caution("local_code"),
        working=(
            Line(
                "largest leak that stays unseen",
                "1 / (n t) + e",
                {
                    "n": precise(proving_value("drops_per_ml"), "1/mL"),
                    "t": precise(WATCH_MIN, "min"),
                    "e": precise(proving_value("tissue_dries_ml_min"), "mL/min"),
                },
                upper,
                "mL/min",
                "fieldkit-rule",
                "common practice, no source",
            ),
        ),
        leak_upper_ml_per_min=upper,
        minutes=WATCH_MIN,
    )
