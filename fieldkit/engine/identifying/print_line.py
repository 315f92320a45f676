"""What the line printed along a pipe says, as clues that fit some rows of the table.

Strong evidence, not proof. A single clue is misread, or printed on another product, 3 times in
100; the line as a whole belongs to another piece 2 times in 100. Both rates are ours. But a word
that forbids, such as gas, is never outweighed: whatever else is read, only rows of its kind stay.

White space is made single first and every pattern has bounded parts, so a line of any length is
read in time that grows with its length alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache

from fieldkit.tables.other_kinds import OtherKind, kind_of_family, other_kinds
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
    """The clues of a line, and the log chance of the line on each row and on none of them.

    ``kind`` is the kind of pipe that the line names and that is no PVC pressure pipe.
    """

    clues: tuple[Clue, ...]
    kind: OtherKind | None
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
    clues, kind = tuple(_clues(line)), printed_kind(line)
    return PrintLine(
        clues,
        kind,
        tuple(
            -math.inf
            if kind is not None and pipe.family not in kind.families
            else _log_chance([_chance(clue.fits(pipe)) for clue in clues])
            for pipe in pipes().values()
        ),
        _log_chance([CLUE_UNLISTED] * len(clues)),
    )


# ── What forbids ────────────────────────────────────────────────────────────────────────────

_NOT_A_SIGN = re.compile(r"[^A-Z0-9]+")
_LETTERS_THEN_DIGITS = re.compile(r"(?<=[A-Z])(?=\d)|(?<=\d)(?=[A-Z])")
_NOT_FOR = re.compile(
    r"\bNOT (?:SUITABLE )?FOR (?:USE )?(?:WITH |IN |AS )?(?:NATURAL )?(?!PRESSURE)[A-Z]+"
)


def _words_of(line: str) -> str:
    """A line as words and numbers, a space about each: ``ASTM D-2513`` is `` ASTM D 2513 ``."""
    return f" {_LETTERS_THEN_DIGITS.sub(' ', _NOT_A_SIGN.sub(' ', line.upper()).strip())} "


@cache
def _marks() -> tuple[tuple[OtherKind, tuple[str, ...], tuple[str, ...]], ...]:
    return tuple(
        (kind, tuple(map(_words_of, kind.marks)), tuple(map(_words_of, kind.unless)))
        for kind in other_kinds().values()
    )


def printed_kind(line: str) -> OtherKind | None:
    """The gravest kind of pipe, other than PVC pressure pipe, that a print line names.

    Examples
    --------
    >>> printed_kind("WARNING GAS 3/4 IPS SDR 11 ASTM D2513").id
    'gas'
    >>> printed_kind("PVC 1120 SCH 40 ASTM D1785 D2665 NSF-PW DWV") is None
    True
    """
    text = _NOT_FOR.sub(" ", _words_of(line))
    for kind, marks, unless in _marks():
        if any(one in text for one in marks) and not any(one in text for one in unless):
            return kind
    return None


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
    "ASTM D2665": ("ASTM D1785", "ASTM D2665"),
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
    "NEMA TC2": ("NEMA TC 2", "UL 651"),
    "UL 651": ("NEMA TC 2", "UL 651"),
    "ASTM D2513": ("ASTM D2513",),
    "ASTM F891": ("ASTM F891",),
    "ASTM D2661": ("ASTM D2661",),
    "ASTM F628": ("ASTM D2661",),
    "ASTM D2729": ("ASTM D2729",),
    "ASTM F441": ("ASTM F441",),
    "ASTM F442": (),
    "ASTM D3309": ("ASTM D3309",),
    "ASTM F1281": ("ASTM F1281",),
    "BS 3505": ("BS 3505",),
    "AS 1477": ("AS/NZS 1477",),
    "NZS 1477": ("AS/NZS 1477",),
    "K 6742": ("JIS K 6742",),
}

#: Printed too, and no help: compounds, and joints.
_NOT_A_PIPE_STANDARD = {"ASTM D1784", "ASTM D3350", "ASTM D1248", "ASTM D2774", "ASTM D3139"}

_STANDARD = re.compile(
    r"\b(?:(?P<body>ASTM)[ -]{0,3})?(?P<letter>[DFB])[ -]?(?P<number>\d{2,4})(?:-\d{2}[A-Z]?)?\b"
    r"|\b(?P<other>ISO|IS|DIN|EN|UL|BS|AS|NZS|K|NEMA ?TC)[ -]{0,3}(?P<digits>\d{1,5})(?:-\d)?\b"
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
    if allowed & {"ASTM D1785", "ASTM D2241"} and set(names) & {"ASTM D1785", "ASTM D2241"}:
        allowed.discard("ASTM D2665")  # marked for both: it is the pressure pipe
    return [Clue("standard", ", ".join(names), lambda p: p.standard in allowed)], text


#: A number that starts where a number can start, so that no run of digits is tried twice.
_NUMBER = r"(?<![\d.])\d{0,4}\.?\d{1,4}"
_FLOW = re.compile(rf"{_NUMBER} ?(?:GPH|LPH|L/H)\b|(?<!\d)\d{{1,4}} ?(?:\"|IN|INCH|CM)? ?SPACING\b")


def _flow_marks(text: str) -> Found:
    """Outlet flow and spacing: only dripline carries them."""
    if not _FLOW.search(text):
        return [], text
    drips = {"drip", "micro", "metric-lateral"}
    return [Clue("use", "outlet flow", lambda p: p.family in drips)], _FLOW.sub(" ", text)


_CLASSES: tuple[tuple[re.Pattern[str], tuple[str, ...]], ...] = (
    (re.compile(r"\b(?:SCH(?:EDULE|ED)?|C[EÉ]D(?:ULA)?)\.? ?-?(\d{2,3})\b"), ("Sch {}",)),
    (re.compile(r"\bSIDR ?-? ?(\d{1,3}(?:\.\d{1,2})?)"), ("SIDR-{}",)),
    (re.compile(r"\bS?DR ?-? ?(\d{1,3}(?:\.\d{1,2})?)"), ("SDR {}", "DR {}")),
)
_PN = re.compile(r"\bPN ?-?(\d{1,3}(?:\.\d{1,2})?)")


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
        return None if pipe.family in {"metric-pvc", "metric-lateral", "jis-pvc"} else False

    return fits


_PSI = re.compile(r"\b(?:PR|CLASS|CL)\.? ?-?(\d{2,3})\b|\b(\d{2,4}) ?PSI\b")


def _ratings(text: str) -> Found:
    values = tuple(dict.fromkeys(float(a or b) for a, b in _PSI.findall(text)))
    if not values:
        return [], text

    def fits(pipe: Pipe) -> bool | None:
        if pipe.rating_psi is None:
            return None if kind_of_family(pipe.family) is None else False
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
    "cpvc-ips",
    "as-pvc",
    "bs-pvc",
    "jis-pvc",
    "cts-pb",
    "pexal",
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
        re.compile(r"\b(?:PE ?-?\d{0,4}|HDPE|L?LDPE|POLY(?:ETHYLENE)?)\b"),
        lambda p: p.material in {"pe", "drip"},
    ),
    ("material", "copper", re.compile(r"\bCOPPER\b"), lambda p: p.material == "copper"),
    ("use", "gas", re.compile(r"\bGAS\b"), lambda p: p.family.startswith("gas-pe")),
    ("use", "conduit", re.compile(r"\bCONDUIT\b|\bELECTRIC"), lambda p: p.family == "conduit"),
    (
        "use",
        "sewer",
        re.compile(r"\bSEWER\b|\bDRAIN(?:AGE)?\b"),
        lambda p: p.family in {"sewer", "drain", "drain-foam", "drain-thin", "abs"},
    ),
    (
        "use",
        "drain and vent",
        re.compile(r"\bDWV\b"),
        lambda p: (
            p.family in {"drain", "drain-foam", "abs"}
            or (None if p.pipe_class == "Sch 40" and p.family == "ips-pvc" else False)
        ),
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
    ("series", "CTS", re.compile(r"\bCTS\b"), lambda p: "cts" in p.family),
    (
        "series",
        "IPS",
        re.compile(r"\bIPS\b"),
        lambda p: (
            p.family in {"ips-pvc", "ips-pe", "conduit", "gas-pe-ips"}
            or p.family in {"drain", "drain-foam", "abs", "cpvc-ips"}
        ),
    ),
)


def _words(text: str) -> Found:
    """Words stay in the text: ``IPS`` behind a whole number also tells that it is a size."""
    return [Clue(k, says, fits) for k, says, word, fits in _WORDS if word.search(text)], text


_MM = re.compile(rf"({_NUMBER}) ?MM\b")
_DECIMAL = re.compile(
    r"(?:(OD|ID|WALL) ?)?(?<![\d./])(\d?\.\d{2,3})(?!\d) ?(?:\"|IN(?:CH)?\b)? ?(OD|ID|WALL)?\b"
)
_NOMINAL = re.compile(
    r"(?<![\d./])(?:(\d) ?[- ] ?)?(\d)/(\d{1,2})(?!\d)"
    r"|(?<![\d./-])(\d) ?(?:\"|''|IN(?:CH)?\b|NPS\b|IPS\b|CTS\b)"
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
