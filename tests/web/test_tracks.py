"""What leads on from a page: the repair, the nearest change that works, a joint like another."""

from __future__ import annotations

from fieldkit.flows.catalogue import flows
from fieldkit.flows.forms import read_answer
from fieldkit.web.ids import following_id, fresh_id

#: A pipe and a tubing for which nothing that comes apart holds 40 psi at 100 °F.
SIZES = {
    "nominal": "3/4", "class": "Sch 40", "tube_od": "0.708", "half_inch": "yes",
    "tube_bore": "0.618", "place": "end", "branches": "1", "valve": "no", "count": "3",
    "pressure": "40", "temperature": "100", "wants": ["reusable", "buried"],
}  # fmt: skip


def new_joint(hand, name="Box 3"):
    job = hand.send(hand.read("/jobs"), "/jobs", name="Hill row")
    return hand.send(job, "/joints", name=name)


def answered(hand, joint, flow_id, answers):
    page = hand.read(f"/joint/{joint}/{flow_id}")
    while (step := page.path.rsplit("/", 1)[1]) in answers or page.path.count("/") == 4:
        if step == "answer":
            break
        steps = page_steps(page, flow_id)
        if len(steps) == 1:
            page = hand.answer(page, answers[step])
        else:
            page = hand.send(page, **{f"{one}.value": answers[one] for one in steps})
    return page


def page_steps(page, flow_id):
    """The steps whose boxes the page has."""
    flow = flows()[flow_id]
    named = [one.id for one in flow.steps if f'name="{one.id}.value"' in page.html]
    return named or [page.path.rsplit("/", 1)[1]]


def facts_of(app, joint):
    return app.extensions["joblog"].joint(joint).facts


def test_a_refusal_offers_the_nearest_change_and_one_tap_makes_it(app, hand):
    joint = new_joint(hand).path.split("/")[2]
    page = answered(hand, joint, "choose", SIZES)
    assert "Nothing listed holds 40 psi" in page.words
    assert "With a 25 psi regulator: " in page.words
    better = hand.send(page, "/change", change="pressure=25 psi; regulator=25 psi")
    assert "Use this one" in better.words
    assert "What would work" not in better.words
    assert facts_of(app, joint)["site.regulator_psi"] == 25.0
    assert facts_of(app, joint)["site.pressure_psi"] == 25.0
    entries = app.extensions["joblog"].count()
    hand.send(page, "/change", change="pressure=25 psi; regulator=25 psi")  # a second tap
    assert app.extensions["joblog"].count() == entries


def test_what_a_change_types_is_an_answer_of_its_step():
    flow = flows()["choose"]
    given = {k: v for k, v in SIZES.items() if k not in {"wants", "pressure", "half_inch"}}
    given |= {"tube_od": 0.708, "tube_bore": 0.618, "count": 3, "temperature": 100.0}
    given |= {"pressure": 40.0, "wants": ["reusable", "buried"]}
    found = flow.changes(flow.work_out(given, {}).as_json(), given, {})
    for one in found:
        changed = {
            step: read_answer(flow.step(step), {"value": list(typed)}) for step, typed in one.typed
        }
        assert flow.work_out({**given, **changed}, {}).assemblies
    unknown = given | {"tube_od": None, "half_inch": "no", "tube_bore": None}
    unknown |= {"pressure": 20.0, "wants": []}
    assert [one.key for one in flow.changes(None, unknown, {})] == ["half_inch=yes"]


def test_a_picked_way_leads_to_the_card_with_all_that_was_prescribed(app, hand):
    joint = new_joint(hand).path.split("/")[2]
    page = answered(hand, joint, "choose", SIZES)
    better = hand.send(page, "/change", change="pressure=25 psi; regulator=25 psi")
    offered = hand.read(f"/joint/{joint}/card")
    assert "Nothing is picked yet" in offered.words
    assert f'href="/joint/{joint}/card"' in better.html
    after = hand.send(better, "/pick", pick=first_pick(better))
    assert f"/joint/{joint}/" in after.path  # on to the stage that is next
    card = hand.read(f"/joint/{joint}/card")
    assert "Nothing is picked yet" not in card.words
    assert "pressure regulator, 25 psi" in card.words
    assert "3 ×" in card.words
    assert "thread-seal tape" in card.words
    assert "cinta" in card.words.casefold()  # the same in the shop's other language
    assert "For 3 joints" in card.words
    assert "Not these" in card.words
    assert card.html.count('aria-hidden="true">✗') >= 2
    assert "Hose thread" in card.words


def first_pick(page):
    return page.html.split('name="pick" value="', 1)[1].split('"', 1)[0]


def test_a_joint_whose_sizes_nobody_knows_has_a_card_that_says_how_to_find_them(hand):
    joint = new_joint(hand).path
    card = hand.read(f"{joint}/card")
    assert "The sizes are not all known yet" in card.words
    assert "Name the tubing" in card.words


def test_a_riser_leads_to_its_card_with_filter_and_caps(hand):
    joint = new_joint(hand).path.split("/")[2]
    given = {"head": "spray", "size": "1/2", "start": "npt-male", "heads": "5", "others": "cap",
             "pressure": "50", "tube_od": "0.700", "bore": "0.600"}  # fmt: skip
    page = hand.read(f"/joint/{joint}/riser-to-tube")
    while not page.path.endswith("/answer"):
        steps = page_steps(page, "riser-to-tube")
        if len(steps) == 1:
            page = hand.answer(page, given.get(steps[0]))
        else:
            page = hand.send(page, **{f"{one}.value": given.get(one, "") for one in steps})
    assert f'href="/joint/{joint}/card"' in page.html
    card = hand.read(f"/joint/{joint}/card")
    assert "filter, " in card.words
    assert "pressure regulator, " in card.words
    assert "4 × cap for a ½ in riser" in card.words


def test_another_joint_like_it_takes_over_what_can_be_the_same(app, hand):
    first = new_joint(hand).path.split("/")[2]
    page = answered(hand, first, "choose", SIZES)
    better = hand.send(page, "/change", change="pressure=25 psi; regulator=25 psi")
    hand.send(better, "/pick", pick=first_pick(better))
    job = hand.read(f"/job/{app.extensions['joblog'].joint(first).job}")
    assert "Another like Box 3" in job.words
    assert 'value="Box 4"' in job.html
    made = hand.send(job, "/joints", like=first)
    second = made.path.split("/")[2]
    facts = facts_of(app, second)
    assert app.extensions["joblog"].joint(second).name == "Box 4"
    assert facts == {
        name: value
        for name, value in facts_of(app, first).items()
        if name.startswith(("pipe.", "tube.", "parts.", "site.", "thread.size"))
    }
    assert "Taken over from Box 3" in made.words
    struck = hand.send(made, "/strike", fact="tube.od_in")
    assert "tube.od_in" not in facts_of(app, second)
    assert "tube.od_in" in facts_of(app, first)
    assert "Joint added: Box 4, like Box 3" in struck.words
    again = hand.read(f"/job/{app.extensions['joblog'].joint(first).job}")
    assert 'value="Box 5"' in again.html


def test_a_joint_of_another_job_is_not_taken_over(app, hand):
    first = new_joint(hand).path.split("/")[2]
    answered(hand, first, "choose", SIZES)
    other = hand.send(hand.read("/jobs"), "/jobs", name="Other row")
    made = hand.send(other, "/joints", name="Bed 1", like=first)
    assert facts_of(app, made.path.split("/")[2]) == {}


def test_the_cause_that_was_found_leads_to_the_mend_and_stands_on_the_joint(app, hand):
    joint = new_joint(hand).path.split("/")[2]
    page = hand.answer(hand.read(f"/joint/{joint}/popped-off"), "shut")
    answer = hand.send(page, answer="enough")
    if "/answer" not in answer.path:
        for _ in range(6):
            answer = hand.answer(answer)
            if answer.path.endswith("/answer"):
                break
            if "Answer now" in answer.words:
                answer = hand.send(answer, answer="enough")
                break
    assert "Repair it" in answer.words
    mend = hand.send(answer, "/pick", pick=first_pick(answer))
    assert "/mend/" in mend.path
    assert "You need" in mend.words
    done = hand.send(mend, answer="give")
    known = facts_of(app, joint)
    assert known["leak.mended_at"]
    assert f"/{known.get('leak.remake', 'answer')}" in done.path  # straight on to make it anew
    shown = hand.read(f"/joint/{joint}")
    assert "What it really was" in shown.words
    assert "repaired" in shown.words
    assert "_" not in shown.words.split("Picked: ")[1].split(".")[0][:40]


def test_a_result_stands_after_all_answers_of_its_page():
    """Their times are the same, so their ids must tell which came last."""
    first = fresh_id()
    for n in range(50):
        another = following_id(first, f"step {n}", n + 1)
        assert first < another < following_id(another, "result")


def test_a_test_that_must_not_be_made_and_a_joint_that_lets_go_offer_a_regulator():
    """One tap each; after it, the flow itself says that it works."""
    pipe = {"pipe.nominal": "1/2", "pipe.class": "Sch 40"}
    for flow_id, facts, given, good in (
        ("plan-test", pipe | {"parts.joints": ["collar"]}, {"pressure": 60.0}, {"ready", "wait"}),
        ("hold", {}, {"joints": ["collar"], "pressure": 60.0, "temperature": 110.0}, {"holds"}),
    ):
        flow = flows()[flow_id]
        answer = flow.work_out(given, facts)
        assert answer.verdict not in good
        (change,) = flow.offers(answer.as_json(), given, facts)
        assert "regulator" in change.label
        ((step, typed),) = change.typed
        value = read_answer(flow.step(step), {"value": list(typed)})
        assert value < given["pressure"]
        assert flow.work_out({**given, step: value}, facts).verdict in good
