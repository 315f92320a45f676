"""Plays a written scenario through the real pages, with ids and times that never change.

A scenario is a small JSON file that a person can read: what was typed, in order, and how long
it took. Playing it again makes the same entries, byte for byte, as long as the program answers
the same; a test compares, so the demo never goes stale.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any
from unittest.mock import patch

from fieldkit.app import make_app
from fieldkit.cli.demo import demo_price_list
from fieldkit.flows.catalogue import flows
from fieldkit.flows.question import Group, Readings, Series, Several
from fieldkit.joblog import Entry, exchange, new_id, utc_text
from support.hand import Hand, Page

#: How long a person takes over one page.
PAGE_MS = 25_000

_WAIT_MS = {"min": 60_000, "h": 3_600_000, "day": 86_400_000}


class Player:
    """One person working through one scenario on an empty log."""

    def __init__(self, scenario: Mapping[str, Any], name: str) -> None:
        self.scenario = scenario
        self.name = name
        self.now_ms = round(datetime.fromisoformat(scenario["begins"]).timestamp() * 1000)
        self.made = 0
        self.joints: dict[str, str] = {}
        self.open: Page | None = None  # the page that the last flow left on the screen
        self.app = make_app(None, testing=True)
        self.log = self.app.extensions["joblog"]
        self.log.append([demo_price_list()], self.now())
        self.hand = Hand(self.app.test_client())

    def now(self) -> str:
        """The time in the scenario."""
        return utc_text(self.now_ms)

    def fresh_id(self) -> str:
        """The next id: from the scenario's name and a count, never from chance."""
        self.made += 1
        chance = sha256(f"{self.name} {self.made}".encode()).digest()
        return new_id(self.now_ms, chance[:10])

    def wait(self, how_long: str) -> None:
        """Let time pass: ``90 min``, ``25 h``, ``1 day``."""
        number, unit = how_long.split()
        self.now_ms += round(float(number) * _WAIT_MS[unit.rstrip("s")])

    def play(self) -> str:
        """The whole scenario; returns the job as an export."""
        job = self.scenario["job"]
        said = {"name": job["name"], "place": job["place"], "demo": True}
        job_id = self.fresh_id()
        opened = Entry(id=job_id, at=self.now(), job=job_id, kind="job", understood=said)
        with self.clock():
            self.log.append([opened], self.now())
            if note := job.get("note"):
                self.note(job_id, note)
            for joint in self.scenario["joints"]:
                self.play_joint(job_id, joint)
        text = exchange.export_json(self.log, job_id)
        self.log.close()
        return text

    @contextmanager
    def clock(self) -> Iterator[None]:
        """The program's one clock, told by the scenario."""
        with patch("fieldkit.web.clock.now_ms", lambda: self.now_ms):
            yield

    def play_joint(self, job_id: str, joint: Mapping[str, Any]) -> None:
        """One joint: notes, waits, flows and picks in the order they are written."""
        self.now_ms += PAGE_MS
        page = self.hand.read(f"/job/{job_id}")
        joint_id = self.fresh_id()
        like = {"like": self.joints[joint["like"]]} if "like" in joint else {}
        self.hand.send(page, "/joints", name=joint["name"], entry=joint_id, **like)
        self.joints[joint["name"]] = joint_id
        for did in self.steps_of(joint):
            if "wait" in did:
                self.wait(did["wait"])
            elif "note" in did:
                self.note(job_id, did["note"], joint_id)
            else:
                self.go_through(joint_id, did)

    def steps_of(self, joint: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
        """What was done at a joint; a name stands for a block that several joints share."""
        for did in joint["did"]:
            yield from self.scenario["blocks"][did] if isinstance(did, str) else (did,)

    def note(self, job_id: str, words: str, joint_id: str = "") -> None:
        """Write a note on the job or on a joint."""
        self.now_ms += PAGE_MS
        where = f"/joint/{joint_id}" if joint_id else f"/job/{job_id}"
        self.hand.send(self.hand.read(where), "/notes", note=words, entry=self.fresh_id())

    def go_through(self, joint_id: str, did: Mapping[str, Any]) -> None:
        """One flow, as the pages ask; each answer that is written must be asked for.

        An answer that leads straight on to the next flow leaves its first page open; the next
        flow of the scenario goes on from there.
        """
        flow = flows()[did["flow"]]
        page = self.open
        if page is None or f"/{joint_id}/{flow.id}/" not in page.path:
            page = self.hand.read(f"/joint/{joint_id}/{flow.id}/{self.fresh_id()}")
        left = dict(did["answers"])
        if page.heading == "Nothing more to ask":
            page = self.hand.send(page, page.path, entry=self.fresh_id())
        while f"/{flow.id}/" in page.path and not page.path.endswith("/answer"):
            asked = list(
                dict.fromkeys(re.findall(rf'data-question="{flow.id}\.([\w-]+)"', page.html))
            )
            assert asked, f"{self.name}, {flow.id}: nothing is asked on {page.path}"
            fields: dict[str, Any] = {}
            for step_id in asked:
                if step_id in left:
                    value = left.pop(step_id)
                else:  # a flow that picks its own questions may ask these, or not
                    maybe = did.get("if_asked", {})
                    shared = len(asked) > 1  # a box on a page of several may stay empty
                    assert shared or step_id in maybe, (
                        f"{self.name}, {flow.id}: asked {page.words[:400]}"
                    )
                    value = maybe.get(step_id)
                kind = flow.step(step_id).kind
                if len(asked) == 1:
                    page = self.give(page, kind, value)
                elif value is not None:
                    given = boxes_of(kind, value)
                    fields |= {f"{step_id}.{box}": one for box, one in given.items()}
            if len(asked) > 1:
                page = self.post(page, answer="give", **fields)
        assert not left, f"{self.name}, {flow.id} never asked {', '.join(left)}"
        assert page.status == 200, page.words
        for title in did.get("holds_words", ()):
            assert title in page.words, f"{self.name}, {flow.id}: no “{title}” in {page.words}"
        self.open = page
        if "pick" in did:
            self.pick(page, did["pick"])

    def give(self, page: Page, kind: object, value: Any) -> Page:
        """Answer a question that stands alone; None is the way out, True is done."""
        if isinstance(kind, Series) and value is not None:
            for reading in value:
                self.wait(reading["after"])
                page = self.post(
                    page, answer="add", **{f"value-{k}": v for k, v in reading.items()}
                )
            return self.post(page, answer="finish")
        if value is None:
            return self.post(page, answer="cant-tell")
        return self.post(page, answer="give", **boxes_of(kind, value))

    def post(self, page: Page, **fields: Any) -> Page:
        """Send the question's form, a page's time later."""
        self.now_ms += PAGE_MS
        fields.pop("value-after", None)
        sent = self.hand.send(page, page.path, entry=self.fresh_id(), **fields)
        assert sent.status == 200, f"{self.name}, {page.path}: {sent.words[:600]}"
        return sent

    def pick(self, page: Page, title: str) -> None:
        """Take the card whose title begins so."""
        self.now_ms += PAGE_MS
        found = re.search(
            r'name="pick" value="([^"]+)">(?:[^<]*<span class="unseen">: |<b>)' + re.escape(title),
            page.html,
        )
        assert found, f"{self.name}: no card “{title}” in {page.words}"
        self.hand.send(page, "/pick", found[1], pick=found[1], entry=self.fresh_id())


def boxes_of(kind: object, value: Any) -> dict[str, Any]:
    """What a person puts in the boxes of a question, by box."""
    if isinstance(kind, Readings):
        return {f"value-{n}": one for n, one in enumerate(value)}
    if isinstance(kind, Group):
        return {f"value-{k}": v for k, v in value.items()}
    if isinstance(kind, Several):
        return {"value": list(value)}
    return {} if value is True else {"value": value}


def play(path: Path) -> str:
    """The export that the scenario in ``path`` makes."""
    return Player(json.loads(path.read_text(encoding="utf-8")), path.stem).play()
