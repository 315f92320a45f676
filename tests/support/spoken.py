"""What a screen reader says of a page, line by line, from Chromium's accessibility tree."""

from __future__ import annotations

import re
from typing import Any

#: ``- role "name" [state]: text``, quoted as a whole where its name has a colon.
_NODE = re.compile(
    r"""(?P<role>\w+)(?: "(?P<name>.*)")?(?: \[(?P<state>[^"]*)\])?(?:: ?(?P<text>.*))?"""
)

#: What an answer's outline is made of.
OUTLINE = ("heading", "figure", "table", "button", "link", "radio", "textbox", "alert", "group")

#: What can be jumped to.
LANDMARKS = ("banner", "navigation", "main", "contentinfo", "search")


def spoken(part: Any) -> list[str]:
    """Role, state, name and text of each node below ``part``; a label only with its control."""
    lines = []
    for raw in part.aria_snapshot().splitlines():
        plain = raw.strip().removeprefix("- ")
        if plain.startswith("/url"):
            continue
        if plain.startswith("'"):  # a node as one quoted word, its quotes doubled
            plain = plain.rstrip(":").strip("'").replace("''", "'")
        node = _NODE.fullmatch(plain)
        assert node is not None, raw
        text = (node["text"] or "").strip('"').replace('\\"', '"')
        name = (node["name"] or "").replace('\\"', '"')
        state = (node["state"] or "").replace("level=", "")
        lines.append(" ".join(one for one in (node["role"], state, name, text) if one))
    controls = {line.partition(" ")[2] for line in lines if line.startswith(("radio", "textbox"))}
    return [
        line
        for line in lines
        if not (line.startswith("text ") and any(line[5:] in one for one in controls))
    ]


def outline(part: Any) -> list[str]:
    """Of a long page, its headings, pictures, tables and all that can be pressed or filled."""
    return [line for line in spoken(part) if line.split(" ")[0] in OUTLINE]


def landmarks(part: Any) -> list[str]:
    """The parts of a page that can be jumped to."""
    return [line for line in spoken(part) if line.split(" ")[0] in LANDMARKS]
