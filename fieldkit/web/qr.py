"""QR codes as inline drawings: one path, no style, so the page's policy holds."""

from __future__ import annotations

from markupsafe import Markup


def qr_modules(text: str) -> tuple[list[tuple[int, int]], int]:
    """The dark modules of ``text`` by their place, and how many a side, its light border too."""
    import segno  # noqa: PLC0415  -- a phone does without it

    code = segno.make(text, error="m", micro=False)
    border = 4  # modules that must stay light around it, by ISO/IEC 18004
    rows = [bytes(row) for row in code.matrix]
    dark = [
        (x + border, y + border) for y, row in enumerate(rows) for x, one in enumerate(row) if one
    ]
    return dark, len(rows) + 2 * border


def qr_svg(text: str, says: str) -> Markup:
    """The code of ``text`` as SVG with the words ``says`` for those who cannot see it."""
    dark, size = qr_modules(text)
    path = "".join(f"M{x} {y}h1v1h-1z" for x, y in dark)
    return Markup(
        '<svg class="qr" viewBox="0 0 {0} {0}" role="img" aria-label="{1}">'
        '<path fill="#fff" d="M0 0h{0}v{0}H0z"/><path fill="#000" d="{2}"/></svg>'
    ).format(size, says, path)
