"""What stops a pull is flagged where it does, on a picture of any size; no machine is invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.drawing.marks import Box, Line, Mark, Ring, Text
from route3d.drawing.pixels import measure
from route3d.model import Rigging
from route3d.planning.result import RunResult, evaluate_run
from tests.viewer.conftest import Answered, answer
from viewer.camera import camera_for
from viewer.meshes import scene_parts
from viewer.scene.build import build_scene, content
from viewer.still.layout import arrange
from viewer.still.unrolled import arrange_unrolled
from viewer.theme import LIGHT

SMALL = [(400, 300), (640, 400), (400, 900)]


def changed(answered: Answered, **parts: object) -> RunResult:
    result, job = answered
    run = replace(result.run, **parts)  # type: ignore[arg-type]
    return evaluate_run(run, job.practice)


def red_words(items: tuple[Mark, ...]) -> list[str]:
    return [i.text for i in items if isinstance(i, Text) and i.color == LIGHT.alarm]


# --- flags -------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SMALL)
@pytest.mark.parametrize("view", ["isometric", "plan", "profile"])
def test_the_bend_that_fails_is_named_however_small_the_picture(
    yard: Answered, size: tuple[int, int], view: str
) -> None:
    scene = build_scene(*yard)
    if view == "profile":
        layout = arrange_unrolled(scene, size, LIGHT, measure)
    else:
        layout = arrange(scene, view, size, LIGHT, measure)  # type: ignore[arg-type]
    assert any(words.startswith("Bend 1") for words in red_words(layout.overlay))
    rings = [i for i in layout.overlay if isinstance(i, Ring) and i.edge == LIGHT.alarm]
    assert rings


def test_what_fails_at_an_end_is_flagged_there(riser: Answered) -> None:
    """An eye of 300 lbf against 883 lbf of tension: at the pulling end, with both figures.

    The brake that holds the riser takes more than the eye leaves: that is flagged at the feed.
    """
    job = riser[1]
    weak = Rigging("weak", swivel_rating=None, eye_rating=1334.0, grip_rating=None)
    found = changed(riser, rigging=weak)
    scene = build_scene(found, job, units="US")
    flag, brake = [x for x in scene.labels if x.kind == "fault"]
    pull = found.best.pull
    ends = [pull.path.point(s) - scene.origin for s in (0.0, pull.path.length)]
    feed, end = reversed(ends) if pull.reverse else ends
    np.testing.assert_allclose(flag.xyz, end, atol=1e-5)
    np.testing.assert_allclose(brake.xyz, feed, atol=1e-5)
    assert brake.alarm and brake.lines[0].startswith("Brake window")
    assert flag.alarm and scene.labels[0] is flag
    assert "883 lbf" in flag.lines[0] and "300 lbf" in flag.lines[0]
    layout = arrange(scene, "isometric", (1600, 1000), LIGHT, measure)
    assert flag.lines[0] in red_words(layout.overlay)


def test_nothing_is_flagged_where_nothing_stops(riser: Answered) -> None:
    scene = build_scene(*riser)
    assert not [x for x in scene.labels if x.alarm or x.kind == "fault"]


# --- no machine --------------------------------------------------------------------------------


def test_no_machine_is_drawn_where_none_is_named(riser: Answered) -> None:
    job = riser[1]
    scene = build_scene(changed(riser, machine=None), job)
    assert [s.kind for s in scene.solids[:2]] == ["reel", "end"]
    assert "machine" not in {p.name for p in scene_parts(scene, LIGHT)}
    (label,) = [x for x in scene.labels if x.kind == "machine"]
    assert label.lines[0] == "PULLING END" and "no machine given" in label.lines
    assert not any("bolted" in line for line in label.lines)
    with_one = build_scene(*riser)
    assert "machine" in {p.name for p in scene_parts(with_one, LIGHT)}


# --- what a picture holds ----------------------------------------------------------------------


def test_a_building_beside_the_route_is_whole_on_the_plan(drop: Answered) -> None:
    scene = build_scene(*drop)
    (building,) = scene.context
    room = (100.0, 150.0, 1300.0, 800.0)
    pixels = camera_for(scene, "plan", (1600, 1000), room, room).project(building.vertices)
    assert (pixels >= np.array(room[:2]) - 1).all() and (pixels <= np.array(room[2:]) + 1).all()


def test_a_town_about_a_short_route_is_not(drop: Answered) -> None:
    scene = build_scene(*drop)
    (building,) = scene.context
    town = replace(building, vertices=building.vertices * 50)
    assert len(content(replace(scene, context=(town,)))) < len(content(scene))


def test_the_concrete_of_a_bank_is_whole_when_drawn_large(riser: Answered) -> None:
    scene = build_scene(*riser, exaggeration=20.0)
    (body,) = scene.encasements
    held = content(scene)
    assert held[:, 2].min() <= body.points[:, 2].min() - body.height / 2 + 1e-9


def test_the_pressure_curve_is_one_line_where_the_conduit_changes() -> None:
    """The roof drop goes from one conduit to another at bend 3, where pressure begins."""
    scene = build_scene(*answer("roof_drop"))
    assert len(scene.tubes) > 1
    layout = arrange_unrolled(scene, (1600, 1000), LIGHT, measure)
    curves = [
        i
        for i in layout.overlay
        if isinstance(i, Line) and i.color == LIGHT.ink and len(i.points) > 8
    ]
    wide = max(p[0] for c in curves for p in c.points) - min(p[0] for c in curves for p in c.points)
    whole = [c for c in curves if c.points[-1][0] - c.points[0][0] > 0.99 * wide]
    assert len(whole) == 2  # tension and sidewall pressure


def test_labels_of_flags_meet_no_other(yard: Answered) -> None:
    layout = arrange(build_scene(*yard), "isometric", (640, 400), LIGHT, measure)
    boxes = np.array([p.box for p in layout.placement.placed])
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    assert any(isinstance(i, Box) for i in layout.overlay)
