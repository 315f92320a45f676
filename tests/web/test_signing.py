"""The lead's page: refused while something is missing, waived with a reason, signed again."""

from __future__ import annotations

from support.entries import NOW, a_job, entry

from fieldkit.joblog.signing import all_entries, check


def seeded(app):
    log = app.extensions["joblog"]
    log.append(a_job(), NOW)
    return log


def reasons(page, words="Seen by me on site"):
    _, fields = page.form("/sign")
    return {name: words for name in fields if name.startswith("waive-")}


def test_signing_is_refused_while_something_is_missing(app, hand):
    log = seeded(app)
    page = hand.read("/job/job-1/sign")
    assert "Missing" in page.words
    assert "/joint/joint-1/choose" in page.html
    page = hand.send(page, "/sign", name="Ann")
    assert page.status == 422
    assert "is not complete" in page.words
    assert not check(all_entries(log, "job-1"))


def test_a_point_is_waived_with_a_reason_then_countersigned_and_signed_again(app, hand):
    log = seeded(app)
    page = hand.read("/job/job-1/sign")
    signed = hand.send(page, "/sign", name="Ann", **reasons(page))
    assert signed.status == 200
    assert "Seal holds" in signed.words
    assert "Seen by me on site" in signed.words
    assert hand.send(page, "/sign", name="Ann", **reasons(page)).words.count("Seal holds") == 1
    second = hand.send(signed, "/sign", name="Bo", **reasons(signed))
    assert second.words.count("Seal holds") == 2
    log.append([entry(50, note="one more")], NOW)
    page = hand.read("/job/job-1/sign")
    assert "After signing: 1 entry was added" in page.words
    assert "Note: one more" in page.words
    assert hand.send(page, "/sign", name="Bo", **reasons(page)).words.count("Seal holds") == 3


def test_what_was_added_meanwhile_is_looked_at_first(app, hand):
    log = seeded(app)
    page = hand.read("/job/job-1/sign")
    log.append([entry(50, note="one more")], NOW)
    page = hand.send(page, "/sign", name="Ann", **reasons(page))
    assert page.status == 422
    assert "added to this job meanwhile" in page.words


def test_somebody_must_sign(app, hand):
    seeded(app)
    page = hand.read("/job/job-1/sign")
    page = hand.send(page, "/sign", **reasons(page))
    assert page.status == 422
    assert "Write who signs" in page.words
