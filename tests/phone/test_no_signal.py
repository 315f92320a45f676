"""No signal in three ways: the phone is offline, the server is dead, the server hangs."""

from __future__ import annotations

import hashlib
import json

import pytest
from phone.conftest import Phone, entries_of
from PIL import Image
from support.browser_hand import BrowserHand
from support.field_job import FieldPlayer

pytestmark = pytest.mark.browser

#: How the signal goes, and how it comes back.
TROUBLES = {
    "offline": (
        lambda phone: phone.context.set_offline(True),
        lambda phone: phone.context.set_offline(False),
    ),
    "dead": (lambda phone: phone.server.kill(), lambda phone: phone.server.start()),
    "hung": (lambda phone: phone.server.hang(), lambda phone: phone.server.wake()),
}


def noted(hand: BrowserHand, name: str) -> str:
    """A job with a joint and a note, as somebody begins one; the joint's id."""
    job = hand.send(hand.read("/jobs"), "/jobs", name=name)
    joint = hand.send(job, "/joints", name="Box 3")
    hand.send(joint, "/notes", note="Wet up to the lid")
    return joint.path.rsplit("/", 1)[1]


@pytest.mark.parametrize("trouble", TROUBLES)
def test_a_joint_and_a_photo_are_worked_without_signal(phone: Phone, trouble):
    """All of a joint and a diagnosis where the server hangs, which is the worst of the three."""
    goes, returns = TROUBLES[trouble]
    phone.start()
    goes(phone)
    # A cold start on a deep link: nothing of the program runs yet.
    phone.page.goto(phone.base + "tables/weld-times")
    phone.page.wait_for_selector("html:not([data-shell]) main h1")
    assert phone.heading().startswith("Cement")
    assert phone.page.evaluate(FACES) == 2
    assert phone.page.evaluate(MOVED) == 0
    hand = BrowserHand(phone.page, phone.base)
    player = FieldPlayer(hand)
    whole = trouble == "hung"
    joint_id = player.whole_job("North field") if whole else noted(hand, "North field")
    image = player.photo(joint_id, "Wet box, from above")
    phone.page.goto(f"{phone.base}joint/{joint_id}")
    phone.page.wait_for_selector("html:not([data-shell]) main h1")
    assert phone.heading() == "Box 3"
    shown = phone.page.evaluate(SHOWN, image)
    assert shown == {"type": "image/jpeg", "policy": POLICY, "size": [1067, 1600]}
    kept = phone.page.evaluate(
        "import('/static/phone/store.js').then((store) => store.after(0, 1000))"
    )
    if trouble != "offline":  # that flag holds back the page, not the browser's own sync
        phone.until_line(
            f"No signal. Saved on this phone, {len(kept)} entries and 1 photo to send."
        )
    returns(phone)
    phone.page.evaluate("window.dispatchEvent(new Event('online'))")
    phone.until_line("All sent at")
    there = [row["id"] for row in entries_of(phone.server)]
    assert sorted(there) == sorted(one["id"] for one in kept), "each entry is there once"
    flows_done = {row["flow"] for row in entries_of(phone.server) if row["kind"] == "result"}
    worked = {"measure-tube", "measure-pipe", "choose", "prove", "popped-off"}
    assert flows_done >= (worked if whole else set())
    (named,) = [row for row in entries_of(phone.server) if row["kind"] == "photo"]
    (file,) = phone.server.db.with_name("log-photos").iterdir()
    digest = json.loads(named["understood"])["digest"]
    assert file.name == f"{digest}.jpg" == image.rsplit("/", 1)[1]
    assert hashlib.sha256(file.read_bytes()).hexdigest() == digest
    with Image.open(file) as picture:
        picture.load()
        assert picture.size == (1067, 1600)
        assert not picture.getexif()


#: How an image of a page is answered on the phone: its type, its policy, its size.
SHOWN = """
async (address) => {
  const answer = await fetch(address);
  const picture = new Image();
  picture.src = address;
  await picture.decode();
  return {
    type: answer.headers.get("Content-Type"),
    policy: answer.headers.get("Content-Security-Policy"),
    size: [picture.naturalWidth, picture.naturalHeight],
  };
}
"""

#: By how much the page moves when its line begins to say something. [px]
MOVED = """
() => {
  const [line, main] = ["signal", "main"].map((id) => document.getElementById(id));
  const [top, words] = [main.getBoundingClientRect().top, [...line.childNodes]];
  line.replaceChildren();
  const moved = main.getBoundingClientRect().top - top;
  line.replaceChildren(...words);
  return moved;
}
"""

#: How many weights of the pages' own face are there, each once.
FACES = """
async () => {
  const weights = [400, 700].map((weight) => document.fonts.load(`${weight} 1em Field`));
  return (await Promise.all(weights)).flat().length;
}
"""
POLICY = "default-src 'none'; sandbox"
