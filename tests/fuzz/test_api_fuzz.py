"""The API under junk: thousands of requests, each answered in the API's own shape, none with 500.

``pytest tests/fuzz --fuzz 20000`` throws that many in all at the API and at the other routes.
"""

from __future__ import annotations

import copy
import json

import pytest
import schemathesis
from fuzz import junk
from fuzz.spoiling import spoil
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import (
    not_a_server_error,
    response_schema_conformance,
    status_code_conformance,
)

from fieldkit.flows.calculations import CALCULATIONS
from fieldkit.web.pages.api_examples import EXAMPLES

CHECKS = [not_a_server_error, status_code_conformance, response_schema_conformance]


def no_such_number(name: str) -> None:
    """JSON knows no NaN and no infinity."""
    raise AssertionError(f"{name} in an answer")


def check(faults, response, sent) -> None:
    """In the API's shape, in strict JSON, and no fault of ours."""
    assert response.status_code < 500, (sent, faults)
    assert response.mimetype == "application/json", sent
    body = json.loads(response.get_data().decode(), parse_constant=no_such_number)
    if response.status_code == 200:
        assert {"verdict", "headline", "cautions", "working"} <= set(body), sent
    else:
        assert set(body["problem"]) == {"field", "given", "wrong", "instead"}, sent


@pytest.fixture(scope="module")
def described(app):
    return schemathesis.openapi.from_wsgi("/api/openapi.json", app)


@pytest.mark.parametrize("mode", GenerationMode)
@pytest.mark.parametrize("name", CALCULATIONS)
def test_what_is_described_and_what_is_not(described, faults, share, name, mode):
    operation = described[f"/api/{name}"]["POST"]

    @settings(max_examples=share(0.30 / 24), database=None, phases=[Phase.generate])
    @given(operation.as_strategy(generation_mode=mode))
    def play(case):
        response = case.call(headers={"Accept-Encoding": "identity"})
        assert response.status_code < 500, faults
        case.validate_response(response, checks=CHECKS)

    play()


@pytest.mark.parametrize("name", CALCULATIONS)
def test_examples_with_something_changed(app, faults, share, name):
    """Most of the request stays as it should be, so that the formulas meet what is odd."""
    client = app.test_client()

    @settings(max_examples=share(0.30 / 12), database=None, phases=[Phase.generate])
    @given(st.data())
    def play(data):
        body = copy.deepcopy(data.draw(st.sampled_from(list(EXAMPLES[name].values()))))
        for _ in range(data.draw(st.integers(1, 3))):
            spoil(body, data)
        sent = junk.as_sent(body)
        check(faults, client.post(f"/api/{name}", data=sent), sent)

    play()


def test_bodies_that_are_no_request(app, faults, share):
    client = app.test_client()
    where = st.one_of(st.sampled_from([*CALCULATIONS, "openapi.json", ""]), junk.text)

    @settings(max_examples=share(0.08), database=None, phases=[Phase.generate])
    @given(where, junk.methods, junk.content_types, junk.bodies)
    def play(name, method, content_type, body):
        path = "/api/" + name.encode("utf-8", "replace").decode()
        response = client.open(path, method=method, data=body, content_type=content_type)
        assert response.status_code < 500, (path, method, content_type, body, faults)
        if response.status_code == 405:
            assert response.headers["Allow"]
        if response.mimetype == "application/json" and response.get_data():
            json.loads(response.get_data().decode(), parse_constant=no_such_number)

    play()
