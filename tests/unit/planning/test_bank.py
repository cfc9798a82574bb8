"""Banks, answered: every duct as a run of its own, and which bend will not do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import route3d
from route3d.errors import GeometryError
from route3d.geometry.grade import Grade, grade_through
from route3d.model import Bank, Conduit, Practice, Run
from route3d.planning.bank import BankResult, bank_solid, bend_radius, evaluate_bank, evaluate_banks
from route3d.planning.result import evaluate_run
from route3d.report.bank import concrete_lines
from tests.support import jobs
from tests.support.jobs import along, at, conduit, lay
from tests.support.routes import Go, Turn, vertices

DEMO = Path(__file__).parents[3] / "models" / "riser_duct_bank.toml"
PRACTICE = Practice()
FLAT = [Go(30), Turn(90, 1.0, "left"), Go(20), Turn(90, 1.4, "right"), Go(10)]


def flat(pieces: Sequence[Go | Turn] = FLAT, duct: Conduit | None = None, **more: object) -> Run:
    return jobs.run(along(vertices(list(pieces)), duct or conduit()), jobs.cable(), **more)


def bank(rows: int = 2, columns: int = 3, spacing: float = 0.2) -> Bank:
    return Bank("F1", rows, columns, (spacing, spacing), 0.08)


def answer(run: Run, of: Bank | None = None, practice: Practice = PRACTICE) -> BankResult:
    return evaluate_bank(of or bank(), run, practice, Grade())


# --- the ducts -----------------------------------------------------------------------------------


def test_the_middle_duct_is_answered_as_the_run_itself() -> None:
    run = flat()
    middle = answer(run, bank(3, 3)).ducts[4].result
    alone = evaluate_run(run, PRACTICE)
    for one, two in zip(middle.candidates, alone.candidates, strict=True):
        np.testing.assert_allclose(one.pull.profile.tension, two.pull.profile.tension, rtol=1e-9)
        assert one.utilization.peak == pytest.approx(two.utilization.peak, rel=1e-9)
    assert [f.severity for f in middle.findings] == [f.severity for f in alone.findings]


def test_each_duct_has_the_radii_and_the_length_of_its_own() -> None:
    result = answer(flat())
    for duct in result.ducts:
        right = duct.offset[0]
        # The first bend turns left, away from what lies to the right; the second turns right.
        assert bend_radius(duct, 1) == pytest.approx(1.0 + right)
        assert bend_radius(duct, 2) == pytest.approx(1.4 - right)
        assert duct.result.path.length == pytest.approx(result.center.length)  # turns cancel


def test_the_worst_duct_is_the_inner_one_of_the_governing_bend() -> None:
    shape = vertices([Go(60), Turn(90, 1.0, "left"), Go(10)])
    tender = jobs.cable(sidewall_limit=500.0)
    result = answer(jobs.run(along(shape, conduit()), tender))
    assert result.worst.result.best.utilization.governing == "sidewall"
    assert (result.worst.column, result.best.column) == (1, 3)
    assert result.worst.strain >= max(d.strain for d in result.ducts)


# --- which bend fails which limit ----------------------------------------------------------------


def with_bend(radius: float, duct: Conduit | None = None, **more: object) -> BankResult:
    return answer(flat([Go(30), Turn(90, radius, "left"), Go(20)], duct, **more))


def test_an_inner_bend_below_the_radius_of_the_cable() -> None:
    # 12 x 40 mm = 480 mm in the duct 200 mm inside the centerline: 680 mm.
    (bend,) = with_bend(0.66).bends
    assert (bend.finding.rule, bend.column, bend.fails) == ("cable bend radius", 1, True)
    assert bend.inner == pytest.approx(0.46)
    assert (bend.needed, bend.estimated) == (pytest.approx(0.68), False)
    assert with_bend(0.66).stops
    assert not with_bend(0.6801).bends[0].fails
    assert with_bend(0.6799).bends[0].fails


def test_an_inner_bend_below_the_radius_of_the_conduit() -> None:
    duct = conduit(min_bend_radius=0.9, min_bend_source="a table")
    (bend,) = with_bend(1.0, duct).bends
    assert (bend.finding.rule, bend.needed) == ("conduit bend radius", pytest.approx(1.1))
    assert not with_bend(1.1001, duct).bends[0].fails


def test_the_radius_that_passes_on_the_inside_of_the_bore_too() -> None:
    route = along(vertices([Go(30), Turn(90, 0.66, "left"), Go(20)]), conduit())
    run = jobs.run(route, jobs.cable(bend_to="inside"))
    (bend,) = evaluate_bank(bank(), run, PRACTICE, Grade()).bends
    assert bend.needed == pytest.approx(0.48 + 0.065 + 0.2)  # half the bore of 130 mm more


def test_an_inner_bend_with_too_much_sidewall_pressure() -> None:
    cable = jobs.cable(sidewall_limit=250.0, bend_multiple=5)
    shape = vertices([Go(60), Turn(90, 0.8, "left"), Go(20)])
    run = jobs.run(along(shape, conduit()), cable)
    (bend,) = answer(run).bends
    assert bend.finding.rule == "sidewall pressure"
    assert (bend.column, bend.fails, bend.estimated) == (1, True, True)
    # The centerline alone would have passed nearer to the limit: the inner duct decides.
    alone = evaluate_run(run, PRACTICE).best.utilization.sidewall
    assert bend.finding.ratio > alone
    # A first figure: with it the pressure is within a few percent of the limit.
    wider = vertices([Go(60), Turn(90, bend.needed, "left"), Go(20)])
    (again,) = answer(jobs.run(along(wider, conduit()), cable)).bends
    assert again.finding.ratio == pytest.approx(1.0, abs=0.05)


def test_a_duct_without_a_path_is_told_and_the_others_are_answered() -> None:
    """The duct 600 mm toward the center of a bend of 500 mm would be 100 mm past it."""
    corner = lay(at((0, 0, 0)), at((9, 0, 0), 0.5, "the bend"), at((9, 9, 0)), conduits=conduit())
    result = answer(jobs.run(corner), bank(1, 3, 0.6))
    inner, middle, outer = result.ducts
    assert [d.result is None for d in result.ducts] == [True, False, False]
    assert inner.stops and result.stops
    assert result.worst is inner
    assert result.best in (middle, outer)
    (why,) = inner.blocked
    assert (why.rule, why.where, why.severity) == (
        *("no path: no radius left in the bend", "bend 1 at the bend"),
        "stop",
    )
    assert why.demand == pytest.approx(-0.1)
    # 12 x 40 mm is what the cable takes: 0.48 + 0.6 is the centerline radius that gives it
    assert why.limit == pytest.approx(0.48)
    (bend,) = result.bends
    assert (bend.column, bend.fails, bend.estimated) == (1, True, False)
    assert (bend.inner, bend.needed) == pytest.approx((-0.1, 1.08))
    assert result.no_room is not None
    assert result.no_room.radius == pytest.approx(1.08)


def test_with_the_radius_told_every_duct_has_a_path_and_its_radius() -> None:
    """The other side of the line: 1.08 m passes, a millimeter less does not."""
    for radius, passes in ((1.0801, True), (1.079, False)):
        corner = lay(at((0, 0, 0)), at((9, 0, 0), radius), at((9, 9, 0)), conduits=conduit())
        (bend,) = answer(jobs.run(corner), bank(1, 3, 0.6)).bends
        assert bend.fails is not passes


# --- the concrete --------------------------------------------------------------------------------


def test_the_concrete_of_a_bank_below_grade_throughout() -> None:
    down = replace_depth(flat(), -2.0)
    result = answer(down)
    section = (0.4 + 0.14 + 0.16) * (0.2 + 0.14 + 0.16) - 6 * np.pi * 0.07**2
    assert result.concrete == pytest.approx(section * result.center.length, rel=1e-12)
    assert result.earth is not None
    assert result.earth[0] == pytest.approx(2.0 - 0.25)


@pytest.mark.parametrize(("radius", "known"), [(0.51, True), (0.49, False)])
def test_concrete_over_the_center_of_a_bend_is_not_reckoned(radius: float, known: bool) -> None:
    """One meter wide: Pappus' theorem holds while its inside corner stays off the bend's axis."""
    route = lay(at((0, 0, -3)), at((9, 0, -3), radius), at((9, 9, -3)), conduits=conduit())
    beside = (1.0 - 0.3 - conduit().outer_diameter) / 2
    result = answer(jobs.run(route), replace(bank(1, 2, 0.3), cover=beside))
    assert result.section.width == pytest.approx(1.0)
    assert (result.concrete is not None) is known
    if known:
        bank_solid(result)
    else:
        with pytest.raises(GeometryError, match="past the center of bend 1"):
            bank_solid(result)


def replace_depth(run: Run, z: float) -> Run:
    moved = tuple(replace(v, point=(*v.point[:2], z)) for v in run.route.vertices)
    return replace(run, route=replace(run.route, vertices=moved))


def test_only_what_lies_below_grade_is_encased() -> None:
    job = route3d.load(DEMO)
    (result,) = evaluate_banks(job, Grade())
    ((start, end),) = result.stretches
    assert start == 0.0
    assert result.center.point(end)[2] == pytest.approx(0.0, abs=1e-9)
    assert result.encased_length == end < result.center.length


def test_without_concrete_there_is_none() -> None:
    assert answer(flat(), replace(bank(), cover=0.0)).concrete == 0.0


def test_the_solid_is_the_concrete_where_ducts_change_their_width() -> None:
    shape = vertices([Go(10), Turn(90, 1.5, "left"), Go(10), Turn(90, 1.5, "right"), Go(5)])
    wide, thin = Conduit("wide", 0.13, 0.15, 0.3), Conduit("thin", 0.13, 0.14, 0.3)
    run = jobs.run(along(shape, [wide, thin, thin]))
    result = answer(run)
    made = bank_solid(result)
    assert made.mesh.is_watertight
    assert made.mesh.body_count == 2
    assert made.volume == pytest.approx(result.concrete, rel=1e-12)
    assert made.mesh.volume == pytest.approx(made.volume * (1 - made.lacking), rel=1e-9)
    filled = bank_solid(result, ducts=False)
    assert filled.volume == pytest.approx(result.section.whole * result.center.length)


def test_the_demo_has_six_ducts_that_pass() -> None:
    (result,) = evaluate_banks(route3d.load(DEMO), Grade())
    assert len(result.ducts) == 6
    assert not result.stops
    assert len(result.bends) == 3
    spread = [d.result.path.length for d in result.ducts]
    assert max(spread) - min(spread) == pytest.approx(0.304, abs=0.005)


def beside_a_turn() -> BankResult:
    """A bend of 1.2 m, 0.1 m of straight, and a vault at which the run turns by a right angle."""
    route = lay(
        at((0, 0, 0)),
        at((20, 0, 0), 1.2),
        at((20, 1.3, 0), 0.0, "vault", jobs.BOTH),
        at((0, 1.3, 0)),
        conduits=conduit(),
    )
    return answer(jobs.run(route), bank(1, 3, 0.25))


def test_a_straight_too_short_beside_a_turn_is_told_with_what_it_lacks() -> None:
    """Both turn left: the duct 0.25 m to the left is cut by 0.25 m at the turn, and 0.1 m is there.

    That is 0.15 m more straight than there is (geometry). To the right the straight grows.
    """
    inner, middle, outer = beside_a_turn().ducts
    assert [d.result is None for d in (inner, middle, outer)] == [True, False, False]
    (why,) = inner.blocked
    assert (why.rule, why.severity) == ("no path: no straight left at the turn", "stop")
    assert "vault" in why.where
    assert why.demand == pytest.approx(-0.15) and why.limit == pytest.approx(0.0, abs=1e-6)
    ((lacks, _),) = why.fix.values
    assert lacks == pytest.approx(0.15, abs=1e-6)
    with pytest.raises(ValueError, match="row 1, column 1 has no path"):
        bend_radius(inner, 1)


def test_where_no_duct_has_a_path_only_the_bends_that_stop_them_are_judged() -> None:
    """Two columns 1.2 m apart: bends of 0.5 m each way leave none a path; 2 m do."""
    pieces = [
        Go(9),
        Turn(90, 0.5, "left"),
        Go(9),
        Turn(90, 2.0),
        Go(9),
        Turn(90, 0.5, "right"),
        Go(9),
    ]
    result = answer(flat(pieces), bank(1, 2, 1.2))
    assert all(d.result is None for d in result.ducts)
    assert [(b.number, b.column) for b in result.bends] == [(1, 1), (3, 2)]
    assert all(b.fails for b in result.bends)


def test_cover_and_concrete_follow_a_sloping_grade() -> None:
    """Ground z = 0.1 x from x = 0 on: over a line at z = -1 it is thinnest at x = 0, by hand."""
    corners = [(0, -9, 0.0), (60, -9, 6.0), (0, 9, 0.0), (60, 9, 6.0)]
    grade = grade_through(np.array(corners), name="of the quay")
    run = jobs.run(lay(at((-10, 0, -1)), at((30, 0, -1)), conduits=conduit()))
    result = evaluate_bank(bank(), run, PRACTICE, grade)
    assert result.earth == pytest.approx((1 - result.section.height / 2, 10.0))
    assert result.outside == ((0.0, pytest.approx(10.0)),)
    # beyond its edge the ground is taken to go on level, at 0: the bank is below that
    assert result.encased_length == pytest.approx(40.0)
    assert result.concrete == pytest.approx(40.0 * result.section.area)
    said = "\n".join(concrete_lines(result, "SI"))
    assert (
        "Ground not known outside the grade surface of the quay, station 0.00 m to 10.00 m: earth "
        "cover is not judged and no trench is counted there. Concrete there: as if the ground "
        "went on level from the edge of the surface." in said
    )
    higher = evaluate_bank(bank(), run, PRACTICE, Grade(2.0, given=True))
    assert higher.earth is not None
    assert higher.earth[0] == pytest.approx(3 - result.section.height / 2)


def flat_bank(z: float, grade: Grade) -> BankResult:
    """0.5 m high and 0.7 m wide, 20 m along x."""
    run = jobs.run(lay(at((0, 0, z)), at((20, 0, z)), conduits=conduit()))
    return evaluate_bank(replace(bank(2, 3, 0.2), cover=0.08), run, PRACTICE, grade)


def test_a_bank_is_below_grade_from_its_bottom_edge_and_says_how_much() -> None:
    """Its middle 0.1 m above level ground: 0.25 - 0.1 m of it is below, 0.25 + 0.1 m above."""
    result = flat_bank(0.1, Grade(given=True))
    assert result.below == result.partly == ((0.0, 20.0),)
    assert result.earth == pytest.approx((-0.35, 0.0))
    (line,) = [s for s in concrete_lines(result, "SI") if s.startswith("Partly buried")]
    assert "rises 350.0 mm above" in line and "150.0 mm of its 500.0 mm height is below" in line
    above = flat_bank(0.2501, Grade(given=True))
    assert above.all_encased and above.earth is None
    assert any(s.startswith("No part is below") for s in concrete_lines(above, "SI"))
    assert flat_bank(-0.2501, Grade(given=True)).partly == ()


def test_a_bank_that_comes_out_of_the_ground_on_a_slope() -> None:
    """Ground z = 0.1 (10 - x) + 0.1: the top comes out at x = 8.5, the bottom at x = 13.5 m."""
    corners = [(x, y, 1.1 - 0.1 * x) for x in (-5.0, 30.0) for y in (-9.0, 9.0)]
    result = flat_bank(0.0, grade_through(np.array(corners)))
    np.testing.assert_allclose(result.below, [(0, 13.5)], atol=1e-6)
    np.testing.assert_allclose(result.partly, [(8.5, 13.5)], atol=1e-6)
    np.testing.assert_allclose(result.stretches, [(0, 13.5)], atol=1e-6)


def test_where_all_is_outside_the_surface_the_ground_is_not_known() -> None:
    corners = [(x, y, 5.0) for x in (900.0, 930.0) for y in (-9.0, 9.0)]
    result = flat_bank(-1.0, grade_through(np.array(corners), name="of the quay"))
    assert result.unknown and result.encased_length == pytest.approx(20.0)
    said = concrete_lines(result, "SI")
    assert said[-1].startswith("Ground not known: all of the bank is outside the grade surface")
    assert not any("No part" in line for line in said)
