"""The outline of a bank: the plan against shapely's buffer, the profile against plane geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from route3d.geometry import fillet
from route3d.geometry.grade import Grade, grade_through
from route3d.model import Bank, Run
from route3d.planning.bank_outline import ground_over_bank, plan_outlines, profile_lines
from tests.support import jobs
from tests.support.jobs import along, at, conduit, lay
from tests.support.routes import Go, Turn, vertices

# 0.4 + 0.14 + 2 x 0.08 wide, 0.2 + 0.14 + 2 x 0.08 high (m).
BANK = Bank("F1", 2, 3, (0.2, 0.2), 0.08)
WIDE, HIGH = 0.70, 0.50
DEEP = Grade(level=100.0)


def run_of(*pieces: Go | Turn) -> Run:
    return jobs.run(along(vertices(list(pieces)), conduit()), jobs.cable())


def test_the_plan_is_the_strip_about_the_line() -> None:
    pieces = (Go(9), Turn(90, 2.0, "left"), Go(6), Turn(60, 1.5, "right"), Go(4))
    (outline,) = plan_outlines(BANK, run_of(*pieces), DEEP)
    np.testing.assert_array_equal(outline[0], outline[-1])
    shape, path = shapely.Polygon(outline), fillet(*vertices(list(pieces)))
    line = shapely.LineString(path.point(path.sample(1e-6))[:, :2])
    strip = line.buffer(WIDE / 2, cap_style="flat", join_style="mitre")
    assert shape.is_valid
    # Chords of 2.5 degrees lie R (1 - cos 1.25 degrees) = 0.6 mm inside an arc of 2.35 m.
    assert shape.hausdorff_distance(strip) < 2.35 * (1 - math.cos(math.radians(1.25))) + 1e-5
    # Pappus: the strip has the area of its width times its line.
    assert shape.area == pytest.approx(WIDE * path.length, rel=math.radians(2.5) ** 2 / 6)
    assert shapely.LinearRing(outline).is_ccw


def test_a_bank_that_comes_round_leaves_a_hole() -> None:
    loop = [(0, 0, 0), (9, 0, 0), (9, 9, 0), (0, 9, 0), (0, -5, 0)]
    ats = [jobs.at(p, 1.0 if 0 < i < 4 else 0.0) for i, p in enumerate(loop)]
    run = jobs.run(lay(*ats, conduits=conduit()), jobs.cable())
    outer, inner = plan_outlines(BANK, run, DEEP)
    assert shapely.LinearRing(outer).is_ccw and not shapely.LinearRing(inner).is_ccw


def test_the_profile_of_a_slope_a_bend_and_a_riser() -> None:
    rise = math.atan(0.1)
    pieces = (Go(10), Turn(90 - math.degrees(rise), 1.5, "up"), Go(5))
    run = run_of(*pieces)
    points = np.array([v.point for v in run.route.vertices])
    (lines,) = profile_lines(BANK, run, DEEP)
    assert points[0, 2] == 0.0
    level = np.hypot(*(points[1] - points[0])[:2])
    # The straight is level; the riser leans by 5.71 degrees. Both lines are 0.25 m from the run's.
    np.testing.assert_allclose(lines.top[0], (0, HIGH / 2), atol=1e-12)
    np.testing.assert_allclose(lines.bottom[0], (0, -HIGH / 2), atol=1e-12)
    center = np.array([level - 1.5 * math.tan(math.pi / 4 - rise / 2), 1.5])
    in_bend = (lines.stations > center[0] + 1e-9) & (lines.stations < center[0] + 1.4)
    for line, radius in ((lines.top, 1.25), (lines.bottom, 1.75)):
        away = np.linalg.norm(line[in_bend] - center, axis=1)
        np.testing.assert_allclose(away, radius, atol=1e-9)
    mine = (lines.top[-1] + lines.bottom[-1]) / 2
    np.testing.assert_allclose(mine, (np.hypot(*points[-1, :2]), points[-1, 2]), atol=1e-9)
    assert np.linalg.norm(lines.top[-1] - lines.bottom[-1]) == pytest.approx(HIGH)
    ring = shapely.Polygon(lines.outline)
    assert ring.is_valid
    length = fillet(*vertices(list(pieces))).length
    assert ring.area == pytest.approx(HIGH * length, rel=1e-3)


def test_a_plumb_riser_out_of_the_ground_ends_at_grade() -> None:
    run = run_of(Go(10), Turn(90, 1.0, "left"), Go(4), Turn(90, 1.0, "up"), Go(8))
    (lines,) = profile_lines(BANK, run, Grade(level=3.0))
    middle = (lines.top + lines.bottom) / 2
    # Developed along the plan: both straights, the flat bend, and the radius of the bend up.
    np.testing.assert_allclose(middle[-1], (10 + math.pi / 2 + 4 + 1, 3.0), atol=1e-9)
    # Beside the riser both lines stand upright, as far apart as the bank is high.
    np.testing.assert_allclose(lines.top[-1][1], lines.bottom[-1][1])
    assert abs(lines.top[-1][0] - lines.bottom[-1][0]) == pytest.approx(HIGH)


def test_the_ground_of_the_cover_row_is_the_least_over_the_width() -> None:
    """Ground z = 0.1 y with a furrow of -0.4 at y = 0.1, under a bank 0.54 m wide along x."""
    across = ((-9.0, -0.9), (0.0, 0.0), (0.1, -0.4), (0.2, 0.02), (9.0, 0.9))
    corners = [(x, y, z) for x in np.linspace(-5, 25, 301) for y, z in across]
    run = jobs.run(lay(at((0, 0, -2)), at((20, 0, -2)), conduits=conduit()))
    found = ground_over_bank(
        Bank("F1", 1, 2, (0.2, 0.2), 0.1), run, grade_through(np.array(corners)), np.array([3.33])
    )
    assert found == pytest.approx([-0.4])
    plane = grade_through(np.array([(x, y, 0.1 * y) for x in (-5.0, 25.0) for y in (-9.0, 9.0)]))
    found = ground_over_bank(Bank("F1", 1, 2, (0.2, 0.2), 0.1), run, plane, np.array([0.0, 20.0]))
    wide = 0.2 + conduit().outer_diameter + 0.2
    assert found == pytest.approx([-0.05 * wide] * 2)
