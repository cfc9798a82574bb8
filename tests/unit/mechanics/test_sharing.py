"""Main cables carry the pull, riding cables come along."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.checks.limits import (
    cable_cap,
    check_loads,
    conductor_limit,
    grip_limit,
    rider_limits,
    sidewall_limit,
    utilization,
)
from route3d.mechanics.arrangement import FitError
from route3d.mechanics.pull import Pull, run_fits, solve_pull
from route3d.mechanics.sharing import largest_main_share, tension_shares
from route3d.model import Cable, CableSet, Practice, Rigging
from route3d.units import GRAVITY
from tests.support import jobs
from tests.support.jobs import INCH, LBF, LBF_PER_FT, along, conduit
from tests.support.routes import Go, Turn, vertices

CMIL = 0.25 * 3.141592653589793 * (INCH / 1000) ** 2
AXIS = Practice(sidewall_radius="centerline")
ONE_BEND = along(vertices([Go(30), Turn(90, 1.2), Go(10)]), conduit(5.016 * INCH, 0.3))


def copper(name: str, kcmil: float, lb_per_ft: float, inches: float, **more: object) -> Cable:
    return jobs.cable(name, inches * INCH, lb_per_ft * LBF_PER_FT, area=kcmil * 1000 * CMIL, **more)


# The riders example of the worked answers: computed there, by statics.
BIG = copper("phase", 750, 3.40, 1.8, sidewall_limit=500 * LBF_PER_FT)
EARTH = copper("earth", 41.74, 0.15, 0.32, sidewall_limit=500 * LBF_PER_FT)


def rules(cables: CableSet, **more: object) -> dict[str, tuple[float, bool]]:
    return {s.cable.name: (s.share, s.rides) for s in tension_shares(cables, **more)}  # type: ignore[arg-type]


def test_the_main_cable_carries_all_and_the_earth_its_share_of_the_weight() -> None:
    shares = rules(CableSet(((BIG, 1), (EARTH, 1))))
    assert shares["phase"] == (1.0, False)
    assert shares["earth"] == (pytest.approx(0.15 / 3.55), True)


def test_its_sidewall_is_that_of_the_cable_alone_and_the_earth_keeps_its_own_strength() -> None:
    alone = solve_pull(jobs.run(ONE_BEND, BIG, reel_tension=4000.0), AXIS)
    together = jobs.run(ONE_BEND, [(BIG, 1), (EARTH, 1)], reel_tension=4000.0)
    pull = solve_pull(together, AXIS)
    peak = pull.profile.tension[pull.worst_rows[1]]
    assert pull.peak_sidewall == pytest.approx(peak / 1.2)  # T/R, not halved
    assert pull.peak_sidewall > alone.peak_sidewall  # the earth's weight comes on top
    ((share, limit),) = rider_limits(together, AXIS)
    assert limit.value / LBF == pytest.approx(41_740 * 0.008, rel=2e-4)  # 334 lbf
    rule = {f.rule: f for f in check_loads(pull)}["riding cable earth"]
    assert rule.demand == pytest.approx(0.15 / 3.55 * pull.peak_tension)
    assert rule.limit == limit.value
    assert share.rides


@pytest.mark.parametrize(("pull", "severity"), [(0.999, "caution"), (1.001, "stop"), (0.89, "ok")])
def test_a_riding_cable_at_its_own_strength(pull: float, severity: str) -> None:
    weak = replace(EARTH, max_tension=100.0)
    run = jobs.run(along(vertices([Go(10), Turn(90, 1.5), Go(10)]), conduit(friction=0.0)))
    run = replace(run, cables=CableSet(((BIG, 1), (weak, 1))))
    run = replace(run, reel_tension=pull * 100.0 / (0.15 / 3.55))
    found = {f.rule: f for f in check_loads(solve_pull(run, AXIS))}["riding cable earth"]
    assert found.severity == severity
    # The limit of the whole set follows the weakest of all, riding or not.
    assert conductor_limit(run, AXIS).value == pytest.approx(100.0 / (0.15 / 3.55))


def test_three_mains_with_an_earth_lie_as_the_three_do() -> None:
    """3 x 500 kcmil and one 4 AWG: no more "complex", and the jam ratio stays."""
    phase = copper("500", 500, 2.0, 1.25)
    three, four = (
        jobs.run(ONE_BEND, [(phase, 3), *((EARTH, 1) for _ in range(n))]) for n in (0, 1)
    )
    (alone, *_), (with_earth, *_) = run_fits(three), run_fits(four)
    for name in ("arrangement", "weight_factor", "jam_ratio", "sidewall_factor"):
        assert getattr(with_earth, name) == getattr(alone, name)
    extra = (0.32 * INCH) ** 2 / (5.016 * INCH) ** 2
    assert with_earth.fill == pytest.approx(alone.fill + extra)
    assert conductor_limit(four, AXIS).value == pytest.approx(conductor_limit(three, AXIS).value)
    # Where every cable lies: none over another, none through the wall.
    centers, sizes = with_earth.centers, with_earth.diameters
    for i, (x, y) in enumerate(centers):
        assert (x * x + y * y) ** 0.5 <= (5.016 * INCH - sizes[i]) / 2 + 1e-9
        for j in range(i):
            gap = ((x - centers[j, 0]) ** 2 + (y - centers[j, 1]) ** 2) ** 0.5
            assert gap >= (sizes[i] + sizes[j]) / 2 - 1e-9


@pytest.mark.parametrize(("area", "rides"), [(187.5, True), (187.6, False)])
def test_a_quarter_of_the_area_is_where_a_cable_begins_to_share(area: float, rides: bool) -> None:
    small = copper("small", area, 0.8, 0.9)
    assert rules(CableSet(((BIG, 1), (small, 1))))["small"][1] is rides


def test_a_cable_may_say_itself_whether_it_carries_the_pull() -> None:
    half = copper("half", 375, 1.7, 1.3)
    assert not rules(CableSet(((BIG, 1), (half, 1))))["half"][1]
    assert rules(CableSet(((BIG, 1), (replace(half, main=False), 1))))["half"][1]
    assert not rules(CableSet(((BIG, 1), (replace(EARTH, main=True), 1))))["earth"][1]


def test_main_cables_share_by_area_or_equally_the_worse() -> None:
    half = copper("half", 375, 1.7, 1.3)
    shares = rules(CableSet(((BIG, 1), (half, 1))))
    assert shares["phase"] == (pytest.approx(750 / 1125), False)  # by area
    assert shares["half"] == (pytest.approx(0.5), False)  # equally
    assert largest_main_share(CableSet(((BIG, 1), (half, 1)))) == pytest.approx(750 / 1125)
    area = rules(CableSet(((BIG, 1), (half, 1))), sharing="conductor area")
    assert [area[n][0] for n in ("phase", "half")] == pytest.approx([2 / 3, 1 / 3])
    equal = rules(CableSet(((BIG, 1), (half, 1))), sharing="equal")
    assert [equal[n][0] for n in ("phase", "half")] == pytest.approx([0.5, 0.5])


def test_no_cable_presses_with_less_than_its_share() -> None:
    half = copper("half", 375, 1.7, 1.3)
    run = jobs.run(ONE_BEND, [(BIG, 1), (half, 1)])
    assert run_fits(run)[0].sidewall_factor == pytest.approx(750 / 1125)
    assert run_fits(run)[0].by_share


def test_under_a_basket_grip_nothing_rides_free() -> None:
    shares = rules(CableSet(((BIG, 3), (EARTH, 1))), attach="basket grip")
    assert shares["earth"] == (pytest.approx(0.25), True)  # an equal share of four
    assert shares["phase"][0] == pytest.approx(1 / 3)  # and the mains lose nothing


def test_the_sidewall_limit_of_a_riding_cable_counts_for_its_own_share() -> None:
    tender = replace(EARTH, sidewall_limit=10.0)
    run = jobs.run(ONE_BEND, [(BIG, 1), (tender, 1)])
    assert sidewall_limit(run).value == pytest.approx(10.0 / (0.15 / 3.55))
    assert "a riding cable" in sidewall_limit(run).source
    tougher = replace(tender, sidewall_limit=BIG.sidewall_limit)
    assert sidewall_limit(jobs.run(ONE_BEND, [(BIG, 1), (tougher, 1)])).value == BIG.sidewall_limit


def conductors(pull: Pull) -> float:
    """Share of the conductor limit of the main cables."""
    return next(f.ratio for f in check_loads(pull) if f.rule == "conductor tension")


SIZES = [(4.0, 0.02, 0.1), (41.74, 0.15, 0.32), (105.6, 0.4, 0.5), (187.0, 0.7, 0.7)]


@settings(max_examples=60, deadline=None)
@given(
    count=st.integers(1, 6),
    size=st.sampled_from(SIZES),
    riders=st.integers(1, 3),
    attach=st.sampled_from(["pulling eyes", "basket grip"]),
    arrangement=st.sampled_from(["auto", "single", "two", "triangular", "cradled", "diamond"]),
    drag=st.floats(0.0, 40.0),
)
def test_a_riding_cable_lowers_no_utilization_of_a_main_cable(
    count: int,
    size: tuple[float, float, float],
    riders: int,
    attach: str,
    arrangement: str,
    drag: float,
) -> None:
    """With reel tension in proportion to the weight, in any arrangement."""
    main = copper("750", 750, 3.4, 1.2)
    rider = copper("rider", *size)
    shared = {"attach": attach, "arrangement": arrangement, "rope": jobs.rope()}
    try:
        before, after = (
            solve_pull(
                jobs.run(
                    ONE_BEND,
                    cables,
                    reel_tension=drag * CableSet(tuple(cables)).weight,
                    machine=jobs.machine(),
                    **shared,
                ),
                Practice(),
            )
            for cables in ([(main, count)], [(main, count), (rider, riders)])
        )
    except FitError:  # so many do not lie so, or do not go in
        return
    a, b = utilization(before), utilization(after)
    for (name, share), (_, more) in zip(a.items(), b.items(), strict=True):
        if name == "conductor":  # of the main cables: the rider has a limit of its own
            share, more = (conductors(pull) for pull in (before, after))
        assert more >= (share or 0.0) * (1 - 1e-12), name


# --- four equal cables ----------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [2.6, 2.99, 3.01, 4.0, 5.0, 8.0])
def test_four_equal_cables_show_both_ways_and_do_not_swing_by_a_factor_of_eight(
    ratio: float,
) -> None:
    four = jobs.cable(diameter=0.13 / ratio)
    auto = run_fits(jobs.run(along(vertices([Go(5)]), conduit()), [(four, 4)]))[0]
    ways = {w.arrangement: w.sidewall_factor for w in auto.alternatives}
    assert set(ways) == {"diamond", "complex"}
    assert auto.arrangement == ("diamond" if ratio < 3 else "complex")
    assert max(ways.values()) / min(ways.values()) <= 2.0 + 1e-9
    assert min(ways.values()) >= 0.25  # never below a cable's own share
    assert (
        "below 3.0" if ratio < 3 else "3.0 or more"
    ) in auto.reason and f"{ratio:.3f}" in auto.reason
    assert auto.per_cable == (auto.arrangement == "diamond")


# --- caps -----------------------------------------------------------------------------------------


def test_a_plated_grip_does_not_raise_the_cap_that_protects_the_cable() -> None:
    """Three shielded cables on a basket grip plated 14,000 lbf: 5,962 lbf is a stop at 1,000."""
    run = jobs.run(
        ONE_BEND,
        [(jobs.cable(shielded=True, max_tension=1e6, sidewall_limit=1e6), 3)],
        attach="basket grip",
        rigging=Rigging("head", grip_rating=14_000 * LBF),
    )
    assert grip_limit(run).value == pytest.approx(1000 * LBF)
    stopped = solve_pull(replace(run, reel_tension=5000 * LBF), AXIS)
    finding = {f.rule: f for f in check_loads(stopped)}["basket grip load"]
    assert finding.severity == "stop" and finding.limit == pytest.approx(1000 * LBF)


@pytest.mark.parametrize(
    ("attach", "rigging", "cable", "lbf"),
    [
        ("basket grip", {}, {}, 1000),
        ("basket grip", {"grip_rating": 800 * LBF}, {}, 800),
        ("basket grip", {"grip_rating": 14e3 * LBF, "swivel_rating": 700 * LBF}, {}, 700),
        ("basket grip", {"grip_rating": 14e3 * LBF}, {"max_grip_tension": 2500 * LBF}, 2500),
        ("basket grip", {}, {"max_grip_tension": 600 * LBF}, 600),
        ("basket grip", {}, {"max_eye_tension": 600 * LBF}, 1000),
        ("pulling eyes", {"eye_rating": 20e3 * LBF}, {}, 10_000),
        ("pulling eyes", {"eye_rating": 8e3 * LBF}, {}, 8000),
        ("pulling eyes", {"swivel_rating": 7e3 * LBF}, {}, 7000),
        ("pulling eyes", {"eye_rating": 20e3 * LBF}, {"max_eye_tension": 15e3 * LBF}, 15_000),
    ],
)
def test_the_smallest_cap_counts_and_only_the_cable_maker_replaces_the_published_one(
    attach: str, rigging: dict[str, float], cable: dict[str, float], lbf: float
) -> None:
    # 1,000 lbf a basket grip and 10,000 lbf any device: READ, as in checks/test_limits.
    run = jobs.run(ONE_BEND, jobs.cable(**cable), attach=attach, rigging=Rigging("head", **rigging))
    assert grip_limit(run).value / LBF == pytest.approx(lbf)


def test_a_makers_figure_counts_only_where_all_cables_held_have_one() -> None:
    known = jobs.cable("known", max_grip_tension=9000 * LBF)
    run = jobs.run(ONE_BEND, [(known, 2), (jobs.cable("other"), 1)], attach="basket grip")
    assert cable_cap(run).value == pytest.approx(1000 * LBF)
    both = replace(run, cables=CableSet(((known, 2), (replace(known, name="b"), 1))))
    assert cable_cap(both).value == pytest.approx(9000 * LBF)
    assert "max_grip_tension" in cable_cap(both).source


def test_weights_here_are_forces() -> None:
    assert BIG.weight == pytest.approx(3.40 * 0.45359237 * GRAVITY / 0.3048)
