"""Sentences that come back from a log that anybody may have written."""

from __future__ import annotations

import pytest

from fieldkit.engine.words import Figure, Span, Text, noted, recalled, retold, say

FIGURE = {"value": 1, "unit": "in", "places": 0}


def nested(levels):
    part = {"template": "{a}", "parts": {"a": 1}}
    for _ in range(levels):
        part = {"template": "{a}", "parts": {"a": part}}
    return part


@pytest.mark.parametrize(
    "kept",
    [
        {"template": "{a.__init__.__globals__}", "parts": {"a": FIGURE}},
        {"template": "{a[0]}", "parts": {"a": "words"}},
        {"template": "{a:>900000000}", "parts": {"a": "words"}},
        {"template": "{a!r}", "parts": {"a": "words"}},
        {"template": "{}{0}", "parts": {"a": "words"}},
        {"template": "{a} {", "parts": {"a": "words"}},
        {"template": "{a}", "parts": {"a": FIGURE | {"places": 900_000_000}}},
        {"template": "{a}", "parts": {"a": FIGURE | {"value": "1e999999"}}},
        {"template": "{a}", "parts": {"a": {"minutes": float("inf")}}},
        {"template": "{a}", "parts": {}},
        {"template": "{a}", "parts": 3},
        {"parts": {}},
        [],
        7,
        nested(5000),
    ],
)
def test_a_kept_template_cannot_do_more_than_name_its_parts(kept):
    told = retold("As it stands.", kept)
    assert told == "As it stands."
    assert told.template == "As it stands."


def test_a_template_that_says_something_else_is_not_believed():
    """What is shown is what was signed: the sentence, not its template."""
    kept = noted(say("It leaks at {p}.", p=Figure(30, "psi")))
    assert retold("It holds.", kept) == "It holds."


@pytest.mark.parametrize(
    "text",
    [
        say("{od} is too large.", od=Figure(0.7, "in", 3)),
        say(
            "It takes {low} to {high}.",
            low=Figure(0.69, "in", 3, bare=True),
            high=Figure(0.7, "in", 3),
        ),
        say("Wait {time}.", time=Span(90)),
        say("{{}} and {a}", a=say("{b} in", b=2)),
        say("Nothing to fill."),
    ],
)
def test_our_own_come_back_as_they_were(text):
    again = retold(str(text), noted(text))
    assert (again, again.template, again.parts) == (text, text.template, text.parts)
    assert isinstance(recalled(noted(text)), Text)
