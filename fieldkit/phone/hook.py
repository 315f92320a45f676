"""What every page carries for the phone: one script, one empty line, one link. No more."""

from __future__ import annotations

from typing import Any

from flask import Flask, url_for


def attach(app: Flask) -> None:
    """Tell the page frame that this copy can be taken to the field."""

    @app.context_processor
    def phone() -> dict[str, Any]:
        return {
            "phone": {
                "script": url_for("static", filename="phone/page.js"),
                "manifest": url_for("phone.manifest"),
                "page": url_for("phone.show"),
            }
        }
