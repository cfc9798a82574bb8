from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.geometry.path import ARC, CORNER
from route3d.mechanics.pull import run_fits, solve_pull, with_friction
from route3d.model import Practice, Run
from tests.support import jobs, oracle
from tests.support.jobs import along, at, cable, conduit, lay
from tests.support.march import march
from tests.support.routes import Go, Turn, slope, vertices

EXACT = Practice()
HANDBOOK = Practice(bend_form="capstan")
# The method promises 1e-8 of the oracle; a profile repeats joints without touching them.
PROMISED = 1e-8

AHEAD = (1.0, 0.0, 0.0)  # the way out of a vertical leg, where left and up say nothing
CLIMB = [Go(40), Turn(90, 1.2), Go(25), Turn(90, 1.2, "up"), Go(12), Turn(60, 0.9, AHEAD), Go(6)]


def joints(pull, path=None):
    """Tension at every joint of the route's own path, in pulling order."""
    stations = pull.path.stations[::-1] if pull.reverse else pull.path.stations
    profile = pull.profile
    return [
        profile.tension[np.flatnonzero(np.abs(profile.station - s) < 1e-9)[-1]] for s in stations
    ]


def climbing_run(**more: object) -> Run:
    return jobs.run(along(vertices(CLIMB), conduit(friction=0.25)), cable(), **more)


# --- tension -----------------------------------------------------------------------------------


@pytest.mark.parametrize("reverse", [False, True])
def test_tension_at_every_joint_is_that_of_the_independent_solver(reverse: bool) -> None:
    run = climbing_run(reel_tension=900.0)
    pull = solve_pull(run, EXACT, reverse=reverse)
    theirs = oracle.tensions(pull.path, 25.0, 0.25, 900.0, reverse)
    assert joints(pull) == pytest.approx(theirs, rel=PROMISED)
    assert pull.end_tension == pytest.approx(theirs[-1], rel=PROMISED)


@pytest.mark.parametrize("reverse", [False, True])
def test_friction_and_bore_change_at_a_vertex(reverse: bool) -> None:
    # A bend counts with the leg that starts at its vertex ("from here onward", docs/model_file.md).
    d = 0.04
    wide, tight = conduit(3.5 * d, 0.2, "wide"), conduit(2.4 * d, 0.4, "tight")
    shape = vertices([Go(30), Turn(90, 1.2), Go(20), Turn(45, 1.2, "up"), Go(9)])
    run = jobs.run(along(shape, [wide, tight, wide]), [(cable(diameter=d), 3)], reel_tension=700.0)
    pull = solve_pull(run, EXACT, reverse=reverse)
    cradled = 1 + 4 / 3 / 2.5**2  # 1 + (4/3) x², x = d/(D-d)
    triangular = 1 / math.sqrt(1 - 1 / 1.4**2)
    by_leg = [0.2 * cradled, 0.4 * triangular, 0.2 * cradled]
    friction = [by_leg[leg] for leg in (0, 1, 1, 2, 2)]
    theirs = march(pull.path, 75.0, friction, 700.0, reverse)
    assert joints(pull) == pytest.approx(theirs, rel=PROMISED)
    assert [f.arrangement for f in pull.fits] == ["cradled", "triangular", "cradled"]


def test_weight_factor_in_straights_only_leaves_bends_to_plain_friction() -> None:
    shape = vertices([Go(30), Turn(90, 2.0), Go(10)])
    run = jobs.run(along(shape, conduit(0.14, 0.4)), [(cable(), 3)])
    pull = solve_pull(run, Practice(weight_factor_in="straights", bend_form="capstan"))
    omega = 1 + 4 / 3 / 2.5**2
    assert pull.fits[0].weight_factor == pytest.approx(omega, rel=1e-15)
    before = 0.4 * omega * 75.0 * 30
    after = before * math.exp(0.4 * math.pi / 2)
    end = after + 0.4 * omega * 75.0 * 10
    assert joints(pull) == pytest.approx([0.0, before, after, end], rel=1e-12)  # rounding


def test_the_handbook_neglects_weight_in_bends_and_so_gives_less_on_a_level_route() -> None:
    run = jobs.run(along(vertices([Go(5), Turn(90, 10.0), Go(5)]), conduit(friction=0.5)))
    full, hand = solve_pull(run, EXACT), solve_pull(run, HANDBOOK)
    # asinh(T2/(wR)) = asinh(T1/(wR)) + K θ against T1 exp(K θ): reference notes 1.2.
    t1, wr = 0.5 * 25 * 5, 25 * 10.0
    t2 = wr * math.sinh(math.asinh(t1 / wr) + 0.5 * math.pi / 2)
    assert joints(full)[2] == pytest.approx(t2, rel=PROMISED)
    assert joints(hand)[2] == pytest.approx(t1 * math.exp(0.5 * math.pi / 2), rel=1e-12)


def test_with_friction_multiplies_every_conduit_and_the_rope_and_nothing_else() -> None:
    run = climbing_run(rope=jobs.rope(friction=0.2))
    more = with_friction(run, 1.3)
    assert {c.friction for c in more.route.conduits} == {0.25 * 1.3}
    assert more.rope is not None and more.rope.friction == 0.2 * 1.3
    assert with_friction(more, 1 / 1.3).cables == run.cables
    assert solve_pull(more, EXACT).end_tension > solve_pull(run, EXACT).end_tension


# --- the profile -------------------------------------------------------------------------------


@pytest.mark.parametrize("reverse", [False, True])
def test_profile_places_each_row_where_the_path_has_its_station(reverse: bool) -> None:
    pull = solve_pull(climbing_run(), EXACT, reverse=reverse)
    profile, path = pull.profile, pull.path
    assert np.all(np.diff(profile.station) * (-1 if reverse else 1) >= 0)
    assert profile.xyz == pytest.approx(path.point(profile.station), abs=1e-9)
    assert np.array_equal(profile.kind, path.kind[profile.segment])
    # Both ends of every segment are there (docs/python.md).
    for segment in range(len(path)):
        rows = profile.station[profile.segment == segment]
        assert rows.min() == pytest.approx(path.stations[segment], abs=1e-9)
        assert rows.max() == pytest.approx(path.stations[segment + 1], abs=1e-9)


@pytest.mark.parametrize("reverse", [False, True])
def test_contact_is_the_wall_load_of_the_law(reverse: bool) -> None:
    pull = solve_pull(climbing_run(reel_tension=900.0), EXACT, reverse=reverse)
    profile, path = pull.profile, pull.path
    for row in range(0, len(profile.station), 7):
        i = int(profile.segment[row])
        inside = np.clip(profile.station[row], path.stations[i] + 1e-9, path.stations[i + 1] - 1e-9)
        t, n = path.tangent(inside), path.normal(inside)
        across = np.array([0, 0, 1.0]) - t[2] * t
        kappa = 1 / path.radii[i] if path.kind[i] == ARC else 0.0
        load = np.linalg.norm(profile.tension[row] * kappa * n - 25.0 * across)
        # The station is moved by 1e-9 m into its segment: 1e-6 covers 1e-9/R of turn.
        assert profile.contact[row] == pytest.approx(load, rel=1e-6, abs=1e-6)


def test_peaks_are_the_largest_of_the_profile_and_inside_a_bend_where_it_is_there() -> None:
    # Down a crest the tension rises by capstan and falls by weight: the peak lies inside.
    shape = vertices([Go(20), Turn(90, 20.0, "down"), Go(1)])
    run = jobs.run(along(shape, conduit(friction=0.2)), reel_tension=1400.0)
    pull = solve_pull(run, EXACT)
    start, end = joints(pull)[1:3]
    assert pull.peak_tension > max(start, end, pull.end_tension)
    # Second way: the oracle on a fine split; rows stand 7.5 degrees apart, so a little is missed:
    # T'' w R φ²/8 is below 0.003 w R at φ = 7.5 degrees.
    fine = pull.path.split(np.linspace(0, pull.path.length, 400))
    peak = max(march(fine, 25.0, [0.2] * len(fine), 1400.0))
    assert pull.peak_tension == pytest.approx(peak, abs=0.003 * 25 * 20)


# --- sidewall ----------------------------------------------------------------------------------

D = 0.1
ARRANGEMENTS = [
    # name, cables, D/d, sidewall over T/R by the published formula (reference notes 3)
    ("single", 1, 2.0, lambda x: 1.0),
    ("cradled", 3, 3.2, lambda x: (3 * (1 + 4 / 3 * x * x) - 2) / 3),
    ("triangular", 3, 2.6, lambda x: 1 / math.sqrt(1 - x * x) / 2),
    ("diamond", 4, 2.8, lambda x: 2 * x * x),  # w - 1, w = 1 + 2x²; from memory
    ("diamond", 4, 3.2, lambda x: 2 * x * x),  # published formula kept above its band
    ("two", 2, 2.6, lambda x: 1 / math.sqrt(1 - x * x) / 2),  # statics, no source
    ("complex", 4, 3.5, lambda x: 1.0),  # no published formula: the whole group
]


@pytest.mark.parametrize(("name", "count", "ratio", "factor"), ARRANGEMENTS)
@pytest.mark.parametrize("sidewall", ["per cable", "group"])
@pytest.mark.parametrize("radius", ["centerline", "inside"])
def test_sidewall_pressure_by_arrangement_and_practice(
    name: str, count: int, ratio: float, factor, sidewall: str, radius: str
) -> None:
    # Level and frictionless, so the tension in the bend is the reel tension exactly.
    shape = vertices([Go(10), Turn(90, 1.5), Go(10)])
    run = jobs.run(
        along(shape, conduit(D, 0.0)),
        [(cable(diameter=D / ratio), count)],
        arrangement=name,
        reel_tension=6000.0,
    )
    pull = solve_pull(run, Practice(sidewall=sidewall, sidewall_radius=radius))
    share = 1.0 if sidewall == "group" else factor(1 / (ratio - 1))
    if name == "diamond" and sidewall != "group":
        share = max(share, 0.5)  # statics of its two side cables, where w - 1 falls below
    bend = 1.5 - D / 2 if radius == "inside" else 1.5
    assert pull.end_tension == pytest.approx(6000.0, rel=1e-12)
    assert pull.peak_sidewall == pytest.approx(share * 6000.0 / bend, rel=1e-9)
    straight = pull.profile.sidewall[pull.profile.kind != ARC]
    assert not straight.any()


def test_sidewall_uses_the_tension_leaving_the_bend_and_each_bends_own_conduit() -> None:
    small, large = conduit(0.1, 0.4, "small"), conduit(0.14, 0.4, "large")
    shape = vertices([Go(10), Turn(90, 1.5), Go(10), Turn(90, 1.0), Go(10)])
    run = jobs.run(along(shape, [small, large, small]), [(cable(), 3)], reel_tension=1000.0)
    pull = solve_pull(run, EXACT)
    leaving = [joints(pull)[2], joints(pull)[4]]
    x = [0.04 / 0.10, 0.04 / 0.06]  # bend 1 lies in the large conduit, bend 2 in the small
    cradled, either = 1 + 4 / 3 * x[0] ** 2, 1 + 4 / 3 * x[1] ** 2  # D/d 2.5: cradled governs
    inner = [1.5 - 0.14 / 2, 1.0 - 0.1 / 2]  # R - ID/2
    factors = [(3 * cradled - 2) / 3, (3 * either - 2) / 3]
    expected = [f * t / r for f, t, r in zip(factors, leaving, inner, strict=True)]
    for bend, value in zip((1, 3), expected, strict=True):
        rows = pull.profile.segment == bend
        assert pull.profile.sidewall[rows].max() == pytest.approx(value, rel=1e-12)


# --- brake and slack ---------------------------------------------------------------------------


def test_auto_brake_down_a_slope_is_the_weight_less_its_friction() -> None:
    # Straight at 30 degrees: T falls by w (sin a - K cos a) a meter (reference notes 1.1).
    start, end = (0, 0, 0), 50 * slope(-30)
    run = jobs.run(lay(at(start, name="top"), at(end, name="foot"), conduits=conduit(friction=0.2)))
    down = solve_pull(run, EXACT)
    needed = 25 * 50 * (math.sin(math.radians(30)) - 0.2 * math.cos(math.radians(30)))
    assert down.brake == down.reel_tension == pytest.approx(needed, rel=1e-12)
    assert down.end_tension == pytest.approx(0.0, abs=1e-9)
    assert down.slack == ()
    up = solve_pull(run, EXACT, reverse=True)
    assert up.brake == up.reel_tension == 0.0


@pytest.mark.parametrize("reverse", [False, True])
def test_auto_brake_is_the_least_that_keeps_the_cable_taut(reverse: bool) -> None:
    shape = vertices([Go(8), Turn(90, 1.2, "down"), Go(30), Turn(90, 1.2, AHEAD), Go(10)])
    run = jobs.run(along(shape, conduit(friction=0.2)))
    auto = solve_pull(run, EXACT, reverse=reverse)
    assert auto.slack == ()
    if reverse:
        assert auto.brake == 0.0
        return
    # Second way: the soft law without the clamp, by the oracle, just touches zero somewhere: on a
    # split of 0.05 m it is missed by less than w 0.05 m.
    fine = auto.path.split(np.arange(0, auto.path.length, 0.05))
    free = oracle.tensions(fine, 25.0, 0.2, auto.brake, slack=False)
    assert -1e-5 * auto.brake <= min(free) <= 25.0 * 0.05
    less = jobs.run(run.route, reel_tension=0.99 * auto.brake)
    assert solve_pull(less, EXACT).slack != ()


def test_too_small_a_reel_tension_says_where_the_cable_overruns_and_what_brake_it_needs() -> None:
    shape = vertices([Go(20), Turn(90, 1.2, "down"), Go(30), Turn(90, 1.2, AHEAD), Go(10)])
    route = along(shape, conduit(friction=0.2))
    pull = solve_pull(jobs.run(route, reel_tension=50.0), EXACT)
    assert pull.brake == solve_pull(jobs.run(route), EXACT).brake > pull.reel_tension == 50.0
    ((begin, end),) = pull.slack
    # Second way: where the clamped oracle first and last touches zero, on a split of 0.1 m; rows
    # of a pull stand at most 10 m apart on straights.
    fine = pull.path.split(np.arange(0, pull.path.length, 0.1))
    zero = np.flatnonzero(np.array(march(fine, 25.0, [0.2] * len(fine), 50.0)) == 0.0)
    assert 0 <= begin - fine.stations[zero[0]] <= 10.0
    assert 0 <= fine.stations[zero[-1]] - end <= 10.0
    assert pull.profile.tension.min() == 0.0
    enough = solve_pull(jobs.run(route, reel_tension=pull.brake), EXACT)
    assert enough.slack == ()


def test_a_reel_tension_above_the_brake_is_taken_as_given() -> None:
    run = climbing_run(reel_tension=1234.0)
    pull = solve_pull(run, EXACT)
    assert pull.reel_tension == pull.profile.tension[0] == 1234.0
    assert pull.slack == ()


# --- pull points that turn ---------------------------------------------------------------------


@pytest.mark.parametrize("reverse", [False, True])
def test_a_pull_through_a_turning_pull_point_takes_its_capstan_factor(reverse: bool) -> None:
    route = lay(
        at((0, 0, 0), name="A"),
        at((30, 0, 0), name="V", ends="reel machine"),
        at((30, 20, 0), name="B"),
        conduits=conduit(friction=0.3),
    )
    pull = solve_pull(jobs.run(route), EXACT, reverse=reverse)
    first, second = (20, 30) if reverse else (30, 20)
    before = 0.3 * 25 * first
    after = before * math.exp(0.3 * math.pi / 2)
    assert pull.end_tension == pytest.approx(after + 0.3 * 25 * second, rel=1e-12)
    corner = pull.profile.kind == CORNER
    assert pull.profile.tension[corner] == pytest.approx([before, after], rel=1e-12)
    assert list(pull.profile.segment[corner]) == [1, 1]
    assert not pull.profile.sidewall.any()  # no published formula for a turn without radius


# --- the shape of a result ---------------------------------------------------------------------


def test_names_and_numbers_of_the_ends() -> None:
    run = climbing_run()
    there, back = solve_pull(run, EXACT), solve_pull(run, EXACT, reverse=True)
    assert (there.feed_name, there.pull_name, there.reverse) == ("A", "B", False)
    assert (back.feed_name, back.pull_name, back.reverse) == ("B", "A", True)
    assert there.machine_peak is None and there.heads is None  # no rope in the run


def test_path_and_fits_handed_in_change_nothing() -> None:
    run = climbing_run()
    pull = solve_pull(run, EXACT)
    again = solve_pull(run, EXACT, path=pull.path, fits=run_fits(run))
    assert np.array_equal(again.profile.tension, pull.profile.tension)
