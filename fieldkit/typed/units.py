"""The units people type: our own list of spellings, and pint to convert between them.

pint never sees what was typed. It gets a float and two names from the list below, in a registry
made of our own definition lines: pint's default file is far larger than we need and takes most
of a second to load, several on a phone. Every factor is exact by definition (the international
yard and pound of 1959, the US gallon of 231 cubic inches, the kelvin, standard gravity).
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

import pint

from fieldkit.engine.words import Figure, say

_REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(
    [
        "meter = [length]",
        "centimeter = 0.01 * meter",
        "millimeter = 0.001 * meter",
        "inch = 0.0254 * meter",
        "foot = 12 * inch",
        "yard = 36 * inch",
        "second = [time]",
        "minute = 60 * second",
        "hour = 60 * minute",
        "day = 24 * hour",
        "kilogram = [mass]",
        "newton = kilogram * meter / second ** 2",
        "pound_force = 0.45359237 * 9.80665 * newton",
        "pascal = newton / meter ** 2",
        "kilopascal = 1000 * pascal",
        "megapascal = 1000 * kilopascal",
        "bar = 100 * kilopascal",
        "kilogram_force_per_cm2 = 98.0665 * kilopascal",
        "psi = pound_force / inch ** 2",
        "liter = 0.001 * meter ** 3",
        "milliliter = 0.001 * liter",
        "cubic_meter = meter ** 3",
        "gallon = 231 * inch ** 3",
        "quart = 0.25 * gallon",
        "kelvin = [temperature]; offset: 0",
        "degree_celsius = kelvin; offset: 273.15",
        "degree_fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9",
        "turn = [turning]",
        "one = []",
        "percent = 0.01 * one",
    ]
)


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as we write it, what it measures, and its name in the registry."""

    name: str
    kind: str
    registered: str


#: What a unit of each kind measures, in words that fit "is …" and "give …".
KINDS = {
    "length": say("a length"),
    "time": say("a length of time"),
    "pressure": say("a pressure"),
    "force": say("a force"),
    "flow": say("a flow"),
    "volume": say("an amount of water"),
    "speed": say("a speed"),
    "temperature": say("a temperature"),
    "turns": say("a number of turns"),
    "ratio": say("a plain number"),
}

# name, kind, registered name, accepted spellings; letter case does not matter.
_PLAIN: tuple[tuple[str, str, str, str], ...] = (
    ("in", "length", "inch", "in|inch|inches|pulg|pulgada|pulgadas|\"|''"),
    ("ft", "length", "foot", "ft|foot|feet|pie|pies|'"),
    ("yd", "length", "yard", "yd|yard|yards"),
    ("mm", "length", "millimeter", "mm|millimeter|millimeters|millimetre|millimetres"),
    ("cm", "length", "centimeter", "cm|centimeter|centimeters|centimetre|centimetres"),
    ("m", "length", "meter", "m|meter|meters|metre|metres"),
    ("s", "time", "second", "s|sec|secs|second|seconds"),
    ("min", "time", "minute", "min|mins|minute|minutes|minuto|minutos"),
    ("h", "time", "hour", "h|hr|hrs|hour|hours|hora|horas"),
    ("days", "time", "day", "d|day|days|día|días"),
    ("psi", "pressure", "psi", "psi|psig|lb/in2|lbf/in2|lb/sq in|pounds/square inch"),
    ("bar", "pressure", "bar", "bar|bars|barg"),
    ("kPa", "pressure", "kilopascal", "kpa|kilopascal|kilopascals"),
    ("kgf/cm²", "pressure", "kilogram_force_per_cm2", "kg/cm2|kgf/cm2"),
    ("lbf", "force", "pound_force", "lbf|pounds-force|pound-force"),
    ("N", "force", "newton", "n|newton|newtons"),
    ("°F", "temperature", "degree_fahrenheit", "°f|f|fahrenheit|degf|°fahrenheit"),
    ("°C", "temperature", "degree_celsius", "°c|c|celsius|centigrade|degc|°celsius"),
    ("K", "temperature", "kelvin", "k|kelvin|kelvins"),
    ("gpm", "flow", "gallon / minute", "gpm"),
    ("gph", "flow", "gallon / hour", "gph"),
    ("L/min", "flow", "liter / minute", "lpm"),
    ("L/h", "flow", "liter / hour", "lph"),
    ("ft/s", "speed", "foot / second", "fps"),
    ("turns", "turns", "turn", "turn|turns|vuelta|vueltas"),
    ("%", "ratio", "percent", "%|percent|per cent|pct"),
    ("", "ratio", "one", ""),
)

_VOLUMES: tuple[tuple[str, str, str], ...] = (
    ("gal", "gallon", "gal|gals|gallon|gallons|us gal|us gallons"),
    ("L", "liter", "l|liter|liters|litre|litres"),
    ("mL", "milliliter", "ml|milliliter|milliliters|millilitre|millilitres|cc"),
    ("m³", "cubic_meter", "m3|cubic meters|cubic metres"),
    ("qt", "quart", "qt|qts|quart|quarts"),
)

#: The short names that a rate goes by in the trade.
_TRADE_NAMES = {"gal/min": "gpm", "gal/h": "gph"}


def _spellings() -> dict[str, Unit]:
    found: dict[str, Unit] = {}
    spelled: dict[str, list[str]] = {}
    for name, kind, registered, text in _PLAIN:
        unit = Unit(name, kind, registered)
        spelled[name] = text.split("|")
        found.update(dict.fromkeys(spelled[name], unit))
    for volume, liquid, text in _VOLUMES:
        found.update(dict.fromkeys(text.split("|"), Unit(volume, "volume", liquid)))
    for time, registered in (("s", "second"), ("min", "minute"), ("h", "hour")):
        for volume, liquid, text in _VOLUMES:
            name = _TRADE_NAMES.get(f"{volume}/{time}", f"{volume}/{time}")
            unit = Unit(name, "flow", f"{liquid} / {registered}")
            found.update({f"{v}/{t}": unit for v in text.split("|") for t in spelled[time]})
        for way, long in (("ft", "foot"), ("m", "meter")):
            unit = Unit(f"{way}/{time}", "speed", f"{long} / {registered}")
            found.update({f"{w}/{t}": unit for w in spelled[way] for t in spelled[time]})
    return found


_BY_SPELLING = _spellings()

#: Megapascals only with a capital M: "mPa" is a billion times less.
_EXACT = {
    name: Unit("MPa", "pressure", "megapascal")
    for name in ("MPa", "Mpa", "MPA", "megapascal", "megapascals")
}

#: The units offered when none of a kind was understood, the trade's own first.
OFFERED = {
    "length": "in, ft, mm, cm, m",
    "time": "s, min, h, days",
    "pressure": "psi, bar, kPa, MPa",
    "force": "lbf, N",
    "flow": "gpm, gph, L/min, L/h, mL/min, m³/h",
    "volume": "mL, L, qt, gal",
    "speed": "ft/s, m/s",
    "temperature": "°F, °C, K",
    "turns": "turns",
    "ratio": "%",
}


_EXAMPLES = {
    "in": Figure(0.7, "in", 3),
    "ft": Figure(100.0, "ft"),
    "mm": Figure(17.8, "mm", 1),
    "m": Figure(30.0, "m"),
    "psi": Figure(30.0, "psi"),
    "bar": Figure(2.0, "bar"),
    "lbf": Figure(50.0, "lbf"),
    "N": Figure(200.0, "N"),
    "°F": Figure(68.0, "°F"),
    "°C": Figure(20.0, "°C"),
    "s": Figure(30.0, "s"),
    "min": Figure(15.0, "min"),
    "h": Figure(6.0, "h"),
    "days": Figure(2.0, "days"),
    "gpm": Figure(5.0, "gpm"),
    "gph": Figure(1.0, "gph"),
    "L/min": Figure(20.0, "L/min"),
    "L/h": Figure(4.0, "L/h"),
    "mL/min": Figure(50.0, "mL/min"),
    "mL": Figure(500.0, "mL"),
    "ft/s": Figure(5.0, "ft/s"),
    "m/s": Figure(1.5, "m/s", 1),
    "%": Figure(50.0, "%"),
    "turns": Figure(1.5, "turns", 1),
    "": Figure(1.5, "", 1),
}

#: One example a unit as it would be typed, for programs that ask.
EXAMPLES = {unit: str(figure) for unit, figure in _EXAMPLES.items()}


def unit_of(spelling: str) -> Unit | None:
    """The unit that ``spelling`` names, or None.

    Examples
    --------
    >>> unit_of("GPM").name, unit_of("L / min").name, unit_of("m³/h").name, unit_of("deg F").name
    ('gpm', 'L/min', 'm³/h', '°F')
    >>> unit_of("furlong") is None
    True
    """
    text = " ".join(unicodedata.normalize("NFKC", spelling).split())
    if text[-1:] == "." and text[-2:-1].isalpha():
        text = text[:-1]  # "in." and "ft." as Americans write them
    if text in _EXACT:
        return _EXACT[text]
    text = text.casefold().replace(" per ", "/").replace(" / ", "/").replace("/ ", "/")
    text = text.replace(" /", "/")
    for word in ("degrees ", "degree ", "deg ", "° "):
        text = text.replace(word, "°")
    return _BY_SPELLING.get(text)


def convert(value: float, given: Unit, wanted: Unit) -> float:
    """``value`` in ``given`` as so many ``wanted``, both of one kind.

    Twelve digits are kept: more than anything measured, and few enough to drop the last-bit
    noise that would put 0 °C a hair under 32 °F.

    Examples
    --------
    >>> convert(0.0, unit_of("°C"), unit_of("°F")), convert(2.0, unit_of("bar"), unit_of("psi"))
    (32.0, 29.007547546)
    """
    if given.registered == wanted.registered:
        return value
    converted = float(_REGISTRY.convert(value, given.registered, wanted.registered))
    return float(f"{converted:.12g}")


def example_of(unit: str) -> Figure:
    """One example in ``unit``, for the sentence that says what would be right.

    A figure, so that a reader who works in millimetres is shown millimetres.

    Examples
    --------
    >>> str(example_of("in")), str(example_of("kPa"))
    ('0.700 in', '1 kPa')
    """
    return _EXAMPLES.get(unit, Figure(1.0, unit))
