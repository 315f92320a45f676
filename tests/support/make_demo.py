"""Writes ``demo_jobs/*.json`` from ``demo_jobs/scenarios/*.json``,
and ``demo_jobs/crew/joints.json``.

Run it after a change that alters an answer: ``python tests/support/make_demo.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.scenario import play

DEMO_JOBS = Path(__file__).resolve().parents[2] / "demo_jobs"


def scenarios() -> list[Path]:
    """The written scenarios, in order."""
    return sorted((DEMO_JOBS / "scenarios").glob("*.json"))


#: The joints that a crew's month is put together from; playing them takes as long as all others.
CREW = DEMO_JOBS / "crew"


def main() -> None:
    """Write every demo job anew."""
    for path in (*scenarios(), CREW / "scenario.json"):
        made = CREW / "joints.json" if path.parent == CREW else DEMO_JOBS / path.name
        made.write_text(play(path), encoding="utf-8", newline="\n")
        print(f"{made.name}: {made.stat().st_size / 1000:.0f} kB")  # noqa: T201


if __name__ == "__main__":
    main()
