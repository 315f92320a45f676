"""The tables of parts, joints and fits: what must be true of any such list."""

import dataclasses

import pytest

from fieldkit.tables import fittings as room
from fieldkit.tables.fittings import End, fit_windows, fittings, joints, sundries
from fieldkit.tables.load import BadTable


def test_the_tables_keep_their_rules():
    room.check()
    assert len(fittings()) > 100
    assert {"socket", "npt-female", "grip-pvc"} <= {
        e.kind for p in fittings().values() for e in p.ends
    }


def test_no_table_of_ours_holds_a_price():
    for row_type in room.TABLES.values():
        names = [part.name for part in dataclasses.fields(row_type)]
        assert not [name for name in names if "price" in name or "usd" in name or "cost" in name]


def test_an_outlet_head_has_all_its_outlets():
    assert [end.kind for end in fittings()["riser_multi_0500"].ends] == ["npt-female"] + [
        "micro-barb"
    ] * 4


def test_ring_windows_follow_the_rule_of_the_label():
    # Rule of the trade: a push-in ring takes its label −0.008 / +0.006 in, and one tube only.
    rings = {end.size: row for end, row in fit_windows().items() if end.kind == "ring"}
    assert rings
    for label, row in rings.items():
        assert row.low_in == pytest.approx(float(label) - 0.008, abs=1e-9)
        assert row.high_in == pytest.approx(float(label) + 0.006, abs=1e-9)


def test_every_likely_cause_is_one_the_diagnosis_knows():
    from fieldkit.tables.load import text_of

    known = {line.split(",")[0] for line in text_of("causes").splitlines()[1:]}
    assert {cause for row in joints().values() for cause in row.likely_causes} <= known


def test_cement_and_tape_serve_joints():
    assert {row.serves for row in sundries().values()} == {"weld", "thread"}


@pytest.mark.parametrize(
    ("table", "change", "rule"),
    [
        ("fittings", {"end_a": "flange"}, "is not a kind of end"),
        ("fittings", {"size_a": ""}, "needs a size"),
        ("fittings", {"end_b": "", "size_b": ""}, "joins at least two things"),
        ("fittings", {"end_b": "ring", "size_b": "0.123"}, "has no row in fit_windows"),
        ("joints", {"reuse": "perhaps"}, "must be one of"),
        ("joints", {"hand_strength": 4}, "must be one of"),
        ("joints", {"minutes": 0.0}, "must be above 0"),
        ("fit_windows", {"measure": "wall"}, "must be OD or ID"),
        ("fit_windows", {"low_in": 9.0}, "must be under high_in"),
        ("fit_windows", {"clamp": "9999"}, "has no clamp"),
    ],
)
def test_a_bad_row_is_named(monkeypatch, table, change, rule):
    real = room.load

    def load_with_one_bad_row(name, row_type):
        rows = real(name, row_type)
        if name != table:
            return rows
        return (dataclasses.replace(rows[0], **change), *rows[1:])

    monkeypatch.setattr(room, "load", load_with_one_bad_row)
    with pytest.raises(BadTable, match=rule) as caught:
        room.check()
    assert caught.value.table == table
    assert caught.value.line == 2


def test_a_part_that_stands_twice_is_refused(monkeypatch):
    real = room.load
    monkeypatch.setattr(room, "load", lambda name, kind: real(name, kind)[:1] * 2)
    with pytest.raises(BadTable, match="stands twice"):
        room.check()


def test_ends_are_told_apart_by_kind_and_size():
    assert End("socket", "1/2") != End("socket", "3/4")
