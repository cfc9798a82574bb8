"""NFPA 70 Articles 300, 314, 344, 352, 358: figures of the rules, read in forum and trade copies.

300.19(A) from a transcription of 2025; 314.28(A) from EC&M and forum quotations; support spacing
from question-and-answer pages of low authority. 314.71 is from memory. The 2026 edition was not
read.
"""

import pytest

from route3d.standards import Status
from route3d.standards.bends import max_degrees_between_pull_points
from route3d.standards.boxes import (
    minimum_box_straight,
    mv_angle_factor,
    mv_straight_factor,
    straight_pull_factor,
)
from route3d.standards.conductors import conductor_area
from route3d.standards.conduits import support_spacing
from route3d.standards.risers import riser_support_spacing
from tests.support.cable_tables import bend_multiple
from tests.support.published import printed

pytestmark = pytest.mark.source("NFPA 70 (read in forum and trade copies)")

FOOT, INCH = 0.3048, 0.0254

# Table 300.19(A): a size of each range, then feet for aluminium and for copper.
RISERS = [
    ("14 AWG", 100, 100), ("8 AWG", 100, 100),
    ("6 AWG", 200, 100), ("1/0 AWG", 200, 100),
    ("2/0 AWG", 180, 80), ("4/0 AWG", 180, 80),
    ("250 kcmil", 135, 60), ("350 kcmil", 135, 60),
    ("400 kcmil", 120, 50), ("500 kcmil", 120, 50),
    ("600 kcmil", 95, 40), ("750 kcmil", 95, 40),
    ("800 kcmil", 85, 35), ("1000 kcmil", 85, 35), ("240 mm2", 120, 50),
]  # fmt: skip


@pytest.mark.parametrize(("size", "aluminium", "copper"), RISERS)
@pytest.mark.clause("Table 300.19(A)")
def test_300_19_a_riser_supports(size, aluminium, copper):
    area = conductor_area(size).value
    assert riser_support_spacing("aluminium", area).value / FOOT == printed(aluminium)
    assert riser_support_spacing("copper", area).value / FOOT == printed(copper)


@pytest.mark.clause("314.28(A)(1)")
def test_314_28_a_1_straight_pull():
    assert straight_pull_factor().value == printed(8)
    assert minimum_box_straight(3).value / INCH == printed(24)  # printed 3 in -> 24 in
    assert minimum_box_straight(2).value / INCH == printed(16)  # printed 2 in -> 16 in


@pytest.mark.clause("314.71 (from memory)")
def test_314_71_above_1000_v():  # from memory
    assert [mv_straight_factor(shielded).value for shielded in (True, False)] == printed([48, 32])
    assert [mv_angle_factor(shielded).value for shielded in (True, False)] == printed([36, 24])
    assert mv_angle_factor(shielded=True).source.status is Status.MEMORY


@pytest.mark.clause("314.71 (from memory)")
def test_314_71_disagrees_with_a_page_that_prints_the_bend_rule():
    # One answer page prints 12 x OD for the angle pull: that is the bend radius rule; rejected.
    assert mv_angle_factor(shielded=True).value == 36 != 12
    assert bend_multiple("nec_mv_shielded").value == printed(12)


@pytest.mark.clause("358.26")
def test_358_26_four_quarter_bends():
    fact = max_degrees_between_pull_points()
    assert fact.value * 180 / 3.141592653589793 == printed(360, rel=1e-15)
    assert "MEMORY" in fact.source.note  # the same rule of the other conduits is recalled


@pytest.mark.parametrize(
    ("kind", "size", "feet", "status"),
    [
        ("EMT", "2", 10, Status.READ),
        ("RMC", "4", 10, Status.READ),
        ("PVC-40", "1", 3, Status.READ),
        ("PVC-40", "2", 5, Status.READ),
        ("PVC-40", "3", 6, Status.MEMORY),
        ("PVC-80", "5", 7, Status.MEMORY),
        ("PVC-40", "6", 8, Status.READ),
    ],
)
@pytest.mark.clause("358.30, 344.30, 352.30")
def test_supports_of_conduit(kind, size, feet, status):
    fact = support_spacing(kind, size)
    assert fact.value / FOOT == printed(feet)
    assert fact.source.status is status


@pytest.mark.parametrize(("size", "feet"), [("1", 12), ("1-1/2", 14), ("2", 16), ("3", 20)])
@pytest.mark.clause("Table 344.30(B)(2)")
def test_supports_of_threaded_straight_runs(size, feet):
    assert support_spacing("RMC", size, threaded_straight=True).value == printed(feet * FOOT)


@pytest.mark.parametrize(
    ("rule", "multiple", "status"),
    [
        ("nec_mv_nonshielded", 8, Status.READ),  # 300.34
        ("nec_mv_shielded", 12, Status.READ),
        ("mc_interlocked_corrugated", 7, Status.READ),  # 330.24(B)
        ("mc_smooth_le_0_75in", 10, Status.READ),
        ("mc_smooth_0_75_to_1_5in", 12, Status.MEMORY),
        ("mc_smooth_over_1_5in", 15, Status.MEMORY),
    ],
)
@pytest.mark.clause("300.34 and 330.24")
def test_bend_multiples_of_the_code(rule, multiple, status):
    fact = bend_multiple(rule)
    assert fact.value == printed(multiple)
    assert fact.source.title == "NFPA 70"
    assert fact.source.status is status


@pytest.mark.clause("330.24, worked example")
def test_330_24_worked_example():
    # Read: MC cable of 2.674 in, 7 x -> printed 18.72 in; the product is 18.718.
    assert bend_multiple("mc_interlocked_corrugated").value * 2.674 == printed(18.72, abs=0.005)
