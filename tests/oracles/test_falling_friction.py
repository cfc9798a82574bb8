"""Friction that falls above a contact load, against DOP853 with events (COMPUTED)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from route3d.geometry import Path
from route3d.mechanics.tension import brake, integrate
from tests.support import falling_oracle, oracle
from tests.support.routes import Turn, route


class Drawn(NamedTuple):
    path: Path
    weight: float
    friction: float
    then: float
    above: float
    start: float

    @property
    def scale(self) -> float:
        return self.weight * float(self.path.radii[0])


def _drawn(draw: np.random.Generator, *, steep: bool) -> Drawn:
    """A bend in any plane. ``steep`` ones run downhill with a threshold near the cable's weight."""
    heading = draw.normal(size=3) - (0.0, 0.0, 1.0 if steep else 0.0)
    heading /= np.linalg.norm(heading)
    side = np.array([0.0, 0.0, 1.0]) if draw.random() < 0.2 else draw.normal(size=3)
    normal = side - side @ heading * heading
    normal /= np.linalg.norm(normal)
    radius, weight = draw.uniform(0.3, 5.0), draw.uniform(5.0, 100.0)
    friction = draw.uniform(0.3 if steep else 0.1, 0.8)
    then = friction * draw.uniform(0.0, 0.2 if steep else 0.95)
    above = weight * np.exp(draw.uniform(*np.log((0.5, 2.5) if steep else (0.1, 30.0))))
    tension = 0.0 if draw.random() < 0.1 else weight * radius * np.exp(draw.uniform(-3.0, 3.5))
    if steep and draw.random() < 0.7:
        tension = above * radius * draw.uniform(0.5, 1.8)
    path = route(Turn(draw.uniform(5, 150), radius, tuple(normal)), heading=tuple(heading))
    return Drawn(path, weight, friction, then, above, tension)


@pytest.mark.parametrize(
    ("seed", "count"),
    [(19, 70), pytest.param(17, 4000, marks=[pytest.mark.many, pytest.mark.slow])],
)
def test_random_bends_agree_with_an_independent_solver_one_by_one_and_in_arrays(
    seed: int, count: int
) -> None:
    draw = np.random.default_rng(seed)
    seen: set[str] = set()
    held = 0
    for i in range(count):
        case = _drawn(draw, steep=i % 2 == 0)
        law = falling_oracle.Falling(case.friction, case.then, case.above)
        piece = next(oracle.pieces(case.path))
        expected = falling_oracle.through(piece, case.weight, law, case.start)
        more = {"above": case.above, "then": case.then}
        one = integrate(case.path, case.weight, case.friction, 1.0, case.start, **more)[1][-1]
        many = integrate(
            case.path,
            case.weight,
            case.friction,
            1.0,
            np.array([case.start, 0.9 * case.start, case.start]),
            above=np.array([case.above, case.above, np.inf]),
            then=case.then,
        )[1][-1]
        within = 1e-8 * max(expected.tension, case.scale)
        assert abs(one - expected.tension) <= within, case
        assert abs(many[0] - expected.tension) <= within, case
        high, low = (
            integrate(case.path, case.weight, mu, 1.0, case.start)[1][-1]
            for mu in (case.friction, case.then)
        )
        assert many[2] == np.float64(high) or abs(many[2] - high) <= within
        assert low - within <= one <= high + within, case
        seen |= set(expected.modes)
        held += "held" in expected.modes
    assert seen == {"low", "high", "held", "slack"}
    assert held >= 4


def test_the_least_brake_just_keeps_the_cable_taut() -> None:
    """Walked backwards: a little more never goes slack, and somewhere it is next to nothing."""
    draw = np.random.default_rng(16)
    judged = 0
    for _ in range(12):
        case = _drawn(draw, steep=True)
        path = case.path.split(np.linspace(0.0, float(case.path.stations[-1]), 200)[1:-1])
        law = {"above": case.above, "then": case.then}
        needed = float(brake(path, case.weight, case.friction, **law)[1][0])
        many = brake(path, case.weight, np.full(2, case.friction), **law)[1][0]
        assert np.abs(many - needed).max() <= 1e-9 * case.scale
        least, most = (float(brake(path, case.weight, mu)[1][0]) for mu in case[2:4])
        assert least - 1e-9 * case.scale <= needed <= most + 1e-9 * case.scale
        if needed > 1e-3 * case.scale:
            start = needed * (1.0 + 1e-6)
            taut = integrate(path, case.weight, case.friction, 1.0, start, **law)[1]
            assert taut[1:-1].min() > 0.0
            assert taut.min() < 1e-3 * case.scale
            judged += 1
    assert judged >= 6
