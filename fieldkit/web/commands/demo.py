"""What ``fieldkit serve --demo`` loads: invented jobs and an invented price list."""

from __future__ import annotations

from fieldkit.flows.demo import demo_folder
from fieldkit.flows.prices import demo_prices
from fieldkit.joblog import Entry, JobLog, exchange
from fieldkit.joblog.read import ILLUSTRATIVE
from fieldkit.web import clock

#: Made before every demo job, so that any list of the user's own is newer and wins.
_PRICES_ID = "019b7600-0000-7000-8000-000000000001"
_PRICES_AT = "2026-01-01T00:00:00.000Z"


def demo_price_list() -> Entry:
    """The illustrative list as an entry that says what it is."""
    return Entry(
        id=_PRICES_ID,
        at=_PRICES_AT,
        job="",
        kind="prices",
        understood=demo_prices(),
        note=ILLUSTRATIVE,
    )


def load_demo(log: JobLog) -> str:
    """Bring the invented jobs in, and the price list where there is none; twice adds nothing."""
    files = sorted(demo_folder().iterdir(), key=lambda file: file.name)
    found = [file for file in files if file.name.endswith(".json")]
    done = [exchange.import_json(log, file.read_bytes(), clock.now()) for file in found]
    if not log.prices().entry:
        done.append(log.append([demo_price_list()], clock.now()))
    new = sum(len(one.stored) for one in done)
    return f"Demo: {len(found)} invented jobs and an invented price list, {new} entries added."
