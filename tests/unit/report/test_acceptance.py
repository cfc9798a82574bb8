"""The acceptance checks in words: limiter, brake, first move; and the same in JSON."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from route3d.model import Job
from route3d.modelfile.read import load
from route3d.phrase import say
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.report.plan_blocks import (
    GAUGE,
    acceptance_block,
    accidents_block,
    gauge_block,
    limiter_order,
    limiter_words,
    plan_blocks,
    reel_setting,
    setting,
)
from route3d.report.plan_json import plan_data
from route3d.report.plan_steps import steps
from route3d.report.plan_tackle import reel_block
from route3d.units import render, show
from tests.support.jobs import LBF

MODELS = Path(__file__).parents[3] / "models"


@cache
def planned(name: str = "riser_duct_bank") -> tuple[Job, Plan]:
    job = load(MODELS / f"{name}.toml")
    result = evaluate(job, with_remedies=False).runs[0]
    return job, make_plan(result, job, step=15.0)


@pytest.mark.parametrize(
    ("pounds", "told"),
    [
        (2032.93, "2,000 lbf"),
        (2049.9, "2,000 lbf"),
        (2050.0, "2,050 lbf"),
        (13472.76, "13,000 lbf"),
        (999.9, "995 lbf"),
        (57.3, "57 lbf"),
        (3.9, "3 lbf"),
    ],
)
def test_a_limiter_is_set_at_a_round_figure_never_above_the_stop(pounds: float, told: str) -> None:
    assert setting(pounds * LBF, "US") == told


def test_in_kilonewtons_too() -> None:
    assert setting(9042.0, "SI") == "9.00 kN"
    assert setting(457.0, "SI") == "0.45 kN"
    assert setting(math.inf, "SI") == "none"


def test_a_figure_marked_down_is_rounded_down() -> None:
    def told(value: float) -> str:
        return render(say("{}", (value, "force-")), "US")

    assert [told(x * LBF) for x in (396.9, 397.0, 397.4)] == ["396 lbf", "397 lbf", "397 lbf"]
    assert told(0.0) == "0 lbf"


def test_the_checks_stand_before_everything_but_the_decision() -> None:
    _, plan = planned()
    titles = [block.title for block in plan_blocks(plan, "US")]
    assert titles[:2] == ["Decision", "Acceptance checks"]
    block = acceptance_block(plan, "US")
    (stage,), (row,) = plan.acceptance.stages, block.rows
    lowest = min(r.stop for r in plan.gauge)
    assert stage.limiter == plan.acceptance.limiter == lowest
    assert row == (
        "start of pull",
        "0 ft",
        reel_setting(plan, "US"),
        setting(lowest, "US"),
        show(plan.gauge[0].first_move or 0.0, "force", "US"),
        f"{show(stage.stalls, 'force', 'US')}, machine stalls",
    )
    assert stage.stalls < lowest < (plan.gauge[0].first_stop or 0.0)
    assert block.words[0] == (
        f"Set the machine's limiter to {setting(lowest, 'US')} for the whole pull (the lowest "
        f"Stop). In high the machine stalls at {show(stage.stalls, 'force', 'US')}, before "
        "the limiter acts."
    )
    assert "lowest setting is higher" in block.words[-1]
    assert "zero the gauge" in block.notes[0] and "stop and call" in block.notes[0]


def test_a_brake_is_named_by_both_its_ends_and_a_light_one_by_its_upper() -> None:
    _, plan = planned()
    window = plan.acceptance.window
    assert window.holds
    low = render(say("{}", (window.at_least, "force+")), "US")
    high = render(say("{}", (window.at_most, "force-")), "US")
    assert reel_setting(plan, "US") == f"brake {low} to {high}"
    checks = replace(plan.acceptance, window=replace(window, at_least=0.0))
    light = replace(plan, acceptance=checks)
    assert reel_setting(light, "US") == f"light brake, at most {high}"


def test_a_window_that_is_empty_names_no_setting_and_figure_eights_no_brake() -> None:
    _, plan = planned()
    none = replace(plan.acceptance.window, at_most=plan.acceptance.window.at_least / 2)
    assert none.empty
    empty = replace(plan, acceptance=replace(plan.acceptance, window=none))
    assert reel_setting(empty, "US") == "no brake setting"
    by_hand = replace(plan, feeding=replace(plan.feeding, off_reel=False))
    assert reel_setting(by_hand, "US") == "fed by hand"


def test_what_holds_the_first_move_is_the_smallest_of_stop_limiter_and_gear() -> None:
    _, plan = planned()
    (stage,) = plan.acceptance.stages

    def told(**changed: float) -> tuple[str, tuple[str, ...]]:
        one = replace(stage, **changed)  # type: ignore[arg-type]
        checks = replace(plan.acceptance, stages=(one,), limiter=one.limiter)
        block = acceptance_block(replace(plan, acceptance=checks), "US")
        return block.rows[0][-1], block.words

    low = 10.4 * LBF + max(stage.largest, stage.first_move)
    for name, words in (("first_stop", "stop"), ("stalls", "machine stalls")):
        cell, _ = told(**{name: low})
        assert cell == f"{math.floor(low / LBF):,} lbf, {words}"
    cell, words = told(limiter=low)
    assert cell == f"{setting(low, 'US')}, limiter"
    assert not any("stalls" in text for text in words)
    weak = stage.first_move - LBF
    cell, words = told(stalls=weak)
    assert cell == f"{math.floor(weak / LBF):,} lbf, machine stalls"
    assert (
        "At 0 ft of cable in, the machine cannot make the first move in high: "
        f"{show(stage.first_move, 'force', 'US')} expected, it stalls at "
        f"{show(weak, 'force', 'US')}."
    ) in words[0]
    # A limiter raised for the first move lets through what its stop allows.
    raised = stage.first_move + 5 * LBF
    cell, _ = told(limiter=stage.first_move - 1.0, largest=1.0, first_stop=raised)
    assert cell == f"{math.floor(raised / LBF):,} lbf, stop"


def test_where_the_lowest_stop_would_end_the_pull_the_words_say_what_to_do() -> None:
    _, plan = planned()
    (stage,) = plan.acceptance.stages
    low = replace(stage, limiter=stage.first_move - 1.0)

    def words(limiter: float) -> str:
        one = replace(stage, limiter=limiter)
        checks = replace(plan.acceptance, stages=(one,), limiter=limiter)
        return " ".join(limiter_words(replace(plan, acceptance=checks), "US"))

    assert low.trips_at_start
    assert "set the limiter to the Stop of the current row" in words(stage.largest - 1.0)
    only_start = replace(stage, largest=1.0, limiter=stage.first_move - 1.0)
    checks = replace(plan.acceptance, stages=(only_start,), limiter=only_start.limiter)
    told = " ".join(limiter_words(replace(plan, acceptance=checks), "US"))
    assert "change it before each stage" in told
    assert f"raise the limiter to {setting(stage.first_stop, 'US')}" in told
    assert words(math.inf) == "No limiter setting: the gauge cannot show any limit."


def test_a_plan_that_must_not_be_pulled_has_no_checks() -> None:
    _, plan = planned("yard_run")
    assert plan.stops
    assert acceptance_block(plan, "US").rows == acceptance_block(plan, "US").words == ()


def test_the_gauge_table_names_limit_place_and_what_it_cannot_show() -> None:
    _, plan = planned()
    row = plan.gauge[-1]
    assert (row.limit, row.limit_place) == ("sidewall", "bend 1")
    blind = replace(row, hidden=("bend 2", "cable"))
    block = gauge_block(replace(plan, gauge=(row, blind)), "US")
    assert block.title == GAUGE
    told = [dict(zip(block.heads, cells, strict=True)) for cells in block.rows]
    assert told[0]["limit reached first"] == "sidewall pressure, bend 1"
    assert told[1]["limit reached first"] == (
        "sidewall pressure, bend 1; gauge cannot show this: bend 2, cable"
    )
    low, high = (show(x, "force", "US") for x in (row.expected_low, row.expected_high))
    assert told[0]["by brake"] == f"{low.split(' ')[0]} to {high}"
    none = replace(row, stop=math.inf, limit="", limit_place="", hidden=("bend 1",))
    block = gauge_block(replace(plan, gauge=(none, row)), "US")
    cells = dict(zip(block.heads, block.rows[0], strict=True))
    assert (cells["stop"], cells["limit reached first"]) == ("-", "gauge cannot show this: bend 1")


def test_json_has_every_figure_in_newtons_and_none_for_what_is_not_known() -> None:
    job, plan = planned()
    data = plan_data(job, [plan])["runs"][0]
    checks, rows = data["acceptance"], data["gauge"]
    assert checks["limiter_set_point_N"] == plan.acceptance.limiter
    assert checks["brake_window_N"] == [
        plan.acceptance.window.at_least,
        plan.acceptance.window.at_most,
    ]
    assert [s["first_move_stop_N"] for s in checks["stages"]] == [plan.gauge[0].first_stop]
    for told, row in zip(rows, plan.gauge, strict=True):
        assert told["stop_N"] == row.stop and told["stalls_N"] == row.stalls
        assert (told["expected_low_N"], told["expected_high_N"]) == (
            row.expected_low,
            row.expected_high,
        )
        assert told["first_limit_place"] == row.limit_place
        assert told["stop_at_low_friction_N"] == row.slick.reading
        assert told["cannot_show"] == list(row.hidden)
        assert told["first_move_stop_N"] == row.first_stop
    blind = replace(plan.gauge[0], stop=math.inf, stalls=math.inf)
    told = plan_data(job, [replace(plan, gauge=(blind,))])["runs"][0]
    text = json.dumps([told["gauge"], told["acceptance"]], allow_nan=False)
    ((row,), _) = json.loads(text)
    assert row["stop_N"] is row["stalls_N"] is None


@pytest.mark.parametrize("true", [True, False])
def test_the_steps_zero_the_gauge_and_set_the_limiter_before_the_slack_is_taken_up(
    true: bool,
) -> None:
    """Where no gear has an accurate gauge a dynamometer is read instead."""
    job, plan = planned()
    if not true:
        (given,) = job.runs
        assert given.machine is not None
        gears = tuple(replace(gear, gauge=False) for gear in given.machine.gears)
        blind = replace(given, machine=replace(given.machine, gears=gears))
        changed = replace(job, runs=(blind,))
        result = evaluate(changed, with_remedies=False).runs[0]
        plan = make_plan(result, changed, step=15.0)
    said = [text for text, _ in steps(plan, "US")]
    read = "the gauge" if true else "the gauge and the dynamometer"
    zero = said.index(f"With the rope slack, zero {read}. {limiter_order(plan, 'US')}")
    slack = next(i for i, text in enumerate(said) if text.startswith("Take up the slack"))
    installed = [i for i, text in enumerate(said) if text.startswith("Install a dynamometer")]
    assert [*installed, zero, slack] == sorted([*installed, zero, slack])
    assert [said[i] for i in installed] == [
        "Install a dynamometer in the line and read that in high: the machine's gauge is not "
        "accurate there."
    ] * (not true)
    assert limiter_words(plan, "US")[0].startswith(limiter_order(plan, "US"))


def test_after_an_unplanned_stop_the_reels_hold_what_hangs() -> None:
    """As the reel end has it; the brake of the pull again before the cable moves."""
    _, plan = planned()
    (hold,) = (t for t in reel_block(plan, "US").notes if t.startswith("At every stop hold"))
    (told,) = accidents_block(plan, "US").notes
    figure = hold.removeprefix("At every stop hold ").removesuffix(".")
    assert f"Leave the machine as it is and hold {figure}." in told
    assert f"Before the cable moves: {reel_setting(plan, 'US')}, total" in told
    by_hand = replace(plan, feeding=replace(plan.feeding, window=None))
    (told,) = accidents_block(by_hand, "US").notes
    assert told.startswith("Leave brake and machine as they are")


def test_no_brake_is_allowed_that_reads_above_caution_or_the_limiter() -> None:
    """A light brake raises no Caution: where its hardest reads above one, the crew is told."""
    _, plan = planned()
    assert plan.feeding.window is not None and plan.feeding.window.holds
    told, raised = "brake no harder than keeps the reading below both", "the hardest brake allowed;"
    notes = " ".join(gauge_block(plan, "US").notes)
    assert told not in notes and raised in notes
    light = replace(plan.feeding.window, at_least=0.0)
    rows = tuple(replace(row, expected_high=row.caution * 1.1) for row in plan.gauge)
    lightly = replace(plan, feeding=replace(plan.feeding, window=light), gauge=rows)
    assert not light.holds
    notes = " ".join(gauge_block(lightly, "US").notes)
    assert told in notes and raised not in notes
