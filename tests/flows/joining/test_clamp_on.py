"""A clamp-on tee, from the search to the repair: one kind of joint, everywhere it must show."""

import math

import pytest

from fieldkit.flows.calculations import calculate
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import standing
from fieldkit.flows.diagnosing.mend import remake_flow
from fieldkit.flows.diagnosing.request import joint_types
from fieldkit.flows.drawings.assembly import assembly_drawing
from fieldkit.flows.drawings.saddle import round_the_pipe
from fieldkit.tables.fittings import fittings, joints
from fieldkit.tables.pipes import ips_pvc

SADDLES = {one.id for one in fittings().values() if one.family == "saddle"}


def answered(**changed):
    body = {
        "pvc": {"nominal": "1", "class": "Sch 40"},
        "tubing": {"od": "0.700 in", "bore": "0.600 in"},
        "place": "inline",
        "count": 3,
    }
    return calculate("transition", body | changed).as_json()


def with_saddle(answer):
    return [one for one in answer["assemblies"] if SADDLES & {part["id"] for part in one["parts"]}]


def test_it_is_offered_in_line_with_the_pipe_whole():
    found = with_saddle(answered(pressure="20 psi"))
    assert found
    for one in found:
        pipe_joints = [joint for joint in one["joints"] if "pipe" in joint["between"]]
        assert [joint["kind"] for joint in pipe_joints] == ["saddle"]  # no cut: one joint, not two
        assert one["wait_minutes"] == 0
        assert one["holds_psi"] <= joints()["saddle"].ceiling_psi
        assert assembly_drawing(one) is not None
    assert any("the pipe is not cut" in one["why"] for one in found)


@pytest.mark.parametrize("place", ["end", "riser"])
def test_it_never_goes_over_an_open_end(place):
    answer = answered(place=place)
    assert not with_saddle(answer)
    why = {one["part"]: one["why"] for one in answer["refused"] if one["part"] in SADDLES}
    assert set(why) == SADDLES
    assert all("never over an open end" in one for one in why.values())


def test_thin_pipe_is_not_clamped():
    answer = answered(pvc={"nominal": "1", "class": "SDR 26"})
    assert not with_saddle(answer)
    assert any("Sch 40 and thicker" in one["why"] for one in answer["refused"])


def test_above_its_ceiling_it_is_not_offered():
    assert not with_saddle(answered(pressure="51 psi"))


def test_it_stands_on_the_parts_list():
    answer = answered(
        parts_to_hand=["saddle_tee_barb_1000_0600", "clamp_screw_0500"], pressure="50 psi"
    )
    listed = {line["id"]: line["count"] for line in answer["parts_list"]["parts"]}
    assert listed == {"saddle_tee_barb_1000_0600": 3, "clamp_screw_0500": 3}
    assert answer["parts_list"]["sundries"] == []


def test_it_has_its_own_stage_before_the_tubing():
    facts = {"parts.joints": ["saddle", "barb_clamped"], "parts.assembly": {"parts": []}}
    states = {one.stage.id: one.state for one in standing(facts)}
    order = list(states)
    assert order.index("fit-part") < order.index("join-tube")
    assert states["join-cement"] == states["join-thread"] == "not needed"
    assert "fit-part" not in {one.stage.id for one in standing({"parts.joints": ["ring"]})}
    done = standing(facts | {"fitted.verdict": "ok"})
    assert {one.stage.id: one.state for one in done}["fit-part"] == "done"


def test_its_acts_are_those_of_its_row():
    flow = flows()["fit-part"]
    asked = [step.ask for step in flow.steps if step.id.startswith("saddle_")]
    assert asked == list(joints()["saddle"].steps)
    facts = {"parts.joints": ["saddle", "barb_bare"], "site.pressure_psi": 60.0}
    answer = flow.work_out({"stays": "holds"}, facts).as_json()
    assert answer["verdict"] == "too_much"
    assert flow.work_out({"stays": "moves"}, facts).as_json()["verdict"] == "moved"


def test_heat_takes_from_its_ceiling():
    # PPFA 3-96: PVC keeps 0.40 of its rating at 120 °F, and 0.22 at 140 °F.
    flow = flows()["fit-part"]
    for hot_f, share in ((120.0, 0.40), (140.0, 0.22)):
        facts = {"parts.joints": ["saddle"], "site.temperature_f": hot_f}
        answer = flow.work_out({"stays": "holds"}, facts).as_json()
        assert math.isclose(answer["ceiling_psi"], joints()["saddle"].ceiling_psi * share)


def test_hold_and_the_plan_know_it():
    hold = calculate("hold", {"joint": "clamp-on tee", "static_pressure": "60 psi"}).as_json()
    assert hold["weakest"] == "saddle"
    assert hold["verdict"] == "lets_go"


def test_a_leak_of_it_is_diagnosed_and_mended_as_its_own():
    facts = {"parts.joints": ["saddle"], "leak.joint": "saddle"}
    assert joint_types(facts) == ("saddle",)
    assert remake_flow(None, facts) == "fit-part"
    answers = {"fitting_type": "saddle", "leak_place": "pushfit_mouth", "when_first": "first_fill"}
    found = calculate("diagnose", {"answers": answers}).as_json()
    assert [one["id"] for one in found["causes"][:2]] == ["saddle_off_hole", "gasket_fault"]


def test_the_pipe_of_its_drawing_keeps_its_ratio():
    pipe = ips_pvc()["1", "Sch 40"]
    svg = round_the_pipe(pipe.od_in, pipe.wall_in).svg
    radii = {
        css: float(svg.split(f'class="{css}"')[0].rsplit(' r="', 1)[1].split('"')[0])
        for css in ("wall saddle__pipe", "hole")
    }
    ratio = radii["hole"] / radii["wall saddle__pipe"]
    assert math.isclose(ratio, 1.049 / 1.315, abs_tol=0.01)  # ASTM D1785: 1.049 in inside
