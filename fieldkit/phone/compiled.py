"""Asks the phone's own Python for byte code of the pack, and keeps what it made.

It runs under node, which comes with the client that fetched the runtime. Where there is none, the
kit holds sources: phones start from them all the same, only slower the first time.
"""

from __future__ import annotations

import hashlib
import logging
import subprocess
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from fieldkit.phone import runtime
from fieldkit.phone.runtime import Packed, packed_once

#: Where a phone lays its pack out, as ``engine.js`` says too: byte code names its source's place.
FOLDER = "/lib/fieldkit-pack"

_SCRIPT = Path(__file__).with_name("run_python.mjs")

#: Lays the pack out, for the phone's Python to import from it.
LAY_OUT = f"""
import sys, zipfile
from pathlib import Path
zipfile.ZipFile("/lot/pack.zip").extractall("{FOLDER}")
sys.path.insert(0, "{FOLDER}")
"""

_PROGRAM = f"""{LAY_OUT}
from fieldkit.phone.bytecode import compiled
work = Path("/lot")
library = next(place for place in sys.path if place.endswith(".zip"))
sources = (work / "pack.zip").read_bytes(), library, (work / "library.zip").read_bytes()
pack, books = compiled("{FOLDER}", *sources)
(work / "made-pack").write_bytes(pack)
(work / "made-library").write_bytes(books)
"""

#: It takes about 20 s; a busy machine takes its time. [s]
LONGEST_SECONDS = 300

_log = logging.getLogger(__name__)


def compiled(folder: Path, pack: bytes, library: bytes) -> tuple[Packed, Packed] | None:
    """The pack and the library with byte code in the place of sources; None where none is made.

    The same bytes always give the same bytes. ``folder`` is where the runtime lies.
    """
    node = runtime.node()
    if node is None:
        return None
    made_by = _SCRIPT.read_bytes() + _PROGRAM.encode()
    digest = hashlib.sha256(b"\0".join((pack, library, made_by))).hexdigest()[:16]
    made = cache(lambda: _made(node, folder, pack, library))
    try:
        return (
            packed_once(folder, f"pack-{digest}", lambda: made()[0]),
            packed_once(folder, f"library-{digest}", lambda: made()[1]),
        )
    except (OSError, subprocess.SubprocessError) as error:
        _log.warning("Phones get sources, since byte code could not be made: %s", error)
        return None


def _made(node: Sequence[str], folder: Path, pack: bytes, library: bytes) -> list[bytes]:
    with TemporaryDirectory(prefix="fieldkit-") as made:
        work = Path(made)
        run(node, folder, work, {"pack.zip": pack, "library.zip": library}, _PROGRAM)
        return [(work / name).read_bytes() for name in ("made-pack", "made-library")]


def run(
    node: Sequence[str], folder: Path, work: Path, files: Mapping[str, bytes], program: str
) -> None:
    """Run a program in the phone's Python, which finds ``files`` in ``/lot`` and writes there.

    Raises
    ------
    OSError, subprocess.SubprocessError
        It could not be run, failed, or took too long.
    """
    for name, body in {**files, "program.py": program.encode()}.items():
        (work / name).write_bytes(body)
    places = (_SCRIPT, folder, work / "library.zip", work, work / "program.py")
    command = [*node, *map(str, places)]
    subprocess.run(command, check=True, capture_output=True, timeout=LONGEST_SECONDS)  # noqa: S603  -- a fixed command, no shell
