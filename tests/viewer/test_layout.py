"""Cameras, bar and words: all in the frame, nothing over anything else, and to scale."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.drawing.axes import ticks
from route3d.drawing.marks import Box, Text
from route3d.drawing.pixels import measure
from route3d.drawing.text_width import wrapped
from route3d.model import Job
from route3d.planning.result import RunResult
from route3d.units import convert
from viewer.camera import VIEWS, View
from viewer.scene.build import build_scene, content
from viewer.scene.records import Scene
from viewer.still.cues import round_down
from viewer.still.layout import Layout, arrange
from viewer.still.panels import panels_for
from viewer.theme import DARK, LIGHT, OVER_LIMIT, color_table, colors, rgb, theme_named

Answered = tuple[RunResult, Job]
SIZES = [(1600, 1000), (800, 600), (1024, 768), (390, 844), (3200, 900), (600, 1200)]


def text_box(text: Text) -> tuple[float, float, float, float]:
    wide, tall = measure(text.text, text.size, text.bold)
    left = text.at[0] - {"left": 0.0, "middle": wide / 2, "right": wide}[text.align]
    # ink reaches 0.4 of the letter height to either side of the middle of the line
    half = 0.4 * round(text.size)
    return left, text.at[1] - half, left + wide, text.at[1] + min(half, tall / 2)


def check_words(layout: Layout, size: tuple[int, int]) -> None:
    boxes = [(t, text_box(t)) for t in layout.overlay if isinstance(t, Text)]
    for text, box in boxes:
        assert box[0] >= 0 and box[1] >= 0, text
        assert box[2] <= size[0] and box[3] <= size[1], text
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        apart = a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
        assert apart, (one, two)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("size", [s for s in SIZES if s[0] >= 480])
def test_words_stay_in_the_frame_and_apart(
    demo: Answered, view: View, size: tuple[int, int]
) -> None:
    result, job = demo
    for color_by in ("tension", "sidewall", "utilization"):
        scene = build_scene(result, job, units=job.units, color_by=color_by)
        check_words(arrange(scene, view, size, LIGHT, measure), size)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("size", [s for s in SIZES if s[0] >= 480])
def test_all_content_lies_between_head_foot_and_bar(
    demo: Answered, view: View, size: tuple[int, int]
) -> None:
    scene = build_scene(*demo)
    layout = arrange(scene, view, size, LIGHT, measure)
    pixels = layout.camera.project(content(scene))
    side = next(i for i in layout.overlay if isinstance(i, Box))  # the ground under the bar
    assert pixels[:, 0].min() >= 0
    assert pixels[:, 0].max() <= side.rect[0] + 1e-6
    assert pixels[:, 1].min() >= side.rect[1] - 1e-6
    assert pixels[:, 1].max() <= side.rect[3] + 1e-6


def test_demo_drops_no_label(demo: Answered) -> None:
    for view in VIEWS:
        layout = arrange(build_scene(*demo), view, (1600, 1000), LIGHT, measure)
        assert layout.placement.dropped == ()


def test_dropped_labels_are_counted(yard: Answered) -> None:
    scene = build_scene(*yard)
    crowd = tuple(replace(scene.labels[-1], priority=9.0 + k) for k in range(300))
    layout = arrange(
        replace(scene, labels=scene.labels + crowd), "isometric", (800, 600), LIGHT, measure
    )
    dropped = len(layout.placement.dropped)
    assert dropped > 0
    texts = [i.text for i in layout.overlay if isinstance(i, Text)]
    assert f"+{dropped} more labels" in texts
    assert not any(i < len(scene.labels) for i in layout.placement.dropped)
    check_words(layout, (800, 600))


def test_plan_is_north_up_and_profile_is_upright(demo: Answered) -> None:
    scene = build_scene(*demo)
    plan = arrange(scene, "plan", (1600, 1000), LIGHT, measure).camera
    np.testing.assert_allclose([plan.right, plan.up], [[1, 0, 0], [0, 1, 0]], atol=1e-12)
    profile = arrange(scene, "side", (1600, 1000), LIGHT, measure).camera
    np.testing.assert_allclose(profile.up, [0, 0, 1], atol=1e-12)
    reel, machine = profile.project(np.array([s.base for s in scene.solids[:2]]))
    assert reel[0] < machine[0]  # the pull reads from left to right


@pytest.mark.parametrize("view", VIEWS)
def test_no_view_stretches_anything(demo: Answered, view: View) -> None:
    """A length across the sight is the same number of pixels up and across."""
    camera = arrange(build_scene(*demo), view, (1600, 1000), LIGHT, measure).camera
    axes = np.array([camera.right, camera.up, camera.forward])
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    ends = camera.project(np.array([[0, 0, 0], 10 * camera.right, 10 * camera.up]))
    across, up = ends[1] - ends[0], ends[2] - ends[0]
    assert across[0] == pytest.approx(10 / camera.scale, rel=1e-9)
    assert -up[1] == pytest.approx(10 / camera.scale, rel=1e-9)


def test_isometric_hides_no_leg_end_on(demo: Answered) -> None:
    camera = arrange(build_scene(*demo), "isometric", (1600, 1000), LIGHT, measure).camera
    # 30 degrees down and at least 30 off a leg in plan: the sine of the sight angle is over 0.6
    for along in demo[0].path.tangents:
        assert np.linalg.norm(np.cross(along, camera.forward)) > 0.6


def test_too_small_a_frame_is_refused(riser: Answered) -> None:
    with pytest.raises(ValueError, match="350 x 844"):
        arrange(build_scene(*riser), "plan", (350, 844), LIGHT, measure)
    with pytest.raises(ValueError, match="view 'top'"):
        arrange(build_scene(*riser), "top", (800, 600), LIGHT, measure)  # type: ignore[arg-type]


def test_bar_ticks_are_round_and_within(demo: Answered) -> None:
    for units in ("US", "SI"):
        scale = build_scene(*demo, units=units).scale
        full = convert(scale.full, scale.quantity, units)
        marks = [value for value, _ in ticks((0.0, full), 6)]
        assert 3 <= len(marks) <= 7
        assert marks[0] == 0
        assert full - marks[-1] < marks[1] * (1 + 1e-9)
        assert marks[-1] <= full * (1 + 1e-9)


def test_round_down() -> None:
    assert [round_down(x) for x in (1, 1.9, 2, 4.9, 60, 0.3)] == [1, 1, 2, 2, 50, 0.2]


# --- words and colors -------------------------------------------------------------------------


@pytest.mark.parametrize("width", [30, 80, 200, 5000])
def test_wrapping_leaves_nothing_out(width: int) -> None:
    text = "feeding from roof switchroom takes 7% of its limit on the machine, Donaudampfschiff"
    lines = wrapped(text, width, 18, False, measure)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(measure(line, 18, False)[0] <= width or len(line) == 1 for line in lines)


def test_map_is_viridis() -> None:
    """Against matplotlib's own table; 32 anchors leave it within 3 of 255."""
    import matplotlib

    theirs = matplotlib.colormaps["viridis"](np.linspace(0, 0.95, 256))[:, :3] * 255
    assert np.abs(color_table(LIGHT) - theirs).max() <= 3


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_map_grows_steadily_lighter(theme: object) -> None:
    """Luma by ITU-R BT.601 (from memory): a map read by its lightness serves every eye."""
    table = color_table(theme).astype(float)  # type: ignore[arg-type]
    luma = table @ [0.299, 0.587, 0.114]
    assert (np.diff(luma) > -0.5).all()  # half a step of 8-bit rounding
    assert luma[-1] - luma[0] > 120


def test_what_breaks_the_limit_leaves_the_map() -> None:
    found = colors(np.array([0.0, 50.0, 100.0, 100.1]), 100.0, 100.0, LIGHT)
    np.testing.assert_array_equal(found[2], color_table(LIGHT)[-1])
    np.testing.assert_array_equal(found[3], rgb(OVER_LIMIT))


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_words_stand_out(theme: object) -> None:
    """Contrast at least 4.5 to 1 (WCAG 2.1, success criterion 1.4.3; from memory)."""

    def light(color: str) -> float:
        c = np.array(rgb(color)) / 255
        return float(
            np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
            @ [0.2126, 0.7152, 0.0722]
        )

    def contrast(a: str, b: str) -> float:
        high, low = sorted((light(a), light(b)), reverse=True)
        return (high + 0.05) / (low + 0.05)

    pairs = [("ink", "ground"), ("faint", "ground"), ("alarm", "ground"), ("ink", "card")]
    pairs += [("alarm", "card"), ("on_solid", "feed"), ("on_solid", "machine")]
    for front, back in pairs:
        ratio = contrast(getattr(theme, front), getattr(theme, back))
        assert ratio >= 4.5, (front, back, ratio)


def test_unknown_theme() -> None:
    with pytest.raises(ValueError, match="'pink'"):
        theme_named("pink")


def test_scene_is_not_changed_by_layout(riser: Answered) -> None:
    scene: Scene = build_scene(*riser)
    first = arrange(scene, "isometric", (800, 600), LIGHT, measure)
    again = arrange(scene, "isometric", (800, 600), LIGHT, measure)
    assert first.overlay == again.overlay


@pytest.mark.parametrize("size", [(800, 600), (900, 1400), (1600, 1000)])
def test_many_bends_keep_their_numbers_beside_them(feeder: Answered, size: tuple[int, int]) -> None:
    """Rather a number alone beside its bend than all of it somewhere else."""
    scene = build_scene(*feeder, units="SI", color_by="sidewall")
    layout = arrange(scene, "isometric", size, LIGHT, measure)
    check_words(layout, size)
    placed = {scene.labels[p.index].lines[0]: p for p in layout.placement.placed}
    far = [
        name
        for name, p in placed.items()
        if name.startswith("Bend") and math.dist(p.anchor, p.elbow) > 100
    ]
    assert not far
    assert sum(label.kind == "bend" for label in scene.labels) == 12
    assert sum(scene.labels[p.index].kind == "bend" for p in placed.values()) == 12


def test_a_conduit_is_not_named_from_afar(feeder: Answered, demo: Answered) -> None:
    for result, job in (feeder, demo):
        scene = build_scene(result, job)
        for view in ("isometric", "plan", "side"):
            layout = arrange(scene, view, (1600, 1000), LIGHT, measure)
            for placed in layout.placement.placed:
                if scene.labels[placed.index].kind == "conduit":
                    assert math.dist(placed.anchor, placed.elbow) <= 130


def test_the_route_keeps_off_the_edge_that_the_grade_may_reach(demo: Answered) -> None:
    """Tubes and rings stand out from the line: half of what the panels keep free is theirs."""
    scene = build_scene(*demo)
    for size in SIZES:
        panels = panels_for(scene, size, LIGHT, measure)
        camera = arrange(scene, "isometric", size, LIGHT, measure).camera
        pixels = camera.project(content(scene))
        left, top, right, bottom = (
            (a + b) / 2 for a, b in zip(panels.room, panels.frame, strict=True)
        )
        assert pixels[:, 0].min() >= left - 1e-6 and pixels[:, 0].max() <= right + 1e-6
        assert pixels[:, 1].min() >= top - 1e-6 and pixels[:, 1].max() <= bottom + 1e-6


def test_reel_and_machine_do_not_stand_in_front_of_each_other(demo: Answered) -> None:
    scene = build_scene(*demo)
    for size in SIZES:
        camera = arrange(scene, "isometric", size, LIGHT, measure).camera
        reel, machine = (
            camera.project(s.base + np.array([0.0, 0.0, s.size[2] / 2])) for s in scene.solids[:2]
        )
        assert np.linalg.norm(reel - machine) > max(scene.solids[0].size) / camera.scale
