"""Three phones, a server and a bad line between them: whatever happens, nothing is lost or doubled.

The line drops, cuts short, doubles, replays, holds back, garbles and hangs what goes over it; the
phones' clocks are a day wrong; they are killed and their disks are full now and then; jobs are
signed meanwhile, and the server is put back from a backup of before. ``--chaos 400`` plays longer.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest
from support.entries import NOW, a_job

from fieldkit.app import make_app
from fieldkit.joblog import JobLog
from fieldkit.joblog.backup import Place, backup
from fieldkit.joblog.marks import is_told
from fieldkit.joblog.restore import restore
from fieldkit.joblog.signing import all_entries, check
from fieldkit.phone.engine import Engine
from fieldkit.web import clock

DAY_MS = 86_400_000
FORM = {"Content-Type": "application/x-www-form-urlencoded", "Accept": "text/html"}

#: How often the line does nothing to what goes over it.
CALM = 0.6
FAULTS = ("lost", "unanswered", "cut", "doubled", "replayed", "held", "garbled", "answer cut")


class Line:
    """A line to the server that treats what goes over it badly, by chance."""

    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.calm = False
        self.client = None
        self.sent: list[tuple[str, bytes]] = []
        self.held: list[tuple[str, bytes]] = []
        self.met: set[str] = set()

    def ask(self, path: str, body: bytes | None = None) -> dict:
        """What a request brings back.

        Raises
        ------
        OSError, ValueError
            Nothing came back, or nothing that can be read.
        """
        quiet = self.calm or self.chance.random() < CALM
        fault = "" if quiet else self.chance.choice(FAULTS)
        self.met.add(fault)
        if fault == "lost":
            raise OSError("it never arrived")
        if fault == "held" and body is not None:
            self.held.append((path, body))
            raise OSError("it arrives later, when nobody waits for it")
        if fault == "cut" and body:
            self.deliver(path, body[: self.chance.randrange(len(body))])
            raise OSError("it was cut short on its way")
        if fault == "replayed" and self.sent:
            self.deliver(*self.chance.choice(self.sent))
        if fault == "doubled":
            self.deliver(path, body)
        answer = self.deliver(path, body)
        if body is not None:
            self.sent.append((path, body))
        while self.held and self.chance.random() < CALM:
            self.deliver(*self.held.pop())
        if fault == "unanswered":
            raise OSError("the answer was lost, or so late that nobody waited")
        if fault == "answer cut":
            answer = answer[: self.chance.randrange(len(answer))]
        if fault == "garbled":
            answer = self.chance.randbytes(len(answer))
        return json.loads(answer)

    def deliver(self, path: str, body: bytes | None) -> bytes:
        """What the server makes of it; a fault of its own would be the end of the test."""
        answer = self.client.open(path, method="GET" if body is None else "POST", data=body)
        assert answer.status_code < 500, (path, answer.status_code)
        return answer.get_data()


class Phone:
    """A phone's store, by what ``store.js`` and ``exchange.js`` do, and the engine over it."""

    def __init__(self, folder: Path, name: str, off_ms: int) -> None:
        self.folder, self.name, self.off_ms = folder, name, off_ms
        self.ahead = self.cursor = self.starts = 0
        self.head: dict = {}
        self.log_known = ""
        self.texts: dict[str, tuple[str, str]] = {}  # on the disk: text, when it arrived
        self.unsent: dict[str, None] = {}
        self.acknowledged: set[str] = set()
        self.refused: list = []
        folder.mkdir()
        self.engine = Engine()
        self.start()

    def start(self) -> None:
        """A start after a kill: the copy is made anew from what is on the disk."""
        self.starts += 1
        self.awake()
        where = str(self.folder / f"{self.starts}.db")
        self.engine.start(where, "secret", "http://phone.example/", who=self.name, company="x")
        self.engine.take_in([one for one, _ in self.texts.values()],
                            [at for _, at in self.texts.values()])  # fmt: skip

    def awake(self) -> None:
        """Let it be this phone's clock that is looked at, set right as far as it knows."""
        NOW_ON.off_ms = self.off_ms
        clock.set_right(self.ahead)

    def press(self, path: str, said: str, *, full: bool = False) -> bool:
        """Send a form to the engine; it was saved only if the disk had room."""
        self.awake()
        page = self.engine.answer("GET", path, {}, b"").body.decode()
        entry = re.search(r'name="entry" value="([^"]+)"', page)
        seen = re.search(r'name="seen" value="(\d+)"', page)
        where = path if path.endswith("/sign") else f"{path}/notes"
        fields = f"entry={entry[1]}&{said}" + (f"&seen={seen[1]}" if seen else "")
        done = self.engine.answer("POST", where, FORM, fields.encode())
        if full:
            self.start()  # without what could not be kept
            return False
        for text in done.entries:
            name = json.loads(text)["id"]
            self.texts[name] = (text, "")
            self.unsent[name] = None
            self.acknowledged.add(name)
        return done.status in {200, 303} and bool(done.entries)

    def sign(self) -> bool:
        """Sign the job with a reason for what is missing."""
        self.awake()
        page = self.engine.answer("GET", "/job/job-1/sign", {}, b"").body.decode()
        gaps = re.findall(r'<input class="box__input box__input--text" id="([^"]+)"', page)
        reasons = "&".join(f"{name}=tomorrow" for name in gaps if name not in {"name", "note"})
        return self.press("/job/job-1/sign", f"{reasons}&name={self.name}")

    # ── What exchange.js does ───────────────────────────────────────────────────────────────

    def exchange(self, line: Line) -> bool:
        """One exchange; anything may break off anywhere."""
        try:
            about = line.ask("/phone/about.json")
            ahead = NOW_ON.ms + self.off_ms - about["now"]
            self.ahead = ahead if abs(ahead) > 60_000 else 0
            if self.log_known and self.log_known != about["log"]:
                self.start_over()
            self.log_known = about["log"]
            self.push(line)
            self.pull(line)
        except (OSError, ValueError, KeyError, TypeError):
            return False
        return True

    def push(self, line: Line) -> None:
        while page := list(self.unsent)[:7]:
            body = f'{{"entries":[{",".join(self.texts[one][0] for one in page)}]}}'
            said = line.ask(f"/phone/send?seen={self.head.get('size', 0)}", body.encode())
            grown, self.head = follows(self.head, said["head"]), said["head"]
            self.refused += said["refused"]
            settled = [*said["kept"], *(one["id"] for one in said["refused"])]
            for one in settled:
                self.unsent.pop(one, None)
            if not set(settled) & set(page):
                raise ValueError("the server said nothing of what was sent")
            if not grown:
                self.start_over()

    def pull(self, line: Line) -> None:
        while True:
            seen = self.head.get("size", 0)
            page = line.ask(f"/phone/since?seq={self.cursor}&seen={seen}")
            grown = follows(self.head, page["head"])
            self.head = page["head"]
            if not grown or page["last"] < self.cursor:
                self.start_over()
                self.push(line)
                continue
            new = [
                (one, at) for one, at in page["entries"] if json.loads(one)["id"] not in self.texts
            ]
            self.texts.update({json.loads(one)["id"]: (one, at) for one, at in new})
            self.awake()
            self.engine.take_in([one for one, _ in new], [at for _, at in new])
            self.cursor = page["upto"]
            if self.cursor >= page["last"]:
                return

    def start_over(self) -> None:
        self.cursor = 0
        self.unsent = dict.fromkeys(self.texts)


def follows(seen: dict, now: dict) -> bool:
    """Whether a head grew from the one before: RFC 9162, section 2.1.4.2."""
    if not seen.get("size"):
        return True
    if seen["size"] == now["size"]:
        return seen["root"] == now["root"]
    if seen["size"] > now["size"] or not now["proof"]:
        return False
    path = [bytes.fromhex(one) for one in now["proof"]]
    if seen["size"].bit_count() == 1:
        path.insert(0, bytes.fromhex(seen["root"]))
    first, second = seen["size"] - 1, now["size"] - 1
    while first % 2:
        first, second = first >> 1, second >> 1
    old = whole = path[0]
    for one in path[1:]:
        if second == 0:
            return False
        if first % 2 or first == second:
            old, whole = branch(one, old), branch(one, whole)
            while first and first % 2 == 0:
                first, second = first >> 1, second >> 1
        else:
            whole = branch(whole, one)
        first, second = first >> 1, second >> 1
    return second == 0 and old.hex() == seen["root"] and whole.hex() == now["root"]


def branch(left: bytes, right: bytes) -> bytes:
    return sha256(b"\1" + left + right).digest()


class Now:
    """The time that programs are told: it goes on by itself, and a phone's is off."""

    def __init__(self) -> None:
        self.ms, self.off_ms = 1_777_650_000_000, 0

    def time_ns(self) -> int:
        self.ms += 137
        return (self.ms + self.off_ms) * 1_000_000


NOW_ON = Now()


@pytest.fixture
def _clocks(monkeypatch):
    monkeypatch.setattr("fieldkit.web.clock.time", NOW_ON)
    yield
    clock.set_right(0)


class Server:
    """The server over its log, and the backup that it is put back from."""

    def __init__(self, folder: Path, line: Line) -> None:
        self.place = Place(folder / "log.db", folder / "people", folder / "photos", folder / "key")
        self.folder, self.line = folder, line
        with JobLog.open(self.place.log) as log:
            log.append(a_job(), NOW)
        self.open()

    def open(self) -> None:
        app = make_app(self.place.log, testing=True)
        app.config["WTF_CSRF_ENABLED"] = False
        self.log: JobLog = app.extensions["joblog"]
        kit = app.extensions["phone_kit"]
        kit.about = lambda: {"ready": True}  # nothing is fetched here
        client = app.test_client()
        self.line.client = client
        ask = client.open

        def in_its_own_time(*given, **how):
            kept, NOW_ON.off_ms = NOW_ON.off_ms, 0
            clock.set_right(0)
            try:
                return ask(*given, **how)
            finally:
                NOW_ON.off_ms = kept

        client.open = in_its_own_time

    def keep(self) -> None:
        backup(self.log, self.place, self.folder / "copy.zip", NOW)

    def put_back(self) -> None:
        self.log.close()
        restore(self.folder / "copy.zip", self.place, "before", replace=True)
        self.open()


def seals(log: JobLog) -> int:
    """Every seal on a copy holds; how many there are."""
    found = check(all_entries(log, "job-1"))
    assert all(one.whole for one in found), found
    return len(found)


def some_time(server: Server, phones: list[Phone], chance: random.Random, rounds: int) -> set[str]:
    """What people do and what befalls them; gives what was seen to happen."""
    seen: set[str] = set()
    back = rounds * 2 // 3

    def note(phone: Phone, n: int) -> None:
        full = chance.random() < 0.1
        seen.add("full disk" if full else "saved")
        saved = phone.press("/job/job-1", f"note={phone.name}+{n}", full=full)
        assert saved != full

    acts: list[Callable[[Phone, int], object]] = [
        note,
        note,
        lambda phone, _: phone.exchange(server.line),
        lambda phone, _: phone.exchange(server.line),
        lambda phone, _: (seen.add("killed"), phone.start()),
    ]
    for n in range(rounds):
        if n == rounds // 3:
            server.keep()
        if n == back:
            server.put_back()
        if n in {rounds // 4, rounds // 2, back + 2}:
            signing = chance.choice(phones)
            assert signing.sign()
            seen.add("signed")
        chance.choice(acts)(chance.choice(phones), n)
    return seen


@pytest.mark.usefixtures("_clocks")
@pytest.mark.parametrize("seed", [1, 12])
def test_a_bad_line_bad_clocks_kills_and_a_restore_lose_and_double_nothing(seed, tmp_path, request):
    chance = random.Random(seed)  # noqa: S311  -- what befalls, no secret
    line = Line(chance)
    server = Server(tmp_path, line)
    offs = {"Ann": DAY_MS, "Bo": -DAY_MS, "Cy": -DAY_MS - 3_600_000}
    phones = [Phone(tmp_path / name, name, off) for name, off in offs.items()]
    line.calm = True
    assert all(phone.exchange(line) for phone in phones)
    line.calm = False
    seen = some_time(server, phones, chance, request.config.getoption("chaos"))
    assert seen == {"saved", "full disk", "killed", "signed"}
    line.calm = True
    for _ in range(3):
        for phone in phones:
            assert phone.exchange(line)
    assert line.met == {"", *FAULTS}

    # The union of all, each once, the same everywhere; and every seal holds everywhere.
    for phone in phones:
        assert phone.refused == []
        phone.start()
    there = [one.entry for one in server.log.since(0, 100_000)]
    ids = [one.id for one in there]
    assert len(ids) == len(set(ids))
    assert set(ids) == set().union(*(one.acknowledged for one in phones)) | {
        one.id for one in there if one.job == "" or one.at < "2026-05-01T14:05"
    }
    for phone in phones:
        own = {name for name, (text, _) in phone.texts.items() if not is_told(json.loads(text))}
        assert own == set(ids)
        for one in there:
            assert phone.engine._log.entry(one.id).entry == one
    assert len({seals(log) for log in (server.log, *(one.engine._log for one in phones))}) == 1
    assert seals(server.log) == 3
    server.log.close()
    for phone in phones:
        with closing(phone.engine):
            pass
