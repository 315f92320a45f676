"""What a screen reader says of two whole flows, worked by keyboard alone, in the order spoken.

Each line is a node of the accessibility tree that Chromium hands to a screen reader: what it is
and its name. A page that asks stands here in full; of an answer, its outline: headings, figures,
tables, and all that can be pressed.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from textwrap import dedent

import pytest
from support.spoken import landmarks, outline, spoken

pytestmark = pytest.mark.browser

FRAME = """
    banner
    navigation Where you are
    main
"""

HOME = """
    main
    heading 1 What is in front of you?
    button It leaks Find out why, and repair it
    button It came off The tubing or a part let go
    button A joint to make Measure, choose the parts, join, test
    button A tube without a name Find out which size it really is
    button A sprinkler to turn into drip Feed tubing from its riser
    paragraph
    link All jobs, and a new one
    paragraph Local code, the maker’s instructions and licensed practice come before anything shown here.
"""  # noqa: E501  -- spoken as one line

TOOL = """
    main
    group What can you measure the tubing with? outside diameter, OD
    heading 1 What can you measure the tubing with? outside diameter, OD
    button A caliper , digital or dial
    button A strip of paper and a ruler , wrap . Four times coarser, and often enough.
    button This phone’s screen , circles on the glass . A bank card makes it a ruler, give or take 0.02 in.
    button I have none of these . We show other ways to the size.
    group About this question
    button I can’t measure it
"""  # noqa: E501  -- spoken as one line

READINGS = """
    main
    paragraph
    text You said: A caliper
    link Undo
    heading 1 At the end of the tubing
    paragraph What you can; the rest stays open.
    textbox Printed on it? It may settle everything print line
    textbox Across, one way (0°)
    textbox A quarter turn on (90°)
    group 2 more readings
    textbox Across the hole, by caliper
    textbox Largest drill that slides in
    textbox Next drill that does not
    textbox How warm it is wall temperature
    group Usual answers
    radio Cool to the hand
    radio Neither warm nor cool
    radio Warm
    radio Hot from the sun
    group More, if you know it
    paragraph Take care: Shut the valve and the supply, then open the lowest point and watch it run dry. A closed valve is no proof.
    paragraph Take care: Cut away from your hand, and hold the pipe in something other than your palm.
    group About this question
    button I can’t tell any of it
    button Continue
"""  # noqa: E501  -- spoken as one line

WRONG = """
    main
    paragraph
    text You said: A caliper
    link Undo
    alert
    paragraph
    text Something needs fixing
    link “0,7” can be read as 0.7 or as 7.
    text Use a point and no comma: 0.7.
    heading 1 At the end of the tubing
    paragraph What you can; the rest stays open.
    textbox Printed on it? It may settle everything print line
    paragraph Fix this: “0,7” can be read as 0.7 or as 7. Use a point and no comma: 0.7.
    textbox invalid Across, one way (0°) 0,7
    textbox A quarter turn on (90°)
    group
    text 2 more readings Half-way between (45°)
    textbox Half-way between (45°)
    textbox The other half-way (135°)
    textbox Across the hole, by caliper
    textbox Largest drill that slides in
    textbox Next drill that does not
    textbox How warm it is wall temperature
    group Usual answers
    radio Cool to the hand
    radio Neither warm nor cool
    radio Warm
    radio Hot from the sun
    group More, if you know it
    paragraph Take care: Shut the valve and the supply, then open the lowest point and watch it run dry. A closed valve is no proof.
    paragraph Take care: Cut away from your hand, and hold the pipe in something other than your palm.
    group About this question
    button I can’t tell any of it
    button Continue
"""  # noqa: E501  -- spoken as one line

PLACE = """
    main
    group Where does the first drop appear? leak origin
    heading 1 Where does the first drop appear? leak origin
    paragraph Look from the side; do not reach in yet. Water runs along pipe: look for the first drop.
    figure Touch the place, or pick it below. Ten places on a joint. From the pipe on: its glued socket, the body of the valve, the screw thread, the tube’s mouth, the tube itself. Below: hose nut, ring, nut, grip, and the clamp of a tee.
    button 1 Where white pipe is glued into a part , solvent weld
    button 2 Where two parts screw together , pipe thread
    button 3 At a hose nut with a washer , hose thread
    button 4 Where tube is pushed over a ridged end , barb
    button 5 Where tube is pushed inside a part , push-in ring
    button 6 Under a locking nut on the tube , locking-nut barb
    button 7 Where white pipe is pushed in without glue , grip-ring push-fit
    button 8 Under a tee clamped round the pipe , saddle tee
    button 9 Through the wall of a valve or a part , fitting body
    button 10 Out of the tube itself , tube wall
    paragraph Take care: Valve boxes hold wiring, and sometimes snakes, wasps or spiders. Switch off, look first, do not stand in water.
    group About this question
    button I can’t see
"""  # noqa: E501  -- spoken as one line

SAFE = """
    main
    paragraph
    text You said: Where white pipe is glued into a part
    link Undo
    group First make it safe isolate and depressurize
    heading 1 First make it safe isolate and depressurize
    paragraph Shut the valve and the supply, open the lowest point, watch it run dry.
    button It is shut off and drained , isolated, depressurized
    button There are wires in the water, or bare ones
    button It is before or on the backflow preventer , house side
    button I smell gas, or the pipe is yellow
    paragraph Take care: Never plug, clamp, tighten or lean over a joint under pressure. Keep face and hands out of line with the pipe.
    paragraph Take care: Wear safety glasses when you cut, press on, undo or test. Old and brittle parts shatter.
    group About this question
    button I can’t shut it off
"""  # noqa: E501  -- spoken as one line

PRIMER = """
    main
    paragraph
    text You said: It is shut off and drained
    link Undo
    heading 1 What do you see?
    paragraph What you can; the rest stays open.
    group Was primer used before the cement? primer
    text Was primer used before the cement? primer
    radio Yes, or a stain shows
    radio No
    textbox How long between gluing and the first water pressure? cure time
    group When did it first show? onset
    text When did it first show? onset
    radio First time water was turned on
    radio Held at first, failed hours or days later
    radio At the moment a valve shut or opened
    radio On a hot, sunny afternoon
    radio After a cold night, no hard freeze
    radio At the first run after winter or a hard freeze
    radio After digging, mowing, traffic or animal signs
    radio Crept in over seasons
    textbox How far short of the stop is the pipe or tube? insertion shortfall
    group Usual answers
    radio 0 in
    radio ⅛ in
    radio ¼ in
    radio ½ in
    group Was the joint wet when it was glued? wet joint
    text Was the joint wet when it was glued? wet joint
    radio Dry
    radio Wet, dripping or raining
    paragraph Take care: Shut the valve and the supply, then open the lowest point and watch it run dry. A closed valve is no proof.
    group 1 more caution
    group About this question
    button I can’t tell any of it
    button Continue
"""  # noqa: E501  -- spoken as one line


class Reader:
    """Somebody who hears the page and has a keyboard."""

    def __init__(self, watched) -> None:
        self.page = watched.page
        self.page.goto(watched.address)

    def hears(self, expected: str, how: Callable[..., list[str]] = spoken, part: str = "main"):
        """The page says just this, and reading begins where it should."""
        page = self.page
        page.wait_for_load_state()
        said = how(page.locator(part))
        assert said == dedent(expected).strip().splitlines()
        if "alert" in said:  # the page's script takes the reader there
            page.wait_for_function("document.activeElement?.id === 'fix'")
        else:
            at = page.evaluate("document.activeElement?.id || document.activeElement?.tagName")
            assert at in {"BODY", None}
        levels = [int(one.split()[1]) for one in said if one.startswith("heading")]
        assert levels[:1] in ([], [1])
        assert levels.count(1) == (how is not landmarks)
        assert all(after - before <= 1 for before, after in pairwise(levels))
        return self

    def to(self, selector: str) -> Reader:
        """Tab until it has the focus."""
        target = self.page.locator(selector).first
        for _ in range(60):
            if target.evaluate("one => one === document.activeElement"):
                return self
            self.page.keyboard.press("Tab")
        raise AssertionError(f"Tab never comes to {selector}")

    def types(self, boxes: dict[str, str]) -> Reader:
        """Type into boxes, over what stands in them."""
        for name, text in boxes.items():
            self.to(f'[name="{name}"]')
            self.page.keyboard.press("ControlOrMeta+A")
            self.page.keyboard.type(text)
        return self

    def picks_first(self) -> Reader:
        """Take the first of the options."""
        return self.enters("main .tile")

    def enters(self, selector: str = ".act .main") -> Reader:
        """Press a button or link with Enter."""
        self.to(selector)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")
        return self


def test_measuring_a_tube_is_heard_in_this_order(small_phone):
    reader = Reader(small_phone).hears(FRAME, landmarks, "body").hears(HOME)
    reader.enters('button[value="tube"]').hears(TOOL)
    reader.picks_first().hears(READINGS)
    reader.types({"readings.value-0": "0,7"}).enters().hears(WRONG)
    # The link in what is wrong leads to the box, which says its unit and what is wrong with it.
    reader.to("#fix a").page.keyboard.press("Enter")
    box = reader.page.locator('[name="readings.value-0"]')
    assert box.evaluate("one => one === document.activeElement")
    described = box.get_attribute("aria-describedby").split()
    words = " ".join(reader.page.locator(f'[id="{one}"]').inner_text() for one in described)
    assert words == "Fix this: “0,7” can be read as 0.7 or as 7. Use a point and no comma: 0.7. in"
    reader.types({"readings.value-0": "0.702", "readings.value-1": "0.698"})
    reader.types({"bore.value-bore": "0.600"}).enters()
    # The tube is named by what was measured: the strip says so, and the next page asks on.
    strip = reader.page.get_by_role("navigation", name="The joint so far")
    assert "½ in. drip tubing" in strip.inner_text()


def test_a_diagnosis_is_heard_in_this_order(small_phone):
    reader = Reader(small_phone).enters('button[value="leak"]').hears(PLACE)
    reader.picks_first().hears(SAFE)
    reader.picks_first().hears(PRIMER)
    reader.enters('.act button[value="cant-tell"]').enters('button[value="enough"]')
    said = outline(reader.page.locator("main"))
    assert said[0].startswith("heading 1 Not settled. Look first at:")
    assert "link Repair it" in said
