"""What jobs and joints are now does not depend on the order in which entries arrive."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from support.entries import NOW, START_MS, a_job, entry, tables_of

from fieldkit.joblog import Entry, JobLog, new_id, utc_text
from fieldkit.joblog.entry import COLUMNS, row_of

FACTS = ("pipe.od_in", "tube.od_in", "site.buried")


@st.composite
def any_entry(draw: st.DrawFn) -> Entry:
    """Entries that meet: few jobs, joints, flows and moments, so that they often tie."""
    at_ms = START_MS + 1000 * draw(st.integers(0, 3))
    kind = draw(
        st.sampled_from(
            ["job", "joint", "rename", "close", "answer", "result", "strike", "note", "pick"]
        )
    )
    value = st.one_of(st.none(), st.integers(0, 9), st.text(max_size=3))
    word = st.sampled_from(["north", "south", "bed", ""])
    job = draw(st.sampled_from(["a", "b"]))
    return Entry(
        id=new_id(at_ms, draw(st.binary(min_size=10, max_size=10)), draw(st.integers(0, 2))),
        at=utc_text(at_ms + draw(st.integers(0, 1)) * 86_400_000),
        job=job,
        joint=draw(st.sampled_from(["", f"{job}-k", f"{job}-l"])),
        kind=kind,
        flow=draw(st.sampled_from(["", "measure-pipe", "leak-now"])),
        run=draw(st.sampled_from(["", "r"])),
        step=draw(st.sampled_from(["", "od"])),
        understood=draw(
            st.one_of(
                value,
                st.fixed_dictionaries(
                    {},
                    optional={
                        "name": word,
                        "place": word,
                        "demo": st.booleans(),
                        "closed": st.booleans(),
                    },
                ),
            )
        ),
        result={"verdict": draw(word), "headline": draw(word)} if kind == "result" else None,
        facts=draw(st.dictionaries(st.sampled_from(FACTS), value, max_size=2)),
        note=draw(word),
    )


@given(st.data(), st.lists(any_entry(), max_size=12, unique_by=lambda one: one.id))
def test_any_order_any_lots_and_doubles_end_the_same(data, entries):
    """The entries that two phones hold, sent in any order, in part twice, in any lots."""
    sent = data.draw(st.permutations(entries + data.draw(st.permutations(entries))[:5]))
    cut = data.draw(st.integers(0, len(sent)))
    with JobLog.memory() as one, JobLog.memory() as other:
        one.append(entries, NOW)
        other.append(sent[:cut], NOW)
        other.search("half way")
        other.append(sent[cut:], NOW)
        expected = tables_of(one)
        assert tables_of(other) == expected
        for joint in ("a-k", "b-l"):
            assert run_of(other, joint) == run_of(one, joint)
        assert other.rebuild() == len(entries)
        assert tables_of(other) == expected


def run_of(log: JobLog, joint: str) -> tuple[object, ...]:
    """What a run says, without the order of arrival."""
    run = log.run("r", joint[0], joint, "measure-pipe")
    return (
        ()
        if run is None
        else (run.answers, run.answer_entries, run.result, run.last_result, run.pick)
    )


def test_the_later_fact_wins_even_if_it_arrives_first(log):
    early = entry(1, "pick", joint="k", facts={"pipe.od_in": 0.8})
    late = entry(2, "pick", joint="k", facts={"pipe.od_in": 0.9})
    log.append([late], NOW)
    log.append([early], NOW)
    joint = log.joint("k")
    assert joint.facts == {"pipe.od_in": 0.9}
    assert joint.fact_entries == {"pipe.od_in": late.id}
    assert joint.fact_times == {"pipe.od_in": late.at}
    assert (joint.opened_at, joint.last_at) == (early.at, late.at)


def test_a_struck_fact_is_gone_and_can_be_learned_again(log):
    log.append([entry(1, "pick", joint="k", facts={"pipe.od_in": 0.8, "pipe.nominal": "1/2"})], NOW)
    log.append([entry(2, "strike", joint="k", facts={"pipe.od_in": None})], NOW)
    assert log.joint("k").facts == {"pipe.nominal": "1/2"}
    log.append([entry(3, "pick", joint="k", facts={"pipe.od_in": 0.9})], NOW)
    assert log.joint("k").facts == {"pipe.nominal": "1/2", "pipe.od_in": 0.9}


def test_a_flow_stands_as_its_last_result_says_until_that_is_struck(log):
    where = {"joint": "k", "flow": "prove-test", "run": "r"}
    log.append([entry(1, "result", **where, result={"verdict": "leaks", "headline": "L."})], NOW)
    last = entry(2, "result", **where, result={"verdict": "holds", "headline": "Holds."})
    log.append([last], NOW)
    state = log.joint("k").states["prove-test"]
    assert (state.verdict, state.headline, state.entry, state.run) == (
        "holds",
        "Holds.",
        last.id,
        "r",
    )
    log.append([entry(3, "strike", **where, replaces=last.id)], NOW)
    assert log.joint("k").states == {}


def test_a_job_is_named_counted_closed_and_opened_again(log):
    log.append(a_job(), NOW)
    job = log.job("job-1")
    assert (job.name, job.place, job.demo, job.closed) == ("North bed", "Gate 2", False, False)
    assert (job.joints, job.entries) == (1, 6)
    log.append([entry(10, "rename", understood={"name": "South bed"}), entry(11, "close")], NOW)
    job = log.job("job-1")
    assert (job.name, job.place, job.closed) == ("South bed", "Gate 2", True)
    log.append([entry(12, "close", understood={"closed": False})], NOW)
    assert not log.job("job-1").closed
    log.append([entry(13, "rename", joint="joint-1", understood={"name": "Valve box"})], NOW)
    assert [joint.name for joint in log.joints("job-1")] == ["Valve box"]


def test_a_joint_stays_in_the_job_it_was_made_in(log):
    """An entry of one's own job that names another's joint, and an earlier time, is refused."""
    log.append([entry(5, "pick", job="a", joint="k", facts={"pipe.od_in": 1})], NOW)
    done = log.append([entry(2, "pick", job="b", joint="k", facts={"pipe.od_in": 2})], NOW)
    assert [problem.field for _, problem in done.refused] == ["joint"]
    assert log.job("b") is None
    assert log.joint("k").facts == log.joint("k", "a").facts == {"pipe.od_in": 1}
    assert log.joint("k", "b") is None


def test_of_a_log_that_knows_a_joint_twice_the_first_to_arrive_counts(log):
    """As a version wrote it that did not look; its rows are put in by hand here."""
    log.append([entry(5, "joint", job="a", joint="k", understood={"name": "Mine"})], NOW)
    other = entry(1, "joint", job="b", joint="k", understood={"name": "Not yours"})
    with log.writing() as conn:
        conn.execute(
            f"INSERT INTO entries ({', '.join(COLUMNS)}, received)"  # noqa: S608  -- our own names
            f" VALUES ({', '.join('?' * len(COLUMNS))}, ?)",
            (*row_of(other), NOW),
        )
    log.rebuild()
    assert log.joint("k").name == "Mine"
    assert [one.entry.job for one in log.history(job_id="a", joint_id="k")] == ["a"]
