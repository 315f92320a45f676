"""Codes of the log in words: none of the codes that a flow can teach is left as it is."""

from __future__ import annotations

import pytest

from fieldkit.engine.words import Text
from fieldkit.flows.fact_words import fact_told
from fieldkit.flows.facts import FACTS
from fieldkit.tables.diagnosis import causes
from fieldkit.tables.fittings import joints
from fieldkit.tables.pipes import pipes


@pytest.mark.parametrize(
    ("name", "code"),
    [
        *(("parts.joints", [kind]) for kind in joints()),
        *(("leak.cause", cause) for cause in causes()),
        ("leak.really", "something_else"),
        *(("pipe.family", one) for one in sorted({row.family for row in pipes().values()})),
        ("tube.material", "pe"),
        *(("site.place", place) for place in ("end", "inline", "riser")),
        *(("pipe.od_tool", tool) for tool in ("caliper", "strip", "screen")),
        *(("thread.sealant", one) for one in ("tape", "tape and paste", "oil paste", "none")),
        *(("weld.dry_fit", one) for one in ("snug", "tight", "deep", "bottoms", "falls off")),
        *(("test.verdict", one) for one in ("holds", "leaks", "repeat")),
        *(("tube_end.verdict", one) for one in ("ok", "too_much", "moved", "not_tugged")),
        *(("last.verdict", one) for one in ("holds", "marginal", "lets_go")),
    ],
)
def test_a_code_is_told_in_words(name: str, code: object) -> None:
    assert name in FACTS
    told = fact_told(name, code, {})
    assert isinstance(told, Text)
    assert "_" not in told
    assert str(told) != ("".join(code) if isinstance(code, list) else code)


def test_several_codes_are_each_told_by_itself() -> None:
    told = fact_told("parts.joints", ["npt", "ring"], {})
    assert told is not None
    assert list(told.parts.values()) == [joints()["npt"].name, joints()["ring"].name]


def test_what_is_not_a_code_is_left_to_its_reader() -> None:
    assert fact_told("site.pressure_psi", 40.0, {}) is None
    assert fact_told("test.verdict", "from a later version", {}) == "from a later version"
