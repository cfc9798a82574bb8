"""The taut stage: what it settles is right, what it cannot settle it hands on."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from route3d.geometry import Path
from route3d.mechanics.bend import NODES, Bend
from route3d.mechanics.bend_batch import room_for, through_taut
from route3d.mechanics.bend_slack import through_bend, through_one
from tests.support import oracle
from tests.support.routes import Turn, route

# Two parts of 1e-11 of U = 2τ may be left out; five times that is for the estimate's own error.
SETTLED_TO = 2e-10
# The stage and the kernel are two methods, each within that.
SAME = 2 * SETTLED_TO


def one_bend(path: Path) -> Bend:
    """The one segment of ``path``, without the items that only the slower kernel asks for."""
    t, n = path.tangents[0], path.normals[0]
    at = path.angles[0] * np.array([0.0, *NODES, 1.0])
    tz, nz = t[2] * np.cos(at) + n[2] * np.sin(at), n[2] * np.cos(at) - t[2] * np.sin(at)
    b = abs(float(t[0] * n[1] - t[1] * n[0]))
    return Bend(float(path.angles[0]), tz.tolist(), nz.tolist(), b, 0.0, 1.0)


def random_turn(rng: np.random.Generator, degrees: float) -> Path:
    return route(Turn(degrees, 1.0, rng.normal(size=3)), heading=rng.normal(size=3))


def settle(
    bend: Bend, k: float | NDArray[np.float64], tau: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    return through_taut(bend, k, tau, room_for(tau.size))


@pytest.mark.parametrize("seed", range(80))
def test_the_lowest_tension_that_is_settled_is_right(seed: int) -> None:
    # There the estimate of the error is closest to its limit, or small by accident.
    rng = np.random.default_rng([11, seed])
    path = random_turn(rng, rng.uniform(20, 170))
    tau = np.geomspace(1.0, 1e4, 20_001)
    k = rng.uniform(-1.0, 1.0, tau.size)
    end, settled = settle(one_bend(path), k, tau)
    first = int(np.argmax(settled))
    assert settled[first]
    # w = R = 1, so that T = τ
    expected = oracle.tensions(path, 1.0, float(k[first]), float(tau[first]))[-1]
    assert end[first] == pytest.approx(expected, rel=SETTLED_TO)


def test_an_ordinary_pull_is_settled() -> None:
    # Else the speed is lost. τ is the tension in weights of a radius of cable.
    rng = np.random.default_rng(12)
    for _ in range(50):
        bend = one_bend(random_turn(rng, 90))
        assert settle(bend, 0.3, np.geomspace(250.0, 1e6, 50))[1].all()
        short = one_bend(random_turn(rng, 45))
        assert settle(short, 0.3, np.geomspace(40.0, 1e6, 50))[1].all()


@pytest.mark.parametrize("side", ["up", "down", "left", (0.3, 1.0, 1e-9), (0.2, 1.0, 0.7)])
@pytest.mark.parametrize("k", [-0.6, -0.2, 0.0, 0.2, 0.6])
@pytest.mark.parametrize("climb", [-80, -30, 0, 50])
def test_nothing_slack_or_near_the_other_wall_is_settled(
    side: str | tuple[float, ...], k: float, climb: float
) -> None:
    # In a vertical plane nothing but the bound on U tells that the cable changed walls.
    heading = (math.cos(math.radians(climb)), 0.0, math.sin(math.radians(climb)))
    for degrees in (1, 30, 95, 165):
        path = route(Turn(degrees, 1.0, side), heading=heading)
        bend = one_bend(path)
        tau = np.geomspace(1e-3, 30.0, 400)
        end, settled = settle(bend, k, tau)
        assert not settled[0]
        first = int(np.argmax(settled))
        if settled[first]:
            expected = oracle.tensions(path, 1.0, k, float(tau[first]))[-1]
            assert end[first] == pytest.approx(expected, rel=SETTLED_TO)


@pytest.mark.parametrize("k", [0.3, -0.3])
def test_taut_and_other_scenarios_come_back_in_their_places(k: float) -> None:
    bend = one_bend(route(Turn(80, 1.0, (0.2, 1.0, 0.7)), heading=(1.0, 0.0, -0.4)))
    tau = np.random.default_rng(13).permutation(np.geomspace(1e-2, 1e4, 200))
    weight = np.linspace(1.0, 3.0, 200)
    assert set(settle(bend, k, tau)[1]) == {True, False}
    many = through_bend(bend, weight, k, tau * weight)
    each = through_bend(bend, weight, np.full(200, k), tau * weight)
    alone = [
        through_one(bend, w, k, t)
        for w, t in zip(weight.tolist(), (tau * weight).tolist(), strict=True)
    ]
    assert many == pytest.approx(np.array(alone), rel=SAME, abs=SAME)
    assert each == pytest.approx(many, rel=1e-14)


def test_many_that_are_fairly_taut_pass_the_bend_in_halves() -> None:
    bend = one_bend(route(Turn(90, 1.0, (0.2, 1.0, 0.7)), heading=(1.0, 0.0, -0.9)))
    tau, k = np.geomspace(1.0, 250.0, 700), np.linspace(0.1, 0.5, 700)
    assert np.count_nonzero(~settle(bend, k, tau)[1]) > 400
    many = through_bend(bend, 1.0, k, tau)
    alone = [through_one(bend, 1.0, f, t) for f, t in zip(k.tolist(), tau.tolist(), strict=True)]
    assert many == pytest.approx(np.array(alone), rel=SAME, abs=SAME)


def test_a_room_used_before_leaves_nothing_behind() -> None:
    oblique = one_bend(route(Turn(80, 1.0, (0.2, 1.0, 0.7)), heading=(1.0, 0.0, -0.4)))
    level = one_bend(route(Turn(80, 1.0, "left")))
    tau, room = np.geomspace(1.0, 1e4, 200), room_for(200)
    room[:] = np.nan
    for bend in (oblique, level):
        end, settled = through_taut(bend, 0.3, tau, room)
        kept = end.copy()
        fresh = through_taut(bend, 0.3, tau, room_for(200))
        assert np.array_equal(end, fresh[0]) and np.array_equal(settled, fresh[1])
        through_taut(oblique, -0.3, 3.0 * tau, room)
        assert np.array_equal(end, kept)  # what came back is not part of the room
