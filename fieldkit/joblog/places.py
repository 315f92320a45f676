"""Where files are kept on this machine."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def data_folder() -> Path:
    """Where this person's programs keep their data on this kind of machine."""
    home = Path.home()
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local"
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = os.environ.get("XDG_DATA_HOME") or home / ".local" / "share"
    return Path(base) / "fieldkit"
