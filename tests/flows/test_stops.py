"""Gas pipe and pipe that is not for pressure: every stage refuses, by one rule."""

import pytest

from fieldkit.engine.problems import Problem, Refused
from fieldkit.flows.calculations import CALCULATIONS, calculate
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import next_after, next_of, standing
from fieldkit.flows.halt import STOP_FACT
from fieldkit.flows.question import CANT_TELL
from fieldkit.flows.stops import LOOKING, refuse_carried
from fieldkit.web.pages.api_examples import EXAMPLES

#: The marking that ASTM D2513 asks of gas pipe; UL 651 of conduit; ASTM A53 of steel.
GAS, CONDUIT, STEEL = (
    "WARNING GAS 3/4 IPS SDR 11 PE2708 ASTM D2513",
    "1/2 RIGID PVC CONDUIT SCH 40 UL 651",
    "3/4 GALVANIZED STEEL A53",
)
NAMING = {"identify-pipe", "identify-tube"}
MEASURING = {"measure-pipe", "measure-tube"}


def learned(flow_id, given, facts=None):
    flow = flows()[flow_id]
    return flow.learn(given, flow.work_out(given, facts or {}).as_json())


@pytest.mark.parametrize("side", ["pipe", "tube"])
def test_a_gas_print_stops_the_flow_at_once(side):
    flow = flows()[f"identify-{side}"]
    given = {"od": 1.050, "print_line": GAS}
    assert flow.next_step(given, {}) is None  # no wall and no bore: nothing tempts to cut
    answer = flow.work_out(given, {})
    assert answer.stops == "gas"
    assert "Do not cut" in answer.headline
    assert any("gas utility" in one for one in answer.cautions)
    assert flow.show(answer.as_json())
    facts = flow.learn(given, answer.as_json())
    assert facts[f"{side}.other_kind"] == "gas"
    assert f"{side}.nominal" not in facts


@pytest.mark.parametrize("side", ["pipe", "tube"])
def test_a_look_that_tempts_to_cut_says_where_it_may_be_gas(side):
    """ASTM D2513 lists gas pipe of 1 in iron-pipe size: 1.315 in outside; none of 0.700 in."""
    flow = flows()[f"identify-{side}"]

    def page(facts):
        return flow.page(flow.next_step({}, facts), {}, facts)

    for facts, warns in (({}, True), ({f"{side}.od_in": 1.315}, True), ({f"{side}.od_in": 0.7}, 0)):
        cuts = [one for one in page(facts) if one.id in {"wall", "bore", "drill"}]
        assert cuts
        assert all(("gas_unknown" in one.caution) == warns for one in cuts)
    named = {f"{side}.od_in": 1.050, f"{side}.other_kind": "gas"}
    assert [one.id for one in page(named)] == ["print_line"]


@pytest.mark.parametrize("flow_id", [one for one in flows() if one not in NAMING])
@pytest.mark.parametrize("side", ["pipe", "tube"])
def test_every_other_flow_refuses_gas_pipe(flow_id, side):
    flow, facts = flows()[flow_id], {f"{side}.other_kind": "gas"}
    assert flow.next_step({}, facts) is None
    with pytest.raises(Refused, match="gas") as caught:
        flow.work_out({}, facts)
    assert "utility" in str(caught.value.instead)


def test_a_kind_that_only_a_newer_version_knows_stops_as_gas_does():
    """It may be gas: only a print that is read here anew takes it away."""
    facts = {"pipe.other_kind": "hydrogen-pe", "pipe.od_in": 0.840, "pipe.wall_in": 0.115}
    naming = flows()["identify-pipe"]
    assert naming.next_step({}, facts).id == "print_line"
    with pytest.raises(Refused, match="only a newer version knows"):
        naming.work_out({"print_line": "worn off"}, facts)
    for flow_id in flows().keys() - NAMING:
        assert flows()[flow_id].next_step({}, facts) is None
        with pytest.raises(Refused, match="only a newer version knows"):
            flows()[flow_id].work_out({}, facts)
    stages = standing(facts)
    assert next_of(stages) is None
    assert "newer version" in next(one for one in stages if one.state == "failed").summary
    again = {"print_line": "1/2 SCH 40 PVC ASTM D1785 600 PSI"}
    assert learned("identify-pipe", again, facts)["pipe.other_kind"] is None


@pytest.mark.parametrize("line", [CONDUIT, STEEL])
def test_what_takes_no_joint_may_be_measured_and_nothing_else(line):
    facts = learned("identify-pipe", {"od": 0.840, "print_line": line})
    for flow_id, flow in flows().items():
        if flow_id in NAMING:
            continue
        if flow_id in MEASURING:
            assert flow.next_step({}, facts) is not None
            continue
        with pytest.raises(Refused):
            flow.work_out({}, facts)


def test_a_print_read_anew_takes_the_stop_away_and_nothing_less_does():
    flow = flows()["identify-pipe"]
    facts = {"pipe.other_kind": "gas", "pipe.od_in": 0.840, "pipe.wall_in": 0.115}
    assert flow.next_step({}, facts).id == "print_line"
    with pytest.raises(Refused):
        flow.work_out({"print_line": None}, facts)
    for useless in ("worn off", "smudged, cannot read it", "0.700 x 0.600 drip"):
        with pytest.raises(Refused):
            flow.work_out({"print_line": useless}, facts)
    again = {"print_line": "1/2 SCH 40 PVC ASTM D1785 600 PSI"}
    assert learned("identify-pipe", again, facts)["pipe.other_kind"] is None


def test_the_checklist_stops_where_the_pipe_was_named():
    facts = {"pipe.od_in": 0.84, "tube.id": "drip-0700x0600", "pipe.other_kind": "gas"}
    stages = standing(facts)
    assert next_of(stages) is None
    assert next_after("identify-pipe", ("measure-tube",), stages) is None
    named = next(one for one in stages if one.stage.id == "identify-pipe")
    assert named.state == "failed"
    assert "gas" in named.summary
    assert not any(one.state == "next" for one in stages)


def test_a_card_of_conduit_stops_and_a_card_of_water_pipe_goes_on():
    flow = flows()["identify-pipe"]
    answer = flow.work_out({"od": 0.840, "wall": 0.115, "print_line": None}, {}).as_json()
    picked = flow.pick(answer, "conduit-ips-0500-sch40")
    assert picked["pipe.other_kind"] == "conduit"
    assert flow.pick(answer, "pvc-ips-0500-sch40")["pipe.other_kind"] is None


# ── By request ──────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("name", [one for one in CALCULATIONS if one not in LOOKING])
@pytest.mark.parametrize(
    "carried",
    [{"stops": "gas"}, {"print_line": GAS}, {"not_for_pressure": "electrical conduit"},
     {"other_kind": "steel"}, {"id": "gas-ips-0750"}, {"family": "drain"},
     {"pipe.other_kind": "gas"}, {"other_kind": "hydrogen-pe"}],
    ids=str,
)  # fmt: skip
def test_each_calculation_refuses_a_request_that_carries_such_a_pipe(name, carried):
    for body in EXAMPLES[name].values():
        with pytest.raises(Refused):
            calculate(name, {**body, **carried})
        with pytest.raises(Refused):
            calculate(name, {**body, "pipe": carried})


def test_an_answer_of_identify_may_be_sent_along():
    found = calculate("identify", {"od": 0.84, "rigid": True, "print_line": "SCH 40 D1785"})
    carried = {key: found.as_json()[key] for key in ("stops", "not_for_pressure", "other_kind")}
    body = {"bore": "0.6 in", "flow": "2 gpm", "length": "100 ft"}
    assert calculate("friction", body | carried).cautions == calculate("friction", body).cautions


@pytest.mark.parametrize(
    ("line", "stops", "not_for_pressure"),
    [
        (GAS, "gas", None),
        ("GAS", "gas", None),
        (CONDUIT, None, "electrical conduit"),
        ("2 SCH 40 DWV ASTM D2665", None, "drain, waste and vent pipe"),
        (STEEL, None, None),
        ("CPVC 4120 SDR 11 1/2 ASTM D2846", None, None),
        ("1/2 SCH 40 PVC ASTM D1785", None, None),
    ],
)
def test_identify_by_request_says_what_the_print_forbids(line, stops, not_for_pressure):
    found = calculate("identify", {"od": "0.840 in", "u_od": "0.002 in", "print_line": line})
    assert found.stops == stops
    assert found.not_for_pressure == not_for_pressure
    assert (found.next_measurement is None) or found.other_kind is None
    assert sum(one["probability"] for one in found.candidates) == pytest.approx(1, abs=1e-9)
    named = {one["family"] for one in found.candidates}
    assert not (stops and "ips-pvc" in named)


def test_a_request_as_deep_as_it_likes_does_no_harm():
    body = {"stops": None}
    for _ in range(500):
        body = {"pipe": [body]}
    refuse_carried(body)
    with pytest.raises(Problem):
        refuse_carried({"a": [{"b": {"stops": "gas"}}]})


JOINING = ("join-cement", "join-tube", "join-thread")
#: What leads each of them to its acts.
ONTO = {
    "join-cement": {"parts.joints": ["solvent_socket"]},
    "join-tube": {"tube_end.kind": "ring", "parts.joints": ["ring"]},
    "join-thread": {"parts.joints": ["npt"]},
}


@pytest.mark.parametrize("flow_id", JOINING)
def test_who_cannot_shut_it_off_joins_nothing(flow_id):
    flow = flows()[flow_id]
    given = {"shut": CANT_TELL}
    assert flow.next_step(given, ONTO[flow_id]) is None
    answer = flow.work_out(given, ONTO[flow_id]).as_json()
    assert answer["verdict"] == "stop"
    assert not any(" cut" in one or "glue" in one for one in answer["do"])
    assert flow.learn(given, answer) == {STOP_FACT: "cannot_shut_off"}


@pytest.mark.parametrize("flow_id", JOINING)
def test_a_joining_flow_takes_no_stop_away(flow_id):
    flow = flows()[flow_id]
    for stop in ("cannot_shut_off", "electricity", "gas", "house_side"):
        assert flow.next_step({}, {**ONTO[flow_id], STOP_FACT: stop}) is None
        with pytest.raises(Problem, match="Stop"):
            flow.work_out({"shut": True}, {**ONTO[flow_id], STOP_FACT: stop})
