"""An old phone on a slow network: what travels, and when the largest thing on the page is there.

``pytest -s tests/browser/test_speed.py --benchmark-enable`` also judges the times and says them;
do that on a quiet machine.
"""

from __future__ import annotations

import sys
from statistics import median

import pytest
from support.screens import four_pages

pytestmark = pytest.mark.browser

#: The usual figures for "slow 4G", and a phone four times slower than this machine.
SLOW_4G = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1_638_400 / 8,
    "uploadThroughput": 750_000 / 8,
}
SLOWER = 4

LARGEST_PAINT = """() => new Promise((resolve) => {
  new PerformanceObserver((seen) => resolve(seen.getEntries().at(-1).startTime))
    .observe({ type: 'largest-contentful-paint', buffered: true });
})"""


class SlowPhone:
    """A page of a browser held to a slow network and processor; it counts what comes."""

    def __init__(self, context, base: str) -> None:
        self.base = base
        self.page = context.new_page()
        self.bytes = 0
        wire = context.new_cdp_session(self.page)
        wire.on("Network.loadingFinished", self._came)
        wire.send("Network.enable")
        wire.send("Network.emulateNetworkConditions", SLOW_4G)
        wire.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})

    def _came(self, seen) -> None:
        self.bytes += seen["encodedDataLength"]

    def open(self, path: str) -> tuple[float, float]:
        """Open a page; gives the time of its largest paint and what came. [ms], [bytes]"""
        self.bytes = 0
        self.page.goto(self.base + path, wait_until="networkidle")
        return self.page.evaluate(LARGEST_PAINT), self.bytes


def test_old_phone_on_a_slow_network(browser, server, request):
    """Under 50 KB for a first page, 20 KB for a later one; the largest paint within 1.5 s."""
    measuring = request.config.getoption("benchmark_enable")
    for screen in four_pages(server.log):
        paints = []
        for _ in range(5 if measuring else 1):
            context = browser.new_context(viewport={"width": 360, "height": 640})
            phone = SlowPhone(context, server.address)
            paint, first = phone.open(screen.path)
            _, again = phone.open(screen.path)
            context.close()
            paints.append(paint)
            assert first < 50_000
            assert again < 20_000
        if measuring:
            middle = median(paints)
            sys.stdout.write(
                f"{screen.name}: {middle:.0f} ms, {first:.0f} B, later {again:.0f} B\n"
            )
            assert middle < 1500
