"""Every line of working, read and evaluated by sympy, gives the figure that it shows.

A wrong or a stale working fails here, in whatever calculation it stands; so does a formula that
nothing here reaches.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from support.working_lines import answers, demo_lines, examples, formulas_in_source, lines_in
from support.working_reader import fault, form

from fieldkit.engine.hydraulics.sun import sun_line
from fieldkit.engine.joining.fit_part import fit_part
from fieldkit.engine.joining.tube_end import push_on
from fieldkit.engine.working import to_json
from fieldkit.flows.calculations import CALCULATIONS, calculate
from fieldkit.flows.catalogue import flows

HERE = Path(__file__).parent

#: Requests that reach lines which the examples of the API do not.
RARE = (
    ("friction", {"bore": "0.6 in", "flow": "0.05 gpm", "length": "10 ft"}),
    ("thread", {"size": "1/2", "male_thread": "npt", "female_thread": "bspp"}),
    ("thread", {"size": "3/4", "male_thread": "hose", "female_thread": "hose"}),
    ("hold", {"joint": {"kind": "npt", "pipe": {"nominal": "1/2", "class": "Sch 40"}},
              "static_pressure": "20 psi", "temperature": "120 F"}),
    ("hold", {"joint": {"kind": "solvent_socket", "bend": 45,
                        "pipe": {"nominal": "2", "class": "Sch 40"}},
              "static_pressure": "20 psi"}),
    ("diagnose", {"answers": {"fitting_type": "ring", "od_gap_in": "0.01 in"}}),
    ("diagnose", {"answers": {"fitting_type": "npt_thread", "turns_past_hand": 2}}),
    ("judge_test", {
        "line": [{"material": "pvc", "nominal": "4", "class": "SDR 21", "length": "1000 ft"}],
        "restraint": "gasketed", "gasketed_joints": 50, "minutes": 60, "visible_leak": False,
        "start": {"pressure": "100 psi", "water_temperature": "60 F"},
        "end": {"pressure": "0 psi", "water_temperature": "60 F"},
    }),
)  # fmt: skip

#: flow → answers, to reach lines that only a guided flow writes.
GUIDED = (
    ("prove", {"watched": "dry"}),
    (
        "size-line",
        {
            "pressure": 50.0,
            "nominal": "3/4",
            "class": "Sch 40",
            "joints": ["ring"],
            "outlets": 60,
            "spacing": 12.0,
            "outlet_flow": 1.0,
        },
    ),
    ("riser-to-tube", {"head_flow": 1.5, "heads": 4, "others": "cap"}),
    (
        "measure-tube",
        {"tool": "caliper", "readings": (0.7, 0.702), "bore": {"goes": 0.594, "stops": 0.609}},
    ),
)


#: What is solved numerically, and the file that holds it to somebody else's figures.
BY_STEPS = {
    "Bayes’ rule over the causes": "diagnosing/test_diagnose.py",
    "Σ length / time needed at that temperature = 1": "joining/test_cure_clock.py",
    "∫ (β − γ) Keff dT": "pressure_test/test_line_stiffness.py",
    "Allievi’s chain with the valve’s closing curve, at most the sudden stop":
        "hydraulics/test_surge.py",
    "the same by Darcy–Weisbach": "hydraulics/test_lateral.py",
    "the same by Hazen–Williams": "hydraulics/test_lateral.py",
    "P = P' + s (loss(Q) + slope) + barb(Q), Q = Q' + k P^x": "hydraulics/test_lateral.py",
    "prior × likelihood of each row, over the sum of all": "identifying/test_identify.py",
}  # fmt: skip


def rare_lines():
    for name, body in RARE:
        yield from lines_in(calculate(name, body).as_json())
    for tube in ("thin", "thick"):
        yield from lines_in(push_on("barb_clamped", tube=tube, pressure_psi=45.0).as_json())
    yield from lines_in(fit_part("saddle", pressure_psi=20.0, temperature_f=95.0).as_json())
    yield from lines_in(to_json([sun_line(90.0, sun=sun) for sun in (True, False)]))
    for flow, given in GUIDED:
        yield from lines_in(flows()[flow].work_out(given, {}).as_json())


@pytest.mark.parametrize("name", CALCULATIONS)
def test_what_is_shown_can_be_worked_out_from_what_is_shown(name):
    found = [fault(line) for one in answers(name, 60, "working") for line in lines_in(one)]
    assert len(found) > 100
    assert not [one for one in found if one]


def test_the_working_of_the_demo_and_of_what_is_rare():
    assert not [one for line in (*demo_lines(), *rare_lines()) if (one := fault(line))]


def test_no_formula_is_beyond_the_reach_of_this_file():
    lines = [
        line for name, body in examples() for line in lines_in(calculate(name, body).as_json())
    ]
    met = {str(line["formula"]) for line in (*lines, *demo_lines(), *rare_lines())}
    written = formulas_in_source()
    assert not {one for one in written if form(one) is None} - met
    by_steps = {one.partition(": ")[2] for one in written if form(one) == "by steps"}
    assert by_steps == set(BY_STEPS)
    assert all((HERE / file).is_file() for file in BY_STEPS.values())


def test_the_reader_tells_a_wrong_line():
    line = {"name": "velocity", "formula": "V = 0.408498 Q / d²", "unit": "ft/s"}
    # 10 gpm through 1.049 in: 3.71 ft/s in the tables of any pipe maker.
    inputs = {"Q": "10.00 gpm", "d": "1.049 in"}
    assert fault({**line, "inputs": inputs, "value": 3.712}) is None
    assert fault({**line, "inputs": inputs, "value": 3.73})
    assert fault({**line, "inputs": {"Q": "10.00 gpm"}, "value": 3.712})
    assert fault({**line, "formula": "by the book", "inputs": inputs, "value": 3.712})
    assert "more digits" in fault(
        {**line, "inputs": {"Q": "10 gpm", "d": "1.0 in"}, "value": 4.085}
    )
