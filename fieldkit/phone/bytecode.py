"""Byte code of what the phone's engine has imported, so that its next start compiles nothing.

Only the phone's own Python can make it: byte code of another version is of no use to it. Two
archives come of it. One is the standard library, with byte code in the place of each source that
was imported; the other holds byte code to lay beside the sources of our pack.

Nothing checks it against its source again. It is kept under the kit's version, and goes with it.
"""

from __future__ import annotations

import io
import marshal
import sys
import time
import zipfile
from importlib.machinery import ModuleSpec
from importlib.util import MAGIC_NUMBER, cache_from_source
from pathlib import PurePath
from types import CodeType, ModuleType

#: The header that says: this belongs to its source, do not check (PEP 552).
_UNCHECKED = MAGIC_NUMBER + (1).to_bytes(4, "little") + bytes(8)


class ByteCode:
    """The making of it, a little at a time, so that pages can be answered between.

    Parameters
    ----------
    pack : str
        The folder that our pack was laid out in.
    library : str
        The archive of the standard library.
    """

    def __init__(self, pack: str, library: str) -> None:
        self._pack = f"{pack}/"
        self._library = f"{library}/"
        self._todo = [module for _, module in sorted(sys.modules.items(), reverse=True)]
        self._packed, self._shelved = io.BytesIO(), io.BytesIO()
        self._beside = zipfile.ZipFile(self._packed, "w", zipfile.ZIP_STORED)
        # Only the pack is laid out without a copy; the library stays an archive.
        self._books = zipfile.ZipFile(self._shelved, "w", zipfile.ZIP_DEFLATED, compresslevel=6)

    def work(self, seconds: float) -> bool:
        """Compile for about so long; returns whether there is more to do."""
        end = time.monotonic() + seconds
        while self._todo and time.monotonic() < end:
            self._compile(self._todo.pop())
        return bool(self._todo)

    def _compile(self, module: ModuleType) -> None:
        spec: ModuleSpec | None = getattr(module, "__spec__", None)
        origin = str(spec.origin) if spec else ""
        if not spec or not origin.endswith(".py"):
            return  # built in
        if origin.startswith(self._pack):
            place = cache_from_source(origin.removeprefix(self._pack))
            self._beside.writestr(PurePath(place).as_posix(), _code_of(spec))
        elif origin.startswith(self._library):
            self._books.writestr(f"{origin.removeprefix(self._library)}c", _code_of(spec))

    def beside_sources(self) -> bytes:
        """An archive of byte code, by its place below the folder of the pack."""
        self._beside.close()
        return self._packed.getvalue()

    def standard_library(self) -> bytes:
        """The archive to be taken in the place of the standard library's."""
        made = set(self._books.namelist())
        with zipfile.ZipFile(self._library.rstrip("/")) as read:
            for name in read.namelist():
                if f"{name}c" not in made:
                    self._books.writestr(name, read.read(name))
        self._books.close()
        return self._shelved.getvalue()


def _code_of(spec: ModuleSpec) -> bytes:
    code = spec.loader.get_code(spec.name) if spec.loader else None  # type: ignore[attr-defined]
    if not isinstance(code, CodeType):
        raise ImportError(f"{spec.name} has no code")
    return _UNCHECKED + marshal.dumps(code)
