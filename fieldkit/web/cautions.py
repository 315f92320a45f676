"""Which cautions stand open on a page: each once a job, at most two at a time.

What this person has seen is kept in a cookie of this browser, not in the log: another person at
the same joint has not seen it. A caution whose figures changed is a new one, since its words are
what is remembered. It stays open on the page where it was first shown while nothing more is
saved there: a reload or a slip in a box shows it again, the next reading does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

from flask import Flask, Response, g, request

COOKIE = "cautions"

#: Most that stand open on one page, and most that are remembered for a job.
OPEN, REMEMBERED = 2, 80


@dataclass(frozen=True, slots=True)
class Cautions:
    """The sentences that stand open, and those folded away."""

    open: tuple[str, ...]
    folded: tuple[str, ...]


def sorted_out(sentences: Sequence[str], job: str) -> Cautions:
    """Of the cautions of this page, which stand open; what is shown open counts as seen."""
    if not sentences:
        return Cautions((), ())
    seen = _seen(job)
    here = _mark(request.path + str(g.get("saved_here", "")), 4)
    shown: list[str] = []
    folded: list[str] = []
    for one in dict.fromkeys(sentences):
        key = _mark(str(one), 6)
        if seen.get(key, here) == here and len(shown) < OPEN:
            shown.append(one)
            seen[key] = here
        else:
            folded.append(one)
    return Cautions(tuple(shown), tuple(folded))


def _mark(text: str, length: int) -> str:
    return sha256(text.encode()).hexdigest()[:length]


def _seen(job: str) -> dict[str, str]:
    """What was seen in this job, each with the page it was first shown on."""
    if "cautions" not in g or g.cautions[0] != job:
        kept_job, _, kept = request.cookies.get(COOKIE, "").partition(".")
        pairs = (kept[at : at + 10] for at in range(0, len(kept), 10))
        seen = {one[:6]: one[6:] for one in pairs if len(one) == 10}
        g.cautions = (job, seen if kept_job == _mark(job, 8) else {})
    found: dict[str, str] = g.cautions[1]
    return found


def attach(app: Flask) -> None:
    """Remember with each answer what was shown on it."""
    app.jinja_env.globals.update(sorted_cautions=sorted_out)

    @app.after_request
    def remember(response: Response) -> Response:
        if "cautions" in g and response.status_code == 200:
            job, seen = g.cautions
            kept = "".join(key + page for key, page in list(seen.items())[-REMEMBERED:])
            value = f"{_mark(job, 8)}.{kept}"
            if value != request.cookies.get(COOKIE):
                response.set_cookie(
                    COOKIE,
                    value,
                    samesite="Lax",
                    httponly=True,
                    secure=app.config["SESSION_COOKIE_SECURE"],
                )
        return response
