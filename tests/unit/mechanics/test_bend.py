"""One bend at a time: closed forms where they exist, and the places where the method must cut."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from route3d.geometry import Path
from route3d.mechanics.bend import NODES, Bend
from route3d.mechanics.bend_slack import through_bend, through_one
from route3d.mechanics.tension import integrate
from tests.support import oracle
from tests.support.routes import UP, Go, Turn, route, slope


def leaving(path: Path, w: float, k: float, start: float) -> float:
    return float(integrate(path, w, k, start_tension=start)[1][-1])


@pytest.mark.parametrize("tension", [0.0, 1e-9, 1.0, 1e3, 1e9])
@pytest.mark.parametrize("k", [0.0, 1e-12, 0.3, 2.0])
def test_a_level_bend_is_the_hyperbolic_form(tension: float, k: float) -> None:
    # asinh(T2/wR) = asinh(T1/wR) + K θ, exact for any tension (docs/theory.md, equation 6).
    w, radius, degrees = 7.0, 3.0, 75.0
    wr = w * radius
    with mpmath.workdps(30):
        grown = mpmath.asinh(tension / mpmath.mpf(wr)) + k * mpmath.radians(degrees)
        expected = float(wr * mpmath.sinh(grown))
    got = leaving(route(Turn(degrees, radius)), w, k, tension)
    assert got == pytest.approx(expected, rel=1e-13, abs=1e-15 * wr)


@pytest.mark.parametrize("side", ["left", "right", "up", "down", (0.4, 1.0, 2.0), (0.4, 1.0, -2.0)])
@pytest.mark.parametrize("climb", [-50.0, -10.0, 0.0, 35.0])
def test_without_friction_a_taut_bend_adds_the_weight_lifted(side: str, climb: float) -> None:
    path = route(Turn(110, 4.0, side), heading=slope(climb))
    lifted = 12.0 * (path.ends[-1, 2] - path.starts[0, 2])
    # 1e-11 is what the quadrature of an oblique bend leaves.
    assert leaving(path, 12.0, 0.0, 200.0) == pytest.approx(200.0 + lifted, rel=1e-11)


def test_the_answer_moves_smoothly_out_of_the_vertical_plane() -> None:
    # b falls to 0 by powers of ten; the difference from the vertical bend falls with it, and the
    # threshold below which b counts as zero (1e-12) leaves no step.
    plane = leaving(route(Turn(80, 12.0, "up"), heading=slope(-40)), 9.0, 0.4, 20.0)
    for exponent in range(-14, -1):
        out = 10.0**exponent
        side = UP + out * np.array([0.0, 1.0, 0.0])
        tilted = leaving(route(Turn(80, 12.0, side), heading=slope(-40)), 9.0, 0.4, 20.0)
        # |q| changes by b w at most over a length b, and by its square elsewhere.
        assert abs(tilted - plane) <= 9.0 * 12.0 * (20 * out * out * (1 - math.log(out)) + 1e-10)


def test_a_cable_that_starts_on_the_wall_goes_where_gravity_sends_it() -> None:
    # T = wR n_z exactly: y = 0 at the start, with slope 2 t_z.
    for climb in (-30.0, 30.0):
        path = route(Turn(40, 5.0, "up"), heading=slope(climb))
        start = 8.0 * 5.0 * path.normals[0, 2]
        expected = oracle.tensions(path, 8.0, 0.35, start)[-1]
        assert leaving(path, 8.0, 0.35, start) == pytest.approx(expected, rel=1e-9)


def test_a_weightless_wall_contact_in_a_level_start_stays_level() -> None:
    # t_z = 0 and y = 0 together: a sag that starts level with T = wR, the lift-off tension.
    path = route(Turn(60, 5.0, "up"))
    expected = oracle.tensions(path, 8.0, 0.35, 40.0)[-1]
    assert leaving(path, 8.0, 0.35, 40.0) == pytest.approx(expected, rel=1e-9)


def test_slack_starts_and_ends_where_the_slope_is_the_friction_angle() -> None:
    # A sag from steep down to steep up, without tension: it lies on the outer wall until
    # t_z = -K/sqrt(1 + K²), and picks up from there by the low-tension form (docs/theory.md,
    # equation 9).
    w, radius, k = 6.0, 20.0, 0.4
    path = route(Turn(100, radius, "up"), heading=slope(-70))
    first = -math.atan(k)
    c = w * radius / (1 + k * k)

    def h(p: float) -> float:
        return 2 * k * math.sin(p) - (1 - k * k) * math.cos(p)

    # It rides the outer wall as long as T < wR cos(φ).
    phi = math.radians(10)
    low = -c * h(first) * math.exp(-k * (phi - first)) + c * h(phi)
    assert low < w * radius * math.cos(phi)
    to_there = route(Turn(80, radius, "up"), heading=slope(-70))
    assert leaving(to_there, w, k, 0.0) == pytest.approx(low, rel=1e-12)
    assert leaving(path, w, k, 0.0) > low


def test_a_frictionless_overshoot_is_clamped_only_where_it_is_slack() -> None:
    # Down a crest and up a sag without friction: what was lost below zero does not come back.
    path = route(Turn(60, 5.0, "down"), Turn(120, 5.0, "up"), heading=slope(0))
    bottom = path.point(path.stations[1] + 5.0 * math.radians(60))[2]
    lifted = 10.0 * (path.ends[-1, 2] - bottom)
    assert leaving(path, 10.0, 0.0, 5.0) == pytest.approx(lifted, rel=1e-12)


def test_the_kernel_takes_floats_and_arrays_alike() -> None:
    at = 1.1 * np.array([0.0, *NODES, 1.0])
    tz0, nz0 = -0.3, 0.5
    tz = (tz0 * np.cos(at) + nz0 * np.sin(at)).tolist()
    nz = (nz0 * np.cos(at) - tz0 * np.sin(at)).tolist()
    b = math.sqrt(1 - tz0**2 - nz0**2)
    bend = Bend(1.1, tz, nz, b, math.atan2(0.3, 0.5), 2.5)
    tensions = np.array([0.0, 1.0, 30.0, 1e4])
    many = through_bend(bend, 9.0, 0.3, tensions)
    for t, got in zip(tensions, many, strict=True):
        one = through_one(bend, 9.0, 0.3, float(t))
        assert got == pytest.approx(one, rel=1e-10)


def test_a_very_small_bend_is_no_bend() -> None:
    path = route(Go(10.0), Turn(0.02, 0.1, "left"), Go(10.0))
    straight = route(Go(20.0))
    t, s = leaving(path, 10.0, 0.3, 0.0), leaving(straight, 10.0, 0.3, 0.0)
    assert t == pytest.approx(s * math.exp(0.3 * math.radians(0.02)), rel=1e-4)
