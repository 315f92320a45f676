"""What an entry may hold: refused at the door, set aside on reading, and nothing of ours is."""

from __future__ import annotations

import json
import os
from random import Random

import pytest
from support.entries import NOW, START_MS, a_job, entry
from support.walks import some_answer

from fieldkit.app import make_app
from fieldkit.engine.problems import Problem
from fieldkit.engine.working import tellable, to_json
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import FACT_SHAPES, FACTS
from fieldkit.flows.forms import read_answer
from fieldkit.flows.question import Confirm, Series
from fieldkit.flows.shapes import answer_shape
from fieldkit.joblog import JobLog, acceptance, new_id
from fieldkit.joblog.acceptance import rules_for
from fieldkit.joblog.door import fitted, require_fit
from fieldkit.joblog.integrity import drifted, seals
from fieldkit.joblog.signing import all_entries, check, seal

TECHNICIAN = rules_for("Bo", lead=False)


def nested(levels):
    value = "x"
    for _ in range(levels):
        value = {"a": value}
    return value


#: What a phone may send that hurt somebody, and the part that is named.
HARMFUL = {
    "a note nested deep": ({"kind": "note", "typed": nested(976)}, "typed"),
    "a note nested less deep": ({"kind": "note", "typed": nested(6)}, "typed"),
    "a size that is a text": ({"facts": {"pipe.od_in": "wide"}}, "facts"),
    "a size past all pipes": ({"facts": {"pipe.od_in": 1e300}}, "facts"),
    "true for a number": ({"facts": {"site.pressure_psi": True}}, "facts"),
    "a cure without an end": ({"facts": {"weld.ready_at": "soon"}}, "facts"),
    "an assembly that is a list": ({"facts": {"parts.assembly": [1]}}, "facts"),
    "a fact of no flow": ({"facts": {"prices": {"tee": 0}}}, "facts"),
    "a fact in a note": ({"kind": "note", "facts": {"pipe.od_in": 0.84}}, "facts"),
    "a fact in a strike": ({"kind": "strike", "facts": {"pipe.od_in": 0.84}}, "facts"),
    "a name that is a list": ({"kind": "rename", "understood": {"name": ["x"]}}, "understood"),
    "words drawn backwards": ({"kind": "rename", "understood": {"name": "a\u202eb"}}, "understood"),
    "a long note": ({"kind": "note", "note": "x" * 2001}, "note"),
    "a photo without a name": ({"kind": "photo", "understood": {"bytes": 4}}, "understood"),
    "an answer past its bounds": (
        {"kind": "answer", "flow": "choose", "step": "pressure", "understood": 1e8},
        "understood",
    ),
    "a print line past its box": (
        {"kind": "answer", "flow": "identify-pipe", "step": "print_line", "understood": "9" * 401},
        "understood",
    ),
    "a headline that is a set": (
        {"kind": "result", "result": {"headline": {"a": 1}}},
        "result",
    ),
    "a result nested deep": ({"kind": "result", "result": {"own": nested(20)}}, "result"),
    "a result in a note": ({"kind": "note", "result": {"headline": "x"}}, "result"),
}


def harmful(name, **more):
    body = {"joint": "joint-1", "who": "Bo", **HARMFUL[name][0], **more}
    kind = body.pop("kind", "pick")
    if kind == "pick":
        body["understood"] = "barb"
    return entry(40, kind, **body)


@pytest.mark.parametrize("name", HARMFUL)
def test_a_technicians_phone_cannot_bring_it_in(log, name):
    log.append(a_job(), NOW)
    before = log.count()
    done = acceptance.take_in(log, [harmful(name).as_json()], TECHNICIAN, NOW)
    assert [problem.field for _, problem in done.refused] == [HARMFUL[name][1]]
    assert log.count() == before
    assert len(log.refused()) == 1


@pytest.mark.parametrize("name", sorted(HARMFUL.keys() - {"a note nested deep"}))
def test_what_an_older_version_let_in_counts_nowhere_and_stops_nobody(log, name):
    log.append([*a_job(), made := harmful(name)], NOW)
    (mark,) = log.marks("unfit")
    assert (mark.entry, mark.said["parts"].split(".")[0]) == (made.id, HARMFUL[name][1])
    joint = log.joint("joint-1")
    assert joint.facts == {"pipe.od_in": 0.84, "pipe.nominal": "1/2"}
    assert log.job("job-1").name == "North bed"
    assert drifted(log) == ()
    shown = next(one.entry for one in log.history(job_id="job-1") if one.entry.id == made.id)
    assert fitted(shown)[0] == shown
    # What is carried on and sealed is what was kept.
    assert made in [one.entry for one in log.since(0)]


def test_a_good_fact_beside_a_bad_one_counts(log):
    log.append([entry(1, "pick", joint="k", facts={"pipe.od_in": 0.84, "pipe.id": [1]})], NOW)
    assert log.joint("k").facts == {"pipe.od_in": 0.84}


def test_a_signature_that_is_none_breaks_neither_verify_nor_the_seals_after_it(log):
    log.append([*a_job(), entry(20, "signature", understood=["x"], result={"digests": 3})], NOW)
    made = entry(30, "signature", understood={"name": "Lead"})
    log.append([seal(made, all_entries(log, "job-1"))], NOW)
    found = [one for _, one in seals(log)]
    assert [one.signature.understood for one in found] == [None, {"name": "Lead"}]
    assert [one.whole for one in check(all_entries(log, "job-1"))] == [False, True]


def test_a_log_read_by_other_shapes_is_looked_through_again(tmp_path):
    with JobLog.open(tmp_path / "log.db") as log:
        log.append([*a_job(), harmful("a fact of no flow")], NOW)
        with log.writing() as conn:
            conn.execute("DELETE FROM marks")
            conn.execute("UPDATE looked_through SET form = 'older'")
    with JobLog.open(tmp_path / "log.db") as log:
        assert [one.mark for one in log.marks()] == ["unfit"]


def test_every_fact_has_a_shape_and_none_takes_what_is_no_fact():
    assert FACT_SHAPES.keys() == FACTS.keys()
    for name, shape in FACT_SHAPES.items():
        assert shape.misfit(None) is None, name
        for junk in ({"a": {"b": 1}}, [[[1]]], "x" * 3000, float("nan"), 10**400):
            assert shape.misfit(junk) is not None, (name, junk)


@pytest.mark.parametrize("flow_id", list(flows()))
def test_whatever_a_form_gives_and_a_flow_answers_fits(flow_id):
    """Walks that nobody planned: what our own pages make is never refused."""
    flow = flows()[flow_id]
    for seed in range(12):
        chance = Random(seed)  # noqa: S311  -- a repeatable walk, not a secret
        given, facts = {}, {"now": NOW}
        for _ in range(30):
            step = flow.next_step(given, facts)
            if step is None:
                break
            given[step.id] = value = to_json(answered(step, chance))
            assert answer_shape(step).misfit(value) is None, (step.id, value)
            require_fit(entry(1, "answer", joint="k", flow=flow_id, step=step.id, understood=value))
            given = flow.relevant(given, facts)
        try:
            shaped = flow.work_out(given, facts).as_json()
        except Problem:
            continue
        learned = to_json(flow.learn(given, shaped))
        require_fit(
            entry(2, "result", joint="k", flow=flow_id, understood=to_json(given), result=shaped,
                  facts=learned)
        )  # fmt: skip


def answered(step, chance):
    """What a form would give for a step."""
    if isinstance(step.kind, Confirm):
        return True
    sent = {
        key: one if isinstance(one, list) else [one]
        for key, one in some_answer(step, chance).items()
    }
    if sent.get("answer") == ["cant-tell"]:
        return None
    try:
        read = read_answer(step, sent)
    except Problem:
        return None
    if isinstance(step.kind, Series):
        return [{**read, "at": NOW, "entry": "x"}, {**read, "at": "2026-05-01T15:03:00.000Z"}]
    return read


def test_a_sentence_of_sentences_is_measured_before_it_is_made():
    """Ten parts of ten parts of ten …: 60 KB of JSON that told would be gigabytes."""
    kept = {"template": "x" * 50, "parts": {}}
    for _ in range(7):
        parts = {"a": kept}
        kept = {"template": "{a}" * 10, "parts": parts}
    answer = {"headline": "It is tight.", "said": {"It is tight.": kept}}
    assert tellable(answer)["headline"].template == "It is tight."


def test_a_deep_note_in_the_file_stops_no_page(tmp_path):
    """2 KB, nested 976 deep, from a time before the door."""
    application = make_app(tmp_path / "log.db")
    log = application.extensions["joblog"]
    log.append(a_job(), NOW)
    poison = new_id(START_MS, os.urandom(10))
    with log.writing() as conn:
        conn.execute(
            "INSERT INTO entries VALUES (NULL, ?, ?, 'job-1', '', 'note', '', '', '', ?, 'null',"
            " NULL, '{}', '', '', '', 'deep', ?)",
            (poison, NOW, json.dumps(nested(400)), NOW),
        )
    log.rebuild()
    assert [(one.entry, one.said["parts"]) for one in log.marks("unfit")] == [(poison, "typed")]
    client = application.test_client()
    for page in ("/", "/jobs", "/job/job-1", "/job/job-1/record", "/job/job-1/sign", "/refused"):
        assert client.get(page).status_code == 200, page
    assert "typed" in client.get("/refused").get_data(as_text=True)
    log.append([entry(n, note="on") for n in range(300)], NOW)
    assert len(log.search("deep")) == 1
    assert drifted(log) == ()
    log.close()
