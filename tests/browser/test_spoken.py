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
    contentinfo
    navigation Help and settings
"""

HOME = """
    main
    heading 1 What is in front of you?
    button It leaks Find out why, and mend it
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
    paragraph Measure the tubing · question 1
    group What can you measure the tubing with? outside diameter, OD
    heading 1 What can you measure the tubing with? outside diameter, OD
    radio A caliper , digital or dial
    radio A strip of paper and a ruler , wrap . Four times coarser, and often enough.
    radio Neither . We show other ways to the size.
    button Continue
    button I can’t measure it
    paragraph
    link Print a paper ruler that reads the width
    group Why we ask
"""

READINGS = """
    main
    paragraph Measure the tubing · question 2
    group How wide is the tubing, outside to outside? OD, four ways round
    heading 1 How wide is the tubing, outside to outside? OD, four ways round
    paragraph Measure an inch from the cut, clear of print and flare. Close the jaws until they just drag. Soft tubing dents.
    figure Four ways across. Measure across 1 first, then 2, a quarter turn from it. Then 3 and 4, half-way between.
    textbox Across, one way (0°)
    textbox A quarter turn on (90°)
    textbox Half-way between (45°)
    textbox The other half-way (135°)
    button Continue
    button I can’t tell
    group Why we ask
"""  # noqa: E501  -- spoken as one line

WRONG = """
    main
    paragraph Measure the tubing · question 2
    alert
    paragraph Something needs fixing
    paragraph
    link “0,7” can be read as 0.7 or as 7.
    text Use a point and no comma: 0.7.
    group How wide is the tubing, outside to outside? OD, four ways round
    heading 1 How wide is the tubing, outside to outside? OD, four ways round
    paragraph Measure an inch from the cut, clear of print and flare. Close the jaws until they just drag. Soft tubing dents.
    figure Four ways across. Measure across 1 first, then 2, a quarter turn from it. Then 3 and 4, half-way between.
    paragraph Fix this: “0,7” can be read as 0.7 or as 7. Use a point and no comma: 0.7.
    textbox invalid Across, one way (0°) 0,7
    textbox A quarter turn on (90°)
    textbox Half-way between (45°)
    textbox The other half-way (135°)
    button Continue
    button I can’t tell
    group Why we ask
"""  # noqa: E501  -- spoken as one line

ZERO = """
    main
    paragraph Measure the tubing · question 3
    heading 1 What does the caliper show with its jaws closed? zero of the caliper
    paragraph Wipe the jaws, close them gently and read. Once a day is enough.
    group Usual answers
    button 0.000 in
    paragraph or type it
    textbox What does the caliper show with its jaws closed? zero of the caliper
    button Continue
    button I can’t tell
    group Why we ask
"""

TEMPERATURE = """
    main
    paragraph Measure the tubing · question 4
    heading 1 How warm is the tubing itself? wall temperature
    paragraph Lay a hand on it. Shade it for ten minutes if you can.
    group Usual answers
    button Cool to the hand
    button Neither warm nor cool
    button Warm
    button Hot from the sun
    paragraph or type it
    textbox How warm is the tubing itself? wall temperature
    button Continue
    button I can’t tell
    group Why we ask
"""

BORE = """
    main
    paragraph Measure the tubing · question 5
    text Take care:
    list
    listitem Shut the valve and the supply, then open the lowest point and watch it run dry. A closed valve is no proof.
    listitem Cut away from your hand, and hold the pipe in something other than your palm.
    group How wide is the hole in the tubing? inside diameter, bore
    heading 1 How wide is the hole in the tubing? inside diameter, bore
    paragraph Use a caliper’s inside jaws. Or try the smooth ends of drills, without force. Note the largest that slides in, and the next that does not.
    figure Drills as gauges. Try smooth drill ends, without force. The hole lies between the largest that slides in and the next that does not.
    textbox Across the hole, by caliper
    textbox Largest drill that slides in
    textbox Next drill that does not
    button Continue
    button There is no cut end, or I can’t tell
    group Why we ask
"""  # noqa: E501  -- spoken as one line

MEASURED = """
    heading 1 The outside is 0.700 in across, give or take 0.004 in.
    figure Cut across, to scale. The outside is 0.700 in across, by caliper. The hole is 0.600 in across.
    table What you read
    link Next: Name the tubing
    link Back to this joint
    group How this was worked out
    group What you answered
    link Begin this again
"""  # noqa: E501  -- spoken as one line

KNOWN = """
    main
    paragraph Name the tubing
    heading 1 Nothing more to ask
    paragraph The log of this joint knows enough:
    list
    listitem
    text How far across is the outside of the tube? 0.7002 in
    link Change How far across is the outside of the tube?
    listitem
    text How wide is the hole in the tube? 0.6 in
    link Change How wide is the hole in the tube?
    button Work it out
"""

NAMED = """
    heading 1 This is 1/2 in. drip tubing, 0.700 × 0.600: all but certain.
    figure Cut across, to scale. The outside is 0.700 in across, by caliper. The hole is 0.600 in across. The upright line is what was measured, the band give or take 0.004 in. Nearest: 0.700 in: 1/2 in. drip tubing, 0.700 × 0.600.
    table What it may be
    heading 2 Why
    heading 2 Which one is it?
    heading 3 1/2 in. drip tubing, 0.700 × 0.600
    button It is this one : 1/2 in. drip tubing, 0.700 × 0.600
    link Next: Choose the parts
    link Back to this joint
    group How this was worked out
    group What you answered
    link Begin this again
"""  # noqa: E501  -- spoken as one line

PLACE = """
    main
    paragraph It is leaking · question 1
    paragraph Take care: Valve boxes hold wiring, and sometimes snakes, wasps or spiders. Switch off, look first, do not stand in water.
    group Where does the first drop appear? leak origin
    heading 1 Where does the first drop appear? leak origin
    paragraph Look from the side; do not reach in yet. Water runs along pipe: look for the first drop.
    figure Touch the place, or pick it below. Nine places on a joint. From the pipe on: its glued socket, the body of the valve, the screw thread, the tube’s mouth, the tube itself. Below: hose nut, ring, nut, grip.
    radio 1 Where white pipe is glued into a part , solvent weld
    radio 2 Where two parts screw together , pipe thread
    radio 3 At a hose nut with a washer , hose thread
    radio 4 Where tube is pushed over a ridged end , barb
    radio 5 Where tube is pushed inside a part , push-in ring
    radio 6 Under a screw-up nut on the tube , locking-nut barb
    radio 7 Where white pipe is pushed in without glue , grip-ring push-fit
    radio 8 Through the wall of a valve or a part , fitting body
    radio 9 Out of the tube itself , tube wall
    button Continue
    button I can’t see
    group Why we ask
"""  # noqa: E501  -- spoken as one line

SAFE = """
    main
    paragraph It is leaking · question 2
    text Take care:
    list
    listitem Never plug, clamp, tighten or lean over a joint under pressure. Keep face and hands out of line with the pipe.
    listitem Wear eye protection when you cut, press on, undo or test. Old and brittle parts shatter.
    group First make it safe isolate and depressurise
    heading 1 First make it safe isolate and depressurise
    paragraph Shut the valve and the supply, open the lowest point, watch it run dry.
    radio It is shut off and drained , isolated, depressurised
    radio There are wires in the water, or bare ones
    radio It is before or on the backflow preventer , house side
    radio I smell gas, or the pipe is yellow
    button Continue
    button I can’t shut it off
    group Why we ask
"""  # noqa: E501  -- spoken as one line

PRIMER = """
    main
    paragraph It is leaking · question 3
    group Was primer used before the cement? primer
    heading 1 Was primer used before the cement? primer
    paragraph A coloured stain past the glue line says yes.
    radio Yes, or a stain shows
    radio No
    button Continue
    button I can’t tell
    group Why we ask
"""

CURE = """
    main
    paragraph It is leaking · question 4
    heading 1 How long between gluing and the first water pressure? cure time
    paragraph Count from the last joint that was glued.
    group Usual answers
    button 0.25 h
    button 1 h
    button 4 h
    button 12 h
    button 24 h
    paragraph or type it
    textbox How long between gluing and the first water pressure? cure time
    button Continue
    button I can’t tell
    button Give me the answer now
    group Why we ask
"""

CAUSE = """
    heading 1 Not settled. Look first at: Pressure before the weld cured. Then: Glued without primer.
    heading 2 Prove it before you mend it
    heading 2 How to mend it
    heading 2 You need
    heading 2 So that it stays mended
    heading 2 When to stop and call a licensed person
    heading 2 Two causes may act together: mend both
    heading 2 What speaks for it
    heading 2 We already know
    heading 2 What was it really?
    heading 3 Pressure before the weld cured
    button It was this : Pressure before the weld cured
    heading 3 Glued without primer
    button It was this : Glued without primer
    heading 3 Pipe not pushed to the bottom of the socket, or crept back
    button It was this : Pipe not pushed to the bottom of the socket, or crept back
    heading 3 Glued wet, or in cold without longer cure
    button It was this : Glued wet, or in cold without longer cure
    group 1 more
    link Next: Measure the rigid pipe
    link Back to this joint
    group How this was worked out
    group What you answered
    link Begin this again
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
        at = page.evaluate("document.activeElement?.id || document.activeElement?.tagName")
        assert at in ({"fix"} if any(one == "alert" for one in said) else {"BODY", None})
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

    def types(self, **boxes: str) -> Reader:
        """Type into boxes, over what stands in them."""
        for name, text in boxes.items():
            self.to(f'[name="{name.replace("__", "-")}"]')
            self.page.keyboard.press("ControlOrMeta+A")
            self.page.keyboard.type(text)
        return self

    def picks_first(self) -> Reader:
        """Take the first of the options."""
        self.to(".pick input").page.keyboard.press("Space")
        return self

    def enters(self, selector: str = ".act .main") -> Reader:
        """Press a button or link with Enter."""
        self.to(selector)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")
        return self


def test_measuring_and_naming_a_tube_is_heard_in_this_order(small_phone):
    reader = Reader(small_phone).hears(FRAME, landmarks, "body").hears(HOME)
    reader.enters('button[value="tube"]').hears(TOOL)
    reader.picks_first().enters().hears(READINGS)
    reader.types(value__0="0,7").enters().hears(WRONG)
    # The link in what is wrong leads to the box, which says its unit and what is wrong with it.
    reader.to("#fix a").page.keyboard.press("Enter")
    box = reader.page.locator("#value-0")
    assert box.evaluate("one => one === document.activeElement")
    described = box.get_attribute("aria-describedby").split()
    words = " ".join(reader.page.locator(f"#{one}").inner_text() for one in described)
    assert words == "Fix this: “0,7” can be read as 0.7 or as 7. Use a point and no comma: 0.7. in"
    reader.types(value__0="0.701", value__1="0.699", value__2="0.700", value__3="0.700")
    reader.enters().hears(ZERO)
    reader.types(value="0").enters().hears(TEMPERATURE)
    reader.types(value="70 F").enters().hears(BORE)
    reader.types(value__bore="0.6").enters().hears(MEASURED, outline)
    reader.enters(".act a.main").hears(KNOWN)
    reader.enters("main button").hears(NAMED, outline)


def test_a_diagnosis_is_heard_in_this_order(small_phone):
    reader = Reader(small_phone).enters('button[value="leak"]').hears(PLACE)
    reader.picks_first().enters().hears(SAFE)
    reader.picks_first().enters().hears(PRIMER)
    reader.enters('button[value="cant-tell"]').hears(CURE)
    reader.enters('button[value="enough"]').hears(CAUSE, outline)
