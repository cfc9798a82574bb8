import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.standards import Status
from route3d.standards.bends import (
    concrete_around,
    cover,
    duct_bank_spacing,
    max_degrees_between_pull_points,
)
from route3d.standards.boxes import (
    minimum_box_angle,
    minimum_mv_box_angle,
    minimum_mv_box_straight,
    mv_straight_factor,
)
from tests.support.offset_chart import offset_chart


def test_the_turn_between_pull_points_is_one_full_turn():
    fact = max_degrees_between_pull_points()
    assert fact.value == 2 * math.pi
    assert fact.quantity == "angle"
    assert str(fact.source) == "NFPA 70, 358.26"


def test_power_stands_further_from_communications():
    assert duct_bank_spacing("power to communications").value > duct_bank_spacing().value
    assert cover("direct buried").value > cover().value > concrete_around().value


def test_exact_columns_of_the_offset_chart_are_trigonometry():
    for row in offset_chart():
        # printed to four decimals
        assert row.multiplier == pytest.approx(1 / math.sin(row.angle), abs=5.1e-5)
        assert row.shrink == pytest.approx(math.tan(row.angle / 2), abs=5.1e-5)


@given(st.lists(st.floats(0.5, 6), min_size=1, max_size=8))
def test_an_angle_box_grows_by_each_other_raceway(sizes):
    largest, *others = sorted(sizes, reverse=True)
    expected = (6 * largest + sum(others)) * 0.0254
    assert minimum_box_angle(largest, others).value == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("largest", "others"), [(2, [3]), (0, []), (3, [-1]), (-1, [])])
def test_impossible_rows_are_refused(largest, others):
    with pytest.raises(ValueError, match="largest first"):
        minimum_box_angle(largest, others)


def test_boxes_above_1000_v_are_recalled_and_say_so():
    assert mv_straight_factor(shielded=True).source.status is Status.MEMORY
    assert str(mv_straight_factor(shielded=True).source) == "NFPA 70, 314.71(A); from memory"
    assert minimum_mv_box_straight(0.035, shielded=True).value == pytest.approx(48 * 0.035)
    assert minimum_mv_box_angle(0.035, [0.035, 0.03], shielded=False).value == pytest.approx(
        24 * 0.035 + 0.065
    )
