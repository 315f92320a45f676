"""Photos between phones and a server: after their entries, in parts, by their digest, once."""

from __future__ import annotations

import base64
import io
import json
from hashlib import sha256

import pytest
from click.testing import CliRunner
from support.entries import NOW, a_job, entry
from support.pictures import camera_photo

from fieldkit.app import make_app
from fieldkit.cli.main import main
from fieldkit.joblog.exchange import carried_by
from fieldkit.phone.engine import Engine
from fieldkit.phone.photos import LARGEST_PART
from fieldkit.web.photos import plain_photo

#: As a phone's page makes it: small, upright, nothing beside it.
SMALL = plain_photo(camera_photo((900, 600)))
DIGEST = sha256(SMALL).hexdigest()


def naming(data: bytes = SMALL, n: int = 20, **more):
    said = {"digest": sha256(data).hexdigest(), "bytes": len(data), "about": "", **more}
    return entry(n, "photo", joint="joint-1", understood=said)


@pytest.fixture
def app(tmp_path):
    made = make_app(tmp_path / "log.db", testing=True)
    made.config["WTF_CSRF_ENABLED"] = False  # its own tests ask for the token
    made.extensions["joblog"].append(a_job(), NOW)
    yield made
    made.extensions["joblog"].close()


@pytest.fixture
def client(app):
    return app.test_client()


def send(client, start: int, part: bytes, digest: str = DIGEST):
    return client.post(f"/phone/photo/{digest}?from={start}", data=part)


def files(tmp_path):
    return sorted(one.name for one in (tmp_path / "log-photos").glob("*"))


def test_a_photo_comes_after_its_entry(app, client):
    answer = send(client, 0, SMALL)
    assert answer.status_code == 422
    assert "No entry here names this photo" in answer.get_json()["problem"]["wrong"]
    app.extensions["joblog"].append([naming()], NOW)
    assert send(client, 0, SMALL).get_json() == {"have": len(SMALL), "whole": True}


def test_a_photo_goes_on_where_it_broke_off_also_after_a_restart(app, client, tmp_path):
    app.extensions["joblog"].append([naming()], NOW)
    assert send(client, 0, b"").get_json() == {"have": 0, "whole": False}
    assert send(client, 0, SMALL[:5000]).get_json() == {"have": 5000, "whole": False}
    assert send(client, 0, SMALL[:5000]).get_json()["have"] == 5000, "a repeated part"
    assert send(client, 9000, SMALL[9000:]).get_json()["have"] == 5000, "a part too early"
    again = make_app(tmp_path / "log.db", testing=True)
    again.config["WTF_CSRF_ENABLED"] = False
    other = again.test_client()
    assert send(other, 0, b"").get_json()["have"] == 5000
    assert send(other, 5000, SMALL[5000:]).get_json()["whole"]
    for _ in range(100):
        assert send(client, 0, SMALL).get_json()["whole"]
    assert files(tmp_path) == [f"{DIGEST}.jpg"]
    got = client.get(f"/phone/photo/{DIGEST}")
    assert got.data == SMALL
    assert got.mimetype == "image/jpeg"
    assert "sandbox" in got.headers["Content-Security-Policy"]
    again.extensions["joblog"].close()


def without_tables(data: bytes) -> bytes:
    """A JPEG in due form, but without the tables that say how to draw it."""
    while (at := data.find(b"\xff\xdb")) > 0:
        data = data[:at] + data[at + 2 + int.from_bytes(data[at + 2 : at + 4]) :]
    return data


NOT_DRAWN = without_tables(SMALL)
WITH_PLACE = plain_photo(camera_photo((300, 200)), keep_metadata=True)


@pytest.mark.parametrize(
    ("named", "sent", "why"),
    [
        (naming(), SMALL[:-1] + b"x", "not the photo that its entry names"),
        (naming(SMALL + b"<script>"), SMALL + b"<script>", "more than the picture"),
        (naming(WITH_PLACE), WITH_PLACE, "more than the picture"),
        (naming(b"<svg/>"), b"<svg/>", "not a picture that can be read"),
        (naming(NOT_DRAWN), NOT_DRAWN, "not a picture that can be read"),
    ],
)
def test_what_is_no_photo_is_thrown_away_and_kept_to_be_seen(app, tmp_path, named, sent, why):
    client = app.test_client()
    log = app.extensions["joblog"]
    log.append([named], NOW)
    digest = named.understood["digest"]
    answer = send(client, 0, sent, digest)
    assert answer.status_code == 422
    assert why in answer.get_json()["problem"]["wrong"]
    assert files(tmp_path) == []
    assert [(one["name"], why in one["reason"]) for one in log.refused()] == [(named.id, True)]
    assert client.get(f"/phone/photo/{digest}").status_code == 404


def test_place_and_time_kept_on_purpose_are_taken_in(app, client):
    app.extensions["joblog"].append([naming(WITH_PLACE, kept_metadata=True)], NOW)
    assert send(client, 0, WITH_PLACE, sha256(WITH_PLACE).hexdigest()).get_json()["whole"]


def test_a_part_has_its_limit_and_a_wrong_name_finds_nothing(app, client):
    app.extensions["joblog"].append([naming()], NOW)
    assert send(client, 0, bytes(LARGEST_PART + 1)).status_code == 413
    for name in ("../log", "x", "A" * 64):
        assert client.get(f"/phone/photo/{name}").status_code == 404
        assert send(client, 0, SMALL, name).status_code in {404, 422}


# ── On the phone, run by this Python ────────────────────────────────────────────────────────


@pytest.fixture(scope="module")
def made():
    return Engine()


@pytest.fixture
def engine(made, tmp_path):
    made.start(str(tmp_path / "phone.db"), "s" * 64, "https://x.example/kit/")
    made.take_in([json.dumps(one.as_json()) for one in a_job()])
    yield made
    made.close()


def form_of(fields, name: str, data: bytes):
    """A form with a file, as a browser sends it: its type and its bytes."""
    from werkzeug.test import EnvironBuilder

    builder = EnvironBuilder(method="POST", data={**fields, name: (io.BytesIO(data), "x.jpg")})
    environ = builder.get_environ()
    return {"Content-Type": environ["CONTENT_TYPE"]}, environ["wsgi.input"].read()


PHOTOS = "/joint/joint-1/photos"


def test_a_photo_is_given_out_to_keep_with_its_entry(engine):
    headers, body = form_of({"about": "Wet box"}, "photo", SMALL)
    answered = engine.answer("POST", PHOTOS, headers, body)
    assert answered.status == 303
    assert answered.photos == [(DIGEST, SMALL)]
    (said,) = (json.loads(one) for one in answered.entries)
    assert said["understood"] == {"digest": DIGEST, "bytes": len(SMALL), "about": "Wet box"}
    assert engine.answer("GET", "/", {}, b"").photos == []


@pytest.mark.parametrize(
    ("company", "where"), [("c" * 32, "is on the server"), ("", "is on another copy")]
)
def test_the_page_says_which_pictures_are_elsewhere(made, tmp_path, company, where):
    made.start(str(tmp_path / "p.db"), "s" * 64, "https://x.example/", company=company)
    made.take_in([json.dumps(one.as_json()) for one in (*a_job(), naming())])
    assert where in made.answer("GET", PHOTOS, {}, b"").body.decode()
    made.photos_here([DIGEST])
    assert where not in made.answer("GET", PHOTOS, {}, b"").body.decode()
    made.photos_here([])
    made.close()


def test_a_job_goes_out_and_in_with_its_photos(engine, app, client, tmp_path):
    """From a phone without a server to a server, and from there to another phone."""
    engine.take_in([json.dumps(naming().as_json())])
    path = "/job/job-1/export.json"
    assert engine.wanted("GET", path) == [DIGEST]
    assert engine.wanted("GET", "/job/job-1") == []
    engine.lend({DIGEST: SMALL})
    exported = engine.answer("GET", path, {}, b"").body
    assert tuple(carried_by(exported).photos()) == ((DIGEST, SMALL),)
    assert not carried_by(engine.answer("GET", path, {}, b"").body).photo_count, "lent once"

    answer = client.post("/jobs/import", data={"file": (io.BytesIO(exported), "x.json")})
    assert "another company" in answer.get_data(as_text=True)
    assert files(tmp_path) == []
    answer = client.post(
        "/jobs/import", data={"file": (io.BytesIO(exported), "x.json"), "elsewhere": "on"}
    )
    assert "another company" not in answer.get_data(as_text=True)
    assert files(tmp_path) == [f"{DIGEST}.jpg"]
    back = client.get(path)
    assert tuple(carried_by(back.data).photos()) == ((DIGEST, SMALL),)
    assert carried_by(back.data).company == app.extensions["joblog"].company

    headers, body = form_of({}, "file", back.data)
    answered = engine.answer("POST", "/jobs/import", headers, body)
    assert answered.photos == [(DIGEST, SMALL)]


def test_a_photo_in_a_file_that_was_changed_is_refused_by_name(app, client, tmp_path):
    named = naming()
    app.extensions["joblog"].append([named], NOW)
    body = json.loads(client.get("/job/job-1/export.json").data)
    assert "photos" not in body
    body["photos"] = [{"digest": DIGEST, "jpeg": base64.b64encode(SMALL[:-9]).decode()}]
    sent = io.BytesIO(json.dumps(body).encode())
    answer = client.post("/jobs/import", data={"file": (sent, "x.json")}).get_data(as_text=True)
    assert DIGEST in answer
    assert "not the photo that its entry names" in answer
    assert files(tmp_path) == []
    body["photos"] = [{"digest": DIGEST, "jpeg": "!"}]
    sent = io.BytesIO(json.dumps(body).encode())
    answer = client.post("/jobs/import", data={"file": (sent, "x.json")})
    assert answer.status_code == 422
    assert "cut short" in answer.get_data(as_text=True)


def test_a_job_goes_out_and_in_with_its_photos_on_the_command_line(app, client, tmp_path):
    app.extensions["joblog"].append([naming()], NOW)
    send(client, 0, SMALL)
    run = CliRunner().invoke
    file, other = str(tmp_path / "job.json"), tmp_path / "other" / "log.db"
    made = run(main, ["export", "North bed", "-o", file, "--db", str(tmp_path / "log.db")])
    assert made.exit_code == 0, made.output
    for _ in range(2):
        done = run(main, ["import", file, "--db", str(other)])
        assert done.exit_code == 0, done.output
        assert "0 refused, 1 photos" in done.output
    kept = other.with_name("log-photos") / f"{DIGEST}.jpg"
    assert kept.read_bytes() == SMALL
