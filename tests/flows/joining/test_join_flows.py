"""Every way through the guided joining flows ends, and "I can’t tell" always leads on."""

import json
from itertools import product

import pytest

from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.working import to_json
from fieldkit.flows.checklist import standing
from fieldkit.flows.diagnosing.request import from_facts
from fieldkit.flows.facts import FACTS
from fieldkit.flows.forms import read_answer
from fieldkit.flows.joining.cement_questions import JOIN_CEMENT, spells_of
from fieldkit.flows.joining.thread_questions import JOIN_THREAD
from fieldkit.flows.joining.tube_questions import JOIN_TUBE
from fieldkit.flows.question import CANT_TELL, Choice, Confirm, Group, Quantity
from fieldkit.tables.cautions import cautions
from fieldkit.tables.load import known_sources

FLOWS = (JOIN_CEMENT, JOIN_THREAD, JOIN_TUBE)
NOW = {"now": "2026-11-25T21:00:00Z"}


def usual(step):
    """A plain answer of the step's kind, read as the page would read it."""
    match step.kind:
        case Choice():
            form = {"value": [step.kind.options[0].value]}
        case Quantity():
            form = {"value": [step.kind.common[-1][0]]}
        case Group():
            form = {f"value-{name}": ["50 F"] for name, _, _ in step.kind.parts}
        case Confirm():
            form = {}
        case _:
            raise AssertionError(step.kind)
    return read_answer(step, form)


def walk(flow, facts, answer):
    given = {}
    for _ in range(50):
        step = flow.next_step(given, facts)
        if step is None:
            return given
        given[step.id] = answer(step)
    raise AssertionError(f"{flow.id} does not end")


def finish(flow, given, facts):
    shaped = flow.work_out(given, facts).as_json()
    blocks = flow.show(shaped)
    learned = to_json(flow.learn(given, shaped))
    assert learned.keys() <= FACTS.keys()
    json.dumps([to_json(blocks), learned], allow_nan=False)
    return shaped, blocks, learned


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_the_usual_way_ends_in_an_answer_to_show(flow):
    given = walk(flow, NOW, usual)
    shaped, blocks, learned = finish(flow, given, NOW)
    assert shaped["headline"]
    assert blocks
    assert learned


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_every_option_leads_to_an_end(flow):
    for step in flow.steps:
        if not isinstance(step.kind, Choice):
            continue
        for option in step.kind.options:
            given = walk(
                flow, NOW, lambda s, a=step, o=option: o.value if s.id == a.id else usual(s)
            )
            if step.id in given:
                finish(flow, given, NOW)


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_every_step_can_be_left_open(flow):
    for step in flow.steps:
        if isinstance(step.kind, Confirm):
            continue
        assert step.cant_tell
        given = walk(flow, NOW, lambda s, a=step: CANT_TELL if s.id == a.id else usual(s))
        back = None
        try:
            finish(flow, given, NOW)
        except Problem as told:
            back = told.field
        # Either it ends in an answer, or the person is sent back to a step of this flow.
        assert back is None or flow.step(back) is not None


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_every_step_is_reached_on_some_way(flow):
    seen = set()
    choices = [s for s in flow.steps if isinstance(s.kind, Choice)]
    for picks in product(*(range(len(s.kind.options)) for s in choices[:3])):
        wanted = {s.id: s.kind.options[i].value for s, i in zip(choices, picks, strict=False)}
        seen |= walk(flow, NOW, lambda s, w=wanted: w.get(s.id, usual(s))).keys()
    # What is folded is asked beside others only.
    assert seen | {step.id for step in flow.steps if step.folded} == {
        step.id for step in flow.steps
    }


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_facts_cautions_and_sources_are_known(flow):
    for step in flow.steps:
        assert not step.fact or step.fact in FACTS
        assert set(step.caution) <= cautions().keys()
        assert set(step.sources) <= known_sources()
        assert len(step.ask.split()) <= 20
    assert set(flow.cautions) <= cautions().keys()


@pytest.mark.parametrize(
    ("flow", "joints"),
    [(JOIN_CEMENT, ["npt", "collar"]), (JOIN_THREAD, ["solvent_socket", "ring"]),
     (JOIN_TUBE, ["solvent_socket", "npt"])],
    ids=lambda value: getattr(value, "id", ""),
)  # fmt: skip
def test_parts_without_such_a_joint_ask_nothing(flow, joints):
    facts = NOW | {"parts.joints": joints}
    assert flow.next_step({}, facts) is None
    shaped, blocks, learned = finish(flow, {}, facts)
    assert (shaped["verdict"], blocks, learned) == ("nothing_to_do", (), {})


# ── Gluing ───────────────────────────────────────────────────────────────────────────────────

WELD = {
    "size": "1/2", "wall": "Sch 40", "temperature": 70.0, "humidity": 50.0, "pressure": 100.0,
    "forecast": None, "one_step": "two", "dry_fit": "snug", "closed": 15.0,
}  # fmt: skip


def test_the_clock_starts_when_the_last_joint_was_closed():
    shaped, _, learned = finish(JOIN_CEMENT, WELD, NOW)
    # ½ in at 70 °F to 100 psi: 1 h by the slower schedule, from a quarter of an hour ago.
    assert shaped["ready_at"] == learned["weld.ready_at"] == "2026-11-25T21:45:00Z"
    assert learned["weld.made_at"] == "2026-11-25T20:45:00Z"
    assert learned["weld.temperature_f"] == 70


def test_what_nobody_could_tell_takes_the_slower_side_and_is_no_fact():
    unsure = WELD | {"temperature": None, "humidity": None, "pressure": None, "wall": None}
    shaped, _, learned = finish(JOIN_CEMENT, unsure, NOW)
    # Coldest band, damp, to 160 psi: 8 h × 1.5.
    assert shaped["cure_minutes"] == 8 * 60 * 1.5
    assert shaped["cement_body"] == "heavy"
    assert not {"weld.temperature_f", "weld.humidity_pct"} & learned.keys()


def test_what_the_log_knows_is_not_asked_again():
    facts = NOW | {"pipe.nominal": "3/4", "pipe.class": "Sch 80", "test.pressure_psi": 200.0}
    given = walk(JOIN_CEMENT, facts, usual)
    assert not {"size", "wall", "pressure"} & given.keys()
    shaped, _, _ = finish(JOIN_CEMENT, given, facts)
    assert (shaped["insert_depth_in"], shaped["pressure_psi"]) == (1.0, 200)


@pytest.mark.parametrize("fit", ["tight", "falls off"])
def test_a_bad_dry_fit_is_never_primed(fit):
    given = walk(JOIN_CEMENT, NOW, lambda s: fit if s.id == "dry_fit" else usual(s))
    assert not {"prime", "cement", "push", "closed"} & given.keys()
    shaped, _, learned = finish(JOIN_CEMENT, given, NOW)
    assert (shaped["verdict"], shaped["ready_at"]) == ("change_part", None)
    assert learned == {"weld.dry_fit": fit}


def test_one_step_cement_is_not_primed():
    given = walk(JOIN_CEMENT, NOW, lambda s: "one" if s.id == "one_step" else usual(s))
    assert "prime" not in given


@pytest.mark.parametrize(
    ("answers", "used"),
    [
        ({"one_step": "two", "prime": True}, "yes"),
        ({"one_step": "two", "prime": None}, "no"),
        ({"one_step": "one"}, None),  # a cement that wants no primer does not lack it
    ],
)
def test_a_diagnosis_knows_of_primer_what_was_really_done(answers, used):
    given = {key: value for key, value in WELD.items() if key != "prime"} | answers
    _, _, learned = finish(JOIN_CEMENT, given, NOW)
    known = from_facts({"parts.joints": ["solvent_socket"], **learned}).given
    assert known.get("primer_used") == used


@pytest.mark.parametrize("material", ["cpvc", "pe"])
def test_other_plastics_are_not_walked_through_gluing(material):
    facts = NOW | {"pipe.material": material}
    assert JOIN_CEMENT.next_step({}, facts) is None
    assert finish(JOIN_CEMENT, {}, facts)[0]["verdict"] == "do_not_cement"


def test_the_forecast_page_adds_up():
    shaped, _, _ = finish(
        JOIN_CEMENT, WELD | {"forecast": {"first": 50.0, "second": 30.0}, "pressure": 250.0}, NOW
    )
    # To 250 psi at 30 °F, the coldest met: 12 h of 48, and there the forecast ends.
    assert shaped["cure_share"] == pytest.approx(12 / 48)
    assert shaped["ready_at"] is None
    assert shaped["forecast_reaches"] is False


def test_a_low_left_out_takes_the_coldest_told():
    spells, until = spells_of({"forecast": {"first": 60.0, "third": 35.0}}, 70.0)
    assert [s.temperature_f for s in spells] == [60, 35, 35]
    assert until == 24 * 60


def test_a_pressure_past_the_schedules_goes_back_to_its_page():
    with pytest.raises(OutOfRange, match="The schedules stop at 315 psi") as told:
        JOIN_CEMENT.work_out(WELD | {"size": "2", "pressure": 350.0}, NOW)
    assert told.value.field == "pressure"


def test_too_cold_is_stopped_before_the_primer():
    ids = [step.id for step in JOIN_CEMENT.steps]
    assert ids.index("temperature") < ids.index("prime")
    step = JOIN_CEMENT.step("temperature")
    assert step is not None
    with pytest.raises(OutOfRange, match="0 °F"):
        read_answer(step, {"value": ["-5 F"]})


# ── Threads and tube ends ────────────────────────────────────────────────────────────────────


def test_a_hose_thread_in_a_pipe_thread_is_told_at_once():
    given = walk(JOIN_THREAD, NOW, lambda s: "mixed" if s.id == "kind" else usual(s))
    assert given.keys() == {"kind"}
    shaped, blocks, learned = finish(JOIN_THREAD, given, NOW)
    assert shaped["verdict"] == learned["thread.verdict"] == "does_not_match"
    assert "adapter" in blocks[0].rows[0][1]


def test_parts_with_a_swivel_ask_for_the_washer_only():
    given = walk(JOIN_THREAD, NOW | {"parts.joints": ["npt_swivel"]}, usual)
    assert given.keys() == {"shut", "clean", "washer", "hand"}


def test_a_bad_thread_is_not_done_and_is_asked_again():
    given = walk(JOIN_THREAD, NOW, lambda s: 3.0 if s.id == "turns" else usual(s))
    _, _, learned = finish(JOIN_THREAD, given, NOW)
    assert learned["thread.verdict"] == "too_tight"
    states = {one.stage.id: one.state for one in standing(learned)}
    assert states["join-thread"] == "failed"
    assert "turns" in walk(JOIN_THREAD, NOW | learned, usual)


def test_the_weakest_of_several_ends_is_told():
    facts = NOW | {"parts.joints": ["collar", "barb_bare"], "site.pressure_psi": 40.0}
    given = walk(JOIN_TUBE, facts, usual)
    assert {"nut", "lock", "push_over"} <= given.keys()
    shaped, _, _ = finish(JOIN_TUBE, given, facts)
    assert (shaped["kind"], shaped["verdict"]) == ("barb_bare", "too_much")


@pytest.mark.parametrize(("tug", "verdict"), [("moves", "moved"), (None, "not_tugged")])
def test_an_end_that_was_not_proved_by_hand_is_not_done(tug, verdict):
    given = walk(JOIN_TUBE, NOW, usual) | {"tug": tug}
    _, _, learned = finish(JOIN_TUBE, given, NOW)
    assert learned["tube_end.verdict"] == verdict
    states = {one.stage.id: one.state for one in standing(learned)}
    assert states["join-tube"] == "failed"


@pytest.mark.parametrize(
    ("sun", "verdict"), [("no", "wait"), ("yes", "shade_first"), (None, "shade_first")]
)
def test_sun_on_the_pipe_is_asked_and_counted(sun, verdict):
    """Bare pipe in the sun runs about 30 °F over the air; cement guides stop at 100 °F."""
    facts = NOW | {"parts.joints": ["solvent_socket"]}
    given = walk(JOIN_CEMENT, facts, usual) | {"temperature": 85.0, "sun": sun}
    assert "sun" in walk(JOIN_CEMENT, facts, usual)
    assert JOIN_CEMENT.work_out(given, facts).verdict == verdict
