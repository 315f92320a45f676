"""The whole job, measured to verdict: by touch on two phones, by keyboard, without scripts."""

from __future__ import annotations

import pytest
from browser.fingers import Keys, Touch
from browser.journey import carry_through

pytestmark = pytest.mark.browser

IN_ORDER = (
    "measure-pipe",
    "identify-pipe",
    "measure-tube",
    "identify-tube",
    "choose",
    "join-cement",
    "join-thread",
    "join-tube",
    "plan-test",
    "prove",
)


def verdict_is_on_the_joint(watched, went):
    """The verdict stands on the joint's page and is in the log."""
    assert went == [flow for flow in IN_ORDER if flow in went]
    assert {"measure-pipe", "choose", "join-tube", "plan-test", "prove"} <= set(went)
    watched.page.locator(".top__where, .top__back").last.click()
    watched.look()
    assert "leaks" in watched.page.locator(".strip__zones .is-failed").inner_text()
    watched.page.locator("main summary").first.click()
    assert "It leaks." in watched.page.locator("main").inner_text()


def test_by_touch(small_phone):
    verdict_is_on_the_joint(small_phone, carry_through(small_phone, Touch(small_phone)))


def test_by_keyboard_alone(phone):
    verdict_is_on_the_joint(phone, carry_through(phone, Keys(phone)))


def test_with_scripts_off(no_scripts):
    verdict_is_on_the_joint(no_scripts, carry_through(no_scripts, Touch(no_scripts)))
