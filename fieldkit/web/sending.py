"""How answers travel: packed by gzip, and kept for good where the address names the contents.

A page holds the token against forged forms. Packing it would let a stranger on the wire guess
that token from lengths alone, if pages could be made to hold text of his choosing beside it (the
attack known as BREACH). What another site can choose of a page that a logged-in person sees is
its address: our cookies come with no foreign form. So a page whose address has a query, and every
page that only says what is wrong with an address, travels as it is. Nothing else repeats an
address, beyond ids in hexadecimal digits that have to be known.
"""

from __future__ import annotations

import gzip
import hashlib
import re
from functools import cache
from pathlib import Path
from typing import Any

from flask import Flask, Response, request

#: What packing makes smaller; pictures, papers and the phone's parts are packed already.
PACKABLE = frozenset(
    {
        "application/json",
        "application/manifest+json",
        "image/svg+xml",
        "text/css",
        "text/csv",
        "text/html",
        "text/javascript",
    }
)

_COMMENT = re.compile(rb"/\*.*?\*/\s*", re.DOTALL)

#: Below this, packing saves no packet on the network. [bytes]
SMALLEST = 600

#: Addresses that name their contents may be kept for good.
FOR_GOOD = "public, max-age=31536000, immutable"


def attach(app: Flask) -> None:
    """Name the contents in the addresses of static files, and pack what goes out."""
    folder = Path(app.static_folder or "")

    @cache
    def version(filename: str) -> str:
        path = folder / filename
        return hashlib.sha256(path.read_bytes()).hexdigest()[:10] if path.is_file() else ""

    @cache
    def packed_file(filename: str, body: bytes) -> bytes:
        return gzip.compress(body, 9, mtime=0)

    @app.url_defaults
    def name_the_version(endpoint: str, values: dict[str, Any]) -> None:
        if endpoint == "static" and (found := version(values.get("filename", ""))):
            values["v"] = found

    @app.after_request
    def send(response: Response) -> Response:
        named = (request.view_args or {}).get("filename") if request.endpoint == "static" else None
        if named and response.status_code < 400 and request.args.get("v") == version(named):
            response.headers["Cache-Control"] = FOR_GOOD
        kind = response.mimetype
        if response.status_code != 200 or kind not in PACKABLE:
            return response
        response.headers.add("Vary", "Accept-Encoding")
        if kind == "text/css":  # a tenth of what a first page weighs was comments
            response.direct_passthrough = False
            response.set_data(without_comments(response.get_data()))
        if not may_be_packed(response):
            return response
        response.direct_passthrough = False  # a file on disk: read it
        body = response.get_data()
        if len(body) >= SMALLEST:
            packed = packed_file(named, body) if named else gzip.compress(body, 5, mtime=0)
            response.set_data(packed)
            response.headers["Content-Encoding"] = "gzip"
            response.headers.pop("Accept-Ranges", None)
            etag, _ = response.get_etag()
            if etag:
                response.set_etag(etag, weak=True)  # the same thing in other bytes
        return response


def without_comments(style_sheet: bytes) -> bytes:
    """A style sheet without what it says to who reads it here."""
    return _COMMENT.sub(b"", style_sheet)


def may_be_packed(response: Response) -> bool:
    """Whether the asker can unpack it, and nobody can learn from its length."""
    if not request.accept_encodings.quality("gzip") or "Content-Encoding" in response.headers:
        return False
    if response.mimetype == "text/html":
        return request.method == "GET" and not request.query_string
    return request.method != "HEAD"
