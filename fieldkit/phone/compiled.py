"""Asks the phone's own Python for byte code of the pack, and keeps what it made.

It runs under node, which comes with the client that fetched the runtime. Where there is none, the
kit holds sources: phones start from them all the same, only slower the first time.
"""

from __future__ import annotations

import hashlib
import logging
import subprocess
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from fieldkit.phone import runtime
from fieldkit.phone.runtime import Packed, packed_once

#: Where a phone lays its pack out, as ``engine.js`` says too: byte code names its source's place.
FOLDER = "/lib/fieldkit-pack"

_SCRIPT = Path(__file__).with_name("bytecode.mjs")

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
    digest = hashlib.sha256(b"\0".join((pack, library, _SCRIPT.read_bytes()))).hexdigest()[:16]
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
        sources = [Path(made, "pack.zip"), Path(made, "library.zip")]
        results = [Path(made, "pack"), Path(made, "library")]
        for file, body in zip(sources, (pack, library), strict=True):
            file.write_bytes(body)
        subprocess.run(  # noqa: S603  -- a fixed command, no shell
            [*node, _SCRIPT, folder, FOLDER, *sources, *results],
            check=True,
            capture_output=True,
            timeout=LONGEST_SECONDS,
        )
        return [file.read_bytes() for file in results]
