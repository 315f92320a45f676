"""Templates compiled once a process: nearly every test makes an application of its own."""

from __future__ import annotations

from flask import Flask
from jinja2 import BytecodeCache


class Compiled(BytecodeCache):
    """What the templates were compiled to, by name and contents."""

    def __init__(self) -> None:
        self.codes = {}

    def load_bytecode(self, bucket) -> None:
        bucket.code = self.codes.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket) -> None:
        self.codes[bucket.key, bucket.checksum] = bucket.code


def compile_once() -> None:
    """For all applications that this process makes from now on."""
    Flask.jinja_options["bytecode_cache"] = Compiled()
