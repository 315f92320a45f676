"""Lays out a test plan and a test verdict for a page."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.engine.pressure_test.leak_bound import at_most
from fieldkit.engine.words import Figure, Quote, Text, say, those
from fieldkit.flows.block import Block, Facts, Lead, Notes, Steps, Table
from fieldkit.flows.drawings.held import readings_plot
from fieldkit.flows.figures import amount, rating, span
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


def _bound(ml_per_min: float) -> Text:
    return say("{leak}", leak=at_most(ml_per_min))


def _settle(title: Text, changes: Sequence[Known]) -> tuple[Block, ...]:
    """What would make the test tell, each with the leak that it would then show."""
    lines = tuple(
        say(
            "{what} It would then show a leak of {leak}.",
            what=one["what"],
            leak=at_most(one["shows_ml_per_min"]),
        )
        for one in changes
    )
    return (Notes(title, lines),) if lines else ()


def _figure(value: float | None, unit: str, places: int = 1) -> Text:
    return amount(value, unit, places, missing=say("not known"))


def _plan_lead(answer: Known) -> Lead:
    if answer["verdict"] == "wait":
        left = span(answer["minutes_left"])
        return Lead(left, say("Leave it still. Come back when the cement has cured."))
    if answer["verdict"] == "do_not_test":
        return Lead(do=say("Change that part, or plan without it."))
    pressure, hold = rating(answer["test_pressure_psi"]), span(answer["hold_minutes"])
    return Lead(
        say("{pressure} for {hold}", pressure=pressure, hold=hold),
        say("Fill from the low end, let the air out, pump up, shut in."),
    )


def _verdict_lead(answer: Known) -> Lead:
    """The bound on the leak, and what to do now."""
    upper, verdict = answer.get("leak_upper_ml_per_min"), answer["verdict"]
    if verdict == "holds":
        figure = say("any leak is under {leak}", leak=_bound(upper)) if upper is not None else ""
        return Lead(figure, say("Cover the line and run it once at full flow."))
    if verdict == "leaks":
        leak = answer["leak_ml_per_min"]
        figure = _figure(leak, "mL a minute") if leak is not None and leak >= 0.05 else ""
        return Lead(
            figure, say("Let the pressure off before you touch a joint. Then find out why.")
        )
    settle = answer.get("would_settle") or ()
    return Lead(do=settle[0]["what"] if settle else say("Test it again, longer."))


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
    # An answer that an older version kept has no such figure.
    shows, matters = answer.get("shows_ml_per_min"), answer.get("leak_that_matters_ml_per_min")
    if verdict != "do_not_test" and shows is not None:
        rows.append((say("Smallest leak this test shows"), _bound(shows)))
    blocks: list[Block] = [_plan_lead(answer), Facts(tuple(rows))]
    if verdict in {"ready", "override"}:
        if shows is not None and matters is not None and shows > matters:
            blocks.extend(_settle(say("What would show a smaller leak"), answer["would_settle"]))
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
    if "line" not in answer:
        return _show_watched(answer)
    verdict = answer["verdict"]
    rows: list[tuple[str, str]] = [(say("Verdict"), _VERDICTS[verdict])]
    upper = answer.get("leak_upper_ml_per_min")  # None in what an older version kept
    leak = answer["leak_ml_per_min"]
    if verdict == "leaks" and leak is not None and leak >= 0.05:
        rows.append((say("Size of the leak"), _figure(leak, "mL a minute")))
    if upper is not None:
        # Of a test that proves nothing, or where water ran, the bound would only mislead.
        if verdict == "holds" or answer["reason"] in {"bound", "unexplained drop"}:
            rows.append((say("Any leak is under"), _bound(upper)))
        rows.append(
            (
                say("A leak matters from"),
                _figure(answer["leak_that_matters_ml_per_min"], "mL a minute"),
            )
        )
        rows.append((say("What limits this test"), answer["limited_by"]))
    rows.extend(
        (
            (say("The gauge changed by"), _figure(answer["measured_change_psi"], "psi")),
            (say("Heat explains"), _figure(answer["expected_change_psi"], "psi")),
            (say("Fall not explained"), _figure(answer["unexplained_drop_psi"], "psi")),
            (say("The readings may be off by"), _figure(answer["allowance_psi"], "psi")),
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
        _verdict_lead(answer),
        Facts(tuple(rows)),
        *_settle(say("What would settle it"), answer.get("would_settle") or ()),
        *_rules(answer),
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
    stretch, shape = answer.get("stretch_psi") or 0.0, answer["shape"]
    fall = Figure(stretch, "psi", 1)
    notes = those(
        (stretch >= 0.05, say("The wall went on stretching: that explains {fall}.", fall=fall)),
        (
            shape == "settling",
            say("Most of the fall came early, then it steadied. A leak would go on."),
        ),
        (shape == "steady", say("The fall went on at the same pace, as a leak’s does.")),
    )
    if notes:
        blocks.append(Notes(say("What the readings look like"), tuple(notes)))
    return tuple(blocks)


def _show_watched(answer: Known) -> tuple[Block, ...]:
    """One joint that was run and looked at: its bound, and when to look again."""
    if answer["verdict"] == "leaks":
        return (Lead(do=say("Shut the water off and let it run dry. Then find out why.")),)
    bound = say("any leak is under {leak}", leak=_bound(answer["leak_upper_ml_per_min"]))
    return (Lead(bound, say("Look once more on a hot afternoon: heat finds a weak joint.")),)


def _rules(answer: Known) -> tuple[Block, ...]:
    """The rules of a standard beside the bound, each with what it alone would say."""
    rules = answer.get("rules") or ()
    if not rules:
        return ()
    table = Table(
        say("Rules that govern this line"),
        (say("Rule"), say("Allowed"), say("Measured"), say("Alone it says")),
        (
            (
                say("bound on the leak"),
                _figure(answer["leak_that_matters_ml_per_min"], "mL a minute"),
                say("under {leak}", leak=at_most(answer["leak_upper_ml_per_min"])),
                _VERDICTS[answer["bound_verdict"]],
            ),
            *(
                (
                    one["name"],
                    _figure(one["limit"], _SAID.get(one["unit"], one["unit"])),
                    _figure(one["measured"], _SAID.get(one["unit"], one["unit"])),
                    _VERDICTS[one["verdict"]],
                )
                for one in rules
            ),
        ),
    )
    why = answer["stricter"]
    return (table,) if why is None else (table, Notes(say("Which one rules"), (why,)))


_SAID = {"mL/min": "mL a minute"}
