"""What the line printed along a pipe says, as clues that fit some rows of the table.

Strong evidence, not proof. A single clue is misread, or printed on another product, 3 times in
100; the line as a whole belongs to another piece 2 times in 100. Both rates are ours.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from fieldkit.tables.pipes import Pipe, pipes

#: Chance of one clue on a product that would carry it, would not, and might; and on something
#: that no row lists. Ours.
CLUE_FITS, CLUE_MISFITS, CLUE_OPEN, CLUE_UNLISTED = 0.97, 0.03, 0.3, 0.1

#: Longest line that is read; what is behind is left alone. Pipe prints repeat every few feet.
#: [characters]
LONGEST = 400

#: How often the line as a whole belongs to another piece, or was remembered wrong. Ours.
WRONG_LINE = 0.02


@dataclass(frozen=True, slots=True)
class Clue:
    """One thing the line says. ``fits`` is None for a row that may or may not carry it."""

    kind: str
    says: str
    fits: Callable[[Pipe], bool | None]


@dataclass(frozen=True, slots=True)
class PrintLine:
    """The clues of a line, and the log chance of the line on each row and on none of them."""

    clues: tuple[Clue, ...]
    log_chance: tuple[float, ...]
    log_chance_unlisted: float


@lru_cache(maxsize=256)
def read_print_line(line: str) -> PrintLine:
    """Read a print line against every row, in the table's order.

    Examples
    --------
    >>> [clue.says for clue in read_print_line('1/2" SCH 40 PVC ASTM D1785 600 PSI').clues]
    ['ASTM D1785', 'Sch 40', '600 psi', 'PVC', '1/2 in.']
    """
    clues = tuple(_clues(line))
    return PrintLine(
        clues,
        tuple(
            _log_chance([_chance(clue.fits(pipe)) for clue in clues]) for pipe in pipes().values()
        ),
        _log_chance([CLUE_UNLISTED] * len(clues)),
    )


def _chance(fits: bool | None) -> float:
    if fits is None:
        return CLUE_OPEN
    return CLUE_FITS if fits else CLUE_MISFITS


def _log_chance(each: list[float]) -> float:
    return math.log((1 - WRONG_LINE) * math.prod(each) + WRONG_LINE * CLUE_OPEN ** len(each))


# ── Reading ─────────────────────────────────────────────────────────────────────────────────

_PLAINER = str.maketrans(
    {
        "½": " 1/2",
        "¼": " 1/4",
        "¾": " 3/4",
        "⅜": " 3/8",
        "⅝": " 5/8",
        "⅛": " 1/8",
        "⁄": "/",
        "”": '"',
        "“": '"',
        "″": '"',
        "’": "'",
        "×": " X ",
        "–": "-",
        "−": "-",
        "‑": "-",
    }
)


def _clues(line: str) -> Iterator[Clue]:
    """Clues in the order they are looked for; what one reading used, the next does not see.

    Every repeat in the expressions below is bounded, and a number is tried at its first digit
    alone, so that a line takes time in proportion to its length.
    """
    text = " ".join(line[:LONGEST].upper().translate(_PLAINER).split())
    for find in (_standards, _flow_marks, _classes, _ratings, _words, _sizes):
        found, text = find(text)
        yield from found


Found = tuple[list[Clue], str]

#: Standards printed on pipe, and the standards of the table that such pipe stands under.
STANDARDS: dict[str, tuple[str, ...]] = {
    "ASTM D1785": ("ASTM D1785",),
    "ASTM D2665": ("ASTM D1785",),
    "ASTM D2672": ("ASTM D1785", "ASTM D2241"),
    "ASTM D2241": ("ASTM D2241",),
    "ASTM D2239": ("ASTM D2239",),
    "ASTM D2737": ("ASTM D2737",),
    "ASTM D2846": ("ASTM D2846",),
    "ASTM D3034": ("ASTM D3034",),
    "ASTM D3035": ("ASTM D3035",),
    "ASTM F876": ("ASTM F876",),
    "ASTM F877": ("ASTM F876",),
    "ASTM B88": ("ASTM B88",),
    "ISO 161": ("ISO 161-1",),
    "ISO 1452": ("ISO 161-1",),
    "DIN 8062": ("ISO 161-1",),
    "IS 4985": ("ISO 161-1",),
    "ISO 4427": ("ISO 4427-2",),
    "EN 12201": ("ISO 4427-2",),
    "ISO 8779": ("ISO 8779",),
    "IS 12786": ("ISO 8779",),
    "NEMA TC2": ("NEMA TC 2",),
    "UL 651": ("NEMA TC 2",),
}

#: Printed too, and no help: compounds, and joints.
_NOT_A_PIPE_STANDARD = {"ASTM D1784", "ASTM D3350", "ASTM D1248", "ASTM D2774", "ASTM D3139"}

_STANDARD = re.compile(
    r"\b(?:(?P<body>ASTM)[\s-]{0,4})?(?P<letter>[DFB])[\s-]?(?P<number>\d{2,4})(?:-\d{2}[A-Z]?)?\b"
    r"|\b(?P<other>ISO|IS|DIN|EN|UL|NEMA\s{0,3}TC)[\s-]{0,4}(?P<digits>\d{1,5})(?:-\d)?\b"
)


def _standards(text: str) -> Found:
    names: list[str] = []

    def take(match: re.Match[str]) -> str:
        if match["other"]:
            body = "NEMA TC" if match["other"].startswith("NEMA") else match["other"]
            name = f"{body}{'' if body == 'NEMA TC' else ' '}{match['digits']}"
        else:
            name = f"ASTM {match['letter']}{match['number']}"
            if match["body"] is None and name not in STANDARDS:
                return match[0]
        if name not in _NOT_A_PIPE_STANDARD:
            names.append(name)
        return " "

    text = _STANDARD.sub(take, text)
    if not names:
        return [], text
    allowed = {table for name in names for table in STANDARDS.get(name, ())}
    return [Clue("standard", ", ".join(names), lambda p: p.standard in allowed)], text


_FLOW = re.compile(
    r"(?<!\d)\d{0,5}\.?\d{1,5}\s{0,3}(?:GPH|LPH|L/H)\b"
    r"|\b\d{1,5}\s{0,3}(?:\"|IN|INCH|CM)?\s{0,3}SPACING\b"
)


def _flow_marks(text: str) -> Found:
    """Outlet flow and spacing: only dripline carries them."""
    if not _FLOW.search(text):
        return [], text
    drips = {"drip", "micro", "metric-lateral"}
    return [Clue("use", "outlet flow", lambda p: p.family in drips)], _FLOW.sub(" ", text)


_CLASSES: tuple[tuple[re.Pattern[str], tuple[str, ...]], ...] = (
    (re.compile(r"\bSCH(?:EDULE|ED)?\.?\s{0,3}-?(\d{2,3})\b"), ("Sch {}",)),
    (re.compile(r"\bSIDR\s{0,3}-?\s{0,3}(\d{1,4}(?:\.\d{1,4})?)"), ("SIDR-{}",)),
    (re.compile(r"\bS?DR\s{0,3}-?\s{0,3}(\d{1,4}(?:\.\d{1,4})?)"), ("SDR {}", "DR {}")),
)
_PN = re.compile(r"\bPN\s{0,3}-?(\d{1,4}(?:\.\d{1,4})?)")


def _classes(text: str) -> Found:
    clues = []
    for pattern, shapes in _CLASSES:
        match = pattern.search(text)
        if match is None:
            continue
        wanted = tuple(shape.format(f"{float(match[1]):g}") for shape in shapes)
        clues.append(Clue("class", wanted[0], _is_class(wanted)))
        text = pattern.sub(" ", text)
    match = _PN.search(text)
    if match is not None:
        clues.append(Clue("class", f"PN {match[1]}", _fits_pn(f"{float(match[1]):g}")))
        text = _PN.sub(" ", text)
    return clues, text


def _is_class(wanted: tuple[str, ...]) -> Callable[[Pipe], bool]:
    return lambda pipe: pipe.pipe_class in wanted


def _fits_pn(grade: str) -> Callable[[Pipe], bool | None]:
    def fits(pipe: Pipe) -> bool | None:
        if pipe.pipe_class == f"PN {grade}":
            return True
        if pipe.family == "metric-pe" and pipe.pipe_class == "SDR 11":
            return grade in {"12.5", "16"}  # the weaker and the stronger grade at this wall
        return None if pipe.family in {"metric-pvc", "metric-lateral"} else False

    return fits


_PSI = re.compile(r"\b(?:PR|CLASS|CL)\.?\s{0,3}-?(\d{2,3})\b|\b(\d{2,4})\s{0,3}PSI\b")


def _ratings(text: str) -> Found:
    values = tuple(dict.fromkeys(float(a or b) for a, b in _PSI.findall(text)))
    if not values:
        return [], text

    def fits(pipe: Pipe) -> bool | None:
        if pipe.rating_psi is None:
            return None
        listed = [pipe.rating_psi]
        if pipe.material == "pe":
            listed.append(pipe.rating_psi * 1.25)  # the newer grade, 1000 psi against 800
        if pipe.id == "pvc-ips-0500-sdr135":
            listed.append(200.0)  # so sold: there is no SDR 21 in this size
        return any(abs(v - one) <= 0.03 * one for v in values for one in listed)

    says = ", ".join(f"{value:g} psi" for value in values)
    return [Clue("rating", says, fits)], _PSI.sub(" ", text)


_PRESSURE = {
    "ips-pvc",
    "cts-cpvc",
    "cts-pex",
    "cts-pe",
    "cts-pvc",
    "cts-copper",
    "sidr-pe",
    "ips-pe",
    "metric-pvc",
    "metric-pe",
}

_WORDS: tuple[tuple[str, str, re.Pattern[str], Callable[[Pipe], bool | None]], ...] = (
    ("material", "CPVC", re.compile(r"\bCPVC"), lambda p: p.material == "cpvc"),
    (
        "material",
        "PVC",
        re.compile(r"(?<![A-Z])U?PVC"),
        lambda p: None if p.material == "vinyl" else p.material == "pvc",
    ),
    ("material", "vinyl", re.compile(r"\bVINYL\b"), lambda p: p.material == "vinyl"),
    ("material", "PEX", re.compile(r"\bPEX"), lambda p: p.material == "pex"),
    (
        "material",
        "polyethylene",
        re.compile(r"\b(?:PE\s?-?\d{0,4}|HDPE|L?LDPE|POLY(?:ETHYLENE)?)\b"),
        lambda p: p.material in {"pe", "drip"},
    ),
    ("material", "copper", re.compile(r"\bCOPPER\b"), lambda p: p.material == "copper"),
    ("use", "conduit", re.compile(r"\bCONDUIT\b|\bELECTRIC"), lambda p: p.family == "conduit"),
    ("use", "sewer", re.compile(r"\bSEWER\b|\bDRAIN(?:AGE)?\b"), lambda p: p.family == "sewer"),
    (
        "use",
        "drain and vent",
        re.compile(r"\bDWV\b"),
        lambda p: None if p.pipe_class == "Sch 40" and p.family == "ips-pvc" else False,
    ),
    (
        "use",
        "drip",
        re.compile(r"\bDRIP|\bEMITTER"),
        lambda p: p.family in {"drip", "micro", "metric-lateral"},
    ),
    ("use", "hose", re.compile(r"\bHOSE\b"), lambda p: p.family == "hose"),
    (
        "use",
        "drinking water",
        re.compile(r"\bNSF[\s-]{0,4}PW\b|\bPOTABLE\b"),
        lambda p: p.family in _PRESSURE,
    ),
    ("series", "CTS", re.compile(r"\bCTS\b"), lambda p: p.family.startswith("cts")),
    (
        "series",
        "IPS",
        re.compile(r"\bIPS\b"),
        lambda p: p.family in {"ips-pvc", "ips-pe", "conduit"},
    ),
)


def _words(text: str) -> Found:
    """Words stay in the text: ``IPS`` behind a whole number also tells that it is a size."""
    return [Clue(k, says, fits) for k, says, word, fits in _WORDS if word.search(text)], text


_MM = re.compile(r"(?<!\d)(\d{1,5}(?:\.\d{1,5})?)\s{0,3}MM\b")
_DECIMAL = re.compile(
    r"(?:(OD|ID|WALL)\s{0,3})?(?<![\d./])(\d?\.\d{2,3})(?!\d)"
    r"\s{0,3}(?:\"|IN(?:CH)?\b)?\s{0,3}(OD|ID|WALL)?\b"
)
_NOMINAL = re.compile(
    r"(?<![\d./])(?:(\d)\s{0,3}[-\s]\s{0,3})?(\d)/(\d{1,2})(?!\d)"
    r"|(?<![\d./-])(\d)\s{0,3}(?:\"|''|IN(?:CH)?\b|NPS\b|IPS\b|CTS\b)"
)


def _sizes(text: str) -> Found:
    clues = []
    text = text.replace("O.D.", "OD").replace("I.D.", "ID")
    millimetres = [float(one) for one in _MM.findall(text)]
    if millimetres and max(millimetres) >= 4:
        clues.append(Clue("size", f"{max(millimetres):g} mm", _fits_mm(max(millimetres))))
    text = _MM.sub(" ", text)
    decimals = list(
        dict.fromkeys((float(v), before or after) for before, v, after in _DECIMAL.findall(text))
    )
    if decimals:
        says = " × ".join(f"{value:.3f}" for value, _ in decimals)
        clues.append(Clue("size", says, _fits_decimals(decimals)))
    match = _NOMINAL.search(_DECIMAL.sub(" ", text))
    if match is not None:
        ones, over, under, whole = match.groups()
        nominal = whole or (f"{ones}-{over}/{under}" if ones else f"{over}/{under}")
        clues.append(Clue("size", f"{nominal} in.", lambda p: p.nominal == nominal))
    return clues, text


def _fits_mm(value: float) -> Callable[[Pipe], bool]:
    # Two tenths: 17.02 is sold as 17 mm; 15.75 (0.620) is not sold as 16 mm.
    return lambda p: p.nominal == f"{value:g} mm" or abs(p.od_in * 25.4 - value) <= 0.2


def _fits_decimals(decimals: list[tuple[float, str]]) -> Callable[[Pipe], bool]:
    largest = max(value for value, _ in decimals)

    def one_fits(pipe: Pipe, value: float, label: str) -> bool:
        near = {
            "OD": abs(pipe.od_in - value) <= 0.004,
            "ID": pipe.bore_in is not None and abs(pipe.bore_in - value) <= 0.006,
            "WALL": pipe.wall_in is not None and abs(pipe.wall_in - value) <= 0.004,
        }
        if label:
            return near[label]
        if len(decimals) == 1:
            return near["OD"] or near["ID"]
        if value == largest:
            return near["OD"]
        return near["ID"] if value > 0.3 * largest else near["WALL"]

    return lambda pipe: all(one_fits(pipe, value, label) for value, label in decimals)
