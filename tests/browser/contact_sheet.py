"""Every screen side by side: ``python tests/browser/contact_sheet.py --out DIR``.

It serves the demo to itself and takes each screen in its looks: as it is, in bright sun, dark,
with an error, and as it prints. Then it lays them out on sheets, one screen a row, with labels,
for each language and each width of a phone.
"""

from __future__ import annotations

import argparse
import io
import logging
import sys
from collections.abc import Iterator
from itertools import chain, groupby
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image, ImageDraw, ImageFont
from playwright.sync_api import BrowserContext, Page, sync_playwright
from playwright.sync_api import Error as BrowserError

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.chromium import launch_options
from support.screens import Screen, screens, serving

from fieldkit.app import make_app
from fieldkit.joblog.people import Person
from fieldkit.web import access
from fieldkit.web.passwords import hash_password

LOOKS = ("plain", "sun", "dark", "error", "print")

#: Letter and A4 without their margins are about this wide. [px]
PAPER_PX = 718

#: A longer page is cut here on the sheet. [px]
LONGEST_PX = 4000

#: A sheet begins anew after this. [px]
SHEET_PX = 2400

GAP, HEAD = 16, 22
GROUND, INK = "#b9b4a9", "#17150f"

PASSWORD = "violet gravel anchor teapot"  # noqa: S105  -- only here


def shot(page: Page) -> Image.Image:
    """The whole page as it stands, half its size."""
    whole = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
    return whole.crop((0, 0, whole.width, min(whole.height, LONGEST_PX))).reduce(2)


def in_looks(page: Page, address: str, width: int, looks: list[str]) -> dict[str, Image.Image]:
    """One screen in each look, by the look's name; without an error where none can be made."""
    found = {}
    page.goto(address)
    for look in looks:
        if look == "error":
            continue
        page.emulate_media(
            color_scheme="dark" if look == "dark" else "light",
            media="print" if look == "print" else "screen",
        )
        page.set_viewport_size({"width": PAPER_PX if look == "print" else width, "height": 640})
        sun = str(look == "sun").lower()
        page.evaluate(f"document.documentElement.classList.toggle('sun', {sun})")
        found[look] = shot(page)
    page.emulate_media(color_scheme="light", media="screen")
    page.set_viewport_size({"width": width, "height": 640})
    if "error" in looks and (wrong := with_an_error(page, address)):
        found["error"] = wrong
    return found


def with_an_error(page: Page, address: str) -> Image.Image | None:
    """The page after its first form was sent with nothing in it, where it refuses that."""
    page.goto(address)
    button = page.locator("main form[method=post] button:not(.unseen):visible").first
    if not button.count() or page.locator("main form.starts").count():
        return None
    for box in page.locator("main form[method=post] input[type=text]:visible").all():
        box.fill("about so")
    try:
        with page.expect_response(lambda one: one.request.method == "POST", timeout=3000) as sent:
            button.click()
    except BrowserError:
        return None
    page.wait_for_load_state()
    return shot(page) if sent.value.status == 422 else None


def walk(context: BrowserContext, base: str, found: list[Screen], width: int, looks: list[str]):
    """Every screen with its pictures."""
    page = context.new_page()
    for screen in found:
        yield screen, in_looks(page, base + screen.path, width, looks)
    page.close()


def people_screens(context: BrowserContext, base: str, app, width: int, looks: list[str]):
    """The pages where others can reach the server: entering, joining, one's own, a guest's."""
    page = context.new_page()

    def taken(name: str, path: str):
        return Screen("people", name, path), in_looks(page, base + path, width, right)

    # With an error only where a form cannot log us out.
    right = looks
    yield taken("who are you", "/enter")
    right = [one for one in looks if one != "error"]
    with app.app_context():
        store = access.people()
    if not store.all():
        store.add(Person("id-lead", "Ann", "lead"), hash_password(PASSWORD))
    page.goto(f"{base}/enter")
    page.fill("#name", "Ann")
    page.fill("#password", PASSWORD)
    page.locator("main button").first.click()
    page.wait_for_selector(".menu >> text=Ann", state="attached")
    yield taken("my own", "/me")
    yield taken("people, open to others", "/people")
    for role in ("technician", "guest"):
        page.goto(f"{base}/people")
        page.fill("#name", "Bo")
        page.locator(f"#role-{role} + label").click()
        if role == "guest":
            page.select_option("#job", index=1)
        page.locator("main .main").click()
        page.wait_for_selector("#link")
        if role == "technician":
            yield Screen("people", "invited", "/people"), {"plain": shot(page)}
        link = page.input_value("#link").removeprefix(base)
        if role == "technician":
            yield taken("join", link)
        else:
            page.goto(base + link)
            page.locator("main .main").click()
            page.wait_for_selector("main .rows")
            yield Screen("people", "a guest", "/guest"), {"plain": shot(page)}
    page.close()


def sheets(title: str, rows: list[tuple[str, dict[str, Image.Image]]], looks: list[str]):
    """Sheets with one screen a row."""
    face = ImageFont.load_default(15)
    ready = [(name, small, max(one.height for one in small.values())) for name, small in rows]
    while ready:
        part = [ready.pop(0)]
        while ready and sum(high + HEAD + GAP for *_, high in [*part, ready[0]]) < SHEET_PX:
            part.append(ready.pop(0))
        wide = {
            look: max((s[look].width for _, s, _ in part if look in s), default=0) for look in looks
        }
        width = sum(one + GAP for one in wide.values() if one) + GAP
        sheet = Image.new(
            "RGB", (width, sum(h + HEAD + GAP for *_, h in part) + HEAD + GAP), GROUND
        )
        draw = ImageDraw.Draw(sheet)
        draw.text((GAP, 4), title, INK, font=face)
        top = HEAD + GAP
        for name, small, high in part:
            left = GAP
            for look in looks:
                if look in small:
                    draw.text((left, top), f"{name} · {look}"[: wide[look] // 7], INK, font=face)
                    sheet.paste(small[look], (left, top + HEAD))
                left += wide[look] + GAP if wide[look] else 0
            top += high + HEAD + GAP
        yield sheet


def take(options: argparse.Namespace) -> Iterator[Path]:
    """Take every screen, write the sheets, and give the file of each."""
    options.out.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as folder, sync_playwright() as playwright:
        app = make_app(Path(folder) / "log.db")
        beyond = make_app(Path(folder) / "open.db", listens_beyond=True)
        found = screens(app.extensions["joblog"])
        screens(beyond.extensions["joblog"])
        if options.only:
            found = [one for one in found if options.only in f"{one.group} {one.name}"]
        browser = playwright.chromium.launch(**launch_options())
        with serving(app) as base, serving(beyond) as open_base:
            for language in options.language:
                for width in options.width:
                    context = browser.new_context(
                        viewport={"width": width, "height": 640}, locale=language
                    )
                    context.add_cookies(
                        [
                            {"name": "language", "value": language, "url": one}
                            for one in (base, open_base)
                        ]
                    )
                    taken = walk(context, base, found, width, options.look)
                    if not options.only or "people" in options.only:
                        crew = people_screens(context, open_base, beyond, width, options.look)
                        taken = chain(taken, crew)
                    for group, rows in groupby(taken, key=lambda row: row[0].group):
                        named = [(screen.name, pictures) for screen, pictures in rows]
                        title = f"{group} · {language} · {width} px"
                        for n, sheet in enumerate(sheets(title, named, options.look), 1):
                            path = options.out / (
                                f"{language}-{width}-{group}-{n}.png".replace(" ", "-")
                            )
                            sheet.save(path)
                            yield path
                    context.close()
        browser.close()


def main() -> None:
    """Take the sheets that were asked for, all of them unless told otherwise."""
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path("contact-sheets"), help="folder to fill")
    parser.add_argument("--language", nargs="+", default=["en", "es"])
    parser.add_argument("--width", nargs="+", type=int, default=[360, 390])
    parser.add_argument("--look", nargs="+", choices=LOOKS, default=list(LOOKS))
    parser.add_argument("--only", default="", help="words of the group or name of a screen")
    for path in take(parser.parse_args()):
        print(path)  # noqa: T201


if __name__ == "__main__":
    main()
