"""What a page costs: a question beside a bare Flask form, an answer page, a save, each calculation.

``pytest tests/bench --benchmark-enable`` measures; otherwise each runs once as a test.
"""

from __future__ import annotations

import time
from statistics import median

import jinja2
import pytest
from flask import Flask, render_template
from flask_wtf import FlaskForm
from flask_wtf.csrf import CSRFProtect
from support.hand import Hand
from wtforms import StringField
from wtforms.validators import DataRequired

from fieldkit.app import make_app
from fieldkit.flows.calculations import CALCULATIONS, calculate
from fieldkit.web.ids import fresh_id

#: One ordinary request a calculation.
REQUESTS = {
    "measure": {"readings": ["0.702 in", "0.698", "0.701", "0.7"], "material": "pe"},
    "identify": {"od": "0.700 in", "u_od": "0.004 in"},
    "transition": {
        "pvc": {"nominal": "1/2", "class": "Sch 40"},
        "tubing": {"od": "0.700 in", "bore": "0.600 in"},
        "prices": "demo",
    },
    "join": {"pipe": {"nominal": "3/4", "class": "Sch 40"}, "temperature": "50 F"},
    "thread": {"size": "1/2", "male": "plastic", "female": "plastic", "sealant": "tape"},
    "plan_test": {
        "parts": [{"kind": "pipe", "nominal": "1", "class": "Sch 40"}],
        "working_pressure": "40 psi",
        "temperature": "80 F",
    },
    "judge_test": {
        "line": [{"material": "pvc", "nominal": "2", "class": "Sch 40", "length": "300 ft"}],
        "restraint": "buried",
        "start": {"pressure": "100 psi", "water_temperature": "68 F"},
        "end": {"pressure": "99 psi", "water_temperature": "67 F"},
        "minutes": 60,
        "visible_leak": False,
        "gauge_division": "1 psi",
    },
    "friction": {"bore": "1.049 in", "flow": "10 gpm", "length": "100 ft"},
    "lateral": {
        "bore": "0.600 in",
        "outlet_flow": "1 gph",
        "spacing": "1 ft",
        "inlet_pressure": "20 psi",
    },
    "surge": {
        "pipe": {"material": "pvc", "od": "1.315 in", "wall": "0.133 in"},
        "velocity_change": "5 ft/s",
        "static_pressure": "40 psi",
        "length": "100 ft",
    },
    "hold": {"joint": "barb_clamped", "static_pressure": "40 psi", "temperature": "80 F"},
    "diagnose": {"answers": {"fitting_type": "barb", "hold_down": "none"}},
}


@pytest.mark.parametrize("name", CALCULATIONS)
def test_bench_calculation(benchmark, name):
    answer = benchmark(calculate, name, REQUESTS[name])
    assert answer.headline


PAGE = """<!doctype html><html lang="en"><title>Ask</title><body><h1>Ask</h1>
<form method="post">{{ form.csrf_token }}{{ form.value.label }}{{ form.value() }}
<button>Go</button></form></body></html>"""


class OneBox(FlaskForm):
    """The least form there is."""

    value = StringField("Value", validators=[DataRequired()])


def bare_client():
    """A bare Flask application that shows one WTForms form with its token."""
    app = Flask("bare")
    app.config["SECRET_KEY"] = "x" * 32
    CSRFProtect(app)
    app.jinja_loader = jinja2.DictLoader({"ask.html": PAGE})

    @app.get("/")
    def ask():
        return render_template("ask.html", form=OneBox())

    return app.test_client()


@pytest.fixture
def asked(tmp_path):
    """A client of our own application, and the address of a question."""
    app = make_app(tmp_path / "log.db")
    hand = Hand(app.test_client())
    page = hand.send(hand.read("/"), "/start", what="new")
    yield hand, page
    app.extensions["joblog"].close()


def cpu_seconds(client, path: str, count: int) -> float:
    """CPU time of ``count`` pages: what others do on this machine meanwhile is not in it. [s]"""
    began = time.process_time()
    for _ in range(count):
        assert client.get(path).status_code == 200
    return time.process_time() - began


def test_bench_question_beside_a_bare_form(benchmark, asked):
    hand, page = asked
    response = benchmark(hand.client.get, page.path)
    assert response.status_code == 200
    if benchmark.disabled:
        return
    bare = bare_client()
    turns = [
        cpu_seconds(bare, "/", 40) / cpu_seconds(hand.client, page.path, 40) for _ in range(25)
    ]
    share = benchmark.extra_info["share_of_a_bare_form"] = round(median(turns), 2)
    assert share >= 0.6


def test_bench_a_save_over_http(benchmark, asked):
    hand, page = asked
    action, fields = page.form()

    def save():
        data = {**fields, "entry": fresh_id(), "answer": "give", "value": "caliper"}
        return hand.client.post(action, data=data)

    assert benchmark(save).status_code == 303


def test_bench_next_question(benchmark):
    """The diagnosis: under 5 ms on the way to the next question."""
    answers = {"fitting_type": "barb", "leak_place": "tube_mouth", "hold_down": "none"}
    answer = benchmark(calculate, "diagnose", {"answers": answers})
    assert answer.next_question is not None
    if not benchmark.disabled:
        assert benchmark.stats["median"] < 0.005
