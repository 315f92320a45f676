"""Debian's Caddy and nginx in front, with the very files that ``fieldkit setup`` writes.

Both run on loopback over the server of the systemd unit, started by the unit's own command. Changed
are ports, the folder of the log, and nginx's certificate, which is the one that Caddy made (``--tls
internal``). Not tried: a certificate from a public authority, and systemd itself, whose checker
reads the units in ``tests/cli/test_setup.py``.
"""

from __future__ import annotations

import contextlib
import gzip
import hashlib
import http.client
import io
import json
import os
import re
import shlex
import socket
import ssl
import subprocess
import time
from itertools import count
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from click.testing import CliRunner
from PIL import Image
from support.debian import program
from support.entries import entry
from support.many_clients import Client, fresh_id
from support.phone_server import free_port

from fieldkit.cli.main import main
from fieldkit.joblog import utc_text

NAME = "crew.example.net"
URL = f"https://{NAME}"
LEAD, PASSWORD = "Ann Lee", "violet gravel anchor teapot"
FRONTS = ("caddy", "nginx")

#: How long a head, or a pause in a body, may take by the files, and how late that is noticed. [s]
PATIENCE_S, NOTICED_S = 15, 12

#: What a slow connection sends before it waits: nothing, half a head, a head with half a body. With
#: Caddy a slow body is ours to end (``web/security/test_slow_connections.py``): Caddy frees our
#: place with that, and keeps its own side for ten minutes.
HEADS = (b"", b"GET / HTTP/1.1\r\nHos")
BODY = f"POST /enter HTTP/1.1\r\nHost: {NAME}\r\nContent-Length: 900\r\n\r\nname=".encode()
HALVES = {"caddy": HEADS, "nginx": (*HEADS, BODY)}

#: Everyone comes from an address of their own, as on a real network.
addresses = (f"127.0.0.{n}" for n in count(10))


class Visitor(Client):
    """A browser at one of the fronts, from an address, that checks the certificate of the name."""

    def __init__(self, stand: Stand, front: str, address: str = "", **forged: str) -> None:
        self.cookies, self.token = {}, ""
        self.stand, self.front, self.forged = stand, front, forged
        self.address = address or next(addresses)
        self.conn = http.client.HTTPConnection("127.0.0.1", timeout=60)
        self.conn.sock = stand.knock(front, self.address)
        self.conn.auto_open = 0

    def send(self, method: str, path: str, body: bytes | None = None, **headers: str):
        """A request at the name that the certificate is for."""
        return super().send(method, path, body, **{"Host": NAME, **self.forged, **headers})


def _form(fields: dict[str, str], photo: bytes) -> tuple[bytes, str]:
    """A form as a browser sends it with a photo."""
    line, parts = "----a-line-between", []
    for name, value in fields.items():
        parts.append(
            f'--{line}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
        )
    parts.append(
        f'--{line}\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n'
    )
    body = "".join(parts).encode() + photo + f"\r\n--{line}--\r\n".encode()
    return body, f"multipart/form-data; boundary={line}"


class Stand:
    """The server and both fronts, and what is slow at their doors since they stand."""

    def __init__(self, folder: Path, caddy: str, nginx: str) -> None:
        self.folder = folder
        self.opened = contextlib.ExitStack()
        self.port = free_port()
        self.doors = {front: (free_port(), free_port()) for front in FRONTS}  # http, https
        said = _run("setup", NAME, "--tls", "internal", "--port", str(self.port), "--out", folder)
        self.db = folder / "var" / "fieldkit.db"
        self.db.parent.mkdir()
        self.processes = [self._server(), self._caddy(caddy)]
        self.trust = self._certificates()
        self.processes.append(self._nginx(nginx, said))
        for door in (*self.doors["nginx"], self.port):
            _until(lambda door=door: _open(door), f"port {door}")
        self.slow = {
            front: [self._slow(front, half) for half in HALVES[front] for _ in range(6)]
            for front in FRONTS
        }
        self.slow_since = time.monotonic()

    def _start(self, name: str, command: list[str], **env: str) -> subprocess.Popen:
        with (self.folder / f"{name}.said").open("w") as said:
            return subprocess.Popen(command, stdout=said, stderr=said, env={**os.environ, **env})

    def _server(self) -> subprocess.Popen:
        unit = (self.folder / "fieldkit.service").read_text()
        command = re.search(r"^ExecStart=(.*)$", unit, re.MULTILINE)[1]
        return self._start("server", shlex.split(self.here(command)))

    def here(self, command: str) -> str:
        """A command of a unit, with its log where this test has it."""
        return command.replace("/var/lib/fieldkit", str(self.db.parent))

    def _caddy(self, caddy: str) -> subprocess.Popen:
        file, (plain, secure) = self.folder / "Caddyfile", self.doors["caddy"]
        mine = f"\thttp_port {plain}\n\thttps_port {secure}\n\tadmin off\n\tskip_install_trust\n"
        file.write_text(file.read_text().replace("{\n", "{\n" + mine, 1))
        home = str(self.folder / "home")
        return self._start("caddy", [caddy, "run", "--config", file], HOME=home,
                           XDG_DATA_HOME=home, XDG_CONFIG_HOME=home)  # fmt: skip

    def _certificates(self) -> ssl.SSLContext:
        """What Caddy made: its authority, which a phone would be told to trust."""
        made = self.folder / "home" / "caddy"
        self.certificate = made / "certificates" / "local" / NAME / NAME
        root = made / "pki" / "authorities" / "local" / "root.crt"
        _until(lambda: self.certificate.with_name(f"{NAME}.key").exists(), "a certificate")
        return ssl.create_default_context(cafile=root)

    def _nginx(self, nginx: str, said: str) -> subprocess.Popen:
        site = said[said.index("limit_conn_zone") : said.rindex("}") + 1]
        plain, secure = self.doors["nginx"]
        site = site.replace("listen 80;", f"listen {plain};").replace(
            "listen 443", f"listen {secure}"
        )
        for kind, ending in (("pem", "crt"), ("key", "key")):
            theirs = self.certificate.with_name(f"{NAME}.{ending}")
            site = site.replace(f"/etc/ssl/{NAME}.{kind};", f"{theirs};")
        kept = "".join(
            f"{what}_temp_path {self.folder}/{what};"
            for what in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        )
        user = "user root;" if os.geteuid() == 0 else ""
        conf = self.folder / "nginx.conf"
        conf.write_text(f"{user} daemon off; pid {self.folder}/pid; events {{}}\n"
                        f"http {{ access_log off; {kept}\n{site}\n}}")  # fmt: skip
        return self._start(
            "nginx", [nginx, "-e", "stderr", "-p", str(self.folder), "-c", str(conf)]
        )

    def knock(self, front: str, address: str) -> ssl.SSLSocket:
        """A connection to a front by its name, as a phone makes it."""
        door = ("127.0.0.1", self.doors[front][1])
        plain = socket.create_connection(door, timeout=60, source_address=(address, 0))
        return self.opened.enter_context(self.trust.wrap_socket(plain, server_hostname=NAME))

    def _slow(self, front: str, half: bytes) -> ssl.SSLSocket:
        """A connection that sends half of a request, or nothing, and then waits."""
        one = self.knock(front, "127.0.0.3")
        one.send(half) if half else None
        return one

    def end(self) -> None:
        """Stop all three."""
        self.opened.close()
        for one in self.processes:
            one.terminate()
        for one in self.processes:
            one.wait(timeout=20)


def _run(*words: object, given: str = "") -> str:
    done = CliRunner().invoke(main, list(map(str, words)), input=given, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def _until(ask, what: str, seconds: float = 30) -> None:
    end = time.monotonic() + seconds
    while not ask():
        assert time.monotonic() < end, f"{what} did not come"
        time.sleep(0.05)


def _open(port: int) -> bool:
    with socket.socket() as knock:
        return knock.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture(scope="module")
def stand(tmp_path_factory, phone_runtime):
    """The server that stands, with a first lead."""
    standing = Stand(tmp_path_factory.mktemp("stand"), program("caddy"), program("nginx"))
    with contextlib.ExitStack() as ending:
        ending.callback(standing.end)
        _run("people", "add-lead", LEAD, "--db", standing.db, given=f"{PASSWORD}\n{PASSWORD}\n")
        yield standing


@pytest.fixture(params=FRONTS)
def front(request) -> str:
    return request.param


@pytest.fixture
def lead(stand, front):
    """The lead, logged in from an address of their own."""
    one = Visitor(stand, front)
    one.ask("/enter")
    status, where = one.ask("/enter", {"name": LEAD, "password": PASSWORD})
    assert (status, where) == (303, "/")
    return one


def test_plain_http_leads_to_https(stand, front):
    conn = http.client.HTTPConnection("127.0.0.1", stand.doors[front][0], timeout=20)
    conn.request("GET", "/jobs?q=1", headers={"Host": NAME})
    answer = conn.getresponse()
    assert answer.status in {301, 308}
    assert urlsplit(answer.getheader("Location"))[:1] == ("https",)
    assert urlsplit(answer.getheader("Location")).hostname == NAME
    conn.close()


def test_a_crew_gets_to_work(stand, front, lead):
    """Login, invitation, a photo of 5 MB, the kit, the exchange: each through the front."""
    assert list(lead.cookies) == ["__Host-fieldkit"]
    # An invitation is at the address of the world, from a page and from the command line.
    lead.ask("/people")
    _, page = lead.ask("/people/invite", {"name": f"Bo at {front}", "role": "technician"})
    link = re.search(r'readonly value="([^"]+)"', page)[1]
    assert link.startswith(f"{URL}/join/")
    assert _run("people", "invite", f"Cy at {front}", "--db", stand.db).startswith(f"{URL}/join/")
    bo = Visitor(stand, front)
    bo.ask(link.removeprefix(URL))
    fields = {"name": f"Bo at {front}", "password": PASSWORD}
    assert bo.ask(link.removeprefix(URL), fields)[0] == 303
    # A photo as a phone's camera makes it.
    bo.ask("/jobs")
    job = bo.opened("/jobs", name=f"North bed at {front}")
    joint = bo.opened(f"/job/{job}/joints", name="Box 3")
    bo.ask(f"/joint/{joint}/photos")
    fields = {"csrf_token": bo.token, "entry": fresh_id()}
    body, kind = _form(fields, _photo_of_5_mb())
    status, _, said = bo.send("POST", f"/joint/{joint}/photos", body, **{"Content-Type": kind})
    assert status == 303, said[-500:]
    assert re.search(
        rf"/joint/{joint}/photos/[0-9a-f]{{64}}\.jpg", bo.ask(f"/joint/{joint}/photos")[1]
    )
    # The kit: each part, unpacked, is what the list says.
    _until(lambda: json.loads(bo.ask("/phone/about.json")[1])["ready"], "the kit")
    about = json.loads(bo.ask("/phone/about.json")[1])
    fetched = 0
    for part in about["parts"]:
        status, _, packed = bo.send("GET", f"/{part['place']}.gz")
        assert (status, len(packed)) == (200, part["size"])
        assert hashlib.sha256(gzip.decompress(packed)).hexdigest() == part["sha256"]
        fetched += len(packed)
    assert fetched > 5_000_000
    # The exchange.
    token = json.loads(bo.ask("/phone/token")[1])["token"]
    made = entry(0, id=fresh_id(), at=utc_text(time.time_ns() // 1_000_000), job=job, joint=joint,
                 note="Dug out.", who=f"Bo at {front}")  # fmt: skip
    page = json.dumps({"entries": [made.as_json()], "company": about["company"]}).encode()
    headers = {"Content-Type": "application/json", "X-CSRFToken": token}
    status, _, said = bo.send("POST", "/phone/send", page, **headers)
    assert (status, json.loads(said)["kept"]) == (200, [made.id])
    assert made.id in bo.ask("/phone/since?seq=0&seen=0")[1]


def _photo_of_5_mb() -> bytes:
    """Noise, which packs badly."""
    out = io.BytesIO()
    Image.effect_noise((3000, 2200), 60).convert("RGB").save(out, "JPEG", quality=92)
    assert 5_000_000 < out.tell() < 15_000_000, out.tell()
    return out.getvalue()


def test_wrong_tries_count_by_the_address_behind_the_front(stand, front):
    """A stranger who forges addresses waits; who sits elsewhere is let in."""
    told = "203.0.113."
    stranger = next(addresses)
    statuses = []
    for n in range(14):
        forged = {"X-Forwarded-For": f"{told}{n}", "X-Real-IP": f"{told}{n}",
                  "Forwarded": f"for={told}{n}"}  # fmt: skip
        one = Visitor(stand, front, stranger, **forged)
        one.ask("/enter")
        statuses.append(one.ask("/enter", {"name": f"nobody {n}", "password": "wrong"})[0])
    assert statuses[0] == 422
    assert 429 in statuses, "forged addresses were believed"
    other = Visitor(stand, front)
    other.ask("/enter")
    assert other.ask("/enter", {"name": LEAD, "password": PASSWORD})[0] == 303
    log = _run("people", "log", "--db", stand.db)
    assert f"({stranger})" in log
    assert told not in log


def test_nobody_but_the_front_may_say_who_asks(stand):
    """Straight at the server, past the front: what it is told of an address is not believed."""
    conn = http.client.HTTPConnection("127.0.0.1", stand.port, source_address=("127.0.0.5", 0))
    sent = {"Host": NAME, "Content-Type": "application/x-www-form-urlencoded",
            "X-Forwarded-For": "203.0.113.99"}  # fmt: skip
    conn.request("POST", "/enter", b"name=nobody&password=wrong", sent)
    assert conn.getresponse().status == 400  # no token: it is noted as refused, or not at all
    conn.close()
    assert "203.0.113.99" not in _run("people", "log", "--db", stand.db)


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", f"{NAME}.evil.example"])
def test_an_unknown_host_is_refused_in_a_sentence(stand, host):
    straight = http.client.HTTPConnection("127.0.0.1", stand.port, timeout=20)
    straight.request("GET", "/enter", headers={"Host": host})
    answer = straight.getresponse()
    assert answer.status == 421
    assert "does not answer to that name" in answer.read().decode()
    straight.close()
    for front, refused in (("nginx", 421), ("caddy", 200)):
        status, _, data = Visitor(stand, front).send("GET", "/enter", Host=host)
        assert status == refused
        if front == "caddy":  # it has no such site, and answers nothing at all
            assert data == b""
        else:
            assert "does not answer to that name" in data.decode()


def test_what_is_done_each_night_is_done_while_it_serves(stand):
    """By the very commands of the unit; then the lead's page says so."""
    unit = (stand.folder / "fieldkit-nightly.service").read_text()
    (stand.db.parent / "backups").mkdir()
    commands = re.findall(r"^ExecStart=(.*)$", unit, re.MULTILINE)
    assert [shlex.split(one)[1] for one in commands] == ["backup", "verify", "drill"]
    for one in commands:
        _run(*shlex.split(stand.here(one))[1:])
    lead = Visitor(stand, "caddy")
    lead.ask("/enter")
    assert lead.ask("/enter", {"name": LEAD, "password": PASSWORD})[0] == 303
    kept = lead.ask("/backup")[1].split('id="upkeep"')[1]
    assert kept.count(">Done</span>") == 3


def test_slow_connections_are_closed_and_kept_nobody_waiting(stand):
    """Opened before all of this; now, or soon, each is closed by its front."""
    end = stand.slow_since + PATIENCE_S + NOTICED_S
    for front, slow in stand.slow.items():
        for one in slow:
            one.settimeout(max(0.1, end - time.monotonic()))
            with contextlib.suppress(ConnectionError, ssl.SSLError):
                left = one.recv(1000)
                assert left == b"" or re.match(rb"HTTP/1.1 (400|408|50[24]) ", left), (front, left)
            one.close()
