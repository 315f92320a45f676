"""The pack: our own Python, templates, tables and what they import, as one zip for the phone.

It is built from what is installed here, so the phone answers with the very code that the server
answers with. Its bytes depend on its contents alone.
"""

from __future__ import annotations

import pickle
import re
from collections.abc import Iterator
from email.parser import HeaderParser
from importlib.metadata import Distribution, distribution
from pathlib import Path, PurePosixPath

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import fieldkit
from fieldkit.flows.demo import demo_folder
from fieldkit.phone.runtime import PLATFORM, PYTHON_VERSION
from fieldkit.phone.stored_zip import files_of, zip_of
from fieldkit.web.create import shared_folder
from fieldkit.web.localize import LOCALES
from fieldkit.web.pages.record import LOOKS
from fieldkit.web.sending import without_comments

#: What the program imports when it answers a request.
ROOTS = ("flask", "flask-babel", "flask-wtf", "sqlite-utils", "pint")

#: What only a server imports: to listen, know people, draw codes and papers, build the pack.
SERVER_ONLY = frozenset(
    {
        "argon2-cffi",
        "confusable-homoglyphs",
        "font-roboto",
        "font-source-sans-pro",
        "fonttools",
        "fpdf2",
        "packaging",
        "pillow",
        "segno",
        "waitress",
        "zxcvbn",
    }
)

#: Required by something in the pack, but never imported on the way to an answer: an installer,
#: what a command line needs, types for older Pythons, and the world's time zones, as a phone
#: tells its own zone itself.
LEFT_OUT = frozenset({"click-default-group", "pip", "tabulate", "typing-extensions", "tzdata"})

#: Markers of requirements are read for the phone, not for the machine that builds the pack.
TARGET = {
    "implementation_name": "cpython",
    "implementation_version": f"{PYTHON_VERSION}.0",
    "os_name": "posix",
    "platform_machine": "wasm32",
    "platform_python_implementation": "CPython",
    "platform_release": "",
    "platform_system": "Emscripten",
    "platform_version": "",
    "python_full_version": f"{PYTHON_VERSION}.0",
    "python_version": PYTHON_VERSION,
    "sys_platform": PLATFORM,
    "extra": "",
}

#: Read at run time by packages that look themselves up; the rest of the metadata stays here.
_METADATA = ("METADATA", "entry_points.txt")

_LOCALES = "|".join(LOCALES).replace("-", "_")

_TONGUES = frozenset(locale.split("-")[0] for locale in LOCALES)

_NOT_WANTED = re.compile(
    r"(^|/)(__pycache__|tests?|testsuite|testing)/"  # tests of others
    r"|\.(so|pyd|dll|dylib|pyc|pyi|c|h)$"  # for other machines, or for type checkers
    r"|(^|/)py\.typed$"
    r"|^wtforms/locale/"  # words that we never show
    r"|^babel/messages/|^pytz/zoneinfo/"  # makes catalogues; zones, as a phone tells its own
    r"|^dateutil/(easter|rrule|tzwin|tz/win|zoneinfo/.*)\.py$"
    # Command lines, development, other systems.
    r"|(^|/)__main__\.py$|^(pint|platformdirs)/(matplotlib|pint_convert|pytest_plugin)\.py$"
    r"|^(click|flask|pint|platformdirs)/testing\.py$|^sqlite_utils/cli\.py$"
    r"|^click/(_termui_impl|_winconsole|shell_completion)\.py$"
    r"|^flask/(debughelpers|views)\.py$|^jinja2/(constants|meta|nativetypes|sandbox)\.py$"
    r"|^platformdirs/(_?android|ios|macos|windows)\.py$|^babel/localtime/_win32\.py$"
    r"|^werkzeug/(debug|middleware)/|^werkzeug/(_reloader|testapp)\.py$"
    # Only a server's.
    r"|^fieldkit/(app|flows/diagnosing/score|web/(listening|upkeep)|web/pages/backup)\.py$"
    r"|^fieldkit/cli/"
    r"|^fieldkit/joblog/(backup|drill|encrypted|integrity|keeping|repair|restore|upkeep)\.py$"
    r"|^fieldkit/phone/(compiled|export|kit|pack|runtime|serving)\.py$"
    rf"|^babel/locale-data/(?!(root|{_LOCALES})\.dat$)|^babel/locale-data/LICENSE"
    r"|^fieldkit/web/(static|templates)/|^fieldkit/demo_jobs/"  # placed by name below
)

_LOCALE_DATA = re.compile(r"^babel/(global|locale-data/\w+)\.dat$")

#: Of Babel's data a phone uses dates and the signs of numbers: names of money, of units of
#: measurement, of countries, tongues and time zones stay here.
_LOCALE_PARTS_NOT_WANTED = frozenset(
    {
        *("all_currencies", "currency_fractions", "currency_names", "currency_names_plural"),
        *("territory_currencies", "territory_languages", "territory_zones", "territories"),
        *("windows_zone_mapping", "zone_territories", "meta_zones", "time_zones"),
        *("languages", "scripts", "variants", "interval_formats", "compact_decimal_formats"),
        *("unit_patterns", "unit_display_names", "compound_unit_patterns"),
    }
)

#: Of the standard library: what tests, debugs, mails, runs commands and spreads over processes;
#: twins of what is built in; other systems' parts; and the alphabets of old files. Nothing that
#: answers a request imports them.
_LIBRARY_NOT_WANTED = re.compile(
    r"^(_pyrepl|concurrent/interpreters|ctypes/macholib|email/mime|multiprocessing|pydoc_data"
    r"|tomllib|unittest|wsgiref|xmlrpc|xml/(dom|sax))/|(^|/)__main__\.py$"
    r"|^(_pydatetime|_pyio|antigravity|argparse|bdb|cProfile|cmd|code|colorsys|compileall"
    r"|configparser|doctest|filecmp|fileinput|ftplib|getopt|getpass|graphlib|imaplib|mailbox"
    r"|modulefinder|netrc|nturl2path|optparse|pdb|pickletools|plistlib|poplib|profile|pstats|pty"
    r"|py_compile|pyclbr|pydoc|rlcompleter|sched|shelve|smtplib|statistics|symtable|tabnanny"
    r"|tarfile|this|timeit|trace|tracemalloc|tty|wave|webbrowser|zipapp"
    r"|asyncio/(proactor_events|tools|windows_\w+)|concurrent/futures/(interpreter|process)"
    r"|ctypes/(_aix|util|wintypes)|email/(_header_value_parser|contentmanager|generator"
    r"|headerregistry|policy)|http/cookiejar|importlib/_bootstrap(_external)?|json/tool"
    r"|logging/(config|handlers)|pyodide/console|urllib/robotparser"
    r"|xml/etree/ElementInclude)\.py$"
    r"|^encodings/(?!(__init__|aliases|ascii|cp1252|cp437|idna|latin_1|punycode|utf_\w+"
    r"|(raw_)?unicode_escape)\.py$)"
)


def build_pack() -> bytes:
    """The zip. The same installed packages always give the same bytes."""
    contents = dict(sorted(_contents()))
    return zip_of(contents.items())


def library(archive: bytes) -> bytes:
    """What a phone needs of the standard library's zip."""
    return zip_of(one for one in files_of(archive) if not _LIBRARY_NOT_WANTED.search(one[0]))


def packed_distributions() -> list[Distribution]:
    """The roots and all that they need on the phone, by name."""
    found: dict[str, Distribution] = {}
    to_see = list(ROOTS)
    while to_see:
        name = canonicalize_name(to_see.pop())
        if name in found or name in LEFT_OUT:
            continue
        found[name] = distribution(name)
        for line in found[name].requires or ():
            need = Requirement(line)
            if need.marker is None or need.marker.evaluate(TARGET):
                to_see.append(need.name)
    return [found[name] for name in sorted(found)]


def _contents() -> Iterator[tuple[str, bytes]]:
    """Every file of the pack: its place on the phone, and its bytes."""
    for one in packed_distributions():
        yield from _files_of(one)
    package = Path(fieldkit.__file__).parent
    for path in package.rglob("*"):
        place = f"fieldkit/{path.relative_to(package).as_posix()}"
        if path.suffix in {".py", ".csv", ".mo"} and not _NOT_WANTED.search(place):
            yield place, path.read_bytes()
    templates = shared_folder("templates")
    for path in templates.rglob("*.html"):
        yield f"fieldkit/web/templates/{path.relative_to(templates).as_posix()}", path.read_bytes()
    static = shared_folder("static")
    for name in LOOKS:  # they go into the record that opens anywhere
        style_sheet = without_comments((static / f"{name}.css").read_bytes())
        yield f"fieldkit/web/static/{name}.css", style_sheet
    for file in demo_folder().iterdir():
        if file.name.endswith(".csv"):  # the price list that the calculations offer
            yield f"fieldkit/demo_jobs/{file.name}", file.read_bytes()


def _files_of(found: Distribution) -> Iterator[tuple[str, bytes]]:
    for file in found.files or ():
        place = PurePosixPath(file).as_posix()
        if place.startswith("..") or _NOT_WANTED.search(place):
            continue
        in_metadata = ".dist-info/" in place
        if in_metadata and PurePosixPath(place).name not in _METADATA:
            continue
        body = Path(str(file.locate())).read_bytes()
        if place.endswith("/METADATA"):
            body = _headers_of(body)
        elif _LOCALE_DATA.search(place):
            body = _dates_and_numbers(body)
        yield place, body


def _dates_and_numbers(data: bytes) -> bytes:
    """A file of Babel's data without the parts that no page of ours asks for."""
    read = pickle.loads(data)  # noqa: S301  -- from the installed package
    kept = {name: part for name, part in read.items() if name not in _LOCALE_PARTS_NOT_WANTED}
    if likely := kept.get("likely_subtags"):  # of 8,000 tongues: where and how each is written
        kept["likely_subtags"] = {one: likely[one] for one in likely if one in _TONGUES}
    return pickle.dumps(kept, protocol=2)


def _headers_of(metadata: bytes) -> bytes:
    """The name and version that packages ask for, without the long description."""
    read = HeaderParser().parsestr(metadata.decode())
    kept = ("Metadata-Version", "Name", "Version")
    return "".join(f"{key}: {read[key]}\n" for key in kept).encode()
