"""The one guard against forged forms, shared by the pages that check it themselves."""

from __future__ import annotations

from flask import current_app
from flask_wtf.csrf import CSRFProtect

csrf = CSRFProtect()


def check_token() -> None:
    """Check the form's token, where a page is exempt from the general check.

    Raises
    ------
    CSRFError
        The token is missing, wrong, or from another session.
    """
    # Off only where no other site can reach the app: inside the phone's own worker.
    if current_app.config["WTF_CSRF_ENABLED"]:
        csrf.protect()
