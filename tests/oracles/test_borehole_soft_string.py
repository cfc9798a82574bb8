"""C. A. Johancsik, D. B. Friesen, R. Dawson, "Torque and Drag in Directional Wells - Prediction and
Measurement", JPT, June 1984 (SPE-11380-PA). READ: summary and introduction only
(https://www.scribd.com/document/484068991/SPE-11380-PA-pdf); equations from memory (high)::

    Fn = sqrt((T Δazi sin inc)² + (T Δinc + W sin inc)²),   ΔT = W cos inc + μ Fn  (pulling out)

The discrete form of the law of docs/theory.md section 2, written for wells: inclination from
vertical, azimuth from north. The implementation is that of the package ``welleng`` (its survey
geometry by minimum curvature, its normal force and tension steps), on the same path, halved until
Richardson extrapolation gives six digits.

SIGN: Δinc must be counted the way the element is pulled, so that on a build (a sag) the lift of the
tension is taken from the weight. ``welleng`` 0.30 itself hands increments counted down the hole
to a march that goes up the hole, which adds them; ``test_increments_counted_down_the_hole`` holds
both numbers against the closed form of a vertical bend.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from route3d.geometry import Path
from route3d.mechanics.tension import integrate
from tests.support.routes import Go, Turn, route, slope

torque_drag = pytest.importorskip(
    "welleng.torque_drag", reason="the borehole check needs the package welleng (extra: test)"
)
WEIGHT, START = 300.0, 40_000.0  # a drill string, N/m and N


def well(*pieces: Go | Turn, climb: float) -> Path:
    """A path from the bit (feed) up to the surface (pull); never vertical, where azimuth ends."""
    return route(*pieces, heading=slope(climb))


WELLS = {
    "build": well(Go(300), Turn(60, 300, "up"), Go(400), climb=5),
    "drop": well(Go(300), Turn(50, 250, "down"), Go(200), climb=75),
    "turn": well(Go(200), Turn(70, 400, "left"), Go(200), climb=0),
    "oblique": well(Go(250), Turn(65, 350, (0.3, 1.0, 0.8)), Go(250), climb=20),
    "S": well(
        *(Go(300), Turn(40, 300, "up"), Go(100), Turn(55, 500, (0, 1, -0.4)), Go(300)), climb=15
    ),
}


def survey(path: Path, stations: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Measured depth from the surface, inclination and azimuth, at stations from the bit."""
    down = -path.tangent(stations)
    inc = np.arctan2(np.hypot(down[:, 0], down[:, 1]), -down[:, 2])
    azi = np.unwrap(np.arctan2(down[:, 0], down[:, 1]))  # x east, y north
    return path.length - stations, inc, azi


def hook_load(
    path: Path, friction: float, n: int, sign: float = 1.0, start: float = START
) -> float:
    """Tension at the surface from ``n`` steps a segment by welleng's element."""
    t = start
    for a, b in zip(path.stations[:-1], path.stations[1:], strict=True):
        md, inc, azi = survey(path, np.linspace(a, b, n + 1))
        mean = (inc[1:] + inc[:-1]) / 2
        weight = WEIGHT * -np.diff(md)
        for m, di, da, w in zip(mean, sign * np.diff(inc), np.diff(azi), weight, strict=True):
            normal = torque_drag.force_normal(t, m, di, da, w)
            pickup, _, _ = torque_drag.force_tension_delta(w, m, friction, normal)
            t += float(pickup)
    return t


def extrapolated(path: Path, friction: float, sign: float = 1.0, start: float = START) -> float:
    """Richardson twice: the step takes T at its start, so its error falls as h, then h²."""
    rough, finer, finest = (hook_load(path, friction, n, sign, start) for n in (100, 200, 400))
    return (8 * finest - 6 * finer + rough) / 3


@pytest.mark.parametrize("name", WELLS)
@pytest.mark.parametrize("friction", [0.25, 0.40])  # the range for water-base mud, READ
def test_pickup_of_a_soft_string(name: str, friction: float) -> None:
    path = WELLS[name]
    _, t = integrate(path, WEIGHT, friction, start_tension=START)
    # What is left after two extrapolations from 400 steps a segment.
    assert t[-1] == pytest.approx(extrapolated(path, friction), rel=2e-6)


@pytest.mark.parametrize("name", WELLS)
def test_the_march_closes_in_on_ours_as_its_steps_are_halved(name: str) -> None:
    path = WELLS[name]
    exact = integrate(path, WEIGHT, 0.3, start_tension=START)[1][-1]
    errors = [abs(hook_load(path, 0.3, n) - exact) for n in (50, 100, 200)]
    assert errors[1] == pytest.approx(errors[0] / 2, rel=0.05)
    assert errors[2] == pytest.approx(errors[1] / 2, rel=0.05)


@pytest.mark.parametrize("name", WELLS)
def test_minimum_curvature_gives_our_positions(name: str) -> None:
    from welleng.survey import Survey

    path = WELLS[name]
    stations = np.unique(np.concatenate([path.stations, np.linspace(0, path.length, 40)]))[::-1]
    md, inc, azi = survey(path, stations)
    found = Survey(md=md, inc=np.degrees(inc), azi=np.degrees(azi) % 360, deg=True)
    top = path.ends[-1]
    expected = path.point(stations) - top
    ours = np.column_stack([expected[:, 1], expected[:, 0], -expected[:, 2]])  # north, east, depth
    theirs = np.column_stack([found.n, found.e, found.tvd])
    # Minimum curvature is exact on arcs; angles pass through degrees and back.
    assert theirs - theirs[0] == pytest.approx(ours - ours[0], abs=1e-6)


def test_increments_counted_down_the_hole() -> None:
    # A build from level to 60 degrees up: the closed form "sag up" of test_vertical_bends.
    radius, k, theta = 300.0, 0.3, math.radians(60)
    path = route(Turn(60, radius, "up"))
    a = 2 * k * math.sin(theta) - (1 - k * k) * (math.exp(k * theta) - math.cos(theta))
    closed = 200_000 * math.exp(k * theta) - WEIGHT * radius / (1 + k * k) * a
    ours = integrate(path, WEIGHT, k, start_tension=200_000)[1][-1]
    assert ours == pytest.approx(closed, rel=1e-12)
    as_pulled = extrapolated(path, k, 1.0, 200_000.0)
    down_the_hole = extrapolated(path, k, -1.0, 200_000.0)
    assert as_pulled == pytest.approx(closed, rel=2e-6)
    assert (closed, down_the_hole) == pytest.approx((296_220.23, 352_041.25), rel=1e-6)
