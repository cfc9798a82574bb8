"""First movements by hand: what each limit is loaded with, and where a start is too much.

100 m of level straight duct, a cable of 25 N/m at friction 0.4 and a rope of 2 N/m at 0.2: with s m
of cable in, 500 N at the reel and friction 1.3 times as large, the machine moves off against
500 + 1.3 (10 s + 0.4 (100 - s)) N: 552 N at the start and 1,800 N at the end (statics). The cable's
own largest tension is 500 + 13 s N. Friction at rest may hold for 3 m, and both rise with s: what
a first move takes is what these give with 3 m more in, 589.44 N and 539 N from the start.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.restart import check_restart
from route3d.mechanics.pull import Pull, at_friction, solve_pull
from route3d.model import Allowances, Gear, Machine, Practice
from route3d.planning.pull_plan.findings import gear_findings, start_findings
from route3d.planning.pull_plan.head_history import history
from route3d.planning.pull_plan.schedule import Pace, pace
from route3d.planning.pull_plan.stops import FIRST_MOVE, first_moves
from tests.support.jobs import along, cable, conduit, machine, rope, run
from tests.support.routes import Go, Turn, vertices

LINE = ([[0, 0, 0], [100, 0, 0]], [0, 0])
STRONG = 1e6
AT_REST, END = 552.0, 1800.0
START = 500 + 1.3 * (10 * 3 + 0.4 * 97)  # 589.44 N, with the first 3 m in
HEAD_START = 500 + 13 * 3  # 539 N in the cable itself


def level(
    line: float = STRONG, puller: float = STRONG, conductor: float = 9000.0, **more: object
) -> Pull:
    one = cable(max_tension=conductor)
    built = run(
        along(LINE, conduit(friction=0.4)),
        one,
        rope=rope(rated_load=line),
        machine=more.pop("machine", machine(puller)),
        reel_tension=500.0,
        **more,
    )
    return solve_pull(built, Practice(restart=1.3))


def shares(pull: Pull) -> tuple[float, float]:
    """At the start and at the end of the pull."""
    course = history(pull)
    assert course is not None
    moves = first_moves(pull, course)
    return float(moves.share[0]), float(moves.share[-1])


def test_loads_at_rest_at_each_place() -> None:
    course = history(level())
    assert course is not None
    assert (course.restart[0], course.restart[-1]) == pytest.approx((AT_REST, END))
    assert course.restart == pytest.approx(500 + 1.3 * (9.6 * course.pulled + 40))
    assert course.load == pytest.approx(500 + 9.6 * course.pulled + 40)
    assert course.restart_tension == pytest.approx(500 + 13 * course.pulled)


def test_loads_of_a_first_movement_over_its_3_m() -> None:
    pull = level()
    course = history(pull)
    assert course is not None and FIRST_MOVE == 3.0  # common practice, no source
    moves = first_moves(pull, course)
    there = np.minimum(moves.pulled + 3.0, 100.0)
    assert moves.load == pytest.approx(500 + 1.3 * (9.6 * there + 40))
    assert moves.tension == pytest.approx(500 + 13 * there)
    assert (moves.load_at(0.0), moves.load_at(100.0)) == pytest.approx((START, END))
    assert not moves.sidewall.any()  # no bend


@pytest.mark.parametrize(
    ("limit", "start", "end"),
    [
        ({"line": 2400.0}, START / 2400, 0.75),
        ({"puller": 2250.0}, START / 2250, 0.8),
        ({"conductor": 3600.0}, HEAD_START / 3600, 0.5),
        # 1,000 lbf of one basket grip (ICEA-based guide, READ)
        ({"attach": "basket grip"}, HEAD_START / 4448.2216, END / 4448.2216),
    ],
    ids=["rope", "machine", "conductors", "grip"],
)
def test_each_limit_has_its_share_of_a_first_movement(
    limit: dict[str, float], start: float, end: float
) -> None:
    assert shares(level(**limit)) == pytest.approx((start, end), rel=1e-6)  # type: ignore[arg-type]


def test_sidewall_has_its_share_of_a_first_movement() -> None:
    """A quarter of 5 m radius after 40 m: the pressure is the tension out of it over 4.95 m.

    The inner wall of a bore of 100 mm is 50 mm nearer than the axis.
    """
    path = vertices([Go(40), Turn(90, 5.0, "left"), Go(40)])
    weak = cable(sidewall_limit=200.0, max_tension=STRONG)
    built = run(
        along(path, conduit(friction=0.4, bore=0.1)),
        weak,
        rope=rope(rated_load=STRONG),
        machine=machine(STRONG),
        reel_tension=500.0,
        attach="pulling eyes",
    )
    pull = solve_pull(built, Practice(restart=1.3, bend_form="capstan"))
    leaving = (500 + 1.3 * 0.4 * 25 * 40) * np.exp(1.3 * 0.4 * np.pi / 2)
    assert leaving / 4.95 / 200 > 2000 / STRONG  # it governs
    assert shares(pull)[1] == pytest.approx(leaving / 4.95 / 200, rel=1e-6)


# --- a planned start -----------------------------------------------------------------------------


def planned(pull: Pull) -> Pace:
    course, puller = history(pull), pull.run.machine
    assert course is not None and puller is not None
    return pace(pull, course, puller, Allowances())


@pytest.mark.parametrize(("line", "stops"), [(START, False), (START + 1, False), (START - 1, True)])
def test_the_first_start_at_inside_and_outside_a_limit(line: float, stops: bool) -> None:
    """Only the start is planned from rest here; the moving pull's own checks come elsewhere."""
    pull = level(line=line)
    going = planned(pull)
    assert going.starts == (0.0,)
    found = list(start_findings(pull, going))
    assert [(f.rule, f.severity) for f in found] == ([("first move", "stop")] if stops else [])
    for finding in found:
        assert finding.demand == finding.ratio == pytest.approx(START / (START - 1))
        assert finding.station == 0.0


def test_a_change_of_gear_is_a_start_and_counts_for_the_peak() -> None:
    """The fast gear keeps 900 of its 1,000 N: it is left at the last place where it holds.

    540 + 9.6 s is 900 at 37.5 m, and the low gear moves off from there to 40.5 m, where friction at
    rest makes it 500 + 1.3 (9.6 x 40.5 + 40) = 1,057.44 N.
    """
    two = Machine("two", (Gear(1000.0, 0.5, "high"), Gear(5000.0, 0.1, "low")))
    pull = level(machine=two)
    going = planned(pull)
    (change,) = going.gears.changes
    assert change.pulled == pytest.approx(37.5)
    assert change.restart_load == pytest.approx(1057.44)
    assert going.starts == pytest.approx((0.0, 37.5))
    assert going.most_at_starts(going.moves.load) == pytest.approx(1057.44)
    assert going.worst_start == pytest.approx((1057.44 / 5000, 37.5))


# --- the margin of a gear, and the strongest one --------------------------------------------------


@pytest.mark.parametrize(
    ("puller", "rules"),
    [
        # 1,500 N at the end while it runs, a tenth of the pull kept free: 1,666.7 N is enough
        (1667.0, []),
        (1666.0, ["gear margin"]),
        (1500.0, ["gear margin"]),
        (1499.0, ["strongest gear"]),
    ],
)
def test_a_gear_at_inside_and_outside_its_margin_and_its_pull(
    puller: float, rules: list[str]
) -> None:
    pull = level(puller=puller)
    going = planned(pull)
    found = list(gear_findings(going.gears, pull, going.machine, 1500.0))
    assert [f.rule for f in found] == rules
    assert [f.severity for f in found] == [
        "stop" if r == "strongest gear" else "caution" for r in rules
    ]
    for finding in found:
        assert (finding.demand, finding.limit) == pytest.approx((1500.0, puller))
        assert finding.ratio == pytest.approx(1500.0 / puller)


def test_the_margin_is_that_of_the_allowances() -> None:
    """A fifth kept free: 1,875 N is enough for 1,500 N, 1,874 N is not."""
    for puller, kept in ((1876.0, True), (1874.0, False)):
        pull = level(puller=puller)
        course, one = history(pull), pull.run.machine
        assert course is not None and one is not None
        assert pace(pull, course, one, Allowances(gear_margin=0.2)).gears.margin_kept is kept
    assert Allowances().gear_margin == 0.1  # common practice, no source


@pytest.mark.parametrize(("strong", "stops"), [(2000.0, False), (1998.0, True)])
def test_the_strongest_gear_is_what_reaches_the_rope(strong: float, stops: bool) -> None:
    """At an efficiency of 0.75, 2,000 N rated are the 1,500 N of the end; the weak one is not."""
    two = Machine("two", (Gear(strong, 0.1), Gear(900.0, 0.5)), efficiency=0.75)
    pull = level(machine=two)
    rules = [f.rule for f in gear_findings(planned(pull).gears, pull, two, 1500.0)]
    assert ("strongest gear" in rules) is stops


# --- a restart anywhere --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "rule"),
    [
        ({"line": 1800.0}, None),
        ({"line": 1801.0}, None),
        ({"line": 1799.0}, "restart: rope load"),
        ({"puller": 1801.0}, None),
        ({"puller": 1799.0}, "restart: machine line pull"),
        ({"conductor": 1801.0}, None),
        ({"conductor": 1799.0}, "restart: conductor tension"),
    ],
)
def test_a_restart_at_inside_and_outside_each_limit(
    limit: dict[str, float], rule: str | None
) -> None:
    """1,800 N at the end, on rope, machine and conductors alike."""
    pull = level(**limit)  # type: ignore[arg-type]
    if limit == {"line": 1800.0}:  # rounding of the march must not decide
        pull = level(line=1800.0 * (1 + 1e-12))
    found = check_restart(pull, at_friction(pull, 1.3))
    assert [f.rule for f in found if f.severity == "caution"] == ([rule] if rule else [])
    for finding in found:
        assert finding.demand == pytest.approx(END)


def test_at_a_factor_of_one_a_restart_is_the_moving_pull() -> None:
    pull = level()
    still = replace(pull, practice=replace(pull.practice, restart=1.0))
    course = history(still)
    assert course is not None
    assert course.restart == pytest.approx(course.load)
