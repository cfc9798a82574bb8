"""Unified Facilities Guide Specification UFGS-16526A (duct lines; concrete encasement).

Read. The older numbering; the current 33 71 02 was not read beyond its contents.
"""

import math

import pytest

from route3d.standards.bends import (
    concrete_around,
    cover,
    duct_bank_spacing,
    duct_slope,
    largest_manufactured_bend,
    least_duct_radius,
    long_sweep_radius,
    spacer_distance,
)
from tests.support.published import printed

pytestmark = pytest.mark.source("UFGS-16526A (read)")

INCH, FOOT = 0.0254, 0.3048


@pytest.mark.parametrize(
    ("fact", "expected"),
    [
        (duct_bank_spacing("power"), 2 * INCH),
        (duct_bank_spacing("power to communications"), 4 * INCH),
        (concrete_around(), 3 * INCH),
        (cover("encased"), 18 * INCH),
        (cover("direct buried"), 24 * INCH),
        (spacer_distance(), 4 * FOOT),
        (least_duct_radius("2"), 18 * INCH),
        (least_duct_radius("5"), 36 * INCH),
        (long_sweep_radius(), 25 * FOOT),
        (largest_manufactured_bend(), math.radians(30)),
        (duct_slope(), 4 / 1200),  # 4 in per 100 ft
    ],
    ids=lambda value: getattr(value, "label", ""),
)
@pytest.mark.clause("duct lines; concrete encasement")
def test_duct_line_figures(fact, expected):
    assert fact.value == printed(expected, rel=1e-12)
    assert str(fact.source).startswith("UFGS-16526A")


@pytest.mark.clause("slope")
def test_metric_twin_of_the_slope():
    # The same clause prints 100 mm per 30 m: 1/300, equal to 4 in per 100 ft.
    assert duct_slope().value == printed(0.1 / 30, rel=1e-12)
