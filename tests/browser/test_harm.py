"""What a hurried person does: types nonsense, goes back, taps twice, reloads, opens two tabs."""

from __future__ import annotations

from urllib.parse import urlsplit

import pytest
from browser.fingers import Touch
from browser.journey import JOB, begin, flow_of, go_through, step_of

pytestmark = pytest.mark.browser


def answers_kept(server, step):
    """How often an answer to ``step`` stands in the log."""
    return sum(
        1 for one in server.log.since(0, 9999)
        if one.entry.kind == "answer" and one.entry.step == step
    )  # fmt: skip


@pytest.fixture
def asked(small_phone):
    """A phone at the first question of a new joint."""
    touch = Touch(small_phone)
    begin(small_phone, touch)
    touch.press(small_phone.page.locator(".act a.main").inner_text())
    return touch


def test_bad_input_is_said_and_mended(asked, small_phone, server):
    page = small_phone.page
    asked.give("caliper")
    answers = JOB["measure-pipe"]
    asked.answer(answers | {"readings": ["17,8 mm", "0.841", "0.839", "0.841"]})
    assert "something needs fixing" in page.title()
    assert page.input_value('[name="readings.value-0"]') == "17,8 mm"
    assert page.get_attribute('[name="readings.value-0"]', "aria-invalid") == "true"
    page.locator(".fix a").tap()
    assert page.evaluate("document.activeElement.name") == "readings.value-0"
    page.fill('[name="readings.value-0"]', "0.840")
    asked.go_on()
    assert flow_of(page.url) == "measure-tube"  # the print named the pipe
    assert answers_kept(server, "readings") == 1


def test_back_and_another_answer(asked, small_phone, server):
    page = small_phone.page
    asked.give("caliper")
    page.go_back()
    small_phone.look()
    asked.give("strip")
    assert page.locator('[name="strips.value-0"]').is_visible()
    small_phone.page.go_back()
    page.reload()
    assert page.locator('button.tile--chosen[value="strip"]').is_visible()
    assert answers_kept(server, "tool") == 2


def test_a_double_tap_saves_once(asked, small_phone, server):
    page = small_phone.page
    page.locator('button.tile[value="caliper"]').dblclick(delay=1)
    # The second tap breaks off the first page, so wait for what the page holds, not for its load.
    page.locator('[name="readings.value-0"]').wait_for()
    page.wait_for_load_state("networkidle")
    assert answers_kept(server, "tool") == 1
    assert step_of(page.url) == "print"


def test_two_tabs_of_one_question(asked, small_phone, server):
    page = small_phone.page
    other = page.context.new_page()
    other.goto(page.url)
    asked.give("caliper")
    with other.expect_navigation():
        other.locator('button.tile[value="none"]').tap()
    page.reload()
    small_phone.look()
    assert answers_kept(server, "tool") == 2
    other.close()


def test_each_page_can_be_loaded_again_and_the_flow_begun_again(asked, small_phone, server):
    page = small_phone.page

    class Reloading(Touch):
        def answer(self, answers):
            page.reload()
            return super().answer(answers)

    answer = urlsplit(page.url).path.rsplit("/", 1)[0] + "/answer"
    go_through(small_phone, Reloading(small_phone), "measure-pipe", JOB["measure-pipe"])
    small_phone.open(answer)
    headline = small_phone.heading
    page.reload()
    assert small_phone.look().heading == headline
    count = server.log.count()
    page.get_by_text("What you answered").tap()
    page.get_by_text("Begin this again").tap()
    page.wait_for_url("**/tool")
    small_phone.look()
    assert server.log.count() == count, "beginning again stored something"
