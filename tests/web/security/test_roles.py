"""Every route with every role, and a guest who guesses the ids of another job."""

from __future__ import annotations

import pytest
from support.hand import Hand

from fieldkit.joblog import new_id
from fieldkit.joblog.people import ROLES
from fieldkit.web.access import LEAST

ID = new_id(1_777_644_180_000, bytes(10))
FILLED = {
    "job": "job-1", "joint": "joint-1", "flow": "leak-now", "run": ID, "step": "where",
    "name": "x", "kind": "json", "sheet_id": "x", "token": "x", "person": "x", "filename": "x",
    "size": "192", "language": "es", "photo": ID, "entry": ID, "paper": "a4", "digest": ID,
    "key": "x", "weight": "x", "entries": 1,
}  # fmt: skip


def routes(app):
    """(endpoint, method, path) of every route."""
    adapter = app.url_map.bind("localhost")
    for rule in app.url_map.iter_rules():
        values = {name: FILLED[name] for name in rule.arguments}
        path = adapter.build(rule.endpoint, values, force_external=False)
        for method in sorted(rule.methods & {"GET", "POST", "PUT", "PATCH", "DELETE"}):
            yield rule.endpoint, method, path


def test_every_route_is_in_the_table_and_nothing_else(open_app):
    there = {rule.endpoint for rule in open_app.url_map.iter_rules()}
    assert there == set(LEAST)


def test_each_role_reaches_just_what_the_table_says(open_app, crew):
    open_app.config["WTF_CSRF_ENABLED"] = False
    open_app.config["PROPAGATE_EXCEPTIONS"] = False
    tried = 0
    for role, hand in crew.items():
        rank = -1 if role == "stranger" else ROLES.index(role)
        for endpoint, method, path in routes(open_app):
            if endpoint in {"people.leave", "people.end_mine", "people.change_password"}:
                continue  # they end the session that walks
            least = LEAST[endpoint]
            allowed = least is None or rank >= ROLES.index(least)
            with hand.client.open(path, method=method, data={}) as response:
                status, where = response.status_code, response.headers.get("Location", "")
            tried += 1
            if allowed:
                assert status not in {401, 500}, (role, method, path, status)
                if role != "guest":
                    assert status != 403, (role, method, path)
                assert not where.startswith("/enter"), (role, method, path)
            elif role == "stranger":
                assert status == 401 or where.startswith("/enter"), (role, method, path, status)
            else:
                assert status == 403, (role, method, path, status)
    assert tried > 200


def test_a_route_that_nobody_listed_is_refused_to_the_lead(open_app, crew):
    open_app._got_first_request = False  # a test adds a route late
    open_app.add_url_rule("/late", "late", lambda: "secret")
    assert crew["lead"].client.get("/late").status_code == 403


@pytest.mark.parametrize(
    "path", ["/job/job-2", "/joint/joint-2", "/guest/job-2", "/joint/joint-2/leak-now"]
)
def test_a_guest_who_guesses_ids_finds_nothing(crew, path):
    page = crew["guest"].read(path)
    assert page.status == 404
    assert "Secret garden" not in page.html


def test_a_guest_sees_the_one_job_and_can_diagnose(crew):
    page = crew["guest"].read("/")
    assert page.heading == "North bed"
    assert "Valve box, left" in page.words
    question = crew["guest"].read("/joint/joint-1/leak-now")
    assert question.status == 200
    assert question.path.startswith("/joint/joint-1/leak-now/")
    assert crew["guest"].read("/joint/joint-1/measure-pipe").heading == "North bed"


def test_what_is_saved_carries_the_name(open_app, crew):
    crew["technician"].send(crew["technician"].read("/jobs"), "/jobs", name="New bed")
    log = open_app.extensions["joblog"]
    assert log.history(job_id=log.jobs()[0].id)[0].entry.who == "Technician"


def test_on_ones_own_machine_nobody_is_asked(app):
    hand = Hand(app.test_client())
    assert hand.read("/").status == 200
    assert hand.read("/people").status == 200


def test_what_is_kept_of_a_page_holds_nobodys_name_and_no_token(open_app, crew):
    seen = {role: crew[role].read("/tables").html for role in ("lead", "technician", "lead")}
    kept = "".join(open_app.extensions["kept_parts"].values())
    assert kept.count('href="/crew"') == 1
    for role, html in seen.items():
        token = html.split('name="csrf_token" value="')[1].split('"')[0]
        assert token not in kept
        assert f">{role.capitalize()}</a>" in html
        assert role.capitalize() not in kept
        assert ('href="/crew"' in html) == (role == "lead")
