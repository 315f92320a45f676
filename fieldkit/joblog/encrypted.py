"""Copies that only the holder of a key can open, by ``age``: encrypted to others, and opened again.

``age`` is a program of its own, from Debian: it is kept up to date with the system, it opens a copy
in ten years where there is no fieldkit, and no key passes through here.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say

#: How every file begins that is encrypted by age, version 1.
_BEGINNING = b"age-encryption.org/v1\n"


def is_encrypted(file: Path) -> bool:
    """Whether a file needs a key to be read."""
    with file.open("rb") as one:
        return one.read(len(_BEGINNING)) == _BEGINNING


@contextmanager
def encrypting(out: IO[bytes], recipients: Sequence[str]) -> Iterator[IO[bytes]]:
    """A place to write to; what is written there lands in ``out``, for the recipients alone.

    Parameters
    ----------
    recipients : sequence of str
        Public keys ("age1…", "ssh-ed25519 …"), or files of them.

    Raises
    ------
    Problem
        There is no ``age`` here, or it did not take a recipient.
    """
    to = [
        word
        for one in recipients
        for word in (("-r", one) if one.startswith(("age1", "ssh-")) else ("-R", one))
    ]
    running = subprocess.Popen(  # noqa: S603  -- a program of the system; no shell
        [_age(), *to], stdin=subprocess.PIPE, stdout=out, stderr=subprocess.PIPE
    )
    into, errors = running.stdin, running.stderr
    assert into is not None  # noqa: S101
    assert errors is not None  # noqa: S101
    try:
        with suppress(BrokenPipeError):  # it says itself why it takes no more
            yield into
        with suppress(BrokenPipeError):
            into.close()
        said = errors.read()
    except BaseException:
        running.kill()
        raise
    finally:
        errors.close()
        code = running.wait()
    if code:
        raise _not_done(said)


@contextmanager
def opened(file: Path, identity: Path | None, folder: Path) -> Iterator[Path]:
    """A copy that can be read: the file itself, or what it holds, in ``folder`` for this while.

    Raises
    ------
    Problem
        It is encrypted and no key opens it, or there is no ``age`` here.
    """
    if not is_encrypted(file):
        yield file
        return
    if identity is None:
        raise Problem(
            "file",
            file.name,
            say("This copy is encrypted."),
            say("Give the file of a key that opens it with {option}.", option="--identity"),
        )
    # The folder is its owner's alone, and so is what age makes in it.
    with tempfile.TemporaryDirectory(dir=folder, prefix=".opened-") as place:
        plain = Path(place, "copy.zip")
        done = subprocess.run(  # noqa: S603
            [_age(), "-d", "-i", identity, "-o", plain, file], capture_output=True, check=False
        )
        if done.returncode:
            raise _not_done(done.stderr)
        yield plain


def _age() -> str:
    found = shutil.which("age")
    if found is None:
        raise Problem(
            "encrypt_to",
            None,
            say("There is no {program} on this machine, which encrypts copies.", program="age"),
            say("Install it; on Debian: {command}.", command="apt install age"),
        )
    return found


def _not_done(said: bytes) -> Problem:
    lines = said.decode("utf-8", "replace").splitlines()
    why = next((line.removeprefix("age: error: ") for line in lines if line), "it stopped")
    return Problem(
        "encrypt_to",
        None,
        say("{program} did not do it: {why}.", program="age", why=why.rstrip(".")),
        say("See that the key is whole, and the right one."),
    )
