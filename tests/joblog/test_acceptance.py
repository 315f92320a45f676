"""What may come in, and three devices whose exchanges are lost, repeated and out of order."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.entries import NOW, START_MS, a_job, entry, tables_of

from fieldkit.joblog import JobLog, utc_text
from fieldkit.joblog.acceptance import Rules, rules_for, take_in

OWN = Rules()


def test_the_same_entry_sent_a_hundred_times_is_stored_once(log):
    body = entry(note="wet").as_json()
    done = [take_in(log, [body], OWN, NOW) for _ in range(100)]
    assert sum(len(one.stored) for one in done) == 1
    assert sum(len(one.already) for one in done) == 99
    assert log.count() == 1


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"kind": "note"}, "id"),
        (entry().as_json() | {"at": "2026-05-03T14:03:00.000Z"}, "at"),
        (entry(301).as_json(), "at"),
        (entry().as_json() | {"at": "yesterday"}, "at"),
        (entry().as_json() | {"job": ""}, "job"),
        (entry().as_json() | {"kind": "gossip"}, "kind"),
        (entry().as_json() | {"stray": 1}, "stray"),
        (entry(0, "person", job="").as_json(), "kind"),
        (entry(0, "signature").as_json(), "kind"),
        (entry(who="Ann").as_json(), "who"),
        (entry().as_json(), "who"),
        (entry(0, "photo", who="Bo", understood={"digest": "../log"}).as_json(), "understood"),
        (entry(0, "photo", who="Bo", understood=5).as_json(), "understood"),
        ("not an entry", "entry"),
    ],
)
def test_a_bad_entry_is_refused_by_name_kept_to_be_seen_and_the_rest_goes_on(log, bad, field):
    good = entry(1, who="Bo")
    done = take_in(log, [bad, good.as_json()], rules_for("Bo", lead=False), NOW)
    assert done.stored == (good.id,)
    ((name, problem),) = done.refused
    assert problem.field == field
    (kept,) = log.refused()
    assert (kept["name"], kept["who"]) == (name, "Bo")
    assert log.count() == 1


def test_what_belongs_to_another_company_is_refused_and_the_repeat_of_our_own_is_not(log):
    ours = entry(1)
    take_in(log, [ours.as_json()], OWN, NOW)
    stranger = rules_for("Ann", lead=True, company=log.company, from_company="f" * 32)
    done = take_in(log, [ours.as_json(), entry(2).as_json()], stranger, NOW)
    assert done.already == (ours.id,)
    ((_, problem),) = done.refused
    assert problem.field == "company"
    assert log.refused()[0]["body"]


def test_each_log_has_a_company_of_its_own_and_keeps_it(tmp_path):
    with JobLog.open(tmp_path / "a.db") as one, JobLog.open(tmp_path / "b.db") as other:
        first = one.company
        assert len(first) == 32
        assert first != other.company
    with JobLog.open(tmp_path / "a.db") as again:
        assert again.company == first


def test_a_lead_may_send_signatures_and_a_repeat_is_answered_the_same(log):
    signed = entry(0, "signature", understood={"name": "Ann"}, who="Ann")
    assert take_in(log, [signed.as_json()], rules_for("Ann", lead=True), NOW).stored
    again = take_in(log, [signed.as_json()], rules_for("Bo", lead=False), NOW)
    assert again.already == (signed.id,)


def test_a_device_that_was_away_catches_up_in_pages(log):
    log.append([entry(n) for n in range(1203)], NOW)
    with JobLog.memory() as phone:
        seq = pages = 0
        while page := log.since(seq, 500):
            take_in(phone, [one.entry.as_json() for one in page], OWN, utc_text(START_MS + 10**7))
            seq, pages = page[-1].seq, pages + 1
        assert (phone.count(), pages) == (1203, 3)


#: (device, action): save here, send up, fetch down; each exchange may lose its answer or repeat.
STEPS = st.lists(
    st.tuples(
        st.integers(0, 2),
        st.sampled_from(
            ["save", "send", "send-lost", "send-twice", "fetch", "fetch-lost", "fetch-again"]
        ),
        st.randoms(use_true_random=False),
    ),
    max_size=25,
)


@settings(deadline=None)
@given(STEPS)
def test_any_interleaving_ends_in_the_same_log_and_loses_nothing(steps):
    server = JobLog.memory()
    phones = [JobLog.memory() for _ in range(3)]
    outbox = [{} for _ in phones]
    seen = [0, 0, 0]
    acknowledged: set[str] = set()
    n = 0

    def send(who, lot, *, lost=False):
        done = take_in(server, lot, OWN, NOW)
        if not lost:
            for one in (*done.stored, *done.already):
                acknowledged.add(one)
                outbox[who].pop(one, None)

    def fetch(who, *, lost=False):
        page = server.since(seen[who], 3)
        if page and not lost:
            take_in(phones[who], [one.entry.as_json() for one in page], OWN, NOW)
            phones[who].mark(server.marks_of([one.entry.id for one in page]))
            seen[who] = page[-1].seq
        return bool(page)

    try:
        for who, action, chance in steps:
            if action == "save":
                n += 1
                told = {"joint": "k", "understood": "x", "facts": {"pipe.od_in": n}}
                made = entry(n, "pick", **told, device=str(who))
                phones[who].append([made], NOW)
                outbox[who][made.id] = made.as_json()
            elif action.startswith("send"):
                lot = list(outbox[who].values())
                chance.shuffle(lot)
                send(who, lot, lost=action == "send-lost")
                if action == "send-twice":
                    send(who, lot)
            elif action == "fetch-again":  # an older page comes late, after newer ones
                seen[who] = chance.randint(0, seen[who])
                fetch(who)
            else:
                fetch(who, lost=action == "fetch-lost")
        for who in range(3):
            send(who, list(outbox[who].values()))
        for who in range(3):
            while fetch(who):
                pass
        expected = tables_of(server)
        assert server.count() == n
        assert all(server.entry(one) for one in acknowledged)
        assert all(tables_of(phone) == expected for phone in phones)
    finally:
        for each in (server, *phones):
            each.close()


#: Takes entries in, one exchange after another, and says which it acknowledged.
PROGRAM = """
import os, sys
from fieldkit.joblog import Entry, JobLog, new_id, utc_text
from fieldkit.joblog.acceptance import Rules, take_in
log = JobLog.open(sys.argv[1])
print("go", flush=True)
n = 0
while True:
    lot = [Entry(id=new_id(1_777_644_180_000 + n, os.urandom(10), k), job="job-1", kind="note",
                 at=utc_text(1_777_644_180_000)).as_json() for k in range(3)]
    done = take_in(log, lot, Rules(), utc_text(1_777_644_180_000))
    print(" ".join(done.stored), flush=True)
    n += 1
"""


@pytest.mark.slow
def test_killed_during_an_exchange_nothing_acknowledged_is_lost(tmp_path):
    """Six kills here; ``FIELDKIT_KILLS=100`` for the full run."""
    path = tmp_path / "log.db"
    with JobLog.open(path) as log:
        log.append(a_job(), NOW)
    acknowledged: list[str] = []
    for n in range(int(os.environ.get("FIELDKIT_KILLS", "6"))):
        command = [sys.executable, "-c", PROGRAM, str(path)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            process.stdout.readline()
            time.sleep(0.005 + 0.003 * (n % 17))
            process.send_signal(signal.SIGKILL)
            said = process.stdout.read()
        whole = said[: said.rfind("\n") + 1]
        acknowledged.extend(whole.split())
    with JobLog.open(path) as log:
        assert all(log.entry(one) is not None for one in acknowledged)
        before = tables_of(log)
        log.rebuild()
        assert tables_of(log) == before
    assert acknowledged
