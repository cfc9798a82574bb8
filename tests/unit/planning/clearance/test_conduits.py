"""A run that comes back to itself, and runs beside the ducts of a bank: elementary geometry."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.support.clearance_jobs import box, clearance_of, run_text, write_job

R = 0.07  # the conduit's outer radius, m


# --- against itself ------------------------------------------------------------------------------


def loop(height: float) -> str:
    """East, round to the left, and back across the first leg at x = 10, ``height`` m above it."""
    return run_text(
        "A", [(0, 0, 0), (20, 0, 0), (20, 10, height), (10, 10, height), (10, -10, height)]
    )


def test_a_run_that_crosses_itself_clashes_in_both_places(tmp_path: Path) -> None:
    """Square to each other, 0.1 m apart: the outsides overlap by 40 mm."""
    (run,) = clearance_of(write_job(tmp_path, loop(0.1))).runs
    (met,) = run.met
    assert met.name == "the run itself"
    assert [c.depth for c in met.clashes] == pytest.approx([0.04, 0.04], abs=1e-9)
    first, second = met.clashes
    assert first.station == pytest.approx(10.0, abs=1e-4)
    assert second.station == pytest.approx(run.path.length - 10.0, abs=1e-4)
    reach = math.sqrt(0.14**2 - 0.1**2)
    assert (first.start, first.end) == pytest.approx((10 - reach, 10 + reach), abs=1e-2)
    assert run.stops
    assert all(math.isfinite(row.distance) for row in run.rows)


@pytest.mark.parametrize(("height", "stops"), [(0.1399, True), (0.1402, False), (3.0, False)])
def test_it_is_a_clash_only_where_the_outsides_meet(
    tmp_path: Path, height: float, stops: bool
) -> None:
    result = clearance_of(write_job(tmp_path, loop(height)))
    assert result.stops is stops
    assert result.nothing is not stops  # there is nothing else in the job


@pytest.mark.parametrize(("asked", "stops"), [(1850, False), (1870, True)])
def test_the_clearance_asked_for_counts_where_it_doubles_back(
    tmp_path: Path, asked: int, stops: bool
) -> None:
    """A half turn of bends of 1 m: the two legs are 2 m apart, 1.86 m from surface to surface."""
    back = run_text("A", [(0, 0, 0), (20, 0, 0), (20, 2, 0), (0, 2, 0)])
    site = f"[site]\nclearance_between_runs = {asked}\n"
    (run,) = clearance_of(write_job(tmp_path, back, site)).runs
    assert run.stops is stops
    if stops:
        (met,) = run.met
        assert {round(s.distance, 6) for s in met.short} == {1.86}
        assert not met.clashes


@pytest.mark.parametrize("asked", [0, 100, 1800])
def test_no_bend_of_half_the_distance_is_too_near_itself(tmp_path: Path, asked: int) -> None:
    """Bends of 1 m in a row, in two planes, with up to 1.94 m from center to center asked for."""
    steps = run_text("A", [(0, 0, 0), (9, 0, 0), (9, 9, 0), (9, 9, 9), (18, 9, 9)])
    site = f"[site]\nclearance_between_runs = {asked}\n"
    assert not clearance_of(write_job(tmp_path, steps, site)).stops


def test_where_it_ends_beside_its_own_start_it_may(tmp_path: Path) -> None:
    """Both ends in one vault, 0.1 m apart: free there, for a meter."""
    ring = run_text("A", [(0, 0, 0), (9, 0, 0), (9, 9, 0), (0, 9, 0), (0, 0.1, 0)])
    assert not clearance_of(write_job(tmp_path, ring)).stops
    strict = write_job(tmp_path, ring, "[site]\nclearance_free_ends = 0\n")
    assert clearance_of(strict).stops


# --- the ducts of a bank -------------------------------------------------------------------------

BANK = "[[bank]]\nrun = 'B'\nrows = 1\ncolumns = 2\nspacing = [200, 200]\ncover = 0\n"


def beside(away: float) -> str:
    return run_text("A", [(0, 0, 0), (40, 0, 0)]) + run_text("B", [(0, away, 0), (40, away, 0)])


@pytest.mark.parametrize(("away", "clash"), [(0.241, False), (0.239, True)])
def test_a_run_beside_a_bank_meets_its_near_duct(tmp_path: Path, away: float, clash: bool) -> None:
    """The duct lies 0.1 m to the side of the bank's center: the outsides meet at 0.24 m."""
    result = clearance_of(write_job(tmp_path, beside(away), BANK))
    first, second = result.runs
    assert [m.name for m in first.met] == ["bank of B"]  # its ducts, not its line
    assert not second.met
    assert [[m.name for m in d.met] for d in result.ducts] == [["run A"], ["run A"]]
    (bank,) = first.met
    assert bank.nearest is not None
    assert bank.nearest.distance == pytest.approx(away - 0.1 - 2 * R, abs=1e-9)
    assert bank.nearest.what[0].startswith("duct row 1, column ")
    assert bool(bank.clashes) is clash and result.stops is clash


def test_the_ducts_follow_the_bend_of_their_bank(tmp_path: Path) -> None:
    """Rising square to the bank's plane at a point of the inner duct, R - 0.1 m from its center."""
    runs = run_text("B", [(0, 0, 0), (20, 0, 0), (20, 20, 0)])
    at = np.array([19.0, 1.0]) + (1.0 - 0.1) * np.array([math.sqrt(0.5), -math.sqrt(0.5)])
    riser = run_text("A", [(*at.tolist(), -5), (*at.tolist(), 5)])
    result = clearance_of(write_job(tmp_path, runs + riser, BANK))
    bank = next(r for r in result.runs if r.run.name == "A").met[0]
    (clash,) = bank.clashes
    assert clash.distance == pytest.approx(-2 * R, abs=1e-6)
    assert clash.station == pytest.approx(5.0, abs=1e-3)


def test_ducts_without_a_path_are_named(tmp_path: Path) -> None:
    runs = beside(5.0).replace("[40, 5.0, 0]", "[20, 5.0, 0], bend = 1 },\n  { at = [20, 30, 0]")
    wide = BANK.replace("columns = 2", "columns = 9").replace("[200, 200]", "[400, 200]")
    assert clearance_of(write_job(tmp_path, runs, wide)).blocked_banks == ("B",)


def test_the_ducts_keep_clear_of_meshes_where_their_run_does(tmp_path: Path) -> None:
    """A wall 0.3 m beside the bank's center: the near duct is 0.1 m nearer to it than the run."""
    run = run_text("B", [(0, 0, 0), (40, 0, 0)])
    site = '[[site.context]]\nfile = "wall.stl"\nunits = "m"\nclearance = 200\n'
    wall = {"wall.stl": box((40, 0.2, 4), (20, 0.4, 0))}
    result = clearance_of(write_job(tmp_path, run, site + BANK, wall))
    (whole,) = result.runs
    assert not whole.stops and result.stops
    nearest = {d.duct: d.met[0].nearest for d in result.ducts}
    found = {name: place.distance for name, place in nearest.items() if place is not None}
    assert sorted(found.values()) == pytest.approx([0.2 - R, 0.4 - R], abs=1e-6)
    near = min(found, key=lambda name: found[name])
    stops = [f for d in result.ducts for f in d.findings if f.severity == "stop"]
    assert {f.where.split(", station")[0] for f in stops} == {near}


@pytest.mark.parametrize(("deep", "clash"), [(0.339, True), (0.341, False)])
def test_the_ducts_of_two_banks_that_cross_are_held_against_each_other(
    tmp_path: Path, deep: float, clash: bool
) -> None:
    """Two rows 0.2 m apart about each line: lines d apart leave their near rows d - 0.2 m apart."""
    runs = run_text("A", [(0, 0, 0), (40, 0, 0)]) + run_text(
        "B", [(20, -20, -deep), (20, 20, -deep)]
    )
    two = BANK.replace("rows = 1", "rows = 2")
    result = clearance_of(write_job(tmp_path, runs, two + two.replace("'B'", "'A'")))
    assert len(result.ducts) == 8
    least = min(m.nearest.distance for d in result.ducts for m in d.met if m.nearest is not None)
    assert least == pytest.approx(deep - 0.2 - 2 * R, abs=1e-6)
    assert result.stops is clash
    assert sum(d.stops for d in result.ducts) == (4 if clash else 0)  # the near rows of both


def test_on_the_line_of_a_bank_without_a_middle_duct_nothing_is_hit(tmp_path: Path) -> None:
    """A run that passes between two ducts 0.4 m apart: 0.2 m from the line of each."""
    wide = BANK.replace("[200, 200]", "[400, 400]")
    runs = run_text("A", [(20, 0, -5), (20, 0, 5)]) + run_text("B", [(0, 0, 0), (40, 0, 0)])
    result = clearance_of(write_job(tmp_path, runs, wide))
    assert not result.stops
    (met,) = result.runs[0].met
    assert met.nearest is not None
    assert met.nearest.distance == pytest.approx(0.2 - 2 * R, abs=1e-6)
