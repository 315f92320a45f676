"""Gas pipe on the pages: a stop that looks like one, on every page that would go on."""

from __future__ import annotations

import html
import re

import pytest

from fieldkit.tables.cautions import stops

GAS = "WARNING GAS 3/4 IPS SDR 11 PE2708 ASTM D2513"


@pytest.fixture
def joint(hand):
    return hand.send(hand.read("/"), "/start", what="new").path.split("/")[2]


def named(hand, joint, print_line):
    page = hand.answer(hand.read(f"/joint/{joint}/identify-tube"), "1.050 in")
    return hand.answer(page, print_line)


def test_a_gas_print_ends_in_a_stop_with_whom_to_call(hand, joint):
    page = named(hand, joint, GAS)
    assert page.path.endswith("/answer")
    assert "gas pipe" in page.heading
    assert "band--stop" in page.html
    assert "call the gas utility" in page.words
    assert "Next:" not in page.words
    assert "It is this one" not in page.words  # no card to pick it all the same


@pytest.mark.parametrize(
    "flow", ["choose", "join-cement", "join-tube", "plan-test", "prove", "hold", "surge",
             "leak-now", "popped-off", "measure-tube"],
)  # fmt: skip
def test_each_later_page_is_the_same_stop(hand, joint, flow):
    named(hand, joint, GAS)
    page = hand.read(f"/joint/{joint}/{flow}")
    assert page.status == 422
    assert "band--stop" in page.html
    assert "nothing may be cut or joined" in page.heading
    assert "Smell or hiss" in page.words


def test_the_joint_says_so_and_a_print_read_anew_takes_it_away(hand, joint):
    named(hand, joint, GAS)
    page = hand.read(f"/joint/{joint}")
    assert "It is gas pipe." in page.words
    assert "Next:" not in page.words
    page = hand.answer(
        hand.read(f"/joint/{joint}/identify-tube"), "3/4 IN SIDR 7 PE3608 200 PSI ASTM D2239 NSF-PW"
    )
    assert "gas" not in page.heading
    assert "It is gas pipe." not in hand.read(f"/joint/{joint}").words
    assert hand.read(f"/joint/{joint}/measure-tube").status == 200


@pytest.mark.parametrize("stop", ["gas", "wires", "house", None])
def test_what_to_do_and_whom_to_call_stand_open(hand, joint, stop):
    asked = hand.read(f"/joint/{joint}/popped-off")
    page = hand.answer(asked) if stop is None else hand.answer(asked, stop)
    row = stops()[{None: "cannot_shut_off", "wires": "electricity", "house": "house_side"}
                  .get(stop, stop)]  # fmt: skip
    assert page.heading == row.headline
    plain = " ".join(re.sub(r"<details.*?</details>|<[^>]+>", " ", page.html, flags=re.S).split())
    for line in (*row.do, *row.call):
        assert line in html.unescape(plain)
    again = hand.read(f"/joint/{joint}/join-cement")
    assert again.status == 422
    assert again.heading == row.headline
    assert row.call[0] in again.words


def test_the_zero_is_asked_once_for_all_joints_of_a_job(hand):
    first = hand.send(hand.read("/"), "/start", what="new").path.split("/")[2]

    def readings(flow):
        page = hand.read(f"/joint/{first}/{flow}")
        return page if page.path.endswith("/print") else hand.answer(page, "caliper")

    page = readings("measure-tube")
    assert "Jaws closed" in page.words
    told = {
        "readings.value-0": "0.701",
        "readings.value-1": "0.699",
        "zero.value": "0.002 in",
        "temperature.value": "73 F",
    }
    hand.send(page, "/print", answer="give", **told)
    assert "0.698 in" in hand.read(f"/joint/{first}").words
    assert "Jaws closed" not in readings("measure-pipe").words
