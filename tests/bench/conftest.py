"""Benches run once as plain tests; times are only judged when somebody asks for a measurement."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path
from tempfile import gettempdir

import pytest

from fieldkit import joblog
from fieldkit.joblog import JobLog, door


@pytest.fixture(scope="session")
def measuring(request) -> bool:
    """Whether times count: ``pytest tests/bench --benchmark-enable``, on a quiet machine."""
    return bool(request.config.getoption("benchmark_enable"))


@pytest.fixture(scope="session")
def large(tmp_path_factory, measuring):
    """A log of a million entries, made once for each version of what makes it: it takes minutes."""
    from bench.test_bench_joblog import fill

    if not measuring:
        path = tmp_path_factory.mktemp("large") / "log.db"
        with JobLog.open(path) as log:
            fill(log, 5)
        return path
    made_by = [
        *Path(__file__).parent.glob("*joblog.py"),
        *sorted(Path(joblog.__file__).parent.glob("*.py")),
    ]
    key = sha256(b"".join(one.read_bytes() for one in made_by) + door.FORM.encode()).hexdigest()
    path = Path(gettempdir(), f"fieldkit-bench-{key[:16]}", "log.db")
    if not path.exists():
        path.parent.mkdir(exist_ok=True)
        part = path.with_name("part.db")
        part.unlink(missing_ok=True)
        with JobLog.open(part) as log:
            fill(log, 1000)
        part.rename(path)
    return path
