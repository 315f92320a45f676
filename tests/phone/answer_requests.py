"""Answers requests as a phone's engine does, in its own Python (``support/phone_python.py``)."""

import json

from fieldkit.phone.engine import Engine
from fieldkit.web import clock

now = 0


def follow(engine, one):
    """The answer to a request, and to where it leads."""
    answer = engine.answer(one["method"], one["path"], one["headers"], one["body"].encode())
    for _ in range(5):
        where = dict(map(tuple, answer.headers)).get("Location")
        if answer.status != 303 or where is None:
            break
        answer = engine.answer("GET", where, {}, b"")
    return [answer.status, answer.body.decode()]


def said(given: str) -> str:
    """Answers to the requests of each person, in JSON as they come."""
    global now  # noqa: PLW0603  -- the clock that the program reads
    clock.now_ms = lambda: now
    found = []
    for number, person in enumerate(json.loads(given)):
        engine = Engine()
        engine.start(f"/log-{number}.db", "x" * 64, "http://localhost/")
        engine.take_in(person["entries"])
        done = []
        for one in person["requests"]:
            now = one["now_ms"]
            done.append(follow(engine, one))
        found.append(done)
        engine.close()
    return json.dumps(found)
