"""Who is asking. On one's own machine nobody logs in, and the log says so."""

from __future__ import annotations

from fieldkit.joblog.acceptance import Rules, rules_for
from fieldkit.web.access import asker


def signature_of_asker() -> str:
    """The name that an entry carries for the person who made it."""
    person = asker()
    return person.name if person is not None else ""


def rules_of_asker() -> Rules:
    """What may be brought in by the person who is logged in."""
    person = asker()
    name = person.name if person is not None else ""
    return rules_for(name, lead=person is not None and person.role == "lead")
