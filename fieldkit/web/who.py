"""Who is asking. On one's own machine nobody logs in, and the log says so."""

from __future__ import annotations

from fieldkit.web.access import asker


def signature_of_asker() -> str:
    """The name that an entry carries for the person who made it."""
    person = asker()
    return person.name if person is not None else ""
