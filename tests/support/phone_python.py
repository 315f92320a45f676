"""The phone's own Python, run without a browser over the kit's pack and library."""

from __future__ import annotations

import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from fieldkit.phone import runtime
from fieldkit.phone.compiled import LAY_OUT, compiled
from fieldkit.phone.compiled import run as run_python
from fieldkit.phone.kit import LIBRARY
from fieldkit.phone.pack import build_pack, library

AS_ON_A_PHONE = """
from fieldkit.phone.read_once import read_byte_code_once
read_byte_code_once()
"""

SAY = """
Path("/lot/said").write_text(said(Path("/lot/given").read_text()))
"""

_HERE = Path(__file__).resolve().parents[1] / "phone"


def sources(folder: Path) -> tuple[bytes, bytes]:
    """The pack and the library as they are before anything is compiled."""
    return build_pack(), library((folder / LIBRARY).read_bytes())


def run(folder: Path, program: str, given: Any) -> Any:
    """What the ``said`` of a program in ``tests/phone`` says of what it is ``given``."""
    made = compiled(folder, *sources(folder))
    assert made is not None, "no byte code was made"
    files = {
        "pack.zip": made[0].body,
        "library.zip": made[1].body,
        "given": json.dumps(given).encode(),
    }
    text = (_HERE / program).read_text()
    with TemporaryDirectory() as work:
        whole = f"{LAY_OUT}{AS_ON_A_PHONE}{text}{SAY}"
        run_python(runtime.node(), folder, Path(work), files, whole)
        return json.loads(Path(work, "said").read_text())
