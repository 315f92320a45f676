"""The record of every demo job as page, as PDF and as one file; and its labels."""

from __future__ import annotations

import io
import re
from pathlib import Path

import html5lib
import pytest
from PIL import Image
from support.entries import NOW, entry
from support.inspection import HTML

from fieldkit.flows.demo import demo_folder
from fieldkit.joblog import exchange

#: Points, by ISO 216 and ANSI/ASME Y14.1: 210 × 297 mm, 8.5 × 11 in.
SHEETS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}


@pytest.fixture
def jobs(app):
    log = app.extensions["joblog"]
    for file in demo_folder().iterdir():
        if file.name.endswith(".json"):
            exchange.import_json(log, file.read_bytes(), NOW)
    return log.jobs()


def with_photo(app, hand, job):
    joint = app.extensions["joblog"].joints(job.id)[0]
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "brown").save(out, "JPEG")
    action, fields = hand.read(f"/joint/{joint.id}/photos").form("/photos")
    data = {**fields, "photo": (io.BytesIO(out.getvalue()), "x.jpg"), "about": "Wet ½ in. box"}
    assert hand.client.post(action, data=data).status_code == 303


def test_the_page_holds_joints_verdicts_sources_and_digest(app, hand, jobs):
    for job in jobs:
        page = hand.read(f"/job/{job.id}/record")
        assert page.heading == f"Record of {job.name}"
        for joint in app.extensions["joblog"].joints(job.id):
            assert joint.name in page.words
        assert re.search(r"SHA-256 over all \d+ entries: [0-9a-f]{64}", page.words)
        assert "Where the numbers come from" in page.words


@pytest.mark.parametrize("paper", SHEETS)
def test_the_pdf_has_its_sheet_and_its_words(app, hand, jobs, paper):
    with_photo(app, hand, jobs[0])
    for job in jobs:
        response = hand.client.get(f"/job/{job.id}/record.{paper}.pdf")
        assert response.mimetype == "application/pdf"
        body = response.get_data()
        assert body.startswith(b"%PDF-1.")
        assert body.rstrip().endswith(b"%%EOF")
        size = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", body)
        assert (float(size[1]), float(size[2])) == pytest.approx(SHEETS[paper], abs=0.01)
    assert hand.client.get(f"/job/{jobs[0].id}/record.a3.pdf").status_code == 404


def test_the_file_needs_nothing_from_anywhere(app, hand, jobs):
    with_photo(app, hand, jobs[0])
    response = hand.client.get(f"/job/{jobs[0].id}/record.html")
    assert response.headers["Content-Disposition"].startswith("attachment")
    text = response.get_data(as_text=True)
    document = html5lib.HTMLParser(strict=True).parse(text)
    for one in document.iter():
        for name in ("src", "href"):
            value = one.get(name)
            assert value is None or value.startswith(("data:image/jpeg;base64,", "#"))
    assert not [one for one in document.iter() if one.tag == HTML + "script"]
    assert "url(" not in text
    assert "data:image/jpeg;base64,/9j/" in text


def test_what_came_after_the_signature_says_so(app, hand, jobs):
    job = jobs[0]
    page = hand.read(f"/job/{job.id}/sign")
    _, fields = page.form("/sign")
    reasons = {name: "Seen" for name in fields if name.startswith("waive-")}
    hand.send(page, "/sign", name="Ann", **reasons)
    app.extensions["joblog"].append([entry(1, job=job.id, note="Late word")], NOW)
    words = hand.read(f"/job/{job.id}/record").words
    assert "Seal holds Ann" in words
    assert "After signing 1 more entries" in words or "After signing" in words
    assert "Late word" in words


def test_a_label_opens_its_joint(app, hand, jobs):
    page = hand.read(f"/job/{jobs[0].id}/labels")
    joints = app.extensions["joblog"].joints(jobs[0].id)
    assert page.html.count('class="qr"') == len(joints)


def test_static_print_looks_are_for_both_sheets():
    css = (Path(__file__).parents[2] / "static" / "print.css").read_text(encoding="utf-8")
    assert not re.search(r"(?<!-)size:", css)  # the printer's own paper counts
