"""Pictures to touch, waits that count down, and the screen gauge, in a real browser."""

import json
import re

import pytest
from browser.fingers import Keys, Touch
from browser.journey import JOB
from support.hand import Hand

pytestmark = pytest.mark.browser

#: A joint at 50 °F, so the cement wants a hold.
GLUED = JOB["join-cement"] | {
    "size": "1/2",
    "wall": "Sch 40",
    "temperature": "50 F",
    "humidity": "60 %",
    "pressure": "100 psi",
}


def to_places(watched):
    """From the first page to the picture of the places."""
    watched.open("/")
    watched.page.locator('button[value="leak"]').click()
    return watched.look()


def chosen(watched):
    """Go back to the question that was just answered; the number of the option it holds."""
    watched.page.locator(".undo a").click()
    watched.page.wait_for_url("**/place")
    watched.look()
    return watched.page.locator("button.tile--chosen .pick__number").inner_text()


@pytest.mark.parametrize("fixture", ["small_phone", "no_scripts"])
def test_a_place_is_picked_by_touching_it_in_the_picture(request, fixture):
    watched = request.getfixturevalue(fixture)
    to_places(watched)
    spots = watched.page.locator("label.spot")
    assert spots.count() == watched.page.locator("button.tile").count() == 10
    for number in ("4", "6"):
        spot = watched.page.locator(f'label.spot[for="value-{number}"]')
        box = spot.bounding_box()
        assert min(box["width"], box["height"]) >= 48
        with watched.page.expect_navigation():
            spot.tap()
        watched.look()
        assert chosen(watched) == number


def test_the_places_are_reached_by_keyboard_and_the_picture_follows(small_phone):
    to_places(small_phone)
    keys = Keys(small_phone)
    keys.focus("#value-2")
    ground = (
        'getComputedStyle(document.querySelector(`label.spot[for="${}"] span`)).backgroundColor'
    )
    followed = small_phone.page.evaluate(ground.replace("${}", "value-2"))
    assert followed != small_phone.page.evaluate(ground.replace("${}", "value"))
    keys.enter()
    assert chosen(small_phone) == "2"


def to_hold(watched):
    """A new joint, glued up to the hold."""
    watched.open("/")
    watched.page.locator('button[value="new"]').click()
    watched.page.wait_for_load_state()
    joint = re.search(r"/joint/([^/]+)", watched.page.url)[1]
    watched.open(f"/joint/{joint}/join-cement")
    hand = Touch(watched)
    while "hold" not in hand.asked():
        hand.answer(GLUED)
    assert watched.heading == "Hold it"
    return joint


def pairs(words):
    """Number and unit, number and unit."""
    return zip(words[::2], words[1::2], strict=True)


def seconds_left(page):
    words = page.locator(".timer__left").inner_text().split()
    return sum(int(n) * {"min": 60, "s": 1}[unit] for n, unit in pairs(words))


def test_the_hold_counts_down_survives_a_reload_and_rings_when_allowed(small_phone):
    page = small_phone.page
    page.add_init_script(
        "window.rung = []; navigator.vibrate = (p) => window.rung.push('shook');"
        "const made = AudioContext.prototype.createOscillator;"
        "AudioContext.prototype.createOscillator = function () {"
        " window.rung.push('sounded'); return made.call(this); };"
    )
    to_hold(small_phone)
    first = seconds_left(page)
    assert 40 <= first <= 60
    page.reload()
    assert first - 15 <= seconds_left(page) <= first
    bell = page.locator(".timer__ring:not(.timer__awake)")
    bell.click()
    assert bell.get_attribute("aria-pressed") == "true"
    # The phone sleeps past the end: its clock has gone on when it wakes.
    page.evaluate("const real = Date.now; Date.now = () => real() + 61_000")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert page.locator(".timer__over").inner_text() == "Time is up."
    assert page.evaluate("window.rung") == ["shook", "sounded"]
    small_phone.look()


def test_nothing_rings_unasked(small_phone):
    page = small_phone.page
    page.add_init_script("window.rung = 0; navigator.vibrate = () => window.rung++;")
    to_hold(small_phone)
    page.evaluate("const real = Date.now; Date.now = () => real() + 61_000")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert page.locator(".timer__over").inner_text() == "Time is up."
    assert page.evaluate("window.rung") == 0


def test_without_scripts_the_end_of_the_hold_stands_in_words(no_scripts):
    to_hold(no_scripts)
    assert re.search(r"Hold until\s*\d\d:\d\d:\d\d", no_scripts.page.locator(".timer").inner_text())
    assert no_scripts.page.locator(".timer__ring:not(.timer__awake)").is_hidden()


def to_acts(server):
    """The address of the page of acts of a new joint whose ends are ready."""
    hand = Hand(server.app.test_client())
    page = hand.send(hand.read("/"), "/start", what="new")
    page = hand.read(re.search(r"/joint/[^/\"]+", page.path + page.html)[0] + "/join-cement")
    ready = {
        "size": "1/2",
        "wall": "Sch 40",
        "temperature": "50 F",
        "one_step": "two",
        "dry_fit": "snug",
    }
    given = {f"{one}.value": said for one, said in ready.items()}
    return hand.send(page, answer="give", **given).path


def test_cementing_is_talked_through_and_goes_on_over_the_page(phone, server):
    page = phone.page
    page.add_init_script("window.shaken = 0; navigator.vibrate = () => window.shaken++;")
    phone.open(to_acts(server))
    page.locator(".talk__start").click()
    now, next_act = page.locator(".talk__now"), page.locator(".talk__next")
    assert now.inner_text().startswith("Prime socket")
    box = next_act.bounding_box()
    assert box["height"] > 200
    assert box["width"] > 300
    assert phone.under_the_frame() == []
    next_act.tap()
    assert now.inner_text().startswith("Cement the pipe")
    next_act.tap()
    assert re.fullmatch(r"(20|19|18) s left", page.locator(".talk__left").inner_text())
    assert page.evaluate("window.shaken") == 3
    next_act.tap()
    page.wait_for_url("**/hold")
    now.wait_for()
    assert now.inner_text().startswith("Hold it still")
    seconds = int(page.locator(".talk__left").inner_text().split()[0])
    assert 20 < seconds <= 60
    page.get_by_text("Stop the talk").tap()
    assert page.locator("dialog.talk").is_hidden()


def measuring(watched):
    """A new joint, at the screen gauge for its tubing."""
    watched.open("/")
    watched.page.locator('button[value="new"]').click()
    watched.page.wait_for_load_state()
    joint = re.search(r"/joint/([^/]+)", watched.page.url)[1]
    watched.open(f"/joint/{joint}/measure-tube")
    watched.page.locator('button[value="screen"]').click()
    watched.look()
    watched.page.get_by_text("Open the screen gauge").click()
    return watched.look()


def test_the_screen_gauge_reads_by_the_card_and_fills_the_answer(phone):
    measuring(phone)
    page = phone.page
    card = page.locator(".gauge__card")
    tall, wide = (float(card.get_attribute(one)) for one in ("height", "width"))
    assert tall / wide == pytest.approx(85.60 / 53.98, rel=1e-6)  # ISO/IEC 7810 ID-1
    page.locator('[data-by="1"]').click()
    assert float(card.get_attribute("height")) == tall + 0.5
    page.get_by_text("The card fits").click()
    kept = json.loads(page.evaluate("localStorage.getItem('pixels-per-mm')"))
    assert kept["perMm"] == pytest.approx((tall + 0.5) / 85.60)
    assert kept["on"][:2] == "20"
    for _ in range(4):
        page.locator('[data-by="1"]').click()
    across = 2 * float(page.locator(".gauge__outside").get_attribute("r"))
    shown = page.locator("[data-set=outside] b").inner_text()
    assert float(shown.split()[0]) == pytest.approx(across / kept["perMm"] / 25.4, abs=0.0006)
    assert 0.016 < float(shown.split()[-1]) < 0.02
    page.locator('[data-set="bore"]').click()
    bore = 2 * float(page.locator(".gauge__bore").get_attribute("r"))
    assert bore < across
    for button in page.locator(".gauge button:visible").all():
        box = button.bounding_box()
        assert min(box["width"], box["height"]) >= 48
    phone.look()
    page.reload()  # this device remembers the card
    assert page.locator(".gauge__fit").is_hidden()
    page.locator('[data-set="bore"]').click()
    page.get_by_text("Use this").click()
    page.wait_for_load_state()
    assert "/identify-tube/" in page.url  # measured: on to its name


def test_the_screen_gauge_says_what_to_do_without_scripts(no_scripts):
    measuring(no_scripts)
    page = no_scripts.page
    assert page.locator("#gauge").is_hidden()
    assert "53.98 mm" in page.locator(".gauge__without").inner_text()  # ISO/IEC 7810 ID-1
    page.get_by_text("Wrap a strip of paper").click()
    assert no_scripts.look().heading.startswith("What can you measure the tubing with")


def test_the_paper_ruler_is_true_to_size_on_the_page(small_phone):
    small_phone.open("/ruler")
    box = small_phone.page.locator(".paper__sheet").bounding_box()
    assert box["width"] == pytest.approx(7.2 * 96, abs=0.5)  # CSS: 96 px to the inch
