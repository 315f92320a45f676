"""The files of a server that stands: read by the programs that they are for.

Caddy and nginx run with them in ``tests/phone/test_front_servers.py``.
"""

from __future__ import annotations

import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner

from fieldkit.cli.main import main


def set_up(folder, *words):
    return CliRunner().invoke(main, ["setup", *words, "--out", str(folder)])


def test_systemd_finds_nothing_wrong_in_its_units(tmp_path):
    checker = shutil.which("systemd-analyze")
    if checker is None:
        print("NOT TESTED: there is no systemd-analyze here")  # noqa: T201
        pytest.skip("NOT TESTED: no systemd-analyze here")
    assert set_up(tmp_path, "crew.example.net").exit_code == 0
    units = [one for one in tmp_path.iterdir() if one.suffix in {".service", ".timer"}]
    done = subprocess.run([checker, "verify", *units], capture_output=True, text=True, check=False)
    said = [line for line in done.stderr.splitlines() if "fieldkit" in line]
    assert (done.returncode, said) == (0, [])


@pytest.mark.parametrize(
    "words",
    [
        ["https://crew.example.net"],
        ["crew example"],
        ["-crew.example"],
        ["crew.example/jobs"],
        ["crew.example;reboot"],
        ["crew.example", "--service", "../etc"],
        ["crew.example", "--service", "Crew 1"],
        ["crew.example", "--encrypt-to", "age1x\nExecStart=reboot"],
    ],
)
def test_a_name_that_is_none_is_refused_and_nothing_written(tmp_path, words):
    done = set_up(tmp_path / "out", *words)
    assert done.exit_code == 2
    assert "Traceback" not in done.output
    assert not (tmp_path / "out").exists()


def test_files_that_are_there_are_kept(tmp_path):
    (tmp_path / "Caddyfile").write_text("another site")
    assert "There already: Caddyfile" in set_up(tmp_path, "crew.example").output
    assert (tmp_path / "Caddyfile").read_text() == "another site"
    assert set_up(tmp_path, "Crew.example", "--replace").exit_code == 0
    assert "crew.example {" in (tmp_path / "Caddyfile").read_text()


def test_a_program_that_the_service_could_not_run_is_told(tmp_path, monkeypatch):
    """Such as one whose Python lies in somebody's home."""
    tmp_path.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    assert (
        "is closed to others, so the user crew-1"
        in set_up(tmp_path / "out", "crew.example", "--service", "crew-1").output
    )
