"""Script and markup typed into every text field there is, in a real browser, then looked for.

The content security policy is switched off for it: what is told as text must need no second line
of defence. A made-up element, a picture with a handler, a script and a template are typed; nothing
of them may ever be more than words.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import threading
from urllib.parse import quote, urlsplit

import pytest
from PIL import Image
from support.chromium import launch_options
from support.entries import NOW, a_job, entry
from waitress.server import create_server

from fieldkit.app import make_app
from fieldkit.flows.catalogue import flows
from fieldkit.joblog import exchange, new_id
from fieldkit.joblog.people import Person
from fieldkit.web import access

pytestmark = pytest.mark.browser

PASSWORD = "violet gravel anchor teapot"  # noqa: S105  -- only here

#: Fits the shortest box, of 80 characters.
HARM = "'\"><x-harm><img src=x onerror=ran()><script>ran()</script>{{1337*7}}"
ADDRESS = "javascript:ran()"

#: What no page of ours holds: our scripts are files, and no element carries a handler.
LOOK = """() => [...document.querySelectorAll(
  'x-harm, img[src="x"], script:not([src]), [onerror], [onclick], iframe, object, embed, base')]
  .map(one => one.outerHTML.slice(0, 200))
  .concat([...document.querySelectorAll('[href], [src], [action], [formaction]')]
    .map(one => one.getAttribute('href') || one.getAttribute('src') || one.action || '')
    .filter(where => /^\\s*(javascript:|vbscript:|data:(?!image\\/jpeg;base64,))/i.test(where)))
  .concat(window.harmed || [])
  .concat(document.documentElement.outerHTML.includes('9359') ? ['a template ran'] : [])"""

#: A visit counts for all pages of its kind: the address without its ids.
ID = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|[0-9a-f]{64}|(?<=-)[19](?=/|$)")
#: One question stands for all, and one table: their templates are the same.
ALIKE = re.compile(r"(?<=^/joint/…/)(?!photos)[a-z-]+(/.*)?$|(?<=^/tables/).+$")

#: Forms that end the session that types.
LEAVING = ("/leave", "/me/end", "/me/password", "/look", "/end", "/end-sessions")

#: Open all that a box is folded away in.
UNFOLD = """
one => { for (let it = one.closest("details"); it; it = it.parentElement.closest("details"))
  it.open = true; }
"""


class Typist:
    """A browser that types harm into what it sees, and looks at each page that comes of it."""

    def __init__(self, page, address: str) -> None:
        self.page, self.address = page, address
        self.typed: set[str] = set()
        self.seen: set[str] = set()
        self.told = 0
        page.on("dialog", self._dialog)

    def _dialog(self, dialog) -> None:
        dialog.dismiss()
        pytest.fail(f"a dialog at {self.page.url}: {dialog.message}")

    def look(self) -> None:
        """Nothing that was typed has become more than words."""
        assert self.page.evaluate(LOOK) == [], self.page.url
        self.told += "x-harm" in self.page.inner_text("body")
        self.seen.add(self.kind(self.page.url))

    def open(self, path: str) -> None:
        """Go there and look."""
        self.page.goto(path if "://" in path else self.address + path)
        self.look()

    def kind(self, url: str) -> str:
        """The address without what differs from one page of its kind to the next."""
        path = ID.sub("…", urlsplit(url).path).replace("job-…", "…").replace("joint-…", "…")
        return ALIKE.sub("…", path)

    def links(self) -> list[str]:
        """Pages of this site that the page leads to."""
        found = self.page.eval_on_selector_all("a[href]", "all => all.map(one => one.href)")
        return [one for one in found if one.startswith(self.address)]

    def type_into_all(self, path: str) -> None:
        """Fill and send each form of a page, one after the other."""
        self.open(path)
        forms = self.page.locator("form")
        for n in range(forms.count()):
            form = forms.nth(n)
            action = urlsplit(form.evaluate("one => one.action")).path
            if action.endswith(LEAVING):
                continue
            if self.fill(form, self.kind(action)):
                form.locator("button, input[type=submit]").first.evaluate(
                    "one => one.form.noValidate = true"
                )
                with self.page.expect_navigation():
                    form.evaluate("one => one.requestSubmit(one.querySelector('.main, button'))")
                self.look()
                self.page.goto(self.address + path)
                forms = self.page.locator("form")

    def fill(self, form, action: str) -> int:
        """Type into the form's text boxes; how many it has."""
        boxes = form.locator(
            "textarea, input:not([type]), input[type=text], input[type=search],"
            " input[type=number], input[type=password]:not([name=old])"
        )
        count = boxes.count()
        for n in range(min(count, 12)):  # a price list has a hundred of a kind
            box = boxes.nth(n)
            name = box.get_attribute("name")
            if name is None:
                continue
            harm = PASSWORD if name == "password" else HARM
            if box.get_attribute("type") == "number":
                box.evaluate("one => one.type = 'text'")
            if not box.is_visible():
                box.evaluate(UNFOLD)
            box.fill(harm)
            self.typed.add(f"{action} {name}")
        return count


@pytest.fixture
def serving(tmp_path, monkeypatch):
    """A server where all log in, and a lead whose own name is the harm."""
    # The results that stand there were written by no version of ours.
    monkeypatch.setattr("fieldkit.flows.flow.raise_faults", False)
    app = make_app(tmp_path / "log.db", listens_beyond=True)
    log = app.extensions["joblog"]
    log.append(a_job(), NOW)
    from fieldkit.web.passwords import hash_password

    with app.app_context():
        people = access.people()
    people.add(Person("id-lead", HARM, "lead"), hash_password(PASSWORD))
    running = create_server(app, host="127.0.0.1", port=0, threads=4)

    def serve() -> None:
        with contextlib.suppress(OSError):
            running.run()

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    yield app, f"http://127.0.0.1:{running.effective_port}"
    running.close()
    thread.join(timeout=5)
    people.close()
    log.close()


@pytest.fixture
def typist(driver, serving):
    """Its browser obeys no content security policy, and tells of every script that runs."""
    chromium = driver.chromium.launch(**launch_options())
    context = chromium.new_context(bypass_csp=True, service_workers="block", accept_downloads=True)
    context.set_default_timeout(60_000)
    context.add_init_script("window.harmed = []; window.ran = () => harmed.push('ran')")
    yield Typist(context.new_page(), serving[1])
    chromium.close()


def harmed(value):
    """The same, with every text in it turned into harm."""
    if isinstance(value, dict):
        return {key: harmed(one) for key, one in value.items()}
    if isinstance(value, list):
        return [harmed(one) for one in value]
    return HARM if isinstance(value, str) else value


RUN = new_id(1_777_644_180_000, bytes(10))


def a_harmful_file() -> dict:
    """A job as another device may send it: every word in it is harm, one entry of no kind."""
    joint = {"job": "job-9", "joint": "joint-9"}
    run = {**joint, "flow": "measure-pipe", "run": RUN}
    told = {
        "verdict": HARM,
        "headline": HARM,
        "cautions": [HARM],
        "working": [
            {"name": HARM, "formula": HARM, "inputs": {HARM: HARM}, "value": HARM, "unit": HARM,
             "source": HARM, "status": HARM}
        ],
        "said": {HARM: {"template": HARM, "parts": {}}},
    }  # fmt: skip
    facts = {"pipe.nominal": HARM, "pipe.class": HARM, "tube.material": HARM, "leak.cause": HARM}
    made = [
        entry(60, "job", job="job-9", understood={"name": HARM, "place": HARM}),
        entry(61, "joint", **joint, understood={"name": HARM}),
        entry(62, "answer", **run, step="words", typed={"value": [HARM]}, understood=HARM),
        entry(63, "result", **run, understood={HARM: HARM}, result=told, facts=facts),
        entry(64, "note", **joint, note=HARM),
        entry(65, "strike", **joint, facts={"pipe.wall_in": None}, note=HARM),
        entry(66, "prices", job="", understood={"coupling_0500": 1.5, HARM: 2.5}),
        entry(67, "photo", **joint, understood={"digest": "a" * 64, "bytes": 9, "about": HARM}),
        entry(68, "pick", **run, understood=HARM, facts={}),
    ]
    bodies = [{**one.as_json(), "who": HARM, "device": HARM} for one in made]
    return {"format": exchange.FORMAT, "entries": [*bodies, {"id": HARM, "kind": HARM}]}


def picture() -> bytes:
    """A true picture."""
    out = io.BytesIO()
    Image.new("RGB", (8, 8), "brown").save(out, "PNG")
    return out.getvalue()


def one_step_of_each_kind() -> list[str]:
    """Where each kind of question is asked that has a box to type into."""
    found = {}
    for flow in flows().values():
        for step in flow.steps:
            found.setdefault(type(step.kind).__name__, f"/joint/joint-1/{flow.id}/{RUN}/{step.id}")
    return list(found.values())


def upload(page, box: str, name: str, kind: str, data: bytes) -> None:
    """Choose a file in a form and send it."""
    page.set_input_files(f'input[name="{box}"]', {"name": name, "mimeType": kind, "buffer": data})
    with page.expect_navigation():
        page.eval_on_selector(f'input[name="{box}"]', "one => one.form.requestSubmit()")


def test_script_in_every_text_field_stays_words(serving, typist, tmp_path):
    log_in(typist)
    # Every form, first of the pages at hand, then of each kind of question.
    for path in ("/jobs", "/job/job-1", "/joint/joint-1", "/joint/joint-1/photos", "/prices",
                 "/people", "/job/job-1/sign", "/me", *one_step_of_each_kind()):  # fmt: skip
        typist.type_into_all(path)
    send_files(typist)
    assert serving[0].extensions["joblog"].job("job-9").name == HARM
    invite(typist)
    ask_odd_addresses(typist)
    follow_every_link(typist)
    files_say_it_as_words(typist, tmp_path)
    fields = {line.split()[-1] for line in typist.typed}
    assert {"name", "place", "note", "q", "about", "value", "value-0"} <= fields, fields
    assert any(one.startswith("waive") for one in fields), fields
    assert typist.told > 25
    assert len(typist.seen) > 30


def log_in(typist) -> None:
    """A wrong try first, with a script as the place to go next; then by a name that is harm."""
    page = typist.page
    typist.open(f"/enter?next={quote(ADDRESS)}")
    page.fill('[name="name"]', HARM)
    page.fill('[name="password"]', HARM)
    page.locator("main button").first.click()
    typist.look()
    page.fill('[name="name"]', HARM)
    page.fill('[name="password"]', PASSWORD)
    with page.expect_navigation():
        page.locator("main button").first.click()
    typist.look()
    assert typist.kind(page.url) == "/"


def send_files(typist) -> None:
    """A photo whose name is harm, entries that are nothing but harm, a list of prices."""
    page = typist.page
    page.goto(typist.address + "/joint/joint-1/photos")
    page.fill('[name="about"]', HARM)
    upload(page, "photo", f"{HARM}.png".replace("/", ""), "image/png", picture())
    typist.look()
    sent = json.dumps(a_harmful_file()).encode()
    for on_purpose in (False, True):  # refused first, for it names no company
        page.goto(typist.address + "/jobs")
        if on_purpose:
            page.eval_on_selector('[name="elsewhere"]', "one => one.checked = true")
        upload(page, "file", "x.json", "application/json", sent)
        typist.look()
        assert "New entries" in page.inner_text("main")
    page.goto(typist.address + "/prices")
    table = f'part,price_usd,{quote(HARM)}\n"{HARM.replace(chr(34), chr(34) * 2)}",1\n'.encode()
    upload(page, "file", "x.csv", "text/csv", table)
    typist.look()


def invite(typist) -> None:
    """Somebody of that name, up to the page where the invitation is taken up."""
    page = typist.page
    page.goto(typist.address + "/people")
    page.fill('[name="name"]', HARM[:70])
    page.eval_on_selector('[name="role"][value="technician"]', "one => one.checked = true")
    with page.expect_navigation():
        page.eval_on_selector('[name="role"]', "one => one.form.requestSubmit()")
    typist.look()
    if not page.locator("#link").count():  # such a name is refused, and shown as words
        page.fill('[name="name"]', "Wren")
        page.eval_on_selector('[name="role"][value="technician"]', "one => one.checked = true")
        with page.expect_navigation():
            page.eval_on_selector('[name="role"]', "one => one.form.requestSubmit()")
        typist.look()
    typist.open(page.input_value("#link"))


def ask_odd_addresses(typist) -> None:
    """Harm in paths, in queries, and in the place to go back to."""
    page = typist.page
    harm = quote(HARM, safe="")
    for path in (f"/jobs?q={harm}", f"/job/{harm}", f"/joint/{harm}/photos", f"/tables/{harm}",
                 f"/static/{harm}", f"/{harm}?{harm}={harm}", f"/joint/joint-1/{harm}",
                 f"/joint/joint-1/measure-pipe/{RUN}/{harm}", f"/job/job-1/export.{harm}",
                 f"/join/{harm}", f"/enter?next={harm}", f"/api/{harm}"):  # fmt: skip
        typist.open(path)
    page.goto(typist.address + "/jobs")
    page.eval_on_selector('form[action$="/look"] [name="back"]', "(b, to) => b.value = to", ADDRESS)
    with page.expect_navigation():
        page.eval_on_selector(
            'form[action$="/look"]', "one => one.requestSubmit(one.querySelector('button'))"
        )
    typist.look()
    assert page.url == typist.address + "/"


def follow_every_link(typist) -> None:
    """All pages that show what was typed: each link to a kind of page not seen yet."""
    queue = ["/", "/jobs", "/job/job-9", "/joint/joint-9", "/job/job-1", "/joint/joint-1",
             "/job/job-9/record", "/job/job-9/labels", f"/joint/joint-9/measure-pipe/{RUN}/answer",
             "/refused", "/prices/history", "/joint/joint-9/photos", "/job/job-9/sign"]  # fmt: skip
    done = set()
    followed = set(typist.seen)
    while queue:
        path = queue.pop()
        if path in done or re.search(r"\.(pdf|csv|json|gz|html)$", urlsplit(path).path):
            continue
        done.add(path)
        typist.open(path)
        for link in typist.links():
            if typist.kind(link) not in followed:
                followed.add(typist.kind(link))
                queue.append(link)


def files_say_it_as_words(typist, tmp_path) -> None:
    """The record that needs nobody, opened from the disk; paper, tables and entries as files."""
    ask = typist.page.context.request
    for job in ("job-1", "job-9"):
        whole = ask.get(f"{typist.address}/job/{job}/record.html")
        assert whole.ok
        kept = tmp_path / f"{job}.html"
        kept.write_bytes(whole.body())
        typist.open(kept.as_uri())
        assert "x-harm" in typist.page.inner_text("body")
        paper = ask.get(f"{typist.address}/job/{job}/record.a4.pdf")
        assert paper.headers["content-type"] == "application/pdf"
        objects = re.sub(rb"stream\r?\n.*?endstream", b"", paper.body(), flags=re.DOTALL)
        for active in (b"/JavaScript", b"/JS", b"/AA", b"/Launch", b"/URI", b"/EmbeddedFile"):
            assert active not in objects
        for kind, told in (("csv", "text/csv"), ("json", "application/json")):
            file = ask.get(f"{typist.address}/job/{job}/export.{kind}")
            assert file.headers["content-type"].startswith(told)
            assert file.headers["content-disposition"].startswith("attachment")
            assert file.headers["x-content-type-options"] == "nosniff"
