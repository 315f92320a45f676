"""The exchange: idempotent, in pages, and the same log for everybody in whatever order."""

from __future__ import annotations

import itertools
import json
import random

import pytest
from support.entries import NOW, START_MS, a_job, entry, tables_of

from fieldkit.app import make_app
from fieldkit.engine.problems import Problem
from fieldkit.joblog import Entry, JobLog, utc_text
from fieldkit.joblog.acceptance import rules_for
from fieldkit.joblog.marks import is_told, read_marks
from fieldkit.joblog.rework import causes_found, failures
from fieldkit.phone import exchange


def bodies(entries: list[Entry]) -> dict[str, object]:
    return {"entries": [one.as_json() for one in entries]}


def sync(phone: JobLog, seen: int, server: JobLog) -> int:
    """What a phone does, in Python: send all it has, then read on from where it was."""
    sent = [one.entry for one in phone.since(0, exchange.PAGE)]
    exchange.take_in(server, bodies(sent), NOW)
    while True:
        page = exchange.page_since(server, seen, 3)
        phone.append([Entry.from_json(one) for one in page["entries"] if not is_told(one)], NOW)
        phone.mark(read_marks([one for one in page["entries"] if is_told(one)]))
        seen = page["upto"]
        if seen >= page["last"]:
            return seen


@pytest.mark.parametrize("order", sorted(set(itertools.permutations("aabb"))))
def test_two_phones_and_the_server_end_with_the_same_log_in_any_order(order):
    logs = {name: JobLog.memory() for name in "abs"}
    seen = dict.fromkeys("ab", 0)
    chance = random.Random("".join(order))  # noqa: S311  -- an order, no secret
    shared = a_job()
    logs["s"].append(shared[:2], NOW)
    made = iter([entry(10 + n, note=f"note {n}", joint="joint-1") for n in range(40)])
    for name in order:
        own = [next(made) for _ in range(chance.randint(0, 4))] + shared[2:]
        logs[name].append(own, NOW)
        seen[name] = sync(logs[name], seen[name], logs["s"])
    for name in "ab":
        seen[name] = sync(logs[name], seen[name], logs["s"])
    told = [tables_of(log) for log in logs.values()]
    assert told[0] == told[1] == told[2]
    assert logs["a"].count() == logs["s"].count()


def test_sending_twice_changes_nothing(tmp_path):
    with JobLog.open(tmp_path / "log.db") as log:
        page = bodies(a_job())
        first = exchange.take_in(log, page, NOW)
        again = exchange.take_in(log, page, NOW)
        assert sorted(first["kept"]) == sorted(again["kept"])
        assert log.count() == len(page["entries"])


def test_what_cannot_be_kept_is_named_with_its_reason_and_the_rest_is_kept():
    with JobLog.memory() as log:
        good, bad = entry(1).as_json(), {**entry(2).as_json(), "kind": "dance"}
        said = exchange.take_in(log, {"entries": [bad, good, {"id": "x", "colour": 1}, 7]}, NOW)
        assert said["kept"] == [good["id"]]
        assert [one["id"] for one in said["refused"]] == [bad["id"], "x", "entry 4"]
        assert all(one["problem"]["wrong"] for one in said["refused"])


def test_what_the_sender_may_not_change_is_refused_and_stays_on_the_phone():
    with JobLog.memory() as log:
        prices, note = entry(1, "prices", job=""), entry(2, who="Bo")
        said = exchange.take_in(log, bodies([prices, note]), NOW, rules_for("Bo", lead=False))
        assert said["kept"] == [note.id]
        assert [one["id"] for one in said["refused"]] == [prices.id]
        assert "lead" in said["refused"][0]["problem"]["instead"]


@pytest.mark.parametrize("body", [None, [], {}, {"entries": {}}, {"entries": [0] * 501}])
def test_what_is_no_page_of_entries_is_refused_whole(body):
    with JobLog.memory() as log, pytest.raises(Problem, match="not a page of entries"):
        exchange.take_in(log, body, NOW)


def test_an_older_copy_of_the_log_is_noticed():
    with JobLog.memory() as log:
        log.append(a_job(), NOW)
        page = exchange.page_since(log, 5000)
        assert page["entries"] == []
        assert page["last"] < 5000


@pytest.fixture
def client():
    return make_app(None, testing=True).test_client()


def test_entries_are_taken_only_with_the_token_of_the_session(client):
    page = bodies(a_job())
    assert client.post("/phone/send", json=page).status_code == 400
    token = client.get("/phone/token").get_json()["token"]
    said = client.post("/phone/send", json=page, headers={"X-CSRFToken": token}).get_json()
    assert len(said["kept"]) == len(page["entries"])
    back = client.get("/phone/since?seq=0").get_json()
    assert [one["id"] for one in back["entries"] if not is_told(one)] == said["kept"]


@pytest.mark.parametrize("body", ["", "{", "[" * 9999, '"x"'])
def test_a_page_that_cannot_be_read_is_refused_plainly(client, body):
    token = client.get("/phone/token").get_json()["token"]
    answer = client.post("/phone/send", data=body, headers={"X-CSRFToken": token})
    assert answer.status_code in {400, 422}


def test_a_device_that_was_away_for_a_month_catches_up_in_pages(tmp_path):
    """A month of a crew: some thousand entries, read page by page as a phone does."""
    app = make_app(tmp_path / "log.db", testing=True)
    log, client = app.extensions["joblog"], app.test_client()
    log.append([entry(n, joint=f"joint-{n % 40}", facts={"n": n}) for n in range(4321)], NOW)
    with JobLog.memory() as phone:
        seen = pages = 0
        while True:
            page = client.get(f"/phone/since?seq={seen}&company={log.company}").get_json()
            assert len(page["entries"]) <= exchange.PAGE
            phone.append([Entry.from_json(one) for one in page["entries"] if not is_told(one)], NOW)
            seen, pages = page["upto"], pages + 1
            if seen >= page["last"]:
                break
        assert (phone.count(), pages) == (4321, 9)
        assert tables_of(phone) == tables_of(log)
    log.close()


def test_the_same_page_sent_a_hundred_times_is_stored_once(client):
    headers = {"X-CSRFToken": client.get("/phone/token").get_json()["token"]}
    page = bodies([entry(note="wet")])
    said = [client.post("/phone/send", json=page, headers=headers).get_json() for _ in range(100)]
    assert all(one == said[0] for one in said)
    assert client.get("/phone/since").get_json()["last"] == 1


def test_a_page_that_takes_long_is_taken_in_part_by_part(tmp_path):
    """The phone sends what nothing was said of again; so others have their turn between."""
    with JobLog.open(tmp_path / "log.db") as log:
        left = [one.as_json() for one in [*a_job(), *(entry(50 + n) for n in range(120))]]
        rounds = 0
        while left:
            said = exchange.take_in(log, {"entries": left}, NOW, enough=lambda: True)
            assert len(said["kept"]) == min(exchange.LOT, len(left))
            left = [one for one in left if one["id"] not in said["kept"]]
            rounds += 1
        assert (rounds, log.count()) == (3, len(a_job()) + 120)


# ── What a phone takes along ────────────────────────────────────────────────────────────────

DAY_S = 86_400
LATER = utc_text(START_MS + 400 * DAY_S * 1000)


def some_jobs(log: JobLog) -> None:
    """An old finished job, an old open one, and one of today with many entries; prices beside."""
    for n, name in enumerate(("finished", "open", "today")):
        day = 400 * DAY_S if name == "today" else 0
        made = [
            entry(day + 10 * n, "job", job=name, understood={"name": name}),
            entry(day + 10 * n + 1, "joint", job=name, joint=f"joint-{name}"),
            *(entry(day + 10 * n + 2 + k, job=name) for k in range(30 if day else 3)),
        ]
        log.append(made, NOW)
    log.append([entry(50, "close", job="finished", understood={"closed": True})], NOW)
    found = {"leak.really": "no_primer"}
    log.append([entry(60, "pick", job="finished", joint="joint-finished", facts=found)], NOW)
    log.append([entry(70, "prices", job="", understood={"coupling-1/2": 0.5})], NOW)


def test_open_and_recent_jobs_go_along_and_what_diagnoses_go_by_of_the_others():
    with JobLog.memory() as log:
        some_jobs(log)
        said = exchange.for_the_field(log, 90, 1000, LATER)
        assert (said["jobs"], said["left"], said["last"]) == (["today", "open"], 1, log.count())
        ((_, joint, cause),) = said["found"]
        assert (joint, cause) == ("joint-finished", "no_primer")
        # By size, the job that fills it goes along whole.
        assert exchange.for_the_field(log, 90, 10, LATER)["jobs"] == ["today"]
        everything = exchange.for_the_field(log, 1000, 1000, LATER)
        assert everything["jobs"] == ["today", "finished", "open"]
        assert everything["found"] == []

        # A copy without that job counts its cause all the same, once.
        with JobLog.memory() as copy:
            copy.found_elsewhere = tuple(map(tuple, said["found"]))
            for other in (log, copy):
                assert causes_found(failures(other), "joint-today", LATER) == {"no_primer": 1}


@pytest.mark.parametrize("limit", [1, 2, 7, 1000])
def test_jobs_come_whole_in_pages_of_any_size(limit):
    with JobLog.memory() as log:
        some_jobs(log)
        wanted, seq, texts = ["", "today", "open"], 0, []
        while wanted:
            page = exchange.whole_jobs(log, wanted, seq, limit)
            texts += [json.loads(text)["id"] for text, _ in page["entries"]]
            wanted, seq = wanted[page["whole"] :], page["upto"]
        here = [one.entry for one in log.since(0, 1000) if one.entry.job != "finished"]
        assert sorted(texts) == sorted(one.id for one in here)


def test_entries_go_out_as_the_text_that_python_writes_of_them():
    awkward = entry(9, note="“½ in.”\t\\ \x7f\u2028 \N{DROPLET}", who='A "b"', typed={"é": ["\n"]})
    with JobLog.memory() as log:
        log.append([*a_job(), awkward], NOW)
        texts = [text for text, _ in exchange.page_since(log, 0, seen=0)["entries"]]
        wanted = [json.dumps(one.entry.as_json(), ensure_ascii=False, sort_keys=True,
                             separators=(",", ":")) for one in log.since(0)]  # fmt: skip
        assert texts == wanted
