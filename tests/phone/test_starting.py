"""The engine starts from a copy of its memory, and without it where that is of no use."""

from __future__ import annotations

import pytest
from phone.conftest import DROP_MEMORY, PREPARED, Phone
from support.entries import entry

from fieldkit.joblog.entry import json_text

pytestmark = pytest.mark.browser

#: Do something to the file that holds the copy.
SPOIL = """
async (how) => {
  const folder = await navigator.storage.getDirectory();
  for await (const file of folder.values()) {
    if (!file.name.startsWith("fieldkit-memory-")) continue;  // the log lies beside it
    const bytes = new Uint8Array(await (await file.getFile()).arrayBuffer());
    const writer = await file.createWritable();
    if (how === "unfinished") await writer.write(bytes.fill(0, 0, 8));
    if (how === "other") await writer.write(bytes.fill(7, 8, 1_000));
    await writer.close();
  }
}
"""


DROP_PROGRAM = """
async () => {
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const { url } of await cache.keys()) if (url.endsWith(".wasm")) await cache.delete(url);
  }
}
"""


def started(phone: Phone) -> str:
    """A cold start on a deep link; how the engine started."""
    phone.start("tables/weld-times")
    phone.page.wait_for_selector("html:not([data-shell]) main h1")
    assert phone.heading().startswith("Cement")
    return phone.until_engine().split()[0]


def test_a_spoilt_copy_of_the_memory_is_made_anew(phone: Phone):
    phone.server.kill()
    assert started(phone) == "memory"
    for how in ("unfinished", "other"):
        phone.page.evaluate(SPOIL, how)
        phone.stop()
        assert started(phone) == "pack", how
        assert phone.page.evaluate(PREPARED)
        phone.stop()
        assert started(phone) == "memory", f"after {how}"


def test_a_start_that_was_asked_for_again_does_without_the_copy(phone: Phone):
    phone.start("tables/weld-times")
    assert phone.until_engine().startswith("memory")
    phone.page.evaluate(SPOIL, "other")
    phone.page.evaluate(
        "import(`${location.origin}/static/phone/lead.js`).then((one) => one.startAgain())"
    )
    phone.until(lambda: phone.until_engine().startswith("pack"), "it was not started again", 60)
    assert not phone.page.evaluate(PREPARED)


def test_a_start_whose_program_is_gone_fails_and_does_not_wait_for_ever(phone: Phone):
    phone.start("phone")
    phone.until_engine()
    phone.page.evaluate(DROP_PROGRAM)
    phone.stop()
    phone.server.kill()
    phone.start("tables/weld-times")
    phone.page.wait_for_selector("#shell-stuck:visible")
    assert phone.page.inner_text("#shell-why")


def test_where_a_copy_has_no_room_it_takes_none(phone: Phone):
    phone.start("tables/weld-times")
    phone.until_engine()
    used = phone.page.evaluate("navigator.storage.estimate().then((one) => one.usage)")
    phone.page.evaluate(DROP_MEMORY)
    phone.grant(used - 10_000_000)
    phone.page.reload()
    assert phone.until_engine().startswith("pack")
    assert not phone.page.evaluate(PREPARED)
    assert phone.page.evaluate("navigator.storage.estimate().then((one) => one.usage)") < used / 2


#: What a first taking along leaves that was cut short, begun again and not read yet.
TAKEN_IN_PIECES = """
async ([texts, ids]) => {
  const store = await import("/static/phone/store.js");
  const before = (await store.counts()).all;
  const page = { entries: texts.map((text) => [text, "2026-05-02T09:00:00.000Z"]), ids };
  await store.addFirst({ entries: page.entries.slice(0, 130), ids: ids.slice(0, 130) }, {});
  await store.addFirst(page, { pieces: "kept" });
  return [before, (await store.counts()).all];
}
"""

EXPORTED = """
async () => {
  const began = performance.now();
  const { entries } = await (await fetch("/job/job-1/export.json")).json();
  return [entries.map((one) => one.id), performance.now() - began];
}
"""

COUNTED = """
async () => {
  const store = await import("/static/phone/store.js");
  return [await store.countAfter(0), (await store.counts()).all, await store.kept("pieces")];
}
"""


def test_what_was_taken_along_in_pieces_is_read_by_the_next_start_each_entry_once(phone: Phone):
    phone.start("phone")
    phone.until_engine()
    phone.server.kill()
    made = [entry(n, note=f"Note {n}.") for n in range(250)]
    texts = [json_text(one.as_json()) for one in made]
    before, kept = phone.page.evaluate(TAKEN_IN_PIECES, [texts, [one.id for one in made]])
    assert kept == before + 130 + 250
    phone.stop()
    phone.start("phone")
    phone.until_engine()
    ids = [one.id for one in made]
    first, took_ms = phone.page.evaluate(EXPORTED)
    assert first == ids or took_ms >= 3000, "half a job was shown though nobody had waited for it"
    phone.until(
        lambda: phone.page.evaluate(EXPORTED)[0] == ids, "not all were read, each once and in order"
    )
    assert phone.page.evaluate(COUNTED) == [before + 250, before + 250, "kept"]
