"""Where the demo's files are: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path


def demo_folder() -> Traversable:
    """The folder ``demo_jobs``.

    Raises
    ------
    FileNotFoundError
        It is neither in the package nor beside it.
    """
    inside = files("fieldkit") / "demo_jobs"
    if inside.is_dir():
        return inside
    beside = Path(__file__).resolve().parents[2] / "demo_jobs"
    if beside.is_dir():
        return beside
    raise FileNotFoundError("demo_jobs is neither in the package nor beside it")
