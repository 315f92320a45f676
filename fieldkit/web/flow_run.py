"""One passage of a person through a flow: what was answered, what comes next, what came out.

A passage is a fold over the entries of its run. It holds no state of its own, so going back, a
reload, two tabs and a double tap see the same thing.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from flask import current_app

from fieldkit.engine.problems import Problem
from fieldkit.engine.working import Answer, to_json
from fieldkit.flows.block import Block
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import shared_facts
from fieldkit.flows.flow import Flow
from fieldkit.flows.question import Series, Step
from fieldkit.flows.stops import stop_of
from fieldkit.joblog import Entry, JobLog, JointNow, RunNow
from fieldkit.tables.other_kinds import OtherKind
from fieldkit.web import clock
from fieldkit.web.idempotent import keep, once
from fieldkit.web.ids import following_id
from fieldkit.web.look import joblog
from fieldkit.web.who import signature_of_asker


@dataclass
class Passage:
    """A flow, the joint it is about, and the answers given so far in this run."""

    flow: Flow
    joint: JointNow
    run_id: str
    run: RunNow | None
    now: str
    prices: Mapping[str, Any] | str = field(default_factory=dict)
    counted: Mapping[str, Any] = field(default_factory=dict)
    added: Mapping[str, Any] = field(default_factory=dict)
    shared: Mapping[str, Any] = field(default_factory=dict)

    @cached_property
    def facts(self) -> dict[str, Any]:
        """What the flow may know: the joint's facts, the time, the price list."""
        facts = {**self.joint.facts, **self.shared, "now": self.now}
        if self.prices:
            facts["prices"] = self.prices
        if self.counted:
            facts |= {"history": self.counted["found"], "counted": self.counted}
        return facts

    @cached_property
    def given(self) -> dict[str, Any]:
        """The answers of this run that still count."""
        kept = self.run.answers if self.run else {}
        return self.flow.relevant({**kept, **self.added}, self.facts)

    @cached_property
    def next_step(self) -> Step | None:
        """The question to ask next, or None when all is answered."""
        return self.flow.next_step(self.given, self.facts)

    def page(self, step: Step) -> tuple[Step, ...]:
        """The steps that stand on one page with ``step``."""
        return self.flow.page(step, self.given, self.facts)

    @property
    def aside(self) -> tuple[Block, ...]:
        """What the flow lays beside its questions; it sees the readings of an open series."""
        if self.flow.aside is None:
            return ()
        series = (one.id for one in self.flow.steps if isinstance(one.kind, Series))
        so_far = [row for one in series if one not in self.given for row in self.readings(one)]
        return self.flow.aside({**self.given, "so_far": so_far}, self.facts)

    def typed(self, step_id: str) -> Mapping[str, Any]:
        """The form as it was sent for a step, or nothing."""
        return self.run.typed.get(step_id, {}) if self.run else {}

    def readings(self, step_id: str) -> list[dict[str, Any]]:
        """The readings of a series so far, each with its time, oldest first."""
        if self.run is None:
            return []
        entries = [one.entry for one in self.run.entries]
        struck = {one.replaces for one in entries if one.kind == "strike"}
        return sorted(
            (
                {**one.understood, "entry": one.id}
                for one in entries
                if one.kind == "reading" and one.step == step_id and one.id not in struck
                if isinstance(one.understood, Mapping) and "at" in one.understood
            ),
            key=lambda reading: (reading["at"], reading["entry"]),
        )

    def known(self) -> list[tuple[Step, Any]]:
        """The steps not asked because the log knows their fact, with what it knows."""
        return [
            (step, self.facts[step.fact])
            for step in self.flow.steps
            if step.fact and step.id not in self.given and self.facts.get(step.fact) is not None
        ]

    def work_out(self) -> Answer:
        """The flow's calculation on what was given and what is known.

        Raises
        ------
        Problem
            It cannot be worked out; ``field`` may name the step to change.
        """
        return self.flow.work_out(self.given, self.facts)

    @property
    def stop(self) -> OtherKind | None:
        """The kind of pipe that this flow refuses to work on, where the joint has one."""
        return stop_of(self.facts, self.flow.goes_on)

    @cached_property
    def outcome(self) -> Answer | Problem | None:
        """What the answers come to, worked out once; None while there is a question to ask."""
        if self.next_step is not None:
            return None
        try:
            return self.work_out()
        except Problem as found:
            return found

    @property
    def trouble(self) -> Problem | None:
        """What stops a passage whose questions are all answered from being worked out."""
        return self.outcome if isinstance(self.outcome, Problem) else None

    @cached_property
    def doomed(self) -> Problem | None:
        """What was left open without which there will be no answer, also while more is asked."""
        return self.trouble if self.next_step is None else self.flow.doomed(self.given, self.facts)

    @property
    def stopped(self) -> bool:
        """Whether the joint may not be worked on, whatever was worked out before."""
        return self.stop is not None or self.flow.is_stopped(self.facts)

    def since(self, kept: Entry) -> Answer | Problem | Step | None:
        """What a kept answer would be with what the log has learned since; None if the same.

        A step where there is something to ask now. Time alone changes nothing.
        """
        if all(at <= kept.at for at in self.joint.fact_times.values()):
            return None
        now = dataclasses.replace(self, now=kept.at)
        found = now.next_step or now.outcome
        if not isinstance(found, Answer) or kept.result is None:
            return found
        shaped = found.as_json()
        same = all(shaped[key] == kept.result.get(key) for key in ("verdict", "headline"))
        return None if same else found

    def with_answer(self, step_id: str, value: Any) -> Passage:
        """This passage as it is once ``value`` is saved for ``step_id``."""
        return dataclasses.replace(self, added={**self.added, step_id: value})

    def standing_answer(self, log: JobLog, step_id: str) -> Entry | None:
        """The entry that holds the step's answer now."""
        entry_id = self.run.answer_entries.get(step_id) if self.run else None
        stored = log.entry(entry_id) if entry_id else None
        return stored.entry if stored else None

    def entry(self, entry_id: str, kind: str, **parts: Any) -> Entry:
        """An entry about this passage, by whoever asks."""
        return Entry(
            id=entry_id,
            at=self.now,
            job=self.joint.job,
            joint=self.joint.id,
            kind=kind,
            flow=self.flow.id,
            run=self.run_id,
            who=signature_of_asker(),
            **parts,
        )


def open_passage(log: JobLog, flow_id: str, joint_id: str, run_id: str, now: str) -> Passage | None:
    """The passage at this address, or None when there is no such flow, joint or run.

    Its time is the one that its entries get, so that a result comes out the same when it is worked
    out again as of its entry's time.
    """
    flow = flows().get(flow_id)
    joint = log.joint(joint_id)
    if flow is None or joint is None:
        return None
    run = log.run(run_id, joint.job, joint_id, flow_id)
    prices = price_list(log) if flow.uses_prices else {}
    counted = counted_here(log, joint) if flow.uses_history else {}
    last = log.facts_found_last(joint.job, flow.shares[-1]) if flow.shares else {}
    shared = shared_facts(flow.shares, [last], now)
    at = log.in_turn(joint.job, now)
    return Passage(flow, joint, run_id, run, at, prices, counted, shared=shared)


def counted_here(log: JobLog, joint: JointNow) -> dict[str, Any]:
    """What this log teaches the diagnosis of a joint, and whether it is a phone's copy."""
    phone = "OWNER" in current_app.config
    return log.counted(joint.job, joint.id) | {"on": "phone" if phone else "server"}


def price_list(log: JobLog) -> Mapping[str, Any] | str:
    """The prices as a calculation takes them; ``"demo"`` for the invented ones of the demo."""
    kept = log.prices()
    return "demo" if kept.illustrative else kept.prices


@dataclass(frozen=True)
class Given:
    """One answer as it came in: the step, the form as it was sent, and what it means."""

    step: str
    typed: Mapping[str, Any]
    value: Any


def save_answers(passage: Passage, answers: Sequence[Given], entry_id: str) -> Passage:
    """Save the answers of one page and, with the last, what the flow came to; all or nothing.

    The first answer goes under ``entry_id``, the others under ids that follow from it.

    Returns the passage as it now stands; its ``trouble`` says why nothing could be worked out,
    if that is so. The answers themselves are saved all the same.
    """
    log, after, entries = joblog(), passage, []
    for number, one in enumerate(answers):
        value = to_json(one.value)  # as it is kept, so that the result follows from what is there
        after = after.with_answer(one.step, value)
        made = passage.entry(
            following_id(entry_id, one.step, number) if number else entry_id,
            "answer",
            step=one.step,
            typed=dict(one.typed),
            understood=value,
        )
        entry = once(log, made, passage.standing_answer(log, one.step))
        if entry is not None:  # else a double tap: it is saved already
            entries.append(entry)
    if not entries:
        return after
    if after.next_step is None and after.trouble is None:
        entries.append(result_entry(after, following_id(entries[-1].id, "result")))
    keep(log, entries, received=clock.now())
    return after


def result_entry(passage: Passage, entry_id: str) -> Entry:
    """The entry that keeps what a passage came to, and what that teaches about the joint.

    Raises
    ------
    Problem
        It cannot be worked out.
    """
    if not isinstance(passage.outcome, Answer):
        raise passage.outcome or ValueError("there is a question to ask")
    shaped = passage.outcome.as_json()
    return passage.entry(
        entry_id,
        "result",
        understood=to_json(passage.given),
        result=shaped,
        facts=to_json(passage.flow.learn(passage.given, shaped)),
    )
