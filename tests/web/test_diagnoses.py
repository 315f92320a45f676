"""The paper sheet as a page, and the tally of first guesses with its export."""

from __future__ import annotations

import csv
import io
import re

from support.hand import Hand

from fieldkit.joblog import Entry, utc_text
from fieldkit.tables.diagnosis import options
from fieldkit.web.ids import fresh_id


def closed_joint(log, guess, really, *, demo=False):
    job, joint = fresh_id(), fresh_id()
    at = utc_text(1_777_644_180_000)
    facts = {"leak.cause": guess, "leak.probability": 0.8, "leak.really": really}
    entries = [
        Entry(id=job, at=at, job=job, kind="job", understood={"name": "J", "demo": demo}),
        Entry(id=joint, at=at, job=job, joint=joint, kind="joint", understood={"name": "K"}),
        Entry(id=fresh_id(), at=at, job=job, joint=joint, kind="pick", facts=facts),
    ]
    assert not log.append(entries, received=at).refused


def test_the_paper_is_a_sound_page_with_every_type_of_joint(hand: Hand):
    page = hand.read("/paper")
    assert page.status == 200
    assert "First make it safe" in page.words
    assert page.html.count('class="kind"') == len(options()["fitting_type"])


def test_the_tally_counts_only_what_was_found_out_and_nothing_invented(app, hand: Hand):
    assert "Nothing yet" in hand.read("/diagnoses").words
    log = app.extensions["joblog"]
    closed_joint(log, "no_primer", "no_primer")
    closed_joint(log, "no_primer", "weld_not_seated")
    closed_joint(log, "barb_no_clamp", "barb_no_clamp", demo=True)
    page = hand.read("/diagnoses")
    cells = re.findall(r"<t[hd][^>]*>([^<]*)</t[hd]>", page.html)
    assert cells[4:12] == ["Glued without primer", "2", "1", "50%", "All", "2", "1", "50%"]
    assert cells[12:16] == ["Cause", "Found", "By the trade’s judgment", "With your history"]
    assert cells[16:18] == ["Glued without primer", "1"]
    text = hand.client.get("/diagnoses.csv").get_data(as_text=True)
    rows = list(csv.DictReader(io.StringIO(text)))
    assert sorted((row["guess"], row["really"]) for row in rows) == [
        ("no_primer", "no_primer"),
        ("no_primer", "weld_not_seated"),
    ]


def test_the_next_diagnosis_counts_what_was_found_out(app, hand: Hand):
    for _ in range(60):
        closed_joint(app.extensions["joblog"], "no_primer", "weld_not_seated")
    joint = hand.send(hand.read("/"), "/start", what="new").path.split("/")[2]
    page = hand.read(f"/joint/{joint}/popped-off")
    for value in ("shut", "solvent_socket"):
        page = hand.send(page, answer="give", value=value)
    page = hand.send(page, answer="enough")
    assert "Pipe not pushed to the bottom of the socket" in page.heading
