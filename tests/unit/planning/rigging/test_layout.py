"""What stands at both ends of a pull: forces by vector sums, zones about the rope, the operator."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.api import plan
from route3d.modelfile.read import load
from route3d.planning.rigging.danger_zones import BESIDE, CONE, rope_zones, under_load
from route3d.planning.rigging.layout import box, feed_layout, machine_layout, rigging_layouts
from route3d.planning.rigging.operator_place import STANDING, place_beside
from route3d.units import render
from tests.support.rigging import DEMOS, MODELS, demo_plans, yard


@pytest.mark.parametrize("efficiency", [1.0, 0.9])
@pytest.mark.parametrize("heading", [(40.0, 0.0), (0.0, -40.0), (30.0, 30.0)])
def test_the_force_of_a_sheave_is_the_sum_of_its_two_ropes(
    efficiency: float, heading: tuple[float, float]
) -> None:
    _, made = yard(efficiency=efficiency, heading=heading)
    layout = machine_layout(made)
    pit, rim = layout.wheels
    # from the machine back: the rope has the peak there, and each sheave took its share
    at_machine, between = made.peak, made.peak * efficiency
    before_pit = between * efficiency
    entry = layout.line_of_pull[0]
    for wheel, before, after, tensions in (
        (pit, np.zeros(3), rim.corner, (before_pit, between)),
        (rim, pit.corner, entry, (between, at_machine)),
    ):
        ropes = [p - wheel.corner for p in (before, after)]
        pulls = [t * r / np.linalg.norm(r) for t, r in zip(tensions, ropes, strict=True)]
        force = np.sum(pulls, axis=0)
        # 2T sin(turn/2) of the larger tension: never less than the sum, nor more than the sum of
        # two ropes of that tension; the rope may leave its nominal turn by the lead angle
        assert np.linalg.norm(force) * 0.98 <= wheel.force
        assert wheel.force <= np.linalg.norm(force) / efficiency * 1.02
        along = force / np.linalg.norm(force)
        slack = 1e-9 if efficiency == 1.0 else 0.06
        assert math.acos(min(1.0, float(along @ wheel.direction))) <= max(slack, 1e-6)
    assert pit.held_by == "anchor bar across the pit"


def test_the_same_rigging_is_the_same_whichever_way_the_run_lies() -> None:
    first, second = (machine_layout(yard(heading=h)[1]) for h in ((40.0, 0.0), (0.0, 40.0)))
    assert np.allclose(first.rope, second.rope, atol=1e-6)
    assert np.allclose(first.body("machine").outline, second.body("machine").outline, atol=1e-6)
    assert first.turn == pytest.approx(0.0)
    assert second.turn == pytest.approx(math.pi / 2)


def test_machine_vehicle_and_head_stand_by_their_figures() -> None:
    _, made = yard()
    layout = machine_layout(made)
    machine, vehicle = layout.body("machine"), layout.body("vehicle")
    spot = made.placement.best[0]
    sides = np.linalg.norm(np.diff(machine.outline, axis=0), axis=1)
    assert sides == pytest.approx([0.9, 1.5, 0.9])
    assert machine.high - machine.low == pytest.approx(1.5)
    # the conduit ends 40 m east of the start, at elevation -1.5
    assert machine.outline.mean(axis=0) == pytest.approx(np.array(spot.position[:2]) - [40.0, 0.0])
    assert machine.low == pytest.approx(1.5)  # the yard is 1.5 m above the conduit end
    assert layout.floor == pytest.approx(1.5)
    apart = np.linalg.norm(vehicle.outline.mean(axis=0) - machine.outline.mean(axis=0))
    assert apart == pytest.approx(1.5 / 2 + 0.8 + 5.0 / 2)
    line = np.linalg.norm(np.diff(np.vstack((layout.cable, layout.head)), axis=0), axis=1).sum()
    assert line == pytest.approx(1.8, abs=0.01)  # 1 m of cable and 0.8 m of head
    assert np.linalg.norm(np.diff(layout.head, axis=0), axis=1).sum() == pytest.approx(
        0.8, abs=0.01
    )


@pytest.mark.parametrize("name", DEMOS)
def test_zones_hold_the_rope_and_the_operator_stands_outside(name: str) -> None:
    job, plans = demo_plans(name)
    for made in plans:
        for layout in rigging_layouts(made, job):
            lines = [p for p in (layout.rope, layout.cable, layout.head) if len(p)]
            assert lines
            for view, axes in (("plan", [0, 1]), ("side", [0, 2])):
                area = shapely.union_all(
                    [shapely.Polygon(getattr(z, view)) for z in layout.zones]
                ).buffer(1e-6)
                assert all(area.covers(shapely.LineString(line[:, axes])) for line in lines)
            plan_zones = shapely.union_all([shapely.Polygon(z.plan) for z in layout.zones])
            if layout.operator is not None:
                person = shapely.Point(layout.operator).buffer(STANDING)
                assert not person.intersects(plan_zones)
                assert not any(shapely.Polygon(b.outline).intersects(person) for b in layout.bodies)
            else:
                words = [render(x, job.units) for e in layout.entries for x in e.lines]
                assert any("no place clear of the hatched area" in w for w in words)


def test_a_broken_rope_flies_on_in_a_cone_both_ways() -> None:
    zones = rope_zones(np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0]]), 4.0)
    area = shapely.union_all([shapely.Polygon(z.plan) for z in zones])
    for x, length in ((4.0, 4.0), (7.99, 7.99), (0.0, 4.0), (-3.99, 7.99)):
        wide = BESIDE + length * math.tan(CONE)
        # the rim of a disk is drawn with 24 corners, its widest ones beside the rope
        assert area.contains(shapely.Point(x, wide - 0.01))
        assert not area.contains(shapely.Point(x, wide + 0.01))
    assert not area.contains(shapely.Point(8.5, 0.0))
    assert not area.contains(shapely.Point(-4.5, 0.0))


def test_the_inside_of_a_turn_is_a_bight_and_under_the_load_nobody_stands() -> None:
    corners = np.array([[0.0, 0.0, 0.0], [3.0, 0.0, 0.0], [3.0, 3.0, 0.0]])
    bights = [z for z in rope_zones(corners, 6.0) if z.kind == "bight"]
    assert len(bights) == 1
    assert shapely.Polygon(bights[0].plan).contains(shapely.Point(2.2, 0.8))
    high = np.array([[0.0, 0.0, 2.5], [4.0, 0.0, 2.5]])
    (below,) = under_load(high, 0.0)
    assert shapely.Polygon(below.side).contains(shapely.Point(2.0, 0.5))
    assert under_load(high, 1.0) == []


ANGLES = st.floats(-math.pi, math.pi)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(ANGLES, ANGLES, st.floats(0.5, 6.0), st.floats(0.5, 6.0), st.floats(0.4, 3.0))
def test_whoever_is_given_a_place_is_clear(
    first: float, second: float, a: float, b: float, long: float
) -> None:
    """Any lead-off of two legs in plan, any machine: the place is outside of every zone."""
    corners = np.cumsum(
        [[0, 0, 0], [a * math.cos(first), a * math.sin(first), 0],
         [b * math.cos(second), b * math.sin(second), 0]], axis=0, dtype=float,
    )  # fmt: skip
    way = np.array([math.cos(second), math.sin(second)])
    outline = box(corners[-1, :2] + way * long / 2, -way, long, 0.8)
    zones = rope_zones(corners, a + b)
    walls = ((-5.0, -5.0), (9.0, -5.0), (9.0, 9.0), (-5.0, 9.0))
    place = place_beside(outline, zones, (), (walls,))
    if place is None:
        return
    person = shapely.Point(place).buffer(STANDING)
    assert not any(shapely.Polygon(z.plan).intersects(person) for z in zones)
    assert not shapely.Polygon(outline).intersects(person)
    assert shapely.Polygon(walls).contains(person)


def test_what_is_not_given_is_marked_and_no_figure_of_it_is_said() -> None:
    _, made = yard(sized=False)
    layout = machine_layout(made)
    machine = layout.body("machine")
    assert not machine.sized
    assert not machine.placed
    assert not layout.known
    assert [w.placed for w in layout.wheels] == [False, False]
    assert [w.direction for w in layout.wheels] == [None, None]
    said = {render(e.title, "SI"): [render(x, "SI") for x in e.lines] for e in layout.entries}
    assert "size not given: drawn dashed" in said["MACHINE puller"]
    assert any("place not given" in line for line in said["MACHINE puller"])
    assert "place not given" in said["SHEAVE pit"]
    assert any("place not given" in line for line in said["OPERATOR"])


def test_the_feed_sheave_bears_the_sum_of_its_two_tensions() -> None:
    job, made = yard(feed_turn=60.0)
    layout = feed_layout(made, job)
    (wheel,) = layout.wheels
    into = made.pull.start_tension
    assert into == pytest.approx(made.pull.reel_tension / 0.95)
    assert wheel.force == pytest.approx(2 * into * math.sin(math.radians(30)))
    assert not wheel.placed
    assert len([b for b in layout.bodies if b.kind == "reel"]) == 3
    assert all(not b.placed and b.sized for b in layout.bodies)


def test_a_pull_that_must_not_be_made_is_not_rigged() -> None:
    job = load(MODELS / "yard_run.toml")
    (made,) = plan(job).plans
    with pytest.raises(ValueError, match="must not be made"):
        rigging_layouts(made, job)
