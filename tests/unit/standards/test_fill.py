from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.standards.fill import (
    fill_limit,
    jam_band_at,
    jam_bands,
    minimum_clearance,
)


@given(st.integers(3, 200))
def test_three_and_more_share_one_limit(count):
    assert fill_limit(count).value == 0.40


@pytest.mark.parametrize("count", [0, -1])
def test_no_cables_have_no_limit(count):
    with pytest.raises(ValueError, match="at least 1"):
        fill_limit(count)


def test_the_bands_of_the_widened_ratio_tile_all_ratios():
    bands = jam_bands("1.05 D/d")
    assert bands[0].low == 0
    assert bands[-1].high == float("inf")
    assert all(a.high == b.low for a, b in pairwise(bands))


def test_an_unknown_reading_is_refused():
    with pytest.raises(ValueError, match="reading"):
        jam_bands("1.5 D/d")


def test_the_widening_is_applied_once_and_only_to_its_own_reading():
    # 2.95 is 3.0975 once widened: TES speaks of 2.8 to 3.0, the other set of 3.0 to 3.2.
    assert jam_band_at(2.95, "D/d").low == 2.8
    assert jam_band_at(2.95, "1.05 D/d").low == 3.0


def test_where_publications_disagree_the_graver_band_stands():
    # At 3.1 TES says it cannot jam, the NEC note says it can.
    band = jam_band_at(3.1, "D/d")
    assert band.severity_hint == "caution"
    assert "NFPA" in band.source.title


def test_a_shared_edge_takes_the_graver_side():
    assert jam_band_at(2.8, "D/d").severity_hint == "caution"


@given(st.floats(0.01, 50))
def test_every_ratio_falls_in_a_band_of_both_readings(ratio):
    for reading in ("D/d", "1.05 D/d"):
        assert jam_band_at(ratio, reading) in jam_bands(reading)


@pytest.mark.parametrize("ratio", [-1.0, float("nan")])
def test_a_ratio_that_is_no_ratio_is_refused(ratio):
    with pytest.raises(ValueError, match="positive"):
        jam_band_at(ratio, "D/d")


def test_clearance_low_is_below_high():
    low, high = minimum_clearance()
    assert 0 < low.value < high.value
