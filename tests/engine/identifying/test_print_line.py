"""Print lines as they stand on pipe, read into clues."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.identifying.print_line import CLUE_FITS, WRONG_LINE, read_print_line
from fieldkit.tables.pipes import pipes

# Lines made up in the shape that the standards' marking clauses ask for: size, material, class,
# standard, rating; and the size pairs that drip tubing carries.
LINES = [
    ('1/2" SCH 40 PVC 1120 ASTM D-1785 NSF-pw 600 PSI @ 73F', "pvc-ips-0500-sch40"),
    ("3/4 IN SCHEDULE 80 PVC1120 ASTM D1785 690 PSI", "pvc-ips-0750-sch80"),
    ("1 SDR-21 PR 200 PVC 1120 1 IN ASTM D2241", "pvc-ips-1000-sdr21"),
    ("1¼ in SDR 26 160PSI ASTM D2241", "pvc-ips-1250-sdr26"),
    ("1-1/2 IN PR 125 SDR 32.5 PVC ASTM D 2241", "pvc-ips-1500-sdr325"),
    ("CPVC 4120 CTS 3/4 SDR 11 ASTM D2846 400 PSI", "cpvc-cts-0750-sdr11"),
    ("PEX SDR 9 1/2 CTS ASTM F876/F877 160PSI 73F 100PSI 180F", "pex-cts-0500-sdr9"),
    ("PE3608 SIDR 15 1 IN ASTM D2239 100 PSI NSF-PW", "pe-sidr-1000-sidr15"),
    ("PE4710 SIDR-19 3/4 100 PSI ASTM D2239", "pe-sidr-0750-sidr19"),
    ("1/2 RIGID PVC CONDUIT SCH 40 UL 651 NEMA TC-2", "conduit-ips-0500-sch40"),
    ("4 IN SDR 35 PVC SEWER PIPE ASTM D3034", "sewer-4000-sdr35"),
    ("DRIP .700 OD x .600 ID", "drip-0700x0600"),
    ("0.710 x 0.620 poly drip", "drip-0710x0620"),
    ("17mm dripline 0.6 GPH 12 in spacing", "drip-0670x0570"),
    ("16 MM PE LATERAL ISO 8779", "lateral-16"),
    ("PE100 25 mm PN16 SDR 11 ISO 4427", "pe-metric-25-sdr11"),
    ("PVC-U 32 mm PN 10 ISO 1452", "pvc-metric-32"),
]


@pytest.mark.parametrize(("line", "expected"), LINES)
def test_the_row_that_a_line_names_fits_best(line, expected):
    read = read_print_line(line)
    chances = dict(zip(pipes(), read.log_chance, strict=True))
    assert max(chances, key=lambda name: chances[name]) == expected
    assert all(clue.fits(pipes()[expected]) is not False for clue in read.clues)
    assert chances[expected] > read.log_chance_unlisted


def test_a_standard_that_no_row_has_speaks_for_something_unlisted():
    read = read_print_line("3/4 SCH 80 CPVC ASTM F441")
    assert max(read.log_chance) < read.log_chance_unlisted + math.log(10)
    assert read.clues[0].says == "ASTM F441"
    assert not any(read.clues[0].fits(pipe) for pipe in pipes().values())


def test_compound_and_joint_standards_are_no_clue():
    assert [c.says for c in read_print_line("ASTM D1784 ASTM D3350").clues] == []


def test_half_inch_class_200_is_not_held_against_sdr_135():
    # A published conflict: 1/2 in. pipe with the SDR 13.5 wall is sold with 200 psi on it.
    clue = read_print_line("PR 200").clues[0]
    assert clue.fits(pipes()["pvc-ips-0500-sdr135"])
    assert clue.fits(pipes()["pvc-ips-0750-sdr21"])
    assert not clue.fits(pipes()["pvc-ips-1000-sdr26"])


def test_cpvc_is_not_read_as_pvc():
    assert [c.says for c in read_print_line("CPVC").clues] == ["CPVC"]
    assert [c.says for c in read_print_line("UPVC 20mm").clues] == ["PVC", "20 mm"]


@given(st.text(max_size=80))
def test_any_text_is_read_and_is_never_proof(text):
    read = read_print_line(text)
    n = len(read.clues)
    highest = math.log((1 - WRONG_LINE) * CLUE_FITS**n + WRONG_LINE)
    assert all(-math.inf < one <= highest + 1e-9 for one in read.log_chance)
