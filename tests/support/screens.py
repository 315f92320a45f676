"""Every screen over the invented demo, by group and name: for tests and contact sheets."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from dataclasses import dataclass

from waitress.server import create_server

from fieldkit.cli.demo import load_demo
from fieldkit.flows.catalogue import flows
from fieldkit.flows.reference import SHEETS
from fieldkit.joblog.entry import entry_digest
from fieldkit.joblog.signing import all_entries, whole_digest
from fieldkit.web.ids import fresh_id

#: Pages that need nothing but the demo: path → name.
PLAIN = {
    "first page": {"/": "home", "/phone/diagnose": "what is wrong", "/nothing-here": "not there"},
    "jobs": {"/jobs": "jobs", "/jobs?q=ring": "found", "/refused": "not taken in"},
    "tables": {
        "/tables": "tables",
        **{f"/tables/{one}": one for one in SHEETS},
        "/sources": "sources",
        "/prices": "prices",
        "/prices/history": "prices before",
        "/diagnoses": "how often right",
        "/crew?period=all": "the crew",
        "/crew/order": "the order",
    },
    "paper": {"/paper": "why it leaks", "/ruler": "ruler", "/gauge": "gauge"},
    "without signal": {"/phone": "take it along", "/phone/shell": "one moment"},
    "people": {
        "/people": "people",
        "/choices": "language, units, light",
        "/backup": "backup",
    },
}


@dataclass(frozen=True)
class Screen:
    """One page: where it stands, and what it is called on a sheet."""

    group: str
    name: str
    path: str


def screens(log) -> list[Screen]:
    """Every screen over the demo, which is loaded into ``log``. One question of each kind a flow.

    Parameters
    ----------
    log : JobLog
        An empty one.
    """
    load_demo(log)
    found = [
        Screen(group, name, path) for group, pages in PLAIN.items() for path, name in pages.items()
    ]
    came_off = next(one.id for one in log.jobs() if "came off" in one.name)
    mended, practice = log.joints(came_off)
    entries = all_entries(log, came_off)
    digest = whole_digest({one.id: entry_digest(one) for one in entries})
    for name, path in {
        "job": f"/job/{came_off}",
        "sign": f"/job/{came_off}/sign",
        "record": f"/job/{came_off}/record",
        "labels": f"/job/{came_off}/labels",
        "joint, mended": f"/joint/{mended.id}",
        "what to buy": f"/joint/{mended.id}/card",
        "a record checked": f"/check/{came_off}/{len(entries)}/{digest}",
        "a record changed": f"/check/{came_off}/{len(entries)}/{'0' * 64}",
        "joint, practice": f"/joint/{practice.id}",
        "photos": f"/joint/{practice.id}/photos",
    }.items():
        found.append(Screen("job and joint", name, path))
    return [*found, *_answers(log), *_questions(mended.id, practice.id)]


def _answers(log) -> Iterator[Screen]:
    """The last answer of each flow that the demo came to."""
    seen = set()
    for job in log.jobs():
        for joint in log.joints(job.id):
            for flow, state in joint.states.items():
                if flow not in seen:
                    seen.add(flow)
                    path = f"/joint/{joint.id}/{flow}/{state.run}/answer"
                    yield Screen("answers", flow, path)


def _questions(known: str, fresh: str) -> Iterator[Screen]:
    """Of each flow, the first step of each kind, with and without a caution, drawing or clock.

    Steps that share a page are one screen.
    """
    for flow in flows().values():
        seen, shown = set(), set()
        for step in flow.steps:
            page = frozenset(one.id for one in flow.page(step, {}, {}))
            if len(page) > 1 and not shown.isdisjoint(page):
                continue
            looks = (
                type(step.kind).__name__,
                bool(step.caution),
                bool(step.timer),
                step.drawing({}, {}) is not None,
            )
            if looks not in seen:
                seen.add(looks)
                shown |= page
                path = f"/joint/{fresh}/{flow.id}/{fresh_id()}/{step.id}"
                yield Screen(f"questions of {flow.id}", step.id, path)
        path = f"/joint/{known}/{flow.id}/{fresh_id()}"
        yield Screen(f"questions of {flow.id}", "with what is known", path)


def four_pages(log) -> list[Screen]:
    """Home, a question, an answer, a job: what the budgets speak of."""
    found = {f"{one.group}, {one.name}": one for one in screens(log)}
    wanted = ("first page, home", "questions of leak-now, place", "answers, choose")
    return [found[one] for one in (*wanted, "job and joint, job")]


@contextlib.contextmanager
def serving(app) -> Iterator[str]:
    """Serve ``app`` on a port of its own; gives the address."""
    server = create_server(app, host="127.0.0.1", port=0, threads=4)

    def serve() -> None:
        # Closing takes the socket away from under a poll that may still be running.
        with contextlib.suppress(OSError):
            server.run()

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.close()
        thread.join(timeout=5)
        app.extensions["joblog"].close()
