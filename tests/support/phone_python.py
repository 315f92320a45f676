"""The phone's own Python, run without a browser over the kit's pack and library."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from fieldkit.phone import runtime
from fieldkit.phone.compiled import compiled
from fieldkit.phone.kit import LIBRARY
from fieldkit.phone.pack import build_pack, library

_HERE = Path(__file__).resolve().parents[1] / "phone"


def sources(folder: Path) -> tuple[bytes, bytes]:
    """The pack and the library as they are before anything is compiled."""
    return build_pack(), library((folder / LIBRARY).read_bytes())


def run(folder: Path, program: str, given: Any) -> Any:
    """What the ``said`` of a program in ``tests/phone`` says of what it is ``given``."""
    made = compiled(folder, *sources(folder))
    assert made is not None, "no byte code was made"
    with TemporaryDirectory() as work:
        files = {name: Path(work, name) for name in ("library.zip", "pack.zip", "given", "said")}
        files["pack.zip"].write_bytes(made[0].body)
        files["library.zip"].write_bytes(made[1].body)
        files["given"].write_text(json.dumps(given))
        first, rest = (files["library.zip"], files["pack.zip"]), (files["given"], files["said"])
        command = [
            *runtime.node(),
            _HERE / "run_python.mjs",
            folder,
            *first,
            _HERE / program,
            *rest,
        ]
        environment = {**os.environ, "TZ": os.environ.get("TZ", "UTC")}
        subprocess.run(command, check=True, env=environment, timeout=240)
        return json.loads(files["said"].read_text())
