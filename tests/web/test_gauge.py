"""The page of the screen gauge, what it sends, and the ways to it."""

import re


def new_joint(hand):
    page = hand.send(hand.read("/"), "/start", what="new")
    return re.search(r"/joint/([^/\"]+)", page.path + page.html)[1]


def test_it_says_what_to_do_with_scripts_and_without(hand):
    page = hand.read("/gauge")
    assert page.status == 200
    assert page.heading.startswith("Measure on the screen")
    assert "85.60 mm × 53.98 mm" in page.words  # ISO/IEC 7810 ID-1
    assert "needs scripts" in page.words
    assert 'href="/ruler"' in page.html
    assert not re.search(r"style=|onclick=|<script(?![^>]*src)", page.html)
    assert "Use this" not in page.words  # no joint, nothing to save


def test_what_it_sends_is_an_answer_of_measuring(hand, app):
    joint = new_joint(hand)
    for side, other in (("tube", "Name the tubing"), ("pipe", "Name the rigid pipe")):
        page = hand.read(f"/gauge?joint={joint}&side={side}")
        after = hand.send(page, "/screen", **{"value-outside": "26.7 mm", "value-bore": "20.9 mm"})
        assert f"/identify-{side}/" in after.path
        facts = app.extensions["joblog"].joint(joint).facts
        assert facts[f"{side}.od_tool"] == "screen"
        assert abs(facts[f"{side}.screen_bore_in"] * 25.4 - 20.9) < 1e-6
        again = hand.send(page, "/screen", **{"value-outside": "26.7 mm", "value-bore": "20.9 mm"})
        assert again.status == 200
        assert other in hand.read(f"/joint/{joint}").words


def test_what_cannot_be_is_said_beside_its_boxes(hand):
    joint = new_joint(hand)
    page = hand.read(f"/gauge?joint={joint}&side=tube")
    after = hand.send(page, "/screen", **{"value-outside": "17.8 mm", "value-bore": "18.8 mm"})
    assert "is not below" in after.words
    assert "17.8 mm" in after.html


def test_a_joint_or_side_that_is_not_there_leaves_the_plain_gauge(hand):
    joint = new_joint(hand)
    for asked in ("joint=none", f"joint={joint}&side=roof", f"joint={joint}&flow=prove&run=x"):
        page = hand.read(f"/gauge?{asked}")
        assert page.status == 200
        assert "Use this" not in page.words


def test_neither_tool_leads_to_the_screen(hand):
    joint = new_joint(hand)
    page = hand.send(hand.read(f"/joint/{joint}/measure-tube"), value="none")
    assert "Nothing was measured" in page.words
    page = hand.send(page, "/change", change="tool=screen")
    assert "/gauge?" in page.html
    assert f"joint={joint}" in page.html
