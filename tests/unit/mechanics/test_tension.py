"""Tension along whole paths, against DOP853 on the law as written (tests/support/oracle.py)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from route3d.geometry import Path, fillet
from route3d.mechanics.tension import brake, integrate
from tests.support import oracle
from tests.support.routes import UP, Case, Go, Turn, random_case, route, slope

# The figure of docs/theory.md section 15, of the largest tension of the pull.
PROMISED = 1e-8
# One scenario and many run through different code; both are 1e-8 right, and where neither halves
# a bend they are the same sums in another order, or within the 2e-11 a bend of the taut stage.
SAME = 1e-10


def worst(path: Path, w: float, k: float, start: float = 0.0, reverse: bool = False) -> float:
    """Largest difference from the oracle, as a share of the largest tension."""
    expected = np.array(oracle.tensions(path, w, k, start, reverse))
    _, ours = integrate(path, w, k, start_tension=start, reverse=reverse)
    scale = expected.max() or w * path.length
    return float(np.abs(ours - expected).max() / scale)


# --- the exact method ---------------------------------------------------------------------------


@pytest.mark.parametrize("batch", range(10))
def test_300_random_routes_agree_with_a_high_order_solution(batch: int) -> None:
    rng = np.random.default_rng([20240611, batch])
    for number in range(30):
        path, w, k, start, reverse = random_case(rng)
        assert worst(path, w, k, start, reverse) <= PROMISED, f"route {number} of batch {batch}"


def test_the_random_routes_do_contain_the_hard_cases() -> None:
    cases = [c for b in range(10) for c in _batch(b)]
    slack = tight = flat = 0
    for case in cases:
        _, t = integrate(case.path, case.weight, case.friction, 1.0, case.start, case.reverse)
        slack += bool((t[1:] == 0).any())
        tight += bool((case.path.angles > np.radians(169)).any())
        flat += bool(((case.path.angles > 0) & (case.path.angles < np.radians(0.03))).any())
    assert min(slack, tight, flat) > 30
    assert sum(c.start == 0 for c in cases) > 50


def _batch(batch: int) -> list[Case]:
    rng = np.random.default_rng([20240611, batch])
    return [random_case(rng) for _ in range(30)]


@pytest.mark.parametrize("out_of_plane", [0.0, *(10.0**e for e in range(-14, -1))])
@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("start", [0.0, 5.0, 60.0, 300.0])
def test_a_low_tension_sag_close_to_a_vertical_plane(
    out_of_plane: float, reverse: bool, start: float
) -> None:
    # The cable goes from one wall to the other within a length of about b: the stiffest case.
    side = UP + out_of_plane * np.array([0.0, 1.0, 0.0])
    path = route(Go(3.0), Turn(80, 12.0, side), Go(5.0), heading=slope(-40))
    assert worst(path, 9.0, 0.4, start, reverse) <= PROMISED


@pytest.mark.parametrize("radius", [0.1, 1.2, 300.0])
@pytest.mark.parametrize("degrees", [0.02, 1.0, 90.0, 170.0])
@pytest.mark.parametrize("side", ["left", "up", "down", (0.3, 1.0, -2.0)])
@pytest.mark.parametrize("climb", [-60.0, 0.0, 25.0])
def test_bends_of_every_size_from_zero_tension(
    radius: float, degrees: float, side: str, climb: float
) -> None:
    path = route(Go(2.0), Turn(degrees, radius, side), Go(2.0), heading=slope(climb))
    assert worst(path, 20.0, 0.35) <= PROMISED
    assert worst(path, 20.0, 0.35, reverse=True) <= PROMISED


def test_a_sag_that_leaves_the_wall_and_comes_back_inside_one_bend() -> None:
    # Once missed: both ends ride the inner wall, the middle lies on the outer one.
    path = route(Turn(157, 10.0, "up"), heading=slope(-89.3))
    assert worst(path, 4.06, 0.98, 46.29) <= PROMISED
    near = route(Turn(157, 10.0, UP + 1e-9 * np.array([0, 1, 0])), heading=slope(-80))
    assert worst(near, 4.06, 0.98, 40.0) <= PROMISED


def test_a_bend_whose_last_legendre_coefficient_vanishes_by_accident() -> None:
    # Once taken as resolved with an error of 1e-6: c4 passes through zero at this tension.
    t = np.array([0.0, np.sqrt(1 - 0.5640431519535846**2), 0.5640431519535846])
    for start in np.linspace(180.0, 200.0, 41):
        path = route(Turn(45, 10.0, (0.6030842772519679, -0.38, 0.5640431519535868)), heading=t)
        assert worst(path, 25.927, 0.7275, float(start)) <= PROMISED


def test_straights_are_exact_to_rounding() -> None:
    path = route(Go(80.0), heading=slope(30))
    _, t = integrate(path, 15.0, 0.3, 1.4, 100.0)
    expected = 100 + 80 * 15 * (math.sin(math.pi / 6) + 0.3 * 1.4 * math.cos(math.pi / 6))
    assert t[-1] == pytest.approx(expected, rel=1e-14)


def test_the_weight_factor_multiplies_friction_and_never_the_slope() -> None:
    path = route(Go(10.0), Turn(70, 2.0, (0.2, 1, 1)), Go(10.0), heading=slope(20))
    both = integrate(path, 15.0, 0.2, 1.5, 50.0)[1]
    assert integrate(path, 15.0, 0.3, 1.0, 50.0)[1] == pytest.approx(both, rel=1e-13)


def test_stations_of_a_reversed_pull_fall() -> None:
    path = route(Go(10.0), Turn(90, 2.0), Go(5.0))
    stations, _ = integrate(path, 10.0, 0.3, reverse=True)
    assert stations.tolist() == path.stations[::-1].tolist()


def test_a_turn_at_a_pull_point_multiplies_like_a_sheave() -> None:
    path = fillet([[0, 0, 0], [10, 0, 0], [10, 10, 0]], [0, 0, 0], corners=(1,))
    _, t = integrate(path, 10.0, 0.3, 1.0, 500.0)
    assert t[2] == pytest.approx(t[1] * math.exp(0.3 * math.pi / 2), rel=1e-14)


# --- scenarios ----------------------------------------------------------------------------------


@pytest.mark.parametrize("method", ["exact", "handbook"])
@pytest.mark.parametrize("seed", range(12))
def test_many_scenarios_give_what_each_alone_gives(method: str, seed: int) -> None:
    rng = np.random.default_rng([7, seed])
    path, _, _, _, reverse = random_case(rng)
    n = 60
    w, mu, omega = rng.uniform(5, 80, n), rng.uniform(0, 0.9, n), rng.uniform(1, 1.6, n)
    start = np.where(rng.random(n) < 0.3, 0.0, 10.0 ** rng.uniform(-1, 4, n))
    _, together = integrate(path, w, mu, omega, start, reverse, method)
    for i in range(n):
        _, alone = integrate(path, w[i], mu[i], omega[i], start[i], reverse, method)
        assert together[:, i] == pytest.approx(alone, rel=SAME, abs=SAME * alone.max())


def test_scenarios_of_any_shape_broadcast() -> None:
    path = route(Go(10.0), Turn(60, 2.0, (0, 1, 1)), Go(5.0))
    w, mu = np.linspace(10, 20, 3)[:, None], np.linspace(0.1, 0.4, 4)
    _, t = integrate(path, w, mu, 1.2, 100.0)
    assert t.shape == (4, 3, 4)
    assert t[-1, 2, 1] == pytest.approx(integrate(path, 20.0, 0.2, 1.2, 100.0)[1][-1], rel=SAME)


def test_more_scenarios_than_one_chunk_holds() -> None:
    path = route(Go(10.0), Turn(60, 2.0, (0, 1, 1)), Go(5.0))
    mu = np.linspace(0.0, 0.5, 20_001)
    _, t = integrate(path, 12.0, mu)
    for i in (0, 8191, 8192, 16384, 20_000):
        assert t[-1, i] == pytest.approx(integrate(path, 12.0, mu[i])[1][-1], rel=SAME)


def test_friction_by_segment_is_the_pulls_one_after_another() -> None:
    path = route(Go(10.0), Turn(60, 2.0, (0, 1, 1)), Go(5.0), Turn(90, 1.0, "left"), Go(8.0))
    mu = np.array([0.2, 0.3, 0.25, 0.4, 0.15])
    omega = np.array([1.0, 1.2, 1.1, 1.3, 1.0])
    for reverse in (False, True):
        _, whole = integrate(path, 12.0, mu, omega, 30.0, reverse, per_segment=True)
        order = range(5)[::-1] if reverse else range(5)
        t = 30.0
        for step, i in enumerate(order):
            t = float(integrate(_only(path, i), 12.0, mu[i], omega[i], t, reverse)[1][-1])
            assert whole[step + 1] == pytest.approx(t, rel=SAME)


def test_friction_by_segment_and_scenario() -> None:
    path = route(Go(10.0), Turn(60, 2.0, (0, 1, 1)), Go(5.0))
    mu = np.array([[0.2, 0.3], [0.25, 0.1], [0.4, 0.15]])
    _, t = integrate(path, 12.0, mu, 1.1, 30.0, per_segment=True)
    for i in range(2):
        alone = integrate(path, 12.0, mu[:, i], 1.1, 30.0, per_segment=True)[1]
        assert t[:, i] == pytest.approx(alone, rel=SAME)


def _only(path: Path, i: int) -> Path:
    one = slice(i, i + 1)
    return Path(
        path.kind[one],
        path.lengths[one],
        path.angles[one],
        path.starts[one],
        path.tangents[one],
        path.normals[one],
        path.vertex[one],
        path.leg[one],
    )


# --- slack and the brake ------------------------------------------------------------------------


def test_a_slack_cable_does_not_push() -> None:
    path = route(Go(50.0), heading=slope(-60))
    assert integrate(path, 10.0, 0.2, 1.0, 100.0)[1][-1] == 0.0


def _steep_routes() -> list[tuple[Path, float, float]]:
    rng = np.random.default_rng(11)
    found: list[tuple[Path, float, float]] = []
    while len(found) < 25:
        path, w, k, _, _ = random_case(rng)
        if brake(path, w, k)[1][0] > 0:
            found.append((path, w, k))
    return found


def _bottoms(path: Path, w: float, k: float) -> list[float]:
    """Stations where a cable without tension would start to pick it up: the least is there.

    Where T < 0 and falls through zero, that rate is negative, and T cannot rise through zero again
    before the rate is positive: so T is below zero at one of these places or at a joint.
    """
    found = []
    for start, piece in zip(path.stations, oracle.pieces(path), strict=False):
        at = np.linspace(0.0, piece.length, 200)
        rates = [oracle.resting(piece, float(s), w, k) for s in at]
        for s, f, before, after in zip(at, at[1:], rates, rates[1:], strict=False):
            if before < 0 <= after:
                root = brentq(lambda x, p=piece: oracle.resting(p, x, w, k), s, f, xtol=1e-15)
                found.append(float(start + root))
    return found


def _least(path: Path, w: float, k: float, start: float) -> float:
    """Least tension of a pull that may fall below zero."""
    return min(oracle.tensions(path.split(_bottoms(path, w, k)), w, k, start, slack=False))


@pytest.mark.parametrize("case", range(25))
def test_the_brake_keeps_the_cable_just_taut(case: int) -> None:
    path, w, k = _steep_routes()[case]
    needed = float(brake(path, w, k)[1][0])
    scale = w * path.length
    # Friction amplifies an error of the brake on its way to where the tension is least.
    error = 1e-9 * scale * math.exp(k * path.turn)
    assert abs(_least(path, w, k, needed)) <= error
    assert _least(path, w, k, needed * (1 + 1e-6) + error) > 0
    assert _least(path, w, k, needed * (1 - 1e-6) - error) < 0


@pytest.mark.parametrize("case", range(0, 25, 5))
def test_the_brake_is_what_a_search_on_the_oracle_finds(case: int) -> None:
    path, w, k = _steep_routes()[case]
    most = 4 * w * path.length + 4 * w * float(path.radii[path.angles > 0].max())
    # To 1e-14 of the first bracket; the rest is what the method promises.
    found = brentq(lambda t: _least(path, w, k, t), 0.0, most, xtol=1e-14 * most, rtol=1e-14)
    assert brake(path, w, k)[1][0] == pytest.approx(
        found, rel=PROMISED, abs=1e-10 * w * path.length
    )


@pytest.mark.parametrize("reverse", [False, True])
def test_integrate_at_the_brake_never_touches_zero_before_the_place_that_sets_it(
    reverse: bool,
) -> None:
    path = route(Go(4.0), Turn(30, 3.0, "down"), Go(40.0), Turn(90, 2.0, "up"), Go(30.0))
    _, needed = brake(path, 12.0, 0.25, reverse=reverse)
    enough = integrate(path, 12.0, 0.25, 1.0, needed[0] * (1 + 1e-9), reverse)[1]
    short = integrate(path, 12.0, 0.25, 1.0, needed[0] * 0.99, reverse)[1]
    assert (enough[:-1] > 0).all()
    assert needed[0] > 0
    # With less the cable is clamped on the way, and from there on the two pulls are the same
    # but for what the brake sends on: a clamped pull ends above the one that may go below zero.
    free = oracle.tensions(path, 12.0, 0.25, float(needed[0] * 0.99), reverse, slack=False)
    assert short[-1] > free[-1]


def test_brake_along_a_straight_riser_is_its_weight_less_its_friction() -> None:
    path = route(Go(30.0), heading=slope(-70))
    stations, needed = brake(path, 12.0, 0.3, 1.1)
    hold = 30 * 12 * (math.sin(math.radians(70)) - 0.33 * math.cos(math.radians(70)))
    assert stations.tolist() == [0.0, 30.0]
    assert needed == pytest.approx([hold, 0.0], rel=1e-13)


def test_no_brake_is_needed_where_friction_holds_the_cable() -> None:
    path = route(Go(10.0), Turn(45, 3.0, "up"), Go(30.0), heading=slope(-5))
    assert brake(path, 12.0, 0.3)[1][0] == 0.0


def test_brake_of_each_joint_is_the_brake_of_what_follows() -> None:
    path = route(Go(9.0), Turn(60, 2.0, (0, 1, -1)), Go(30.0), Turn(40, 4.0, "up"), Go(5.0))
    _, needed = brake(path, 12.0, 0.2)
    _, t = integrate(path, 12.0, 0.2, start_tension=needed[0])
    assert (t >= needed - 1e-9 * needed.max()).all()


# --- the handbook method ------------------------------------------------------------------------


def test_handbook_bends_multiply_and_forget_their_weight() -> None:
    path = route(Turn(45, 3.0), Turn(90, 2.0, "up"), Turn(30, 8.0, "down"))
    _, t = integrate(path, 12.0, 0.3, 1.2, 400.0, method="handbook")
    factor = [math.exp(0.36 * math.radians(a)) for a in (45, 90, 30)]
    assert t == pytest.approx(400 * np.cumprod([1.0, *factor]), rel=1e-13)


def test_handbook_restarts_from_zero_below_a_steep_descent() -> None:
    level, down = Go(10.0), Go(50.0)
    path = route(down, Turn(60, 1.0, "up"), level, heading=slope(-60))
    _, t = integrate(path, 12.0, 0.3, 1.0, 5.0, method="handbook")
    assert t[1] == t[2] == 0.0
    assert t[3] == pytest.approx(10 * 12 * 0.3, rel=1e-13)


def test_methods_agree_where_tension_dwarfs_weight() -> None:
    path = route(Turn(90, 0.5), Turn(45, 0.5, "up"), Turn(45, 0.5, "down"))
    _, exact = integrate(path, 1e-6, 0.3, 1.2, 4000.0)
    _, handbook = integrate(path, 1e-6, 0.3, 1.2, 4000.0, method="handbook")
    assert exact == pytest.approx(handbook, rel=1e-8)  # they differ by about wR/T = 1e-10


# --- misuse -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"weight": 0.0}, "weight must be positive"),
        ({"weight": np.array([1.0, -1.0])}, "weight must be positive"),
        ({"weight": float("nan")}, "weight"),
        ({"start_tension": -1.0}, "start_tension must not be negative"),
        ({"start_tension": float("nan")}, "start_tension"),
        ({"weight_factor": -0.1}, "weight_factor must not be negative"),
        ({"method": "best"}, "method 'best' is not one of"),
        ({"friction": np.ones(2), "per_segment": True}, "the 3 segments, not 2"),
        ({"friction": np.ones(2), "weight": np.ones(3)}, "broadcast"),
    ],
)
def test_values_that_mean_nothing_are_refused(change: dict[str, object], message: str) -> None:
    path = route(Go(1.0), Turn(90, 2.0), Go(1.0))
    with pytest.raises(ValueError, match=message):
        integrate(path, **({"weight": 10.0, "friction": 0.3} | change))  # type: ignore[arg-type]


@pytest.mark.parametrize("count", [1, 3])
def test_a_tension_beyond_any_number_is_infinite_and_never_nan(count: int) -> None:
    path = route(*[Turn(170, 1.0)] * 200)
    _, t = integrate(path, 10.0, np.full(count, 2.0), 1.0, 1.0)
    assert np.isinf(t[-1]).all()
    assert not np.isnan(t).any()


def test_results_do_not_share_memory_with_the_path() -> None:
    path = route(Go(1.0), Turn(90, 2.0), Go(1.0))
    tensions: NDArray[np.float64] = integrate(path, 10.0, 0.3)[1]
    tensions[:] = -1
    assert integrate(path, 10.0, 0.3)[1][-1] > 0
