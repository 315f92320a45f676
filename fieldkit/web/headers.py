"""Security headers on all that is shown or run: no inline code, no other host, no frame."""

from __future__ import annotations

from urllib.parse import urlsplit, urlunsplit

from flask import Flask, Response

#: No inline script or style and no other host. ``'wasm-unsafe-eval'`` lets the offline engine
#: start; it allows no ``eval`` of script.
CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self' 'wasm-unsafe-eval'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)

HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

#: What a browser asks of documents and workers only. A style sheet or a face of type has none of
#: it: nine of them come with a first page, and each line would come nine times.
OF_DOCUMENTS = (
    "Content-Security-Policy",
    "X-Frame-Options",
    "Permissions-Policy",
    "Cross-Origin-Opener-Policy",
)

#: For a year no plain HTTP, on this host and those under it.
HSTS = "max-age=31536000; includeSubDomains"


def on_this_site(where: str) -> str:
    """A place to go to, without a host: the one in the request may be anybody's invention.

    Examples
    --------
    >>> on_this_site("http://elsewhere.example//api/?q=1"), on_this_site("/jobs")
    ('/api/?q=1', '/jobs')
    """
    parts = urlsplit(where)
    return urlunsplit(("", "", "/" + parts.path.lstrip("/"), parts.query, ""))


def attach(app: Flask) -> None:
    """Put the headers on every response; pages with data are not kept by shared caches."""

    @app.after_request
    def add_headers(response: Response) -> Response:
        own = response.headers
        there = {name.lower() for name, _ in own}  # each look-up in them walks them all
        own.extend([one for one in HEADERS.items() if one[0].lower() not in there])
        if (response.mimetype or "").startswith(("text/css", "font/")):
            for name in OF_DOCUMENTS:
                own.pop(name)
        if app.config["SESSION_COOKIE_SECURE"]:
            own.setdefault("Strict-Transport-Security", HSTS)
        if "location" in there:
            own["Location"] = on_this_site(own["Location"])
        # Whatever may be kept says so itself: our own files, and the parts of the kit.
        if "cache-control" not in there:
            own["Cache-Control"] = "no-store"
        return response
