"""A technician cannot bring in by file or phone what only a lead may make."""

from __future__ import annotations

import io
import json

from support.entries import entry

from fieldkit.joblog.exchange import json_lines


def bring(hand, made):
    action, fields = hand.read("/jobs").form("/import")
    text = "".join(json_lines(made)).encode()
    data = {**fields, "file": (io.BytesIO(text), "x.json")}
    return hand.client.post(action, data=data).get_data(as_text=True)


def test_by_file(crew, open_app):
    forged = entry(30, "signature", understood={"name": "Lead"})
    person = entry(31, "person", job="", understood={"name": "Me", "role": "lead"})
    note = entry(32, note="fine")
    assert "not yours to send" in bring(crew["technician"], [forged, person, note])
    log = open_app.extensions["joblog"]
    assert log.entry(forged.id) is None
    assert log.entry(person.id) is None
    assert log.entry(note.id) is not None
    assert "not yours to send" in crew["lead"].read("/refused").words
    bring(crew["lead"], [forged])
    assert log.entry(forged.id) is not None


def test_by_phone(crew, open_app):
    client = crew["technician"].client
    token = client.get("/phone/token").get_json()["token"]
    forged = entry(30, "prices", job="", understood={})
    sent = client.post(
        "/phone/send",
        data=json.dumps({"entries": [forged.as_json()]}),
        headers={"X-CSRFToken": token, "Content-Type": "application/json"},
    ).get_json()
    assert [one["id"] for one in sent["refused"]] == [forged.id]
    assert crew["guest"].client.get("/phone/since").status_code == 403


def test_price_history_shows_what_changed(crew):
    lead = crew["lead"]
    _, fields = lead.read("/prices").form("/prices")
    part = next(name for name in fields if name not in {"csrf_token", "entry"})
    lead.send(lead.read("/prices"), "/prices", **{part: "1.25"})
    page = lead.read("/prices/history")
    assert "1.25" in page.words
    assert "Lead, typed in" in page.words
