"""The diagnosis tables: a slip of the hand in a spreadsheet is told by file, line and column."""

import math

import pytest

from fieldkit.tables import diagnosis
from fieldkit.tables.load import BadTable, reading_from, text_of

#: What is changed, table by table, and what the check must then say.
SLIPS = [
    ("causes", "no_primer,Glued", "insufficient_cure,Glued", r"causes\.csv .* stands twice"),
    ("causes", "remake_weld,4,", "remake_weld,0,", r"prior_weight: 0\.0 must be above 0"),
    ("causes", "depressurise;", "depresurise;", r"column cautions: .* is not in cautions\.csv"),
    ("questions", ",joint_ceiling,", ",joint_celling,", r"column measure: .* must be one of"),
    ("questions", ",ring;collar,", ",rings;collar,", r"column ask_when: 'rings' is no joint type"),
    ("question_options", ",,0.22,", ",,0.23,", r"column base_p: 1\.01 must sum to 1"),
    ("question_options", ",1,no,1.333,", ",1.1,no,1.333,", r"must be the hi of the row before"),
    ("question_options", ",0.5,no,0.75,", ",0.5,yes,0.75,", "must belong to one of the two rows"),
    ("likelihoods", "solvent_socket,0.900", "solvent_socket,0.910", r"no_primer, .* must sum to 1"),
    ("likelihoods", "solvent_socket,0.900", "solvent_socket,0.999", r"must be 0\.01 to 0\.99"),
    ("likelihoods", "no_primer,fitting_type,", "no_primr,fitting_type,", "is no cause"),
    ("cause_pairs", "over_pressure,barb_no_clamp,", "over_pressure,over_pressure,", "same cause"),
    ("question_options", ",wrong_thread_parts,", ",wrong_tread_parts,", "is no cause"),
]


def test_the_tables_keep_their_rules():
    diagnosis.check()


@pytest.mark.parametrize(("table", "right", "slip", "told"), SLIPS)
def test_a_slip_is_told(tmp_path, table, right, slip, told):
    text = text_of(table)
    assert right in text
    (tmp_path / f"{table}.csv").write_text(text.replace(right, slip, 1), encoding="utf-8")
    with reading_from(tmp_path), pytest.raises(BadTable, match=told):
        diagnosis.check()


def test_only_rows_that_carry_an_opinion_are_kept():
    for (_, question), row in diagnosis.judged().items():
        assert row != diagnosis.base_rows()[question]


def test_each_judged_row_is_a_set_of_chances():
    for row in diagnosis.judged().values():
        assert math.isclose(math.fsum(row), 1, abs_tol=1e-6)
        assert min(row) >= diagnosis.LEAST_P
