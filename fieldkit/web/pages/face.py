"""The face of type, cut to the letters that the pages use: two files of ten kilobytes."""

from __future__ import annotations

import io
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from flask import Blueprint, Response, abort

from fieldkit.tables.languages import languages

pages = Blueprint("face", __name__, url_prefix="/static/face")

#: Each weight that the style sheet names, and its file in the package of the face.
WEIGHTS = {"regular": "SourceSansPro-Regular.otf", "bold": "SourceSansPro-Bold.otf"}

#: What the languages and the trade's figures are written with.
LETTERS = (
    "".join(map(chr, range(0x20, 0x7F)))
    + "".join(row.letters for row in languages().values())
    + "½¼¾⅛⅜⅝⅞°±×÷·–—’‘“”…≤≥≈→←↑↓−″′µ²³βγτ√Δ•"
)

#: A year; the pages are made anew with each version. [s]
_KEPT = 31_536_000


def face_folder() -> Path:
    """Where the package of the face keeps its files."""
    spec = find_spec("font_source_sans_pro")
    if spec is None or spec.origin is None:
        raise FileNotFoundError("the package font-source-sans-pro is not installed")
    return Path(spec.origin).parent / "files"


@cache
def face(weight: str) -> bytes:
    """One weight as WOFF, with tabular figures and nothing but ``LETTERS``.

    Raises
    ------
    KeyError
        There is no such weight.
    """
    from fontTools import subset  # noqa: PLC0415  -- 0.1 s, and no phone has it

    options = subset.Options()
    options.flavor = "woff"
    options.layout_features = ["tnum"]
    options.hinting = False
    cut = io.BytesIO()
    with subset.load_font(str(face_folder() / WEIGHTS[weight]), options) as font:
        cutter = subset.Subsetter(options)
        cutter.populate(text=LETTERS)
        cutter.subset(font)
        font.flavor = "woff"
        font.save(cut)
    return cut.getvalue()


@pages.get("/<weight>.woff")
def show(weight: str) -> Response:
    """The file of one weight."""
    if weight not in WEIGHTS:
        abort(404)
    response = Response(face(weight), mimetype="font/woff")
    response.headers["Cache-Control"] = f"public, max-age={_KEPT}, immutable"
    return response
