"""Long work beside the thread that answers: a page says how far it is, then hands the file over.

One piece of work runs at a time, and gives way while a request is answered, as often as it tells
how far it is. What it made lies in a file that goes when it was not asked for in an hour, and is
given to nobody but who began it.
"""

from __future__ import annotations

import gc
import logging
import secrets
import shutil
import tempfile
import threading
import time
import weakref
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from flask import (
    Blueprint,
    Flask,
    Response,
    abort,
    copy_current_request_context,
    current_app,
    redirect,
    render_template,
    send_file,
    session,
    stream_template,
    url_for,
)
from flask_wtf.csrf import generate_csrf
from werkzeug.wrappers import Response as AnyResponse

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.web.access import asker

pages = Blueprint("beside", __name__, url_prefix="/work")

#: Work on more entries than this is done beside the answering thread.
LONG_ENTRIES = 3_000
#: So is looking through a larger file. [bytes]
LONG_BYTES = 1_000_000
#: How long what was made is kept. [s]
KEPT_S = 3600.0
#: Pieces of work that wait or are kept at once, of everybody.
MOST = 40
#: Of one person, unfinished ones: nobody else waits for more than these.
MOST_OF_ONE = 3

#: How long work gives way at once; so it gets on where requests never cease. [s]
WAY_S = 0.1

#: Pieces of a page between which its making gives way.
_PIECES = 50

#: How far it is: so much of so much.
Tell = Callable[[int, int], None]


@dataclass
class Work:
    """One piece of work. ``part`` of ``whole`` is done; a file, or a page, is what it comes to."""

    title: Text
    owner: str
    back: str
    began: float = field(default_factory=time.monotonic)
    part: int = 0
    whole: int = 0
    done: bool = False
    wrong: Text | None = None
    file: Path | None = None
    is_page: bool = False
    headers: dict[str, str] = field(default_factory=dict)
    give_way: Callable[[], object] = lambda: None

    def tell(self, part: int, whole: int) -> None:
        """Say how far it is, and let others have their turn."""
        self.part, self.whole = part, whole
        self.give_way()


class Beside:
    """The work of one application."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="fieldkit-"))
        weakref.finalize(self, shutil.rmtree, self.folder, ignore_errors=True)
        self._waiting: SimpleQueue[Callable[[], None]] = SimpleQueue()
        # Nobody waits for it when the program ends: what it did not finish is asked for anew.
        self._thread = threading.Thread(target=self._work, name="beside", daemon=True)
        self._turn = threading.Lock()
        self._works: dict[str, Work] = {}
        self._answering = 0
        self._nobody_waits = threading.Event()
        self._nobody_waits.set()

    def _work(self) -> None:
        often = gc.get_threshold()
        while True:
            run = self._waiting.get()
            # To look for what is left over in all that a large job holds would stop everybody.
            gc.set_threshold(*often[:2], 1 << 30)
            try:
                run()
            except Exception:  # as its request is taken leave of; the next one is done all the same
                logging.getLogger(__name__).exception("long work failed")
            gc.set_threshold(*often)

    def give_way(self) -> None:
        """Wait while a request is answered, but not for ever."""
        self._nobody_waits.wait(WAY_S)

    def beside(self, answer: Callable[..., Iterable[bytes]]) -> Callable[..., Iterable[bytes]]:
        """The application, so that work knows when it answers."""

        def counted(environ: Any, start: Any) -> Iterable[bytes]:
            with self._turn:
                self._answering += 1
                self._nobody_waits.clear()
            try:
                return answer(environ, start)
            finally:
                with self._turn:
                    self._answering -= 1
                    if not self._answering:
                        self._nobody_waits.set()

        return counted

    def add(self, work: Work, run: Callable[[], None]) -> str:
        """Begin a piece of work when those before it are done; returns its key.

        Raises
        ------
        Problem
            Too much waits already.
        """
        with self._turn:
            now = time.monotonic()
            for key in [key for key, one in self._works.items() if now - one.began > KEPT_S]:
                self._throw_away(key)
            person = work.owner.partition(" ")[0]
            own = [one for one in self._works.values() if one.owner.partition(" ")[0] == person]
            if sum(not one.done for one in own) >= MOST_OF_ONE:
                raise Problem(
                    "work",
                    None,
                    say("{n} pieces of long work of yours wait here already.", n=MOST_OF_ONE),
                    say("Try again when one of them is done."),
                )
            if len(self._works) >= MOST:
                old = next((key for key, one in self._works.items() if one.done), None)
                if old is None:
                    raise Problem(
                        "work",
                        None,
                        say("Much long work waits here already."),
                        say("Try again in a few minutes."),
                    )
                self._throw_away(old)
            key = secrets.token_urlsafe(16)
            self._works[key] = work
            if not self._thread.ident:
                self._thread.start()
        self._waiting.put(run)
        return key

    def find(self, key: str) -> Work | None:
        """A piece of work by its key."""
        return self._works.get(key)

    def _throw_away(self, key: str) -> None:
        work = self._works.pop(key)
        if work.file is not None:
            work.file.unlink(missing_ok=True)


def attach(app: Flask) -> None:
    """Let the pages of an application do long work beside their answers."""
    works = app.extensions["beside"] = Beside()
    app.wsgi_app = works.beside(app.wsgi_app)  # type: ignore[method-assign]
    app.register_blueprint(pages)


def _owner() -> str:
    person = asker()
    return f"{person.id if person else ''} {session.get('seat', '')}"


def begin(title: Text, back: str, make: Callable[[Work], None]) -> AnyResponse:
    """Do ``make`` beside, and send the asker to the page that says how far it is.

    ``back`` is where the page leads when it went wrong. What ``make`` needs of the request (the
    reader's language and units) it finds as the page would.
    """
    generate_csrf()  # a form that is made beside cannot give the browser its half any more
    beside: Beside = current_app.extensions["beside"]
    work = Work(title, _owner(), back, give_way=beside.give_way)
    logger = current_app.logger

    @copy_current_request_context
    def run() -> None:
        try:
            make(work)
        except Problem as problem:
            work.wrong = problem.wrong
        except Exception:
            logger.exception("long work failed")
            work.wrong = say("Something went wrong on our side")
        work.done = True

    return redirect(url_for("beside.show", key=beside.add(work, run)), 303)


def handed_over(
    title: Text,
    back: str,
    headers: dict[str, str],
    entries: int,
    make: Callable[[Tell], Iterable[str | bytes]],
) -> AnyResponse:
    """A file to keep: at once where there is little in it, else made beside.

    It is written to the disk piece by piece as it is made, so its size is no matter.
    """
    if not is_long(entries):
        parts = (one.encode() if isinstance(one, str) else one for one in make(lambda *_: None))
        return Response(b"".join(parts), headers=headers)

    def write(work: Work) -> None:
        put(work, make(work.tell), headers)

    return begin(title, back, write)


def put(work: Work, pieces: Iterable[str | bytes], headers: dict[str, str] | None = None) -> None:
    """What a piece of work came to, written to the disk as it is made; a page without headers."""
    path = current_app.extensions["beside"].folder / secrets.token_hex(16)
    with path.open("wb") as out:
        for one in pieces:
            out.write(one.encode() if isinstance(one, str) else one)
    work.file, work.headers, work.is_page = path, headers or {}, headers is None


def page(
    title: Text, back: str, entries: int, make: Callable[[Tell], Iterable[str]]
) -> str | AnyResponse:
    """A page: at once where there is little on it, else made beside."""
    if not is_long(entries):
        return "".join(make(lambda *_: None))
    return begin(title, back, lambda work: put(work, make(work.tell)))


def drawn(template: str, tell: Tell, whole: int, **about: object) -> Iterator[str]:
    """A large page, piece by piece; ``whole`` of its work is done by then."""
    for n, piece in enumerate(stream_template(template, **about)):
        yield piece
        if n % _PIECES == 0:
            tell(whole, whole)


def is_long(entries: int, size: int = 0) -> bool:
    """Whether work on so many entries or bytes is done beside; a phone does all at once."""
    long = entries > LONG_ENTRIES or size > LONG_BYTES
    return long and "beside" in current_app.extensions


def _own(key: str) -> Work:
    work = current_app.extensions["beside"].find(key)
    if work is None or work.owner != _owner():
        abort(404)
    found: Work = work
    return found


@pages.get("/<key>")
def show(key: str) -> Response:
    """How far a piece of work is; asked anew by itself until it is done."""
    work = _own(key)
    done = work.done  # it may come to its end while this page is made
    if done and work.is_page and work.file is not None and work.file.exists():
        return send_file(work.file, mimetype="text/html")
    page = Response(render_template("beside.html", work=work, key=key, done=done))
    if not done:
        page.headers["Refresh"] = "2"
    return page


@pages.get("/<key>/file")
def take(key: str) -> Response:
    """What was made."""
    work = _own(key)
    if work.file is None or work.is_page or not work.file.exists():
        abort(404)
    response = send_file(work.file, mimetype=work.headers["Content-Type"])
    response.headers.update(work.headers)
    return response
