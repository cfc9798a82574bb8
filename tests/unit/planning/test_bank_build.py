"""A bank as built: pieces, sweeps, spacers, boxes and trench against hand calculation."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.geometry.bank import duct_offsets
from route3d.geometry.duct_pieces import boxes_in_line, spacer_stations
from route3d.geometry.grade import Grade, grade_through
from route3d.model import AssignedDuct, Bank, Conduit, Practice, Run
from route3d.planning.bank import BankResult, bank_solid, evaluate_bank
from route3d.planning.bank_build import BankBuild, BuiltPiece, build_of
from route3d.planning.bank_trench import Trench, trench_of
from tests.support import jobs
from tests.support.jobs import BOTH, along, at, conduit, lay
from tests.support.routes import Go, Turn, vertices

# With ducts of 0.14 m: 0.7 m wide and 0.5 m high.
BANK = Bank("F1", 2, 3, (0.2, 0.2), 0.08)
WIDE, HIGH = 0.70, 0.50
OUTER, DUCT = 0.14, math.pi / 4 * 0.14**2
DEEP = Grade(level=50.0, given=True)


def run_of(*pieces: Go | Turn, duct: Conduit | None = None) -> Run:
    return jobs.run(along(vertices(list(pieces)), duct or conduit()), jobs.cable())


def answer(run: Run, bank: Bank = BANK, grade: Grade = DEEP) -> BankResult:
    return evaluate_bank(bank, run, Practice(), grade)


def of_duct(build: BankBuild, row: int, column: int) -> list[BuiltPiece]:
    return [p for p in build.pieces if (p.row, p.column) == (row, column)]


# --- pieces --------------------------------------------------------------------------------------


def test_bends_of_one_bank_are_concentric() -> None:
    """A left quarter turn of 1.5 m: columns at 1.3, 1.5 and 1.7 m, straights as on the run."""
    build = build_of(answer(run_of(Go(20), Turn(90, 1.5, "left"), Go(7))))
    for row in (1, 2):
        for column, radius in ((1, 1.3), (2, 1.5), (3, 1.7)):
            first, bend, last = of_duct(build, row, column)
            assert (first.piece.length, last.piece.length) == pytest.approx((20, 7), abs=1e-9)
            assert bend.piece.radius == pytest.approx(radius, abs=1e-12)
            assert bend.piece.length == pytest.approx(radius * math.pi / 2, abs=1e-12)
            assert bend.piece.setback == pytest.approx(radius, abs=1e-9)  # R tan 45 degrees
            assert bend.piece.from_top == pytest.approx(3 * math.pi / 2)  # to the left
            assert math.isnan(bend.piece.roll)
    assert [s.count for s in build.sweeps] == [2, 2, 2]
    assert [s.radius for s in build.sweeps] == pytest.approx([1.3, 1.5, 1.7])
    (straight,) = build.straights
    assert (straight.length, straight.pieces) == (pytest.approx(6 * 27), 12)


def test_an_s_bend_changes_inside_and_outside() -> None:
    """Left 45 and right 45 at 2 m: each duct is as long as the run, its radii 2 ± 0.2 m."""
    build = build_of(answer(run_of(Go(5), Turn(45, 2, "left"), Go(3), Turn(45, 2, "right"), Go(5))))
    quarter = math.pi / 4
    for column, (one, two) in ((1, (1.8, 2.2)), (2, (2, 2)), (3, (2.2, 1.8))):
        bends = [p.piece for p in of_duct(build, 1, column) if p.is_bend]
        assert [b.radius for b in bends] == pytest.approx([one, two], abs=1e-12)
        assert [b.setback for b in bends] == pytest.approx(
            [r * math.tan(quarter / 2) for r in (one, two)]
        )
        assert abs(bends[1].roll) == pytest.approx(math.pi)  # bends back
        total = sum(p.piece.length for p in of_duct(build, 1, column))
        assert total == pytest.approx(13 + 4 * quarter, abs=1e-9)
    # 4 ducts of 2 in each of 3 radii; the middle column has both bends alike.
    assert [(s.count, s.bends) for s in build.sweeps] == [(4, (1, 2)), (4, (1, 2)), (4, (1, 2))]


def test_a_bend_in_a_rolled_frame() -> None:
    """Left 90 at 2 m, then up out of the ground at 60 degrees to the level, leaning.

    The second bend turns in the plane of the run and n = (cos 30 up + sin 30 left). An offset
    (right, up) lies toward its center by up cos 30 - right sin 30, and from the top by 330 degrees.
    """
    lean = math.radians(30)
    after_left = np.array([0.0, 1.0, 0.0])  # heading; left of it is -x
    side = math.cos(lean) * np.array([0, 0, 1.0]) + math.sin(lean) * np.array([-1.0, 0, 0])
    assert side @ after_left == 0
    result = answer(run_of(Go(9), Turn(90, 2, "left"), Go(4), Turn(70, 1.5, side), Go(3)))
    build = build_of(result)
    for duct, (right, up) in zip(result.ducts, duct_offsets(BANK), strict=True):
        bends = [p.piece for p in of_duct(build, duct.row, duct.column) if p.is_bend]
        toward = up * math.cos(lean) - right * math.sin(lean)
        assert bends[1].radius == pytest.approx(1.5 - toward, abs=1e-12)
        assert bends[1].length == pytest.approx((1.5 - toward) * math.radians(70), abs=1e-12)
        assert bends[1].from_top == pytest.approx(math.radians(330))
        # From the left turn clockwise (looking along) to up and left: 60 degrees.
        assert bends[1].roll == pytest.approx(math.radians(60))
        pieces = of_duct(build, duct.row, duct.column)
        assert duct.result is not None
        assert sum(p.piece.length for p in pieces) == pytest.approx(
            duct.result.path.length, abs=1e-9
        )
        assert [p.piece.station for p in pieces][1:] == pytest.approx(
            np.cumsum([p.piece.length for p in pieces])[:-1], abs=1e-9
        )


# --- spacers -------------------------------------------------------------------------------------


def test_spacers_stand_beside_ends_and_bends_and_evenly_between() -> None:
    run = run_of(Go(10), Turn(90, 1.5, "left"), Go(4))
    result = answer(run, replace(BANK, spacer_interval=2.5))
    spacers = build_of(result).spacers
    assert spacers is not None
    arc = 1.5 * math.pi / 2
    fixed = [0.6096, 10 - 0.6096, 10 + arc + 0.6096, 14 + arc - 0.6096]
    assert set(np.round(fixed, 9)) <= set(np.round(spacers, 9))
    # 8.78 m in 4 parts, 3.58 m across the bend in 2, 2.78 m in 2: 9 stations.
    assert len(spacers) == 9
    assert max(np.diff(spacers)) <= 2.5
    assert build_of(answer(run)).spacers is None


def test_a_short_stretch_has_one_spacer_in_its_middle() -> None:
    path = answer(run_of(Go(10))).center
    assert spacer_stations(path, [(2.0, 3.0)], 2.0) == (2.5,)
    assert spacer_stations(path, [(0.0, 10.0)], 20.0) == pytest.approx((0.6096, 10 - 0.6096))


# --- boxes ---------------------------------------------------------------------------------------


def boxed(box: tuple[float, float, float], turn: bool = False) -> Run:
    last = (20.0, 12.0, -3.0) if turn else (32.0, 0.0, -3.0)
    ends = (at((0, 0, -3)), replace(at((20, 0, -3), 0.0, "V2", BOTH), box=box), at(last))
    return jobs.run(lay(*ends, conduits=conduit()), jobs.cable())


def test_a_vault_in_the_line_takes_its_length_out_of_the_concrete() -> None:
    area = WIDE * HIGH - 6 * DUCT
    result = answer(boxed((3.0, 2.0, 2.5)))
    np.testing.assert_allclose(result.stretches, ((0.0, 18.5), (21.5, 32.0)))
    assert result.concrete == pytest.approx(area * (32 - 3), rel=1e-12)
    solid = bank_solid(result)
    assert solid.mesh.is_watertight and solid.mesh.body_count == 2
    assert solid.mesh.volume == pytest.approx(result.concrete, rel=1e-9)
    (straight,) = build_of(result).straights
    assert straight.length == pytest.approx(6 * 29)
    assert sum(p.piece.length for p in of_duct(build_of(result), 1, 1)) == pytest.approx(32)


def test_a_vault_where_the_run_turns_is_left_by_its_side() -> None:
    """The box lies along the conduit that comes in: 1.5 m to that wall, 1 m to the side."""
    result = answer(boxed((3.0, 2.0, 2.5), turn=True))
    (box,) = boxes_in_line(result.run.route, result.center)
    assert (box.start, box.end) == pytest.approx((18.5, 21.0))
    np.testing.assert_allclose(result.stretches, ((0.0, 18.5), (21.0, 32.0)))
    # The inner duct at 0.2 m is cut short by 0.2 m on both sides of the mitre, inside the box.
    inner = of_duct(build_of(result), 1, 1)
    assert [p.piece.length - p.boxed for p in inner] == pytest.approx([18.5, 11.0])


def test_a_box_smaller_than_the_bank_is_left_out_of_its_middle() -> None:
    result = answer(boxed((0.6, 0.3, 0.4)))
    assert result.stretches == ((0.0, 32.0),)
    # 0.3 wide: the middle column whole and 20 mm of each outer duct... of 0.4 m height.
    whole = (WIDE * HIGH - 6 * DUCT) * 32
    lost = (whole - (result.concrete or 0.0)) / 0.6
    # A segment of a circle of 70 mm cut 20 mm deep: r² acos(5/7) - 50 sqrt(70² - 50²), mm.
    segment = 0.07**2 * math.acos(5 / 7) - 0.05 * math.sqrt(0.07**2 - 0.05**2)
    # Ducts at ± 0.1 m with 0.07: 0.17 < 0.2, so none is cut by top or bottom.
    assert lost == pytest.approx(0.3 * 0.4 - 2 * DUCT - 4 * segment, rel=1e-3)


# --- trench --------------------------------------------------------------------------------------


def trench(run: Run, grade: Grade, **changes: float) -> Trench:
    given = {"trench_side": 0.15, "trench_slope": 0.5, "bedding": 0.1, **changes}
    found = trench_of(answer(run, replace(BANK, **given), grade))  # type: ignore[arg-type]
    assert found is not None
    return found


FLOOR = WIDE + 0.3


def buried(*pieces: Go | Turn, z: float = -2.0) -> Run:
    run = run_of(*pieces)
    moved = tuple(
        replace(v, point=(v.point[0], v.point[1], v.point[2] + z)) for v in run.route.vertices
    )
    return replace(run, route=replace(run.route, vertices=moved))


@pytest.mark.parametrize("slope", [0.0, 0.5, 1.5])
def test_the_trench_below_level_ground(slope: float) -> None:
    run = buried(Go(20), Turn(90, 3, "left"), Go(10))
    found = trench(run, Grade(given=True), trench_slope=slope)
    depth, length = 2.0 + HIGH / 2 + 0.1, 30 + 3 * math.pi / 2
    assert found.length == pytest.approx(length, rel=1e-9)
    assert found.depths == pytest.approx((depth, depth))
    assert found.excavation == pytest.approx((FLOOR * depth + slope * depth**2) * length, rel=1e-9)
    assert found.bedding == pytest.approx((FLOOR * 0.1 + slope * 0.01) * length, rel=1e-9)
    assert found.displaced == pytest.approx(WIDE * HIGH * length, rel=1e-9)
    assert found.backfill == pytest.approx(
        (found.excavation or 0) - found.bedding - WIDE * HIGH * length
    )
    # The same ground as a surface.
    flat = grade_through(np.array([(-50, -50, 0), (90, -50, 0), (90, 90, 0), (-50, 90, 0.0)]))
    assert trench(run, flat, trench_slope=slope).excavation == pytest.approx(
        found.excavation, rel=1e-9
    )


def test_the_trench_below_ground_that_rises_along_and_across() -> None:
    """Ground z = 0.05 x + 0.2 y over a level bank along x, 20 m; sides 0.5 to 1.

    A cross section: floor b, depth d in the middle, ground rising by k to one side. The sides meet
    it at t = d' m / (1 - k m) with d' = d + k b / 2, and d - k b / 2 with 1 + k m on the other;
    each wedge is d' t / 2. All are quadratic in d, and d is linear along the bank.
    """
    corners = [(x, y, 0.05 * x + 0.2 * y) for x in (-30.0, 60.0) for y in (-40.0, 40.0)]
    found = trench(buried(Go(20)), grade_through(np.array(corners)))
    b, k, m, low = FLOOR, 0.2, 0.5, 2.0 + HIGH / 2 + 0.1

    def area(d: float) -> float:
        high, short = d + k * b / 2, d - k * b / 2
        return b * d + m / 2 * (high**2 / (1 - k * m) + short**2 / (1 + k * m))

    simpson = 20 / 6 * (area(low) + 4 * area(low + 0.5) + area(low + 1.0))
    assert found.excavation == pytest.approx(simpson, rel=1e-7)
    # over the width of the floor, at the ends
    assert found.depths == pytest.approx((low - k * b / 2, low + 1.0 + k * b / 2))


def test_the_trench_of_a_bank_that_falls() -> None:
    """It falls 1 in 10: upright, half its height is HIGH / 2 / cos; the floor falls with it."""
    fall = math.atan(0.1)
    shape = (np.array([(0, 0, -2.0), (20, 0, -4.0)]), np.zeros(2))
    run = jobs.run(along(shape, conduit()), jobs.cable())
    found = trench(run, Grade(given=True), trench_slope=0.0)
    first = 2.0 + HIGH / 2 / math.cos(fall) + 0.1
    # Square ends lean by HIGH / 2 sin at the bottom: same length, both ends moved alike.
    assert found.length == pytest.approx(20.0)
    shift = -HIGH / 2 * math.sin(fall) * 0.1
    assert found.excavation == pytest.approx(FLOOR * 20 * (first + 1.0 + shift), rel=1e-9)


def test_the_trench_follows_the_outside_of_a_sweep_out_of_the_ground() -> None:
    """Level for 10 m at 2 m, up at 1 m: the bottom is an arc of 1.25 m, then upright to grade."""
    found = trench(
        buried(Go(10), Turn(90, 1, "up"), Go(5)),
        Grade(given=True),
        trench_slope=0.0,
        bedding=0.0,
    )
    under_arc = 1.25 * 2.25 - (1.25**2 - math.pi / 4 * 1.25**2)
    assert found.length == pytest.approx(11.25)
    assert found.excavation == pytest.approx(FLOOR * (10 * 2.25 + under_arc), rel=1e-4)


def test_direct_buried_ducts_displace_only_themselves() -> None:
    run = buried(Go(20))
    bank = replace(BANK, cover=0.0, trench_side=0.1)
    found = trench_of(answer(run, bank, Grade(given=True)))
    assert found is not None
    assert found.displaced == pytest.approx(6 * DUCT * 20)


def test_sides_flatter_than_the_ground_never_meet_it() -> None:
    corners = [(x, y, 0.8 * y) for x in (-30.0, 60.0) for y in (-40.0, 40.0)]
    found = trench(buried(Go(5)), grade_through(np.array(corners)), trench_slope=1.5)
    assert found.excavation is None and found.backfill is None


def test_depths_are_met_at_ends_breaks_of_grade_and_points_of_the_ground() -> None:
    """Ground 0 but for a ridge of 1 m over x = 10.3 and a pit of 0.4 m at x = 4.1, y = 0.2."""
    lines = ((-5, 0.0), (8, 0.0), (10.3, 1.0), (13, 0.0), (30, 0.0))
    corners = [(x, y, z) for x, z in lines for y in range(-9, 10, 2)]
    around = [(4.1 + x, 0.2 + y, 0.0) for x, y in ((-1, 0), (1, 0), (0, -1), (0, 1))]
    surface = grade_through(np.array([*corners, *around, (4.1, 0.2, -0.4)]))
    run, floor = buried(Go(20)), 2.0 + HIGH / 2 + 0.1
    assert trench(run, surface).depths == pytest.approx((floor - 0.4, floor + 1.0))
    result = answer(run, replace(BANK, trench_side=0.1), surface)
    # 0.2 m is within the 0.35 m to the edge of the concrete
    assert result.earth == pytest.approx((2.0 - HIGH / 2 - 0.4, 4.1))


def test_a_bank_partly_buried_takes_up_what_is_below_grade() -> None:
    """Middle 0.1 m up: 0.15 m is below, the floor of the trench 0.1 m lower."""
    found = trench(buried(Go(20), z=0.1), Grade(given=True), trench_slope=0.0)
    assert found.depths == pytest.approx((0.25, 0.25))
    assert found.displaced == pytest.approx(WIDE * 0.15 * 20)
    assert found.excavation == pytest.approx(FLOOR * 0.25 * 20)
    assert found.backfill == pytest.approx((FLOOR - WIDE) * 0.15 * 20)


def test_no_trench_is_counted_where_the_ground_is_not_known() -> None:
    corners = [(x, y, 0.0) for x in (-5.0, 12.0) for y in (-9.0, 9.0)]
    found = trench(buried(Go(20)), grade_through(np.array(corners)))
    assert found.length == pytest.approx(12.0)
    assert found.displaced == pytest.approx(WIDE * HIGH * 12)
    assert answer(buried(Go(20)), grade=grade_through(np.array(corners))).encased_length == 20.0


def test_without_working_space_or_below_no_ground_there_is_no_trench() -> None:
    assert trench_of(answer(buried(Go(20)))) is None
    assert trench_of(answer(run_of(Go(20)), replace(BANK, trench_side=0.1), Grade(-5.0))) is None


# --- which duct serves ---------------------------------------------------------------------------


def test_which_ducts_serve_for_which_run() -> None:
    """12 x 40 mm = 0.48 m for F1, 30 x 40 mm = 1.2 m for F2, at 1.1 m: columns 0.9, 1.1, 1.3 m."""
    run = run_of(Go(30), Turn(90, 1.1, "left"), Go(20))
    stiff = jobs.run(run.route, jobs.cable(bend_multiple=30.0), name="F2")
    bank = replace(
        BANK,
        rows=1,
        ducts=(AssignedDuct(1, 1, "F2"), AssignedDuct(1, 2, "F1")),
        runs=("F3",),
    )
    result = evaluate_bank(bank, run, Practice(), DEEP, (run, stiff))
    build = build_of(result)
    said = {(u.run, u.duct.column): (u.usable, u.assigned, u.taken) for u in build.uses}
    assert said == {
        ("F1", 1): (True, False, "F2"),
        ("F1", 2): (True, True, ""),
        ("F1", 3): (True, False, ""),
        ("F2", 1): (False, True, ""),
        ("F2", 2): (False, False, "F1"),
        ("F2", 3): (True, False, ""),
    }
    assert build.not_in_file == ("F3",)
    (why,) = {u.why for u in build.uses if u.run == "F2" and u.duct.column == 2}
    assert why[0].startswith("cable bend radius (bend 1")
    assert result.stops  # F2 is put where it does not pass
    better = replace(bank, ducts=(AssignedDuct(1, 3, "F2"),))
    assert not evaluate_bank(better, run, Practice(), DEEP, (run, stiff)).stops
