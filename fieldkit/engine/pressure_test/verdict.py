"""Reading a pressure test: does the line hold, does it leak, or must it be tested again?

A gauge cannot say that a line is tight. It can say that any leak is smaller than so much, 19
times in 20: that bound is compared with the leak that matters. Rules of a standard stand beside
it, and where they disagree the stricter is the answer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fieldkit.engine.cautions import caution
from fieldkit.engine.pressure_test.figures import (
    HeldFigures,
    HeldLine,
    LineReading,
    figures_of,
    readings_with_expected,
)
from fieldkit.engine.pressure_test.governing_rules import GoverningRule, stricter
from fieldkit.engine.pressure_test.leak_bound import at_least, at_most
from fieldkit.engine.pressure_test.working import working_of
from fieldkit.engine.pressure_test.would_settle import Change, would_settle
from fieldkit.engine.words import Capital, Figure, Span, Text, say
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
    what is left of the fall after heat and stretch. Both are None where the water's temperature
    is not known. ``allowance_psi`` is how far the readings may be off, one-sided 95 %.
    ``limited_by`` is the largest term of the uncertainty. ``bound_verdict`` is what the bound
    alone says, and ``stricter`` which of it and the rules beside it rules, where they disagree.
    """

    reason: str
    expected_change_psi: float | None
    measured_change_psi: float
    unexplained_drop_psi: float | None
    stretch_psi: float
    allowance_psi: float
    leak_ml_per_min: float
    leak_lower_ml_per_min: float
    leak_upper_ml_per_min: float
    leak_that_matters_ml_per_min: float
    shows_ml_per_min: float
    limited_by: Text
    bound_verdict: str
    rules: tuple[GoverningRule, ...]
    stricter: Text | None
    would_settle: tuple[Change, ...]
    stiffness_psi: float
    volume_gal: float
    air_share: float | None
    gasketed_allowance_ml_per_min: float | None
    shape: str
    minutes: float
    readings: tuple[LineReading, ...]
    line: tuple[LineRun, ...]


@dataclass(frozen=True, slots=True)
class _Decision:
    verdict: str
    reason: str
    headline: Text
    stricter: Text | None = None


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
    Refused
        The water is under 40 °F.

    Source
    ------
    gum, iapws-95, statics, astm-f2164, awwa-c605; limits from proving_rules.csv.
    Status: from memory.
    """
    held = figures_of(test)
    by_bound = _decide(test, held)
    decided = _with_rules(by_bound, held)
    bound = held.bound
    settle = _would_settle(decided.reason, held) if decided.verdict == "repeat" else ()
    return LineVerdict(
        verdict=decided.verdict,
        headline=decided.headline,
        cautions=_cautions(held, decided),
        working=working_of(test, held),
        reason=decided.reason,
        expected_change_psi=held.expected_psi,
        measured_change_psi=0.0 - held.fall_psi,
        unexplained_drop_psi=held.unexplained_psi,
        stretch_psi=bound.stretch_psi,
        allowance_psi=held.band_psi,
        leak_ml_per_min=max(0.0, bound.best_ml_per_min),
        leak_lower_ml_per_min=max(0.0, bound.lower_ml_per_min),
        leak_upper_ml_per_min=bound.upper_ml_per_min,
        leak_that_matters_ml_per_min=held.matters_ml_min,
        shows_ml_per_min=held.shown.ml_per_min,
        limited_by=bound.limited_by,
        bound_verdict=by_bound.verdict,
        rules=held.rules,
        stricter=decided.stricter,
        would_settle=settle,
        stiffness_psi=held.line.stiffness_psi(held.temperature_f),
        volume_gal=held.line.volume_in3 / 231,
        air_share=bound.air_share,
        gasketed_allowance_ml_per_min=held.makeup_ml_min,
        shape=held.shape,
        minutes=held.minutes,
        readings=readings_with_expected(held.line, test.readings, bound.air_share or 0.0),
        line=tuple(
            LineRun(s.name, s.material.id, s.bore_in, s.wall_in, s.length_ft) for s in test.segments
        ),
    )


def _decide(test: HeldLine, held: HeldFigures) -> _Decision:
    """What the bound on the leak says. Only what nothing else explains is called a leak."""
    if test.visible_leak:
        return _Decision(
            "leaks",
            "seen",
            say("It leaks: water was seen. What the gauge says does not matter."),
        )
    bound = held.bound
    # Gasketed joints may seep: a leak within their make-up is disputed by its own standard.
    undisputed = max(proving_value("undisputed_leak_ml_min"), held.makeup_ml_min or 0.0)
    leaks = bound.lower_ml_per_min >= undisputed and not held.steady
    if held.emptied and bound.lower_ml_per_min > 0:
        return _Decision(
            "leaks",
            "emptied",
            say(
                "It leaks: the gauge fell from {start} to {end}, and heat cannot explain that.",
                start=Figure(held.start.pressure_psi, "psi", 1),
                end=Figure(held.end.pressure_psi, "psi", 1),
            ),
        )
    unfit = _unfit(held, leaks=leaks)
    if unfit is not None:
        return unfit
    if leaks:
        return _Decision(
            "leaks",
            "unexplained drop",
            say(
                "It leaks: about {best}, and {lower} at the very least.",
                best=Figure(bound.best_ml_per_min, "mL a minute", 1),
                lower=at_least(bound.lower_ml_per_min),
            ),
        )
    return _no_proof(test, held) or _Decision(
        "holds",
        "bound",
        say(
            "It holds: any leak is under {upper}.",
            upper=at_most(bound.upper_ml_per_min),
        ),
    )


def _unfit(held: HeldFigures, *, leaks: bool) -> _Decision | None:
    """A test again where the readings fit neither a tight line nor a leak; None where they do."""
    bound = held.bound
    if held.swing_f is None:
        if leaks:
            return None
        return _Decision(
            "repeat",
            "no water temperature",
            say("Test again with the water’s temperature at both ends. The gauge needs it."),
        )
    limit = proving_value("swing_f")
    if held.swing_f > limit + 1e-6:
        return _Decision(
            "repeat",
            "temperature swing",
            say(
                "Test again: the water changed by {swing}. Over {limit} the gauge proves nothing.",
                swing=Figure(held.swing_f, "°F", 1),
                limit=Figure(limit, "°F"),
            ),
        )
    # Twice the 95 % spread: one tight line in 2,000 reads so high by chance.
    by_chance = 2 * proving_value("coverage_95") * bound.standard_ml_per_min
    if bound.best_ml_per_min + by_chance < 0:
        return _Decision(
            "repeat",
            "rise",
            say(
                "Test again: it rose {rise} more than heat explains. Something fed the line.",
                rise=Figure(-(held.unexplained_psi or 0.0), "psi", 1),
            ),
        )
    if leaks and held.shape == "settling":
        return _Decision(
            "repeat",
            "settling",
            say(
                "Test again from here: it fell {drop} early on, then steadied.",
                drop=Figure(held.unexplained_psi or 0.0, "psi", 1),
            ),
        )
    return None


def _no_proof(test: HeldLine, held: HeldFigures) -> _Decision | None:
    """Why the readings do not prove that the line holds; None where they do."""
    if not test.looked:
        return _Decision(
            "repeat",
            "nobody looked",
            say("Nobody looked at the joints, and a gauge alone proves nothing. Walk the line."),
        )
    least = proving_value("hold_least_min")
    if held.minutes < least:
        return _Decision(
            "repeat",
            "short hold",
            say(
                "Test again: {minutes} is too short. Hold for {least} at least.",
                minutes=Span(held.minutes),
                least=Span(least),
            ),
        )
    if held.emptied:
        return _Decision(
            "repeat",
            "emptied",
            say(
                "Test again: the gauge fell from {start} to {end}. Such a fall never proves a "
                "line tight.",
                start=Figure(held.start.pressure_psi, "psi", 1),
                end=Figure(held.end.pressure_psi, "psi", 1),
            ),
        )
    division = test.gauge_division_psi
    if held.start.pressure_psi <= proving_value("least_divisions") * division:
        return _Decision(
            "repeat",
            "low start",
            say(
                "Test again higher, or with a finer gauge: {start} is only a mark or two of it.",
                start=Figure(held.start.pressure_psi, "psi", 1),
            ),
        )
    if held.bound.upper_ml_per_min > held.matters_ml_min:
        return _Decision(
            "repeat",
            "bound",
            say(
                "Test again: a leak of {upper} could hide in this test, and {matters} matters.",
                upper=at_most(held.bound.upper_ml_per_min),
                matters=Figure(held.matters_ml_min, "mL a minute", 1),
            ),
        )
    return None


def _with_rules(decided: _Decision, held: HeldFigures) -> _Decision:
    """The stricter of the bound and the rules beside it, with the reason where they disagree."""
    for rule in held.rules:
        if rule.verdict == decided.verdict:
            continue
        if stricter(rule.verdict, decided.verdict) == decided.verdict:
            why = say(
                "{rule} alone would be met or left open. The bound on the leak is stricter, and "
                "rules.",
                rule=Capital(rule.name),
            )
            decided = replace(decided, stricter=why)
        else:
            why = say(
                "By the bound on the leak alone this would be milder. The {rule} is stricter, "
                "and rules.",
                rule=rule.name,
            )
            decided = _Decision(rule.verdict, rule.id, _rule_headline(rule, held), why)
    return decided


def _rule_headline(rule: GoverningRule, held: HeldFigures) -> Text:
    if rule.id == "makeup":
        measured, limit = (Figure(one, "mL a minute", 1) for one in (rule.measured, rule.limit))
        if rule.verdict == "leaks":
            return say(
                "It leaks: it took {measured}; its gasketed joints may take {limit}.",
                measured=measured,
                limit=limit,
            )
        return say(
            "Test again: its gasketed joints may take {limit}, and this test cannot tell.",
            limit=limit,
        )
    measured, limit = (Figure(one, "psi", 1) for one in (rule.measured, rule.limit))
    if rule.verdict == "leaks":
        return say(
            "It leaks: it fell {drop} after the topping up, over the {limit} allowed.",
            drop=measured,
            limit=limit,
        )
    if rule.measured <= rule.limit:
        return say(
            "Test again: polyethylene is held for {hold}, this was {minutes}.",
            hold=Span(proving_value("pe_hold_min")),
            minutes=Span(held.minutes),
        )
    return say(
        "Test again, the polyethylene way: it fell {drop}, over the {limit} allowed.",
        drop=measured,
        limit=limit,
    )


def _would_settle(reason: str, held: HeldFigures) -> tuple[Change, ...]:
    """What to change before the next test, with the leak that it would then show."""
    setting = held.setting
    if reason == "temperature swing":
        setting = replace(setting, change_f=proving_value("swing_f"))
    least = proving_value("hold_least_min")
    if reason == "polyethylene":
        least, topped = proving_value("pe_hold_min"), proving_value("pe_expansion_min")
        setting = replace(setting, how=replace(setting.how, minutes_since_pumped=topped))
    if setting.how.minutes < least:
        setting = replace(setting, how=replace(setting.how, minutes=least))
    same = setting.shows()
    if setting.how.thermometer_step_f is not None and same <= held.matters_ml_min:
        return (Change("again", _again(reason, setting.how.minutes), same),)
    return would_settle(setting, held.matters_ml_min)


def _again(reason: str, minutes: float) -> Text:
    """What the next test needs where its instruments suffice."""
    hold = Span(minutes)
    if reason == "temperature swing":
        return say(
            "Test for {hold} when the water stays within {limit}: early, late or in shade.",
            hold=hold,
            limit=Figure(proving_value("swing_f"), "°F"),
        )
    if reason == "nobody looked":
        return say("Hold it again for {hold}, and look at each joint with a dry tissue.", hold=hold)
    if reason == "polyethylene":
        return say(
            "Top it up for {top}, let it down {down}, then hold it for {hold} untouched.",
            top=Span(proving_value("pe_expansion_min")),
            down=Figure(proving_value("pe_step_down_psi"), "psi"),
            hold=Span(proving_value("pe_hold_min")),
        )
    if reason in {"emptied", "low start"}:
        return say(
            "Vent it, pump it up to the test pressure and hold it for {hold}, watching the joints.",
            hold=hold,
        )
    return say("Test it again for {hold} in the same way.", hold=hold)


def _cautions(held: HeldFigures, decided: _Decision) -> tuple[Text, ...]:
    notes: list[Text] = []
    reason = decided.reason
    much = held.bound.best_ml_per_min > held.matters_ml_min
    if decided.verdict == "repeat" and much and reason != "short hold":
        notes.append(
            say(
                "It fell {drop}, which is a lot. Walk the line for water before you test again.",
                drop=Figure(held.fall_psi, "psi", 1),
            )
        )
    if decided.verdict == "holds" and held.bound.lower_ml_per_min > 0:
        notes.append(
            say("It fell more than heat and stretch explain: a small weep is likely. Look again.")
        )
    if reason == "rise":
        notes.append(
            say("Look for a valve that lets water in, a pump left on, or sun on bare pipe.")
        )
    if reason == "polyethylene" and decided.verdict == "repeat":
        notes.append(
            say(
                "At most {cap} in all above working pressure, then as long at rest.",
                cap=Span(proving_value("pe_cap_min")),
            )
        )
    air = held.bound.air_share
    if air is not None and air > proving_value("air_share"):
        notes.append(
            say(
                "About {air} of the line is air. It stores energy and hides leaks: vent it.",
                air=Figure(air * 100, "%", 1),
            )
        )
    if air is None and decided.verdict != "leaks":
        notes.append(
            say(
                "This allows for {air} of trapped air. With a high point that has no vent there "
                "may be more: measure the water pumped in.",
                air=Figure(proving_value("unreported_air_share") * 100, "%"),
            )
        )
    always = ("water_only", "depressurise", "stand_clear", "eyes", "local_code")
    return (*notes, *caution(*always))
