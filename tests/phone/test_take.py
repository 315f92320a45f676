"""Taking a phone to the field: fetched in parts, stopped and taken up again, tried once."""

from __future__ import annotations

import pytest
from phone.conftest import Phone
from phone.test_keeping import new_job
from support.chromium import launch_options

from fieldkit.phone import runtime

pytestmark = pytest.mark.browser

#: What was promised for the first download. [bytes]
LARGEST_FETCH = 8_000_000


def test_the_size_is_said_first_and_is_under_8_mb(taken):
    megabytes = float(taken["offer"].split(" MB")[0])
    # To one place; ``test_kit.py`` holds the bytes under it.
    assert 3 < megabytes <= LARGEST_FETCH / 1e6


def test_a_phone_without_room_says_so_and_goes_on_when_there_is_some(taken):
    assert taken["full"] == "This phone has no room for it. Clear some space, then go on."
    assert taken["again"] == "Go on fetching"


def test_a_stop_keeps_what_was_fetched_and_the_rest_is_fetched_later(taken):
    assert taken["stopped"] == "Stopped. What was fetched stays here."
    assert taken["again"] == "Go on fetching"
    before, after = taken["fetched_before"], taken["fetched_after"]
    assert len(before) >= 3
    assert not set(before[:-1]) & set(after), "a whole part was fetched twice"
    assert len(set(before) | set(after)) == 2 + len(runtime.FILES)


def test_the_page_says_whether_the_browser_promised_to_keep_it(taken):
    assert taken["promised"] in {
        "The phone promised to keep it.",
        "The phone may clear it when it runs out of room. Send what you saved when there is"
        " signal.",
    }


def test_what_a_browser_cannot_do_is_said_before_anything_is_fetched(server, chromium):
    """No https; the page of a phone whose icon keeps its own store; no modules for workers."""
    options = launch_options()
    options["args"] = [*options["args"], "--host-resolver-rules=MAP field.test 127.0.0.1"]
    browser = chromium.launch(**options)
    page = browser.new_page(viewport={"width": 390, "height": 844})
    fetched: list[str] = []
    page.on("request", lambda request: fetched.append(request.url))
    page.goto(f"http://field.test:{server.port}/phone")
    page.wait_for_selector("#take-insecure:visible")
    assert "begins with http://" in page.inner_text("#take-say")
    assert "fieldkit phone export" in page.inner_text("#take-insecure")
    assert not page.is_visible("#take-start")

    page.add_init_script(
        "Object.defineProperty(navigator, 'standalone', { value: false });"
        "ServiceWorkerContainer.prototype.register = () => Promise.reject(new TypeError('module'));"
    )
    page.goto(f"{server.address}/phone")
    page.click("#take-start.other:visible:text-is('Take it along in this browser only')")
    assert "Choose the line with a plus in a box" in page.inner_text("#take-home:visible")
    assert "is cleared after seven days of use" in page.inner_text("#take-home")
    page.wait_for_selector("text=this browser is too old; bring it up to date, then come back")
    icon = page.get_attribute("link[rel=apple-touch-icon]", "href")
    assert page.evaluate(SIZE_OF, icon) == [180, 180]
    assert not [url for url in fetched if url.endswith(".gz")]
    browser.close()


#: The icon of a phone that sends nothing by itself. Whether it may keep is asked and answered here.
ASKING = """
Object.defineProperty(navigator, "standalone", { value: true });
delete ServiceWorkerRegistration.prototype.sync;
StorageManager.prototype.persisted = async () => localStorage.promised === "yes";
StorageManager.prototype.persist = () => {
  localStorage.asked = Number(localStorage.asked ?? 0) + 1;
  return new Promise((resolve) => {
    window.answer = (promised) => {
      if (promised) localStorage.promised = "yes";
      resolve(promised);
    };
  });
};
"""


def test_a_phone_asks_again_to_keep_it_until_that_is_promised(phone: Phone):
    """Nothing waits for the answer. That it sends only while it is open is said where it counts."""
    page = phone.start()
    page.add_init_script(ASKING)

    def opened() -> None:
        page.goto(phone.base + "phone")
        page.wait_for_selector("#kept-say:has-text('Sent only while this tool is open.')")
        assert page.is_visible("#take-open"), "it waits for the answer"
        assert not page.is_visible("#take-home"), "it was begun from its icon"

    for n, promised in enumerate((False, True), start=1):
        opened()
        page.wait_for_selector("#take-kept:has-text('may ask whether it may keep this for good')")
        assert page.evaluate("localStorage.asked") == str(n)
        page.evaluate("promised => answer(promised)", promised)
        said = "The phone promised to keep it." if promised else "The phone may clear it when"
        page.wait_for_selector(f"#take-kept:has-text('{said}')")
    opened()
    assert page.inner_text("#take-kept") == "The phone promised to keep it."
    assert page.evaluate("localStorage.asked") == "2", "it was promised already"
    phone.server.kill()
    new_job(phone)
    phone.until_line(
        "No signal. Saved on this phone, 1 to send. Sent only while this tool is open."
    )


SIZE_OF = """
async (address) => {
  const image = new Image();
  image.src = address;
  await image.decode();
  return [image.naturalWidth, image.naturalHeight];
}
"""


def test_nothing_breaks_a_policy_and_no_request_leaves_the_host(taken):
    assert taken["phone"].faults == []


def test_the_servers_secret_is_nowhere_on_the_phone(taken):
    secret = taken["phone"].server.db.with_suffix(".secret").read_bytes().strip()
    assert len(secret) == 64
    for file in taken["phone"].profile.rglob("*"):
        if file.is_file() and not file.is_symlink():
            assert secret not in file.read_bytes(), file
