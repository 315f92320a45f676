"""Counts the lines of code by room: no blank lines, comments or docstrings.

``python tests/support/weigh.py`` prints each room of the package, the tests and the scripts.
"""

from __future__ import annotations

import ast
import io
import sys
import tokenize
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

_NO_CODE = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENCODING,
    tokenize.ENDMARKER,
}


def code_lines(text: str) -> int:
    """How many lines of Python ``text`` hold code.

    >>> code_lines('"Says nothing."\\n\\n# a note\\nx = (\\n    1\\n)\\n')
    3
    """
    held: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _NO_CODE:
            held.update(range(token.start[0], token.end[0] + 1))
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            held.difference_update(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    return len(held)


def by_room(top: Path) -> Counter[str]:
    """Lines of code of each folder below ``top``; files beside them count as its own."""
    found: Counter[str] = Counter()
    for file in sorted(top.rglob("*.py")):
        parts = file.relative_to(top).parts
        found[f"{top.name}/{parts[0]}" if len(parts) > 1 else top.name] += code_lines(
            file.read_text(encoding="utf-8")
        )
    return found


def main() -> None:
    """Print the rooms, the largest first."""
    for name in ("fieldkit", "tests"):
        rooms = by_room(ROOT / name)
        for room, lines in rooms.most_common():
            sys.stdout.write(f"{lines:7,}  {room}\n")
        sys.stdout.write(f"{sum(rooms.values()):7,}  {name} in all\n\n")


if __name__ == "__main__":
    main()
