"""A real browser as a phone: seals hold there, older copies are mended, a rewritten log is told."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from phone.conftest import Phone
from support.entries import NOW, START_MS, a_job, entry

from fieldkit.joblog import JobLog, new_id
from fieldkit.joblog.signing import all_entries, check, seal

pytestmark = pytest.mark.browser

#: Numbers that a browser writes in its own way.
AWKWARD = [68.0, 1e16, 1e-7, 0.00001, -0.0, 7.177877654825074e16]

#: What an older program left: each text as the browser writes it, and nothing known of the new.
AS_AN_OLDER_PROGRAM = """
async () => {
  const store = await import("/static/phone/store.js");
  const opened = await new Promise((resolve) => {
    const asked = indexedDB.open("fieldkit", 1);
    asked.onsuccess = () => resolve(asked.result);
  });
  let changed = 0;
  const doing = opened.transaction("entries", "readwrite");
  const entries = doing.objectStore("entries");
  entries.openCursor().onsuccess = ({ target }) => {
    if (!target.result) return;
    const text = JSON.stringify(JSON.parse(target.result.value.text));
    changed += text !== target.result.value.text;
    target.result.update({ ...target.result.value, text });
    target.result.continue();
  };
  await new Promise((resolve) => (doing.oncomplete = resolve));
  opened.close();
  await store.keep({ asSealed: undefined });
  return changed;
}
"""

#: Save what has a time 10 s further ahead than is taken, and send it before that has come.
SAVE_EARLY = """
async (entry) => {
  const [store, field] = await Promise.all(
    ["store", "field"].map((name) => import(`/static/phone/${name}.js`)),
  );
  const at = new Date(Date.now() + 310_000).toISOString();
  await store.addOwn([JSON.stringify({ ...entry, at })]);
  while (!(await field.exchangeNow()));
}
"""

TEXTS = """
async () => (await (await import("/static/phone/store.js")).after(0, 10000)).map((one) => one.text)
"""


def kept(phone: Phone, key: str):
    """A named value of the phone's store."""
    return phone.page.evaluate(
        f"import('/static/phone/store.js').then((store) => store.kept('{key}'))"
    )


def page_of(phone: Phone, path: str) -> str:
    """What a page of the phone says."""
    phone.page.goto(phone.base + path)
    phone.page.wait_for_selector("html:not([data-shell]) main h1")
    return phone.page.inner_text("main")


def sealed_job(log: JobLog) -> None:
    """A job with numbers that a browser writes in its own way, signed on the server."""
    log.append([*a_job(), entry(7, joint="joint-1", understood=AWKWARD)], NOW)
    said = {"name": "Ann", "complete": {}, "waived": []}
    made = entry(8, "signature", understood=said, result={"headline": "Signed by Ann"}, who="Ann")
    log.append([seal(made, all_entries(log, "job-1"))], NOW)


def test_seals_hold_on_a_phone_and_an_older_copy_is_read_anew(phone: Phone):
    with JobLog.open(phone.server.db) as log:
        sealed_job(log)
        phone.start("")
        phone.until(lambda: len(phone.page.evaluate(TEXTS)) == 9, "the entries did not come")
        assert kept(phone, "head") == {"size": log.count(), "root": log.head().root}
        assert "seal holds" in page_of(phone, "job/job-1/sign").lower()
        before = phone.page.evaluate(TEXTS)
        assert phone.page.evaluate(AS_AN_OLDER_PROGRAM) == 1
        phone.exchange()
        assert phone.page.evaluate(TEXTS) == before
        assert kept(phone, "mended") == 1
        # Signed on the phone, without signal, over what others made.
        phone.context.set_offline(True)
        page_of(phone, "job/job-1/sign")
        phone.page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = 1))")
        phone.page.fill("[name=name]", "Bo")
        for box in phone.page.query_selector_all("[name^=waive-]"):
            box.fill("dry fit, tested later")
        phone.page.click("main form button.main")
        phone.until(
            lambda: phone.page.inner_text("main").lower().count("seal holds") == 2, "not signed"
        )
        phone.context.set_offline(False)
        phone.page.evaluate("window.dispatchEvent(new Event('online'))")
        phone.until(lambda: log.count() == 10, "the signature was not sent")
        assert [one.whole for one in check(all_entries(log, "job-1"))] == [True, True]


def test_a_log_that_was_rewritten_is_said_plainly_until_somebody_has_seen_it(phone: Phone):
    with JobLog.open(phone.server.db) as log:
        sealed_job(log)
        company = log.company
        found = [one.entry for one in log.since(0)]
    phone.start("")
    phone.until(lambda: len(phone.page.evaluate(TEXTS)) == 9, "the entries did not come")
    phone.until_line("All sent at")
    assert "rewritten" not in phone.line()
    phone.server.kill()
    for ending in ("", "-wal", "-shm"):
        phone.server.db.with_name(phone.server.db.name + ending).unlink(missing_ok=True)
    with JobLog.open(phone.server.db) as log:  # whole in itself, but one note is not what it was
        made = [one for one in found if one.kind not in {"note", "signature"}]
        log.append([*made, entry(9, note="dry"), entry(10), entry(11)], NOW)
    with closing(sqlite3.connect(phone.server.db)) as conn:
        conn.execute("UPDATE company SET id = ?", (company,))
        conn.commit()
    phone.server.start()
    phone.exchange()
    phone.until_line("The server’s log was rewritten")
    page_of(phone, "phone")
    phone.until(lambda: phone.page.is_visible("#rewritten"), "nothing is said")
    assert f"9:{kept(phone, 'rewritten')['seen']['root']}" in phone.page.inner_text("#rewritten")
    phone.page.click("#rewritten-seen")
    phone.until(lambda: "rewritten" not in (phone.line_or_none() or ""), "it is still said")
    # What was rewritten away is still here, and there again.
    assert len(phone.page.evaluate(TEXTS)) == 12
    # But a signature that is not the sender's own is not taken from a phone: the line says so.
    phone.until_line("1 refused")
    with JobLog.open(phone.server.db) as log:
        assert log.count() == 11


def test_what_a_fast_clock_made_waits_on_the_phone_for_its_time(phone: Phone):
    phone.start("")
    phone.until_line("All sent at")
    body = entry(0, note="early").as_json() | {"id": new_id(START_MS, b"early-note")}
    phone.page.evaluate(SAVE_EARLY, body)
    phone.until_line("1 refused")
    with JobLog.open(phone.server.db) as log:
        assert log.count() == 0
        phone.until(lambda: (phone.exchange(), log.count())[1], "its time never came")
        assert log.entry(body["id"]).entry.note == "early"
    phone.until_line("All sent at")
    assert "refused" not in phone.line()
