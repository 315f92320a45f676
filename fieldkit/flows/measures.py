"""Figures in inches, psi and °F, and the same in millimetres, bar and °C.

Only what is shown changes. The factors are exact by definition, or follow from such.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from fieldkit.engine.words import Figure

#: NIST SP 811: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, g = 9.80665 m/s²,
#: 1 US gallon = 231 in³.
_MM_PER_IN = 25.4
_M_PER_FT = 0.3048
_L_PER_GAL = 3.785411784
_N_PER_LBF = 4.4482216152605
_BAR_PER_PSI = _N_PER_LBF / _MM_PER_IN**2 * 10


@dataclass(frozen=True, slots=True)
class _Same:
    """The unit that stands for another, how to get there, and how many more places it wants."""

    unit: str
    factor: float
    more_places: int = 0
    offset: float = 0.0


_METRIC = {
    "in": _Same("mm", _MM_PER_IN, -1),
    "in.": _Same("mm", _MM_PER_IN, -1),
    "inches": _Same("mm", _MM_PER_IN, -1),
    "in²": _Same("mm²", _MM_PER_IN**2, -2),
    "ft": _Same("m", _M_PER_FT, 1),
    "foot": _Same("metre", _M_PER_FT, 1),
    "feet": _Same("m", _M_PER_FT, 1),
    "psi": _Same("bar", _BAR_PER_PSI, 2),
    "psi/ft": _Same("bar/m", _BAR_PER_PSI / _M_PER_FT, 2),
    "psi per 100 ft": _Same("bar per 100 m", _BAR_PER_PSI / _M_PER_FT, 2),
    "°F": _Same("°C", 5 / 9, 1, -32.0),
    "°F apart": _Same("°C apart", 5 / 9, 1),
    "gpm": _Same("L/min", _L_PER_GAL),
    "gph": _Same("L/h", _L_PER_GAL),
    "gal": _Same("L", _L_PER_GAL, 1),
    "ft/s": _Same("m/s", _M_PER_FT, 1),
    "lbf": _Same("N", _N_PER_LBF),
    "pounds": _Same("N", _N_PER_LBF),
    "lb": _Same("kg", 0.45359237, 1),
    "turns per inch": _Same("turns per inch", 1.0),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Paired(Figure):
    """A figure as it reads in inches, psi and °F, with the one that stands for it in metric."""

    metric: Figure


def bare(value: float, unit: str, places: int = 0) -> Figure:
    """A number whose unit stands elsewhere: at the head of a column, or behind a range.

    Examples
    --------
    >>> str(bare(0.84, "in", 3)), str(metric_figure(bare(0.84, "in", 3)))
    ('0.840', '21.34')
    """
    return Figure(value, unit, places, bare=True)


def plain_inches(value: float, places: int = 3) -> Paired:
    """A size that the trade calls by its inches alone; in millimetres it needs its unit.

    Examples
    --------
    >>> str(plain_inches(0.52)), str(metric_figure(plain_inches(0.52)))
    ('0.520', '13.21 mm')
    """
    return Paired(value, "", places, metric=metric_figure(Figure(value, "in", places)))


def warmer(fahrenheit: float, places: int = 0) -> Paired:
    """So many degrees more or less: a difference, in which 0 °F is 0 °C.

    Examples
    --------
    >>> str(warmer(30.0)), str(metric_figure(warmer(30.0)))
    ('30 °F', '17 °C')
    """
    return Paired(fahrenheit, "°F", places, metric=Figure(fahrenheit * 5 / 9, "°C", places))


def other_units(figure: Figure) -> Paired:
    """The same in the other system, to stand in brackets behind ``figure``.

    Examples
    --------
    >>> beside = other_units(Figure(0.7, "in", 3))
    >>> str(beside), str(metric_figure(beside))
    ('17.78 mm', '0.700 in')
    """
    metric = metric_figure(figure)
    return Paired(metric.value, metric.unit, metric.places, metric=figure)


class UnitName(str):
    """The name of a unit by itself, as the head of a column tells it."""

    __slots__ = ()


#: Every unit that has another name in metric units, with that name.
METRIC_UNITS = {unit: same.unit for unit, same in _METRIC.items()}


def metric_unit(unit: str) -> str:
    """The metric unit that stands for ``unit``; one that is metric already stays.

    Examples
    --------
    >>> metric_unit("in"), metric_unit("mL")
    ('mm', 'mL')
    """
    same = _METRIC.get(unit)
    return same.unit if same else unit


def metric_figure(figure: Figure) -> Figure:
    """The figure in metric units, to about the same fineness.

    Examples
    --------
    >>> str(metric_figure(Figure(0.7, "in", 3))), str(metric_figure(Figure(60.0, "psi")))
    ('17.78 mm', '4.14 bar')
    >>> str(metric_figure(Figure(50.0, "°F"))), str(metric_figure(Figure(73.0, "°F")))
    ('10 °C', '22.8 °C')
    """
    if isinstance(figure, Paired):
        return figure.metric
    same = _METRIC.get(figure.unit)
    if same is None:
        return figure
    value = (figure.value + same.offset) * same.factor
    places = max(0, figure.places + same.more_places)
    if places and not figure.places and abs(value - round(value)) < 10**-places / 2:
        places = 0  # 50 °F is 10 °C, not 10.0 °C
    return Figure(value, same.unit, places, figure.bare)


#: An amount that stands in the prose of a table: a number or a range of them, and its unit. Inches
#: are left: most are sizes as the trade names them. So is what has its metric beside it already.
_IN_PROSE = re.compile(
    r"(?<![\d/.,−-])(?P<low>\d+(?:\.\d+)?)"
    r"(?:(?P<to> (?:to|and|a|y) )(?P<high>\d+(?:\.\d+)?))?"
    r" (?P<unit>°F|psi|ft/s|ft)(?![\w/]| ?[(])"
)
#: A formula keeps its own units, and a difference of temperature is another sum.
_OF_FORMULAS = re.compile(r"[=×√Σ∫\[+±]")


@cache
def with_metric(prose: str) -> str:
    """Prose of ours with the metric amount in brackets behind each plain one.

    Examples
    --------
    >>> with_metric("Below 0 °F do not cement: join indoors.")
    'Below 0 °F (-18 °C) do not cement: join indoors.'
    >>> with_metric("It blew off bare barbs at 35 to 45 psi.")
    'It blew off bare barbs at 35 to 45 psi (2.4 to 3.1 bar).'
    >>> with_metric("mean [1 − α (T − 73 °F)]")
    'mean [1 − α (T − 73 °F)]'
    """
    sentence = prose[:1].isupper() and prose.count(" ") >= 3
    return _IN_PROSE.sub(_beside, prose) if sentence and not _OF_FORMULAS.search(prose) else prose


def _beside(found: re.Match[str]) -> str:
    unit = found["unit"]
    if re.search(rf"(?<!\w){re.escape(metric_unit(unit))}(?!\w)", found.string):
        return found[0]
    ends = [_rough(float(one), unit) for one in (found["low"], found["high"]) if one]
    return f"{found[0]} ({(found['to'] or '').join(ends)} {metric_unit(unit)})"


def _rough(value: float, unit: str) -> str:
    """The metric number, as coarse as prose is."""
    metric = metric_figure(Figure(value, unit)).value
    whole = unit == "°F" or abs(metric) >= 10
    return f"{metric:.0f}" if whole else f"{metric:.1f}"
