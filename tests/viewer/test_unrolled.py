"""The route unrolled: station across, elevation, tension and sidewall pressure under each other."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.drawing.axes import Axes, ticks, with_grade
from route3d.drawing.marks import Line, Shape, Text, thin
from route3d.drawing.pixels import measure
from route3d.model import Job
from route3d.planning.result import RunResult
from tests.viewer.test_layout import check_words
from viewer.scene.build import build_scene
from viewer.still.layout import Layout
from viewer.still.panels import panels_for
from viewer.still.picture import picture
from viewer.still.unrolled import arrange_unrolled, unrolled_axes
from viewer.theme import DARK, LIGHT

Answered = tuple[RunResult, Job]
SIZES = [(400, 300), (800, 600), (1600, 1000), (4000, 3000)]


def words(layout: Layout) -> list[str]:
    return [i.text for i in layout.overlay if isinstance(i, Text)]


def curve(layout: Layout) -> np.ndarray:
    """The longest line in ink that is not the route itself."""
    lines = [i for i in layout.overlay if isinstance(i, Line) and i.color == LIGHT.ink]
    return np.array(max(lines, key=lambda line: len(line.points)).points)


@pytest.mark.parametrize("size", SIZES)
def test_words_stay_in_the_frame_and_apart(demo: Answered, size: tuple[int, int]) -> None:
    result, job = demo
    for color_by in ("tension", "conduit"):
        scene = build_scene(result, job, units=job.units, color_by=color_by)
        check_words(arrange_unrolled(scene, size, LIGHT, measure), size)


def test_every_panel_bend_end_and_limit_is_named(demo: Answered) -> None:
    result, job = demo
    scene = build_scene(result, job, units=job.units)
    layout = arrange_unrolled(scene, (1600, 1000), LIGHT, measure)
    text = " | ".join(words(layout))
    for part in ("Elevation", "Tension", "Sidewall pressure", "Station along the route"):
        assert part in text
    assert text.count("limit ") >= 2
    assert result.best.pull.feed_name in text and result.best.pull.pull_name in text
    for label in scene.labels:
        if label.kind in ("bend", "worst", "pull point"):
            assert label.lines[0] in text
    assert layout.placement.dropped == ()


def test_the_note_speaks_of_the_unrolled_route(riser: Answered) -> None:
    layout = arrange_unrolled(build_scene(*riser), (1600, 1000), LIGHT, measure)
    assert not any("Route to scale" in w for w in words(layout))
    assert any("unrolled" in w for w in words(layout))


def test_axes_place_values_to_scale() -> None:
    axes = Axes((100.0, 50.0, 300.0, 150.0), (0.0, 10.0), (-5.0, 5.0))
    places = axes.place(np.array([0.0, 10.0, 5.0]), np.array([-5.0, 5.0, 0.0]))
    np.testing.assert_allclose(places, [[100, 150], [300, 50], [200, 100]])


def test_pressure_beyond_the_limit_is_drawn_in_alarm(yard: Answered, riser: Answered) -> None:
    def loud(answered: Answered) -> int:
        layout = arrange_unrolled(build_scene(*answered), (1600, 1000), LIGHT, measure)
        wide = 3.9  # over-limit pieces are the only alarm lines so wide, at 1600 x 1000
        return sum(
            isinstance(i, Line) and i.color == LIGHT.alarm and i.width > wide
            for i in layout.overlay
        )

    assert loud(yard) >= 1
    assert loud(riser) == 0


def test_bends_that_would_run_together_are_not_lined_up(riser: Answered) -> None:
    scene = build_scene(*riser)
    bends = [label for label in scene.labels if label.kind in ("bend", "worst")]
    many = replace(scene, labels=scene.labels + tuple(bends) * 60)

    def uprights(s: object) -> int:
        layout = arrange_unrolled(s, (800, 600), LIGHT, measure)  # type: ignore[arg-type]
        return sum(
            isinstance(i, Line) and i.color == LIGHT.grid and i.points[0][0] == i.points[1][0]
            for i in layout.overlay
        )

    assert uprights(scene) >= 3
    assert uprights(many) == 0


def test_round_numbers_cover_the_span() -> None:
    assert [value for value, _ in ticks((-7.3, 9.1), 5)] == [-5.0, 0.0, 5.0]
    assert [value for value, _ in ticks((0.0, 600.0), 4)] == [0.0, 200.0, 400.0, 600.0]
    told = [ticks((0.0, v), 6)[-1][1] for v in (0.5, 1500.0, 12000.0, 1.5e8, 3e14)]
    assert told == ["0.5", "1,500", "12,000", "150M", "3e+14"]


def test_grade_is_shown_where_it_is_near(yard: Answered) -> None:
    assert with_grade(-1.5, -1.2, np.zeros(2)) == (-1.5, 0.0)
    assert with_grade(2.0, 30.0, np.zeros(2)) == (0.0, 30.0)
    assert with_grade(-40.0, -30.0, np.zeros(2)) == (-40.0, -30.0)
    assert with_grade(-3.0, 27.0, np.zeros(2)) == (-3.0, 27.0)
    assert with_grade(2.0, 5.0, np.array([4.0, np.nan, 6.0])) == (2.0, 6.0)
    assert with_grade(2.0, 5.0, np.array([np.nan])) == (2.0, 5.0)
    assert "grade" in words(arrange_unrolled(build_scene(*yard), (1600, 1000), LIGHT, measure))


@pytest.mark.parametrize("size", [(390, 844), (1600, 1000), (600, 1600)])
def test_heights_say_how_much_larger_they_are_drawn(yard: Answered, size: tuple[int, int]) -> None:
    scene = build_scene(*yard)
    elevation = unrolled_axes(scene, size, LIGHT, measure, 0.0, 0.0)[2][0]
    left, top, right, bottom = elevation.rect
    times = (bottom - top) / (elevation.y[1] - elevation.y[0]) / ((right - left) / elevation.x[1])
    said = " ".join(words(arrange_unrolled(scene, size, LIGHT, measure)))
    assert f"x {times:.0f})" in said
    rise = max(t.points[:, 2].max() for t in scene.tubes) - min(
        t.points[:, 2].min() for t in scene.tubes
    )
    drawn = rise / (elevation.y[1] - elevation.y[0]) * (bottom - top)
    assert drawn <= 0.35 * (right - left)


def test_pieces_of_the_route_leave_no_gap_between_them(drop: Answered) -> None:
    layout = arrange_unrolled(build_scene(*drop), (1600, 1000), LIGHT, measure)
    pieces = [i for i in layout.overlay if isinstance(i, Shape) and len(i.points) == 4]
    joined = sum(
        a.points[1] == b.points[0] and a.points[2] == b.points[3]
        for a, b in itertools.pairwise(pieces)
    )
    assert len(pieces) > 100
    assert joined == len(pieces) - len({t.conduit for t in build_scene(*drop).tubes})


def test_a_low_picture_has_fewer_panels(yard: Answered) -> None:
    scene = build_scene(*yard)
    counts = [
        len(unrolled_axes(scene, size, LIGHT, measure, 0.0, 0.0)[2])
        for size in ((400, 300), (640, 480), (1024, 768))
    ]
    assert counts == [1, 2, 3]


def test_thinning_keeps_the_ends_and_the_shape() -> None:
    line = np.column_stack((np.linspace(0, 100, 5001), np.zeros(5001)))
    kept = thin(line)
    assert len(kept) < 300
    np.testing.assert_array_equal(kept[[0, -1]], line[[0, -1]])


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_picture_needs_no_renderer_and_is_the_same_twice(
    yard: Answered, theme: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ROUTE3D_RENDERER", "none")
    scene = build_scene(*yard)
    one, two = (picture(scene, size=(900, 600), view="profile", theme=theme) for _ in range(2))
    assert one.tobytes() == two.tobytes()
    ground = {"light": LIGHT, "dark": DARK}[theme].ground
    assert one.getpixel((2, 2)) == tuple(int(ground[k : k + 2], 16) for k in (1, 3, 5))
    assert len(one.getcolors(1_000_000)) > 200


def test_arrows_show_which_way_the_cable_goes(demo: Answered) -> None:
    result, job = demo
    for candidate in result.candidates:
        scene = build_scene(result, job, feed=candidate.pull.feed)
        layout = arrange_unrolled(scene, (1600, 1000), LIGHT, measure)
        shapes = [i for i in layout.overlay if isinstance(i, Shape) and len(i.points) == 3]
        right = panels_for(scene, (1600, 1000), LIGHT, measure).frame[2]
        ways = [s for s in shapes if s.points[0][0] < right]  # not the mark of the color bar
        assert len(ways) == len(scene.arrows) > 0
        for way in ways:
            (tip, _), (one, _), (other, _) = way.points
            assert (tip < min(one, other)) if candidate.pull.reverse else (tip > max(one, other))


@pytest.mark.parametrize("size", [(1600, 1000), (900, 1400), (3840, 2160)])
def test_a_long_flat_run_names_every_bend_beside_it(
    feeder: Answered, size: tuple[int, int]
) -> None:
    scene = build_scene(*feeder, units="SI", color_by="sidewall")
    layout = arrange_unrolled(scene, size, LIGHT, measure)
    assert layout.placement.dropped == ()
    unit = min(size[0] / 1600, size[1] / 1000)
    for placed in layout.placement.placed:
        if scene.labels[placed.index].kind == "bend":
            assert math.dist(placed.anchor, placed.elbow) < 130 * max(unit, 0.66)


def test_the_ends_are_named_however_many_bends_there_are(feeder: Answered) -> None:
    scene = build_scene(*feeder, units="SI", color_by="sidewall")
    for size in ((500, 400), (640, 480), (800, 600)):
        layout = arrange_unrolled(scene, size, LIGHT, measure)
        kinds = {scene.labels[p.index].kind for p in layout.placement.placed}
        assert {"feed", "machine"} <= kinds
        check_words(layout, size)
