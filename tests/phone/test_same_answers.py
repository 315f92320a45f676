"""The server and the phone's own Python answer the same, page by page and figure by figure.

Every flow of every demo job is played on the server while what was asked and answered is noted;
then the pack, run by the phone's runtime without a browser, is asked the same at the same times.

What is meant to differ, and nothing else:

- the token and the entry id that a page carries in its form, which come from chance;
- the version in a static file's address, which a phone needs not: it fetched them all at once;
- the way to the labels, whose codes a phone cannot draw;
- the last digits of a float in JSON, where two C libraries round a power or a tangent otherwise.
"""

from __future__ import annotations

import itertools
import json
import re
import time
from itertools import zip_longest
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from support import phone_python
from support.make_demo import scenarios
from support.scenario import Player

from fieldkit.app import make_app
from fieldkit.flows.calculations import CALCULATIONS
from fieldkit.flows.reference import SHEETS
from fieldkit.joblog.entry import json_text

MEANT = re.compile(
    r'(name="(?:csrf_token|entry)" value=")[^"]*'
    r'|(/static/[^"?]+)\?v=\w+'
    r'|<li><a class="row" href="/job/[^"/]+/labels">.*?</li>'
    r'|<p class="onward"><a href="/backup">.*?</p>'
    r'|(/joint/[^/"]+/[^/"]+/)[\da-f]{8}-[\da-f-]{27}(?=/)'  # a run that was begun just now
    r'|("+on"+:"+)(?:server|phone)(?=")'  # whose log was counted
    r'|(<p class="signal" id="signal"[^>]*?)(?: hidden)?(?=></p>)'  # a phone's line has its place
)

#: Two C libraries may differ by this much in a float.
REL = 1e-12

PAGES = (
    *("/", "/jobs", "/jobs?q=box", "/tables", "/sources", "/prices", "/prices/list.csv"),
    *(f"/tables/{one}" for one in SHEETS),
    *("/phone", "/phone/shell", "/phone/diagnose", "/phone/last", "/manifest.webmanifest"),
    *("/nothing", "/joint/none", "/job/none", "/api/", "/api/none"),
)

#: Pages that are asked for in Spanish too.
SPANISH = ("/", "/jobs", "/paper", "/tables/weld-times", "/phone")

#: Requests of each calculation: every combination of the values that are listed.
GRID: dict[str, dict[str, list[Any]]] = {
    "measure": {
        "readings": [["0.840 in", "0.842 in", "0.838 in"], ["17.7 mm", "17.8 mm"], ["0.5 in"]],
        "method": ["caliper", "strip", "screen"],
        "material": ["pvc", "pe"],
        "temperature": ["40 F", "73 F", "30 C"],
    },
    "identify": {
        "od": ["0.840 in", "17.8 mm", "0.700 in", "1.31 in"],
        "u_od": ["0.002 in", "0.02 in"],
        "rigid": [True, False],
    },
    "transition": {
        "pvc": [{"nominal": "1/2", "class": "40"}, {"nominal": "3/4", "class": "200"}],
        "tubing": [{"od": "0.700 in", "bore": "0.600 in"}, {"od": "0.940 in", "bore": "0.820 in"}],
        "place": ["end", "inline", "riser"],
        "pressure": ["25 psi", "2 bar"],
        "prices": ["demo"],
    },
    "join": {
        "pipe": [{"nominal": "1/2", "class": "40"}, {"nominal": "2", "class": "80"}],
        "temperature": ["45 F", "73 F", "95 F"],
        "humidity": ["40 %", "80 %"],
        "pressure": ["60 psi", "200 psi"],
    },
    "thread": {
        "size": ["1/2", "3/4", "1"],
        "male": ["pvc", "brass"],
        "female": ["pvc"],
        "turns_past_hand_tight": [0.5, 1.5, 3],
    },
    "plan_test": {
        "parts": [[{"kind": "pipe", "nominal": "3/4", "class": "40", "height": "2 ft"}]],
        "working_pressure": ["25 psi", "60 psi"],
        "temperature": ["60 F", "100 F"],
    },
    "judge_test": {
        "line": [[{"material": "pvc", "nominal": "3/4", "class": "40", "length": "100 ft"}]],
        "restraint": ["buried", "free"],
        "start": [{"pressure": "60 psi", "water_temperature": "60 F"}],
        "end": [
            {"pressure": "60 psi", "water_temperature": "60 F"},
            {"pressure": "52 psi", "water_temperature": "63 F"},
        ],
        "minutes": [60, 120],
        "gauge_division": ["1 psi"],
        "visible_leak": [False],
    },
    "friction": {
        "bore": ["0.82 in", "20 mm"],
        "flow": ["2 gpm", "8 gpm"],
        "length": ["100 ft"],
        "method": ["hazen_williams", "darcy"],
        "temperature": ["50 F", "80 F"],
    },
    "lateral": {
        "bore": ["0.52 in", "0.62 in"],
        "outlet_flow": ["0.5 gph", "1 gph"],
        "spacing": ["12 in", "18 in"],
        "inlet_pressure": ["20 psi"],
        "exponent": [0.5],
        "slope": [0, 0.02],
    },
    "surge": {
        "pipe": [
            {"material": "pvc", "od": "1.05 in", "wall": "0.113 in"},
            {"material": "pe", "od": "0.70 in", "wall": "0.05 in"},
        ],
        "velocity_change": ["3 ft/s", "5 ft/s"],
        "static_pressure": ["40 psi"],
        "length": ["100 ft", "600 ft"],
        "closure_seconds": [0.1, 3],
    },
    "hold": {
        "joint": ["barb", "ring"],
        "static_pressure": ["40 psi", "90 psi"],
        "surge": ["10 psi"],
        "temperature": ["73 F", "110 F"],
    },
    "diagnose": {
        "answers": [
            {"fitting_type": "ring", "failure_form": "came_apart"},
            {"fitting_type": "barb", "crack_seen": "none", "static_psi": "80 psi"},
            {},
        ],
    },
}


class Recorder:
    """A client that notes what is asked, when, and what the server answered."""

    def __init__(self, client, now_ms) -> None:
        self.client = client
        self.now_ms = now_ms
        self.requests: list[dict[str, Any]] = []
        self.answers: list[list[Any]] = []

    def get(self, path: str, *, language: str = "", **options):
        headers = {"Accept-Language": language} if language else {}
        return self._ask("GET", path, "", headers, **options)

    def post(self, path: str, *, data, **options):
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        return self._ask("POST", path, urlencode(data, doseq=True), form, **options)

    def calculate(self, name: str, request: dict[str, Any]):
        body = json.dumps(request)
        return self._ask("POST", f"/api/{name}", body, {"Content-Type": "application/json"})

    def _ask(self, method, path, body, headers, *, follow_redirects=True):
        self.requests.append(
            {
                "now_ms": self.now_ms(),
                "method": method,
                "path": path,
                "headers": headers,
                "body": body,
            }
        )
        response = self.client.open(
            path, method=method, data=body, headers=headers, follow_redirects=follow_redirects
        )
        self.answers.append([response.status_code, response.get_data(as_text=True)])
        return response


def played(path: Path) -> tuple[dict[str, Any], list[list[Any]]]:
    """A scenario played on the server, then every page about its job."""
    player = Player(json.loads(path.read_text(encoding="utf-8")), path.stem)
    recorder = Recorder(player.hand.client, lambda: player.now_ms)
    player.hand.client = recorder
    player.log.close = lambda: None  # it is still to be read
    with player.clock():
        player.play()
        job = player.log.jobs(1)[0].id
        joints = [f"/joint/{one.id}" for one in player.log.joints(job)]
        for page in (f"/job/{job}", f"/job/{job}/export.json", f"/job/{job}/export.csv", *joints):
            recorder.get(page)
    # What the player put there itself, not by a page.
    first = [one.entry for one in player.log.since(0, 2)]
    entries = [json_text(one.as_json()) for one in first]
    return {"entries": entries, "requests": recorder.requests}, recorder.answers


def looked_up() -> tuple[dict[str, Any], list[list[Any]]]:
    """Every page that belongs to no job, and every calculation over its grid."""
    now_ms = time.time_ns() // 1_000_000
    recorder = Recorder(make_app(None, testing=True).test_client(), lambda: now_ms)
    for page in PAGES:
        recorder.get(page)
    for page in SPANISH:
        recorder.get(page, language="es")
    for name, values in GRID.items():
        for combination in itertools.product(*values.values()):
            recorder.calculate(name, dict(zip(values, combination, strict=True)))
    return {"entries": [], "requests": recorder.requests}, recorder.answers


@pytest.fixture(scope="module")
def both(phone_runtime):
    """What the server and the phone's Python answered, person by person."""
    people = [*(played(path) for path in scenarios()), looked_up()]
    said = phone_python.run(phone_runtime, "answer_requests.py", [asked for asked, _ in people])
    return [
        (asked["requests"], answers, mine)
        for (asked, answers), mine in zip(people, said, strict=True)
    ]


def test_the_grid_covers_every_calculation():
    assert GRID.keys() == CALCULATIONS.keys()


def test_every_page_and_every_flow_of_every_demo_job_is_the_same(both):
    compared = 0
    for requests, server, phone in both:
        for asked, (status, body), (phone_status, phone_body) in zip(
            requests, server, phone, strict=True
        ):
            if asked["path"].startswith("/api/") and asked["method"] == "POST":
                continue
            what = f"{asked['method']} {asked['path']}"
            assert phone_status == status, what
            mine, theirs = (MEANT.sub(r"\1\2\3\4\5", one) for one in (phone_body, body))
            assert mine == theirs, (what, differing(mine, theirs))
            compared += 1
    assert compared > 140


def differing(mine, theirs):
    """The first lines that differ."""
    pairs = zip_longest(mine.splitlines(), theirs.splitlines())
    return [(one[:400], other[:400]) for one, other in pairs if one != other][:3]


def test_every_calculation_over_its_grid_is_the_same(both):
    answered = dict.fromkeys(CALCULATIONS, 0)
    for requests, server, phone in both:
        for asked, said, mine in zip(requests, server, phone, strict=True):
            if asked["method"] != "POST" or not asked["path"].startswith("/api/"):
                continue
            what = f"{asked['path']} {asked['body']}"
            assert mine[0] == said[0], what
            assert_alike(json.loads(mine[1]), json.loads(said[1]), what)
            answered[asked["path"].removeprefix("/api/")] += said[0] == 200
    assert min(answered.values()) >= 2, answered


def assert_alike(mine: Any, theirs: Any, what: str) -> None:
    """The same shape and words; floats the same but for their last digits."""
    if isinstance(theirs, dict):
        assert mine.keys() == theirs.keys(), what
        for key, value in theirs.items():
            assert_alike(mine[key], value, f"{what} → {key}")
    elif isinstance(theirs, list):
        assert len(mine) == len(theirs), what
        for n, value in enumerate(theirs):
            assert_alike(mine[n], value, f"{what} → {n}")
    elif isinstance(theirs, float):
        assert mine == pytest.approx(theirs, rel=REL, abs=1e-300), what
    else:
        assert mine == theirs, what
