"""What the phone's scripts say: written here as all texts are, and read by them as one file.

A script names a text by its key and fills in what stands in braces. ``static/phone/words.js``
reads the file of the page's language.
"""

from __future__ import annotations

from flask_babel import force_locale

from fieldkit.engine.words import Text, say
from fieldkit.web.localize import ReaderLocalizer

WORDS: dict[str, Text] = {
    # Taking it to the field
    "old_browser": say("This browser cannot keep the tool. It needs https, or a newer browser."),
    "not_secure": say(
        "At this address the browser keeps nothing for later, as the address begins with http://."
    ),
    "no_worker": say(
        "the browser does not say whether it takes the tool; close its other tabs, then go on"
    ),
    "too_old": say("this browser is too old; bring it up to date, then come back"),
    "no_signal_now": say("There is no signal now. Come back to this page where there is."),
    "server_not_ready": say(
        "This server has not fetched what phones need yet. Try again in a minute."
    ),
    "take": say("Take to the field"),
    "take_in_browser": say("Take it along in this browser only"),
    "go_on": say("Go on fetching"),
    "to_fetch": say("{size} MB to fetch, once."),
    "to_fetch_more": say("{size} MB to fetch, once. Part of it is here already."),
    "fetching": say("Fetching …"),
    "fetching_jobs": say("Fetching the jobs …"),
    "fetched": say("{done} of {size} MB"),
    "trying": say("Starting it once, to see that it works on this phone …"),
    "no_room_for_it": say("This phone has no room for it. Clear some space, then go on."),
    "stopped": say("Stopped. What was fetched stays here."),
    "broke_off": say("It broke off: {why}. What was fetched stays here."),
    "answered": say("the server answered {status}"),
    "damaged": say("a part came damaged"),
    "silence": say("the network went silent"),
    "ready": say("Ready to work without signal."),
    "no_start": say(
        "The engine does not start on this phone: {why} "
        "The tables work without signal all the same."
    ),
    "may_ask": say("The browser may ask whether it may keep this for good. Say yes."),
    "promised": say("The phone promised to keep it."),
    "not_promised": say(
        "The phone may clear it when it runs out of room. Send what you saved when there is signal."
    ),
    "not_updated": say("The newer version was not fetched: {why}. The one here goes on working."),
    # What is kept
    "kept": say("Kept here: {what}."),
    "to_send": say("{n} to send."),
    "refused_here": say("{n} refused by the server; they stay here:"),
    "refused_one": say("{kind} of {at}: {why}"),
    "kind_job": say("Job"),
    "kind_joint": say("Joint"),
    "kind_reading": say("Reading"),
    "kind_answer": say("Answer"),
    "kind_result": say("Result"),
    "kind_note": say("Note"),
    "kind_prices": say("Prices"),
    "kind_signature": say("Signature"),
    "kind_photo": say("Photo"),
    "kind_person": say("Person"),
    "while_open": say("Sent only while this tool is open."),
    "sending": say("Sending …"),
    "not_sent": say("There is no signal now."),
    "left": say(
        "All of a job or none of it, those touched last first. Jobs on the server only: {n}."
    ),
    "elsewhere": say("{photos} more on the server."),
    "refused_photo": say("The picture of {at}: {why}"),
    "only_here": say("On this phone only: {what}. Clearing it loses this for good."),
    "sign_out": say("Sign out {who} and clear this phone"),
    "clear": say("Clear it all the same"),
    # The line on every page
    "here_only": say("Kept on this phone only."),
    "silent": say("No signal."),
    "saved_to_send": say("Saved on this phone, {n} to send."),
    "all_was_sent": say("All was sent at {time}."),
    "all_sent": say("All sent at {time}."),
    "one_entry": say("1 entry"),
    "entry_count": say("{n} entries"),
    "one_photo": say("1 photo"),
    "photo_count": say("{n} photos"),
    "both": say("{first} and {second}"),
    "log_in": say("Log in again to send"),
    "another_person": say("Somebody else is logged in. What is here waits for {who}."),
    "another_company": say(
        "Another company’s log answers here. What is on this phone stays on it."
    ),
    "reading": say("Still reading {n} entries: what is older may be missing from pages."),
    "log_rewritten": say(
        "The server’s log was rewritten: it is not the one that this phone saw before. "
        "Tell the crew lead, and keep this phone as it is."
    ),
    "log_copy": say(
        "The server’s log was put back from a copy. "
        "Tell the crew lead, if nobody did that on purpose."
    ),
    "log_look": say("Look at it"),
    "log_heads": say("Seen before: {seen}. Now: {now}."),
    "server_trouble": say("The server does not answer as it should. What is here stays here."),
    "another_answers": say(
        "Something else answers at the server’s address, perhaps the sign-in page of a network. "
        "What is here stays here."
    ),
    "no_room_to_note": say("This phone has no room left to note what was sent."),
    "refused_why": say("{n} refused: see why"),
    "newer": say("A newer version can be fetched"),
    # When a page cannot be made
    "no_engine": say("The engine could not start on this phone."),
    "too_slow": say("It got no further within {n} seconds."),
    "no_script": say("Its script could not be read."),
    "once_more": say("Trying once more …"),
    "no_page": say("The page could not be made."),
    "not_saved": say("Not saved: this phone has no room left."),
    "still_here": say(
        "What you typed is still here. Clear some space on the phone, then press the button again."
    ),
    "not_saved_silent": say("Not saved: the browser’s store does not answer."),
    "still_here_silent": say(
        "What you typed is still here. Close other tabs of this tool, then press the button again."
    ),
    "silent_store": say(
        "The browser’s store does not answer, so this was not saved. Close other tabs of this "
        "tool, go back, and send it again."
    ),
    "held": say("This phone has no room left. What you sent is kept: clear some space."),
    "engine_stopped": say("The engine on this phone stopped. {why}"),
    "stumbled": say("The engine on this phone stumbled over this page."),
    "no_tab": say("No open tab of this tool can answer. Close its other tabs, then reload."),
    "no_room": say(
        "This phone has no room left, so this was not saved. "
        "Go back: what you typed is still there."
    ),
    "on_server": say("This page is on the server. It needs signal."),
    "signed_out_head": say("Signed out"),
    "signed_out": say("You are signed out, and nothing is kept on this phone any more."),
    "server_hears": say("There is no signal now. The server hears of it with the next one."),
    "not_kept": say("This page is not kept on this phone."),
    "heading": say("Stopped"),
    "safe": say("What was saved before is safe."),
    "first_page": say("To the first page"),
}


def words_in(language: str) -> dict[str, str]:
    """Every text of the scripts in ``language``, its braces still to be filled."""
    with force_locale(language):
        localizer = ReaderLocalizer("inch")
        return {key: localizer(text) for key, text in WORDS.items()}
