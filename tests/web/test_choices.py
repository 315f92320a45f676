"""The reader's language and units: chosen on one page, kept in cookies, heard from the browser."""

from __future__ import annotations

import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from support.hand import Hand

from fieldkit.app import make_app
from fieldkit.web import localize

#: A catalogue of the test's own, so that no change of wording breaks it.
SAID = {
    "Language, units, light": "Idioma, unidades, luz",
    "What is in front of you?": "¿Qué tiene delante?",
    "There is nothing at this address": "No hay nada en esta dirección",
    "{n} found for “{words}”": "{n} hallados para «{words}»",
    "Done": "Hecho",
    "Jobs": "Trabajos",
}


@pytest.fixture
def hand(tmp_path, monkeypatch):
    """A hand on an application whose Spanish is only ``SAID``."""
    folder = tmp_path / "translations" / "es" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    catalogue = Catalog(locale="es")
    for english, spanish in SAID.items():
        catalogue.add(english, spanish)
    with (folder / "messages.mo").open("wb") as file:
        write_mo(file, catalogue)
    monkeypatch.setattr(localize, "FOLDER", tmp_path / "translations")
    app = make_app(tmp_path / "log.db", testing=True)
    yield Hand(app.test_client())
    app.extensions["joblog"].close()


def kept(hand, name: str) -> str | None:
    cookie = hand.client.get_cookie(name)
    return cookie.value if cookie else None


def test_a_choice_is_kept_and_leads_back(hand):
    page = hand.read("/choices?back=/jobs?q=valve")
    page = hand.send(page, "/choices", language="es", units="metric")
    assert page.path == "/jobs"
    assert (kept(hand, "language"), kept(hand, "units")) == ("es", "metric")
    assert "0 hallados para «valve»" in page.words
    page = hand.read("/")
    assert page.heading == SAID["What is in front of you?"]
    assert page.document.get("lang") == "es"


def test_as_my_phone_says_forgets_the_choice(hand):
    hand.client.set_cookie("language", "es")
    hand.client.set_cookie("units", "metric")
    page = hand.send(hand.read("/choices"), "/choices", language="", units="")
    assert (kept(hand, "language"), kept(hand, "units")) == (None, None)
    assert page.document.get("lang") == "en"


def test_one_button_changes_the_language_and_nothing_else(hand):
    hand.client.set_cookie("units", "metric")
    page = hand.read("/")
    assert "Español" in page.words
    _, fields, buttons = next(one for one in page.forms() if one[0].endswith("/look"))
    assert ("language", "es") in buttons
    answer = hand.client.post("/choices", data={**fields, "language": "es"})
    assert answer.headers["Location"] == "/"
    assert (kept(hand, "language"), kept(hand, "units")) == ("es", "metric")
    assert "English" in hand.read("/").words


@pytest.mark.parametrize("away", ["https://elsewhere.example/", "//elsewhere.example", "\\\\x"])
def test_it_leads_to_no_other_site(hand, away):
    _, fields = hand.read("/choices").form("/choices")
    answer = hand.client.post("/choices", data={**fields, "back": away})
    assert answer.headers["Location"] == "/"


def test_the_browser_is_heard_until_something_is_chosen(hand):
    asked = {"Accept-Language": "es-ES,es;q=0.9,en;q=0.8"}
    assert 'lang="es"' in hand.client.get("/", headers=asked).get_data(as_text=True)
    hand.client.set_cookie("language", "en")
    assert 'lang="en"' in hand.client.get("/", headers=asked).get_data(as_text=True)


def test_an_unknown_choice_counts_as_none(hand):
    _, fields = hand.read("/choices").form("/choices")
    hand.client.post("/choices", data={**fields, "language": "xx", "units": "cubits"})
    assert (kept(hand, "language"), kept(hand, "units")) == (None, None)


def test_an_error_speaks_the_language_too(hand):
    hand.client.set_cookie("language", "es")
    page = hand.read("/nowhere")
    assert page.heading == SAID["There is nothing at this address"]


def test_what_the_gate_refuses_is_told_in_it_and_no_later_page_loses_it(hand):
    hand.client.application.config["HOSTS"] = frozenset({"localhost"})
    asked = {"Accept-Language": "es-MX"}
    refused = hand.client.get("/", headers={**asked, "Host": "elsewhere.example"})
    assert refused.status_code == 421
    for page in (refused, hand.client.get("/", headers=asked)):
        assert f">{SAID['Jobs']}</a>" in page.get_data(as_text=True)


def test_a_persons_own_words_are_not_translated(hand):
    hand.client.set_cookie("language", "es")
    page = hand.send(hand.read("/jobs"), "/jobs", name="Done")
    assert page.heading == "Done"


def measuring(hand):
    """The page that asks for the outside of a pipe."""
    return hand.answer(hand.send(hand.read("/"), "/start", what="new"), "caliper")


def boxes(*typed):
    """The readings as the page names its boxes."""
    return {f"readings.value-{n}": one for n, one in enumerate(typed)}


def box(page) -> str:
    return page.form(button="give")[1]["readings.value-0"]


def test_a_bare_number_is_read_in_the_units_of_its_page(hand):
    """21.34 mm is half-inch pipe: 0.840 in (ASTM D1785) at 25.4 mm an inch."""
    hand.client.set_cookie("units", "metric")
    page = measuring(hand)
    assert "mm" in page.words
    hand.answer(page, **boxes("21.34", "21.34", "0.84 in"))
    assert box(hand.read(page.path)) == "21.34 mm"
    hand.client.set_cookie("units", "inch")
    again = hand.read(page.path)
    assert box(again) == "21.34 mm"
    answer = hand.send(again, answer="give", **{"temperature.value": "73 °F"})
    assert "0.840 in" in answer.words


def test_a_page_in_other_units_than_now_is_read_as_it_was_labelled(hand):
    page = measuring(hand)
    hand.client.set_cookie("units", "metric")  # in another tab, say
    wrong = hand.answer(page, **boxes("0.84", "nothing"))
    assert wrong.status == 422
    assert box(wrong) == "0.84 in"
    hand.answer(page, **boxes("0.84", "0.84", "0.84"))
    assert box(hand.read(page.path)) == "0.84 in"
