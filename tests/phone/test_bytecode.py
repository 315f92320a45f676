"""Byte code made by one start for the next: it stands for its source, unread and unchecked."""

from __future__ import annotations

import io
import subprocess
import sys
import zipfile

import pytest

from fieldkit.phone.bytecode import ByteCode


@pytest.fixture
def made(tmp_path, monkeypatch):
    """A pack of one package and a library of two modules, of which one was imported."""
    pack = tmp_path / "pack"
    (pack / "shed").mkdir(parents=True)
    (pack / "shed" / "__init__.py").write_text("WORD = 'from the source'\n")
    (pack / "shed" / "tool.py").write_text("def turn():\n    return 'turned'\n")
    library = tmp_path / "library.zip"
    with zipfile.ZipFile(library, "w") as made:
        made.writestr("spanner.py", "SIZE = 17\n")
        made.writestr("unused.py", "SIZE = 0\n")
    for place in (pack, library):
        monkeypatch.syspath_prepend(str(place))
    import shed.tool
    import spanner

    code = ByteCode(str(pack), str(library))
    while code.work(0.001):
        pass
    yield pack, code
    for module in (shed, shed.tool, spanner):
        del sys.modules[module.__name__]


def run(path, words: str) -> str:
    """What another Python prints, with ``path`` before its own."""
    code = f"import sys; sys.path[:0] = [{str(path)!r}]; {words}"
    ran = subprocess.run(
        [sys.executable, "-B", "-c", code], capture_output=True, text=True, check=True
    )
    return ran.stdout.strip()


def test_the_byte_code_is_run_and_the_source_is_not_read_again(made):
    pack, code = made
    (pack / "shed" / "__init__.py").write_text("this is no Python\n")
    with zipfile.ZipFile(io.BytesIO(code.beside_sources())) as archive:
        assert {one.compress_type for one in archive.infolist()} == {zipfile.ZIP_STORED}
        archive.extractall(pack)
    assert run(pack, "import shed.tool; print(shed.WORD, shed.tool.turn())") == (
        "from the source turned"
    )


def test_the_library_has_byte_code_for_what_was_imported_and_the_rest_as_it_was(made, tmp_path):
    _, code = made
    other = tmp_path / "other.zip"
    other.write_bytes(code.standard_library())
    with zipfile.ZipFile(other) as archive:
        assert sorted(archive.namelist()) == ["spanner.pyc", "unused.py"]
    assert run(other, "import spanner, unused; print(spanner.SIZE, unused.SIZE)") == "17 0"
