"""The cable on its way: what is cable and what is rope, the reading of a place, the chart."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from route3d.checks.limits import sidewall_limit
from route3d.drawing.marks import Line, Ring, Text
from route3d.drawing.pixels import measure
from route3d.drawing.text_width import fitting
from route3d.geometry.path import ARC
from route3d.model import Job
from route3d.planning.result import RunResult
from route3d.units import show
from tests.viewer.conftest import ALLOW
from viewer.load_chart import figure_items, figures, load_chart, load_chart_items, now_items
from viewer.meshes import scale_colors
from viewer.moving import dense, head_place, moving_tubes, nearest_station, show_head, show_values
from viewer.playback import clock, evenly, playback
from viewer.scene.build import build_scene
from viewer.scene.reading import reading
from viewer.theme import LIGHT, rgb

Answered = tuple[RunResult, Job]
RECT = (100.0, 20.0, 900.0, 220.0)


@pytest.mark.parametrize("share", [0.0, 0.2, 0.5, 0.9, 1.0])
def test_cable_lies_behind_the_head_and_rope_before_it(demo: Answered, share: float) -> None:
    result, job = demo
    for candidate in result.candidates:
        pull = candidate.pull
        scene = build_scene(result, job, feed=pull.feed)
        head = pull.path.length * (1 - share if pull.reverse else share)
        tubes = moving_tubes(scene, LIGHT)
        show_head(tubes, head, pull.reverse, LIGHT)
        for tube in tubes:
            cable = (tube.mesh.point_data["rgb"] == rgb(LIGHT.feed)).all(axis=1)
            rope = (tube.mesh.point_data["rgb"] == rgb(LIGHT.machine)).all(axis=1)
            assert (cable ^ rope).all()
            from_feed = np.abs(tube.station - (pull.path.length if pull.reverse else 0.0))
            pulled = share * pull.path.length
            assert (from_feed[cable] <= pulled + 1e-9).all()
            assert (from_feed[rope] >= pulled - 1e-9).all()
            radius = np.linalg.norm(np.asarray(tube.mesh.points) - tube.center, axis=1)
            if cable.any() and rope.any():  # told apart without color too; 1e-4: float32 points
                assert radius[rope].max() < 0.5 * radius[cable].min() + 1e-4


def test_the_tension_picture_comes_back_whole(riser: Answered) -> None:
    scene = build_scene(*riser)
    tubes = moving_tubes(scene, LIGHT)
    before = [(np.array(t.mesh.points), np.array(t.mesh.point_data["rgb"])) for t in tubes]
    show_head(tubes, 30.0, True, LIGHT)
    show_values(tubes)
    for tube, (points, colors) in zip(tubes, before, strict=True):
        np.testing.assert_array_equal(tube.mesh.points, points)
        np.testing.assert_array_equal(tube.mesh.point_data["rgb"], colors)


def test_dense_samples_are_close_and_change_no_value(demo: Answered) -> None:
    scene = build_scene(*demo)
    for tube in scene.tubes:
        fine = dense(tube, 0.5)
        assert np.diff(fine.station).max() <= 0.5 + 1e-9
        np.testing.assert_allclose(np.linalg.norm(fine.tangents, axis=1), 1.0)
        at = np.searchsorted(fine.station, tube.station)
        assert set(np.round(tube.tension, 6)) <= set(np.round(fine.tension, 6))
        np.testing.assert_allclose(
            fine.station[np.minimum(at, len(fine.station) - 1)], tube.station
        )
        shades = scale_colors(scene.scale, fine.tension, LIGHT)
        assert shades.shape == (len(fine.station), 3)


def test_the_head_is_on_the_route(demo: Answered) -> None:
    result, job = demo
    scene = build_scene(result, job)
    for station in np.linspace(0, result.path.length, 17):
        expected = result.path.point(station) - scene.origin
        # between two samples of a bend the chord is off by up to a hundredth of the drawn radius
        slack = 0.011 * max(t.radius for t in scene.tubes)
        np.testing.assert_allclose(head_place(scene, float(station)), expected, atol=slack)


def test_the_nearest_place_is_found_between_samples(riser: Answered) -> None:
    scene = build_scene(*riser)
    pixels = np.vstack([t.points for t in scene.tubes])[:, :2] * 10
    station = np.concatenate([t.station for t in scene.tubes])
    i = int(np.argmax(np.diff(station)))  # the longest straight
    middle = (pixels[i] + pixels[i + 1]) / 2
    found, away = nearest_station(scene, pixels, (float(middle[0]), float(middle[1])))
    assert found == pytest.approx((station[i] + station[i + 1]) / 2)
    assert away == pytest.approx(0.0, abs=1e-9)


# --- reading -----------------------------------------------------------------------------------


def test_a_reading_gives_the_values_of_the_profile(demo: Answered) -> None:
    result, job = demo
    scene = build_scene(result, job, units="SI")
    pull = result.best.planned
    arcs = np.flatnonzero(pull.path.kind == ARC)
    middle = (pull.path.stations[arcs] + pull.path.stations[arcs + 1]) / 2
    for segment, station in zip(arcs, middle, strict=True):
        rows = pull.profile.segment == segment
        order = np.argsort(pull.profile.station[rows], kind="stable")
        known = pull.profile.station[rows][order]
        tension = np.interp(station, known, pull.profile.tension[rows][order])
        sidewall = np.interp(station, known, pull.profile.sidewall[rows][order])
        lines = reading(scene, float(station)).lines
        assert lines[0] == f"Station {show(float(station), 'length', 'SI')}"
        assert show(float(tension), "force", "SI") in lines[1]
        assert show(float(sidewall), "sidewall", "SI") in lines[2]
        assert show(sidewall_limit(pull.run).value, "sidewall", "SI") in lines[2]


def test_a_reading_over_the_limit_is_loud(yard: Answered) -> None:
    result, job = yard
    scene = build_scene(result, job)
    pull = result.best.pull
    worst = float(pull.profile.station[int(np.argmax(pull.profile.sidewall))])
    assert reading(scene, worst).alarm
    assert not reading(scene, 1.0).alarm


# --- chart -------------------------------------------------------------------------------------


def test_the_chart_follows_the_machine_load(yard: Answered) -> None:
    result, job = yard
    pull = result.best.pull
    scene = build_scene(result, job)
    frames = playback(result, pull, "US", ALLOW)
    chart = load_chart(frames, "US", scene.limits[0], RECT)
    assert chart.values is frames.load
    for pulled in (0.0, 100.0, frames.length):
        items = now_items(chart, pulled, LIGHT, 1.0)
        (ring,) = (i for i in items if isinstance(i, Ring))
        load = np.interp(pulled, frames.pulled, frames.load)
        station = np.interp(pulled, frames.pulled, frames.station)
        expected = chart.axes.place(np.array([station]), np.array([load]))[0]
        np.testing.assert_allclose(ring.at, expected, atol=1e-9)


def test_the_limit_steps_where_the_gear_changes(yard: Answered) -> None:
    result, job = yard
    scene = build_scene(result, job)
    frames = playback(result, result.best.pull, "US", ALLOW)
    assert len(set(frames.gear.tolist())) == 2  # the demo changes gear on the way
    chart = load_chart(frames, "US", scene.limits[0], RECT)
    dashed = [
        np.asarray(i.points)
        for i in load_chart_items(chart, LIGHT, 1.0, measure)
        if isinstance(i, Line) and i.color == LIGHT.alarm and i.dash
    ]
    inside = [points for points in dashed if (points[:, 1] > RECT[1]).all()]
    assert len(inside) == len(dashed) - 1  # one is the sample in the key
    steps = np.vstack([np.diff(points, axis=0) for points in inside])
    # along or upright, never aslant but for the half pixel by which lines are thinned
    assert (np.abs(steps).min(axis=1) <= 0.5).all()
    ends = [pair for points in inside for pair in pairwise(points.tolist())]
    heights = {round(a[1], 3) for a, b in ends if a[1] == b[1]}
    rated = [g.line_pull for g in result.run.machine.gears]  # type: ignore[union-attr]
    expected = chart.axes.place(np.zeros(2), np.array(rated))[:, 1]
    assert heights == {round(float(y), 3) for y in expected}


@pytest.mark.parametrize("feed", [0, 1])
def test_the_feed_is_on_the_left_whichever_end_it_is(yard: Answered, feed: int) -> None:
    result, _ = yard
    pull = result.candidates[feed].pull
    frames = playback(result, pull, "US", ALLOW)
    chart = load_chart(frames, "US", 1.0, RECT)
    x = chart.axes.place(frames.station, frames.load)[:, 0]
    assert x[0] == pytest.approx(RECT[0]) and x[-1] == pytest.approx(RECT[2])
    assert (np.diff(x) >= 0).all()
    texts = [i for i in load_chart_items(chart, LIGHT, 1.0, measure) if isinstance(i, Text)]
    at = {t.text: t.at[0] for t in texts}
    assert at[f"feed: {pull.feed_name}"] == RECT[0] and at[f"pull: {pull.pull_name}"] == RECT[2]
    bends = [at[f"bend {n}"] for n in (1, 2, 3)]
    assert bends == sorted(bends, reverse=pull.reverse)
    assert "station of the cable head, ft" in at and "Machine load, lbf" in at


def test_without_a_rope_the_tension_of_the_head_is_shown(riser: Answered) -> None:
    from dataclasses import replace

    from route3d.planning.result import evaluate_run

    result, job = riser
    bare = evaluate_run(replace(result.run, rope=None, machine=None), job.practice)
    frames = playback(bare, bare.best.pull, "US", ALLOW)
    chart = load_chart(frames, "US", 1000.0, RECT)
    assert "Tension at the head" in chart.title
    names = [name for name, _, _ in figures(frames, 0, "US")]
    assert names == ["Cable in", "Tension at the head", "Stop load: no rope given"]
    texts = [i.text for i in load_chart_items(chart, LIGHT, 1.0, measure) if isinstance(i, Text)]
    assert any(t.startswith("limit") for t in texts)


def test_the_figures_stand_still_while_they_change(yard: Answered) -> None:
    result, _ = yard
    frames = evenly(playback(result, result.best.pull, "US", ALLOW), 50, "US")
    places = []
    for at in (0, 24, 49):
        items = figure_items(frames, at, "US", (0, 0, 900, 60), LIGHT, 0.8, measure)
        places.append([i.at[0] for i in items if isinstance(i, Text)])
        texts = [i.text for i in items if isinstance(i, Text)]
        assert clock(float(frames.elapsed[at])) in texts
        assert show(float(frames.load[at]), "force", "US") in texts
    assert places[0] == places[1] == places[2]


def test_letters_shrink_until_a_text_fits() -> None:
    assert fitting("short", 500, 20, True, measure) == 20
    size = fitting("a very long figure with its unit", 120, 20, True, measure)
    assert measure("a very long figure with its unit", size, True)[0] <= 120
