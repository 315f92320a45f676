"""Any JSON in any field of any kind of entry in a log: every page stands, and saving goes on.

The door refuses most of this. A log that an older version wrote, or a hand, holds it all the same.
"""

from __future__ import annotations

import copy
import os
import shutil
import sys
import time
from random import Random

import pytest
from fuzz import junk
from fuzz.spoiling import spoil
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from support.entries import entry

from fieldkit.app import make_app
from fieldkit.cli.demo import load_demo
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import FACTS
from fieldkit.joblog import Entry, JobLog, exchange, new_id
from fieldkit.joblog.entry import row_of
from fieldkit.joblog.integrity import drifted, seals
from fieldkit.phone.exchange import page_since

#: More than any page may take. [s of its own work]
_LONGEST = 1.0
#: A record drawn as a paper took 0.6 s of CPU; a machine at its limit counts more. [s]
_LONGEST_PAPER = 3.0

#: Besides what ``junk`` has: well-formed values that stand for nothing.
_NEARLY = st.one_of(
    st.sampled_from(
        ["pvc", "pe", "drip", "1/2", "3/4", "ok", "holds", "leaks", "repeat", "caliper", "strip",
         "npt", "ring", "solvent_socket", "2026-05-01T14:03:00Z", "2026-05-01", "Sch 40", "SDR 0",
         [], [""], ["npt"], ["npt", "nothing"], {}, 0, 0.0, 1e-9, 1, 1000, 1e9, -1, True, None]
    ),
    st.floats(0, 2).map(lambda x: round(x, 3)),
    st.text(max_size=6),
)  # fmt: skip

_ANY = st.one_of(junk.values, junk.plausible, _NEARLY, _NEARLY)


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    """A log with every kind of entry, to be copied for each round."""
    path = tmp_path_factory.mktemp("log") / "base.db"
    with JobLog.open(path) as log:
        load_demo(log)
    return path


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    application = make_app(tmp_path_factory.mktemp("app") / "log.db")
    application.config["WTF_CSRF_ENABLED"] = False
    yield application
    application.extensions["joblog"].close()


def entries_gone_wrong(data, known: list[Entry], joint) -> list[Entry]:
    """A few entries like those of the log, each with something else in it, at one joint."""
    made: list[Entry] = []
    for n in range(8):
        body = copy.deepcopy(data.draw(st.sampled_from(known)).as_json())
        like = data.draw(st.sampled_from(["spoilt", "spoilt", "facts", "field"]))
        if like == "facts":
            names = data.draw(st.lists(st.sampled_from(sorted(FACTS)), min_size=1, max_size=4))
            body |= {"kind": "pick", "facts": {one: data.draw(_ANY) for one in names}}
        elif like == "field":
            body[data.draw(st.sampled_from(["typed", "understood", "result", "facts"]))] = (
                data.draw(_ANY)
            )
        else:
            inner = {name: body[name] for name in ("typed", "understood", "result", "facts")}
            spoil(inner, data)
            body |= {name: inner.get(name, body[name]) for name in ("typed", "understood",
                                                                    "result", "facts")}  # fmt: skip
        at_ms = 1_790_000_000_000 + n
        body |= {"id": new_id(at_ms, os.urandom(10)), "at": "2026-09-21T14:13:20.000Z"}
        body |= {"joint": body["joint"] and joint.id, "job": body["job"] and joint.job}
        try:
            row_of(Entry(**body))  # what cannot be kept at all never was
        except (ValueError, TypeError):
            continue
        made.append(Entry(**body))
    return made


def pages_of(log: JobLog, joint, made: list[Entry]) -> list[str]:
    """Every page that can show something of the joint."""
    job, k = f"/job/{joint.job}", f"/joint/{joint.id}"
    runs = {(one.flow, one.run) for one in made if one.flow in flows() and one.run}
    runs |= {(one.flow, one.run) for one in joint.states.values() if one.flow in flows()}
    return [
        "/", "/jobs", "/jobs?q=pipe", job, f"{job}/sign", f"{job}/record", f"{job}/record.html",
        f"{job}/labels", f"{job}/export.json", f"{job}/export.csv", k,
        f"{k}/photos", "/prices", "/prices/list.csv", "/prices/history", "/diagnoses",
        "/diagnoses.csv", "/refused", "/phone/since",
        *(f"{k}/{flow}" for flow in flows()),
        *(f"{k}/{flow}/{run}" for flow, run in sorted(runs)),
        *(f"{k}/{flow}/{run}/answer" for flow, run in sorted(runs)),
    ]  # fmt: skip


def test_whatever_is_in_the_log_every_page_stands(app, base, tmp_path, faults, share):
    slowest = (0.0, "")
    known = [one.entry for one in JobLog.open(base).since(0, 10_000)]
    rounds = 0

    @settings(max_examples=share(0.012), database=None, phases=[Phase.generate], deadline=None)
    @given(st.data())
    def play(data):
        nonlocal slowest, rounds
        rounds += 1
        path = tmp_path / f"{rounds}.db"
        shutil.copy(base, path)
        with JobLog.open(path) as log:
            app.extensions["joblog"] = log
            client = app.test_client()
            chance = Random(data.draw(st.integers(0, 999)))  # noqa: S311  -- not a secret
            job = chance.choice(log.jobs())
            joint = chance.choice(log.joints(job.id))
            made = entries_gone_wrong(data, known, joint)
            log.append(made, "2026-09-21T14:13:21.000Z")
            joint = log.joint(joint.id, job.id)
            pages = pages_of(log, joint, made)
            if rounds % 4 == 1:  # the one that is slow by nature
                pages.append(f"/job/{job.id}/record.letter.pdf")
            for page in pages:
                began = time.thread_time()
                response = client.get(page, follow_redirects=True)
                took = time.thread_time() - began
                slowest = max(slowest, (took, page))
                assert response.status_code < 500, (page, made, faults)
                assert took < (_LONGEST_PAPER if page.endswith(".pdf") else _LONGEST), (page, made)
                response.close()
            before = log.count()
            answer = client.post(f"/job/{job.id}/notes", data={"note": "Still here."})
            assert answer.status_code == 303, made
            assert log.count() == before + 1
            log.search("still")
            assert log.rebuild() == log.count()
            assert drifted(log) == ()
            list(seals(log))
            page_since(log, 0)
            "".join(exchange.json_lines(exchange.entries_of(log)))
        path.unlink()

    play()
    # Seen with -s.
    sys.stdout.write(f"\n{rounds} logs; slowest: {slowest[0]:.2f} s, {slowest[1]}\n")


def test_a_note_nested_to_the_limit_of_the_machine_stops_nobody(app, base, tmp_path):
    """As an older version let it in: by a hand in the file."""
    path = tmp_path / "deep.db"
    shutil.copy(base, path)
    with JobLog.open(path) as log:
        job = log.jobs()[0].id
        poison = entry(0, "note", job=job, note="deep")
        with log.writing() as conn:
            conn.execute(
                "INSERT INTO entries (id, at, job, joint, kind, flow, run, step, typed,"
                " understood, result, facts, who, device, replaces, note, received) VALUES"
                " (?, ?, ?, '', 'note', '', '', '', ?, 'null', NULL, '{}', '', '', '', 'x', ?)",
                (poison.id, poison.at, job, '{"a":' * 976 + "1" + "}" * 976, poison.at),
            )
        log.rebuild()
        assert [one.said["parts"] for one in log.marks("unfit")] == ["typed"]
        for n in range(600):
            assert not log.append([entry(n, job=job, note=f"note {n}")], poison.at).refused
        assert log.search("note 599")
        assert drifted(log) == ()
        app.extensions["joblog"] = log
        assert app.test_client().get(f"/job/{job}").status_code == 200
        assert "note 599" in "".join(exchange.json_lines(exchange.entries_of(log)))
