"""Something good with something wrong in it: what gets past the first look."""

from __future__ import annotations

from fuzz import junk
from hypothesis import strategies as st


def spoil(body, data) -> None:
    """Change, drop or add one value, somewhere in ``body``."""
    places = list(places_in(body))
    if not places:  # all of it was dropped
        body[data.draw(junk.text)] = data.draw(junk.values)
        return
    inside, key = places[data.draw(st.integers(0, len(places) - 1))]
    what = data.draw(st.sampled_from(["odd", "plausible", "plausible", "drop", "add"]))
    if what == "drop" and len(places) > 1:
        del inside[key]
    elif what == "add" and isinstance(inside, dict):
        inside[data.draw(junk.text)] = data.draw(junk.values)
    else:
        inside[key] = data.draw(junk.plausible if what == "plausible" else junk.values)


def places_in(value):
    """(container, key) of each value, however deep."""
    keys = value if isinstance(value, dict) else range(len(value))
    for key in keys:
        yield value, key
        if isinstance(value[key], dict | list) and value[key]:
            yield from places_in(value[key])
