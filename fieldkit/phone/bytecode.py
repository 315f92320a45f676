"""Byte code in the place of sources, so that a phone compiles nothing when it starts.

Only the phone's own Python can make it: byte code of another version is of no use to it. So this
runs in that Python, under node, when a server builds its kit (``phone/compiled.py``).

What the engine imports is compiled, and the template of every page; all else stays as it is.
Nothing checks byte code against its source again: both belong to one version of the kit.
"""

from __future__ import annotations

import marshal
import sys
from collections.abc import Iterator
from dis import opmap
from importlib.machinery import FrozenImporter, ModuleSpec
from importlib.util import MAGIC_NUMBER
from pathlib import Path
from types import CodeType

from fieldkit.phone.engine import Engine
from fieldkit.phone.pages import TEMPLATE_CODE, phone_app
from fieldkit.phone.stored_zip import files_of, zip_of

#: The header that says: this belongs to its source, do not check (PEP 552).
_UNCHECKED = MAGIC_NUMBER + (1).to_bytes(4, "little") + bytes(8)

_LOAD_CONST = opmap["LOAD_CONST"]

#: ``inspect.CO_HAS_DOCSTRING`` of the phone's Python; that of a server may not know it.
_SAYS_OF_ITSELF = 0x4000000


def compiled(folder: str, pack: bytes, library_place: str, library: bytes) -> tuple[bytes, bytes]:
    """The pack and the standard library anew, with byte code where there is any.

    Parameters
    ----------
    folder : str
        Where the pack is laid out, here as on the phone: byte code names the place of its source.
    pack, library : bytes
        The zips of the sources.
    library_place : str
        Where Python finds the library, here as on the phone.
    """
    templates = dict(_of_templates(Path(folder)))
    Engine()
    ours = dict(_of_modules(f"{folder}/"))
    books = dict(_of_modules(f"{library_place}/"))
    kept = ((place, body) for place, body in files_of(library) if not _frozen(place))
    return (
        zip_of(sorted({**dict(_put_in(files_of(pack), ours)), **templates}.items())),
        zip_of(_put_in(kept, books)),
    )


def _of_templates(folder: Path) -> Iterator[tuple[str, bytes]]:
    """What the pages' templates were compiled to, by its place in the pack."""
    made = folder / "fieldkit" / "web" / TEMPLATE_CODE
    made.mkdir()
    environment = phone_app().jinja_env
    for name in environment.list_templates():
        environment.get_template(name)
    for file in made.iterdir():
        yield file.relative_to(folder).as_posix(), file.read_bytes()


def _of_modules(folder: str) -> Iterator[tuple[str, bytes]]:
    """The byte code of what was imported from a folder, by the place of its source there."""
    for module in list(sys.modules.values()):
        spec: ModuleSpec | None = getattr(module, "__spec__", None)
        if spec and spec.origin and spec.origin.startswith(folder) and spec.origin.endswith(".py"):
            yield spec.origin.removeprefix(folder), _code_of(spec)


def _put_in(
    sources: Iterator[tuple[str, bytes]], codes: dict[str, bytes]
) -> Iterator[tuple[str, bytes]]:
    for place, body in sources:
        yield (f"{place}c", codes[place]) if place in codes else (place, body)


def _code_of(spec: ModuleSpec) -> bytes:
    code = spec.loader.get_code(spec.name)  # type: ignore[union-attr]
    return _UNCHECKED + marshal.dumps(bare(code, lines=spec.name.startswith("fieldkit")))


def bare(code: CodeType, *, lines: bool = True) -> CodeType:
    """The same without what modules and functions say of themselves: nobody reads it on a phone.

    What classes say stays: a dataclass that says nothing makes it up, which takes time. Without
    ``lines`` a traceback names the line where a function begins, as it does of other people's.
    """
    constants = [
        bare(one, lines=lines) if isinstance(one, CodeType) else one for one in code.co_consts
    ]
    if _says_first(code):
        constants[0] = ""
    table = code.co_linetable if lines else _on_first_line(len(code.co_code) // 2)
    return code.replace(co_consts=tuple(constants), co_linetable=table)


def _on_first_line(units: int) -> bytes:
    """The table of lines that puts every unit of code on the first line.

    An entry is for 1 to 8 units, is of form 13 (a line, no columns), and adds 0 to the line
    (CPython, Objects/locations.md).
    """
    full, rest = divmod(units, 8)
    return _entry(8) * full + (_entry(rest) if rest else b"")


def _entry(units: int) -> bytes:
    return bytes((0x80 | 13 << 3 | units - 1, 0))


def _says_first(code: CodeType) -> bool:
    """Whether the first constant is what the code says of itself, and serves for nothing else."""
    steps = code.co_code
    uses = sum(pair == (_LOAD_CONST, 0) for pair in zip(steps[::2], steps[1::2], strict=True))
    if code.co_name == "<module>":  # there it is put into a name
        return code.co_names[:1] == ("__doc__",) and uses == 1
    return bool(code.co_flags & _SAYS_OF_ITSELF) and uses == 0


def _frozen(place: str) -> bool:
    """Whether the runtime has a module in itself, so that the library's source is never read."""
    name = place.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    return place.endswith(".py") and FrozenImporter.find_spec(name) is not None
