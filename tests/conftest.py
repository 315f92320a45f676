"""What all tests share: one Playwright, templates compiled once, properties that nothing upsets."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from playwright.sync_api import sync_playwright
from support.compiled import compile_once

from fieldkit.flows import flow

# Times are judged in tests/bench alone: elsewhere a slow moment of the machine is no fault. The
# examples are the same in every run: a fault that nobody looked for waits for ``--fuzz``.
settings.register_profile(
    "calm", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("anew", settings.get_profile("calm"), derandomize=False)
settings.load_profile("calm")

#: Requests of junk in all that a daily run can afford.
DAILY_FUZZ = 1000

#: What the folders of a run may take: several copies of a browser's profile at a time.
ROOM_BYTES = 6_000_000_000

#: Files that take longest without a browser, by ten seconds and more: begun first, so that no
#: worker is left alone with one at the end.
LONGEST = {
    "test_bench_carry.py",
    "test_demo.py",
    "test_entering.py",
    "test_every_option.py",
    "test_how_to_add.py",
    "test_killed.py",
    "test_kit.py",
    "test_languages.py",
    "test_log_fuzz.py",
    "test_nearest.py",
    "test_record.py",
    "test_same_answers.py",
    "test_serving.py",
    "test_walks.py",
}

# Not ours to import: a Python that a test starts reads it by itself.
collect_ignore = ["support/lean"]

compile_once()

# A fault in laying out an answer of ours fails the test that meets it.
flow.raise_faults = True


def pytest_addoption(parser):
    """``--fuzz 20000`` for all of it, with examples that no run had before."""
    parser.addoption("--engines", default="", help="firefox,webkit: tests in other browsers")
    parser.addoption("--chaos", type=int, default=90, help="turns on a bad line")
    parser.addoption("--fuzz", type=int, default=DAILY_FUZZ, help="requests of junk in all")


def pytest_configure(config):
    """More than usual is thrown at random; programs start lean; files are written to memory.

    Nearly every test makes a log of its own and waits for the disk at each save. A bench waits,
    and so does a machine without the room.
    """
    if config.getoption("fuzz") > DAILY_FUZZ:
        settings.load_profile("anew")
    if hasattr(config, "workerinput") or not config.getoption("numprocesses", None):
        lean, others = str(Path(__file__).parent / "support" / "lean"), os.environ.get("PYTHONPATH")
        os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, (lean, others)))
    memory = Path("/dev/shm")  # noqa: S108  -- a folder of this run's own is made there
    measures = config.getoption("benchmark_enable")
    if "TMPDIR" in os.environ or measures or not memory.is_dir():
        return
    if shutil.disk_usage(memory).free > ROOM_BYTES:
        os.environ["TMPDIR"] = tempfile.tempdir = tempfile.mkdtemp(prefix="fieldkit-", dir=memory)
        Path(tempfile.tempdir).chmod(0o755)  # a program that runs as somebody else finds its files
        config.add_cleanup(lambda: shutil.rmtree(os.environ["TMPDIR"], ignore_errors=True))


def pytest_collection_modifyitems(config, items):
    """Several at a time (``-n``): a file's tests stay together, since they share what they made.

    So do those that take a phone along. What takes longest comes first.
    """
    turns = {}
    for item in items:
        browses = item.get_closest_marker("browser") is not None
        phone = browses and item.path.parent.name == "phone"
        item.add_marker(pytest.mark.xdist_group("phone" if phone else str(item.path)))
        turns[item] = 0 if phone else 1 if browses else 2 if item.path.name in LONGEST else 3
    if hasattr(config, "workerinput"):
        items.sort(key=turns.get)


@pytest.fixture(scope="session")
def driver():
    """Playwright itself, once for all tests: two in one process shut each other out."""
    with sync_playwright() as playwright:
        yield playwright
