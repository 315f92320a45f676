"""The lead's page over the invented month: numbers, filters, what comes back, the order."""

from __future__ import annotations

import csv
import io
import json
import re

import pytest
from click.testing import CliRunner
from support.hand import Hand

from fieldkit.app import make_app
from fieldkit.cli.demo import load_demo
from fieldkit.cli.main import main
from fieldkit.web import clock


@pytest.fixture(scope="module")
def month(tmp_path_factory):
    path = tmp_path_factory.mktemp("crew") / "log.db"
    application = make_app(path, testing=True)
    load_demo(application.extensions["joblog"], clock.now())
    yield application, path
    application.extensions["joblog"].close()


@pytest.fixture
def hand(month):
    return Hand(month[0].test_client())


def links(page):
    return re.findall(r'href="([^"]+)"', page.html.replace("&amp;", "&"))


def test_four_numbers_with_what_is_behind_them_and_what_lies_before(hand):
    page = hand.read("/crew")
    assert "Leaking or failed: 2" in page.words
    assert "and 2 from before" in page.words
    assert "Stair 2" in page.words
    assert "No sealant on a tapered thread" in page.words
    assert "Nothing here is real" in page.words
    whole = hand.read(next(one for one in links(page) if one.endswith("period=all#leaks")))
    assert "Leaking or failed: 4" in whole.words
    assert "To be tested then. (Mara Quill)" in whole.words, "what was waived, why and by whom"


def test_filters_are_links_and_live_in_the_address(hand):
    page = hand.read("/crew?period=all")
    ben = next(one for one in links(page) if "person=Ben+Carrow" in one)
    only = hand.read(ben)
    assert "Of 5 joints made here, 4 came back." in only.words
    weld = next(one for one in links(only) if "kind=solvent_socket" in one)
    assert "person=Ben+Carrow" in weld, "one filter keeps the others"
    assert hand.read(weld).status == 200
    assert hand.read("/crew?period=x&by=y&place=nowhere&cause=none").status == 200


def test_what_comes_back_by_person_only_if_asked(hand):
    page = hand.read("/crew?period=all")
    assert "Ben Carrow 5" not in page.words.split("What comes back")[1]
    asked = hand.read("/crew?period=all&by=person").words.split("What comes back")[1]
    assert "Ben Carrow" in asked
    assert "ask before you judge" in asked
    assert "too few to tell" in hand.read("/crew?by=heat").words


def test_page_command_json_and_csv_say_the_same(month, hand):
    app, path = month
    told = app.test_client().get("/crew/week.json?period=7").json
    run = CliRunner().invoke(main, ["crew", "--week", "--json", "--db", str(path)])
    said = json.loads(run.output)
    assert said["numbers"] == told["numbers"]
    assert said["returns"] == told["returns"]
    assert "person" not in said["returns"]
    rows = list(csv.DictReader(io.StringIO(app.test_client().get("/crew/week.csv?period=7").text)))
    counts = {number: behind["count"] for number, behind in told["numbers"].items()}
    assert {n: sum(row["number"] == n for row in rows) for n in counts} == counts
    plain = CliRunner().invoke(main, ["crew", "--week", "--by-person", "--db", str(path)]).output
    assert "Leaking or failed: 2 (and 2 from before)" in plain
    assert "person: Ben Carrow: 4 of 5" in plain


def test_the_order_takes_off_what_the_van_carries_and_rounds_to_packs(month, hand):
    """Two like joints of one adapter and one nut: counted by hand."""
    app, _ = month
    page = hand.read("/crew/order")
    assert "2 × adapter with a screw-in hole for ½ in pipe" in page.words
    assert "1 × primer and PVC cement" in page.words
    part = "van-female_adapter_0500_0500"
    assert "1 × adapter with a screw-in" in hand.read(f"/crew/order?{part}=1").words
    assert "adapter" not in hand.read(f"/crew/order?{part}=2").words.split("Take off")[0]
    wrong = hand.read(f"/crew/order?{part}=two")
    assert wrong.status == 422
    assert "Fix this" in wrong.words
    text = app.test_client().get("/crew/order.txt").text
    assert "2 × adapter with a screw-in hole for ½ in pipe (female adapter" in text
    upload = (io.BytesIO(b"part,price_usd,pack\nfemale_adapter_0500_0500,2,10\n"), "list.csv")
    hand.send(hand.read("/prices"), "/file", file=upload)
    packed = hand.read("/crew/order")
    assert "10 × adapter" in packed.words
    assert "1 pack of 10" in packed.words
    kept = hand.send(hand.read("/prices"), "/prices", tee_0500="1.10")
    assert kept.status == 200
    assert "1 pack of 10" in hand.read("/crew/order").words, "typing prices leaves packs"


@pytest.mark.parametrize(
    ("typed", "joint"),
    [
        ("not passed", "Stair 2"),
        ("popped", "Valve box F"),
        ("mara quill leaking", "Stair 2"),
        ("no sealant", "Stair 2"),
        ("pressure before cured", "Row 1"),
        ("waived dry until spring", "Station green"),
        ("female adapter", "Stair 7"),
        ("mara quill signed", "Station green"),
    ],
)
def test_search_finds_what_people_type_and_each_hit_says_where_and_who(hand, typed, joint):
    words = hand.read("/jobs?q=" + typed.replace(" ", "+")).words
    assert "Find a job" in words
    assert joint in words
    assert re.search(
        r"(Ben Carrow|Mara Quill|Jon Abbey|Ola Finch|Ugo Pratt) · \d\d \w{3} \d{4}", words
    )


def test_search_finds_a_day_and_the_words_of_another_language(month, hand):
    client = month[0].test_client()
    log = month[0].extensions["joblog"]
    made = log.search("no sealant")[0].entry.at[:10]
    assert "Stair 2" in hand.read(f"/jobs?q={made}").words
    client.set_cookie("language", "es")
    assert "Stair 2" in client.get("/jobs?q=sin+sellador").text
