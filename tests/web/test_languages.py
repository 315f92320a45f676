"""Every text is in every catalogue, none is there in vain, and every page is told whole."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator, Mapping
from random import Random

import html5lib
import pytest
from support import catalogue
from support.hand import Hand
from support.marked_language import Marking, not_localized
from support.screens import screens
from support.walks import answer_some

from fieldkit.cli.demo import load_demo
from fieldkit.engine.working import tellable
from fieldkit.flows.catalogue import flows
from fieldkit.tables.languages import languages
from fieldkit.tables.load import source_titles
from fieldkit.tables.pipes import pipes
from fieldkit.web import localize

LANGUAGES = catalogue.languages()
SPANISH = {"Accept-Language": "es-MX"}


def holes(text: str) -> set[str]:
    """The names of the parts that a template wants filled."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def test_no_catalogue_lacks_its_row():
    assert {one.parent.parent.name for one in localize.FOLDER.rglob("*.po")} == set(LANGUAGES)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_catalogue_has_every_text_and_no_other(language):
    """New texts: run ``python tests/support/catalogue.py``, then translate what is empty."""
    there, wanted = catalogue.translated(language), catalogue.gathered()
    assert sorted(set(wanted) - set(there)) == []
    assert sorted(set(there) - set(wanted)) == []
    if languages()[language].whole:
        assert [text for text, told in there.items() if not told] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_fills_the_same_parts(language):
    there = catalogue.translated(language)
    written = {text: told for text, told in there.items() if told}
    wrong = [text for text, told in written.items() if holes(told) != holes(text)]
    assert wrong == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_read_at_run_time_is_the_catalogue(language):
    there = catalogue.po_file(language).with_suffix(".mo").read_bytes()
    assert there == catalogue.compiled(language)


# ── Nothing stays untold ─────────────────────────────────────────────────────────────────────

#: Words that are the same in every language.
ANYWHERE = {"fieldkit", "CPVC", *localize.LANGUAGES.values()}
#: What the walks type as their own words.
TYPED = {"a few words"}


@pytest.fixture
def marking(monkeypatch):
    """Every text that is told comes out between marks."""
    monkeypatch.setattr(localize, "get_translations", Marking)


def _own_words(log) -> Iterator[str]:
    """What people wrote: names, places, notes, what they typed, and who they are."""
    for stored in log.since(0, 5000):
        entry = stored.entry
        yield from (entry.note, entry.who)
        yield from _strings(entry.typed)
        if entry.kind != "result":
            yield from _strings(entry.understood)


def _strings(value) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from _strings(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from _strings(one)


def _forgotten(document, known: set[str]) -> list[str]:
    """Words of a parsed page that were neither told nor written by a person."""
    found = []
    for words in not_localized(document):
        rest = words
        for one in sorted(known, key=len, reverse=True):
            rest = rest.replace(one, " ")
        if re.search(r"[^\W\d_]{3,}", rest):
            found.append(words)
    return found


def test_every_screen_is_told_whole(app, marking):
    log = app.extensions["joblog"]
    everywhere = screens(log)
    known = {" ".join(one.split()) for one in _own_words(log) if one}
    known |= ANYWHERE | set(source_titles().values()) | set(pipes())
    known |= {one.path[-64:] for one in everywhere if one.path.startswith("/check/")}
    client = app.test_client()
    forgotten = {}
    for screen in everywhere:
        page = client.get(screen.path, headers=SPANISH, follow_redirects=True)
        if page.mimetype == "text/html" and (left := _forgotten(html5lib.parse(page.text), known)):
            forgotten[screen.path] = left
    assert forgotten == {}


@pytest.mark.parametrize("flow_id", list(flows()))
def test_every_page_of_a_walk_is_told_whole(app, marking, flow_id):
    client = app.test_client()
    client.set_cookie(localize.LANGUAGE_COOKIE, "es")
    hand = Hand(client)
    chance = Random(f"told {flow_id}")  # noqa: S311  -- a repeatable walk, not a secret
    start = hand.send(hand.read("/"), "/start", what="new")
    joint = start.path.split("/")[2]
    known = ANYWHERE | TYPED | set(source_titles().values()) | set(pipes())
    known |= {one for one in _own_words(app.extensions["joblog"]) if len(one) > 3}
    page = hand.read(f"/joint/{joint}/{flow_id}")
    for _ in range(60):
        assert _forgotten(page.document, known) == []
        last = page.path.rsplit("/", 1)[1]
        if last == "answer":
            break
        page = hand.send(page, last, **answer_some(page, chance))
    assert _forgotten(hand.read(f"/joint/{joint}").document, known) == []


# ── What was kept in one language is told in another ─────────────────────────────────────────


def test_a_kept_answer_is_told_in_the_language_and_units_of_whoever_reads_it(app):
    log = app.extensions["joblog"]
    load_demo(log)
    joints = [joint for job in log.jobs() for joint in log.joints(job.id)]
    joint = next(one for one in joints if "measure-pipe" in one.states)
    kept = joint.states["measure-pipe"]
    path = f"/joint/{joint.id}/measure-pipe/{kept.run}/answer"
    client = app.test_client()
    assert kept.headline in client.get(path).text
    client.set_cookie(localize.LANGUAGE_COOKIE, "es")
    client.set_cookie(localize.UNITS_COOKIE, "metric")
    told = client.get(path).text
    assert "El exterior mide" in told
    assert "mm" in told
    assert kept.headline not in told


def test_an_answer_of_an_older_version_is_shown_as_it_was_written():
    old = {"headline": "An old sentence of 1.000 in.", "verdict": "ok"}
    assert tellable(old)["headline"] == "An old sentence of 1.000 in."


# ── Numbers as each is used to ───────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("locale", "read"), [("es-ES", "17.3 mm"), ("es-MX", None), ("en-US", None), ("de", None)]
)
def test_a_decimal_comma_is_read_where_the_page_itself_writes_one(app, locale, read):
    """In Spain 17,3 is seventeen and three tenths; where 1,234 may be a thousand, it is asked."""
    client = app.test_client()
    client.environ_base["HTTP_ACCEPT_LANGUAGE"] = locale
    hand = Hand(client)
    start = hand.send(hand.read("/"), "/start", what="tube")
    page = hand.send(hand.read(start.path), answer="give", value="caliper")
    joint, flow, run, _ = page.path.split("/")[-4:]
    boxes = {f"readings.value-{i}": "17,3 mm" for i in range(4)}
    page = hand.send(page, answer="give", **boxes)
    if read is None:
        assert page.status == 422
        assert page.form(button="give")[1]["readings.value-0"] == "17,3 mm"
    else:
        log = app.extensions["joblog"]
        kept = log.run(run, log.joint(joint).job, joint, flow).typed
        assert kept["readings"]["value-0"] == [read]
