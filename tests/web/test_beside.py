"""Long work: made beside the answers, with a page that says how far it is."""

from __future__ import annotations

import io
import json
import threading
import time

import pytest
from pypdf import PdfReader
from support.entries import NOW, entry
from support.hand import Hand

from fieldkit.joblog import JobLog
from fieldkit.joblog.exchange import export_json
from fieldkit.web import beside
from fieldkit.web.pages import jobs


@pytest.fixture
def log(app, monkeypatch):
    """A job that is a large one here."""
    monkeypatch.setattr(beside, "LONG_ENTRIES", 100)
    found = app.extensions["joblog"]
    made = [entry(0, "job", understood={"name": "Long Meadow"})]
    made += [entry(1 + n, "joint", joint=f"j-{n}", understood={"name": f"Box {n}"}) for n in (0, 1)]
    found.append(
        [*made, *(entry(10 + n, joint="j-0", note=f"note {n}") for n in range(1_200))], NOW
    )
    return found


def finished(client, response):
    """The page of long work when it is done; each look is answered at once."""
    assert response.status_code == 303
    where = response.headers["Location"]
    for _ in range(600):
        page = client.get(where)
        if "Refresh" not in page.headers:
            page.get_data()  # a large one lies in a file
            page.close()
            return where, page
        assert page.headers["Refresh"] == "2"
        time.sleep(0.05)
    raise AssertionError("it is never done")


@pytest.mark.parametrize("kind", ["json", "csv"])
def test_a_large_job_is_taken_out_beside_and_is_whole(app, log, kind):
    client = app.test_client()
    where, page = finished(client, client.get(f"/job/job-1/export.{kind}"))
    assert "It is ready" in page.get_data(as_text=True)
    with client.get(f"{where}/file") as response:
        body = response.get_data()
        assert "attachment" in response.headers["Content-Disposition"]
    with JobLog.memory() as other:
        from fieldkit.joblog.exchange import import_file

        assert len(import_file(other, body, NOW).stored) == 1_203
        assert export_json(other) == export_json(log)


def test_a_large_record_is_printed_beside(app, log):
    client = app.test_client()
    where, _ = finished(client, client.get("/job/job-1/record.letter.pdf"))
    with client.get(f"{where}/file") as response:
        assert response.mimetype == "application/pdf"
        first = PdfReader(io.BytesIO(response.get_data())).pages[0].extract_text()
    assert "Long Meadow" in first


@pytest.mark.parametrize(("path", "heading"), [("record", "Long Meadow"), ("labels", "Labels")])
def test_a_large_page_is_made_beside(app, log, monkeypatch, path, heading):
    monkeypatch.setattr(beside, "LONG_ENTRIES", 10)
    client = app.test_client()
    where, page = finished(client, client.get(f"/job/job-1/{path}"))
    assert heading in page.get_data(as_text=True)
    assert "Box 1" in page.get_data(as_text=True)
    assert client.get(f"{where}/file").status_code == 404, "it is a page, and no file"


def test_others_are_answered_meanwhile_and_see_how_far_it_is(app, log, monkeypatch):
    held, told = threading.Event(), threading.Event()

    def slowly(entries, whole, tell):
        tell(7, whole)
        told.set()
        held.wait(20)
        yield from entries

    monkeypatch.setattr(jobs, "counted", slowly)
    client = app.test_client()
    response = client.get("/job/job-1/export.json")
    assert told.wait(20)
    hand = Hand(client)
    assert "7 of 1203 done" in hand.read(response.headers["Location"]).words
    assert hand.send(hand.read("/job/job-1"), "/notes", note="saved meanwhile").status == 200
    held.set()
    where, _ = finished(client, response)
    with client.get(f"{where}/file") as taken:
        assert b"saved meanwhile" in taken.get_data()


def test_it_is_given_to_nobody_else(app, log):
    client = app.test_client()
    where, _ = finished(client, client.get("/job/job-1/export.json"))
    app.config["LISTENS_BEYOND"] = True
    assert app.test_client().get(f"{where}/file").status_code in {303, 404}
    app.config["LISTENS_BEYOND"] = False
    assert client.get(f"{where.rsplit('/', 1)[0]}/made-up").status_code == 404


def test_a_fault_is_said_and_stops_nothing_after_it(app, log, monkeypatch):
    monkeypatch.setattr(jobs, "counted", lambda *given: 1 / 0)
    client = app.test_client()
    _, page = finished(client, client.get("/job/job-1/export.json"))
    assert "Something went wrong" in page.get_data(as_text=True)
    monkeypatch.undo()
    assert client.get("/job/job-1/export.json").status_code == 200


def send_file(client, entries, company=""):
    """Bring a file of entries in."""
    page = Hand(client).read("/jobs")
    action, fields = page.form("/import")
    body = json.dumps(
        {"format": "fieldkit entries 1", "company": company, "entries": entries}
    ).encode()
    return client.post(action, data={**fields, "file": (io.BytesIO(body), "x.json")})


def test_a_large_file_is_brought_in_beside_a_lot_at_a_time(app, log):
    client = app.test_client()
    new = [entry(5_000 + n, note=f"new {n}").as_json() for n in range(1_100)]
    _, page = finished(client, send_file(client, new, log.company))
    assert "1100" in page.get_data(as_text=True)
    assert log.count() == 1_203 + 1_100


def test_a_file_of_nonsense_is_given_up_and_one_of_too_many_refused(app, log, monkeypatch):
    monkeypatch.setattr(jobs, "MOST_ENTRIES", 20_000)
    client = app.test_client()
    _, page = finished(client, send_file(client, [0] * 20_000))
    text = page.get_data(as_text=True)
    assert "the rest was not looked at" in text
    assert len(text) < 400_000
    assert len(log.refused()) <= 1_000
    many = send_file(client, [0] * 20_001)
    assert many.status_code == 422
    assert "holds 20001 entries" in many.get_data(as_text=True)


def test_work_gives_way_while_a_request_is_answered(app, log):
    """Its thread waits until the answer is out, or a tenth of a second, then goes on."""
    works = app.extensions["beside"]
    seen = []

    def way(*_given):
        seen.append(works._nobody_waits.is_set())
        return [b""]

    assert works.beside(way)({}, None) == [b""]
    assert (seen, works._nobody_waits.is_set()) == ([False], True)
    with pytest.raises(ZeroDivisionError):
        works.beside(lambda *_: 1 / 0)({}, None)
    assert works._nobody_waits.is_set()
    gave = []
    work = beside.Work(jobs.say("x"), "", "/", give_way=lambda: gave.append(1))
    work.tell(1, 2)
    assert (work.part, work.whole, gave) == (1, 2, [1])


def test_one_person_does_not_fill_the_queue(app, log, monkeypatch):
    held = threading.Event()
    monkeypatch.setattr(jobs, "counted", lambda entries, *_: held.wait(20) and entries)
    client = app.test_client()
    begun = [client.get("/job/job-1/export.json") for _ in range(beside.MOST_OF_ONE + 1)]
    assert [one.status_code for one in begun] == [303, 303, 303, 422]
    assert "of yours wait here already" in begun[-1].get_data(as_text=True)
    held.set()
    for one in begun[:-1]:
        finished(client, one)
    assert client.get("/job/job-1/export.json").status_code == 303
