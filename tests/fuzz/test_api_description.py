"""The API's description says what the calculations read and answer: no less, and no more."""

from __future__ import annotations

import ast
from pathlib import Path

import jsonschema_rs
import pytest

import fieldkit.flows
from fieldkit.flows.calculations import CALCULATIONS
from fieldkit.typed.request import Request
from fieldkit.web.pages.api_document import KeysRead, document
from fieldkit.web.pages.api_examples import EXAMPLES

#: The agreed names of each calculation: what a request may hold, and what an answer must.
AGREED = {
    "measure": ("readings method material temperature", "od_in ovality_in u_od_in"),
    "identify": (
        "od u_od wall bore rigid print_line region",
        "candidates decided next_measurement",
    ),
    "transition": (
        "pvc.nominal pvc.class tubing.od tubing.bore place branches valve count pressure"
        " temperature prices wants.reusable wants.no_cement wants.easy_hands wants.buried"
        " wants.cheapest",
        "assemblies refused break_even_count",
    ),
    "join": (
        "pipe.nominal pipe.class temperature forecast.from forecast.temperature humidity"
        " pressure one_step made_at",
        "set_minutes cure_minutes primer cement_body insert_depth_in hold_seconds"
        " joints_per_quart ready_at",
    ),
    "thread": (
        "size male female turns_past_hand_tight sealant",
        "turns_min turns_max wraps hoop_stress_psi verdict",
    ),
    "plan_test": (
        "parts.kind parts.nominal parts.class parts.height working_pressure temperature"
        " gauge_height gauge_division thermometer_step hour leak_that_matters",
        "test_pressure_psi limited_by hold_minutes steps shows_ml_per_min",
    ),
    "judge_test": (
        "line.material line.nominal line.class line.length restraint start.pressure"
        " start.water_temperature end.pressure end.water_temperature minutes visible_leak"
        " gauge_division pump_in.volume pump_in.from pump_in.to minutes_since_pumped"
        " thermometer_step leak_that_matters",
        "verdict expected_change_psi unexplained_drop_psi leak_ml_per_min leak_lower_ml_per_min"
        " leak_upper_ml_per_min leak_that_matters_ml_per_min limited_by rules would_settle",
    ),
    "friction": (
        "bore flow length method c temperature",
        "loss_psi loss_ft_per_100ft velocity_ft_s reynolds friction_factor",
    ),
    "lateral": (
        "bore outlet_flow spacing inlet_pressure exponent variation slope cv",
        "max_length_ft outlets end_pressure_psi emission_uniformity profile",
    ),
    "surge": (
        "pipe.material pipe.od pipe.wall velocity_change static_pressure length closure_seconds",
        "wave_speed_ft_s surge_psi peak_psi critical_seconds",
    ),
    "hold": (
        "assembly joint static_pressure surge temperature",
        "verdict limit_psi peak_psi thrust_lbf",
    ),
    "diagnose": ("answers job", "causes next_question because"),
}

#: Ways of reading a request, of those that the flows use.
GETTERS = {name for name in vars(Request) if not name.startswith("_")} - {"inside", "unused"}


@pytest.fixture(scope="module")
def described():
    return document()


def operation(described, name):
    return described["paths"][f"/api/{name}"]["post"]


def answer_schema(described, name):
    """The schema of an answer, with the parts that it refers to."""
    schema = operation(described, name)["responses"]["200"]["content"]["application/json"]
    return {**schema["schema"], "components": described["components"]}


def flat(schema, start=""):
    """All dotted names in the schema of a request; the rows of a list go by the list's name."""
    names = {}
    for key, shape in schema.get("properties", {}).items():
        names[start + key] = shape
        for one in (shape, *shape.get("anyOf", ())):
            row = one.get("items", {})
            for part in (one, row, *row.get("anyOf", ())):
                names |= flat(part, f"{start}{key}.")
    return names


def request_schema(described, name):
    return operation(described, name)["requestBody"]["content"]["application/json"]["schema"]


@pytest.mark.parametrize("name", CALCULATIONS)
def test_it_holds_every_agreed_key(described, name):
    asked, answered = (set(keys.split()) for keys in AGREED[name])
    assert asked <= set(flat(request_schema(described, name)))
    shape = described["components"]["schemas"][
        answer_schema(described, name)["$ref"].split("/")[-1]
    ]
    shared = {"verdict", "headline", "cautions", "working"}
    assert answered | shared <= set(shape["required"])


@pytest.mark.parametrize("name", CALCULATIONS)
def test_every_example_is_answered_as_described(app, described, name):
    schema = answer_schema(described, name)
    of_requests = jsonschema_rs.validator_for(request_schema(described, name))
    of_answers = jsonschema_rs.validator_for(schema)
    keys = described["components"]["schemas"][schema["$ref"].split("/")[-1]]["properties"]
    for body in EXAMPLES[name].values():
        of_requests.validate(body)
        response = app.test_client().post(f"/api/{name}", json=body)
        assert response.status_code == 200, response.text
        of_answers.validate(response.get_json())
        assert set(response.get_json()) | {"said"} == set(keys)
        assert "Not used" not in response.text


def test_every_key_that_is_read_anywhere_is_described(described):
    """A key that someone adds to a calculation is missed here until an example holds it."""
    known = {name.split(".")[-1] for one in CALCULATIONS
             for name in flat(request_schema(described, one))}  # fmt: skip
    read = set()
    for path in Path(fieldkit.flows.__file__).parent.rglob("*.py"):
        if "Request" not in path.read_text(encoding="utf-8"):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in GETTERS
                and node.args
                and isinstance(node.args[0], ast.Constant)
            ):
                read.add(node.args[0].value)
    assert len(read) > 60
    assert read - known == {"x"}  # a name that only serves to find the path


def test_it_keeps_how_each_way_of_reading_was_used():
    own = {name for name in vars(KeysRead) if not name.startswith("_")}
    through_take = {"quantity", "choice", "flag", "whole", "text", "nominal", "pipe_class"}
    through_others = {"need_quantity", "missing", "field", "has", "unused"} | through_take
    assert {name for name in vars(Request) if not name.startswith("_")} == own | through_others


def test_it_is_served_as_it_stands(app, described):
    response = app.test_client().get("/api/openapi.json")
    assert response.get_json() == described
    assert response.get_json()["openapi"] == "3.1.0"
