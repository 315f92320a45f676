"""The whole tool as a folder of plain files, for any file host: no server of ours, no account.

What the folder serves first is a page that fetches the kit, as any phone does. From then on the
phone answers itself, and its log stays on it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from flask import Flask, render_template

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows.localize import localizing
from fieldkit.flows.reference import SHEETS
from fieldkit.phone import runtime
from fieldkit.phone.kit import FACES, Kit
from fieldkit.phone.pages import phone_app
from fieldkit.web.create import shared_folder
from fieldkit.web.headers import CONTENT_SECURITY_POLICY
from fieldkit.web.localize import LANGUAGES, localizer_of_request

#: A page's own policy may not say this; only a host can.
_HOST_ONLY = "frame-ancestors"


def export(target: Path, base: str = "/") -> int:
    """Write the files to ``target``; returns how many bytes a phone fetches from them.

    Parameters
    ----------
    target : Path
        A folder that is new or empty.
    base : str
        Where it will lie on its host, such as ``/`` or ``/kit/``.

    Raises
    ------
    Problem
        The folder holds something, the base is no path, or the runtime is not here yet.
    """
    if not (base.startswith("/") and base.endswith("/")) or "//" in base:
        raise Problem(
            "base",
            base,
            say("{base} is not a place on a host.", base=base),
            say("Write it such as {example}.", example="/kit/"),
        )
    if target.exists() and any(target.iterdir()):
        raise Problem(
            "folder",
            str(target),
            say("There is something in {folder} already.", folder=target),
            say("Name a folder that is new or empty."),
        )
    app = phone_app()
    kit = Kit(runtime.runtime_folder(), base=base)
    if not kit.ready:
        raise Problem(
            "runtime",
            None,
            say("The parts that phones need are not here yet."),
            say("Fetch them with {command}.", command="fieldkit phone fetch"),
        )
    for place, body in _files(app, kit, base):
        path = target / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(body)
    size: int = kit.about()["size"]
    return size


def first_page(language: str) -> str:
    """The file that the first page has in a language; a host shows index.html unasked."""
    return "index.html" if language == "en" else f"index.{language}.html"


def _first(app: Flask, base: str, language: str) -> bytes:
    policy = "; ".join(
        rule for rule in CONTENT_SECURITY_POLICY.split("; ") if not rule.startswith(_HOST_ONLY)
    )
    asked = {"Accept-Language": language}
    with (
        app.test_request_context(base_url=f"http://localhost{base}", headers=asked),
        localizing(localizer_of_request()),
    ):
        page = render_template("phone/first.html", policy=policy, first_page=first_page)
    return page.encode()


def _files(app: Flask, kit: Kit, base: str) -> Iterator[tuple[str, bytes]]:
    for part in kit.parts:
        yield f"{part.place}.gz", kit.packed(part.place) or b""
    yield "phone/about.json", json.dumps(kit.about(), sort_keys=True).encode()
    static = shared_folder("static")
    for file in static.rglob("*"):
        if file.is_file():
            yield f"static/{file.relative_to(static).as_posix()}", file.read_bytes()
    yield "sw.js", (static / "phone" / "sw.js").read_bytes()
    for place in ("manifest.webmanifest", *FACES):
        yield place, kit.page(f"/{place}")[1]
    for language in LANGUAGES:
        yield f"phone/words/{language}.json", kit.page(f"/phone/words/{language}.json")[1]
        yield first_page(language), _first(app, base, language)
    # A host shows 404.html at any address that it has no file for: a link into the tool.
    yield "404.html", _first(app, base, "en")
    for path in ("/tables", *(f"/tables/{one}" for one in SHEETS), "/sources"):
        yield f"{path[1:]}/index.html", kit.page(path)[1]
