"""What the crew is told of a plan: the plan's own table, gears and place, nothing besides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.mechanics.pull import solve_pull
from route3d.planning.direction import Candidate
from route3d.planning.pull_plan.plan import Plan
from route3d.report.plan_blocks import gauge_block
from route3d.units import convert, show, unit_label
from tests.viewer.conftest import Answered, slippery
from viewer import gauge
from viewer.gauge import Gauge, gauge_of, plan_for_crew, why_none


def told(answered: Answered, units: str) -> tuple[Gauge, Plan]:
    result, job = answered
    plan = plan_for_crew(result, result.best, job)
    assert plan is not None
    return gauge_of(result.best, plan, units), plan


def number(text: str) -> float:
    return float(text.split()[0].replace(",", ""))


def without(candidate: Candidate, **more: object) -> Candidate:
    pull = candidate.pull
    run = replace(pull.run, **more)  # type: ignore[arg-type]
    return replace(candidate, pull=solve_pull(run, pull.practice, reverse=pull.reverse))


@pytest.mark.parametrize("units", ["US", "SI"])
def test_the_table_is_that_of_the_plan(demo: Answered, units: str) -> None:
    demo = slippery(demo) if demo[0].stops else demo
    words, plan = told(demo, units)
    table = gauge_block(plan, units, 24)
    assert len(words.rows) == len(table.rows) >= 5
    for row, printed in zip(words.rows, table.rows, strict=True):
        shown = (row.length, row.expected, row.caution, row.stop)
        cells = dict(zip(table.heads, printed, strict=True))
        names = ("cable in", "expected", "caution", "stop")
        assert shown == tuple(cells[name].split(" ")[0] for name in names)
        assert (row.gear, row.breaks) == (cells["gear"], cells["limit reached first"])
        assert row.usable == (cells["gauge accurate"] == "yes")
        assert (row.first or "-") == cells["first move"].split(" ")[0]


@pytest.mark.parametrize("units", ["US", "SI"])
def test_the_stop_load_is_the_least_of_the_table(demo: Answered, units: str) -> None:
    demo = slippery(demo) if demo[0].stops else demo
    """Read alone it is safe everywhere; where others hold, the text says so."""
    words, plan = told(demo, units)
    stops = [row.stop for row in plan.gauge]
    assert words.load == show(min(stops), "force", units)
    assert all(number(row.stop) >= number(words.load) for row in words.rows)
    if max(stops) > min(stops) and not any(row.stop < row.expected for row in plan.gauge):
        assert "The stop load changes along the pull" in words.text


def test_the_crew_is_told_the_cautions_and_the_hold_points_of_the_plan(riser: Answered) -> None:
    words, plan = told(riser, "US")
    said = " ".join((*words.notes, *words.cautions))
    assert any(f.rule == "machine can overload" for f in plan.findings)
    assert "machine can overload" in said and "HOLD: Test the emergency stop" in said


def test_the_text_names_the_place_with_the_least_room(riser: Answered) -> None:
    words, plan = told(riser, "US")
    tight = max(plan.gauge, key=lambda row: row.expected / row.stop)
    for value, quantity in ((tight.pulled, "length"), (tight.stop, "force")):
        assert show(value, quantity, "US") in words.text


def test_the_largest_expected_reading_is_the_peak_with_the_first_moves(
    fine_yard: Answered,
) -> None:
    """The last stop for lubricant is started again at 1.3 times the friction: above the peak."""
    words, plan = told(fine_yard, "US")
    moving = float(np.max(fine_yard[0].best.pull.machine_loads))
    assert plan.peak > moving
    assert words.largest.startswith(f"{show(plan.peak, 'force', 'US')} at a first move; ")
    assert f"while moving {show(moving, 'force', 'US')} at" in words.largest


def test_every_column_has_its_unit_and_no_cell_repeats_it(drop: Answered) -> None:
    words, _ = told(drop, "SI")
    force = unit_label("force", "SI")
    units = [head.partition(", ")[2] for head in words.heads]
    assert units == [unit_label("length", "SI"), "", force, force, force, ""]
    cells = [c for r in words.rows for c in (r.length, r.expected, r.caution, r.stop)]
    assert all(" " not in cell for cell in cells)


def test_a_gear_in_which_the_gauge_does_not_read_is_marked(fine_yard: Answered) -> None:
    """The yard's puller reads true in low only."""
    words, _ = told(fine_yard, "US")
    assert {(row.gear, row.usable) for row in words.rows} == {("high", False), ("low", True)}


def test_gears_time_place_and_weakest_link_are_told(fine_yard: Answered) -> None:
    words, plan = told(fine_yard, "US")
    (change,) = plan.pace.gears.changes
    at = show(change.pulled, "length", "US", decimals=0)
    assert any(f"At {at} of cable in: stop, change from high to low" in w for w in words.gears)
    assert any("in high: peak load" in w for w in words.gears)
    assert any(w.startswith("Crew time") for w in words.time)
    assert any("hitched to a vehicle" in w for w in words.machine)
    assert any(w.startswith("Weakest link: ") for w in words.link)


def test_readings_are_rounded_marks_of_the_tape(drop: Answered) -> None:
    words, plan = told(drop, "SI")
    marks = [number(row.length) for row in words.rows]
    assert marks == sorted(marks)
    assert marks[-1] == round(convert(plan.pull.path.length, "length", "SI"))


@pytest.mark.parametrize("lacking", ["rope", "machine"])
def test_without_a_rope_or_a_machine_nothing_is_foretold_and_it_is_said(
    drop: Answered, lacking: str
) -> None:
    result, job = drop
    bare = without(result.best, **{lacking: None})
    assert plan_for_crew(result, bare, job) is None
    words = gauge_of(bare, None, "SI")
    assert (words.load, words.rows, words.largest) == ("-", (), "")
    assert f"No {lacking} given" in words.text


def test_a_pull_that_is_not_to_be_made_gets_no_readings(drop: Answered) -> None:
    words = gauge_of(drop[0].best, None, "SI")
    assert words.load == "-" and "must not be made" in words.text


def test_a_planned_pull_that_breaks_a_limit_is_not_to_be_made(yard: Answered) -> None:
    words, plan = told(yard, "US")
    assert any(row.stop < row.expected for row in plan.gauge)
    assert words == gauge_of(yard[0].best, None, "US")
    assert "must not be made" in words.text and words.rows == ()


def test_a_very_long_run_is_planned_only_for_who_waits(
    drop: Answered, monkeypatch: pytest.MonkeyPatch
) -> None:
    result, job = drop
    monkeypatch.setattr(gauge, "_QUICK", 1)
    assert plan_for_crew(result, result.best, job) is None
    assert "Too many bends" in why_none(result.best)
    plan = plan_for_crew(result, result.best, job, patient=True)
    assert plan is not None
    assert any(
        "Only the 6 bends with the highest sidewall pressure" in n
        for n in gauge_of(result.best, plan, "SI").notes
    )
