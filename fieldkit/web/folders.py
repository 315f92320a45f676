"""Where ``static`` and ``templates`` are."""

from __future__ import annotations

from pathlib import Path

#: Beside the package in an installed copy, two levels up in a checkout.
_HERE = Path(__file__).resolve().parent
_CHECKOUT = _HERE.parent.parent


def shared_folder(name: str) -> Path:
    """``static`` or ``templates``, wherever this copy of fieldkit keeps it."""
    installed = _HERE / name
    return installed if installed.is_dir() else _CHECKOUT / name
