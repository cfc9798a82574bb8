import pytest

from route3d.standards.attachments import (
    device_limit,
    grip_limit,
)


def test_the_grip_is_far_below_the_device_cap():
    assert device_limit().value == pytest.approx(10 * grip_limit().value, rel=1e-15)


def test_read_caps_are_not_doubtful():
    assert not grip_limit().doubtful
    assert not device_limit().doubtful
