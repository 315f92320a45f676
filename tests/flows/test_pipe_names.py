"""Names of pipe said anew are the names that the log keeps."""

from __future__ import annotations

import pytest

from fieldkit.flows.catalogue import flows
from fieldkit.flows.pipe_names import family_name, name_on_side, pipe_name
from fieldkit.tables.pipes import Pipe, pipes


@pytest.mark.parametrize("row", pipes().values(), ids=lambda row: row.id)
def test_a_name_said_anew_reads_as_the_table_writes_it(row: Pipe) -> None:
    assert pipe_name(row) == row.name
    assert pipe_name(row).parts["family"] == row.family_name


def test_a_side_is_named_by_its_row_by_its_family_or_as_it_was_kept() -> None:
    row = next(iter(pipes().values()))
    by_row = name_on_side({"pipe.id": row.id, "pipe.name": row.name}, "pipe")
    assert by_row.template == "{size} {pipe_class} {family}"
    settled = {"pipe.family": row.family, "pipe.nominal": row.nominal}
    kept = name_on_side(settled | {"pipe.name": str(family_name(row))}, "pipe")
    assert kept.template == "{size} {family}"
    older = name_on_side({"pipe.id": row.id, "pipe.name": "half-inch white pipe"}, "pipe")
    assert (older, older.parts) == ("half-inch white pipe", {})
    assert name_on_side({}, "pipe") == ""


def test_what_naming_teaches_can_be_said_anew() -> None:
    flow = flows()["identify-pipe"]
    answer = flow.work_out({"od": 0.84}, {}).as_json()
    facts = flow.learn({"od": 0.84}, answer)
    assert name_on_side(facts, "pipe") == facts.get("pipe.name", "")
