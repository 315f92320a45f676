"""Says what became of byte code in the phone's Python (``support/phone_python.py``)."""

import json
import os
import sys
import traceback

from fieldkit.phone.engine import Engine

SOURCE = '''
"""What the module says."""

def plain():
    """What a function says."""
    return 1

def twice():
    """said"""
    return "said"

def none():
    return "first constant"

def stumbles(n):
    for one in range(n):
        if one == 3:
            raise ValueError

class Shed:
    """What a class says."""

    def inside(self, n):
        """What a method says."""
        def deeper():
            """And what stands in it."""
            return n
        return deeper
'''


def said(given: str) -> str:
    """What is left of byte code after a start, where the library is from, and what is left out."""
    Engine()
    folder = sys.path[0]
    left = [
        f"{path.removeprefix(folder)}/{name}"
        for path, _, names in os.walk(folder)
        for name in names
        if name.endswith(".pyc")
    ]
    from fieldkit.phone.bytecode import bare  # only once it is known what is left

    space = {}
    exec(bare(compile(SOURCE, "shed.py", "exec")), space)  # noqa: S102  -- our own few lines
    lines = []
    for named in (True, False):
        theirs = {}
        exec(bare(compile(SOURCE, "shed.py", "exec"), lines=named), theirs)  # noqa: S102
        try:
            theirs["stumbles"](5)
        except ValueError as error:
            stumbled = traceback.extract_tb(error.__traceback__)[-1]
            lines.append(SOURCE.splitlines()[stumbled.lineno - 1].strip())
    plain, twice, shed = space["plain"], space["twice"], space["Shed"]
    told = (plain, twice, shed, shed.inside, shed().inside(3))
    return json.dumps(
        {
            "left": left,
            "uuid_from": sys.modules["uuid"].__file__,
            "docs": [space["__doc__"], *(one.__doc__ for one in told)],
            "lines": lines,
            "values": [plain(), twice(), space["none"](), shed().inside(3)()],
        }
    )
