"""Frames of the pull: against the mechanics, and against closed forms for a level run."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from route3d.drawing.marks import Line, Text
from route3d.drawing.pixels import measure
from route3d.geometry.vectors import norm
from route3d.mechanics.lead_off import lead_off_factor
from route3d.model import Gear
from route3d.model.practice import Practice
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.result import RunResult, evaluate_run
from route3d.units import show
from tests.support import jobs
from tests.viewer.conftest import ALLOW, Answered
from viewer.gauge import (
    GEAR_WORDS,
    STOP_WORDS,
    crossings,
    headline,
    plan_for_crew,
    stop_loads,
)
from viewer.load_chart import figures, load_chart, load_chart_items
from viewer.playback import Playback, clock, clock_unit, evenly, playback, split, warning
from viewer.theme import LIGHT

LEVEL = jobs.along(([(0, 0, 0), (100, 0, 0)], [0, 0]), jobs.conduit(friction=0.3))
SLOW, FAST = Gear(40e3, 0.05), Gear(500.0, 0.25)


def level(**more: object) -> RunResult:
    return evaluate_run(jobs.run(LEVEL, jobs.cable(weight=25.0), **more), Practice())


def ordered(station: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    order = np.argsort(station, kind="stable")
    return station[order], values[order]


def both(answered: Answered) -> list[Playback]:
    result, job = answered
    return [playback(result, c.pull, job.units, ALLOW) for c in result.candidates]


def test_a_level_run_pulls_cable_and_rope_over_friction() -> None:
    """T = μ (w s + w_rope (L - s)) with the head at s; tolerance: rounding."""
    frames = playback(level(rope=jobs.rope(2.0, 0.2)), level().candidates[0].pull, "SI", ALLOW)
    assert np.isnan(frames.load).all()  # this pull has no rope
    result = level(rope=jobs.rope(2.0, 0.2))
    frames = playback(result, result.candidates[0].pull, "SI", ALLOW)
    s = frames.station
    np.testing.assert_allclose(frames.load, 0.3 * 25 * s + 0.2 * 2 * (100 - s), rtol=1e-12)
    np.testing.assert_allclose(frames.head_tension, 0.3 * 25 * s, rtol=1e-12)


def test_time_is_length_over_the_speed_of_the_gear_of_the_plan() -> None:
    """Load and restart load are straight lines: 40 + 7.1 s N, 1.3 times that at a restart.

    The fast gear holds to 500 N less a tenth, so it is left at s = (450 - 40) / 7.1 m.
    """
    machine = replace(jobs.machine(), gears=(SLOW, FAST))
    result = level(rope=jobs.rope(2.0, 0.2), machine=machine)
    frames = playback(result, result.candidates[0].pull, "SI", ALLOW)
    change = (450.0 - 40.0) / 7.1
    expected = change / 0.25 + ALLOW.gear_change_time + (100 - change) / 0.05
    assert frames.elapsed[-1] == pytest.approx(expected, rel=1e-9)
    assert frames.gear_words == ("gear 1 of 2", "gear 2 of 2")
    assert (frames.limit == np.where(frames.gear == 0, 500.0, 40e3)).all()
    assert set(frames.gear[frames.pulled < change - 1e-6]) == {0}
    assert set(frames.gear[frames.pulled > change + 1e-6]) == {1}
    assert "gear 2 of 2" in frames.captions[-1]


def test_no_gear_that_holds_has_no_time() -> None:
    machine = replace(jobs.machine(), gears=(FAST,))
    result = level(rope=jobs.rope(2.0, 0.2), machine=machine)
    frames = playback(result, result.candidates[0].pull, "SI", ALLOW)
    assert frames.gear[-1] == -1
    assert math.isnan(frames.elapsed[-1])
    assert "no gear is strong enough" in frames.captions[-1]
    assert (
        frames.ending.startswith("The plan ends at") and "no gear is strong enough" in frames.ending
    )
    assert (frames.limit == 500.0).all()


def test_without_a_machine_the_load_is_told_and_nothing_more() -> None:
    result = level(rope=jobs.rope())
    frames = playback(result, result.candidates[0].pull, "SI", ALLOW)
    assert np.isfinite(frames.load).all()
    assert np.isnan(frames.limit).all() and np.isnan(frames.elapsed).all()
    assert (
        frames.captions[-1]
        == f"head at station 100.00 m; machine load {show(750.0, 'force', 'SI')}"
    )


def test_frames_follow_the_pull(demo: Answered) -> None:
    for frames, candidate in zip(both(demo), demo[0].candidates, strict=True):
        pull = candidate.pull
        assert frames.reverse == pull.reverse
        assert pull.heads is not None and pull.machine_loads is not None
        assert set(pull.heads.tolist()) <= set(frames.station.tolist())
        at_heads = np.interp(pull.heads, *ordered(frames.station, frames.load))
        np.testing.assert_allclose(at_heads, pull.machine_loads, rtol=1e-12)
        assert frames.pulled[0] == 0 and frames.pulled[-1] == pytest.approx(frames.length)
        assert frames.head_tension[0] == pytest.approx(pull.reel_tension)
        assert frames.head_tension[-1] == pull.end_tension
        # no rope is left in the conduit: what the sheaves of the lead-off add is all there is
        turns = lead_off_factor(pull.run.lead_off, pull.run.rope.friction)
        assert frames.load[-1] == pytest.approx(turns * pull.end_tension)
        assert frames.peak_sidewall[-1] == pull.peak_sidewall
        assert (np.diff(frames.peak_sidewall) >= 0).all()
        # the head never leaves the centerline: chords are no longer than the cable between them
        assert (norm(np.diff(frames.xyz, axis=0)) <= np.diff(frames.pulled) + 1e-9).all()


def test_many_joints_are_thinned_and_keep_their_tension() -> None:
    points = [(5.0 * i, 5.0 * (i % 2), 0.0) for i in range(400)]
    route = jobs.along((points, [0.0, *[1.0] * 398, 0.0]), jobs.conduit(friction=0.01))
    result = evaluate_run(jobs.run(route, rope=jobs.rope(2.0, 0.01)), Practice())
    for candidate in result.candidates:
        frames = playback(result, candidate.pull, "SI", ALLOW)
        assert len(frames) <= 240
        profile = candidate.pull.profile
        order = np.argsort(profile.station, kind="stable")
        known = np.interp(frames.station, profile.station[order], profile.tension[order])
        np.testing.assert_allclose(frames.head_tension, known, rtol=1e-9)


def test_a_film_has_even_steps_and_the_ends(demo: Answered) -> None:
    for frames in both(demo):
        film = evenly(frames, 50, "SI")
        assert len(film) == len(film.captions) == 50
        np.testing.assert_allclose(np.diff(film.pulled), frames.length / 49, rtol=1e-9)
        assert film.station[0] == frames.station[0] and film.station[-1] == frames.station[-1]
        assert film.load[0] == frames.load[0] and film.load[-1] == frames.load[-1]
        assert film.load.max() <= frames.load.max()


def test_a_film_of_one_frame_is_refused(demo: Answered) -> None:
    with pytest.raises(ValueError, match="two frames"):
        evenly(both(demo)[0], 1, "SI")


@pytest.mark.parametrize("head", [0.0, 3.0, 4.0, 9.5, 10.0])
@pytest.mark.parametrize("reverse", [False, True])
def test_cable_and_rope_share_the_head_and_make_up_the_route(head: float, reverse: bool) -> None:
    station = np.array([0.0, 4.0, 4.0, 10.0])
    points = np.column_stack((station, np.zeros(4), np.zeros(4)))
    cable, rope = split(points, station, head, reverse=reverse)
    lengths = [float(np.ptp(part[:, 0])) if len(part) else 0.0 for part in (cable, rope)]
    pulled = 10.0 - head if reverse else head
    assert lengths == pytest.approx([pulled, 10.0 - pulled])
    if len(cable) and len(rope):
        ends = (cable[0], rope[-1]) if reverse else (cable[-1], rope[0])
        np.testing.assert_array_equal(*ends)
        assert ends[0][0] == head


def test_clock_rounds_to_the_second_and_carries() -> None:
    assert [clock(t) for t in (0.0, 59.6, 3599.6)] == ["0:00", "1:00", "1:00:00"]


def test_the_parts_of_the_clock_are_named_as_they_are() -> None:
    """Two figures alone may be hours and minutes: the unit follows what ``clock`` prints."""
    for seconds in (0.0, 59.6, 3599.4, 3599.6, 7260.0, float("nan")):
        assert clock(seconds) == "-" or clock(seconds).count(":") == clock_unit(seconds).count(":")


def test_frames_cannot_be_written_to(demo: Answered) -> None:
    for name in ("station", "load", "elapsed", "xyz", "gear"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(both(demo)[0], name)[0] = 0


# --- stop load ---------------------------------------------------------------------------------


def with_rows(answered: Answered) -> tuple[Playback, tuple[GaugeRow, ...]]:
    result, job = answered
    plan = plan_for_crew(result, result.best, job)
    assert plan is not None
    # the table itself, though no surface shows that of a pull that stops
    rows = tuple(replace(row, limit=plan.candidate.name(row.limit)) for row in plan.gauge)
    return playback(result, result.best.pull, "US", job.allowances, rows), rows


def test_the_stop_load_is_that_of_the_gauge_table(yard: Answered) -> None:
    frames, rows = with_rows(yard)
    met = 0
    for row in rows:
        # a place at which gears are changed stands twice: the row is that of the new gear
        at = int(np.searchsorted(frames.pulled, row.pulled + 1e-6) - 1)
        if abs(frames.pulled[at] - row.pulled) < 1e-6:
            assert frames.stop[at] == pytest.approx(row.stop)
            met += 1
    assert met >= 6
    assert (frames.least == np.fmin(frames.stop, frames.limit)).all()


def test_the_headline_is_of_one_row_now_and_of_the_next(yard: Answered) -> None:
    """With the head between two rows, at a row, and at the end, where there is no next."""
    frames, rows = with_rows(yard)
    for at in range(len(frames)):
        passed = [row for row in rows if row.pulled <= frames.pulled[at] + 1e-6]
        wanted = [*passed[-1:], *rows[len(passed) : len(passed) + 1]]
        assert frames.headlines(at, "US") == tuple(headline(row, "US") for row in wanted)
        for name, row in zip(("now", "next"), wanted, strict=False):
            loads = [show(x, "force", "US") for x in (row.expected, row.caution, row.stop)]
            told = "expected {}, caution {}, stop {}".format(*loads)
            assert (
                f"{name} {show(row.pulled, 'length', 'US', decimals=0)} in: {told}"
                in (frames.captions[at])
            )
    assert len(frames.headlines(0, "US")) == 2 and len(frames.headlines(-1, "US")) == 1


def test_between_two_rows_the_lower_of_their_stops_holds(yard: Answered) -> None:
    _, rows = with_rows(yard)
    for before, after in pairwise(rows):
        middle = (before.pulled + after.pulled) / 2
        stop, limit = stop_loads(rows, np.array([before.pulled, middle]))
        assert stop.tolist() == [before.stop, min(before.stop, after.stop)]
        assert len(limit) == 2 and all(limit)


def test_before_a_gear_change_the_stop_load_is_that_of_the_gear_still_in_use(
    yard: Answered,
) -> None:
    """What the gear brings is no stop, but it is the load to stay below where it is lower."""
    frames, rows = with_rows(yard)
    (change,) = (i for i, row in enumerate(rows) if row.kind == "gear change")
    before, after = rows[change - 1], rows[change]
    assert before.stop < after.stop  # from the weaker gear to the stronger
    between = (frames.pulled > before.pulled + 1e-6) & (frames.pulled < after.pulled - 1e-6)
    assert between.any()
    assert frames.stop[between] == pytest.approx(before.stop)
    assert {frames.governs(i) for i in np.flatnonzero(between)} == {"gear limit"}


def test_a_pull_over_its_stop_load_is_told_with_what_breaks(yard: Answered) -> None:
    """The yard run breaks sidewall pressure in bend 1, long before the low gear gives out."""
    frames, _ = with_rows(yard)
    over = frames.load > frames.least * (1 + 1e-9)
    assert over[-1] and (frames.load <= frames.limit * (1 + 1e-9)).all()
    assert frames.governs(len(frames) - 1) == "sidewall pressure"
    assert "OVER, sidewall pressure" in frames.captions[-1]
    assert "OVER" not in frames.captions[0]
    last = {name: flag for name, _, flag in figures(frames, len(frames) - 1, "US")}
    assert last["Machine load: OVER"]
    first = {name: flag for name, _, flag in figures(frames, 0, "US")}
    assert [name[:4] for name in first if name[:4] in ("Now,", "Next")] == ["Now,", "Next"]
    assert not any(first.values())
    film = evenly(frames, 40, "US")
    assert film.governs(39) == "sidewall pressure" and film.stop[-1] == frames.stop[-1]
    chart = load_chart(frames, "US", 1.0, (0.0, 0.0, 900.0, 300.0))
    items = load_chart_items(chart, LIGHT, 1.0, measure)
    red = [i for i in items if getattr(i, "color", "") == LIGHT.alarm]
    lines = [i for i in red if isinstance(i, Line)]
    # the stop load and its sample in the key, dashes of the gear's limit, the course where over
    assert len([i for i in lines if len(i.points) > 2]) >= 2
    thick = [i for i in lines if i.width == max(i.width for i in lines)]
    assert len(thick) == 1
    begin = chart.axes.place(frames.station[over][:1], frames.load[over][:1])[0]
    assert thick[0].points[0] == pytest.approx(tuple(begin))
    assert {STOP_WORDS, GEAR_WORDS} <= {i.text for i in red if isinstance(i, Text)}


def test_the_warning_names_the_place_and_what_breaks(yard: Answered, drop: Answered) -> None:
    frames, _ = with_rows(yard)
    at = float(frames.pulled[frames.load > frames.least * (1 + 1e-9)][0])
    assert warning(frames, "US") == (
        f"Machine load exceeds the stop load from {show(at, 'length', 'US')} of cable in on: "
        "sidewall pressure"
    )
    assert warning(with_rows(drop)[0], "SI") == ""


def test_a_load_over_the_gear_alone_is_a_warning_too(weak: Answered) -> None:
    result, job = weak
    frames = playback(result, result.best.pull, "US", job.allowances)
    assert frames.over[-1] and not frames.stop_known
    assert warning(frames, "US").startswith("Machine load exceeds the gear limit from")
    assert warning(frames, "US").endswith(": gear limit")


def test_a_line_that_crosses_its_limit_has_a_frame_there(weak: Answered) -> None:
    """What is over begins and ends where the straight lines meet, not at the next place."""
    load, limit = np.array([0.0, 10.0, 10.0, 2.0]), np.array([5.0, 5.0, 5.0, 5.0])
    at = crossings(load, limit)
    assert at.after.tolist() == [0, 2]
    np.testing.assert_allclose(at.share, [0.5, 0.625], atol=2e-4)
    found = at.into(load)
    assert (found > 5).tolist() == [False, True, True, True, True, False]
    frames = playback(weak[0], weak[0].best.pull, "US", weak[1].allowances)
    first = int(np.flatnonzero(frames.over)[0])
    assert frames.load[first] == pytest.approx(frames.least[first], rel=1e-3)
    assert (np.diff(frames.pulled) >= 0).all()


@pytest.mark.parametrize("lacking", ["rope", "machine"])
def test_what_is_missing_for_a_stop_load_is_said(drop: Answered, lacking: str) -> None:
    result, job = drop
    bare = evaluate_run(
        replace(result.run, **{lacking: None}),
        job.practice,
    )
    frames = playback(bare, bare.best.pull, "SI", job.allowances)
    assert (f"Stop load: no {lacking} given", "not known", False) in figures(frames, 0, "SI")


def test_without_a_table_there_is_no_stop_load(yard: Answered) -> None:
    result, job = yard
    frames = playback(result, result.best.pull, "US", job.allowances)
    assert np.isnan(frames.stop).all() and (frames.least == frames.limit).all()
    assert frames.governs(0) == "gear limit"
