"""What people type into a box: a value or one plain sentence, on the page and over HTTP."""

from __future__ import annotations

import pytest

READ = {
    "11/16": 0.6875,
    '1-1/16"': 1.0625,
    "1 1/16 in": 1.0625,
    "⅝ in": 0.625,
    ".700": 0.7,
    "17.8 mm": 17.8 / 25.4,
}
ASKED_AGAIN = (
    "17,8 mm",
    "2 bar",
    "30 psi",
    "68F",
    "20 °C",
    "-5 C",
    "1e400",
    "nan",
    "9**9**9",
    "x" * 10_000,
    "\u0667\u0660\u0660 \u202emm\u202c abc",
    "שבע עשרה",
    "0x1F",
    "--5",
    "\x00",
)


@pytest.mark.parametrize(("typed", "value"), READ.items())
def test_it_is_read_over_http(hand, typed, value):
    request = {"readings": [typed] * 2, "method": "caliper", "material": "pvc"}
    response = hand.client.post("/api/measure", json=request)
    assert response.status_code == 200
    assert response.json["readings_in"][0] == pytest.approx(value, rel=1e-8)


@pytest.mark.parametrize("typed", ASKED_AGAIN, ids=range(len(ASKED_AGAIN)))
def test_it_is_asked_again_over_http_in_the_one_shape(hand, typed):
    response = hand.client.post("/api/identify", json={"od": typed})
    assert response.status_code == 422
    problem = response.json["problem"]
    assert set(problem) == {"field", "given", "wrong", "instead"}
    assert problem["field"] == "od"
    assert problem["wrong"].endswith(".")
    assert problem["instead"].endswith(".")


@pytest.mark.parametrize("typed", ASKED_AGAIN, ids=range(len(ASKED_AGAIN)))
def test_it_is_asked_again_on_the_page_and_stays_in_the_box(hand, typed):
    tool = hand.send(hand.read("/"), "/start", what="tube")
    page = hand.answer(tool, "caliper")
    boxes = {"readings.value-0": typed, "readings.value-1": "0.700"}
    page = hand.send(page, answer="give", **boxes)
    assert page.status == 422
    assert "Fix this:" in page.words
    if typed.isprintable() and len(typed) < 200:
        assert f'value="{typed}"' in page.html


@pytest.mark.parametrize(
    "body", [b"", b"null", b"[]", b"7", b'"x"', b"{", b"[" * 5000, b'{"od": ' + b"9" * 5000 + b"}"]
)
def test_what_is_no_request_is_said_so(hand, body):
    response = hand.client.post("/api/identify", data=body)
    assert response.status_code in {400, 422}
    assert set(response.json["problem"]) == {"field", "given", "wrong", "instead"}


def test_a_calculation_that_is_not_there_is_named(hand):
    response = hand.client.post("/api/guess", json={})
    assert response.status_code == 404
    assert "identify" in response.json["problem"]["instead"]


def test_a_wrong_reading_is_said_before_an_empty_box(hand):
    page = hand.answer(hand.send(hand.read("/"), "/start", what="tube"), "caliper")
    page = hand.send(page, answer="give", **{"readings.value-0": "17,8 mm"})
    assert "can be read as 17.8 or as 178" in page.words
    assert "This box is empty" not in page.words
