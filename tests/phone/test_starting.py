"""The engine starts from what an earlier start left, and without it where that is of no use."""

from __future__ import annotations

import pytest
from phone.conftest import PREPARED, Phone

pytestmark = pytest.mark.browser

#: Cut what was left short.
SPOIL = """
async (name) => {
  const place = `${location.origin}/phone/runtime/made/${name}`;
  const cache = await caches.open((await caches.keys()).find((one) => one !== "fieldkit-state"));
  const kept = await cache.match(place);
  const half = (await kept.arrayBuffer()).slice(0, 1_000_000);
  await cache.put(place, new Response(half, { headers: kept.headers }));
}
"""


def started(phone: Phone) -> str:
    """A cold start on a deep link; how the engine started."""
    phone.start("tables/weld-times", offline=False)
    phone.page.wait_for_selector("html:not([data-shell]) main h1", timeout=60_000)
    assert phone.heading().startswith("Cement")
    return phone.until_engine().split()[0]


def test_a_spoilt_copy_of_the_memory_and_spoilt_byte_code_are_made_anew(phone: Phone):
    phone.server.kill()
    assert started(phone) == "memory"
    phone.page.evaluate(SPOIL, "memory")
    phone.stop()
    assert started(phone) == "code"
    phone.until(lambda: phone.page.evaluate(PREPARED), "no copy of the memory was made")
    for name in ("memory", "code.zip"):
        phone.page.evaluate(SPOIL, name)
    phone.stop()
    # The first engine makes byte code again, then hands over to one that starts with it.
    assert started(phone) in {"sources", "code"}
    phone.until(lambda: phone.until_engine().startswith("code"), "no handing over", 60)
    phone.until(lambda: phone.page.evaluate(PREPARED), "no copy of the memory was made")
