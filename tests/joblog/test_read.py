"""Asking the log: runs, pages of history, search, prices, and that each goes along an index."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.entries import NOW, a_job, entry

from fieldkit.joblog import JobLog
from fieldkit.joblog.read import match_of

RUN = {"joint": "k", "flow": "measure-pipe", "run": "r"}
PLACE = ("job-1", "k", "measure-pipe")


def answer(n, step, value, **more):
    return entry(n, "answer", **RUN, step=step, typed={"value": [str(value)]}, understood=value)


def test_nothing_is_there_before_anything_is_saved(log):
    assert log.job("job-1") is None
    assert log.joint("k") is None
    assert log.run("r", *PLACE) is None
    assert log.run("", *PLACE) is None
    assert log.entry("no") is None
    assert log.jobs() == log.joints("job-1") == log.history(job_id="job-1") == ()
    assert log.prices().prices == {}
    assert log.search("pipe") == ()
    assert log.count() == 0


def test_a_run_holds_the_latest_answer_of_each_step(log):
    log.append([answer(3, "od", 0.9), answer(1, "od", 0.8), answer(2, "wall", None)], NOW)
    run = log.run("r", *PLACE)
    assert (run.job, run.joint, run.flow) == ("job-1", "k", "measure-pipe")
    assert run.answers == {"od": 0.9, "wall": None}
    assert run.typed["od"] == {"value": ["0.9"]}
    assert run.answer_entries["od"] == log.history(joint_id="k", limit=3)[2].entry.id
    assert run.result is None


def test_a_result_counts_until_an_answer_changes(log):
    result = entry(2, "result", **RUN, result={"verdict": "decided"})
    pick = entry(3, "pick", **RUN, understood="barb")
    log.append([answer(1, "od", 0.8), result, pick], NOW)
    run = log.run("r", *PLACE)
    assert (run.result, run.pick) == (result, pick)
    log.append([answer(4, "od", 0.9)], NOW)
    run = log.run("r", *PLACE)
    assert (run.result, run.last_result) == (None, result)
    newer = entry(5, "result", **RUN, result={"verdict": "decided"})
    log.append([newer], NOW)
    run = log.run("r", *PLACE)
    assert (run.result, run.pick) == (newer, None)


def test_a_struck_answer_is_asked_again(log):
    given_first = answer(1, "od", 0.8)
    log.append([given_first, answer(2, "wall", 0.1)], NOW)
    log.append([entry(3, "strike", **RUN, step="od", replaces=given_first.id)], NOW)
    assert log.run("r", *PLACE).answers == {"wall": 0.1}
    log.append([entry(4, "strike", **RUN, step="wall")], NOW)
    assert log.run("r", *PLACE).answers == {}


def test_history_goes_on_where_a_page_ended(log):
    made = [entry(n, joint="k" if n % 2 else "") for n in range(25)]
    log.append(made, NOW)
    seen, before = [], None
    while page := log.history(job_id="job-1", before_seq=before, limit=10):
        before = page[-1].seq
        seen.extend(one.entry for one in page)
    assert seen == made[::-1]
    assert [one.entry for one in log.history(joint_id="k", limit=3)] == made[23:18:-2]


def test_a_sync_reads_everything_page_by_page(log):
    made = [entry(n, job="a" if n % 3 else "b") for n in range(10)]
    log.append(made, NOW)
    seq, seen = 0, []
    while page := log.since(seq, 4):
        seq = page[-1].seq
        seen.extend(one.entry for one in page)
    assert seen == made
    assert [one.entry for one in log.since(0, job_id="b")] == made[::3]


def test_jobs_are_listed_last_touched_first_page_by_page(log):
    days = 86_400
    log.append([entry(n * days // 2 + n, "job", job=f"j{n}") for n in range(7)], NOW)
    log.append([entry(40 * days, job="j2")], NOW)
    seen, after = [], None
    while page := log.jobs(limit=3, after=after):
        after = page[-1].after
        seen.extend(job.id for job in page)
    assert seen == ["j2", "j6", "j5", "j4", "j3", "j1", "j0"]


def test_the_latest_price_list_counts(log):
    late = entry(9, "prices", job="", understood={"elbow": 2})
    log.append([late, entry(1, "prices", job="", understood={"elbow": 1, "tee": 3})], NOW)
    assert log.prices().prices == {"elbow": 2}
    assert (log.prices().at, log.prices().entry) == (late.at, late.id)


@pytest.mark.parametrize(
    ("asked", "kinds"),
    [
        ("north", ["job"]),
        ("NORTH be", ["job"]),
        ("gate", ["job"]),
        ("valve left", ["joint"]),
        ("13/16", ["answer"]),
        ("½ pipe", ["result"]),
        ("wet", ["note"]),
        ('"he" wrote', ["note"]),
        ("north -bed", ["job"]),
        ("north OR zebra", []),
        ("zebra", []),
        ("", []),
        ('"', []),
        ("* ( ) : ^ NEAR(", []),
    ],
)
def test_search_finds_by_beginnings_of_words(log, asked, kinds):
    log.append(a_job(), NOW)
    hits = log.search(asked)
    assert [hit.entry.kind for hit in hits] == kinds
    assert all(hit.job_name == "North bed" for hit in hits)


def test_search_knows_what_was_saved_a_moment_ago_and_names_the_joint(log):
    log.append(a_job(), NOW)
    assert log.search("spigot") == ()
    log.append([entry(20, joint="joint-1", note="spigot cracked")], NOW)
    assert [(hit.entry.note, hit.joint_name) for hit in log.search("spig")] == [
        ("spigot cracked", "Valve box, left")
    ]


def test_a_lot_is_indexed_as_it_arrives_word_by_word_as_a_rebuild_indexes_it(log):
    def indexed():
        with log.reading() as conn:
            conn.execute(
                "CREATE VIRTUAL TABLE IF NOT EXISTS temp.words USING"
                " fts5vocab(main, search, instance)"
            )
            return [tuple(row) for row in conn.execute("SELECT term, doc, offset FROM words")]

    log.append([entry(20, note="saved alone")], NOW)
    assert indexed() == []
    unfit = entry(21, "note", note="spigot", facts={"no.such": "bushing"})
    log.append([*a_job(), unfit, *(entry(n, note=f"lot {n}") for n in range(30, 40))], NOW)
    found = indexed()
    assert {"alone", "spigot", "lot", "north"} <= {term for term, *_ in found}
    log.rebuild()
    assert indexed() == found


@given(st.text())
def test_no_text_breaks_the_search(text):
    with JobLog.memory() as log:
        log.append([entry(note="a pipe")], NOW)
        log.search(text)
    assert re.sub(r'"[^"]*"\*', "", match_of(text)).strip() == ""


@pytest.mark.parametrize(
    "ask",
    [
        lambda log: log.job("job-1"),
        lambda log: log.joints("job-1"),
        lambda log: log.joint_names("job-1"),
        lambda log: log.entries(["x", "y"]),
        lambda log: log.marked(["x", "y"], "unfit"),
        lambda log: log.history(job_id="job-1"),
        lambda log: log.history(joint_id="k"),
        lambda log: log.joint("k"),
        lambda log: log.run("r", *PLACE),
        lambda log: log.entry("x"),
        lambda log: log.prices(),
        lambda log: log.since(5),
        lambda log: log.jobs(after=("2026-05-01T14:03:00.000Z", "x")),
    ],
)
def test_every_question_goes_along_an_index(log, ask):
    """SQLite's own plan must never say SCAN of a table, nor sort entries."""
    asked: list[str] = []
    with log.reading() as conn:
        conn.set_trace_callback(asked.append)
    ask(log)
    with log.reading() as conn:
        conn.set_trace_callback(None)
        assert asked
        for statement in asked:
            plan = [row[3] for row in conn.execute(f"EXPLAIN QUERY PLAN {statement}")]
            given = "SCAN json_each"  # the list that is asked for, and no table
            assert not [
                step
                for step in plan
                if step.startswith("SCAN") and "USING INDEX" not in step and given not in step
            ]
            if "FROM entries" in statement:
                assert "USE TEMP B-TREE FOR ORDER BY" not in plan


def test_what_was_found_last_is_of_this_job_also_when_its_joint_is_in_another_by_now(log):
    def learned(n, joint, at, **more):
        return entry(n, "result", joint=joint, facts={"caliper.zero_at": at}, **more)

    assert log.facts_found_last("job-1", "caliper.zero_at") == {}
    moved = entry(4, "close", joint="late", typed={"moved_to": ["k"]}, understood={"moved_to": "k"})
    other = learned(5, "other", "2026-05-01T18:00:00Z", job="job-2")
    known = [
        learned(1, "late", "2026-05-01T15:00:00Z"),
        learned(2, "early", "2026-05-01T09:00:00Z"),
    ]
    log.append([*known, learned(3, "none", None), moved, other], NOW)
    assert log.joints_knowing("caliper.zero_at")
    found = log.facts_found_last("job-1", "caliper.zero_at")
    assert found == {"caliper.zero_at": "2026-05-01T15:00:00Z"}
