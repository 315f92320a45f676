"""The pictures of the README's tour: ``python tests/browser/make_tour.py`` makes them anew.

It serves the demo to itself, walks to each screen on a phone-sized page, and keeps a picture.
"""

from __future__ import annotations

import sys
import threading
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import Page, sync_playwright
from waitress.server import create_server

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.chromium import launch_options

from fieldkit.app import make_app
from fieldkit.cli.demo import load_demo

TOUR = Path(__file__).resolve().parent / "tour"


def walk(page: Page, address: str, joints: dict[str, str], states: dict[str, str]) -> None:
    """Go through the screens and keep each."""

    def keep(name: str, path: str | None = None) -> None:
        if path is not None:
            page.goto(address + path)
        page.wait_for_load_state("networkidle")
        page.screenshot(path=TOUR / f"{name}.png")

    keep("1-start", "/")
    keep("2-joint", f"/joint/{joints['came out']}")
    page.goto(f"{address}/joint/{joints['practice']}/measure-tube")
    page.locator('button.tile[value="caliper"]').click()
    for n, typed in enumerate(("0.681", "0.679", "17,3 mm")):
        page.locator(f'[name$="value-{n}"]').evaluate("(box, text) => { box.value = text }", typed)
    page.locator(".act .main").click()
    keep("3-asked-again")
    keep("4-parts", states["choose"])
    keep("5-verdict", states["prove"])
    keep("6-why", states["popped-off"])


def main() -> None:
    """Serve the demo, walk, and say what was kept."""
    TOUR.mkdir(exist_ok=True)
    with TemporaryDirectory() as folder, sync_playwright() as playwright:
        app = make_app(Path(folder) / "log.db")
        log = app.extensions["joblog"]
        load_demo(log)
        server = create_server(app, host="127.0.0.1", port=0, threads=4)
        threading.Thread(target=server.run, daemon=True).start()
        joints, states = {}, {}
        for job in log.jobs():
            for joint in log.joints(job.id):
                for word in ("came out", "practice"):
                    if word in joint.name:
                        joints[word] = joint.id
                for flow, state in joint.states.items():
                    states.setdefault(flow, f"/joint/{joint.id}/{flow}/{state.run}/answer")
        browser = playwright.chromium.launch(**launch_options())
        page = browser.new_page(viewport={"width": 390, "height": 780})
        walk(page, f"http://127.0.0.1:{server.effective_port}", joints, states)
        browser.close()
        server.close()
        log.close()
    for picture in sorted(TOUR.glob("*.png")):
        print(f"{picture.name}: {picture.stat().st_size / 1000:.0f} kB")  # noqa: T201


if __name__ == "__main__":
    main()
