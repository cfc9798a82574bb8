"""Friction that falls above a contact load: by hand, at the borders, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.geometry import fillet
from route3d.mechanics.pressure_friction import FallingFriction, picked, stretches
from route3d.mechanics.tension import integrate, pieces_of, wholes_of
from route3d.mechanics.tension import through_part as part
from tests.support.routes import Turn, route

LAW = FallingFriction(0.4, 0.2, 150.0)


def level_bend() -> object:
    return route(Turn(90.0, 1.0, (0.0, 1.0, 0.0)), heading=(1.0, 0.0, 0.0))


def test_the_example_of_theory_section_19() -> None:
    """docs/theory.md section 19, worked by hand with asinh."""
    path = level_bend()
    _, t = integrate(path, 100.0, 0.4, start_tension=50.0, above=150.0, then=0.2)
    assert t[-1] == pytest.approx(123.15, abs=0.005)
    first, second = stretches(pieces_of(path)[0].bend, 100.0, LAW, 50.0)
    assert first.angle == pytest.approx(1.20303, abs=5e-6)
    assert first.tension_out == pytest.approx(100.0 * math.sqrt(1.25), rel=1e-12)
    assert (first.friction, second.friction) == (0.4, 0.2)
    assert integrate(path, 100.0, 0.4, start_tension=50.0)[1][-1] == pytest.approx(135.16, abs=5e-3)
    assert integrate(path, 100.0, 0.2, start_tension=50.0)[1][-1] == pytest.approx(88.19, abs=5e-3)


def test_a_load_held_at_the_threshold_follows_its_closed_form() -> None:
    """A sag that starts 60 degrees down: t_z rises through both ends of the range that holds."""
    slope = math.radians(-60)
    heading = math.cos(slope), 0.0, math.sin(slope)
    path = route(Turn(90.0, 2.0, (-math.sin(slope), 0.0, math.cos(slope))), heading=heading)
    w, above = 80.0, 160.0  # p = 2, b = 0, so Y = 2
    bend = pieces_of(path)[0].bend
    law = FallingFriction(0.6, 0.1, above)
    # Held where -0.6 < t_z < -0.1: from 36.87 to 5.74 degrees of slope. It enters above the
    # threshold, falls through it where t_z < -0.6, and comes back to it from below.
    found = stretches(bend, w, law, w * 2.0 * 2.7)
    assert [each.friction for each in found] == [0.1, 0.6, None, 0.1]
    held = found[2]
    leaves = math.radians(60) - math.asin(0.1)
    assert held.start + held.angle == pytest.approx(leaves, rel=1e-12)
    n_z = math.sqrt(1.0 - 0.1**2)
    assert held.tension_out == pytest.approx(w * 2.0 * (2.0 + n_z), rel=1e-12)
    whole = integrate(path, w, 0.6, start_tension=w * 2.0 * 2.7, above=above, then=0.1)[1][-1]
    assert whole == found[-1].tension_out


@pytest.mark.parametrize(
    ("above", "used"), [(79.9, 0.2), (80.0, 0.4), (math.inf, 0.4)], ids=["above", "at", "never"]
)
def test_a_straight_has_one_friction_by_its_own_weight(above: float, used: float) -> None:
    path = fillet([[0, 0, 0], [30, 0, 0]], [0, 0])
    expected = integrate(path, 80.0, used)[1][-1]
    one = integrate(path, 80.0, 0.4, above=above, then=0.2)[1][-1]
    many = integrate(path, np.full(3, 80.0), 0.4, above=above, then=0.2)[1][-1]
    assert one == expected
    assert many.tolist() == [expected] * 3


def test_a_corner_keeps_the_friction_given() -> None:
    path = fillet([[0, 0, 0], [10, 0, 0], [10, 10, 0]], [0, 0, 0], corners={1})
    law = {"above": 1e6, "then": 0.1}
    for given in (80.0, np.full(2, 80.0)):
        constant = integrate(path, given, 0.4)[1]
        assert np.array_equal(integrate(path, given, 0.4, **law)[1], constant)


def test_the_weight_factor_multiplies_both_coefficients_and_not_the_threshold() -> None:
    path = level_bend()
    factored = integrate(path, 100.0, 0.2, 2.0, 50.0, above=150.0, then=0.1)[1][-1]
    plain = integrate(path, 100.0, 0.4, 1.0, 50.0, above=150.0, then=0.2)[1][-1]
    assert factored == plain


def test_each_segment_and_scenario_has_its_own_law_in_both_directions() -> None:
    path = fillet([[0, 0, 0], [30, 0, 2], [30, 20, 5], [60, 20, 0]], [0, 1.5, 1.5, 0])
    n = len(path)
    friction = np.linspace(0.3, 0.5, n)[:, None] * np.array([1.0, 1.2])
    above = np.where(np.arange(n)[:, None] == 1, np.inf, np.array([300.0, 500.0]))
    more = {"above": above, "then": 0.5 * friction, "per_segment": True}
    for reverse in (False, True):
        both = integrate(path, 80.0, friction, 1.1, 900.0, reverse, **more)[1]
        for k in range(2):
            alone = {
                "above": above[:, k],
                "then": 0.5 * friction[:, k],
                "per_segment": True,
            }
            one = integrate(path, 80.0, friction[:, k], 1.1, 900.0, reverse, **alone)[1]
            assert both[:, k] == pytest.approx(one, rel=1e-11)


def test_a_bend_in_two_parts_gives_what_the_whole_gives() -> None:
    path = route(Turn(100.0, 1.5, (0.0, 1.0, 0.7)), heading=(1.0, 0.0, -0.6))
    whole = wholes_of(path)[0]
    size = float(path.angles[0])
    law = FallingFriction(np.array([0.4, 0.6]), np.array([0.1, 0.3]), np.array([200.0, 320.0]))
    start = np.array([150.0, 260.0])
    first = np.array([0.3, 1.0])
    through = part(whole, 0.0, first, 80.0, law, start, "exact")
    through = part(whole, first, size - first, 80.0, law, through, "exact")
    at_once = part(whole, 0.0, size, 80.0, law, start, "exact")
    assert through == pytest.approx(at_once, rel=1e-11)
    assert picked(law, np.array([1])).above.tolist() == [320.0]
    assert picked(0.3, np.array([1])) == 0.3


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"above": 100.0}, "above and then come together"),
        ({"then": 0.1}, "above and then come together"),
        ({"above": 0.0, "then": 0.1}, "above must be positive"),
        ({"above": 100.0, "then": 0.5}, "then must be from 0 to friction"),
        ({"above": 100.0, "then": -0.1}, "then must be from 0 to friction"),
        ({"above": 100.0, "then": 0.1, "method": "handbook"}, 'only by the method "exact"'),
    ],
)
def test_what_is_no_law_is_refused(more: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        integrate(level_bend(), 100.0, 0.4, **more)  # type: ignore[arg-type]
