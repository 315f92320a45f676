"""Byte code in the place of sources: made by the phone's own Python, all of it used, kept once."""

from __future__ import annotations

import gzip
import io
import logging
import zipfile

import pytest
from support import phone_python

from fieldkit.phone import compiled as compiling
from fieldkit.phone import runtime
from fieldkit.phone.compiled import FOLDER, compiled
from fieldkit.web.create import shared_folder


@pytest.fixture(scope="module")
def looked(phone_runtime):
    return phone_python.run(phone_runtime, "look_at_code.py", None)


def test_a_start_reads_all_of_it_so_a_copy_of_its_memory_needs_none(looked):
    """A phone that begins with such a copy lays no byte code out at all."""
    made_for_itself = {"bytecode", "stored_zip"}
    what_reads_once = {"__init__", "phone/__init__", "phone/read_once"}
    allowed = {*(f"phone/{one}" for one in made_for_itself), *what_reads_once}
    assert set(looked["left"]) <= {f"/fieldkit/{one}.pyc" for one in allowed}


def test_the_library_is_compiled_too(looked):
    assert looked["uuid_from"].endswith("python314.zip/uuid.pyc")


def test_what_functions_say_of_themselves_is_left_out_and_nothing_else(looked):
    assert looked["docs"] == ["", "", "said", "What a class says.", "", ""]
    assert looked["values"] == [1, "said", "first constant", 3]


def test_a_traceback_names_our_lines_and_of_others_where_a_function_begins(looked):
    assert looked["lines"] == ["raise ValueError", "def stumbles(n):"]


def test_what_is_not_imported_stays_as_it_was(phone_runtime):
    pack, library = phone_python.sources(phone_runtime)
    made = compiled(phone_runtime, pack, library)
    for sources, found in zip((pack, library), made, strict=True):
        with (
            zipfile.ZipFile(io.BytesIO(sources)) as before,
            zipfile.ZipFile(io.BytesIO(found.body)) as after,
        ):
            assert {one.compress_type for one in after.infolist()} == {zipfile.ZIP_STORED}
            names = set(after.namelist())
            assert len(names) == len(after.namelist())
            same = names & set(before.namelist())
            assert len(same) > 20
            assert all(after.read(one) == before.read(one) for one in same)
            assert not {one.removesuffix("c") for one in names if one.endswith(".pyc")} & names


def test_every_page_comes_with_its_template_compiled(phone_runtime):
    made = compiled(phone_runtime, *phone_python.sources(phone_runtime))
    with zipfile.ZipFile(io.BytesIO(made[0].body)) as pack:
        code = [one for one in pack.namelist() if "/template_code/" in one]
    assert len(code) == len(list(shared_folder("templates").rglob("*.html")))


def test_the_engine_lays_the_pack_out_where_its_code_says(phone_runtime):
    script = (shared_folder("static") / "phone" / "engine.js").read_text()
    assert f'const PACK = "{FOLDER}";' in script


def test_without_node_and_when_it_fails_there_are_only_sources(tmp_path, monkeypatch, caplog):
    monkeypatch.setattr(compiling.runtime, "node", lambda: None)
    assert compiled(tmp_path, b"pack", b"library") is None
    broken = tmp_path / "node"
    broken.write_text("#!/bin/sh\nexit 3\n")
    broken.chmod(0o755)
    monkeypatch.setattr(compiling.runtime, "node", lambda: [str(broken)])
    with caplog.at_level(logging.WARNING):
        assert compiled(tmp_path, b"pack", b"library") is None
    assert "could not be made" in caplog.text


def test_what_was_packed_is_kept_until_others_were_asked_for_since(tmp_path, monkeypatch):
    made: list[str] = []

    def ask(name: str) -> bytes:
        def make() -> bytes:
            made.append(name)
            return name.encode()

        body, packed = runtime.packed_once(tmp_path, name, make)
        assert gzip.decompress(packed) == body == name.encode()
        return packed

    monkeypatch.setattr(runtime, "MOST_KEPT", 2)
    assert ask("a") == ask("a")
    ask("b")
    assert made == ["a", "b"]
    (tmp_path / "made" / "b.gz").write_bytes(b"spoilt")
    ask("b")
    assert made == ["a", "b", "b"]
    ask("a")
    ask("c")  # the one that was asked for longest ago gives way
    assert sorted(one.name for one in (tmp_path / "made").iterdir()) == ["a.gz", "c.gz"]
