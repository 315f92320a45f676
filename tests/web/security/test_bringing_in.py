"""What may be brought in by file or phone: by whom, of whom, and from whose log."""

from __future__ import annotations

import io
import json
from types import SimpleNamespace

import pytest
from support.entries import entry

from fieldkit.joblog.exchange import FORMAT, json_lines

OTHERS = "f" * 32


def bring(hand, made, company="", **fields):
    action, filled = hand.read("/jobs").form("/import")
    text = "".join(json_lines(made, company)).encode()
    data = {**filled, "file": (io.BytesIO(text), "x.json"), **fields}
    return hand.client.post(action, data=data).get_data(as_text=True)


def by_phone(hand, made, **page):
    token = hand.client.get("/phone/token").get_json()["token"]
    body = {"entries": [one.as_json() for one in made], **page}
    headers = {"X-CSRFToken": token, "Content-Type": "application/json"}
    return hand.client.post("/phone/send", data=json.dumps(body), headers=headers).get_json()


def fields_refused(said):
    return [one["problem"]["field"] for one in said["refused"]]


def test_by_file(crew, open_app):
    log = open_app.extensions["joblog"]
    forged = entry(30, "signature", understood={"name": "Lead"}, who="Lead")
    person = entry(31, "person", job="", understood={"name": "Me", "role": "lead"})
    note = entry(32, note="fine", who="Technician")
    said = bring(crew["technician"], [forged, person, note], log.company)
    assert "not yours to send" in said
    assert log.entry(forged.id) is None
    assert log.entry(person.id) is None
    assert log.entry(note.id) is not None
    assert "not yours to send" in crew["lead"].read("/refused").words
    bring(crew["lead"], [forged], log.company)
    assert log.entry(forged.id) is not None


@pytest.mark.parametrize("company", ["", OTHERS])
def test_only_a_lead_brings_in_what_comes_from_elsewhere_and_only_on_purpose(
    crew, open_app, company
):
    """A homeowner's file names no company; another firm's names another."""
    log, note = open_app.extensions["joblog"], entry(30, note="popped off", who="")
    page = bring(crew["technician"], [note], company, elsewhere="on")
    assert "another company’s log" in page
    assert "another company’s log" in bring(crew["lead"], [note], company)
    assert log.entry(note.id) is None
    assert 'id="elsewhere"' not in crew["technician"].read("/jobs").html
    bring(crew["lead"], [note], company, elsewhere="on")
    assert log.entry(note.id) is not None


def test_prices_by_phone_are_the_leads(crew):
    forged = entry(30, "prices", job="", understood={}, who="Technician")
    said = by_phone(crew["technician"], [forged])
    assert fields_refused(said) == ["kind"]


def test_a_phone_sends_what_its_person_wrote_and_a_lead_also_what_others_did(crew, open_app):
    log = open_app.extensions["joblog"]
    mine = entry(30, note="mine", who="Technician")
    theirs, nobodys = entry(31, note="signed by another", who="Lead"), entry(32, note="x")
    said = by_phone(crew["technician"], [theirs, mine, nobodys], company=log.company)
    assert said["kept"] == [mine.id]
    assert fields_refused(said) == ["who", "who"]
    page = crew["lead"].read("/refused").words
    assert "made by Lead, not by you" in page
    assert "signed by another" in page
    assert len(by_phone(crew["lead"], [theirs, nobodys], company=log.company)["kept"]) == 2


def test_a_lead_takes_in_what_was_refused_to_its_sender(crew, open_app):
    """As after an old backup was put back: a technician's phone still has what others wrote."""
    log = open_app.extensions["joblog"]
    theirs, absurd = entry(31, note="of Ann", who="Ann"), entry(10**9, note="x", who="Ann")
    by_phone(crew["technician"], [theirs, absurd], company=log.company)
    assert crew["technician"].client.post("/refused").status_code in {400, 403}
    page = crew["lead"].read("/refused")
    assert page.html.count('name="mark"') == 2
    for action, fields, _ in page.forms():
        if "mark" in fields:
            crew["lead"].client.post(action, data=fields)
    assert log.entry(theirs.id) is not None
    assert log.entry(absurd.id) is None, "what is absurd stays refused, whoever takes it in"
    assert [one["name"] for one in log.refused()] == [absurd.id]


def test_a_phone_of_another_company_sends_and_gets_nothing(crew, open_app):
    log, note = open_app.extensions["joblog"], entry(30, note="not ours", who="Lead")
    said = by_phone(crew["lead"], [note], company=OTHERS)
    assert said["kept"] == []
    assert fields_refused(said) == ["company"]
    assert log.entry(note.id) is None
    assert "not ours" in crew["lead"].read("/refused").words
    answer = crew["lead"].client.get(f"/phone/since?seq=0&company={OTHERS}")
    assert answer.status_code == 409
    assert "entries" not in answer.get_json()
    ours = crew["lead"].client.get(f"/phone/since?seq=0&company={log.company}").get_json()
    assert ours["entries"]


#: What a phone asks, and what it is told of jobs.
PHONE = ("about.json", "token", "since?seq=0", f"photo/{'0' * 64}")


@pytest.mark.parametrize("role", ["technician", "lead"])
def test_a_phone_gets_every_job_that_its_person_may_see(crew, open_app, role):
    """Technicians and leads see all jobs of their company, on the phone as on the page."""
    kit = SimpleNamespace(ready=True, about=lambda: {"ready": True})
    open_app.extensions["phone_kit"] = kit  # its parts are tested elsewhere
    about = crew[role].client.get("/phone/about.json").get_json()
    assert about["who"] == role.capitalize()
    assert about["company"] == open_app.extensions["joblog"].company
    got = crew[role].client.get("/phone/since?seq=0").get_json()["entries"]
    log = open_app.extensions["joblog"]
    assert len(got) == log.count()
    for job in {one["job"] for one in got} - {""}:
        assert crew[role].read(f"/job/{job}").status == 200
    text = json.dumps(got)
    assert open_app.config["SECRET_KEY"] not in text
    assert "argon2" not in text


@pytest.mark.parametrize("role", ["guest", "stranger"])
@pytest.mark.parametrize("path", PHONE)
def test_a_guest_of_one_job_takes_nothing_along(crew, role, path):
    """A guest's link shows one job with signal; a phone is told nothing, of no job."""
    answer = crew[role].client.get(f"/phone/{path}")
    assert answer.status_code == (403 if role == "guest" else 401)
    for word in ("North bed", "Secret garden", "Technician"):
        assert word not in answer.get_data(as_text=True)
    sent = crew[role].client.post("/phone/send", json={"entries": [entry().as_json()]})
    assert sent.status_code in {400, 401, 403}


@pytest.mark.parametrize("where", ["id", "at", "job", "kind", "who", "note", "typed", "\ud800"])
def test_half_a_letter_is_refused_by_name_and_can_be_looked_at(app, hand, where):
    """JSON may carry halves of a pair, which no file and no page can hold."""
    good = entry(1)
    bad = {**entry(2).as_json(), where: {"\ud800": 1} if where == "typed" else "\ud800"}
    company = app.extensions["joblog"].company
    body = {"format": FORMAT, "company": company, "entries": [bad, good.as_json()]}
    sent = json.dumps(body).encode()
    action, fields = hand.read("/jobs").form("/import")
    data = {**fields, "file": (io.BytesIO(sent), "x.json")}
    assert hand.client.post(action, data=data).status_code == 200
    assert [one.entry for one in app.extensions["joblog"].since(0, 9)] == [good]
    assert len(app.extensions["joblog"].refused()) == 1
    assert hand.read("/refused").status == 200


def test_price_history_shows_what_changed(crew):
    lead = crew["lead"]
    _, fields = lead.read("/prices").form("/prices")
    part = next(name for name in fields if name not in {"csrf_token", "entry"})
    lead.send(lead.read("/prices"), "/prices", **{part: "1.25"})
    page = lead.read("/prices/history")
    assert "1.25" in page.words
    assert "Lead, typed in" in page.words
