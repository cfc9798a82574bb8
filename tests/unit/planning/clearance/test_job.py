"""Clashes, required clearances, what ends may touch, and what lies inside closed bodies."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import trimesh

from route3d.planning.clearance.job import RunClearance
from route3d.report.clearance import met_verdict
from route3d.units import render
from tests.support.clearance_jobs import box, clearance_of, run_text, write_job

R = 0.07
# STL keeps single precision: 4e-6 at 40 m.
STL = 1e-5


def only(model: Path) -> RunClearance:
    (run,) = clearance_of(model).runs
    return run


STRAIGHT = run_text("A", [(0, 0, 0), (40, 0, 0)])


def test_a_wall_across_the_run_is_a_clash_with_both_its_faces(tmp_path: Path) -> None:
    wall = box((0.5, 8, 6), (20, 0, 0))
    run = only(
        write_job(
            tmp_path,
            STRAIGHT,
            '[site]\ncontext = [{ file = "wall.stl", units = "m" }]\n',
            {"wall.stl": wall},
        )
    )
    (met,) = run.met
    # within the half meter of wall the nearest face is never farther than 0.25 m, more than R
    assert [c.station for c in met.clashes] == pytest.approx([19.75, 20.25], abs=STL)
    assert [c.start for c in met.clashes] == pytest.approx([19.75 - R, 20.25 - R], abs=5e-3)
    assert [c.end for c in met.clashes] == pytest.approx([19.75 + R, 20.25 + R], abs=5e-3)
    assert [c.depth for c in met.clashes] == pytest.approx([R, R], abs=STL)
    (inside,) = met.inside
    assert (inside.start, inside.end) == pytest.approx((19.75, 20.25), abs=5e-3)
    assert -inside.distance == pytest.approx(0.25 + R, abs=5e-3)
    rules = [(f.severity, f.rule) for f in run.findings]
    assert rules.count(("stop", "clash with the building")) == 2
    assert rules.count(("caution", "inside a closed surface")) == 1
    assert run.stops
    assert {r.verdict for r in run.rows if r.start <= 19.75 < r.end} == {"clash"}


def test_the_depth_of_a_beam_that_cuts_into_the_side(tmp_path: Path) -> None:
    """Closed form: the beam's edge plane is 50 mm from the centerline, the radius is 70."""
    beam = box((0.3, 2, 1), (20, 1.05, 0))
    site = '[site]\ncontext = [{ file = "beam.stl", units = "m" }]\n'
    (met,) = only(write_job(tmp_path, STRAIGHT, site, {"beam.stl": beam})).met
    (clash,) = met.clashes
    assert clash.depth == pytest.approx(0.02, abs=STL)
    reach = math.sqrt(R**2 - 0.05**2)  # past its corners the conduit is clear of it
    assert (clash.start, clash.end) == pytest.approx((19.85 - reach, 20.15 + reach), abs=5e-3)
    assert clash.what == ("beam.stl",)


SITE = """[site]
context = [
  { file = "hall.stl", units = "m" },
  { file = "one.stl", units = "m", class = "hot pipe", clearance = 150 },
  { file = "two.stl", units = "m", class = "hot pipe" },
]
"""


def test_each_class_has_its_clearance_and_each_mesh_its_name(tmp_path: Path) -> None:
    meshes = {
        "hall.stl": box((40, 0.2, 3), (20, 0.3, 0)),  # 0.13 m clear: enough for the building
        "one.stl": box((0.1, 0.1, 4), (10, -0.25, 0)),  # 0.13 m clear: 20 mm too near
        "two.stl": box((0.1, 0.1, 4), (30, -0.32, 0)),  # 0.20 m clear
    }
    run = only(write_job(tmp_path, STRAIGHT, SITE, meshes))
    hall, hot = run.met
    assert (hall.required, hall.short, hall.clashes) == (0.0, (), ())
    assert hot.required == pytest.approx(0.15)
    (short,) = hot.short
    assert short.what == ("one.stl",) and short.distance == pytest.approx(0.13, abs=STL)
    reach = math.sqrt((0.15 + R) ** 2 - 0.2**2)
    assert (short.start, short.end) == pytest.approx((9.95 - reach, 10.05 + reach), abs=5e-3)
    (stop,) = [f for f in run.findings if f.severity == "stop"]
    assert stop.rule == "clearance from hot pipe" and stop.limit == pytest.approx(0.15)
    assert stop.fix.values[0][0] == pytest.approx(0.02, abs=STL)
    near = {r.what for r in run.rows if r.start == 29}
    assert near == {"two.stl"}  # 0.05 m to spare against 0.13 m of the nearer hall


def test_of_three_bodies_of_one_class_each_is_where_it_stands(tmp_path: Path) -> None:
    meshes = {
        "low.stl": box((0.1, 0.1, 2), (8, -0.4, 0)),
        "tall.stl": trimesh.creation.icosphere(radius=0.1).apply_translation((20, 0.5, 0)),
        "far.stl": box((0.1, 0.1, 2), (32, -0.3, 0)),
    }
    rows = ", ".join(f'{{ file = "{name}", units = "m" }}' for name in meshes)
    site = f"[site]\ncontext = [{rows}]\n"
    found = {r.start: r for r in only(write_job(tmp_path, STRAIGHT, site, meshes)).rows}
    for at, name, clear in ((7, "low.stl", 0.28), (19, "tall.stl", 0.33), (31, "far.stl", 0.18)):
        assert found[at].what == name
        assert found[at].distance == pytest.approx(clear, abs=2e-3)


def test_an_end_may_touch_what_it_ends_at_and_says_so(tmp_path: Path) -> None:
    meshes = {"board.stl": box((1, 2, 2), (40.3, 0, 0))}  # its face stands at x = 39.8
    site = '[site]\ncontext = [{ file = "board.stl", units = "m" }]\n'
    run = only(write_job(tmp_path, STRAIGHT, site, meshes))
    (met,) = run.met
    assert not run.stops and not met.clashes and not met.inside
    (end,) = met.at_ends
    assert end.station == pytest.approx(39.8, abs=STL) and end.depth == pytest.approx(R, abs=STL)
    assert [f.severity for f in run.findings if f.rule == "at an end: the building"] == ["note"]
    assert run.rows[-1].verdict == "end"
    strict = write_job(tmp_path, STRAIGHT, site + "clearance_free_ends = 0\n", meshes)
    assert only(strict).stops


def test_the_box_of_a_pull_point_is_free_too(tmp_path: Path) -> None:
    box_text = STRAIGHT.replace('name = "A b"', 'name = "A b", box = [4000, 2000, 2000]')
    meshes = {"vault.stl": box((0.2, 3, 3), (37.9, 0, 0))}
    site = '[site]\ncontext = [{ file = "vault.stl", units = "m" }]\n'
    assert only(write_job(tmp_path, STRAIGHT, site, meshes)).stops
    # half the diagonal of 4 x 2 x 2 m is 2.45 m
    assert not only(write_job(tmp_path, box_text, site, meshes)).stops


@pytest.mark.parametrize("closed", [True, False])
def test_a_run_wholly_inside_a_body(tmp_path: Path, closed: bool) -> None:
    body = box((60, 4, 4), (20, 0, 0.5))
    if not closed:
        body.update_faces(np.arange(len(body.faces)) > 0)
    site = '[site]\ncontext = [{ file = "ground.stl", units = "m" }]\n'
    model = write_job(tmp_path, STRAIGHT, site, {"ground.stl": body})
    result = clearance_of(model)
    (met,) = result.runs[0].met
    assert not met.clashes and not result.stops
    if closed:
        (inside,) = met.inside
        assert met_verdict(met) == "inside?"
        assert {r.verdict for r in result.runs[0].rows[1:-1]} == {"inside?"}
        assert (inside.start, inside.end) == pytest.approx((0, 40))
        assert -inside.distance == pytest.approx(1.5 + R, abs=STL)
        assert result.open_meshes == ()
    else:
        assert met_verdict(met) == "ok"
        assert met.inside == () and result.open_meshes == ("ground.stl",)


def test_a_run_wholly_inside_solid_material_is_a_clash(tmp_path: Path) -> None:
    """2 m up from the bottom of a body 4 m high: the nearest surface is its top, 1.5 m away."""
    site = '[site]\ncontext = [{ file = "pier.stl", units = "m", solid = true }]\n'
    model = write_job(tmp_path, STRAIGHT, site, {"pier.stl": box((60, 4, 4), (20, 0, 0.5))})
    run = only(model)
    (met,) = run.met
    (clash,) = met.clashes
    assert (clash.start, clash.end) == pytest.approx((0, 40))
    assert clash.depth == pytest.approx(1.5 + R, abs=STL)
    assert met.nearest is not None and met.nearest.distance == pytest.approx(-1.5 - R, abs=STL)
    assert run.stops
    assert {(f.severity, f.rule) for f in run.findings} == {("stop", "clash with the building")}
    assert {r.verdict for r in run.rows if 2 < r.start < 37} == {"clash"}


def test_in_and_out_of_solid_material_is_one_clash(tmp_path: Path) -> None:
    wall = box((0.5, 8, 6), (20, 0, 0))
    site = '[site]\ncontext = [{ file = "wall.stl", units = "m", solid = true }]\n'
    run = only(write_job(tmp_path, STRAIGHT, site, {"wall.stl": wall}))
    (met,) = run.met
    (clash,) = met.clashes
    assert (clash.start, clash.end) == pytest.approx((19.75 - R, 20.25 + R), abs=5e-3)
    assert clash.depth == pytest.approx(0.25 + R, abs=5e-3)
    assert [(f.severity, f.rule) for f in run.findings] == [("stop", "clash with the building")]


def test_the_air_of_a_room_is_no_clash_but_its_walls_are(tmp_path: Path) -> None:
    """A room drawn as one closed surface, run into through one wall: one face, and no caution."""
    site = '[site]\ncontext = [{ file = "room.stl", units = "m", solid = false }]\n'
    room = box((30, 4, 4), (25, 0, 0.5))
    run = only(write_job(tmp_path, STRAIGHT, site, {"room.stl": room}))
    (met,) = run.met
    assert met.inside == () and len(met.clashes) == 1
    assert met.clashes[0].station == pytest.approx(10.0, abs=STL)
    assert {f.rule for f in run.findings if f.severity == "caution"} == set()


def test_the_air_of_a_hollow_solid_is_not_inside(tmp_path: Path) -> None:
    outer, inner = box((60, 6, 6), (20, 0, 0)), box((59, 5, 5), (20, 0, 0))
    inner.invert()
    hall = trimesh.util.concatenate([outer, inner])
    site = '[site]\ncontext = [{ file = "hall.stl", units = "m" }]\n'
    (met,) = only(write_job(tmp_path, STRAIGHT, site, {"hall.stl": hall})).met
    assert met.inside == ()
    assert met.nearest is not None and met.nearest.distance == pytest.approx(2.5 - R, abs=STL)


# --- runs ----------------------------------------------------------------------------------------


def test_runs_that_cross_clash_for_both(tmp_path: Path) -> None:
    """Square to each other, 0.1 m apart: the outsides overlap by 40 mm."""
    runs = STRAIGHT + run_text("B", [(15, -20, 0.1), (15, 20, 0.1)])
    result = clearance_of(write_job(tmp_path, runs))
    for run, station in zip(result.runs, (15.0, 20.0), strict=True):
        (met,) = run.met
        (clash,) = met.clashes
        assert clash.depth == pytest.approx(0.04, abs=1e-9)
        assert clash.station == pytest.approx(station, abs=1e-4)
        reach = math.sqrt(0.14**2 - 0.1**2)
        assert clash.end - clash.start == pytest.approx(2 * reach, abs=1e-2)
    assert [r.met[0].name for r in result.runs] == ["run B", "run A"]


@pytest.mark.parametrize(("asked", "stops"), [(39, False), (40, False), (41, True)])
def test_the_clearance_between_runs(tmp_path: Path, asked: float, stops: bool) -> None:
    """Parallel at 180 mm from center to center: 40 mm between the outsides."""
    runs = STRAIGHT + run_text("B", [(0, 0.18, 0), (40, 0.18, 0)])
    site = f"[site]\nclearance_between_runs = {asked}\n"
    result = clearance_of(write_job(tmp_path, runs, site))
    assert result.stops is stops
    assert [r.distance for r in result.runs[0].rows] == pytest.approx([0.04] * 40, abs=1e-9)
    # the first and the last meter start and end side by side: they meet there
    assert [r.verdict for r in result.runs[0].rows][::39] == ["end", "end"]


@pytest.mark.parametrize(("room", "stops"), [(39, False), (40, False), (41, True)])
def test_the_room_for_supports_is_kept_clear(tmp_path: Path, room: int, stops: bool) -> None:
    """The same 40 mm between two conduits; what asks for more takes precedence."""
    runs = STRAIGHT + run_text("B", [(0, 0.18, 0), (40, 0.18, 0)])
    result = clearance_of(write_job(tmp_path, runs, f"[site]\nsupport_room = {room}\n"))
    assert result.stops is stops
    if stops:
        assert any("support_room" in str(f.source) for f in result.runs[0].findings)
    both = f"[site]\nsupport_room = {room}\nclearance_between_runs = 42\n"
    assert clearance_of(write_job(tmp_path, runs, both)).stops


def test_runs_from_one_vault_are_free_of_each_other_there_only(tmp_path: Path) -> None:
    runs = STRAIGHT + run_text("B", [(0, 0, 0), (0.4, 30, 0)])
    met = clearance_of(write_job(tmp_path, runs)).runs[0].met[0]
    assert met.clashes == () and met.at_ends[0].start == 0.0
    # not where one only passes by the end of the other
    runs = STRAIGHT + run_text("B", [(20, 0.05, 0), (20, 30, 0)])
    met = clearance_of(write_job(tmp_path, runs)).runs[0].met[0]
    (clash,) = met.clashes
    assert clash.depth == pytest.approx(2 * R - 0.05, abs=1e-9)


def test_rows_cover_the_run_whatever_their_length(tmp_path: Path) -> None:
    site = '[site]\ncontext = [{ file = "wall.stl", units = "m" }]\n'
    model = write_job(tmp_path, STRAIGHT, site, {"wall.stl": box((0.5, 8, 6), (20.3, 0, 0))})
    for every in (1.0, 0.7, 100.0):
        rows = clearance_of(model, every).runs[0].rows
        assert rows[0].start == 0 and rows[-1].end == pytest.approx(40)
        assert all(a.end == b.start for a, b in pairwise(rows))
        assert all(r.start <= r.station <= r.end for r in rows)
        assert max(r.end - r.start for r in rows) <= every + 1e-9
        assert min(r.distance for r in rows) == pytest.approx(-R, abs=STL)


@pytest.mark.parametrize("every", [0.5, 1.0, 7.0])
def test_the_least_clearance_in_solid_material_is_the_deepest(tmp_path: Path, every: float) -> None:
    """Square through a wall 1 m thick: in its middle the nearest face is 0.5 m off."""
    site = '[site]\ncontext = [{ file = "wall.stl", units = "m", solid = true }]\n'
    wall = {"wall.stl": box((1.0, 8, 6), (20, 0, 0))}
    (run,) = clearance_of(write_job(tmp_path, STRAIGHT, site, wall), every).runs
    (met,) = run.met
    assert met.nearest is not None
    assert met.nearest.distance == pytest.approx(-(0.5 + R), abs=0.01)
    assert met.nearest.station == pytest.approx(20.0, abs=0.02)
    deep = [row for row in run.rows if row.start < 20.0 < row.end]
    assert all(row.distance == pytest.approx(-(0.5 + R), abs=0.01) for row in deep)
    (clash,) = met.clashes
    assert clash.depth == pytest.approx(-met.nearest.distance, abs=1e-6)
    (said,) = (f.fix for f in run.findings if f.severity == "stop")
    assert "move the run " in render(said, "SI")


def test_beside_solid_material_nothing_is_inside_it(tmp_path: Path) -> None:
    """The face of the pier is 1 m from the line: 0.93 m of the conduit."""
    site = '[site]\ncontext = [{ file = "pier.stl", units = "m", solid = true }]\n'
    run = only(write_job(tmp_path, STRAIGHT, site, {"pier.stl": box((10, 2, 4), (20, 2, 0))}))
    (met,) = run.met
    assert met.inside == met.clashes == () and not run.stops
    assert met.nearest is not None and met.nearest.distance == pytest.approx(1.0 - R, abs=STL)


def test_where_a_run_is_all_end_nothing_counts_as_nearest(tmp_path: Path) -> None:
    """A run of 1 m between two vaults that are free for 2 m round their points."""
    short = run_text("A", [(0, 0, 0), (1, 0, 0)])
    site = '[site]\nclearance_free_ends = 2\ncontext = [{ file = "wall.stl", units = "m" }]\n'
    run = only(write_job(tmp_path, short, site, {"wall.stl": box((0.2, 2, 2), (0.5, 0, 0))}))
    (met,) = run.met
    assert met.nearest is None and met.clashes == () and met.at_ends
    assert not run.stops
