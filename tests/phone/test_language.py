"""In Spanish and in millimetres without signal: chosen on the phone itself, and kept."""

from __future__ import annotations

import pytest
from phone.conftest import Phone

pytestmark = pytest.mark.browser

#: From now on the engine is never ready in time.
NO_TIME = """
async () => {
  const { readState, writeState } = await import("/static/phone/state.js");
  const state = await readState();
  await writeState({ ...state, about: { ...state.about, start_seconds: 0.01 } });
}
"""

MADE = "html[lang={}]:not([data-shell]) main h1"


def test_language_and_units_are_chosen_without_signal_and_kept(phone: Phone):
    page = phone.start(offline=True)
    page.goto(phone.base + "jobs")
    page.wait_for_selector(MADE.format("en"))
    page.locator(".menu > summary").click()
    page.locator(".menu button[value=es]").click()
    page.wait_for_selector(MADE.format("es"))
    assert phone.heading() == "Trabajos"
    page.locator(".menu > summary").click()
    page.locator(".menu a", has_text="Idioma").click()
    page.wait_for_selector("h1:has-text('Idioma, unidades, luz')")
    page.locator("input[value=metric] + label").click()
    page.locator("main .main").click()
    page.wait_for_selector("h1:has-text('Trabajos')")
    # Another start, still without signal: a page of the engine, in both.
    phone.stop()
    page = phone.start("tables/rigid-sizes", offline=True)
    page.wait_for_selector(MADE.format("es"))
    phone.until(lambda: phone.heading().startswith("Tubería rígida"), "no Spanish")
    phone.until_engine()
    page.goto(phone.base + "tables/rigid-sizes")
    # ASTM D1785 has 0.840 in for 1/2; times 25.4.
    phone.until(lambda: "21.34" in page.inner_text("main table"), "no millimetres")
    # An engine that does not start leaves the tables as plain pages, in Spanish too.
    page.evaluate(NO_TIME)
    phone.stop()
    page = phone.start("jobs", offline=True)
    page.wait_for_selector("#shell-stuck:visible")
    assert "No avanzó más en" in page.inner_text("#shell-why")
    page.goto(phone.base + "tables/weld-times")
    phone.until(lambda: phone.heading().startswith("Cemento: espera"), "no plain page")
