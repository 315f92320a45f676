"""An entry: its id, its time, and what the log will not take."""

from __future__ import annotations

import dataclasses
import math
import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.entries import NOW, entry

from fieldkit.engine.problems import Problem
from fieldkit.joblog import Entry, JobLog, new_id, utc_text
from fieldkit.joblog.entry import COLUMNS, FIELD_LIMIT, row_of


def test_id_is_the_example_of_the_standard():
    # RFC 9562, appendix A.6: unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F.
    made = new_id(0x017F22E279B0, bytes.fromhex("000018C4DC0C0C07398F"), 0xCC3)
    assert made == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


@given(st.integers(0, 2**48 - 1), st.binary(min_size=10, max_size=16), st.integers(0, 4095))
def test_python_reads_our_ids_as_version_7(at_ms, chance, nth):
    made = uuid.UUID(new_id(at_ms, chance, nth))
    assert (made.version, made.variant) == (7, uuid.RFC_4122)
    assert made.int >> 80 == at_ms


def test_ids_sort_by_time_then_by_order_made():
    ids = [new_id(1, bytes(10), 1), new_id(1, b"\xff" * 10, 0), new_id(0, b"\xff" * 10, 9)]
    assert sorted(ids) == ids[::-1]


@pytest.mark.parametrize(
    "given_id", [(-1, bytes(10), 0), (2**48, bytes(10), 0), (0, bytes(9), 0), (0, bytes(10), 4096)]
)
def test_an_id_is_not_made_of_what_does_not_fit(given_id):
    with pytest.raises(ValueError, match=r"48 bits|ten random bytes"):
        new_id(*given_id)


def test_json_form_comes_back_the_same():
    made = entry(3, "result", result={"verdict": "holds"}, facts={"pipe.od_in": 0.84}, note="½")
    assert Entry.from_json(made.as_json()) == made
    assert tuple(made.as_json()) == COLUMNS


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"id": "7"}, "id"),
        ({"id": str(uuid.UUID(int=5, version=4))}, "id"),
        ({"id": new_id(1, bytes(10)).upper().replace("0", "A")}, "id"),
        ({"id": None}, "id"),
        ({"id": new_id(1, bytes(10)) + "\n"}, "id"),
        ({"at": "2026-05-01 14:03"}, "at"),
        ({"at": "2026-02-30T14:03:00.000Z"}, "at"),
        ({"at": "2019-12-31T23:59:59.999Z"}, "at"),
        ({"at": "2101-01-01T00:00:00.000Z"}, "at"),
        ({"at": "2026-05-01T14:03:00.000+02:00"}, "at"),
        ({"job": ""}, "job"),
        ({"job": "a b"}, "job"),
        ({"job": "x" * 65}, "job"),
        ({"job": "", "joint": "j", "kind": "prices"}, "job"),
        ({"joint": "../secret"}, "joint"),
        ({"joint": 7}, "joint"),
        ({"kind": "erase"}, "kind"),
        ({"run": "<b>"}, "run"),
        ({"replaces": "that one"}, "replaces"),
        ({"note": "x" * (FIELD_LIMIT + 1)}, "note"),
        ({"note": "½" * (FIELD_LIMIT // 2 + 1)}, "note"),
        ({"note": "\ud800"}, "note"),
        ({"note": 5}, "note"),
        ({"who": "x" * 201}, "who"),
        ({"device": "x" * 201}, "device"),
        ({"typed": ["not", "named"]}, "typed"),
        ({"typed": {"value": "x" * FIELD_LIMIT}}, "typed"),
        ({"facts": None}, "facts"),
        ({"facts": {"pipe.od_in": math.nan}}, "facts"),
        ({"understood": {1, 2}}, "understood"),
        ({"result": "holds"}, "result"),
    ],
)
def test_what_the_log_will_not_take(change, field):
    wrong = dataclasses.replace(entry(), **change)
    with pytest.raises(Problem, match=r"\w") as caught:
        row_of(wrong)
    assert caught.value.field == field
    assert caught.value.wrong
    assert caught.value.instead
    with JobLog.memory() as log:
        done = log.append([entry(1), wrong, entry(2)], NOW)
        assert len(done.stored) == 2
        assert [problem.field for _, problem in done.refused] == [field]
        assert log.count() == 2


def test_deep_nesting_is_refused_not_a_crash():
    deep: list[object] = []
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(Problem, match="JSON cannot carry"):
        row_of(entry(understood=deep))


@pytest.mark.parametrize(
    ("body", "field"),
    [
        (7, "entry"),
        ({"id": "x", "at": NOW, "job": "j"}, "kind"),
        ({"id": "x", "at": NOW, "job": "j", "kind": "note", "extra": 1}, "extra"),
    ],
)
def test_json_that_is_no_entry(body, field):
    with pytest.raises(Problem, match=r"\w") as caught:
        Entry.from_json(body)
    assert caught.value.field == field


def test_time_is_written_with_its_milliseconds():
    assert utc_text(1_777_644_180_007) == "2026-05-01T14:03:00.007Z"
