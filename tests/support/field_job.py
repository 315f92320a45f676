"""A whole joint and a diagnosis, worked in one go with no day to wait: for phones in the field."""

from __future__ import annotations

import json
import re
import secrets
import time

from fieldkit.flows.catalogue import flows
from fieldkit.flows.question import Series
from fieldkit.joblog import new_id
from support.make_demo import DEMO_JOBS
from support.pictures import camera_photo
from support.scenario import Player

#: From measuring to a verdict: each flow with its answers, as in demo_jobs/scenarios.
WHOLE_JOINT = (
    {
        "flow": "measure-tube",
        "answers": {
            "tool": "caliper",
            "zero": "0.000 in",
            "readings": ["0.681", "0.679", "0.680", "0.680"],
            "temperature": "72 F",
            "bore": {"bore": "0.581"},
        },
    },
    {
        "flow": "measure-pipe",
        "answers": {
            "print": "PVC 1120 SCH 40 ASTM D1785",
            "readings": ["0.841", "0.840", "0.840", "0.842"],
            "temperature": "72 F",
            "wall": "0.111",
        },
    },
    {
        "flow": "choose",
        "answers": {
            "place": "end",
            "branches": "1",
            "valve": "no",
            "count": "1",
            "pressure": "25 psi",
            "temperature": "95 F",
            "wants": ["reusable"],
        },
        "pick": "",
    },
    {
        "flow": "join-tube",
        "answers": {"cut": True, "mark": True, "tug": "holds"},
        "if_asked": dict.fromkeys(
            ("warm", "clamps_on", "nut", "push_over", "push_in", "lock"), True
        ),
    },
    {
        "flow": "plan-test",
        "answers": {
            "gauge_height": "1.5 ft",
            "length": "60 ft",
            "restraint": "buried",
            "division": "0.5 psi",
            "water": "yes",
        },
    },
    {
        "flow": "prove",
        "answers": {
            "tubing": "no",
            "readings": [
                {"after": "0 min", "pressure": "30.5 psi", "water_temperature": "58 F"},
                {"after": "0 min", "pressure": "30.5 psi", "water_temperature": "58 F"},
            ],
            "seen": "no",
        },
    },
)


#: Why the old joint came apart, as the repair scenario tells it.
DIAGNOSIS = next(
    did
    for joint in json.loads((DEMO_JOBS / "scenarios" / "2-repair.json").read_text())["joints"]
    for did in joint["did"]
    if did.get("flow") == "popped-off"
)


class FieldPlayer(Player):
    """Plays flows in a browser, at the browser's own time."""

    def __init__(self, hand) -> None:
        self.scenario, self.name = {}, "in the field"
        self.hand = hand
        self.now_ms = 0
        self.open = None

    def fresh_id(self) -> str:
        """An id made now, as a page makes it."""
        return new_id(time.time_ns() // 1_000_000, secrets.token_bytes(10))

    def go_through(self, joint_id: str, did) -> None:
        """One flow; on a page the button that closes a series answers the question after it."""
        answers = dict(did["answers"])
        kinds = [step.kind for step in flows()[did["flow"]].steps if isinstance(step.kind, Series)]
        ends = [kind.closed_by for kind in kinds if kind.closed_by]
        self.ends = {end: answers.pop(end) for end in ends if end in answers}
        super().go_through(joint_id, {**did, "answers": answers})

    def give(self, page, kind: object, value):
        """As any player; a series ends by its closing button."""
        if not isinstance(kind, Series) or value is None or kind.closed_by not in self.ends:
            return super().give(page, kind, value)
        for reading in value:
            page = self.post(page, answer="add", **{f"value-{k}": v for k, v in reading.items()})
        return self.post(page, **{kind.closed_by: self.ends[kind.closed_by]})

    def wait(self, how_long: str) -> None:
        """Readings are taken as fast as they are typed."""

    def photo(self, joint_id: str, about: str, picture: bytes | None = None) -> str:
        """Take a photo of a joint; the address of its image on the page that shows it."""
        file = {"name": "x.jpg", "mimeType": "image/jpeg", "buffer": picture or camera_photo()}
        page = self.hand.read(f"/joint/{joint_id}/photos")
        seen = self.hand.send(page, "/photos", photo=file, about=about)
        assert about in seen.words, seen.words
        return re.findall(r'<img src="([^"]+)"', seen.html)[-1]

    def whole_job(self, name: str) -> str:
        """A new job with one joint, from measuring to a verdict, and a diagnosis."""
        job = self.hand.send(self.hand.read("/jobs"), "/jobs", name=name)
        joint = self.hand.send(job, "/joints", name="Box 3")
        joint_id = joint.path.rsplit("/", 1)[-1]
        for did in (*WHOLE_JOINT, DIAGNOSIS):
            self.go_through(joint_id, did)
        return joint_id
