from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.checks.finding import Finding
from route3d.checks.riser import check_risers, risers
from route3d.geometry.fillet import route_path
from route3d.mechanics.pull import solve_pull
from route3d.model import Practice, Route
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import FOOT, along, at, cable, conduit, lay
from tests.support.routes import Go, Turn, vertices


def check(route: Route, cables: object = None) -> list[Finding]:
    return list(check_risers(jobs.run(route, cables), Practice(), route_path(route)))  # type: ignore[arg-type]


def shaft(height: float, radius: float = 0.0, heading: float = 0.0) -> Route:
    """A plain vertical duct, or one that comes from level and goes on level."""
    if not radius:
        return lay(at((0, 0, 0)), at((0, 0, height)), conduits=conduit())
    ahead = (math.cos(heading), math.sin(heading), 0.0)
    pieces = [Go(5), Turn(90, radius, "up"), Go(height), Turn(90, radius, ahead), Go(5)]
    return along(vertices(pieces, ahead), conduit())


# NEC Table 300.19(A), copper and aluminium over 4/0 to 350 kcmil: 60 and 135 ft (READ).
KCMIL_350 = 350_000 * 5.067075e-10


@pytest.mark.parametrize(("metal", "feet"), [("copper", 60), ("aluminium", 135)])
def test_supports_at_the_boundary_of_the_table(metal: str, feet: float) -> None:
    phase = cable(metal=metal, area=KCMIL_350)
    assert [f.rule for f in check(shaft(feet * FOOT), phase)] == ["hanging weight"]
    _weight, support = check(shaft((feet + 0.1) * FOOT), phase)
    assert (support.rule, support.severity) == ("riser support", "caution")
    assert support.limit == pytest.approx(feet * FOOT)
    assert support.demand == pytest.approx((feet + 0.1) * FOOT)
    assert support.ratio == pytest.approx((feet + 0.1) / feet)


@pytest.mark.parametrize(("feet", "supports"), [(61, 2), (120, 2), (121, 3), (180, 3), (181, 4)])
def test_one_support_at_the_top_and_one_for_every_spacing_below(feet: float, supports: int) -> None:
    _, finding = check(shaft(feet * FOOT), cable(area=KCMIL_350))
    assert f": {supports} supports" in render(finding.fix, "US")
    # Spaced so, nothing hangs further than the table allows.
    assert feet / supports <= 60


def test_the_shortest_spacing_of_a_mixed_set_rules() -> None:
    # 4/0 copper asks for 80 ft, 500 kcmil aluminium for 120 ft, though it is the larger cable.
    earth = cable("earth", 0.02, area=107.2e-6)
    phase = cable("phase", 0.04, metal="aluminium", area=253.35e-6)
    _, finding = check(shaft(100 * FOOT), [(phase, 3), (earth, 1)])
    assert finding.limit == pytest.approx(80 * FOOT)


def test_wires_below_the_table_get_their_weight_and_no_support() -> None:
    signal = cable(area=0.5e-6, cores=12)
    assert [f.rule for f in check(shaft(50.0), signal)] == ["hanging weight"]


def test_hanging_weight_is_that_of_the_whole_set() -> None:
    (weight,) = check(shaft(12.0), [(cable(weight=25.0), 3), (cable("earth", weight=5.0), 1)])
    assert weight.demand == pytest.approx(80.0 * 12.0)
    assert weight.severity == "note"
    assert "3 x phase, 1 x earth" in weight.source


@pytest.mark.parametrize("heading", np.linspace(0, 6, 7))
def test_a_riser_reaches_to_where_its_bends_pass_45_degrees(heading: float) -> None:
    route = shaft(12.0, radius=1.5, heading=heading)
    ((low, high),) = risers(route_path(route))
    quarter = 1.5 * math.pi / 2
    assert low == pytest.approx(5 + quarter / 2)
    assert high == pytest.approx(5 + quarter + 12 + quarter / 2)
    (weight,) = check(route)
    assert weight.demand == pytest.approx(25.0 * (12 + 2 * 1.5))  # with the whole of both bends
    assert weight.station == low


def test_a_floor_that_falls_a_little_changes_a_riser_a_little() -> None:
    def over(floor: float) -> Finding:
        roof, edge, foot = at((0, 0, 12)), at((4, 0, 12), 1.2), at((4, 0, 0), 1.2)
        return check(lay(roof, edge, foot, at((16, 0, floor)), conduits=conduit()))[0]

    first, second = over(0.0), over(-0.1)
    assert second.demand == pytest.approx(first.demand, rel=1e-3)


def test_a_riser_is_the_same_from_above_and_from_below() -> None:
    up = shaft(12.0, radius=1.5)
    down = Route(up.vertices[::-1], up.conduits[::-1])
    assert check(up)[0].demand == pytest.approx(check(down)[0].demand)


@pytest.mark.parametrize(("height", "found"), [(2.99, 0), (3.01, 1)])
def test_less_than_a_storey_is_no_riser(height: float, found: int) -> None:
    assert len(risers(route_path(shaft(height)))) == found


@pytest.mark.parametrize(("degrees", "found"), [(44.0, 0), (45.0, 0), (46.0, 1)])
def test_a_ramp_is_a_riser_above_45_degrees(degrees: float, found: int) -> None:
    a = math.radians(degrees)
    ramp = lay(at((0, 0, 0)), at((40 * math.cos(a), 0, 40 * math.sin(a))), conduits=conduit())
    assert len(risers(route_path(ramp))) == found


def test_two_risers_with_a_level_between_are_two() -> None:
    flight = [Go(5), Turn(90, 1.0, "up"), Go(8), Turn(90, 1.0, (1.0, 0.0, 0.0)), Go(5)]
    found = risers(route_path(along(vertices(flight * 2), conduit())))
    assert len(found) == 2
    assert found[0][1] < found[1][0]


def test_places_take_any_name() -> None:
    run = jobs.run(shaft(12.0), name="F{1}")
    (weight,) = check_risers(run, Practice(), route_path(run.route))
    assert render(weight.place, "SI") == "F{1}, riser from station 0.00 m"


def test_a_riser_is_held_by_its_weight_without_friction() -> None:
    """Worked answer O2: 40 ft of 5.385 lb/ft between two level ducts, 48 in bends: 215.40 lbf.

    It is what the reels must hold without friction too, which the solver finds on its own.
    """
    route, lbf = jobs.riser_between_ducts(), 4.4482216152605
    cables = [(cable(weight=5.385 * lbf / FOOT), 1)]
    (weight,) = (f for f in check(route, cables) if f.rule == "hanging weight")
    assert weight.demand == pytest.approx(215.40 * lbf)
    pull = solve_pull(jobs.run(route, cables), Practice())
    assert weight.demand == pytest.approx(pull.brake_without_friction)


def test_a_bend_that_turns_past_level_hangs_from_its_crown() -> None:
    """Up 12 m and over a half circle of 1.5 m: its crown is 1.5 m above where it begins."""
    top = [Turn(90, 1.5, "up"), Go(12), Turn(135, 1.5, (1.0, 0.0, -1.0)), Go(1.0)]
    route = along(vertices([Go(5), *top]), conduit())
    (weight,) = (f for f in check(route) if f.rule == "hanging weight")
    assert weight.demand == pytest.approx(25.0 * (1.5 + 12 + 1.5))
