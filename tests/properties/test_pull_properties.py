"""What must hold for every pull, on routes that hypothesis draws."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from route3d.geometry import Path, fillet
from route3d.mechanics.tension import brake, integrate
from tests.support.routes import Go, Turn, centerward, route, slope, vertices

# Each of two results is within 1e-8 of the largest tension (docs/theory.md section 15).
TWICE = 2e-8
drawn = settings(derandomize=True, max_examples=60, deadline=None, database=None)
methods = pytest.mark.parametrize("method", ["exact", "handbook"])

numbers = st.floats
frictions = numbers(0.0, 0.9)
weights = numbers(1.0, 150.0)
starts = st.one_of(st.just(0.0), numbers(0.1, 2e4))
sides = st.one_of(
    st.sampled_from([(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)]),
    st.tuples(numbers(-1, 1), numbers(-1, 1), st.just(0.0)),
    st.tuples(numbers(-1, 1), numbers(-1, 1), numbers(-1, 1)),
)


@st.composite
def shapes(
    draw: st.DrawFn, climb: tuple[float, float] = (-80, 80), uphill: bool = False
) -> tuple[list[Go | Turn], NDArray[np.float64]]:
    """Straights and bends, and the first heading; ``uphill`` never points down."""
    t = heading = slope(draw(numbers(*climb)))
    pieces: list[Go | Turn] = []
    for _ in range(draw(st.integers(1, 4))):
        side, degrees = np.array(draw(sides)), draw(numbers(0.1, 120.0))
        assume(np.linalg.norm(np.cross(t, side)) > 0.1)
        pieces += [Go(draw(numbers(0.0, 100.0))), Turn(degrees, draw(numbers(0.3, 30.0)), side)]
        n, angle = centerward(t, side), math.radians(degrees)
        if uphill:  # t_z is concave where it is positive, so its ends tell
            assume(t[2] * math.cos(angle) + n[2] * math.sin(angle) >= 0)
        t = math.cos(angle) * t + math.sin(angle) * n
    return [*pieces, Go(draw(numbers(0.0, 100.0)))], heading


@st.composite
def crests(draw: st.DrawFn) -> Path:
    """A climb whose bends lie level or bend over: no part of it sags."""
    t = heading = slope(draw(numbers(0.0, 85.0)))
    pieces: list[Go | Turn] = []
    for _ in range(draw(st.integers(1, 4))):
        flat = centerward(t, draw(st.sampled_from(["left", "right"])))
        over = centerward(t, "down")
        n = centerward(t, flat + draw(numbers(0.0, 2.0)) * over)
        most = math.degrees(math.atan2(t[2], -n[2])) if n[2] < -1e-9 else 90.0
        degrees = draw(numbers(0.1, 0.95)) * min(most, 90.0)
        assume(degrees > 0.1)
        pieces += [Go(draw(numbers(0.0, 100.0))), Turn(degrees, draw(numbers(0.3, 30.0)), n)]
        t = math.cos(math.radians(degrees)) * t + math.sin(math.radians(degrees)) * n
    return route(*pieces, Go(draw(numbers(0.0, 100.0))), heading=heading)


paths = shapes().map(lambda shape: route(*shape[0], heading=shape[1]))
uphill_paths = shapes((0, 80), uphill=True).map(lambda shape: route(*shape[0], heading=shape[1]))
downhill_paths = shapes((-80, -20)).map(lambda shape: route(*shape[0], heading=shape[1]))


def pull(path: Path, *args: Any, **more: Any) -> NDArray[np.float64]:
    return integrate(path, *args, **more)[1]


def never_lower(more: NDArray[np.float64], less: NDArray[np.float64]) -> bool:
    return bool((more >= less - TWICE * max(1.0, float(more.max()))).all())


def same(a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
    return bool(np.abs(a - b).max() <= TWICE * max(1.0, float(b.max())))


# --- geometry -----------------------------------------------------------------------------------


@methods
@drawn
@given(shapes(), weights, frictions, starts, numbers(-math.pi, math.pi), st.booleans())
def test_turning_a_route_about_the_vertical_changes_nothing(
    method: str, shape: Any, w: float, k: float, start: float, turn: float, back: bool
) -> None:
    points, radii = vertices(*shape)
    c, s = math.cos(turn), math.sin(turn)
    turned = points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    case = (w, k, 1.0, start, back, method)
    ours, theirs = (pull(fillet(p, radii), *case) for p in (turned, points))
    if len(ours) != len(theirs):  # a straight of a nanometer may round away in one of them alone
        ours, theirs = ours[[0, -1]], theirs[[0, -1]]
    assert same(ours, theirs)


@methods
@drawn
@given(paths, weights, frictions, starts, st.lists(numbers(0, 1), max_size=5), st.booleans())
def test_a_joint_anywhere_changes_nothing(
    method: str, path: Path, w: float, k: float, start: float, cuts: list[float], back: bool
) -> None:
    cut = path.split(np.array(cuts) * path.length)
    kept = np.abs(cut.stations[:, None] - path.stations).argmin(axis=0)
    case = (w, k, 1.0, start, back, method)
    after, before = pull(cut, *case), pull(path, *case)
    if back:
        after, before = after[::-1], before[::-1]
    assert same(after[kept], before)


@drawn
@given(paths)
def test_a_path_reversed_twice_is_itself(path: Path) -> None:
    again = path.reversed().reversed()
    for name in ("kind", "lengths", "angles", "vertex", "leg"):
        assert (getattr(again, name) == getattr(path, name)).all()
    for name in ("starts", "tangents", "normals"):  # rounding of turns and of some hundred meters
        assert getattr(again, name) == pytest.approx(getattr(path, name), abs=1e-12 * 1e3)


# --- monotone -----------------------------------------------------------------------------------


@methods
@drawn
@given(paths, weights, frictions, numbers(0, 0.3), starts, st.booleans())
def test_more_friction_never_lowers_tension(
    method: str, path: Path, w: float, k: float, more: float, start: float, back: bool
) -> None:
    low, high = (pull(path, w, f, 1.0, start, back, method) for f in (k, k + more))
    assert never_lower(high, low)


@methods
@drawn
@given(paths, weights, frictions, starts, numbers(0, 5e3), st.booleans())
def test_more_back_tension_never_lowers_tension(
    method: str, path: Path, w: float, k: float, start: float, more: float, back: bool
) -> None:
    low, high = (pull(path, w, k, 1.0, t, back, method) for t in (start, start + more))
    assert never_lower(high, low)


@drawn
@given(crests(), weights, numbers(1.0, 3.0), frictions, starts)
def test_more_weight_never_lowers_tension_on_a_climb_that_does_not_sag(
    path: Path, w: float, factor: float, k: float, start: float
) -> None:
    assert never_lower(pull(path, w * factor, k, 1.0, start), pull(path, w, k, 1.0, start))


@drawn
@given(uphill_paths, weights, numbers(1.0, 3.0), frictions, starts)
def test_more_weight_never_lowers_the_handbook_on_any_climb(
    path: Path, w: float, factor: float, k: float, start: float
) -> None:
    low, high = (pull(path, x, k, 1.0, start, method="handbook") for x in (w, w * factor))
    assert never_lower(high, low)


@methods
def test_more_weight_does_lower_tension_downhill(method: str) -> None:
    # "More weight never lowers tension" does not hold as a blanket statement: down a slope steeper
    # than friction holds, weight pulls along. 60 m at 30 degrees: ΔT = 60 w (0.2 cos - sin) < 0.
    path = route(Go(60.0), Turn(40, 3.0), Go(5.0), heading=slope(-30))
    light, heavy = (pull(path, w, 0.2, 1.0, 4000.0, method=method) for w in (20.0, 40.0))
    assert (heavy[1:] < light[1:]).all()
    assert heavy[1] - light[1] == pytest.approx(60 * 20 * (0.2 * math.sqrt(0.75) - 0.5))


def test_more_weight_does_lower_tension_where_a_level_run_sweeps_up() -> None:
    # Nor does it hold on every climb: pulled tight onto the upper wall, the cable is lifted off it
    # by its weight. At the foot t_z = 0 and dT/ds = K (T/R - w).
    path = route(Turn(5.0, 3.0, "up"))
    light, heavy = (pull(path, w, 0.5, 1.0, 4000.0) for w in (20.0, 40.0))
    assert heavy[-1] < light[-1] - 1.0


# --- limits -------------------------------------------------------------------------------------


@drawn
@given(paths, weights, numbers(0.0, 1e4), st.booleans())
def test_without_friction_only_the_weight_lifted_counts(
    path: Path, w: float, spare: float, back: bool
) -> None:
    height = np.append(path.starts[:, 2], path.ends[-1, 2])
    height = height[::-1] if back else height
    start = spare + w * path.length  # taut: no drop can be deeper than the route is long
    expected = start + w * (height - height[0])
    assert pull(path, w, 0.0, 1.0, start, back) == pytest.approx(expected, rel=TWICE)


@methods
@drawn
@given(paths, st.lists(st.tuples(weights, frictions, starts), min_size=2, max_size=6))
def test_one_scenario_gives_what_it_gives_among_many(
    method: str, path: Path, cases: list[tuple[float, float, float]]
) -> None:
    w, k, start = np.array(cases).T
    together = pull(path, w, k, 1.0, start, method=method)
    for i, case in enumerate(cases):
        alone = pull(path, *case[:2], 1.0, case[2], method=method)
        scale = max(float(alone.max()), case[0] * path.length)  # all may be zero but for rounding
        assert together[:, i] == pytest.approx(alone, rel=1e-10, abs=1e-10 * scale)


@drawn
@given(downhill_paths, weights, numbers(0.0, 0.4))
def test_the_brake_is_the_border_between_taut_and_slack(path: Path, w: float, k: float) -> None:
    cell = path.length / 300
    fine = path.split(np.arange(1, 300) * cell)
    hold = float(brake(fine, w, k)[1][0])
    assume(hold > w * 0.01)
    at, above, below, lower = (pull(fine, w, k, 1.0, f * hold) for f in (1, 1.01, 0.99, 0.9))
    assert at.min() <= w * (1 + k) * cell + 1e-6 * hold  # zero lies within a cell of a joint
    assert above.min() > 0
    # Slack forgets what held it: past the place that sets the brake all such pulls are one.
    # (The brake itself is found to rounding, so where all ends at zero it may end beside it.)
    assert abs(below[-1] - at[-1]) <= 1e-9 * at[-1] + 1e-6 * hold
    assert abs(lower[-1] - at[-1]) <= 1e-9 * at[-1] + 1e-6 * hold
    assert above[-1] > at[-1]
