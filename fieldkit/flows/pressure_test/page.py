"""Lays out a test plan and a test verdict for a page."""

from __future__ import annotations

from fieldkit.engine.words import Figure, Quote, Text, say
from fieldkit.flows.block import Block, Facts, Notes, Steps, Table
from fieldkit.flows.drawings.held import readings_plot
from fieldkit.flows.figures import amount, rating, span
from fieldkit.flows.measures import bare
from fieldkit.flows.question import Known

_VERDICTS = {
    "holds": say("It holds"),
    "leaks": say("It leaks"),
    "repeat": say("Test again"),
}
_PLANS = {
    "ready": say("Ready to test"),
    "wait": say("Wait for the cement"),
    "override": say("Testing early, against advice"),
    "do_not_test": say("Do not test"),
}


def _leak(ml_per_min: float | None) -> Text:
    """A leak as it reads: a short rigid line shows one far under a tenth of a millilitre."""
    small = ml_per_min is not None and ml_per_min < 0.1
    return say("under 0.1 mL a minute") if small else _figure(ml_per_min, "mL a minute")


def _figure(value: float | None, unit: str, places: int = 1) -> Text:
    return amount(value, unit, places, missing=say("not known"))


def show_plan(answer: Known) -> tuple[Block, ...]:
    """The plan: pressure and hold, the steps in order, and what each part may see."""
    verdict = answer["verdict"]
    rows: list[tuple[str, str]] = [(say("Plan"), _PLANS[verdict])]
    if verdict == "wait":
        rows.append((say("Time left"), span(answer["minutes_left"])))
    if verdict != "do_not_test":
        # Shown rounded down: a gauge is set by eye, and the limit is a limit.
        rows.append((say("Test pressure"), rating(answer["test_pressure_psi"])))
        rows.append((say("Hold"), span(answer["hold_minutes"])))
    rows.append((say("Limited by"), answer["limited_by"]))
    if verdict != "do_not_test" and answer["fill_gpm"] is not None:
        rows.append((say("Fill no faster than"), _figure(answer["fill_gpm"], "gpm")))
    blocks: list[Block] = [Facts(tuple(rows))]
    if verdict in {"ready", "override"}:
        blocks.append(Steps(say("Do it in this order"), tuple(answer["steps"])))
    blocks.append(
        Table(
            say("What each part may see"),
            (say("Part"), say("There"), say("At the gauge")),
            tuple(
                (
                    one["part"],
                    rating(one["ceiling_psi"]),
                    rating(max(0.0, one["at_gauge_psi"])),
                )
                for one in answer["ceilings"]
            ),
        )
    )
    if answer["override_reason"]:
        blocks.append(
            Notes(say("Reason given for testing early"), (Quote(answer["override_reason"]),))
        )
    return tuple(blocks)


def show_verdict(answer: Known) -> tuple[Block, ...]:
    """The verdict, the figures behind it, and each reading beside what a tight line would show."""
    rows: list[tuple[str, str]] = [(say("Verdict"), _VERDICTS[answer["verdict"]])]
    if answer["verdict"] == "leaks" and answer["leak_ml_per_min"] is not None:
        rows.append((say("Size of the leak"), _leak(answer["leak_ml_per_min"])))
    rows.extend(
        (
            (say("The gauge changed by"), _figure(answer["measured_change_psi"], "psi")),
            (say("Heat explains"), _figure(answer["expected_change_psi"], "psi")),
            (say("Fall not explained"), _figure(answer["unexplained_drop_psi"], "psi")),
            (say("Allowed"), _figure(answer["allowance_psi"], "psi")),
            (
                say("Smallest leak this test shows"),
                _leak(answer["detectable_leak_ml_per_min"]),
            ),
            (say("Held for"), span(answer["minutes"])),
        )
    )
    readings = answer["readings"]
    plot = readings_plot(
        [one["minutes"] for one in readings],
        [one["pressure_psi"] for one in readings],
        [one["expected_psi"] for one in readings],
        answer["allowance_psi"],
    )
    blocks: list[Block] = [
        Facts(tuple(rows)),
        *([] if plot is None else [plot]),
        Table(
            say("Readings"),
            (say("After"), say("Gauge"), say("Water"), say("A tight line would show")),
            tuple(
                (
                    span(one["minutes"]),
                    _figure(one["pressure_psi"], "psi"),
                    _figure(one["water_temperature_f"], "°F"),
                    _figure(one["expected_psi"], "psi"),
                )
                for one in answer["readings"]
            ),
        ),
    ]
    notes: list[str] = []
    if answer["creep_drop_high_psi"] > 0:
        notes.append(
            say(
                "Tubing alone can let the gauge fall by {low} to {high} as it stretches.",
                low=bare(answer["creep_drop_low_psi"], "psi", 1),
                high=Figure(answer["creep_drop_high_psi"], "psi", 1),
            )
        )
    if answer["shape"] == "settling":
        notes.append(say("Most of the fall came early, then it steadied. A leak would go on."))
    if answer["shape"] == "steady":
        notes.append(say("The fall went on at the same pace, as a leak’s does."))
    if notes:
        blocks.append(Notes(say("What the readings look like"), tuple(notes)))
    return tuple(blocks)
