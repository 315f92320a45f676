"""Every kind of page in every look: large text, narrow, bright sun, forced colours, print."""

from __future__ import annotations

import pytest

from fieldkit.flows.catalogue import flows
from fieldkit.web.commands.demo import load_demo

pytestmark = pytest.mark.browser

PLAIN = ("/", "/jobs", "/jobs?q=ring", "/tables", "/sources", "/prices", "/nothing-here")


@pytest.fixture
def every_page(server):
    """The address of one page of each kind, over the demo."""
    log = server.log
    load_demo(log)
    paths = [*PLAIN, *(f"/tables/{sheet}" for sheet in ("weld-times", "tubing-sizes", "cautions"))]
    answers: dict[str, str] = {}
    for job in log.jobs():
        for joint in log.joints(job.id):
            for flow, state in joint.states.items():
                answers.setdefault(flow, f"/joint/{joint.id}/{flow}/{state.run}/answer")
    came_off = next(job.id for job in log.jobs() if "came off" in job.name)
    mended, practice = log.joints(came_off)
    paths += [f"/job/{came_off}", f"/joint/{mended.id}", f"/joint/{practice.id}"]
    paths += answers.values()
    paths += [f"/joint/{practice.id}/{flow}" for flow in flows()]
    return paths


def sideways(page) -> bool:
    """Whether the page scrolls sideways."""
    return page.evaluate("document.documentElement.scrollWidth > innerWidth")


def test_every_page_is_sound(small_phone, every_page):
    for path in every_page:
        small_phone.open(path)


def test_large_text_on_a_narrow_screen_does_not_scroll_sideways(small_phone, every_page):
    """200 % text at 320 px, as WCAG 1.4.4 and 1.4.10 ask."""
    page = small_phone.page
    page.set_viewport_size({"width": 320, "height": 640})
    page.add_init_script(
        "document.addEventListener('DOMContentLoaded',"
        " () => { document.documentElement.style.fontSize = '200%'; });"
    )
    wide = []
    for path in every_page:
        page.goto(small_phone.address + path)
        if sideways(page):
            wide.append(path)
    assert not wide


def test_bright_sun_is_sound_too(small_phone, every_page):
    small_phone.open("/")
    small_phone.page.get_by_role("button", name="Bright sun").tap()
    small_phone.page.wait_for_selector("html.sun")
    for path in every_page[::3]:
        small_phone.open(path)


@pytest.mark.parametrize(
    "media", [{"forced_colors": "active"}, {"reduced_motion": "reduce"}, {"media": "print"}]
)
def test_other_media(small_phone, every_page, media):
    """Words stay, nothing moves, and print leaves out what cannot be pressed on paper."""
    page = small_phone.page
    page.emulate_media(**media)
    for path in every_page[::2]:
        page.goto(small_phone.address + path)
        if "media" in media and page.locator("h1 >> xpath=ancestor::form").count():
            continue  # a question is a form: nothing to press on paper
        assert page.locator("h1").is_visible()
        assert not sideways(page)
        moving = page.evaluate("document.getAnimations().length")
        assert moving == 0
        if "media" in media:
            assert not page.locator("footer").first.is_visible()
            assert (
                not page.locator(".act").first.is_visible()
                if page.locator(".act").count()
                else True
            )
