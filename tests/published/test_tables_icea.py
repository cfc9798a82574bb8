"""ICEA-based figures: pulling guide of a wire distributor, Okonite bending radii (S-95-658,
S-93-639), an installation guide, and the Southwire pulling-tension page.

All read unless a test says otherwise.
"""

import pytest

from route3d.standards.attachments import device_limit, grip_limit
from route3d.standards.conductors import conductor_area, group_factor, max_stress
from tests.support.cable_tables import bend_multiple, sidewall_limit
from tests.support.published import printed

pytestmark = pytest.mark.source("ICEA-based pulling guide (read)")

LBF, INCH, FOOT = 4.4482216152605, 0.0254, 0.3048

# The values in N/mm2 are worked out in the reference to five figures from the printed lb/cmil.
STRESSES = [
    ("copper", "", 70.229),
    ("copper", "0.008 lb/cmil", 70.229),
    ("aluminium", "", 52.672),
    ("aluminium", "0.006 lb/cmil", 52.672),
    ("aluminium", "0.008 lb/cmil", 70.229),  # hard
    ("aluminium", "0.003 lb/cmil", 26.336),  # half hard
    ("aluminium", "0.002 lb/cmil", 17.557),  # soft solid
]


@pytest.mark.parametrize(("metal", "practice", "newton_per_mm2"), STRESSES)
@pytest.mark.clause("Tm = 0.008 N CM; Southwire tempers")
def test_conductor_stress(metal, practice, newton_per_mm2):
    fact = max_stress(metal, practice)
    assert fact.value / 1e6 == printed(newton_per_mm2, abs=5.1e-4)  # three decimals


@pytest.mark.clause("Tm = 0.008 N CM")
def test_conductor_stress_in_japanese_units():
    # 0.008 lb/cmil = 7.1614 kgf/mm2, 0.006 = 5.3711 (worked out to four decimals).
    assert max_stress("copper").value / 9.80665e6 == printed(7.1614, abs=5.1e-5)
    assert max_stress("aluminium").value / 9.80665e6 == printed(5.3711, abs=5.1e-5)


@pytest.mark.parametrize(
    ("size", "pounds"),  # Southwire 15 kV sheets: 0.008 x cmil in whole pounds, cut or rounded
    [("2 AWG", 530), ("1 AWG", 669), ("1/0 AWG", 844), ("2/0 AWG", 1064), ("4/0 AWG", 1692),
     ("350 kcmil", 2800)],
)  # fmt: skip
@pytest.mark.source("Southwire SPEC 46302 to 46305 (read)")
@pytest.mark.clause("maximum pull")
def test_max_pull_of_published_cable_sheets(size, pounds):
    force = max_stress("copper").value * conductor_area(size).value / LBF
    assert force == printed(pounds, abs=1.0)  # sheets print whole pounds, some cut short


@pytest.mark.source("Southwire pulling tensions (read)")
@pytest.mark.clause("0.8 N S A")
def test_more_than_three_conductors():
    assert (group_factor(3).value, group_factor(4).value) == printed((1.0, 0.8))


@pytest.mark.clause("caps of grips and devices")
def test_device_caps():
    assert grip_limit().value / LBF == printed(1000, rel=1e-15)
    assert device_limit().value / LBF == printed(10_000, rel=1e-15)


@pytest.mark.clause("300 lb/ft")
def test_sidewall_300_lb_per_ft():
    fact = sidewall_limit("any")
    assert fact.value * FOOT / LBF == printed(300, rel=1e-12)
    assert fact.value == printed(4378, abs=0.5)  # printed to whole N/m


# Okonite: rows of insulation thickness in inches, columns of outside diameter; None = empty.
OKONITE = [
    (0.100, 0.9, 4), (0.100, 1.5, 5), (0.100, 2.5, 6),
    (0.156, 1.0, 4), (0.156, 2.0, 5), (0.156, 2.001, 6),
    (0.200, 0.9, 5), (0.200, 1.5, 6), (0.200, 2.5, 7),
    (0.310, 1.0, 5), (0.310, 2.0, 6),
    (0.400, 1.5, 7), (0.400, 2.5, 8),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "multiple"),
    [
        ("icea_tape_shield_single", 12),
        ("icea_armored_interlocked", 7),
        ("portable_le_5kV", 6),
        ("portable_over_5kV", 8),
        ("guide_over_600V_unshielded", 8),
        ("guide_shielded", 12),
        ("guide_lead", 12),
    ],
)
@pytest.mark.source("ICEA S-93-639 by Okonite; installation guide (read)")
@pytest.mark.clause("bend multiples")
def test_other_bend_multiples(rule, multiple):
    assert bend_multiple(rule).value == printed(multiple)


@pytest.mark.source("Southwire SPEC 46305 (read)")
@pytest.mark.clause("350 kcmil bend radius")
def test_bend_radius_of_published_cable_sheet():
    # Southwire SPEC 46305, 350 kcmil, 1.387 in: printed 16.6 in = 12 x OD to 0.1 in.
    assert bend_multiple("icea_tape_shield_single").value * 1.387 == printed(16.6, abs=0.05)
