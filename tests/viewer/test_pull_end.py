"""The machine of a picture: where the plan places it, its rope, and the rooms about it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.formats.building_meshes import read_buildings
from route3d.geometry.vectors import norm
from route3d.model.rigging import LeadOff, Sheave
from route3d.model.site import Site
from route3d.phrase import say
from route3d.planning.placement.search import Placement, PlacementSearch
from tests.viewer.conftest import Answered, slippery
from viewer.meshes import scene_parts
from viewer.scene.build import build_scene, content, place_of
from viewer.scene.context import room_edges
from viewer.scene.records import Scene
from viewer.scene.solids import LINE, round_wheels, spread_of
from viewer.theme import LIGHT


def placed(answered: Answered, feed: int) -> Placement:
    result, job = answered
    pull = next(c.pull for c in result.candidates if c.pull.feed == feed)
    search = place_of(pull, job, read_buildings(job))
    assert search is not None
    return search.best[0]


def with_place(answered: Answered, factor: float) -> tuple[Scene, Placement]:
    if answered[0].stops:  # no place is drawn for a pull that must not be made
        answered = slippery(answered)
    feed = answered[0].best.pull.feed
    scene = build_scene(*answered, feed=feed, exaggeration=factor)
    return scene, placed(answered, feed)


def test_at_true_size_it_stands_where_the_plan_says(demo: Answered) -> None:
    scene, place = with_place(demo, 1.0)
    machine = scene.solids[1]
    np.testing.assert_allclose(machine.base + scene.origin, place.position, atol=1e-9)
    facing = [math.cos(place.yaw), math.sin(place.yaw), 0.0]
    np.testing.assert_allclose(-machine.along, facing, atol=1e-12)
    assert "distance" not in scene.notes[0]


@pytest.mark.parametrize("factor", [3.0, 12.0])
def test_a_larger_one_keeps_its_floor_its_heading_and_clears_the_conduit(
    demo: Answered, factor: float
) -> None:
    scene, place = with_place(demo, factor)
    machine = scene.solids[1]
    assert machine.base[2] + scene.origin[2] == pytest.approx(place.position[2])
    front = machine.base[:2] - machine.along[:2] * machine.size[0] / 2
    true = np.array(place.rope)[-1, :2] - np.array(place.rope)[0, :2]
    spread = spread_of(place, machine.size[0] / factor, factor)
    assert 1.0 < spread <= factor
    np.testing.assert_allclose(front - machine.mouth[:2], spread * true, atol=0.03 * factor)
    assert f"distance from conduit to machine drawn x {spread:.2g}" in scene.notes[0]


def test_the_rope_goes_from_the_conduit_end_to_the_line_of_the_machine(demo: Answered) -> None:
    scene, _ = with_place(demo, 4.0)
    machine = scene.solids[1]
    np.testing.assert_allclose(machine.rope[0], machine.mouth)
    assert machine.rope[-1, 2] == pytest.approx(machine.base[2] + LINE * machine.size[2])
    shown = content(scene)
    assert (shown.min(axis=0) <= machine.rope.min(axis=0) + 1e-9).all()


def test_a_lead_off_is_drawn_as_wheels_that_the_rope_touches(yard: Answered) -> None:
    scene, _ = with_place(yard, 1.0)
    machine = scene.solids[1]
    assert len(machine.wheels) == len(yard[0].run.lead_off) == 2
    for wheel in machine.wheels:
        away = norm(machine.rope - wheel.hub)
        assert away.min() == pytest.approx(wheel.radius)
        assert (away >= wheel.radius - 1e-9).all()
    assert "sheave" in {p.name for p in scene_parts(scene, LIGHT)}


def test_a_rope_round_a_wheel_turns_as_far_as_its_legs() -> None:
    """A right angle: the arc begins and ends one radius from the corner; the tangent length."""
    corners = np.array([[0.0, 0, 0], [10.0, 0, 0], [10.0, 0, 10.0]])
    turn = LeadOff(math.pi / 2, Sheave("s", 2.0, 1e4))
    rope, (wheel,) = round_wheels(corners, (turn,), 1.0)
    np.testing.assert_allclose(rope[1], [8.0, 0, 0], atol=1e-12)
    np.testing.assert_allclose(rope[-2], [10.0, 0, 2.0], atol=1e-12)
    np.testing.assert_allclose(wheel.hub, [8.0, 0, 2.0], atol=1e-12)


def test_a_turn_over_the_conduit_end_has_no_wheel() -> None:
    corners = np.array([[0.0, 0, 0], [0.0, 0, 0], [0.0, 5.0, 0]])
    rope, wheels = round_wheels(corners, (LeadOff(math.pi / 2),), 1.0)
    assert wheels == () and len(rope) == 2


def test_where_no_place_is_found_it_stands_in_line_and_that_is_said(fine_yard: Answered) -> None:
    none = PlacementSearch((), 5000, 0, (), say("none of them will do"))
    scene = build_scene(*fine_yard, place=none)
    machine = scene.solids[1]
    assert len(machine.rope) == 0 and machine.wheels == ()
    assert "no machine location found" in scene.notes[0]


def test_rooms_are_edges_of_their_true_size(riser: Answered) -> None:
    scene = build_scene(*riser)
    (room,), (drawn,) = riser[1].site.rooms, scene.rooms
    floor = np.array(drawn.loops[0]) + scene.origin
    np.testing.assert_allclose(floor[:, :2], room.outline, atol=1e-9)
    assert (floor[:, 2] == pytest.approx(room.floor)) and len(drawn.loops) == 4
    part = next(p for p in scene_parts(scene, LIGHT) if p.name == "room edges")
    heights = np.asarray(part.mesh.points)[:, 2] + scene.origin[2]
    assert set(np.round(heights, 3)) == {round(room.floor, 3), round(room.ceiling, 3)}


def test_a_room_open_above_shows_its_floor_alone(yard: Answered) -> None:
    (room,) = yard[1].site.rooms
    edges = room_edges(room, np.zeros(3))
    assert len(edges.loops) == 2 and len(edges.uprights) == 0


def test_what_holds_it_stands_in_its_label(demo: Answered) -> None:
    scene = build_scene(*demo)
    label = next(x for x in scene.labels if x.kind == "machine")
    held = {"F1": "bolted to the floor", "N1": "braced against the conduit end"}
    wanted = held.get(demo[0].run.name, "hitched to a vehicle")
    assert (label.lines[-1] == wanted) != demo[0].stops  # not of a pull that must not be made


def test_without_a_site_the_place_is_straight_ahead(riser: Answered) -> None:
    result, job = riser
    scene = build_scene(result, replace(job, site=Site()), exaggeration=1.0)
    assert scene.rooms == ()
    assert len(scene.solids[1].rope) == 2
