"""Who is asking. On one's own machine nobody logs in, and the log says so."""

from __future__ import annotations

from dataclasses import replace

from flask import current_app

from fieldkit.joblog.acceptance import Rules, rules_for
from fieldkit.web.access import asker, people


def signature_of_asker() -> str:
    """The name that an entry carries for the person who made it."""
    person = asker()
    return person.name if person is not None else ""


def rules_of_asker(
    from_company: str | None = None, *, on_purpose: bool = False, brought_from: str = ""
) -> Rules:
    """What may be brought in by the person who is logged in.

    ``from_company`` says whose log it comes from. A lead can bring in another's ``on_purpose``.
    ``brought_from`` says that it comes from no phone of theirs: ``file`` or ``refused``.
    """
    person = asker()
    name = person.name if person is not None else ""
    lead = person is not None and person.role == "lead"
    company = "" if lead and on_purpose else current_app.config["COMPANY"]
    rules = rules_for(name, lead=lead, company=company, from_company=from_company)
    rules = replace(rules, brought_from=brought_from)
    if not current_app.config["LISTENS_BEYOND"]:
        return rules
    return replace(rules, names=tuple(one.name for one in people().everyone()))
