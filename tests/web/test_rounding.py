"""No page of the demo shows a figure that another page of it rounds otherwise."""

from __future__ import annotations

import html
import math
import re

import pytest

from fieldkit.cli.demo import load_demo
from fieldkit.flows.block import Facts
from fieldkit.flows.catalogue import flows

_DOWN, _UP = (
    lambda value, _: math.floor(value + 1e-9),
    lambda value, _: math.ceil(value - 1e-9),
)
#: Facts that an answer taught, with the decimal places and the way of rounding of their kind.
KINDS = {
    "tube.od_in": ("in", 3, round),
    "tube.bore_in": ("in", 3, round),
    "pipe.od_in": ("in", 3, round),
    "parts.holds_psi": ("psi", 0, _DOWN),
    "test.pressure_psi": ("psi", 0, _DOWN),
    "weld.pressure_psi": ("psi", 0, _DOWN),
    "last.peak_psi": ("psi", 0, _UP),
    "last.surge_psi": ("psi", 0, _UP),
}
#: The working is in the units and digits of its formulas, and drawings say no figure of their own.
LEFT_OUT = re.compile(
    r'<details class="more working".*?</details>|<(script|style|svg).*?</\1>', re.S
)
FIGURE = re.compile(r"(?<![\d.,/½¼¾−-])(\d[\d,]*(?:\.\d+)?) (in|psi)\b")


def words_of(page) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", LEFT_OUT.sub(" ", page.get_data(as_text=True))))


def pages_of(client, joint, job):
    """The joint's page and all that it leads to, and what its job shows of it."""
    todo, seen = [f"/joint/{joint}", f"/job/{job}", f"/job/{job}/record.html"], set()
    while todo:
        path = todo.pop()
        if path in seen:
            continue
        seen.add(path)
        page = client.get(path)
        if page.status_code != 200 or page.mimetype != "text/html":
            continue
        text = page.get_data(as_text=True)
        todo += [one for one in re.findall(r'href="(/joint/[^"#?]+)"', text) if joint in one]
        yield path, words_of(page)


def otherwise(shown, value, unit, places, rounded):
    """Whether a figure is this value, rounded in any way but that of its kind."""
    digits, own = shown
    found, decimals = float(digits.replace(",", "")), len(digits.partition(".")[2])
    if own != unit or decimals < places or f"{rounded(value, places):.{places}f}" == digits:
        return False
    return f"{value:.{decimals}f}" == f"{found:.{decimals}f}"


def test_each_figure_is_rounded_one_way(app):
    log = app.extensions["joblog"]
    load_demo(log)
    client = app.test_client()
    found, looked = [], 0
    for joint in (joint for job in log.jobs() for joint in log.joints(job.id)):
        facts = joint.facts
        kept = {n: float(facts[n]) for n in KINDS if isinstance(facts.get(n), int | float)}
        rounded = {f"{KINDS[n][2](v, KINDS[n][1]):.{KINDS[n][1]}f}" for n, v in kept.items()}
        for path, words in pages_of(client, joint.id, joint.job):
            for shown in FIGURE.findall(words):
                looked += 1
                found += [
                    (path, " ".join(shown), name, value)
                    for name, value in kept.items()
                    if shown[0] not in rounded and otherwise(shown, value, *KINDS[name])
                ]
    assert looked > 500
    assert not found, found[:5]


@pytest.mark.parametrize(
    ("flow_id", "given"),
    [
        ("surge", {"flow": 4.3, "static": 41.3}),
        ("hold", {"joints": ["solvent_socket"], "static": 41.3, "surge": 20.2}),
    ],
)
def test_a_load_is_rounded_up_in_the_sentence_and_beside_it(flow_id, given):
    flow = flows()[flow_id]
    facts = {"pipe.nominal": "1", "pipe.class": "Sch 40", "site.pressure_psi": 41.3}
    answer = flow.work_out(given, facts).as_json()
    assert answer["peak_psi"] % 1 > 0.01
    peak = f"{math.ceil(answer['peak_psi'])} psi"
    assert peak in answer["headline"]
    rows = next(one for one in flow.blocks(answer) if isinstance(one, Facts)).rows
    assert dict(rows)["Highest pressure"] == peak


def test_the_pressure_a_weld_cures_for_is_never_told_higher_than_it_is():
    found = flows()["join-cement"].work_out(
        {"size": "1", "temperature": 70.0, "pressure": 37.5}, {"parts.joints": ["solvent_socket"]}
    )
    told = re.findall(r"([\d.]+) psi", f"{found.headline} {[one.inputs for one in found.working]}")
    assert told
    assert all(37.0 <= float(one) <= 37.5 for one in told)
