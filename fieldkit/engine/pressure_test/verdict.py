"""Reading a pressure test: does the line hold, does it leak, or must it be tested again?

A gauge falls for four reasons: water got out, the water cooled (or a cold line warmed), a
plastic wall went on stretching, or trapped air was squeezed into the water. Only the first is a
leak. What heat does is worked out and taken off; polyethylene is judged by its own method.
"""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.pressure_test.figures import (
    HeldFigures,
    HeldLine,
    LineReading,
    figures_of,
    readings_with_expected,
)
from fieldkit.engine.pressure_test.working import working_of
from fieldkit.engine.words import Figure, Span, Text, say
from fieldkit.engine.working import Answer
from fieldkit.tables.proving_rules import proving_value


@dataclass(frozen=True, slots=True)
class LineRun:
    """One run of the line as it was judged."""

    name: str
    material: str
    bore_in: float
    wall_in: float
    length_ft: float


@dataclass(frozen=True, kw_only=True, slots=True)
class LineVerdict(Answer):
    """Verdict ``holds``, ``leaks`` or ``repeat`` and the figures it rests on.

    ``expected_change_psi`` is what heat alone does to a tight line; ``unexplained_drop_psi`` is
    what is left of the fall. Both are None where the water's temperature is not known.
    """

    reason: str
    expected_change_psi: float | None
    expected_low_psi: float | None
    expected_high_psi: float | None
    measured_change_psi: float
    unexplained_drop_psi: float | None
    allowance_psi: float
    leak_ml_per_min: float | None
    detectable_leak_ml_per_min: float
    stiffness_psi: float
    volume_gal: float
    air_share: float | None
    creep_drop_low_psi: float
    creep_drop_high_psi: float
    gasketed_allowance_ml_per_min: float | None
    shape: str
    minutes: float
    readings: tuple[LineReading, ...]
    line: tuple[LineRun, ...]


def judge_line(test: HeldLine) -> LineVerdict:
    """Judge a shut-in pressure test.

    Parameters
    ----------
    test : HeldLine
        The line and its readings, the first and the last of which are compared.
        [psi, °F, min]

    Returns
    -------
    LineVerdict
        ``holds``, ``leaks`` or ``repeat``, with its working. [psi, mL/min]

    Raises
    ------
    Problem
        Fewer than two readings, no time between them, or no pipe.
    OutOfRange
        A pressure, temperature or size is outside what can be worked out.

    Source
    ------
    iapws-95, statics, astm-f2164, awwa-c605; limits from proving_rules.csv. Status: computed.
    """
    held = figures_of(test)
    verdict, reason, headline = _decide(test, held)
    low = high = None
    if held.expected_psi is not None:
        low, high = held.expected_psi - held.spread_psi, held.expected_psi + held.spread_psi
    return LineVerdict(
        verdict=verdict,
        headline=headline,
        cautions=_cautions(held, verdict, reason),
        working=working_of(test, held),
        reason=reason,
        expected_change_psi=held.expected_psi,
        expected_low_psi=low,
        expected_high_psi=high,
        measured_change_psi=-held.fall_psi,
        unexplained_drop_psi=held.unexplained_psi,
        allowance_psi=held.allowance_psi,
        leak_ml_per_min=held.leak_ml_min,
        detectable_leak_ml_per_min=held.detectable_ml_min,
        stiffness_psi=held.line.stiffness_psi(held.temperature_f),
        volume_gal=held.line.volume_in3 / 231,
        air_share=held.air,
        creep_drop_low_psi=held.creep_low_psi,
        creep_drop_high_psi=held.creep_high_psi,
        gasketed_allowance_ml_per_min=held.makeup_ml_min,
        shape=held.shape,
        minutes=held.minutes,
        readings=readings_with_expected(held.line, test.readings, held.air or 0.0),
        line=tuple(
            LineRun(s.name, s.material.id, s.bore_in, s.wall_in, s.length_ft) for s in test.segments
        ),
    )


def _decide(test: HeldLine, held: HeldFigures) -> tuple[str, str, Text]:
    """Verdict, reason and headline. Only what cannot be explained away is called a leak."""
    if test.visible_leak:
        return (
            "leaks",
            "seen",
            say("It leaks: water was seen. What the gauge says does not matter."),
        )
    if held.unexplained_psi is None or held.swing_f is None:
        return (
            "repeat",
            "no water temperature",
            say("Test again with the water’s temperature at both ends. The gauge needs it."),
        )
    limit = proving_value("swing_f")
    if held.swing_f > limit + 1e-6:
        return (
            "repeat",
            "temperature swing",
            say(
                "Test again: the water changed by {swing}. Over {limit} the gauge proves nothing.",
                swing=Figure(held.swing_f, "°F", 1),
                limit=Figure(limit, "°F"),
            ),
        )
    if held.unexplained_psi < -held.allowance_psi:
        return (
            "repeat",
            "rise",
            say(
                "Test again: it rose {rise} more than heat explains. Something fed the line.",
                rise=Figure(-held.unexplained_psi, "psi", 1),
            ),
        )
    dropped = _decide_polyethylene(test, held) if held.creeps else _decide_rigid(held)
    return dropped or _decide_proof(test, held)


def _decide_rigid(held: HeldFigures) -> tuple[str, str, Text] | None:
    """A leak, or settling that looks like one; None where nothing is left unexplained."""
    drop = held.unexplained_psi or 0.0
    if drop <= held.allowance_psi:
        return None
    if held.makeup_ml_min is not None and (held.leak_ml_min or 0.0) <= held.makeup_ml_min:
        return None
    if held.shape == "settling":
        return (
            "repeat",
            "settling",
            say(
                "Test again from here: it fell {drop} early on, then steadied.",
                drop=Figure(drop, "psi", 1),
            ),
        )
    return (
        "leaks",
        "unexplained drop",
        say(
            "It leaks: {drop} of the fall is not from heat. That is about {leak}.",
            drop=Figure(drop, "psi", 1),
            leak=Figure(held.leak_ml_min or 0.0, "mL a minute", 1),
        ),
    )


def _decide_polyethylene(test: HeldLine, held: HeldFigures) -> tuple[str, str, Text] | None:
    """Polyethylene keeps stretching, so only its own method, or a fall past all creep, decides."""
    drop = max(held.unexplained_psi or 0.0, held.fall_psi)
    least = min(held.unexplained_psi or 0.0, held.fall_psi)
    share = proving_value("pe_share") * held.start.pressure_psi
    if least > held.creep_high_psi + held.allowance_psi:
        return (
            "leaks",
            "past creep",
            say(
                "It leaks: it fell {drop}. Stretch of the polyethylene explains at most {creep}.",
                drop=Figure(least, "psi", 1),
                creep=Figure(held.creep_high_psi, "psi"),
            ),
        )
    hold = proving_value("pe_hold_min")
    if drop <= share:
        if held.minutes >= hold:
            return None
        return (
            "repeat",
            "short hold",
            say(
                "Test again: polyethylene is held for {hold}, this was {minutes}.",
                hold=Span(hold),
                minutes=Span(held.minutes),
            ),
        )
    # The limit is for one hour; a longer hold stretches the wall further.
    if test.expansion_phase and least > held.allowance_psi and held.minutes <= 1.25 * hold:
        return (
            "leaks",
            "over the polyethylene limit",
            say(
                "It leaks: it fell {drop} after the topping up, over the {limit} allowed.",
                drop=Figure(least, "psi", 1),
                limit=Figure(share, "psi", 1),
            ),
        )
    return (
        "repeat",
        "polyethylene stretches",
        say(
            "Test again, the polyethylene way. New polyethylene can lose {low} to {high} unleaked.",
            low=Figure(held.creep_low_psi, "psi", bare=True),
            high=Figure(held.creep_high_psi, "psi"),
        ),
    )


def _decide_proof(test: HeldLine, held: HeldFigures) -> tuple[str, str, Text]:
    """Nothing fell unexplained: was the test able to show a leak at all?"""
    if not test.looked:
        return (
            "repeat",
            "nobody looked",
            say("The gauge says it holds, but nobody looked. Walk the line and look again."),
        )
    least = proving_value("hold_least_min")
    if held.minutes < least:
        return (
            "repeat",
            "short hold",
            say(
                "Test again: {minutes} is too short. Hold for {least} at least.",
                minutes=Span(held.minutes),
                least=Span(least),
            ),
        )
    if held.air is not None and held.air > proving_value("air_share"):
        return (
            "repeat",
            "trapped air",
            say(
                "Test again: about {air} of the line is air, and air hides a leak. Vent it.",
                air=Figure(held.air * 100, "%", 1),
            ),
        )
    matters = max(proving_value("leak_that_matters_ml_min"), held.makeup_ml_min or 0.0)
    if held.detectable_ml_min > matters:
        return (
            "repeat",
            "cannot see a leak",
            say(
                "Test again: this would not show under {leak}. Hold for {longer}, or finer gauge.",
                leak=Figure(held.detectable_ml_min, "mL a minute", 1),
                longer=Span(held.minutes * held.detectable_ml_min / matters),
            ),
        )
    if held.makeup_ml_min is not None and (held.unexplained_psi or 0.0) > held.allowance_psi:
        return (
            "holds",
            "within make-up",
            say(
                "It holds: it took {leak}; its gasketed joints may take {limit}.",
                leak=Figure(held.leak_ml_min or 0.0, "mL a minute", 1),
                limit=Figure(held.makeup_ml_min, "mL a minute", 1),
            ),
        )
    return (
        "holds",
        "explained",
        say(
            "It holds: heat explains the gauge to within {allowance}.",
            allowance=Figure(held.allowance_psi, "psi", 1),
        ),
    )


def _cautions(held: HeldFigures, verdict: str, reason: str) -> tuple[Text, ...]:
    notes: list[Text] = []
    drop, edge = held.unexplained_psi, held.spread_psi
    if drop is not None and reason in {"unexplained drop", "explained"} and edge > 0:
        if verdict == "leaks" and drop - edge <= held.allowance_psi:
            notes.append(
                say(
                    "A close call: pipes differ by ±{edge}. Look, or test again in steady heat.",
                    edge=Figure(edge, "psi", 1),
                )
            )
        if verdict == "holds" and drop + edge > held.allowance_psi:
            notes.append(
                say(
                    "A close call: pipes differ by ±{edge}. A test in steady heat would settle it.",
                    edge=Figure(edge, "psi", 1),
                )
            )
    fell = drop if drop is not None else held.fall_psi
    if verdict == "repeat" and fell > held.allowance_psi + edge + held.creep_high_psi:
        notes.append(
            say(
                "It fell {drop}, which is a lot. Walk the line for water before you test again.",
                drop=Figure(fell, "psi", 1),
            )
        )
    if reason == "rise":
        notes.append(
            say("Look for a valve that lets water in, a pump left on, or sun on bare pipe.")
        )
    if reason == "polyethylene stretches":
        notes.append(
            say(
                "Top it up for {top}, let it down {down}, then wait {hold} without touching it.",
                top=Span(proving_value("pe_expansion_min")),
                down=Figure(proving_value("pe_step_down_psi"), "psi"),
                hold=Span(proving_value("pe_hold_min")),
            )
        )
        notes.append(
            say(
                "At most {cap} in all above working pressure, then as long at rest.",
                cap=Span(proving_value("pe_cap_min")),
            )
        )
    if held.air is not None and held.air > proving_value("air_share") and reason != "trapped air":
        notes.append(
            say(
                "About {air} of the line is air. It stores energy and hides leaks: vent it.",
                air=Figure(held.air * 100, "%", 1),
            )
        )
    always = ("water_only", "depressurise", "stand_clear", "eyes", "local_code")
    return (*notes, *caution(*always))
