"""One real joint from measuring to the verdict, by whatever hand holds the phone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlsplit

from browser.fingers import Fingers

#: flow → step → what is answered; True is a thing done, None is "I can't tell".
JOB: dict[str, dict[str, Any]] = {
    "measure-pipe": {
        "tool": "caliper",
        "print": "1/2 IN PVC 1120 SCH 40 ASTM D1785",
        "zero": "0.000 in",
        "readings": ["0.840", "0.841", "0.839", "0.841"],
        "temperature": "68 F",
        "wall": None,
    },
    "identify-pipe": {
        "print_line": "1/2 IN PVC 1120 SCH 40 ASTM D1785",
        "wall": None,
        "bore": None,
        "region": "na",
    },
    "measure-tube": {
        "tool": "caliper",
        "print": None,
        "readings": ["0.701", "0.699", "0.700", "0.700"],
        "temperature": "70 F",
        "bore": {"bore": "0.600"},
    },
    "identify-tube": {"print_line": None, "wall": None, "drill": None, "region": "na"},
    "choose": {
        "place": "end",
        "branches": "1",
        "valve": "no",
        "count": "1",
        "pressure": "25 psi",
        "temperature": "90 F",
        "wants": ["reusable"],
    },
    "join-cement": {
        "temperature": "70 F",
        "humidity": "50 %",
        "pressure": "25 psi",
        "forecast": None,
        "one_step": "two",
        "sun": "no",
        "shut": True,
        "cut": True,
        "deburr": True,
        "dry_fit": "snug",
        "mark": True,
        "prime": True,
        "cement": True,
        "push": True,
        "hold": True,
        "wipe": True,
        "closed": "2 h",
    },
    "join-thread": {
        "kind": "npt",
        "size": "1/2",
        "male": "plastic",
        "female": "plastic",
        "shut": True,
        "clean": True,
        "sealant": "tape",
        "wrap": True,
        "hand": True,
        "turns": "1.5 turns",
    },
    "join-tube": {
        "tube": "thin",
        "shut": True,
        "cut": True,
        "mark": True,
        "warm": True,
        "clamps_on": True,
        "nut": True,
        "push_over": True,
        "push_in": True,
        "lock": True,
        "tug": "holds",
    },
    "plan-test": {
        "gauge_height": "1 ft",
        "length": "40 ft",
        "restraint": "buried",
        "tubing": "no",
        "division": "0.5 psi",
        "water": "no",
        "cured": "long",
    },
    "prove": {
        "tubing": "no",
        "water": "no",
        "readings": [{"pressure": "30.5"}, {"pressure": "30", "seen": "yes"}],
    },
}


def step_of(url: str) -> str:
    """The step that the address names."""
    return urlsplit(url).path.rsplit("/", 1)[-1]


def flow_of(url: str) -> str:
    """The flow that the address names, or nothing."""
    parts = urlsplit(url).path.split("/")
    return parts[3] if len(parts) > 5 and parts[1] == "joint" else ""


def begin(watched: Any, fingers: Fingers) -> None:
    """From the first page to a joint of its own in a new job."""
    watched.open("/jobs")
    fingers.fill_in("name", "Long Meadow", "Make this job")
    fingers.fill_in("name", "Bed 2, north end", "Add this joint")


def go_through(watched: Any, fingers: Fingers, flow: str, answers: Mapping[str, Any]) -> None:
    """One flow, to its answer or to the flow that it leads straight on to."""
    assert flow_of(watched.page.url) == flow, f"{flow} was not next: {watched.page.url}"
    for _ in range(40):
        if flow_of(watched.page.url) != flow or step_of(watched.page.url) == "answer":
            return
        if watched.heading == "Nothing more to ask":
            fingers.press("Work it out")
        else:
            fingers.answer(answers)
    raise AssertionError(f"{flow} never ends")


def carry_through(watched: Any, fingers: Fingers) -> list[str]:
    """The whole job; returns the flows that were gone through, in order."""
    begin(watched, fingers)
    went: list[str] = []
    while "prove" not in went:
        flow = flow_of(watched.page.url)
        if flow in JOB and step_of(watched.page.url) != "answer":
            assert flow not in went, f"{flow} is asked again: {watched.page.url}"
            went.append(flow)
            go_through(watched, fingers, flow, JOB[flow])
            if flow == "choose":
                fingers.press_first_card()
        else:
            following = watched.page.locator(".act a.main")
            assert following.count(), f"nothing leads on from {watched.page.url}"
            fingers.press(following.first.inner_text())
    return went
