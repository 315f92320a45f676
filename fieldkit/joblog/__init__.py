"""The log of a job: it only grows, and what a job is now is a fold over its entries.

``Entry`` is one thing that happened; ``JobLog`` is the one door to the file. Time and ids are
handed in, so the same code runs on a server and on a phone.
"""

from fieldkit.joblog.append import Appended
from fieldkit.joblog.entry import Entry, is_id, new_id, utc_text
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.read import Hit, JobNow, JointNow, Prices, RunNow, State, Stored

__all__ = [
    "Appended",
    "Entry",
    "Hit",
    "JobLog",
    "JobNow",
    "JointNow",
    "Prices",
    "RunNow",
    "State",
    "Stored",
    "is_id",
    "new_id",
    "utc_text",
]
