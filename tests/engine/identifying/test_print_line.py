"""Print lines as they stand on pipe, read into clues."""

import math
import sys

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
    read = read_print_line("3/4 SIDR 7 VINYL ASTM F9999")
    assert max(read.log_chance) < read.log_chance_unlisted + math.log(10)
    assert read.clues[0].says == "ASTM F9999"
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
    assert all(one <= highest + 1e-9 for one in read.log_chance)
    assert read.kind or all(one > -math.inf for one in read.log_chance)


# ── Words that forbid ───────────────────────────────────────────────────────────────────────

# Marking clauses: ASTM D2513 (the word GAS), UL 651 and NEMA TC 2, ASTM D2665, D2729, D3034,
# F891, D2661, F628, F441, F442, D2846, D3309, F1281, B88, A53. The lines are made up.
FORBIDDING = [
    ("WARNING GAS 3/4 IPS SDR 11 PE2708 CEC ASTM D2513", "gas"),
    ("1 CTS .099 PE 2406 GAS D-2513-09", "gas"),
    ("pe4710 gas 2 ips sdr 11", "gas"),
    ("PE2406 1/2 CTS SDR 7", "gas-compound"),
    ('1/2" RNC SCH 40 UL-651 NEMA TC-2 SUNLIGHT RESISTANT 90C', "conduit"),
    ("3/4 SCHEDULE 80 PVC CONDUIT UL 651", "conduit"),
    ("2 HDPE DUCT SDR 13.5 ASTM F2160", "conduit"),
    ("2 PVC SCH 40 DWV ASTM D2665", "drain"),
    ("4 ASTM D-2729 PERFORATED", "sewer"),
    ("4 SDR 35 PSM PVC SEWER ASTM D3034", "sewer"),
    ("3 PVC CELLULAR CORE SCH 40 DWV ASTM F891", "foam"),
    ("2 ABS DWV SCH 40 ASTM D2661 F628", "abs"),
    ("CPVC 4120 SCH 80 ASTM F441", "cpvc"),
    ("1-1/4 PVC FURNITURE GRADE SCH 40", "furniture"),
    ("SCH 40 PVC NOT FOR PRESSURE", "unpressured"),
    ("3/4 GALVANIZED A53", "steel"),
    ("COPPER TYPE L B88", "copper"),
    ("PEX-AL-PEX 1216 ASTM F1281", "pexal"),
    ("PB2110 3/4 CTS ASTM D3309", "pb"),
]


@pytest.mark.parametrize(("line", "kind"), FORBIDDING)
def test_a_word_that_forbids_is_a_veto(line, kind):
    read = read_print_line(line)
    assert read.kind.id == kind
    for pipe, chance in zip(pipes().values(), read.log_chance, strict=True):
        assert (chance > -math.inf) == (pipe.family in read.kind.families)


@pytest.mark.parametrize(
    "line",
    [
        "PVC 1120 SCH 40 2 IN PR 280 PSI ASTM D1785 D2665 NSF-PW DWV",  # marked for both
        "GASKETED PVC 4 IN SDR 26 ASTM D2241",
        "PE 2406 1 IN SIDR 15 ASTM D2239 NSF-PW",
        "PEX NOT FOR GAS 1/2 CTS SDR 9 F876",
        "3/4 IRON PIPE SIZE SDR 21 PVC",
        "1 IN PVC PRODUCT OF USA CL 200",
    ],
)
def test_pressure_pipe_is_not_vetoed(line):
    assert read_print_line(line).kind is None


@pytest.mark.parametrize("bit", ["1", "1.", "1 ", "GAS ", "1 MM ", "ASTM D-", "NOT FOR ", "1/"])
def test_reading_takes_time_in_step_with_the_length(bit):
    """Twice the length may not take four times as long; counted in calls, not by a clock."""

    def steps(line):
        count = 0

        def tick(frame, event, argument):
            nonlocal count
            count += 1

        sys.setprofile(tick)
        try:
            read_print_line.__wrapped__(line)
        finally:
            sys.setprofile(None)
        return count

    read_print_line("1")
    short, long = (steps((bit * 8000)[:n]) for n in (4000, 8000))
    assert long < 3 * short + 2000
