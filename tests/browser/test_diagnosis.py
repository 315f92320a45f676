"""A homeowner and a technician reach the right advice by touch, one question a page."""

from __future__ import annotations

from collections import defaultdict

import pytest
from browser.fingers import Touch

pytestmark = pytest.mark.browser

#: A popped ring fitting, as a homeowner sees it: no caliper, no gauge.
POPPED = {
    "safe": "shut",
    "fitting_type": "ring",
    "leak_place": "tube_mouth",
    "when_first": "first_fill",
    "push_effort": "slid_on",
    "tube_state": "firm",
    "side_load": "relaxed",
    "bang_on_close": "no",
}

#: A weeping thread, as a technician finds it.
WEEPING = {
    "safe": "shut",
    "place": "thread",
    "failure_form": "slow_drip",
    "when_first": "first_fill",
    "turns_past_hand": "1.5",
    "crack_seen": "none",
    "thread_start": "straight",
    "thread_parts": "moulded_pair",
    "thread_sealant": "none",
}


def step_of(watched) -> str:
    return watched.page.url.rsplit("/", 1)[1]


def answer_all(watched, hand, story) -> list[str]:
    """Answer what is asked from the story; what it does not say is "can't tell"."""
    asked = []
    known = defaultdict(lambda: None, story)
    while step_of(watched) != "answer":
        asked += hand.answer(known)
        assert len(asked) < 12
    return asked


def begin(watched, start: str) -> Touch:
    watched.open("/")
    hand = Touch(watched)
    hand.tap(watched.page.locator(f'button[value="{start}"]'))
    return hand


@pytest.mark.parametrize("phone_kind", ["small_phone", "no_scripts"])
def test_a_homeowner_with_a_popped_fitting(request, phone_kind):
    watched = request.getfixturevalue(phone_kind)
    hand = begin(watched, "popped")
    asked = answer_all(watched, hand, POPPED)
    assert asked[0] == "safe"
    words = watched.page.locator("main").inner_text()
    assert "Tube OD does not match the ring" in words
    assert "How to repair it" in words
    assert "When to stop and call a licensed person" in words


def test_a_technician_at_a_weeping_thread_goes_back_and_changes_an_answer(small_phone):
    hand = begin(small_phone, "leak")
    hand.give("barb")  # the wrong place first
    small_phone.page.go_back()
    small_phone.look()
    assert step_of(small_phone) == "place"
    hand.give("thread")
    asked = answer_all(small_phone, hand, WEEPING)
    assert "hold_down" not in asked  # a question of barbs
    words = small_phone.page.locator("main").inner_text()
    assert "No sealant on a tapered thread" in words.split("Prove it before")[0]
    small_phone.page.get_by_text("What you answered").tap()
    change = small_phone.page.locator("main a", has_text="Where does the first drop appear")
    hand.tap(change)
    assert step_of(small_phone) == "place"


def test_the_answer_can_be_had_at_any_time_and_what_it_really_was_is_kept(small_phone, server):
    hand = begin(small_phone, "popped")
    for _ in range(3):
        hand.give(POPPED.get(step_of(small_phone)))
    hand.press("Answer now")
    assert step_of(small_phone) == "answer"
    hand.press_first_card()
    joint = next(iter(server.log.joints_knowing("leak.really")))
    assert joint.facts["leak.really"]
