"""Concrete, boxes and equipment against meshes, conduits and each other: elementary geometry."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

from route3d.checks.clearance import Met
from route3d.modelfile.read import load
from route3d.planning.clearance.issues import issues, on_grid, zone_of
from route3d.planning.clearance.job import ClearanceResult, evaluate_clearance
from tests.support.clearance_jobs import box, clearance_of, run_text, write_job

R = 0.07
HALF_WIDTH, HALF_HEIGHT = 0.1 + R + 0.075, R + 0.075
"""Of a bank of two ducts 0.2 m apart with 75 mm of cover."""
STL = 1e-5
FAR = (96_000.0, 87_000.0)
"""As far from 0 as a model may lie."""

Points = list[tuple[float, float, float]]


def bank(run: str, columns: int = 2, cover: int = 75) -> str:
    return (
        f"[[bank]]\nrun = '{run}'\nrows = 1\ncolumns = {columns}\n"
        f"spacing = [200, 200]\ncover = {cover}\n"
    )


def moved(points: Points, by: tuple[float, float] = (0.0, 0.0)) -> list[tuple[float, ...]]:
    return [(x + by[0], y + by[1], z) for x, y, z in points]


def met(result: ClearanceResult, body: str, other: str) -> Met:
    (one,) = [b for b in result.bodies if b.body.name == body]
    return next(m for m in one.met if m.name == other)


def least(found: Met) -> float:
    assert found.nearest is not None
    return found.nearest.distance


# --- concrete ------------------------------------------------------------------------------------


@pytest.mark.parametrize("by", [(0.0, 0.0), FAR])
@pytest.mark.parametrize(("away", "clash"), [(0.32, False), (0.31, True)])
def test_a_conduit_beside_a_bank_is_as_far_as_the_concrete_is(
    tmp_path: Path, away: float, clash: bool, by: tuple[float, float]
) -> None:
    """Level beside each other: the concrete ends 0.245 m from its line, the conduit 70 mm off."""
    runs = run_text("A", moved([(0, 0, -2), (40, 0, -2)], by)) + run_text(
        "B", moved([(0, away, -2), (40, away, -2)], by)
    )
    result = clearance_of(write_job(tmp_path, runs, bank("A")))
    found = next(m for m in result.runs[1].met if m.kind == "concrete")
    assert least(found) == pytest.approx(away - HALF_WIDTH - R, abs=1e-7)
    assert bool(found.clashes) is clash and result.stops is clash


@pytest.mark.parametrize("angle", [90.0, 37.0])
@pytest.mark.parametrize(("over", "clash"), [(0.216, False), (0.214, True)])
def test_a_conduit_over_a_bank_at_any_angle(
    tmp_path: Path, angle: float, over: float, clash: bool
) -> None:
    x, y = 15 * math.cos(math.radians(angle)), 15 * math.sin(math.radians(angle))
    runs = run_text("A", [(0, 0, -2), (40, 0, -2)]) + run_text(
        "B", [(20 - x, -y, over - 2), (20 + x, y, over - 2)]
    )
    result = clearance_of(write_job(tmp_path, runs, bank("A")))
    found = next(m for m in result.runs[1].met if m.kind == "concrete")
    assert least(found) == pytest.approx(over - HALF_HEIGHT - R, abs=1e-6)
    assert bool(found.clashes) is clash


def test_asked_for_one_run_its_concrete_is_held_against_the_conduits_of_others(
    tmp_path: Path,
) -> None:
    """B crosses 0.2 m over A at x = 20: 15 mm into the concrete, on the station of A."""
    runs = run_text("A", [(0, 0, -2), (40, 0, -2)]) + run_text("B", [(20, -9, -1.8), (20, 9, -1.8)])
    job = load(write_job(tmp_path, runs, bank("A")))
    result = evaluate_clearance(job, (), 1.0, frozenset(("A",)))
    (clash,) = met(result, "concrete of bank A", "run B").clashes
    assert clash.depth == pytest.approx(HALF_HEIGHT + R - 0.2, abs=1e-6)
    assert clash.station == pytest.approx(20.0, abs=1e-3) and clash.what == ("run B",)
    (issue,) = issues(result)
    assert (issue.one, issue.other) == ("concrete of bank A", "run B")


@pytest.mark.parametrize("by", [(0.0, 0.0), FAR])
def test_two_banks_side_by_side_and_crossing(tmp_path: Path, by: tuple[float, float]) -> None:
    """Side by side 1.2 m apart: 0.71 m between. Crossing at 37 degrees, 0.25 m lower: 40 mm in."""
    x, y = 15 * math.cos(math.radians(37)), 15 * math.sin(math.radians(37))
    runs = (
        run_text("A", moved([(0, 0, -2), (40, 0, -2)], by))
        + run_text("B", moved([(0, 1.2, -2), (40, 1.2, -2)], by))
        + run_text("C", moved([(20 - x, -y, -2.25), (20 + x, y, -2.25)], by))
    )
    result = clearance_of(write_job(tmp_path, runs, bank("A") + bank("B") + bank("C")))
    (one,) = [b for b in result.bodies if b.body.run == "A"]
    (found,) = one.met  # both others together, of one kind
    (clash,) = found.clashes
    assert clash.what == ("concrete of bank C",)
    assert clash.depth == pytest.approx(2 * HALF_HEIGHT - 0.25, abs=1e-6)
    assert clash.start < 20 < clash.end and clash.point is not None
    assert clash.point[2] == pytest.approx(-2.125, abs=0.02)
    # the nearer edge of each: the other's corner reaches w (1 + cos 37°) / sin 37° along
    reach = HALF_WIDTH * (1 + math.cos(math.radians(37))) / math.sin(math.radians(37))
    assert (clash.start, clash.end) == pytest.approx((20 - reach, 20 + reach), abs=0.06)
    alone = clearance_of(
        write_job(
            tmp_path,
            run_text("A", moved([(0, 0, -2), (40, 0, -2)], by))
            + run_text("B", moved([(0, 1.2, -2), (40, 1.2, -2)], by)),
            bank("A") + bank("B"),
        )
    )
    (beside,) = [b for b in alone.bodies if b.body.run == "A"]
    assert least(beside.met[0]) == pytest.approx(1.2 - 2 * HALF_WIDTH, abs=1e-7)


def test_the_concrete_of_a_bend_is_as_far_from_a_column_as_its_arc(tmp_path: Path) -> None:
    """A column 0.2 m square, its edge 0.3 m outside of the concrete of a bend of 1 m."""
    run = run_text("A", [(0, 0, -2), (20, 0, -2), (20, 20, -2)])
    out = np.array([math.sqrt(0.5), -math.sqrt(0.5)])
    edge = np.array([19.0, 1.0]) + (1 + HALF_WIDTH + 0.3) * out
    column = trimesh.creation.box(extents=(0.2, 0.2, 9)).apply_transform(
        trimesh.transformations.rotation_matrix(math.pi / 4, (0, 0, 1))
    )
    column.apply_translation((*(edge + 0.1 * out), 0))
    site = '[site]\ncontext = [{ file = "column.stl", units = "m", solid = true }]\n'
    model = write_job(tmp_path, run, site + bank("A", columns=2), {"column.stl": column})
    found = met(clearance_of(model), "concrete of bank A", "the building")
    assert least(found) == pytest.approx(0.3, abs=1e-4)
    assert not found.clashes and not found.inside


def test_a_wall_a_pier_and_a_far_mesh(tmp_path: Path) -> None:
    """Through a wall; whole in a pier; 110 m from a shed, exactly."""
    run = run_text("A", [(0, 0, -2), (40, 0, -2)])
    meshes = {
        "wall.stl": box((0.5, 8, 6), (12, 0, -2)),
        "pier.stl": box((6, 4, 4), (30, 0, -2)),
        "shed.stl": box((10, 10, 10), (20, 110 + 5 + HALF_WIDTH, -2)),
    }
    site = "[site]\ncontext = [\n" + "".join(
        f'{{ file = "{n}", units = "m", class = "{n[:4]}", clearance = 0, solid = true }},\n'
        for n in meshes
    )
    result = clearance_of(write_job(tmp_path, run, site + "]\n" + bank("A"), meshes))
    shed = met(result, "concrete of bank A", "shed")
    assert least(shed) == pytest.approx(110.0, abs=2e-5)  # single precision of the file
    (wall,) = met(result, "concrete of bank A", "wall").clashes
    assert (wall.start, wall.end) == pytest.approx((11.75, 12.25), abs=0.05)
    (pier,) = met(result, "concrete of bank A", "pier").clashes
    assert (pier.start, pier.end) == pytest.approx((27, 33), abs=0.05)
    told = [i for i in issues(result) if i.other == "pier.stl"]
    assert len(told) == 1 and told[0].one == "concrete of bank A"  # not its ducts beside it


# --- boxes ---------------------------------------------------------------------------------------

BOXED = ", box = [2000, 1000, 800]"


def boxed(name: str, points: Points) -> str:
    """A run with a box of 2 m by 1 m by 0.8 m at its last point."""
    text = run_text(name, points)
    return text.replace(f'name = "{name} b"', f'name = "{name} b"{BOXED}')


@pytest.mark.parametrize("origin", [(0, 0, 0), (512_000, 4_600_000, 12)])
def test_a_box_stands_along_the_pull_before_a_wall_on_the_grid(
    tmp_path: Path, origin: tuple[int, int, int]
) -> None:
    """Its run comes in at 30 degrees: the corner of the box reaches 2 cos 30° + 0.5 sin 30°."""
    run = boxed("A", [(-20 * math.cos(math.pi / 6), -10, 0), (0, 0, 0)])
    wall = box((0.5, 90, 6), (2.5 + 0.25, 0, 0)).apply_translation(origin)
    lines = [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in wall.vertices]
    lines += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in wall.faces]
    (tmp_path / "wall.obj").write_text("\n".join(lines), encoding="utf-8")
    site = f"[site]\norigin = {list(origin)}\n"
    mesh = 'context = [{ file = "wall.obj", units = "m", on_grid = true }]\n'
    found = met(clearance_of(write_job(tmp_path, run, site + mesh)), "box A b", "the building")
    reach = 2 * math.cos(math.pi / 6) + 0.5 * math.sin(math.pi / 6)
    assert least(found) == pytest.approx(2.5 - reach, abs=1e-6)
    assert not found.clashes


def test_a_box_against_runs_that_end_in_it_and_that_pass(tmp_path: Path) -> None:
    """B ends at the far wall, C passes through the side, 0.1 m in: 0.1 m and its radius."""
    runs = (
        boxed("A", [(0, 0, 0), (20, 0, 0)])
        + run_text("B", [(22, 0.2, 0), (40, 0.2, 0)])
        + run_text("C", [(21, 0.4, -8), (21, 0.4, 8)])
    )
    _, b, c = clearance_of(write_job(tmp_path, runs)).runs
    ends = next(m for m in b.met if m.kind == "box")
    assert not ends.clashes and ends.at_ends
    (clash,) = next(m for m in c.met if m.kind == "box").clashes
    assert clash.depth == pytest.approx(0.1 + R, abs=1e-6)
    assert (clash.start, clash.end) == pytest.approx((7.6 - R, 8.4 + R), abs=0.04)


@pytest.mark.parametrize(("away", "stops"), [(0.2, False), (0.9, False), (2.5, False)])
def test_boxes_of_two_runs_at_one_place_are_not_held_against_each_other(
    tmp_path: Path, away: float, stops: bool
) -> None:
    """Two points for one box: as far as it reaches, √(2² + 0.5² + 0.4²); beyond they are clear."""
    runs = boxed("A", [(0, 0, 0), (20, 0, 0)]) + boxed("B", [(40, away, 0), (20, away, 0)])
    result = clearance_of(write_job(tmp_path, runs))
    assert result.stops is stops
    judged = [m for b in result.bodies for m in b.met if m.kind == "box"]
    assert len(judged) == (away > 2.1)
    assert all(least(m) == pytest.approx(away - 1.0, abs=1e-9) for m in judged)


def test_a_box_in_a_plumb_riser_stands_upright(tmp_path: Path) -> None:
    """2 m up from its end, 0.8 m along the level leg, 1 m across it; a slab 0.3 m over it."""
    run = boxed("A", [(0, 0, 0), (10, 0, 0), (10, 0, 10)])
    slab = {"slab.stl": box((8, 8, 0.2), (10, 0, 12.4)), "post.stl": box((1, 1, 9), (11.4, 0, 9))}
    site = (
        '[site]\ncontext = [{ file = "slab.stl", units = "m", class = "slab", clearance = 0 },\n'
        '{ file = "post.stl", units = "m", class = "post", clearance = 0 }]\n'
    )
    result = clearance_of(write_job(tmp_path, run, site, slab))
    assert least(met(result, "box A b", "slab")) == pytest.approx(0.3, abs=STL)
    assert least(met(result, "box A b", "post")) == pytest.approx(0.9 - 0.4, abs=STL)


# --- what is asked for, where it is --------------------------------------------------------------

PIPE = """[site]
origin = [512000, 4600000, 12]
context = [{ file = "pipe.stl", units = "m", class = "hot pipe", clearance = 150 }]
[[site.level]]
name = "quay"
floor = 0
[[site.level]]
name = "culvert"
floor = -5
"""


def pipe_over(tmp_path: Path, more: str) -> ClearanceResult:
    """A pipe 0.2 m square across a bank, 0.4 m over its concrete."""
    pipe = box((0.2, 9, 0.2), (20, 0, -2 + HALF_HEIGHT + 0.4 + 0.1))
    run = run_text("A", [(0, 0, -2), (40, 0, -2)])
    return clearance_of(write_job(tmp_path, run, PIPE + more + bank("A"), {"pipe.stl": pipe}))


@pytest.mark.parametrize(
    ("asked", "severity"),
    [("", "ok"), ("least = 410", "stop"), ('least = 410\nseverity = "caution"', "caution"),
     ("least = 390", "ok")],
)  # fmt: skip
def test_less_than_asked_between_two_kinds_is_as_grave_as_said(
    tmp_path: Path, asked: str, severity: str
) -> None:
    table = f'[[site.clearance]]\nbetween = ["hot pipe", "concrete"]\n{asked}\n' if asked else ""
    result = pipe_over(tmp_path, table)
    assert result.stops is (severity == "stop")
    (body,) = result.bodies
    finding = next(f for f in body.findings if f.rule == "clearance from hot pipe")
    assert finding.severity == severity
    assert finding.demand == pytest.approx(0.4, abs=STL)
    found = issues(result)
    if severity == "ok":
        assert not found
        return
    (issue,) = found
    assert issue.severity == severity and not issue.clash and issue.zone == "culvert"
    assert issue.point == pytest.approx((20, issue.point[1], -2 + HALF_HEIGHT + 0.2), abs=0.11)
    grid = on_grid(result.job, issue.point)
    assert grid == pytest.approx(
        (512_020, 4_600_000 + issue.point[1], issue.point[2] + 12), abs=0.2
    )
    assert "clearance from hot pipe" in finding.rule and "between hot pipe" in finding.source


def test_a_place_is_in_its_room_else_its_storey(tmp_path: Path) -> None:
    room = """[[site.room]]
name = "switchroom"
outline = [[0, 0], [9, 0], [9, 9], [0, 9]]
floor = 0
ceiling = 3
"""
    pipe = box((0.2, 9, 0.2), (20, 0, 5))
    run = run_text("A", [(0, 0, -2), (40, 0, -2)])
    job = clearance_of(write_job(tmp_path, run, PIPE + room, {"pipe.stl": pipe})).job
    zones = [zone_of(job, p) for p in ((1, 1, 1), (1, 1, 4), (50, 1, 1), (1, 1, -1), (1, 1, -9))]
    assert zones == ["switchroom", "quay", "quay", "culvert", "below culvert"]
