"""Which cables and bends the factors of the IET On-Site Guide cover."""

from __future__ import annotations

import math

import pytest

from route3d.standards.classes import CableClass
from route3d.standards.conduit_factors import conduit_factors, covers
from tests.support.cable_classes import kind

SMALL = kind(450.0, area=2.5e-6, diameter=4.0e-3)


@pytest.mark.parametrize(
    ("cable", "covered"),
    [
        (SMALL, True),
        (kind(None, area=2.5e-6, diameter=4.0e-3), True),
        (kind(1000.0, area=2.5e-6, diameter=4.0e-3), True),
        (kind(1001.0, area=2.5e-6, diameter=4.0e-3), False),
        (kind(450.0, area=2.5e-6, diameter=4.0e-3, conductors=3), False),
        (kind(450.0, area=2.5e-6, diameter=4.0e-3, shielded=True), False),
        (kind(450.0, area=2.5e-6, diameter=4.0e-3, armor="wire"), False),
        (kind(450.0, area=25e-6, diameter=9.8e-3), True),
        (kind(450.0, area=25.1e-6, diameter=9.8e-3), False),  # beyond the last area
        (kind(450.0, area=25e-6, diameter=9.9e-3), False),  # and beyond the last diameter
    ],
)
def test_only_single_cores_of_the_table_are_covered(cable: CableClass, covered: bool) -> None:
    assert covers((SMALL, cable), "20") is covered
    assert (conduit_factors((SMALL, cable), "20", 5.0, 0.0) is not None) is covered


@pytest.mark.parametrize(("size", "covered"), [("16", True), ("32", True), ("40", False)])
def test_only_the_sizes_of_the_table_are_covered(size: str, covered: bool) -> None:
    assert covers((SMALL,), size) is covered


@pytest.mark.parametrize(
    ("area", "millimeters", "needed"),
    [
        (2.5, 4.2, 30),  # 2.5 mm2 as thin as the table's
        (2.5, 4.3, 43),  # thicker: room of a 4 mm2
        (2.5, 9.0, 217),  # as thick as a 25 mm2
        (2.6, 4.0, 43),  # between two areas: the larger
    ],
)
def test_a_cable_counts_by_metal_and_by_diameter(
    area: float, millimeters: float, needed: float
) -> None:
    cable = kind(450.0, area=area * 1e-6, diameter=millimeters * 1e-3)
    found = conduit_factors((cable,), "20", 5.0, 0.0)
    assert found is not None and found.needed == needed


@pytest.mark.parametrize(
    ("degrees", "bends"),
    [(0, 0), (0.04, 0), (1, 1), (90, 1), (90.04, 1), (91, 2), (180, 2), (360, 4)],
)
def test_bends_count_in_right_angles_rounded_up(degrees: float, bends: int) -> None:
    found = conduit_factors((SMALL,), "20", 2.0, math.radians(degrees))
    assert found is not None and found.bends == bends


@pytest.mark.parametrize(
    ("run", "bends", "given"),
    [
        (10.0, 0, True),
        (10.1, 0, False),
        (5.0, 3, True),
        (5.1, 3, False),
        (2.5, 4, True),
        (2.6, 4, False),
        (1.0, 5, False),
    ],
)
def test_beyond_the_table_no_factor_is_made_up(run: float, bends: int, given: bool) -> None:
    found = conduit_factors((SMALL,), "20", run, bends * math.pi / 2)
    assert found is not None and (found.allowed is not None) is given


def test_short_straight_runs_have_their_own_factors_unless_a_large_cable_lies_in_them() -> None:
    large = kind(450.0, area=16e-6, diameter=8e-3)
    short = conduit_factors((SMALL,), "25", 3.0, 0.0)
    longer = conduit_factors((SMALL,), "25", 3.01, 0.0)
    mixed = conduit_factors((SMALL, large), "25", 3.0, 0.0)
    assert [(f.needed, f.allowed.value) for f in (short, longer, mixed) if f and f.allowed] == [
        (43, 800),
        (30, 521),
        (30 + 145, 521),  # the shortest of the longer runs, 3.5 m
    ]
