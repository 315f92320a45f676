"""The style sheets as text: colours in one place, contrast by WCAG’s formula, no leftovers."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import html5lib
import pytest
from support.screens import screens

ROOT = Path(__file__).resolve().parents[2]
SHEETS = {one.stem: one.read_text(encoding="utf-8") for one in (ROOT / "static").rglob("*.css")}

LIGHTS = ("day", "sun", "dark")

#: What is read or looked at, and the grounds it stands on.
TEXT = ("ink", "pencil", "holds", "look", "stop")
GROUNDS = ("paper", "ground")
ON_ITS_OWN = (("act-on", "act"), ("holds", "holds-on"), ("look", "look-on"), ("stop", "stop-on"))
INK_ON = ("look-on", "stop-on", "holds-on")


def colours(light):
    """Name → colour in this light."""
    found = {}
    for name, values in re.findall(r"--([a-z-]+): (var\(--day.*?);", SHEETS["colours"]):
        value = re.search(rf"var\(--{light}, (.*?)\)", values)[1]
        if value.startswith("#"):
            found[name] = value
    return found


def luminance(colour):
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """Contrast ratio as WCAG 2.2 defines it."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_against_the_published_extremes():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)  # WCAG's known grey


@pytest.mark.parametrize("light", LIGHTS)
def test_text_is_at_least_seven_to_one_and_edges_four_and_a_half(light):
    named = colours(light)
    pairs = [*product(TEXT, GROUNDS), *ON_ITS_OWN, *product(("ink",), INK_ON)]
    weak = {pair: round(contrast(*(named[one] for one in pair)), 2) for pair in pairs}
    assert {pair: ratio for pair, ratio in weak.items() if ratio < 7} == {}
    for ground in GROUNDS:
        assert contrast(named["edge"], named[ground]) >= 4.5


def test_colours_stand_in_one_place():
    for name, text in SHEETS.items():
        if name != "colours":
            assert re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", text) == [], name


def test_the_bar_of_the_browser_has_the_colour_of_the_ground(hand):
    html = hand.client.get("/").get_data(as_text=True)
    bars = re.findall(r'theme-color" content="(#\w+)" media="\(prefers-color-scheme: (\w+)', html)
    assert {when: colour.lower() for colour, when in bars} == {
        "light": colours("day")["ground"],
        "dark": colours("dark")["ground"],
    }


def classes_of(sheet):
    """The classes that a style sheet gives a look."""
    bare = re.sub(r"/\*.*?\*/|\{[^{}]*\}", "{", SHEETS[sheet], flags=re.DOTALL)
    return set(re.findall(r"\.([a-z][\w-]*)", bare))


def test_each_page_has_the_style_sheets_that_it_needs(hand):
    where = {}
    for sheet in SHEETS:
        for one in classes_of(sheet):
            where.setdefault(one, set()).add(sheet)
    missing = set()
    for screen in screens(hand.client.application.extensions["joblog"]):
        html = hand.client.get(screen.path, follow_redirects=True).get_data(as_text=True)
        linked = {Path(one).stem for one in re.findall(r'href="[^"]*/([\w/]+\.css)', html)}
        for one in html5lib.parse(html).iter():
            for name in (one.get("class") or "").split():
                if name in where and not where[name] & linked:
                    missing.add((name, screen.group))
    assert not missing


def test_no_class_is_left_over():
    written = "".join(
        one.read_text(encoding="utf-8")
        for folder, ending in (("templates", "html"), ("static", "js"), ("fieldkit", "py"))
        for one in (ROOT / folder).rglob(f"*.{ending}")
    )
    words = set(re.findall(r"[\w-]+", written))
    states = {"done", "next", "later", "failed", "waiting", "not-needed", "holds", "look", "stop"}
    made = {
        f"{lead}{one}"
        for one in (*states, "plain")
        for lead in ("state--", "is-", "verdict--", "band--", "number--")
    }
    left = {one for sheet in SHEETS for one in classes_of(sheet)} - words - made
    assert not left
