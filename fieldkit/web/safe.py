"""Addresses that come from outside: only a path of this very site is followed."""

from __future__ import annotations

from urllib.parse import urlsplit


def local_path(given: str) -> str:
    """``given`` when it is a plain path of this site, else the first page.

    Examples
    --------
    >>> local_path("/jobs?q=valve"), local_path("//elsewhere"), local_path("https:/x")
    ('/jobs?q=valve', '/', '/')
    >>> local_path("/\\\\elsewhere"), local_path("/a\\nb")
    ('/', '/')
    """
    parts = urlsplit(given) if given.isprintable() else None
    if (
        parts is None
        or parts.scheme
        or parts.netloc
        or not given.startswith("/")
        or given.startswith("//")
        or "\\" in given
    ):
        return "/"
    return given
