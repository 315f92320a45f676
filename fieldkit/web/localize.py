"""The reader's language and units: chosen by the browser, changeable, kept in cookies.

Everything is made, kept and calculated in plain English and inch units. Here each text is
localized as it is written to a page, a drawing or a PDF: the template looked up whole in the
catalogue of the reader's language, each `Figure` in the reader's units. An answer in the log
keeps the templates beside its sentences (`said`), so what one person saved in English another
reads in Spanish. A bare number typed on a metric page is kept with its unit. Prose of the tables
gets its metric amount in brackets on a metric page (`measures.with_metric`). The JSON API, CSV
and the command line stay English: they are for programs. Lines of working stay in inches, psi and
°F, the units of their formulas.

So a text is one whole `say(…)`, never joined from pieces; a name from a table may be a part of
it; a person's own words are a `Quote` and are never looked up. The fields of steps, options and
blocks become texts by themselves; templates use `_("Saved {when}", when=…)`, `name|own` for a
person's own words in it, and `x|localized` for a string of ours that is looked up whole. A script
takes its words from the `data-` attributes of its page; the phone's scripts from
`phone/words.py`, one file a language. The choice itself is `/choices`: two cookies, else what the
browser asks for; one that names no place is taken to be in the US: inches, and 17.3 in Spanish
too.

A flow's figures are made by `flows/figures.py` (`amount`, `span`, `dollars`). Where a unit is not
written beside its number, `flows/measures.py` has a word for it: `bare` (the unit stands behind a
range or at the head of a column, told by `UnitName`), `plain_inches` (a size called by its inches
alone), `warmer` (a difference of temperatures), `other_units` (the same in brackets behind it).
What a step's form sent is read by `flows/forms.py`; `flows/fact_words.py` says a fact's code in
words.
"""

from __future__ import annotations

import re
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from flask import Flask, request
from flask_babel import Babel, force_locale, format_datetime, get_locale, get_translations
from markupsafe import Markup, escape
from werkzeug.datastructures import LanguageAccept
from werkzeug.http import parse_accept_header

from fieldkit.engine.words import Capital, Figure, Quote, Span, Text
from fieldkit.flows.localize import Localizer, localize, restore_localizer, use_localizer
from fieldkit.flows.measures import UnitName, metric_figure, metric_unit, with_metric
from fieldkit.tables.languages import languages

LANGUAGE_COOKIE = "language"
UNITS_COOKIE = "units"

#: Each language in its own words.
LANGUAGES = {row.id: row.name for row in languages().values()}

UNITS = ("inch", "metric")

#: Locales that we tell apart: they differ in how a number is written, not in words.
LOCALES = tuple(locale for row in languages().values() for locale in row.locales)

#: A size called by its inches, as parts are marked: ½, 1¼.
_WRITTEN = {"1/8": "⅛", "1/4": "¼", "3/8": "⅜", "1/2": "½", "5/8": "⅝", "3/4": "¾", "7/8": "⅞"}
SIZES = {
    f"{whole}-{part}" if whole else part: whole + written
    for whole in ("", "1", "2", "3", "4")
    for part, written in _WRITTEN.items()
}

#: The same within a sentence or a name from a table.
_SIZE = re.compile(r"(?<![\d/.])(?:(\d)-)?([1357]/[248])(?= (?:in\b|pulg\b))")


def with_sizes(words: str) -> str:
    """``words`` with sizes in inches in their one form.

    Examples
    --------
    >>> with_sizes("1/2 in. drip tubing on 1-1/4 in pipe"), with_sizes("1/2 IN PVC 1120")
    ('½ in. drip tubing on 1¼ in pipe', '1/2 IN PVC 1120')
    """
    if "/" not in words:
        return words
    return _SIZE.sub(lambda one: (one[1] or "") + _WRITTEN.get(one[2], one[2]), words)


#: Where the trade's parts are sold by the inch, whatever is spoken; elsewhere millimetres.
_INCH_TERRITORIES = frozenset({"", "US", "MX", "PR", "419", "LR", "MM"})

_SWAPPED = str.maketrans(",.", ".,")
_DEFAULT = ("en", "inch")
_TOLD = (Text, Figure, Span)  # a page asks this of a hundred values

FOLDER = Path(__file__).resolve().parents[1] / "translations"


class ReaderLocalizer:
    """The localizer of one locale and one system of units."""

    def __init__(self, units: str) -> None:
        self._look_up = get_translations().ugettext
        self._metric = units == "metric"
        self._comma = decimal_comma()

    def __call__(self, value: object) -> str:
        """``value`` in this language and in these units."""
        match value:
            case Quote():
                return str(value)
            case UnitName():
                unit = metric_unit(value) if self._metric else value
                return str(self._look_up(unit))
            case Text():
                template = self._named(value.template)
                if self._metric:
                    template = with_metric(template)
                if not value.parts:
                    return template
                told = template.format(**{k: self._part(v) for k, v in value.parts.items()})
                # A unit that is an abbreviation ends the sentence, too: "mide 0.620 pulg."
                return told.replace("..", ".")
            case Figure():
                return self._figure(value)
            case Span():
                return self(value.said)
            case _:
                return str(value)

    def _part(self, part: object) -> str:
        """A part of a sentence: a name from a table is looked up, a person's words are not."""
        if type(part) is str:
            return self._named(part)
        if isinstance(part, Capital):
            return str(Capital(self._look_up(part.plain)))
        if isinstance(part, float) and self._comma:
            return str(part).translate(_SWAPPED)
        return self(part)

    def _named(self, words: str) -> str:
        """A text or a name looked up whole, its sizes in their one form."""
        return SIZES.get(words) or with_sizes(self._look_up(words)) if words else words

    def as_measured(self, figure: Figure) -> Figure:
        """``figure`` in these units."""
        return metric_figure(figure) if self._metric else figure

    def _figure(self, figure: Figure) -> str:
        shown = self.as_measured(figure)
        digits = shown.digits.translate(_SWAPPED) if self._comma else shown.digits
        if not shown.unit or shown.bare:
            return digits
        return f"{digits} {self._look_up(shown.unit)}"


def localized_in(code: str, value: object) -> str:
    """``value`` in another language than the reader's, in the reader's units."""
    with force_locale(code):
        return ReaderLocalizer(units())(value)


def decimal_comma() -> bool:
    """Whether this reader writes 17.3 with a comma."""
    if language() == "en":
        return False
    locale = get_locale()
    return bool(locale and locale.number_symbols["latn"].get("decimal") == ",")


class Reader(NamedTuple):
    """Whom a page is for: what its texts depend on beside themselves."""

    language: str
    units: str
    locale: str


def language() -> str:
    """The language of this request: chosen, else the first the browser asks for that we have."""
    return reader().language


def units() -> str:
    """The units of this request: chosen, else as where the browser says it is."""
    return reader().units


def reader() -> Reader:
    """The reader of this request."""
    environ = request.environ  # each kept part and each box of a page asks
    found: Reader | None = environ.get("fieldkit.reader")
    if found is None:
        asked, cookies = environ.get("HTTP_ACCEPT_LANGUAGE", ""), request.cookies
        found = _reader(asked, cookies.get(LANGUAGE_COOKIE), cookies.get(UNITS_COOKIE))
        environ["fieldkit.reader"] = found
    return found


@lru_cache(maxsize=64)
def _reader(header: str, language: str | None, units: str | None) -> Reader:
    """The reader of a browser that asks for languages so, and of what was chosen in it.

    Its locale, as Babel writes it, is the language and where the browser is. One that does not say
    where it is, is taken to be in the US, as for its units: 17.3, also in Spanish.
    """
    accepted = parse_accept_header(header, LanguageAccept)
    territory = (accepted.best or "").replace("_", "-").partition("-")[2].upper()
    if language is None or language not in LANGUAGES:
        language = (accepted.best_match(LOCALES, "en") or "en").partition("-")[0]
    if units is None or units not in UNITS:
        units = "inch" if territory in _INCH_TERRITORIES else "metric"
    there = f"{language}-{territory or 'US'}"
    locale = there.replace("-", "_") if there in LOCALES else language
    return Reader(language, units, locale)


def localized(value: Any) -> Any:
    """What a template writes: texts and figures as the reader wants them, all else as it is."""
    return localize(value) if isinstance(value, _TOLD) else value


def worded(template: str, /, **parts: object) -> str:
    """A text of a template’s own, localized: ``{{ _("Saved {when}", when=at) }}``.

    A part may be markup, such as a link; then so is the whole, and all else in it is escaped.
    """
    if not parts or not any(isinstance(part, Markup) for part in parts.values()):
        return localize(Text(template, parts))
    plain = localize(Text(template, {}))
    return Markup(escape(plain)).format(**{k: _marked(part) for k, part in parts.items()})  # noqa: S704


def _marked(part: object) -> object:
    return part if isinstance(part, Markup) else localized(part)


def translated_percent() -> int:
    """How much of this reader's language is translated, as its catalogue says. [%]"""
    if languages()[language()].whole:
        return 100
    return int(get_translations().info().get("x-translated-percent", "0"))


def local_time(at: datetime, zone: str) -> str:
    """A local time as the reader writes it, with the zone's name."""
    if language() == "en":
        return f"{at:%d %b %Y, %H:%M} {zone}".strip()
    return f"{format_datetime(at, 'd MMM yyyy, HH:mm', rebase=False)} {zone}".strip()


def local_day(at: datetime) -> str:
    """A day as the reader writes it."""
    if language() == "en":
        return f"{at:%d %b %Y}"
    return str(format_datetime(at, "d MMM yyyy", rebase=False))


def written(digits: str) -> str:
    """Digits in English form, such as 1,234.5, as the reader writes them."""
    if language() == "en":
        return digits
    locale = get_locale()
    comma = locale is not None and str(locale.number_symbols["latn"].get("decimal")) == ","
    return digits.translate(_SWAPPED) if comma else digits


def localizer_of_request() -> Localizer:
    """The localizer of this request."""
    wanted = reader()
    kind = _AsMade if wanted[:2] == _DEFAULT else ReaderLocalizer
    return kind(wanted.units)


class _AsMade(ReaderLocalizer):
    """Tells texts as they are made, which is all but the sizes: a page tells a hundred."""

    def __call__(self, value: object) -> str:
        told = str(value)
        return super().__call__(value) if "/" in told else told


def attach(app: Flask) -> None:
    """Localize every page of ``app`` in its reader's language and units."""
    Babel(
        app,
        default_translation_directories=str(FOLDER),
        locale_selector=lambda: reader().locale,
        configure_jinja=False,
    )
    app.jinja_options = {**app.jinja_options, "finalize": localized}
    app.jinja_env.finalize = localized
    app.jinja_env.globals.update(_=worded, localize=localize, languages=LANGUAGES)

    localizers: dict[Reader, Localizer] = {}

    @app.before_request
    def begin() -> None:
        whose = reader()
        found = localizers.get(whose) or localizers.setdefault(whose, localizer_of_request())
        request.environ["fieldkit.localizer"] = use_localizer(found)

    @app.teardown_request
    def end(error: BaseException | None) -> None:
        token = request.environ.pop("fieldkit.localizer", None)
        if token is not None:
            restore_localizer(token)

    @app.context_processor
    def spoken() -> dict[str, object]:
        return {
            "language": language(),
            "units": units(),
            "translated_percent": translated_percent(),
        }
