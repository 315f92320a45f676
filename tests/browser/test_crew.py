"""A technician records, a lead on another phone signs, and the homeowner's link sees one job.

One story on a server that others can reach, told with three phones that share nothing but the
server: invitations by link and by code, a joint from measuring to its verdict, the signature with
what is missing, the record handed over, and the doors that stay shut.
"""

from __future__ import annotations

import contextlib
import io
import re
import sqlite3
import threading

import pytest
import zxingcpp
from browser.fingers import Touch
from browser.journey import carry_through
from browser.watched import PHONES, Server, Watched
from click.testing import CliRunner
from PIL import Image
from pypdf import PdfReader
from support.entries import NOW, entry
from waitress.server import create_server

from fieldkit.app import make_app
from fieldkit.cli.main import main

pytestmark = pytest.mark.browser

PASSWORDS = {
    "Ann": "violet gravel anchor teapot",
    "Bo": "copper lantern meadow spoon",
    "Dee": "marble window thistle oar",
}
REASON = "The gauge itself dripped. It is tested again on Friday."

#: What a homeowner with a link to one job must not reach, whatever is guessed.
SHUT = (
    "/jobs", "/prices", "/people", "/me", "/refused", "/diagnoses",
    "/job/{job}/record", "/job/{job}/record.html", "/job/{job}/record.a4.pdf", "/job/{job}/labels",
    "/job/{job}/sign", "/job/{job}/export.json", "/joint/{joint}/photos", "/job/job-2",
    "/joint/joint-2", "/joint/joint-2/leak-now", "/job/job-2/record", "/guest/job-2",
)  # fmt: skip

#: What the record must hold, on the page, in the PDF and in the file.
ON_RECORD = (
    "Long Meadow", "Bed 2, north end", "0.840 in ±", "To buy", "It leaks",
    "The joint, before the test", REASON, "Ann", "Dee", "Bo", "The lid was put back.",
    "Take care", "Where the numbers come from",
)  # fmt: skip

#: A phone with a share sheet: it keeps what was handed to it.
SHARE_SHEET = """
  navigator.canShare = () => true;
  navigator.share = async (what) => { window.shared = what; window.handed?.(what); };
"""


class Passing(Watched):
    """A phone on pages that ``test_whole_job`` inspects one by one: here they are only used."""

    def look(self) -> Watched:
        """Wait for the page."""
        self.page.wait_for_load_state()
        return self


@pytest.fixture
def reached(tmp_path):
    """A server on every address of this machine: whoever comes logs in."""
    application = make_app(tmp_path / "log.db", listens_beyond=True)
    log = application.extensions["joblog"]
    log.append([entry(0, "job", job="job-2", understood={"name": "Not yours"})], NOW)
    log.append([entry(1, "joint", job="job-2", joint="joint-2", understood={"name": "Gate"})], NOW)
    running = create_server(application, host="0.0.0.0", port=0, threads=4)  # noqa: S104

    def serve() -> None:
        with contextlib.suppress(OSError):
            running.run()

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    yield Server(f"http://127.0.0.1:{running.effective_port}", application)
    running.close()
    thread.join(timeout=5)
    log.close()


@pytest.fixture
def phones(browser, reached):
    """A way to take one more phone in hand."""
    taken = []

    def take(size: str = "390x844") -> Watched:
        width, height = PHONES[size]
        context = browser.new_context(
            viewport={"width": width, "height": height}, has_touch=True, is_mobile=True
        )
        context.set_default_timeout(60_000)
        context.add_init_script(SHARE_SHEET)
        watched = Watched(context.new_page(), reached.address)
        taken.append((context, watched))
        return watched

    yield take
    for context, watched in taken:
        watched.check()
        context.close()


def run(reached, *arguments: str) -> str:
    """A command on the log that is being served."""
    path = str(reached.log.path)
    done = CliRunner().invoke(main, [*arguments, "--db", path], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output.strip()


def scanned(watched: Watched) -> str:
    """What a phone's camera reads in the code on the page."""
    picture = Image.open(io.BytesIO(watched.page.locator(".qr").first.screenshot()))
    (found,) = zxingcpp.read_barcodes(picture.convert("L"))
    return found.text


def here(watched: Watched, link: str) -> str:
    """The path of a link to this server."""
    assert link.startswith(watched.address)
    return link.removeprefix(watched.address)


def log_in(watched: Watched, name: str) -> None:
    watched.open("/enter")
    watched.page.fill('[name="name"]', name)
    Touch(watched).fill_in("password", PASSWORDS[name], "Log in")


def invite(lead: Watched, name: str, role: str, job: str = "") -> None:
    """The lead makes an invitation in the browser."""
    lead.open("/people")
    lead.page.fill('[name="name"]', name)
    lead.page.locator(f"#role-{role} + label").tap()
    if job:
        lead.page.select_option('[name="job"]', job)
    Touch(lead).tap(lead.page.get_by_role("button", name="Make the invitation"))


def photo_with_a_place() -> bytes:
    """A phone's picture, with where it was taken written beside it."""
    out = io.BytesIO()
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0)})
    exif[0x010F] = "A maker"
    Image.effect_noise((900, 600), 60).convert("RGB").save(out, "JPEG", exif=exif)
    return out.getvalue()


def take_photo(phone: Watched, joint: str) -> None:
    phone.open(f"/joint/{joint}/photos")
    picture = {"name": "box.jpg", "mimeType": "image/jpeg", "buffer": photo_with_a_place()}
    phone.page.set_input_files("#photo", picture)
    Touch(phone).fill_in("about", "The joint, before the test", "Save the photo")
    image = phone.page.locator(".photo img").get_attribute("src")
    kept = phone.page.request.get(phone.address + image)
    assert kept.headers["content-type"] == "image/jpeg"
    assert not dict(Image.open(io.BytesIO(kept.body())).getexif())


def sign(lead: Watched, job: str, button: str) -> None:
    """Give the reason for what is missing, and sign."""
    lead.open(f"/job/{job}/sign")
    lead.page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    boxes = lead.page.locator('input[name^="waive-"]')
    assert boxes.count() >= 1
    for box in boxes.all():
        box.fill(REASON)
    Touch(lead).tap(lead.page.get_by_role("button", name=button))
    assert "Seal holds" in lead.page.inner_text("main")


def saved(watched: Watched, name: str) -> bytes:
    """What a link saves on the phone."""
    with watched.page.expect_download() as download:
        watched.page.get_by_role("link", name=name).tap()
    return download.value.path().read_bytes()


def opened_without_us(browser, data: bytes, tmp_path) -> str:
    """The words of a file opened from the disk with the network off, years later."""
    (tmp_path / "record.html").write_bytes(data)
    context = browser.new_context(offline=True)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto((tmp_path / "record.html").as_uri())
    pictures = page.evaluate("[...document.images].map(one => one.naturalWidth)")
    words = page.inner_text("body")
    context.close()
    assert pictures
    assert all(pictures), "a photo is not inside the file"
    assert [one for one in asked if not one.startswith(("file:", "data:"))] == []
    return words


def shared(watched: Watched) -> list[str]:
    """Press "Share it"; the kinds of what came to the phone's share sheet."""
    page = watched.page
    page.evaluate("() => { window.waiting = new Promise((done) => { window.handed = done; }); }")
    page.locator("#share").tap()
    return page.evaluate(
        "async () => (await window.waiting).files.map((one) => `${one.name} ${one.type}`)"
    )


def assert_named(files: list[str], ending: str) -> None:
    """One file, called by its job and the day, so that it is found again among others."""
    (file,) = files
    assert re.fullmatch(rf"record-Long-Meadow-\d{{4}}-\d\d-\d\d\.{ending}", file), file


def people_come_in(reached, lead: Watched, bo: Watched, home: Watched) -> None:
    """The first lead is made on the command line; an invitation works once, and ends."""
    run(reached, "people", "add-lead", "Ann", "--password", PASSWORDS["Ann"])
    lead.open("/")
    assert lead.heading == "Who are you?", "a stranger was let in"
    log_in(lead, "Ann")
    invite(lead, "Bo", "technician")
    link = lead.page.input_value("#link")
    assert scanned(lead) == link, "the code says something else than the link"
    lead.page.locator("#share").tap()
    assert lead.page.evaluate("window.shared.url") == link
    bo.open(here(bo, link))
    Touch(bo).fill_in("password", PASSWORDS["Bo"], "Join")
    home.open(here(home, link))
    assert home.heading == "This invitation works no more", "it worked twice"
    late = run(reached, "people", "invite", "Late", "--at", reached.address)
    with contextlib.closing(sqlite3.connect(reached.log.path.with_suffix(".people"))) as conn:
        conn.execute("UPDATE invites SET until = 1")
        conn.commit()
    home.open(here(home, late))
    assert home.heading == "This invitation works no more", "it never ends"
    bo.open("/me")
    Touch(bo).tap(bo.page.get_by_role("button", name="Log out here"))
    log_in(bo, "Bo")


def a_joint_is_made(reached, bo: Watched) -> tuple[str, str]:
    """The technician takes a joint from measuring to its verdict, with a photo, and cannot sign."""
    passing = Passing(bo.page, bo.address)
    carry_through(passing, Touch(passing))
    (job,) = [one.id for one in reached.log.jobs() if one.name == "Long Meadow"]
    (joint,) = [one.id for one in reached.log.joints(job)]
    take_photo(bo, joint)
    assert bo.page.request.get(f"{bo.address}/job/{job}/sign").status == 403
    bo.open(f"/job/{job}")
    assert bo.page.get_by_role("link", name="Sign this job").count() == 0
    return job, joint


def leads_sign(reached, lead: Watched, second: Watched, bo: Watched, job: str) -> None:
    """Refused while something is missing; waived with a reason; countersigned; signed again."""
    lead.open(f"/job/{job}/sign")
    Touch(lead).tap(lead.page.get_by_role("button", name="Sign this job"))
    assert "is not complete" in lead.page.inner_text("main")
    # After a leak comes why, before another test.
    Touch(lead).tap(lead.page.get_by_role("link", name=re.compile("Do it now")).first)
    assert "/failed-test" in lead.page.url
    sign(lead, job, "Sign this job")
    run(reached, "people", "add-lead", "Dee", "--password", PASSWORDS["Dee"])
    log_in(second, "Dee")
    sign(second, job, "Countersign")
    bo.open(f"/job/{job}")
    bo.page.get_by_text("Write a note").tap()
    Touch(bo).fill_in("note", "The lid was put back.", "Save the note")
    lead.open(f"/job/{job}/sign")
    assert "After signing: 1 entry was added" in lead.page.inner_text("main")
    sign(lead, job, "Sign again")


def the_record_is_handed_over(browser, lead: Watched, job: str, tmp_path) -> None:
    """On the page, as PDF, as one file that needs nobody, and through the share sheet."""
    lead.open(f"/job/{job}/record")
    page_words = lead.page.inner_text("main")
    file_words = opened_without_us(browser, saved(lead, "One file to hand over"), tmp_path)
    papers = [
        "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
        for data in (saved(lead, "PDF, Letter"), saved(lead, "PDF, A4"))
    ]
    (digest,) = set(re.findall(r"over all \d+ entries: ([0-9a-f]{64})", page_words))
    for words in (page_words, file_words, *papers):
        told = " ".join(words.split())
        missing = [part for part in (digest, *ON_RECORD) if part not in told]
        assert not missing
    assert_named(shared(lead), "pdf application/pdf")
    lead.open(f"/job/{job}/record")
    lead.page.route("**/*.pdf", lambda route: route.abort())  # as on a phone without signal
    assert_named(shared(lead), "html text/html")
    lead.faults = [one for one in lead.faults if "ERR_FAILED" not in one]


def the_label_opens_the_joint(bo: Watched, job: str, joint: str) -> None:
    bo.open(f"/job/{job}/labels")
    assert scanned(bo) == f"{bo.address}/joint/{joint}"
    bo.open(f"/joint/{joint}")
    assert bo.heading == "Bed 2, north end"


def the_homeowner_sees_one_job(reached, home: Watched, job: str, joint: str) -> None:
    """Finds out what is wrong without knowing anything, and reaches nothing else."""
    Touch(home).press("Open the job")
    assert home.heading == "Long Meadow"
    home.open("/")
    assert home.heading == "Long Meadow"
    Touch(home).tap(home.page.get_by_role("link", name=re.compile("It is leaking")))
    for _ in range(30):
        if home.page.url.endswith("/answer"):
            break
        way_out = home.page.locator('button[value="cant-tell"]')
        Touch(home).tap(way_out if way_out.count() else home.page.locator(".act .main").first)
    assert home.page.url.endswith("/answer")
    before = reached.log.count()
    for path in SHUT:
        answer = home.page.request.get(home.address + path.format(job=job, joint=joint))
        inside = answer.url.endswith(f"/guest/{job}")
        assert inside or answer.status in {403, 404}, f"{path}: {answer.status} at {answer.url}"
        assert "Not yours" not in answer.text()
    assert reached.log.count() == before


def test_the_crew(browser, reached, phones, tmp_path):
    lead, bo, home = phones(), phones("360x640"), phones()
    people_come_in(reached, lead, bo, home)
    job, joint = a_joint_is_made(reached, bo)
    leads_sign(reached, lead, phones(), bo, job)
    the_record_is_handed_over(browser, lead, job, tmp_path)
    the_label_opens_the_joint(bo, job, joint)
    invite(lead, "Robin", "guest", job)
    home.open(here(home, scanned(lead)))
    the_homeowner_sees_one_job(reached, home, job, joint)

    # Sessions are ended from elsewhere: the lead's press logs the technician out.
    lead.open("/people")
    Touch(lead).tap(lead.page.get_by_role("button", name=re.compile("Log out everywhere.*Bo")))
    bo.open("/jobs")
    assert bo.heading == "Who are you?"

    # What was signed stands, also in a copy that was made while it was served, and put back.
    assert "3 seals, and every one holds" in run(reached, "verify")
    run(reached, "backup", str(tmp_path / "copy.zip"))
    back = str(tmp_path / "back" / "log.db")
    done = CliRunner().invoke(main, ["restore", str(tmp_path / "copy.zip"), "--db", back])
    assert (done.exit_code, "3 of 3 seals hold" in done.output) == (0, True), done.output
