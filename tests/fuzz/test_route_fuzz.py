"""Every other route under junk: forms, files, addresses, headers, entries of other devices."""

from __future__ import annotations

import copy
import gc
import io
import json
from random import Random
from urllib.parse import quote

import html5lib
import pytest
from fuzz import junk
from fuzz.spoiling import spoil
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from PIL import Image
from support.entries import a_job
from support.inspection import HTML
from support.walks import some_answer

from fieldkit.flows.catalogue import flows
from fieldkit.joblog import exchange, new_id

ID = new_id(1_777_644_180_000, bytes(10))

#: What stands in an address → what is really there. Anything may stand in it instead.
REAL = {
    "job": ["job-1"],
    "joint": ["joint-1"],
    "flow": list(flows()),
    "run": [ID],
    "step": sorted({step.id for flow in flows().values() for step in flow.steps}),
    "name": ["identify", "app"],
    "kind": ["json", "csv"],
    "paper": ["a4", "letter"],
    "weight": ["regular", "bold"],
    "sheet_id": ["pipes", "fittings", "sources"],
    "person": ["id-lead"],
    "token": ["x"],
    "photo": ["a" * 64],
    "digest": ["a" * 64],
    "filename": ["page.css", "phone/sw.js"],
    "size": ["192"],
    "language": ["es"],
    "key": ["a" * 32],
    "entries": ["0", "1", "257"],
}

#: Where a page has forms, or would have them.
PAGES = ("/", "/jobs", "/job/job-1", "/joint/joint-1", "/joint/joint-1/photos", "/prices",
         "/people", "/me", "/enter", "/job/job-1/sign", "/joint/joint-1/popped-off")  # fmt: skip

HEADERS = ("Accept", "Accept-Language", "Cookie", "Host", "If-None-Match", "If-Modified-Since",
           "Origin", "Range", "Referer", "User-Agent", "X-Forwarded-For", "X-CSRFToken",
           "Content-Length", "Content-Encoding", "Transfer-Encoding", "Authorization")  # fmt: skip


def png() -> bytes:
    """A small true picture."""
    out = io.BytesIO()
    Image.new("RGB", (8, 8), "brown").save(out, "PNG")
    return out.getvalue()


PICTURE = png()


@pytest.fixture(scope="module")
def client(app):
    """Without tokens, so that the junk gets past them; tests elsewhere hold the tokens."""
    app.config["WTF_CSRF_ENABLED"] = False
    return app.test_client()


def check(faults, response, sent) -> None:
    """No fault of ours, the headers as always, and no way to another site."""
    assert response.status_code < 500, (sent, faults)
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    if not response.mimetype.startswith(("text/css", "font/")):
        assert response.headers["Content-Security-Policy"].startswith("default-src 'none'")
    where = response.headers.get("Location", "/")
    assert where.startswith(("/", "http://localhost/")), (sent, where)
    assert not where.startswith("//"), (sent, where)
    response.close()


def names_of_forms(client) -> list[str]:
    """The names of all boxes and buttons on the pages."""
    names = set()
    for path in PAGES:
        page = html5lib.parse(client.get(path, follow_redirects=True).get_data(as_text=True))
        inputs = {HTML + kind for kind in ("input", "textarea", "button", "select")}
        names |= {one.get("name") for one in page.iter() if one.tag in inputs}
    return sorted(names - {None})


#: A value of a form, as UTF-8 or not.
_BYTES = st.one_of(
    junk.text.map(lambda text: text.encode("utf-8", "surrogatepass")), st.binary(max_size=20)
)


@st.composite
def forms(draw, names):
    """A form, some of its boxes real ones, sent in one of the two ways, right or broken."""
    keys = draw(st.lists(st.one_of(st.sampled_from(names), junk.text), max_size=6))
    kind = draw(st.sampled_from(["urlencoded", "multipart", "raw"]))
    if kind == "raw":
        return {"data": draw(junk.bodies), "content_type": draw(junk.content_types)}
    if kind == "urlencoded":
        pairs = [
            quote(key.encode("utf-8", "surrogatepass")) + "=" + quote(draw(_BYTES)) for key in keys
        ]
        return {"data": "&".join(pairs), "content_type": "application/x-www-form-urlencoded"}
    parts = []
    for key in [*keys, *draw(st.lists(st.sampled_from(["file", "photo"]), max_size=1))]:
        named = key.encode("utf-8", "surrogatepass").replace(b"\r\n", b" ")
        head = b'Content-Disposition: form-data; name="' + named + b'"'
        if key in {"file", "photo"}:
            head += (
                b'; filename="'
                + draw(st.sampled_from([b"x.json", b"../../x", b"", b"\xff"]))
                + b'"'
            )
            body = draw(st.one_of(junk.bodies, st.just(PICTURE), st.just(PICTURE[:60])))
        else:
            body = draw(_BYTES)
        parts.append(b"--cut\r\n" + head + b"\r\n\r\n" + body + b"\r\n")
    end = draw(st.sampled_from([b"--cut--\r\n", b"--cut", b""]))
    return {"data": b"".join(parts) + end, "content_type": "multipart/form-data; boundary=cut"}


@st.composite
def paths(draw, rule):
    """The address of a route, with what is there or with junk."""
    path = ""
    for dynamic, piece in rule._trace:
        if not dynamic:
            path += piece.removeprefix("|")
            continue
        real = st.sampled_from(REAL[piece])
        said = draw(st.one_of(real, real, real, junk.text))
        path += quote(said.encode("utf-8", "surrogatepass"), safe="")
    keys = draw(st.lists(st.sampled_from(["q", "seq", "next", "back", "paper", "x"]), max_size=2))
    query = "&".join(f"{key}={quote(draw(_BYTES))}" for key in keys)
    return (path or "/") + (f"?{query}" if query else "")


_LATIN = st.text(st.characters(min_codepoint=32, max_codepoint=255), max_size=30)
headers = st.lists(
    st.tuples(
        st.sampled_from(HEADERS),
        st.one_of(_LATIN, st.sampled_from(["bytes=0-", "bytes=9-1", "*", "0", "-1", "chunked",
                                           "gzip", "fieldkit=x; sun=on", "evil.example:99:1"])),
    ),
    max_size=2,
)  # fmt: skip


# Of a form that breaks off, werkzeug leaves the file's buffer to the garbage collector.
@pytest.mark.filterwarnings("ignore:Exception ignored in.*SpooledTemporaryFile")
def test_any_route_with_anything(app, client, faults, share):
    rules = [rule for rule in app.url_map.iter_rules() if rule.endpoint not in {"api.answer"}]
    assert {name for rule in rules for name in rule.arguments} <= set(REAL)
    names = names_of_forms(client)
    assert {"name", "note", "csrf_token", "entry"} <= set(names)

    @settings(max_examples=share(0.16), database=None, phases=[Phase.generate])
    @given(st.data())
    def play(data):
        rule = data.draw(st.sampled_from(rules))
        path = data.draw(paths(rule))
        usual = st.sampled_from(sorted(rule.methods - {"OPTIONS", "HEAD"}))
        method = data.draw(st.one_of(usual, usual, usual, junk.methods))
        sent = data.draw(forms(names)) if method not in {"GET", "HEAD"} else {}
        more = data.draw(headers)
        response = client.open(path, method=method, headers=more, **sent)
        check(faults, response, (method, path, more, sent))

    play()
    gc.collect()


@pytest.mark.parametrize("flow_id", list(flows()))
def test_each_flow_with_junk_on_the_way(client, faults, share, flow_id):
    """Now and then a good answer, so that the later questions get their junk, too."""
    each = share(0.08 / len(flows()))

    # All is drawn beforehand: what a page asks depends on what the joint has learned meanwhile.
    @settings(max_examples=max(2, each // 12), database=None, phases=[Phase.generate])
    @given(st.integers(0, 2**32), st.lists(junk.text, min_size=24, max_size=24))
    def play(seed, words):
        chance = Random(seed)  # noqa: S311  -- a repeatable walk, not a secret
        response = client.get(f"/joint/joint-1/{flow_id}", follow_redirects=True)
        for _ in range(12):
            check(faults, response, flow_id)
            path = response.request.path
            step = flows()[flow_id].step(path.rsplit("/", 1)[1])
            if path.endswith("/answer") or step is None:
                break
            good = some_answer(step, chance)
            for key in chance.sample(sorted(good), chance.randint(0, min(2, len(good)))):
                good[key] = words.pop().encode("utf-8", "replace").decode()
            response = client.post(path, data=good, follow_redirects=True)
            check(faults, response, (path, good))

    play()


@pytest.fixture(scope="module")
def entries(app):
    """A small job as one file of this company holds it, its entries not known to the log."""
    company = app.extensions["joblog"].company
    return json.loads("".join(exchange.json_lines(a_job(), company)))


def test_files_and_phones_with_entries_gone_wrong(client, entries, faults, share):
    @settings(max_examples=share(0.08), database=None, phases=[Phase.generate])
    @given(st.data())
    def play(data):
        body = copy.deepcopy(entries)
        for _ in range(data.draw(st.integers(1, 3))):
            spoil(body, data)
        sent = junk.as_sent(body)
        if data.draw(st.booleans()):
            upload = {"file": (io.BytesIO(sent), "job.json")}
            response = client.post("/jobs/import", data=upload)
        else:
            response = client.post("/phone/send", data=sent, content_type="application/json")
        check(faults, response, sent)

    play()
    for path in ("/", "/jobs", "/job/job-1", "/job/job-1/record", "/refused", "/prices/history"):
        check(faults, client.get(path), path)
