"""A guided flow as data: steps, each one question, and one calculation at the end.

A flow holds no view and no state. ``next_step`` looks at the answers so far and at what the
joint's log already knows, and names the step to ask next, or none when the flow can be worked
out. Adding a flow is adding a ``Flow``: the web side renders any of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import datetime
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, Span
from fieldkit.engine.working import Answer
from fieldkit.flows import halt, stops
from fieldkit.flows.block import Block, Clock
from fieldkit.flows.halt import STOP_FACT, STOPPED, may_lift, stop_blocks, stop_given
from fieldkit.flows.nearest import Change, nearest
from fieldkit.flows.question import Choice, Confirm, Known, Quantity, Step
from fieldkit.flows.spoken import Spoken

#: What reading an answer fails with where another version wrote it.
_UNREADABLE = (LookupError, TypeError, ValueError, AttributeError, ArithmeticError)

#: Tests set this: then a fault in laying out an answer that has its working is a fault of ours.
raise_faults = False


def _if_ours(answer: Known | None) -> None:
    """Go on with the fault at hand where it must be ours."""
    if raise_faults and answer is not None and "working" in answer:
        raise  # noqa: PLE0704  -- called while it is handled


def _require_tellable(value: object) -> None:
    """Fail here, not in the middle of a page, where a block holds what cannot be told."""
    if isinstance(value, Figure | Span):
        str(value)
    elif isinstance(value, tuple | list):
        for one in value:
            _require_tellable(one)
    elif isinstance(value, Clock):
        datetime.fromisoformat(value.until).astimezone()
    elif is_dataclass(value):
        for part in fields(value):
            _require_tellable(getattr(value, part.name))
    elif not (value is None or isinstance(value, str | int | float)):
        raise TypeError("a block holds texts and figures")


@dataclass(frozen=True, slots=True)
class Onward(Spoken):
    """What leads on from an answer: a flow of the same joint, and the words of its button.

    ``card`` is the joint's card for the store, ``another`` a new joint like this one.
    """

    TEXTS = ("label",)

    flow: str
    label: str


#: Where no change of a joint's own answers makes it hold.
OTHER_PARTS = Onward("choose", "Choose other parts")


@dataclass(frozen=True, slots=True)
class Flow(Spoken):
    """A guided flow: questions, then one calculation, then what to show and what was learned.

    ``work_out`` gets the flow's answers and the joint's facts, and returns an ``Answer`` or
    raises a ``Problem`` whose ``field`` is a step id, which sends the person back to that step
    with the sentence shown. ``show`` lays the answer's JSON out in blocks. ``learn`` names the
    facts that the joint has gained. ``pick`` (where cards can be chosen) names the facts gained
    by choosing one.
    """

    TEXTS = ("title", "trade", "about", "pages")

    id: str
    title: str
    trade: str
    about: str
    steps: tuple[Step, ...]
    work_out: Callable[[Known, Known], Answer]
    show: Callable[[Known], tuple[Block, ...]]
    learn: Callable[[Known, Known], dict[str, Any]]
    cautions: tuple[str, ...] = ()
    pick: Callable[[Known, str], dict[str, Any]] | None = None
    then: tuple[str, ...] = ()
    #: For flows whose next question depends on the answers; otherwise the order of ``steps``.
    choose_next: Callable[[Known, Known], Step | None] | None = None
    #: Whether the price list is wanted among the facts, as ``prices``.
    uses_prices: bool = False
    #: Steps that share a page: what is seen or measured in one place with one tool. Each is
    #: still an answer of its own in the log.
    together: tuple[tuple[str, ...], ...] = ()
    #: Whether all of its steps share one page: for a joint that is made like the last.
    at_once: Callable[[Known], bool] | None = None
    #: For flows whose next question depends on the answers: those that share a page with it.
    choose_together: Callable[[Step, Known, Known], tuple[Step, ...]] | None = None
    #: What such a page is called, in the order of ``together``; else by its first question.
    pages: tuple[str, ...] = ()

    #: The steps that a person may vary where an answer refuses, by its verdict; under "" where
    #: there is none. The nearest values that are not refused are offered.
    refusals: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    #: How many ways an answer opens, for the button of a change that leads to it.
    ways: Callable[[Answer], int] | None = None
    #: The way on where no change of those steps works, not even of three together.
    otherwise: Onward | None = None
    #: Changes of more than one step, where an answer (None: none could be worked out) refuses.
    changes: Callable[[Known | None, Known, Known], tuple[Change, ...]] | None = None

    #: Blocks that stand under each of its questions, from the answers and facts so far.
    aside: Callable[[Known, Known], tuple[Block, ...]] | None = None

    #: The flow that is begun at once after this answer, without showing it; "" to show it, "next"
    #: for the stage that is next. For answers that the strip tells whole.
    straight_on: Callable[[Known], str] | None = None
    #: The same for an answer that nothing was asked for, since the log knew it all.
    unasked: Callable[[Known], str] | None = None
    #: What stands beside that on the answer, after the joint's own page.
    beside: Callable[[Known], Onward | None] | None = None
    #: What leads on from this answer, where that is not the next stage: after "leaks", why.
    onward: Callable[[Known, Known], Onward | None] | None = None
    #: Whether what earlier failures were found to be is wanted among the facts, as ``history``.
    uses_history: bool = False
    #: Facts that hold for every joint of the job; the last of them says when they were found.
    shares: tuple[str, ...] = ()
    #: Effects of ``other_kinds.csv`` at which it goes on; at all others it refuses the joint.
    goes_on: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Make texts, and let nothing be worked out where the work is stopped.

        An answer that stops the work ends this flow and refuses others, and so does a pipe that
        takes no joint.
        """
        Spoken.__post_init__(self)
        work_out, learn = self.work_out, self.learn

        def worked_out(given: Known, facts: Known) -> Answer:
            stop = stop_given(self.steps, given)
            if stop:
                return halt.stopped(stop)
            if self.is_stopped(facts):
                raise halt.refusal(facts[STOP_FACT])
            kind = stops.stop_of(facts, self.goes_on)
            if kind is not None:
                raise stops.refusal(kind)
            return work_out(given, facts)

        def learned(given: Known, answer: Known) -> dict[str, Any]:
            stop = stop_given(self.steps, given)
            if stop:
                return {STOP_FACT: stop}
            return {**learn(given, answer), **({STOP_FACT: None} if may_lift(self.steps) else {})}

        object.__setattr__(self, "work_out", worked_out)
        object.__setattr__(self, "learn", learned)

    def is_stopped(self, facts: Known) -> bool:
        """Whether the joint was stopped, and nothing that is asked here can take that away."""
        return facts.get(STOP_FACT) is not None and not may_lift(self.steps)

    def next_step(self, given: Known, facts: Known) -> Step | None:
        """The step to ask next, or None when the flow can be worked out, or was stopped."""
        if stop_given(self.steps, given) or self.is_stopped(facts):
            return None
        if stops.stop_of(facts, self.goes_on) is not None:
            return None
        if self.choose_next is not None:
            return self.choose_next(given, facts)
        seen = dict(facts) | dict(given)
        for step in self.steps:
            if step.id in given or not step.when(seen):
                continue
            if step.fact and facts.get(step.fact) is not None:
                continue
            beside = self.page(step, given, facts) if step.folded else ()
            if step.folded and all(one.folded or one.id in given for one in beside):
                continue
            return step
        return None

    def page(self, step: Step, given: Known, facts: Known) -> tuple[Step, ...]:
        """``step`` and those that share its page and can be asked now, in their order.

        A step whose question depends on an answer of the same page gets a page of its own.
        """
        if self.choose_together is not None:
            return self.choose_together(step, given, facts)
        whole = self.at_once is not None and self.at_once(facts)
        groups = (tuple(one.id for one in self.steps),) if whole else self.together
        group = next((one for one in groups if step.id in one), ())
        seen = dict(facts) | dict(given)

        def can_be_asked(one: Step) -> bool:
            known = one.fact and facts.get(one.fact) is not None and one.id not in given
            return one.when(seen) and not known

        others = {one.id: one for one in self.steps if one.id in group and can_be_asked(one)}
        others[step.id] = step
        return tuple(others[one] for one in group if one in others) or (step,)

    @staticmethod
    def closing(steps: tuple[Step, ...]) -> Step | None:
        """The question that ends a page of acts: its few answers are the page's buttons."""
        *acts, last = steps
        match last.kind:
            case Choice(options=few) | Quantity(common=few):
                answers_whole = 2 <= len(few) <= 3 and not last.folded
            case _:
                return None
        acts_too = any(isinstance(one.kind, Confirm) for one in acts)
        return last if acts_too and answers_whole else None

    def page_title(self, steps: tuple[Step, ...]) -> str:
        """What the page with these steps is called."""
        if self.choose_together is not None and len(steps) > 1:
            return self.pages[0]
        ids = {one.id for one in steps}
        if len(ids) > 1 and not any(ids.issubset(group) for group in self.together):
            return self.title
        for group, title in zip(self.together, self.pages, strict=False):
            if steps[0].id in group:
                return title
        return steps[0].ask

    def relevant(self, given: Known, facts: Known) -> dict[str, Any]:
        """The answers that still count: one whose question no longer applies is left out.

        So changing "with a caliper" to "with a strip" drops the caliper readings from the
        sum, and changing back finds them again, since the log keeps them.
        """
        if self.choose_next is not None:
            return dict(given)
        kept: dict[str, Any] = {}
        for step in self.steps:
            if step.id in given and step.when({**facts, **kept, step.id: given[step.id]}):
                kept[step.id] = given[step.id]
        return kept

    def blocks(self, answer: Known) -> tuple[Block, ...]:
        """The answer laid out; of one that another version wrote, nothing but its sentence."""
        try:
            stop = answer["verdict"] == STOPPED
            laid_out = tuple(stop_blocks(answer) if stop else self.show(answer))
            _require_tellable(laid_out)
        except _UNREADABLE:
            _if_ours(answer)
            return ()
        return laid_out

    def leads_to(self, answer: Known, facts: Known) -> Onward | None:
        """What the flow itself says follows; nothing after an answer that another version wrote."""
        try:
            return None if self.onward is None else self.onward(answer, facts)
        except _UNREADABLE:
            _if_ours(answer)
            return None

    def offers(self, answer: Known | None, given: Known, facts: Known) -> tuple[Change, ...]:
        """The nearest changes that work; none for an answer that another version wrote."""
        try:
            own = () if self.changes is None else self.changes(answer, given, facts)
            return (*own, *nearest(self, answer, given, facts))
        except _UNREADABLE:
            _if_ours(answer)
            return ()

    def doomed(self, given: Known, facts: Known) -> Problem | None:
        """What was left open without which there will be no answer: said at once."""
        if None not in given.values():
            return None
        try:
            self.work_out(given, facts)
        except Problem as found:
            return found if found.field in given and given[found.field] is None else None
        except _UNREADABLE:
            if raise_faults:
                raise
        return None

    def step(self, step_id: str) -> Step | None:
        """The step of that id, or None."""
        return next((step for step in self.steps if step.id == step_id), None)
