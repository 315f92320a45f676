"""The server and three phones, entries through a real JavaScript engine: all sign, all agree."""

from __future__ import annotations

import json
import subprocess
from contextlib import closing

import pytest
from support.entries import NOW, START_MS, a_job, entry

from fieldkit.app import make_app
from fieldkit.joblog import Entry, JobLog, arrival, utc_text
from fieldkit.joblog.backup import Place, backup
from fieldkit.joblog.restore import restore
from fieldkit.joblog.signing import all_entries, check, seal
from fieldkit.phone import exchange, runtime
from fieldkit.phone.engine import Engine
from fieldkit.web import clock
from fieldkit.web.folders import shared_folder

LATER = utc_text(START_MS + 3_600_000)

#: What a browser writes in its own way: integral floats, exponents, minus zero; and long letters.
AWKWARD = [
    68.0,
    1e16,
    1e21,
    1e-7,
    0.00001,
    -0.0,
    5e-324,
    7.177877654825074e16,
    "\U0001f4a7 ½ \u2028",
]

READ = """
let given = "";
process.stdin.on("data", (part) => (given += part)).on("end", () => {
  process.stdout.write(JSON.stringify(JSON.parse(given)));
});
"""


def through_a_browser(body: str) -> str:
    """JSON as it comes out of a browser that reads it and writes it again."""
    done = subprocess.run(
        [*runtime.node(), "-e", READ], input=body.encode(), capture_output=True, check=True
    )
    return done.stdout.decode()


@pytest.fixture(autouse=True)
def _node():
    if runtime.node() is None:
        pytest.fail("node is needed: it comes with the client that fetches the runtime")


@pytest.fixture
def log():
    """A server's log, gone after the test."""
    with JobLog.memory() as found:
        yield found


class Phone:
    """A phone's store and engine, without a browser: texts by id, as store.js keeps them."""

    def __init__(self, folder, name: str, company: str) -> None:
        self.name, self.cursor, self.head = name, 0, 0
        self.texts: dict[str, str] = {}
        self.unsent: list[str] = []
        folder.mkdir()
        self.engine = Engine()
        self.engine.start(
            str(folder / "log.db"), "secret", "http://phone.example/", who=name, company=company
        )
        self.log: JobLog = self.engine._log

    def make(self, *entries: Entry) -> None:
        """Entries that are made on this phone."""
        self.log.append(entries, LATER)
        for text in self.engine._new():
            self.texts[json.loads(text)["id"]] = text
            self.unsent.append(text)

    def exchange(self, server: JobLog) -> None:
        """Send what is unsent as text, and read on."""
        page = json.loads(f'{{"entries":[{",".join(self.unsent)}]}}')
        said = exchange.take_in(server, page, LATER)
        assert said["refused"] == []
        self.unsent.clear()
        while True:
            answer = json.dumps(exchange.page_since(server, self.cursor, 4, seen=self.head))
            page = json.loads(through_a_browser(answer))
            new = [
                (text, at)
                for text, at in page["entries"]
                if json.loads(text)["id"] not in self.texts
            ]
            for text, _ in new:
                self.texts[json.loads(text)["id"]] = text
            self.engine.take_in([text for text, _ in new], [at for _, at in new])
            self.cursor, self.head = page["upto"], page["head"]["size"]
            if self.cursor >= page["last"]:
                return

    def sign(self, n: int) -> None:
        """The person of this phone signs what is here."""
        said = {"name": self.name, "complete": {}, "waived": []}
        made = entry(n, "signature", understood=said, result={"ready": 1.0}, who=self.name)
        self.make(seal(made, all_entries(self.log, "job-1")))

    def start_over(self) -> None:
        """What a phone does when another copy of the log answers."""
        self.cursor = 0
        self.unsent = list(self.texts.values())


def all_hold(*logs: JobLog) -> int:
    """Every seal on every copy holds; how many there are."""
    found = [check(all_entries(log, "job-1")) for log in logs]
    assert all(one.whole for seals in found for one in seals), found
    assert len({len(seals) for seals in found}) == 1
    return len(found[0])


def test_all_sign_and_all_agree_also_after_a_restore(tmp_path):
    place = Place(*(tmp_path / name for name in ("log.db", "people.db", "photos", "log.secret")))
    server = JobLog.open(place.log)
    server.append([*a_job(), entry(7, "answer", joint="joint-1", understood=AWKWARD)], NOW)
    phones = [Phone(tmp_path / name, name, server.company) for name in ("Ann", "Bo", "Cy")]
    for n, phone in enumerate(phones):
        phone.make(
            entry(
                20 + n,
                "result",
                joint="joint-1",
                understood={"a": AWKWARD},
                facts={"pipe.od_in": 2.0 + n},
            )
        )
        phone.exchange(server)
    for phone in phones:
        phone.exchange(server)
    for n, phone in enumerate(phones):  # without signal, at the same time
        phone.sign(30 + n)
    backup(server, place, tmp_path / "copy.zip", LATER)
    for phone in phones * 2:
        phone.exchange(server)
    said = {"name": "Di", "complete": {}, "waived": []}
    server.append(
        [seal(entry(40, "signature", understood=said), all_entries(server, "job-1"))], NOW
    )
    for phone in phones:
        phone.exchange(server)
    assert all_hold(server, *(phone.log for phone in phones)) == 4
    kept = {one.entry.id for one in server.since(0, 1000)}
    server.close()

    # The signatures are not in the copy that is put back: the phones bring them again.
    restore(tmp_path / "copy.zip", place, "before", replace=True)
    with JobLog.open(place.log) as again:
        assert again.count() < len(kept)
        for phone in phones:
            phone.start_over()
        for phone in phones * 2:
            phone.exchange(again)
        assert {one.entry.id for one in again.since(0, 1000)} == kept
        assert all_hold(again, *(phone.log for phone in phones)) == 4
        for phone in phones:
            for one in again.since(0, 1000):
                assert phone.log.entry(one.entry.id).entry == one.entry


def test_a_copy_that_an_older_program_rewrote_is_no_other_entry(log):
    """It comes back after a restore: what stands there says the same, in either order."""
    made = entry(1, "answer", understood=AWKWARD)
    rewritten = json.loads(through_a_browser(json.dumps(made.as_json())))
    assert json.dumps(rewritten["understood"]) != json.dumps(made.understood)
    for first, second in ((made.as_json(), rewritten), (rewritten, made.as_json())):
        with JobLog.memory() as one:
            assert exchange.take_in(one, {"entries": [first]}, LATER)["kept"] == [made.id]
            assert exchange.take_in(one, {"entries": [second]}, LATER)["kept"] == [made.id]
            assert one.count() == 1


def test_half_a_letter_is_refused_by_name_whichever_way_it_comes(log):
    body = entry(1).as_json()
    whole = json.dumps(body).replace('"note": ""', '"note": "\\ud83d"')
    for text in (whole, through_a_browser(whole)):
        ((_, problem),) = (
            (one["id"], one["problem"])
            for one in exchange.take_in(log, {"entries": [json.loads(text)]}, LATER)["refused"]
        )
        assert problem["wrong"] == "There is half a letter in note."
    assert log.count() == 0


def test_an_older_phone_still_gets_entries_as_values():
    client = make_app(None, testing=True).test_client()
    client.application.extensions["joblog"].append(a_job(), NOW)
    assert client.get("/phone/since?seq=0").get_json()["entries"][0]["kind"] == "job"
    text, received = client.get("/phone/since?seq=0&seen=0").get_json()["entries"][0]
    assert (json.loads(text)["kind"], received) == ("job", NOW)


# ── The witness ─────────────────────────────────────────────────────────────────────────────

ASK = """
import { follows } from "%s";
let given = "";
process.stdin.on("data", (part) => (given += part)).on("end", async () => {
  const said = [];
  for (const [seen, now] of JSON.parse(given)) said.push(await follows(seen, now));
  process.stdout.write(JSON.stringify(said));
});
"""


def witnessed(pairs: list) -> list[bool]:
    """What static/phone/witness.js says of each (head seen, head now)."""
    script = (shared_folder("static") / "phone" / "witness.js").as_uri()
    done = subprocess.run(
        [*runtime.node(), "--input-type=module", "-e", ASK % script],
        input=json.dumps(pairs).encode(), capture_output=True, check=True,
    )  # fmt: skip
    return json.loads(done.stdout)


def heads(log: JobLog, first: int, second: int) -> list:
    """A head that was seen, and a later one with the proof between them."""
    seen, now = log.head(first), log.head(second)
    with log.reading() as conn:
        proof = arrival.proof(conn, first, second)
    return [{"size": first, "root": seen.root}, {"size": second, "root": now.root, "proof": proof}]


def test_a_phone_is_told_of_a_log_that_only_grew_and_of_one_that_was_rewritten(log):
    log.append([entry(n) for n in range(600)], LATER)
    sizes = [1, 2, 3, 4, 5, 6, 7, 8, 63, 64, 65, 255, 256, 257, 300, 511, 512, 513, 600]
    grown = [heads(log, a, b) for a in sizes for b in sizes if a <= b]
    assert witnessed(grown) == [True] * len(grown)
    with JobLog.memory() as other:
        other.append([entry(n) for n in range(600)], LATER)  # others, made by chance
        for seen, _ in grown:
            seen["root"] = other.head(seen["size"]).root
        assert witnessed(grown) == [False] * len(grown)
    shorter = [{"size": 600, "root": log.head().root}, {**heads(log, 5, 9)[1], "proof": []}]
    assert witnessed([[None, heads(log, 5, 9)[1]], shorter]) == [True, False]


@pytest.mark.parametrize("size", [5, 64, 300])
def test_a_proof_that_was_tampered_with_leads_nowhere(log, size):
    log.append([entry(n) for n in range(600)], LATER)
    seen, now = heads(log, size, 600)
    torn = []
    for n in range(len(now["proof"])):
        changed = list(now["proof"])
        changed[n] = "00" * 32
        torn += [changed, now["proof"][:n], [*now["proof"], changed[n]]]
    pairs = [[seen, {**now, "proof": one}] for one in torn]
    assert witnessed(pairs) == [False] * len(pairs)


# ── Clocks ──────────────────────────────────────────────────────────────────────────────────


def test_a_phones_clock_is_set_right_by_the_servers(monkeypatch):
    engine = Engine()
    with closing(engine):
        engine.start(":memory:", "secret", "http://phone.example/")
        before = clock.now_ms()
        engine.server_said(3_600_000, 0, "")
        try:
            assert abs(before - 3_600_000 - clock.now_ms()) < 10_000
        finally:
            engine.server_said(0, 0, "")
