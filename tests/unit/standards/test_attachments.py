import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.standards.attachments import (
    device_limit,
    eye_limit,
    grip_length,
    grip_limit,
    sheath_grip_limit,
)


def test_the_grip_is_far_below_the_device_cap():
    assert device_limit().value == pytest.approx(10 * grip_limit().value, rel=1e-15)


def test_eye_caps_are_doubtful_and_say_so():
    for conductors in (1, 3):
        fact = eye_limit(conductors)
        assert fact.doubtful
        assert str(fact.source).endswith("from memory, low confidence")
    with pytest.raises(ValueError, match="minimum 1"):
        eye_limit(0)


def test_read_caps_are_not_doubtful():
    assert not grip_limit().doubtful
    assert not device_limit().doubtful
    assert not grip_length().doubtful


@given(st.floats(0.01, 0.15), st.floats(0.01, 0.49))
def test_a_ring_is_outer_disc_less_inner(outer, share):
    thickness = share * outer
    ring = math.pi / 4 * (outer**2 - (outer - 2 * thickness) ** 2)
    # 10 MPa on the ring; the two forms of the ring agree to rounding of a difference of squares
    assert sheath_grip_limit("plastic", outer, thickness).value == pytest.approx(
        10e6 * ring, rel=1e-9
    )


def test_a_metal_sheath_has_a_plain_cap():
    assert sheath_grip_limit("metal", 0.05, 0.002).value == 4450


@pytest.mark.parametrize("thickness", [0.0, -0.001, 0.025, float("nan")])
def test_an_impossible_wall_is_refused(thickness):
    with pytest.raises(ValueError, match="does not fit"):
        sheath_grip_limit("lead", 0.05, thickness)
