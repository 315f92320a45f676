"""A technician's phone, or a file that a lead brings in, can hurt nobody else's work."""

from __future__ import annotations

from io import BytesIO

import pytest
from pypdf import PdfReader
from support.entries import entry
from web.security.test_bringing_in import OTHERS, bring, by_phone, fields_refused

from fieldkit.flows.catalogue import flows
from fieldkit.joblog import Entry

LIE = {"joint": "joint-1", "flow": "plan-test", "run": "r-lie"}


def a_lie(who="Technician", **more) -> Entry:
    """A result that follows from no answers, and the fact it teaches."""
    told = {"verdict": "ready", "headline": "Test it at 500 psi.", "test_pressure_psi": 500.0}
    return entry(
        50, "result", **LIE, result=told, facts={"test.pressure_psi": 500.0}, who=who, **more
    )


def test_an_entry_of_ones_own_job_cannot_name_anothers_joint(crew, open_app):
    """With an earlier time it would have taken the joint's page, its checklist and its facts."""
    log = open_app.extensions["joblog"]
    made = [
        entry(40, "job", job="mine", understood={"name": "Mine"}, who="Technician"),
        entry(
            -9000, "joint", job="mine", joint="joint-1", understood={"name": "Mine"},
            who="Technician",
        ),
    ]  # fmt: skip
    said = by_phone(crew["technician"], made)
    assert fields_refused(said) == ["joint"]
    assert log.joint("joint-1").job == "job-1"
    assert "Valve box, left" in crew["lead"].read("/joint/joint-1").words


def test_an_entry_of_ones_own_joint_counts_in_nobody_elses_run(crew, open_app):
    log = open_app.extensions["joblog"]
    where = {"flow": "measure-pipe", "run": "run-1", "who": "Technician"}
    made = [
        entry(40, "joint", job="job-1", joint="other", understood={"name": "x"}, who="Technician"),
        entry(-50, "answer", joint="other", step="od", understood=9.0, **where),
    ]
    assert not by_phone(crew["technician"], made)["refused"]
    run = log.run("run-1", "job-1", "joint-1", "measure-pipe")
    assert run.answers["od"] == 0.8125


def test_a_result_that_does_not_follow_says_so_on_every_page(crew, open_app):
    assert not by_phone(crew["technician"], [a_lie()])["refused"]
    lead = crew["lead"]
    said = "Not reproduced: its answers lead to another result. Do not go by it."
    for page in ("/joint/joint-1", "/job/job-1", "/job/job-1/record", "/job/job-1/record.html"):
        assert said in lead.client.get(page).get_data(as_text=True), page
    short = "A result here was not reproduced."
    for page in ("/", "/jobs", "/joint/joint-1/card"):
        assert short in lead.client.get(page).get_data(as_text=True), page
    assert said in lead.read("/jobs?q=500+psi").html
    sign = lead.read("/job/job-1/sign").words
    assert "Work it out once more" in sign
    assert "A result here was not reproduced" in sign
    pdf = lead.client.get("/job/job-1/record.letter.pdf")
    assert pdf.status_code == 200
    # What a phone fetches next says so, too.
    told = lead.client.get("/phone/since?seq=0").get_json()["entries"]
    assert [one["mark"] for one in told if "mark" in one] == ["not reproduced"]


def test_a_signature_by_phone_is_the_senders_own(crew, open_app):
    log = open_app.extensions["joblog"]
    another = entry(60, "signature", understood={"name": "Other Lead"}, who="Other Lead")
    said = by_phone(crew["lead"], [another])
    assert fields_refused(said) == ["who"]
    assert log.entry(another.id) is None


def test_what_a_lead_brings_in_says_so_beside_each_entry(crew, open_app):
    """The file of another firm, in good faith: its signature does not become one's own."""
    gap = {"joint": "joint-1", "point": "prove", "reason": "Mr. Else saw it"}
    said = {"name": "Mr. Else", "waived": [gap]}
    signed = entry(60, "signature", understood=said, who="Mr. Else")
    note = entry(61, note="from elsewhere", who="Mr. Else")
    page = bring(crew["lead"], [signed, note, a_lie("Mr. Else")], OTHERS, elsewhere="on")
    assert "Mr. Else: 3 entries, with a signature of their own" in page
    assert "not your company’s" in page
    assert "1 result comes out otherwise" in page
    for path in ("/job/job-1", "/job/job-1/sign", "/job/job-1/record"):
        assert "From a file, brought in by" in crew["lead"].read(path).words, path
    for path in ("/job/job-1/sign", "/job/job-1/record"):
        assert "No signature here was made in this log" in crew["lead"].read(path).words, path
    assert "Sign this job" in crew["lead"].read("/job/job-1/sign").html
    record = crew["lead"].read("/job/job-1/record")
    first_page, _, behind = record.words.partition("Is this the record as it was made?")
    assert "Mr. Else saw it" not in first_page
    assert "Mr. Else saw it" in behind
    assert behind.count("From a file, brought in by") == 3, "note, result and signature"
    paper = PdfReader(BytesIO(crew["lead"].client.get("/job/job-1/record.letter.pdf").data))
    told = " ".join(" ".join(page.extract_text() for page in paper.pages).split())
    assert told.count("From a file, brought in by") == 3
    assert open_app.extensions["joblog"].crew()[1] == []


@pytest.mark.parametrize("role", ["technician", "lead"])
def test_no_page_of_any_flow_fails_for_what_was_refused(crew, open_app, role):
    facts = {
        "weld.ready_at": "x",
        "parts.assembly": {"parts": 3},
        "pipe.od_in": [1],
        "parts.joints": "npt",
        "test.readings": {},
        "leak.probability": "much",
    }
    made = {"joint": "joint-1", "understood": "x", "who": "Technician"}
    bad = [entry(70 + n, "pick", **made, facts={one: facts[one]}) for n, one in enumerate(facts)]
    assert len(by_phone(crew["technician"], bad)["refused"]) == len(bad)
    for page in ("/jobs", "/joint/joint-1", *(f"/joint/joint-1/{one}" for one in flows())):
        answer = crew[role].client.get(page, follow_redirects=True)
        assert answer.status_code in {200, 403, 404, 422}, page


def test_json_that_would_fill_the_memory_is_refused_before_it_is_read(crew, open_app):
    """16 MB of empty lists took 550 MB and two seconds of everybody's time."""
    token = crew["technician"].client.get("/phone/token").get_json()["token"]
    headers = {"X-CSRFToken": token, "Content-Type": "application/json"}
    sent = b'{"entries": [{"id": "x", "typed": [' + b"[]," * 700_000 + b"[]]}]}"
    assert (
        crew["technician"].client.post("/phone/send", data=sent, headers=headers).status_code == 400
    )
    assert not open_app.extensions["joblog"].refused()
