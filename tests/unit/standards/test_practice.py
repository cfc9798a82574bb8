import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.standards import NotInTable, Status
from route3d.standards.practice import (
    lubricant_volume,
    practice,
    reel_back_length,
)
from route3d.standards.tables import load


def test_every_rule_answers():
    for identity in (row["id"] for row in load("field_practice").rows):
        try:
            fact = practice(identity)
        except ValueError:
            assert practice(identity, "low").value < practice(identity, "high").value
        else:
            assert fact.label


def test_a_range_is_not_taken_for_one_value():
    with pytest.raises(ValueError, match="a range"):
        practice("pulling_speed")
    with pytest.raises(ValueError, match="one value"):
        practice("restart_factor", "low")
    with pytest.raises(NotInTable) as caught:
        practice("restart")
    assert caught.value.suggestion == "restart_factor"


def test_recalled_practice_says_so():  # from memory: no source was read for these
    low, high = (practice("pulling_speed", end) for end in ("low", "high"))
    restart, riser = practice("restart_factor"), practice("riser_safety_factor")
    assert (low.value * 60 / 0.3048, high.value * 60 / 0.3048) == pytest.approx((15, 50))
    assert restart.value == 1.3
    assert riser.value == 7
    assert reel_back_length().value == pytest.approx(25 * 0.3048)
    for fact in (low, high, restart, riser, reel_back_length()):
        assert fact.source.status is Status.MEMORY
        assert "from memory" in str(fact.source)


@given(st.floats(1, 1000), st.floats(0.01, 0.2), st.floats(0.1, 10))
def test_lubricant_is_in_proportion(length, bore, times):
    once = lubricant_volume(length, bore)
    assert lubricant_volume(times * length, bore) == pytest.approx(times * once, rel=1e-12)
    assert lubricant_volume(length, times * bore) == pytest.approx(times * once, rel=1e-12)
