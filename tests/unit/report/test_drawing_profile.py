"""The profile of a sheet: risers upright and as long as they are, heights as said, paper used."""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.drawing.marks import Line
from route3d.geometry.fillet import route_path
from route3d.model import Run
from tests.support.jobs import along, conduit, run
from tests.support.routes import Go, Turn, vertices
from tests.support.sheets import (
    assert_clean,
    assert_complete,
    assert_labeled,
    demo,
    drawn,
    lines_of,
    words_of,
)


def riser(height: float) -> Run:
    return run(along(([[0, 0, 0], [0, 0, height]], [0, 0]), conduit()))


def test_a_riser_stands_upright_and_its_length_is_said() -> None:
    (sheet,) = drawn(riser(12.0))
    (line,) = lines_of(sheet, "PROFILE")
    assert np.ptp(line.points[:, 0]) == 0
    assert np.ptp(line.points[:, 1]) == pytest.approx(12 * sheet.setup.scale.mm)
    told = [w.text for w in words_of(sheet)]
    assert "riser up 12.00 m, plumb" in told
    assert "sta 0.00 to 12.00 m" in told


def test_the_profile_is_as_wide_as_the_plan_is_long() -> None:
    """176 ft, a quarter of 48 in, 87 ft, and upright bends that each go on by their radius."""
    (sheet,) = demo("riser_duct_bank", "tabloid")
    (line,) = lines_of(sheet, "PROFILE")
    slope = math.hypot(180, 1) / 180  # the first straight falls a foot: this little longer
    level = 176 / slope + 4 * math.pi / 2 + 87 + 4 + 4 + 11
    assert np.ptp(line.points[:, 0]) == pytest.approx(level * 304.8 / 360, abs=0.03)
    assert np.ptp(line.points[:, 1]) == pytest.approx(48 * 304.8 / 360, abs=0.03)


def test_a_tall_run_is_drawn_larger_beside_its_plan() -> None:
    """30.6 m of rise take 153 mm at 1:200; below the plan there is room for 1:300."""
    (sheet,) = demo("roof_drop", "a3")
    layout = sheet.setup.layout
    assert layout.beside and sheet.setup.scale.ratio == 200
    assert layout.profile_part[2] == layout.plan_part[0]
    assert layout.plan_part[3] == layout.table[1]


def test_a_riser_cut_over_two_sheets_names_the_other() -> None:
    sheets = drawn(riser(120.0))
    assert len(sheets) == 2
    assert_clean(sheets)
    assert_complete(sheets)
    assert_labeled(sheets)
    for sheet, other in zip(sheets, (2, 1), strict=True):
        (cut,) = [m.points for m in sheet.marks if isinstance(m, Line) and m.layer == "MATCH-LINES"]
        assert cut[0, 1] == cut[1, 1]  # level, across the riser
        (x,) = {p[0] for p in lines_of(sheet, "PROFILE")[0].points}
        assert cut[0, 0] < x < cut[1, 0]
        assert [w.text for w in words_of(sheet)].count(f"see sheet {other}") == 2
        assert "riser up 120.00 m total, plumb" in [w.text for w in words_of(sheet)]


def winding(bends: int, leg: float, fall: float = 0.0) -> Run:
    """Left and right by turns, so that it stays in a strip."""
    flat = [Go(leg)]
    for k in range(bends):
        flat += [Turn(60, 1.0, "left" if k % 2 else "right"), Go(leg)]
    points, radii = vertices(flat)
    points = np.array(points)
    points[:, 2] -= fall * np.arange(len(points))
    return run(along((points, radii), conduit()))


def test_heights_of_a_long_run_are_drawn_taller_though_it_falls_a_lot_in_all() -> None:
    """Each sheet for itself is flat: 1.2 m fall over a sheet would be 2.4 mm at 1:500."""
    one = winding(30, 60.0, 0.4)
    sheets = drawn(one)
    assert len(sheets) > 5
    assert sheets[0].setup.exaggeration > 1
    assert_clean(sheets)
    assert_labeled(sheets)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_every_bend_is_numbered_where_they_crowd(paper: str) -> None:
    """24 bends in 48 m at 1:500: a bend for every 4 mm of paper."""
    sheets = drawn(winding(24, 2.0), paper, scale=500.0)
    assert_clean(sheets)
    assert_complete(sheets)
    assert_labeled(sheets)


def test_a_larger_scale_where_it_takes_no_more_sheets() -> None:
    """120 m of riser take two sheets at 1:500, and at 1:400 too; at 1:300 three."""
    sheets = drawn(riser(120.0))
    assert sheets[0].setup.scale.ratio == 400
    assert [len(drawn(riser(120.0), scale=s)) for s in (500.0, 400.0, 300.0)] == [2, 2, 3]


def test_level_length_is_that_of_the_path() -> None:
    one = winding(4, 5.0, 0.5)
    path = route_path(one.route)
    fine = path.point(np.linspace(0, path.length, 200_001))
    level = float(np.hypot(*np.diff(fine[:, :2], axis=0).T).sum())
    assert drawn(one)[0].setup.course.level[-1] == pytest.approx(level, rel=1e-4)
