"""The server's secret: made at first run, kept beside the database, never shown or shipped."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def secret_file(db_path: Path) -> Path:
    """Where the secret is kept: beside the log."""
    return db_path.with_suffix(".secret")


def secret_beside(db_path: Path) -> str:
    """Read the secret kept beside ``db_path``, or make one that only its owner can read."""
    path = secret_file(db_path)
    try:
        # O_EXCL: of two servers started at once, one makes it and the other reads it.
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text(encoding="ascii").strip()
    made = secrets.token_hex(32)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(made)
    return made
