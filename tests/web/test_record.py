"""The record of every demo job as page, as PDF and as one file; and its labels."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import html5lib
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader
from support.entries import NOW, entry
from support.inspection import HTML

from fieldkit.flows.demo import demo_folder
from fieldkit.joblog import exchange
from fieldkit.phone.pack import build_pack
from fieldkit.web.pages import record

#: Points, by ISO 216 and ANSI/ASME Y14.1: 210 × 297 mm, 8.5 × 11 in.
SHEETS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}


@pytest.fixture
def jobs(app):
    log = app.extensions["joblog"]
    for file in demo_folder().iterdir():
        if file.name.endswith(".json"):
            exchange.import_file(log, file.read_bytes(), NOW)
    return log.jobs()


def with_photo(app, hand, job):
    joint = app.extensions["joblog"].joints(job.id)[0]
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "brown").save(out, "JPEG")
    action, fields = hand.read(f"/joint/{joint.id}/photos").form("/photos")
    data = {
        **fields,
        "photo": (io.BytesIO(out.getvalue()), "x.jpg"),
        "about": "The joint, wet ½ in. box",
    }
    assert hand.client.post(action, data=data).status_code == 303


def signed(hand, job):
    """The job signed with a reason for all that is missing."""
    page = hand.read(f"/job/{job.id}/sign")
    _, fields = page.form("/sign")
    reasons = {name: "Seen" for name in fields if name.startswith("waive-")}
    return hand.send(page, "/sign", name="Ann", **reasons)


def test_the_page_holds_joints_verdicts_sources_and_digest(app, hand, jobs):
    for job in jobs:
        page = hand.read(f"/job/{job.id}/record")
        assert page.heading == f"Record of {job.name}"
        for joint in app.extensions["joblog"].joints(job.id):
            assert joint.name in page.words
        assert re.search(r"SHA-256 over all \d+ entries: [0-9a-f]{64}", page.words)
        assert "Where the numbers come from" in page.words


#: What each demo job's record must show on the page and in the PDF, read by somebody else's reader.
SHOWN = {
    "Plum Hollow, new beds": (
        "0.840 in ± 0.002", "To buy", "Do not move it for 15 min", "The cement has cured",
        "The test over time", "It holds", "The joint, wet ½ in. box",
    ),
    "Larkspur Row, joint came off": ("popped off", "The joint, wet ½ in. box"),
    "Quarry Lane, sprinklers to drip": ("psi", "The joint, wet ½ in. box"),
}  # fmt: skip
ALWAYS = (
    "invented demo", "Take care", "Local code, the maker’s instructions", "Signatures",
    "Seal holds", "Ann", "Signed without", "Seen", "Where the numbers come from", "SHA-256",
)  # fmt: skip


@pytest.mark.parametrize("paper", SHEETS)
def test_the_pdf_has_its_sheet_and_all_that_the_record_holds(app, hand, jobs, paper):
    for job in jobs:
        with_photo(app, hand, job)
        signed(hand, job)
        response = hand.client.get(f"/job/{job.id}/record.{paper}.pdf")
        assert response.mimetype == "application/pdf"
        pdf = PdfReader(io.BytesIO(response.get_data()))
        for page in pdf.pages:
            size = (float(page.mediabox.width), float(page.mediabox.height))
            assert size == pytest.approx(SHEETS[paper], abs=0.01)
        told = " ".join("\n".join(page.extract_text() for page in pdf.pages).split())
        on_page = hand.read(f"/job/{job.id}/record").words
        for words in (told, on_page):
            wanted = [*SHOWN[job.name], *ALWAYS]
            assert [one for one in wanted if one.casefold() not in words.casefold()] == []
        assert sum(len(page.images) for page in pdf.pages) == 2, "in front, and with its joint"
        digest = re.search(r"over all \d+ entries: ([0-9a-f]{64})", on_page)[1]
        assert all(digest in page.extract_text() for page in pdf.pages), "not on every sheet"
    assert hand.client.get(f"/job/{jobs[0].id}/record.a3.pdf").status_code == 404


def test_a_phone_hands_over_the_file_and_offers_no_paper(jobs, app, monkeypatch):
    """Its Python has no PDF and no codes; the file that opens anywhere it can make."""
    monkeypatch.setattr(record, "can_make", lambda package: False)
    client = app.test_client()
    page = client.get(f"/job/{jobs[0].id}/record").get_data(as_text=True)
    assert "data-html=" in page
    assert ".pdf" not in page
    assert client.get(f"/job/{jobs[0].id}/record.html").status_code == 200
    for path in ("record.a4.pdf", "labels"):
        assert client.get(f"/job/{jobs[0].id}/{path}").status_code == 404
    with zipfile.ZipFile(io.BytesIO(build_pack())) as pack:
        styles = {f"fieldkit/web/static/{name}.css" for name in record.LOOKS}
        assert styles <= set(pack.namelist())


def test_the_file_needs_nothing_from_anywhere(app, hand, jobs):
    with_photo(app, hand, jobs[0])
    response = hand.client.get(f"/job/{jobs[0].id}/record.html")
    assert response.headers["Content-Disposition"].startswith("attachment")
    text = response.get_data(as_text=True)
    document = html5lib.HTMLParser(strict=True).parse(text)
    for one in document.iter():
        for name in ("src", "href"):
            value = one.get(name)
            # Only the address to check it at, which a person follows, leads out of the file.
            begins = ("data:image/jpeg;base64,", "#", "http://localhost/check/")
            assert value is None or value.startswith(begins)
    assert not [one for one in document.iter() if one.tag == HTML + "script"]
    assert "url(" not in text
    assert "data:image/jpeg;base64,/9j/" in text


def test_what_came_after_the_signature_says_so(app, hand, jobs):
    job = jobs[0]
    signed(hand, job)
    app.extensions["joblog"].append([entry(1, job=job.id, note="Late word")], NOW)
    words = hand.read(f"/job/{job.id}/record").words
    assert "Seal holds Ann" in words
    assert "After signing 1 more entries" in words
    assert "Late word" in words


def test_a_label_opens_its_joint(app, hand, jobs):
    page = hand.read(f"/job/{jobs[0].id}/labels")
    joints = app.extensions["joblog"].joints(jobs[0].id)
    codes = re.findall(r'viewBox="0 0 (\d+) .*?<path fill="#000" d="([^"]+)"', page.html)
    read = [scanned(int(size), path) for size, path in codes]
    assert read == [f"http://localhost/joint/{joint.id}" for joint in joints]
    for one in joints:
        assert hand.read(f"/joint/{one.id}").heading == one.name


def scanned(size: int, path: str) -> str:
    """What a reader that is not ours reads in the drawing of a code, eight points a module."""
    picture = Image.new("L", (size, size), 255)
    for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", path):
        picture.putpixel((int(x), int(y)), 0)
    (found,) = zxingcpp.read_barcodes(picture.resize((size * 8, size * 8), Image.NEAREST))
    return found.text


def test_static_print_looks_are_for_both_sheets():
    css = (Path(__file__).parents[2] / "static" / "print.css").read_text(encoding="utf-8")
    assert not re.search(r"(?<!-)size:", css)  # the printer's own paper counts


def test_the_first_page_says_what_leaks_what_was_waived_and_where_to_check_it(app, hand, jobs):
    job = next(one for one in jobs if "Quarry Lane" in one.name)
    with_photo(app, hand, job)
    signed(hand, job)
    page = hand.read(f"/job/{job.id}/record")
    first, full = page.words.split("The full record")
    assert "1 leak or failed" in first
    assert "Leaks Riser by the path" in first
    assert "Signed without" in first
    assert "Seen Ann" in first
    assert "Seal holds Ann" in first
    assert page.html.index("<img") < page.html.index("The full record"), "its photo"
    assert "Test it and judge the result Leaks" in full
    assert "Missing It leaks" not in full
    address = "http://localhost" + re.search(r'href="(/check/[^"]+)"', page.html)[1]
    code = re.search(r'class="qr" viewBox="0 0 (\d+) .*?<path fill="#000" d="([^"]+)"', page.html)
    assert scanned(int(code[1]), code[2]) == address
    for paper in SHEETS:
        response = hand.client.get(f"/job/{job.id}/record.{paper}.pdf")
        name = response.headers["Content-Disposition"]
        assert re.search(r'"record-Quarry-Lane-sprinklers-to-drip-\d{4}-\d\d-\d\d\.pdf"', name)
        front, second, *_ = PdfReader(io.BytesIO(response.get_data())).pages
        words = front.extract_text()
        assert [one for one in ("Leaks", "Signed without", "Seal holds") if one not in words] == []
        assert address in words.replace("\n", "")
        assert len(front.images) == 1
        assert second.extract_text().startswith("The full record")


def test_whoever_holds_a_record_checks_it_and_learns_nothing_else(app, hand, jobs):
    job = jobs[0]
    signed(hand, job)
    whole = hand.client.get(f"/job/{job.id}/record.html").get_data(as_text=True)
    address = re.search(r"http://localhost(/check/[^\"<]+)", whole)[1]
    page = hand.read(address)
    assert page.status == 200
    assert "As it was made" in page.words
    assert "Seal holds" in page.words
    for private in (job.name, job.place, "Ann", "Bed 1"):
        assert private not in page.words
    app.extensions["joblog"].append([entry(1, job=job.id, note="Late word")], NOW)
    assert "1 entries were added since" in hand.read(address).words
    other = re.sub(r"[0-9a-f]{64}$", "0" * 64, address)
    assert hand.read(other).status == 404
    assert "Not in this log" in hand.read(other).words
    nobody = hand.read(re.sub(r"/check/[^/]+/", "/check/nobody/", address))
    assert nobody.status == 404
