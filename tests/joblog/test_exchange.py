"""A file out and in again: nothing lost, nothing doubled, nothing run by a spreadsheet."""

from __future__ import annotations

import csv
import dataclasses
import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.entries import NOW, a_job, entry, tables_of

from fieldkit.engine.problems import Problem
from fieldkit.joblog import JobLog, exchange

OUT = {"json": exchange.export_json, "csv": exchange.export_csv}
IN = {"json": exchange.import_file, "csv": exchange.import_file}


def all_of(log):
    return [one.entry for one in log.since(0, 10_000)]


@pytest.mark.parametrize("form", OUT)
def test_a_log_comes_back_whole(log, form):
    log.append(a_job(), NOW)
    text = OUT[form](log)
    with JobLog.memory() as other:
        done = IN[form](other, text.encode(), NOW)
        assert done.stored == tuple(one.id for one in all_of(log))
        assert all_of(other) == all_of(log)
        assert tables_of(other) == tables_of(log)
        assert OUT[form](other) == text
        again = exchange.import_file(other, text, NOW)
        assert (again.stored, again.refused) == ((), ())
        assert other.count() == log.count()


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)  # what every device can keep (RFC 7493)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3)
    ),
    max_leaves=6,
)
words = st.text(st.characters(codec="utf-8"), max_size=12) | st.sampled_from(
    ["=1+1", "'", "'=x", "-5", "@a", "+1", "\ttab", "\rback", "\r\n", '"', ",", "\ufeff", "\0"]
)


@given(st.lists(st.tuples(words, words, json_values, json_values), min_size=1, max_size=4))
def test_any_content_survives_either_form(rows):
    made = [
        entry(n, note=note, who=who, understood=one, typed={"value": other}, facts={who: one})
        for n, (note, who, one, other) in enumerate(rows)
    ]
    with JobLog.memory() as log:
        assert len(log.append(made, NOW).stored) == len(made)
        for form, export in OUT.items():
            with JobLog.memory() as other:
                IN[form](other, export(log).encode(), NOW)
                assert all_of(other) == all_of(log)


def test_one_job_can_be_taken_out_alone(log):
    log.append([*a_job(), entry(50, job="job-2")], NOW)
    ids = {one["job"] for one in json.loads(exchange.export_json(log, "job-2"))["entries"]}
    assert ids == {"job-2"}


def test_two_phones_that_swap_files_hold_the_same(tmp_path):
    shared = a_job()
    with JobLog.memory() as one, JobLog.memory() as other:
        one.append([*shared, entry(20, "pick", joint="joint-1", facts={"pipe.od_in": 1})], NOW)
        other.append(
            [entry(21, "pick", joint="joint-1", facts={"pipe.od_in": 2}), *shared[:3]], NOW
        )
        exchange.import_file(one, exchange.export_json(other), NOW)
        exchange.import_file(other, exchange.export_csv(one), NOW)
        assert tables_of(one) == tables_of(other)
        assert one.joint("joint-1").facts["pipe.od_in"] == 2


def test_no_cell_of_the_csv_is_a_formula(log):
    made = [entry(n, note=cell) for n, cell in enumerate(["=1+1", "+1", "-1", "@SUM(A1)", "\t=1"])]
    log.append([*made, entry(9, understood=-0.5)], NOW)
    cells = [cell for row in csv.reader(io.StringIO(exchange.export_csv(log))) for cell in row]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]


def test_other_programs_read_both_forms(log):
    """Read with the standard library alone, as anyone would."""
    log.append(a_job(), NOW)
    body = json.loads(exchange.export_json(log))
    assert body["format"] == "fieldkit entries 1"
    rows = list(csv.DictReader(io.StringIO(exchange.export_csv(log), newline="")))
    assert [row["id"] for row in rows] == [one["id"] for one in body["entries"]]
    assert json.loads(rows[4]["facts"]) == {"pipe.od_in": 0.84, "pipe.nominal": "1/2"}


def test_what_cannot_be_kept_is_named_and_the_rest_is_kept(log):
    good, wrong, changed = entry(1), entry(2), entry(3)
    log.append([changed], NOW)
    body = {
        "format": exchange.FORMAT,
        "entries": [
            good.as_json(),
            wrong.as_json() | {"kind": "erase"},
            dataclasses.replace(changed, note="other").as_json(),
            {"id": "7"},
            "nonsense",
        ],
    }
    done = exchange.import_file(log, json.dumps(body), NOW)
    assert done.stored == (good.id,)
    assert [(where, problem.field) for where, problem in done.refused] == [
        ("7", "at"),
        ("entry 5", "entry"),
        (wrong.id, "kind"),
        (changed.id, "id"),
    ]
    assert log.entry(changed.id).entry == changed


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"", "columns of the log"),
        (b"\xff\xfe", "UTF-8"),
        (b'{"format": "fieldkit entries 1", "entries": [', "cut short"),
        (b"[]", "does not say"),
        (b'{"format": "another 1", "entries": []}', "does not say"),
        (b'{"format": "fieldkit entries 1", "entries": 5}', "no list"),
        (b"a,b\r\n1,2\r\n", "columns of the log"),
        (b"{" * 200_000, "cut short"),
        (b"[" * 200_000, "does not say"),
        (b"a" * 200_000, "columns of the log"),
        (b"a" * 24_000_001, "not CSV"),
        (b'{"format": "fieldkit entries 1", "entries": [[' + b"[]," * 700_000, "cut short"),
        (b'{"format": "fieldkit entries 1", "entries": [1 2]}', "cut short"),
        (b'{"format": "fieldkit entries 1", "entries": []} {}', "cut short"),
        (b'{"format": "fieldkit entries 1", "entries": [], "photos": [{}]}', "photo in this"),
    ],
)
def test_a_file_that_is_not_ours_says_what_is_wrong(log, data, wrong):
    with pytest.raises(Problem, match=wrong) as caught:
        exchange.import_file(log, data, NOW)
    assert caught.value.field == "file"
    assert log.count() == 0


def test_a_csv_row_with_a_cell_too_few_is_refused_alone(log):
    log.append([entry(1), entry(2)], NOW)
    lines = exchange.export_csv(log).splitlines(keepends=True)
    cut = "".join([lines[0], lines[1].rsplit(",", 1)[0] + "\r\n", lines[2]])
    with JobLog.memory() as other:
        done = exchange.import_file(other, cut, NOW)
        assert (len(done.stored), [where for where, _ in done.refused]) == (1, ["row 2"])
