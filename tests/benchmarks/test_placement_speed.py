"""Time to find the machine a place; run with ``pytest -s -m benchmarks`` on a quiet machine."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import trimesh

from route3d.model import Allowances, Gear, LeadOff, Machine, Sheave
from route3d.planning.placement.rope_legs import PullEnd, pulling_end
from route3d.planning.placement.search import PlacementSearch, place_machine
from route3d.planning.placement.site import SiteMesh, surroundings
from tests.benchmarks.conftest import Timing

pytestmark = pytest.mark.benchmarks

MACHINE = Machine("puller", (Gear(20e3, 0.1),), (1.2, 0.8, 1.1), line_height=0.75, clearance=0.9)
TURN = LeadOff(math.pi / 2, Sheave("corner", 0.2, 50e3))
LEVEL, RISER = pulling_end((0, 0, 0.75), (1, 0, 0)), pulling_end((11, -1, 0.1), (0, 0, 1))
# Yards for a room of 200,000 triangles.
MOST = 20.0


def equipment(shape: str) -> SiteMesh:
    """A room of 24 m by 18 m with over 200,000 triangles: few things finely meshed, or many."""
    rng = np.random.default_rng(3)
    shell = trimesh.creation.box((24, 18, 5))
    shell.apply_translation((11.9, 0, 2.5))
    for _ in range(6 if shape == "fine" else 1):
        shell = shell.subdivide()
    parts = [shell]
    while sum(len(p.faces) for p in parts) < 200_000:
        if shape == "fine":
            part = trimesh.creation.icosphere(subdivisions=5, radius=0.3)
        else:  # bolts, fittings and tray rungs by the ten thousand
            part = trimesh.creation.box(rng.uniform(0.01, 0.08, (3,)))
            part = trimesh.util.concatenate(
                [part.copy().apply_translation(rng.normal(0, 0.3, 3)) for _ in range(400)]
            )
        part.apply_translation((*rng.uniform((2, -8), (22, 8)), rng.uniform(0.5, 4.5)))
        parts.append(part)
    before = np.cumsum([0] + [len(p.vertices) for p in parts[:-1]])
    faces = [p.faces + n for p, n in zip(parts, before, strict=True)]
    return SiteMesh(shape, np.vstack([p.vertices for p in parts]), np.vstack(faces))


@pytest.mark.parametrize("shape", ["fine", "many"])
@pytest.mark.parametrize("turns", [0, 1, 2])
@pytest.mark.parametrize("end", [LEVEL, RISER], ids=["level", "riser"])
def test_a_room_of_200_000_triangles(
    shape: str, turns: int, end: PullEnd, timed: Timing, yards: Callable[[float], float]
) -> None:
    mesh = equipment(shape)
    assert len(mesh.faces) >= 200_000

    def work() -> PlacementSearch:
        site = surroundings((), [mesh])
        return place_machine(end, MACHINE, site, Allowances(), lead_off=(TURN,) * turns)

    found = work()
    spent = timed("placement", work, 3, 0)
    print(f"\n  {len(mesh.faces)} triangles: {spent:.2f} s, {found.good} of {found.tried}", end="")
    # The search keeps to one thread: on a quiet machine that is the time on the clock.
    assert yards(spent) <= MOST
