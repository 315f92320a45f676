"""What every page carries for the phone: one script, one empty line, one link. No more."""

from __future__ import annotations

from typing import Any

from flask import Flask, current_app


def attach(app: Flask, *, taken: bool = False) -> None:
    """Tell the page frame that this copy can be taken to the field, or was, and has a line."""

    @app.context_processor
    def phone() -> dict[str, Any]:
        return {
            "left_on_server": current_app.config.get("LEFT_ON_SERVER", 0),
            "phone": True,
            "taken": taken,
        }
