"""A phone's room is small: byte code goes as it is read.

There is byte code for what each start imports, and for nothing else, so nobody reads it again.
"""

from __future__ import annotations

import os
from importlib.machinery import SourcelessFileLoader


def read_byte_code_once() -> None:
    """From now on, in this Python, delete each file of byte code when it has been read."""
    read = SourcelessFileLoader.get_data

    def read_once(loader: SourcelessFileLoader, path: str) -> bytes:
        body = read(loader, path)
        os.unlink(path)  # noqa: PTH108  -- on the way to every import: pathlib may not be there yet
        return body

    SourcelessFileLoader.get_data = read_once  # type: ignore[assignment, method-assign]
