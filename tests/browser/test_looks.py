"""Every screen in every look: the three lights, large text, forced colours, print; for a glove."""

from __future__ import annotations

from datetime import datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.watched import LAYOUT
from support import walks
from support.inspection import inspect_page
from support.screens import screens

from fieldkit.engine.working import to_json
from fieldkit.flows.catalogue import flows
from fieldkit.joblog import Entry
from fieldkit.web.ids import fresh_id

pytestmark = pytest.mark.browser

CONTRAST = {"runOnly": ["color-contrast"]}

#: One screen of each kind, looked at whole in the other language too.
SPOKEN = {"home", "job", "joint, practice", "record", "choose", "readings", "weld-times"}

CLASSES = "() => [...document.querySelectorAll('[class]')].flatMap(one => [...one.classList])"

#: What is folded is touched, too.
UNFOLD = "[...document.querySelectorAll('main details')].flatMap(one => (one.open = true, []))"

#: Whether the heading is there, the page is too wide, its colour, and whether one can press.
STANDING = """() => {
  const shown = (what) => [...document.querySelectorAll(what)].some((one) => one.checkVisibility());
  const wide = document.documentElement.scrollWidth > innerWidth;
  const colour = getComputedStyle(document.body).color;
  return [shown('h1'), wide, colour, shown('main button, .top, .act')];
}"""


@pytest.fixture
def every_screen(server):
    """Every screen over the demo."""
    return screens(server.log)


def together(faults):
    """Each fault once, with the screens that have it."""
    found: dict[str, list[str]] = {}
    for screen, fault in faults:
        found.setdefault(fault, []).append(screen)
    return "\n".join(f"{fault}: {', '.join(names[:4])}" for fault, names in found.items())


def test_every_screen_in_every_light(small_phone, every_screen):
    """Sound; contrast in each light; targets for a glove; the main action for one thumb."""
    page, faults, seen = small_phone.page, [], set()
    page.add_init_script(path=LAYOUT)
    for screen in every_screen:
        page.goto(small_phone.address + screen.path)
        inspect_page(page.content())
        for audit in ("outOfReach()", UNFOLD, "cutOff()", "missed()"):
            faults += [(screen.name, one) for one in page.evaluate(audit)]
        new = set(page.evaluate(CLASSES)) - seen
        seen |= new
        # The colours themselves are held to their contrast in web/test_style_sheets.py.
        for light in ("", "sun", "dark") if len(new) > 3 else ("",) if new else ():
            page.evaluate("light => { document.documentElement.className = light }", light)
            looked = Axe().run(page, options=CONTRAST if light else None)
            if looked.violations_count:
                faults.append((screen.name, f"{light} {looked.generate_report()}"))
    assert not faults, together(faults)


@pytest.mark.parametrize(("language", "every"), [("en", 4), ("es", 2)])
def test_nothing_is_cut_off_at_twice_the_size(small_phone, every_screen, language, every):
    """Twice the type at 360 px, and twice the zoom, which leaves 180 px (WCAG 1.4.4, 1.4.10)."""
    page, faults = small_phone.page, []
    page.add_init_script(path=LAYOUT)
    cookie = {"name": "language", "value": language, "url": small_phone.address}
    page.context.add_cookies([cookie])
    for screen in every_screen[::every]:
        page.set_viewport_size({"width": 180, "height": 320})
        page.goto(small_phone.address + screen.path)
        faults += [(screen.name, f"zoom: {one}") for one in page.evaluate("cutOff()")]
        page.set_viewport_size({"width": 360, "height": 640})
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        faults += [(screen.name, f"type: {one}") for one in page.evaluate("cutOff()")]
        if language != "en" and screen.name in SPOKEN:
            looked = Axe().run(page)
            faults += [(screen.name, looked.generate_report())] * bool(looked.violations_count)
    assert not faults, together(faults)


def test_a_long_name_without_a_blank_widens_no_page(small_phone):
    """The most that a name may hold: of a job, its place and a joint, where they are said."""
    page, name, faults = small_phone.page, "Wx" * 40, []
    page.add_init_script(path=LAYOUT)
    page.goto(f"{small_phone.address}/jobs")
    page.fill("#name", name)
    page.fill("#place", name)
    page.locator("main .main").last.click()
    page.wait_for_selector("#name")
    job = page.url
    page.fill("#name", name)
    page.locator("main .main").first.click()
    page.goto(job)
    joint = page.locator("main .rows .row").first.get_attribute("href")
    ends = ("", "/card", "/photos", "/measure-pipe", "/leak-now")
    paths = [f"{job}{one}" for one in ("", "/sign", "/record", "/labels")]
    paths += [f"{small_phone.address}{one}" for one in ("/", "/jobs", "/jobs?q=wx", "/crew")]
    paths += [f"{small_phone.address}{joint}{one}" for one in ends]
    for path in paths:
        for wide in (320, 390):
            page.set_viewport_size({"width": wide, "height": 640})
            page.goto(path)
            faults += [(path, one) for one in page.evaluate("cutOff()")]
    assert not faults, together(faults)


#: Screens that end in each way: in a bar at the edge, a button, words, something folded.
ENDS = {"home", "job", "joint, practice", "prices", "take it along", "one moment"}

LINE = """() => {
  const line = document.getElementById('signal');
  if (line) Object.assign(line, { hidden: false, textContent: 'No signal.' });
}"""


def test_nothing_lies_under_the_frame_of_a_phone(phone, every_screen):
    """The bar at the bottom edge, the line, what a page begins and ends with, the open menu."""
    page, faults = phone.page, []
    for screen in (one for one in every_screen if one.name in ENDS):
        page.goto(phone.address + screen.path)
        page.evaluate(LINE)
        faults += [(screen.name, one) for one in phone.under_the_frame()]
    page.goto(f"{phone.address}/jobs")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    faults += [("the way past the top", one) for one in phone.under_the_frame()]
    page.goto(f"{phone.address}/phone")
    page.locator(".menu > summary").tap()
    faults += [("the menu", one) for one in phone.under_the_frame()]
    assert not faults, together(faults)


#: What of an answer is not on its first screen, and what of it is too much.
FIRST_SCREEN = """stop => {
  const faults = [], bar = document.querySelector('.act--edge');
  const edge = bar.getBoundingClientRect();
  if (edge.bottom > innerHeight + 1) faults.push('what leads on is below the first screen');
  for (const one of document.querySelectorAll('.band__word, .band__say, .do'))
    if (one.getBoundingClientRect().bottom > edge.top + 1)
      faults.push(`${one.className} is below the first screen`);
  const care = [...document.querySelectorAll('.care:not([data-since])')];
  const open = care.filter((one) => one.checkVisibility());
  if (open.length > 2 && !stop) faults.push(`${open.length} cautions stand open`);
  return faults;
}"""


@pytest.fixture
def every_answer(server, every_screen):
    """Addresses of an answer of every verdict of every flow, and the demo's, with their names."""
    log, at = server.log, "2026-05-01T12:00:00.000Z"
    joint = next(one for job in log.jobs() for one in log.joints(job.id) if not one.states)
    found = [(one.name, one.path) for one in every_screen if one.group == "answers"]
    about = {"at": at, "job": joint.job, "joint": joint.id, "kind": "result"}
    for flow, given, answer in walks.every_answer(Random(1)):  # noqa: S311  -- no secret
        run, said = fresh_id(), to_json(given)
        log.append(
            [Entry(id=fresh_id(), **about, flow=flow, run=run, understood=said, result=answer)], at
        )
        found.append((f"{flow}, {answer['verdict']}", f"/joint/{joint.id}/{flow}/{run}/answer"))
    return found


def test_every_answer_decides_on_its_first_screen(small_phone, every_answer):
    """At 390 × 844, with twice the type, too; all of it is two and a half screens at the most."""
    page, faults = small_phone.page, []
    page.set_viewport_size({"width": 390, "height": 844})
    assert {name.partition(",")[0] for name, _ in every_answer} == set(flows())
    for name, path in every_answer:
        page.goto(small_phone.address + path)
        stop = name.endswith(", stop")
        faults += [(name, one) for one in page.evaluate(FIRST_SCREEN, stop)]
        high = page.evaluate("document.documentElement.scrollHeight") / 844
        if high > 2.5:
            faults.append((name, f"{high:.1f} screens high"))
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        faults += [(name, f"twice: {one}") for one in page.evaluate(FIRST_SCREEN, stop)]
    assert not faults, together(faults)


def test_times_are_told_in_the_readers_zone(small_phone, every_screen):
    """A record kept in UTC, read in Chicago: beside the IANA tz database as Python reads it."""
    page = small_phone.page
    record = next(one.path for one in every_screen if one.name == "record")
    zone = {"timezoneId": "America/Chicago"}
    page.context.new_cdp_session(page).send("Emulation.setTimezoneOverride", zone)
    page.goto(small_phone.address + record)
    time = page.locator("main time").first
    kept, shown = time.get_attribute("datetime"), time.inner_text()
    behind = datetime.fromisoformat(kept).astimezone(ZoneInfo("America/Chicago"))
    assert f"{behind:%d %b %Y, %H:%M}" in shown
    assert f"GMT{behind.utcoffset() // timedelta(hours=1)}" in shown


def test_the_light_is_chosen_and_kept(small_phone):
    """Bright sun by one tap on any page; dark, or as the phone says, among the choices."""
    page = small_phone.page

    def ground_of(path):
        page.goto(small_phone.address + path)
        return page.evaluate("getComputedStyle(document.body).backgroundColor")

    page.emulate_media(color_scheme="dark")
    by_the_phone = ground_of("/tables")
    page.locator(".menu summary").tap()
    page.locator(".menu button[value=sun]").tap()
    page.wait_for_selector("html.sun")
    assert page.url.endswith("/tables")
    assert ground_of("/jobs") == "rgb(255, 255, 255)"
    for light, scheme in (("dark", "light"), ("", "dark")):
        page.emulate_media(color_scheme=scheme)
        page.goto(f"{small_phone.address}/choices?back=/tables")
        page.locator(f'input[name=light][value="{light}"] + label').tap()
        page.locator("main .main").tap()
        page.wait_for_selector("html:not(.sun)")
        assert ground_of("/jobs") == by_the_phone


def test_other_media(small_phone, every_screen):
    """Forced colours: words stay. Still: nothing moves. Print: black on white, nothing to press."""
    page, faults = small_phone.page, []
    for screen in every_screen[::3]:
        page.emulate_media(
            media="screen", color_scheme="dark", forced_colors="active", reduced_motion="reduce"
        )
        page.goto(small_phone.address + screen.path)
        if page.evaluate("document.getAnimations().length"):
            faults.append((screen.name, "something moves"))
        for media in ("screen", "print"):
            page.emulate_media(media=media, forced_colors="active" if media == "screen" else "none")
            heading, wide, colour, pressed = page.evaluate(STANDING)
            if not heading:
                faults.append((screen.name, f"no heading in {media}"))
            if wide:
                faults.append((screen.name, f"wider than {media}"))
            if media == "print" and colour != "rgb(0, 0, 0)":
                faults.append((screen.name, "not printed in black"))
            if media == "print" and pressed:
                faults.append((screen.name, "something to press on paper"))
    assert not faults, together(faults)
