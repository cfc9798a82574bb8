"""The vehicle and drawbar behind a machine against polygons set out one by one (COMPUTED).

Ours: a rectangle in the machine's own lengths, asked of a tree of the plans of cut triangles. The
oracle: each footprint drawn at the origin, turned and moved by shapely.affinity, and held against
the plan of each building that is as high as the vehicle, one building at a time.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import trimesh
from shapely import affinity

from route3d.model import Machine
from route3d.planning.placement.checks import LOOK, apart, fitted, vehicle_spans
from route3d.planning.placement.rope_legs import pulling_end
from route3d.planning.placement.site import SiteMesh, plan_shapes, surroundings
from route3d.planning.placement.stands import UNEVEN, Ground, PlaceRules, StandingMachine, Ways

DRAWBAR_HALF = 0.1  # kept free to each side of the drawbar, as stated in placement_checks
SEAM = 1.001e-3  # the drawbar reaches 1 mm into machine and vehicle, so that no gap is between them
FLOOR, STANDING = 0.0, 1.98


def building(rng: np.random.Generator, i: int) -> tuple[SiteMesh, shapely.Polygon, float, float]:
    """A turned wall, and its plan, foot and top: some too low or too high up to be met.

    Too thin for a machine to stand inside: a hollow building is met by the rope, not tried here.
    """
    size, at = rng.uniform((0.5, 0.1), (6, 0.45)), rng.uniform(-12, 12, 2)
    turn = rng.uniform(0, math.pi)
    low = float(rng.choice([-1.0, 0.0, 1.0, 2.5]))
    high = low + float(rng.choice([0.02, 0.5, 3.0]))
    plan = shapely.box(-size[0] / 2, -size[1] / 2, size[0] / 2, size[1] / 2)
    plan = affinity.rotate(plan, turn, origin=(0, 0), use_radians=True)
    plan = affinity.translate(plan, *at)
    mesh = trimesh.creation.box((*size, high - low))
    mesh.apply_transform(trimesh.transformations.rotation_matrix(turn, (0, 0, 1)))
    mesh.apply_translation((*at, (low + high) / 2))
    return SiteMesh(f"building {i}", np.asarray(mesh.vertices), mesh.faces), plan, low, high


def footprint(
    length: float, width: float, ahead: float, x: float, y: float, yaw: float
) -> shapely.Polygon:
    """A rectangle that begins ``ahead`` m behind the middle of the feet; the rear looks ``yaw``."""
    drawn = shapely.box(ahead, -width / 2, ahead + length, width / 2)
    return affinity.translate(affinity.rotate(drawn, yaw, origin=(0, 0), use_radians=True), x, y)


@pytest.mark.parametrize("seed", range(20))
def test_free_or_not_and_how_far(seed: int) -> None:
    rng = np.random.default_rng(seed)
    built = [building(rng, i) for i in range(14)]
    site = surroundings((), [b[0] for b in built])
    envelope = tuple(rng.uniform((0.6, 0.5, 0.6), (2.0, 1.5, 2.6)))
    vehicle = tuple(rng.uniform((0.0, 2.0, 1.2), (3.0, 9.0, 3.0)))
    drawbar, length, width = (float(x) for x in vehicle)
    machine = Machine("puller", (), envelope, line_height=envelope[2] / 2)
    end = pulling_end((0, 0, 0.5), (1, 0, 0))
    count = 150
    places, yaws = rng.uniform(-12, 12, (count, 2)), rng.uniform(-math.pi, math.pi, count)
    axes = np.column_stack((np.cos(yaws), np.sin(yaws), np.zeros(count)))
    feet = np.column_stack((places, np.full(count, FLOOR)))
    fronts = feet - axes * envelope[0] / 2
    # a rope of a hand's breadth within the machine's own footprint: nothing of it is tried here
    corners = np.stack((fronts + axes * 0.1, fronts), axis=1)
    ways = Ways(np.arange(count), axes, feet, corners, np.zeros(count), np.full(count, 0.1))
    nowhere = np.full(count, -1)
    ground = Ground(places, np.full(count, FLOOR), nowhere, np.zeros(count, dtype=bool))

    def passing(rules: PlaceRules) -> tuple[StandingMachine, dict[int, float]]:
        stand = StandingMachine.of(end, machine, envelope, math.radians(5), rules)
        found, _ = fitted(site, stand, ground, ways)
        return stand, dict(zip(found.ways.place.tolist(), found.gap.tolist(), strict=True))

    _, alone = passing(PlaceRules())
    stand, hitched = passing(PlaceRules(vehicle=(drawbar, length, width)))
    top = max(envelope[2], STANDING)
    shapes = plan_shapes(site, FLOOR + UNEVEN, top)
    both = [
        apart(shapes, stand, ways, *spans, less=0.0, limit=LOOK)[0]
        for spans in vehicle_spans(stand, (drawbar, length, width))
    ]
    met = [plan for _, plan, low, high in built if low < top and high > FLOOR + UNEVEN]
    belt = [plan for _, plan, low, high in built if low < STANDING and high > FLOOR + 0.1]
    blocked = 0
    for i, (x, y), yaw in zip(range(count), places, yaws, strict=True):
        rear = envelope[0] / 2
        bar = footprint(drawbar, 2 * DRAWBAR_HALF, rear, x, y, yaw)
        body = footprint(length, width, rear + drawbar, x, y, yaw)
        away = min(min(bar.distance(p), body.distance(p)) for p in met)
        gap = float(min(b[i] for b in both))
        assert gap == pytest.approx(away if away <= LOOK else math.inf, abs=SEAM)
        assert i in alone or i not in hitched  # a vehicle makes no room
        if i in alone:
            assert (i in hitched) is (away > 0)
            blocked += away == 0
            own = footprint(envelope[0], envelope[1], -rear, x, y, yaw)
            near = min(own.distance(p) for p in belt)
            assert alone[i] == pytest.approx(near if near <= LOOK else math.inf, abs=1e-9)
    assert 5 < blocked < len(alone)
