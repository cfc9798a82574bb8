import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.standards import NotInTable
from route3d.standards.conductors import conductor_area
from route3d.standards.risers import riser_support_spacing
from route3d.standards.tables import FOOT


def test_an_area_between_two_ranges_takes_the_shorter_distance():
    # 10 mm2 lies between 8 AWG (8.37) and 6 AWG (13.3): aluminium 100 or 200 ft.
    assert riser_support_spacing("aluminium", 10e-6).value == pytest.approx(100 * FOOT)
    assert riser_support_spacing("aluminium", 16e-6).value == pytest.approx(200 * FOOT)


def test_a_metric_twin_rounded_to_four_figures_stays_in_its_range():
    assert riser_support_spacing("copper", 107.2e-6) == riser_support_spacing(
        "copper", conductor_area("4/0 AWG").value
    )


@settings(deadline=None)  # the first call reads the tables
@given(st.floats(14e-6, 2e-3), st.floats(1, 10))
def test_heavier_conductors_never_span_further(area, times):
    for metal in ("copper", "aluminium"):
        light = riser_support_spacing(metal, area).value
        assert riser_support_spacing(metal, area * times).value <= light


def test_below_the_table_and_unknown_metal_are_refused():
    for area in (0.5e-6, float("nan")):
        with pytest.raises(NotInTable, match="18 AWG"):
            riser_support_spacing("copper", area)
    with pytest.raises(NotInTable, match="copper"):
        riser_support_spacing("silver", 1e-4)
