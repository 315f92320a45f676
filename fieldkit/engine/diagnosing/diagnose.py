"""Why a joint leaks or let go: the causes, how sure, what speaks for and against, what to ask."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import log2
from typing import Any

from fieldkit.engine.cautions import caution
from fieldkit.engine.diagnosing.belief import (
    JOINT_TYPE,
    NO_HISTORY,
    Belief,
    History,
    by_joint,
    judgement_worth,
    posterior,
    priors,
    ranked,
)
from fieldkit.engine.diagnosing.next_question import (
    CLEAR,
    CLEAR_LEADER,
    ENOUGH,
    NOTHING_CHANGES,
    Next,
    Worth,
    next_question,
    to_mend,
)
from fieldkit.engine.diagnosing.signs import Setting, option_for
from fieldkit.engine.words import Capital, Text, say
from fieldkit.engine.working import Answer, Line, precise
from fieldkit.tables.diagnosis import cause_pairs, causes, options, questions

#: Under this, the leader is only the first thing to look at. Trade judgement.
LIKELY = 0.5
#: A pair is reported where both stand in the top four and neither is less likely than this.
PAIR_EACH = 0.05
#: How many causes an answer names in full.
SHOWN = 5

#: Shown with every diagnosis, before its fix.
SAFE_FIRST = ("depressurise", "stand_clear", "eyes", "box_hazards", "backflow", "local_code")

#: An answer as it was given: an option's id, a number in the question's unit, None for can't tell.
Given = Mapping[str, str | float | None]


@dataclass(frozen=True, slots=True)
class CauseFound:
    """One cause, how likely, and what to do about it."""

    id: str
    name: str
    probability: float
    check: Text
    fix: tuple[Text, ...]
    parts: tuple[str, ...]
    prevent: Text
    caution: Text
    stop: Text


@dataclass(frozen=True, slots=True)
class OptionShown:
    """One answer that may be given."""

    id: str
    label: str
    trade: str


@dataclass(frozen=True, slots=True)
class QuestionShown:
    """A question to ask, in a homeowner's words and a technician's."""

    id: str
    ask: Text
    ask_technician: Text
    trade: str
    why: Text
    hint: Text
    kind: str
    unit: str
    effort: int
    water_off_first: bool
    options: tuple[OptionShown, ...]
    gain_bits: float


@dataclass(frozen=True, slots=True)
class PairFound:
    """Two causes that often act together, and how such a failure is seen."""

    causes: tuple[str, str]
    names: tuple[str, str]
    seen_as: Text


@dataclass(frozen=True, kw_only=True, slots=True)
class Diagnosis(Answer):
    """``causes`` best first, ``next_question`` None when there is no more to ask.

    ``because`` holds, for each answer, how far it moves the odds of the leader, as bits ``for``
    or ``against``; an answer that the job's log gave is marked ``from_job``. ``here`` says what
    became of such joints in the log that was read, ``counted`` holds the counts it was told from.
    ``also`` are faults
    that an answer shows outright, to be put right too. ``stopped`` says why there is no next
    question.
    """

    sure: Text
    causes: tuple[CauseFound, ...]
    next_question: QuestionShown | None
    stopped: str
    because: tuple[Mapping[str, Any], ...]
    runner_up: CauseFound | None
    pairs: tuple[PairFound, ...]
    also: tuple[CauseFound, ...]
    checks: tuple[Text, ...]
    asked: int
    joint: str
    remake: tuple[str, ...] = ()
    here: tuple[Text, ...] = ()
    counted: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Understood:
    """The answers as options, with the working of those that were numbers."""

    evidence: dict[str, str]
    lines: tuple[Line, ...]


def understood(given: Given, setting: Setting) -> Understood:
    """Place each number among the options of its question; leave out what no one can tell."""
    setting = _set_by(given, setting)
    evidence: dict[str, str] = {}
    lines: list[Line] = []
    for question, value in given.items():
        if value is None:
            continue
        if isinstance(value, str):
            evidence[question] = value
        else:
            evidence[question], own = option_for(question, value, setting)
            lines += own
    return Understood(evidence, tuple(lines))


def _set_by(given: Given, setting: Setting) -> Setting:
    """What the answers say of the joint that a number is held against."""
    joint = given.get(JOINT_TYPE)
    if isinstance(joint, str):
        setting = replace(setting, joint=joint)
    if given.get("thread_parts") == "metal_male":
        setting = replace(setting, male="metal")
    if given.get("wet_when_made") == "wet":
        setting = replace(setting, humidity_pct=100.0)
    cold = given.get("cement_temp_f")
    if isinstance(cold, str):
        own = next(o for o in options()["cement_temp_f"] if o.option_id == cold)
        cold = own.hi if own.hi is not None else own.lo
    if isinstance(cold, float | int):
        setting = replace(setting, cure_temperature_f=float(cold))
    return setting


def diagnose(
    given: Given,
    setting: Setting | None = None,
    *,
    from_job: Collection[str] = (),
    who: str = "",
    enough: bool = False,
    history: History = NO_HISTORY,
    closed: Collection[str] = (),
) -> Diagnosis:
    """The causes of a leak or a blow-off, and the question that would help most.

    Parameters
    ----------
    given : mapping
        Question id → option id, a number in the question's unit, or None for can't tell. [mixed]
    setting : Setting
        What is known of the joint, for numbers to be held against.
    from_job : collection of str
        Those of the questions that the job's log answered: they were not asked.
    who : str
        ``homeowner``, ``technician`` or empty.
    enough : bool
        The person wants the answer now.
    history : mapping
        Cause → earlier failures of this company that were proved to be that. [1]
    closed : collection of str
        Questions that what is known of the joint makes idle.

    Returns
    -------
    Diagnosis
        Causes with probabilities that sum to 1. [1]

    Raises
    ------
    OutOfRange
        A number lies outside what the calculation it is held against covers.

    Source
    ------
    bayes; shannon. Every weight is trade judgement: common practice, no source.

    Examples
    --------
    >>> found = diagnose({"fitting_type": "hose_thread", "gasket_state": "missing"})
    >>> found.causes[0].id, found.verdict
    ('gasket_fault', 'likely')
    """
    told = understood(given, setting or Setting())
    belief = posterior(told.evidence, history)
    order = ranked(belief)
    asked = [question for question in given if question not in from_job]
    following = next_question(
        told.evidence, belief, asked=asked, who=who, enough=enough, closed=closed
    )
    found = tuple(cause_found(one, p) for one, p in order)
    leader = order[0][1]
    verdict = "settled" if leader >= CLEAR else "likely" if leader >= LIKELY else "not_settled"
    known_joint = max(by_joint(told.evidence, belief).items(), key=lambda item: item[1])[0]
    return Diagnosis(
        verdict=verdict,
        headline=_headline(verdict, found),
        cautions=_cautions(found[0].id),
        working=(*_working(told.evidence, belief, found[0], history), *told.lines),
        sure=_sure(verdict, following),
        causes=found,
        next_question=None if following.best is None else question_shown(following.best),
        stopped=following.stopped,
        because=_because(told.evidence, order[0], from_job, history),
        runner_up=found[1],
        pairs=_pairs(order),
        also=tuple(
            one for cause in to_mend(told.evidence, belief)[1:] for one in found if one.id == cause
        ),
        checks=_checks(verdict, found),
        asked=len(asked),
        joint=known_joint,
    )


def cause_found(cause: str, probability: float) -> CauseFound:
    """A cause's row in words."""
    row = causes()[cause]
    return CauseFound(
        id=cause,
        name=row.title,
        probability=probability,
        check=say(row.check),
        fix=tuple(say(step) for step in row.fix_steps),
        parts=row.parts,
        prevent=say(row.prevent),
        caution=say(row.caution),
        stop=say(row.stop),
    )


def question_shown(worth: Worth) -> QuestionShown:
    """A question's row in words, with what it is expected to tell."""
    row = questions()[worth.question]
    return QuestionShown(
        id=row.id,
        ask=say(row.ask),
        ask_technician=say(row.ask_technician),
        trade=row.trade,
        why=say(row.why),
        hint=say(row.hint),
        kind=row.kind,
        unit=row.unit,
        effort=row.effort,
        water_off_first=row.water_off_first,
        options=tuple(OptionShown(o.option_id, o.label, o.trade) for o in options()[row.id]),
        gain_bits=worth.bits,
    )


def label(question: str, option: str) -> str:
    """An option in plain words."""
    return next(o.label for o in options()[question] if o.option_id == option)


def moved(
    evidence: Mapping[str, str], cause: str, history: History = NO_HISTORY
) -> dict[str, float]:
    """How far each answer moves the odds of a cause, given all the others.

    log₂ of the odds with the answer over the odds without it. [bit]
    """

    def log_odds(answers: Mapping[str, str]) -> float:
        p = posterior(answers, history)[cause]
        return log2(p) - log2(1 - p)

    whole = log_odds(evidence)
    return {
        one: whole - log_odds({q: o for q, o in evidence.items() if q != one}) for one in evidence
    }


def _because(
    evidence: Mapping[str, str],
    leader: tuple[str, float],
    from_job: Collection[str],
    history: History,
) -> tuple[Mapping[str, Any], ...]:
    bits = moved(evidence, leader[0], history)
    return tuple(
        {
            "question": question,
            "answer": say(
                "{what}: {label}",
                what=Capital(questions()[question].trade),
                label=label(question, evidence[question]),
            ),
            "for": max(0.0, moves),
            "against": max(0.0, -moves),
            "cause": leader[0],
            "from_job": question in from_job,
        }
        for question, moves in sorted(bits.items(), key=lambda item: -abs(item[1]))
    )


def _headline(verdict: str, found: Sequence[CauseFound]) -> Text:
    first = found[0].name
    if verdict == "settled":
        return say("Almost surely: {cause}.", cause=first)
    if verdict == "likely":
        return say("Most likely: {cause}.", cause=first)
    return say("Not settled. Look first at: {cause}.", cause=first)


def _sure(verdict: str, following: Next) -> Text:
    why = {
        CLEAR_LEADER: say("The leader is clear."),
        NOTHING_CHANGES: say("No further answer is likely to change the advice."),
        ENOUGH: say("You asked for the answer now."),
    }.get(following.stopped, say("More answers would help."))
    words = {
        "settled": "Almost sure, by the trade’s judgment, not by a count. {why}",
        "likely": "More likely than all others together, by the trade’s judgment. {why}",
        "not_settled": "Not sure: several causes fit. Check them in turn. {why}",
    }[verdict]
    return say(words, why=why)


def _cautions(cause: str) -> tuple[Text, ...]:
    row = causes()[cause]
    named = dict.fromkeys((*SAFE_FIRST, *row.cautions))
    return (*caution(*named), say(row.caution))


def _checks(verdict: str, found: Sequence[CauseFound]) -> tuple[Text, ...]:
    """What proves it: the leader's check, or those of the three that lead."""
    return tuple(one.check for one in found[: 1 if verdict == "settled" else 3])


def _pairs(order: Sequence[tuple[str, float]]) -> tuple[PairFound, ...]:
    leading = [one for one, p in order[:4] if p >= PAIR_EACH]
    return tuple(
        PairFound(
            (pair.cause_a, pair.cause_b),
            (causes()[pair.cause_a].title, causes()[pair.cause_b].title),
            say(pair.seen_as),
        )
        for pair in cause_pairs()
        if {pair.cause_a, pair.cause_b} <= {*leading}
    )


def _working(
    evidence: Mapping[str, str], belief: Belief, leader: CauseFound, history: History
) -> tuple[Line, ...]:
    row = causes()[leader.id]
    ours = {one: n for one, n in history.items() if one in causes()}
    return (
        Line(
            "before any answer",
            "(weight + times found) / (all weights + all found)",
            {
                "cause": leader.name,
                "weight": precise(row.prior_weight),
                "times found": ours.get(leader.id, 0),
                "all weights": precise(judgement_worth()),
                "all found": sum(ours.values()),
            },
            priors(history)[leader.id],
            "",
            "bayes",
            row.status,
        ),
        Line(
            "after the answers",
            "by steps: Bayes’ rule over the causes",
            {question: label(question, option) for question, option in evidence.items()},
            belief[leader.id],
            "",
            "bayes",
            row.status,
        ),
    )
