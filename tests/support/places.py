"""A hall, a machine and what may stand in its way, for the tests of where a machine can stand."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
import trimesh

from route3d.model import Allowances, Gear, LeadOff, Machine, Room, Sheave
from route3d.planning.placement.rope_legs import PullEnd, pulling_end
from route3d.planning.placement.search import Placement, PlacementSearch, PlaceRules, place_machine
from route3d.planning.placement.site import SiteMesh, Surroundings, surroundings

LENGTH, WIDTH, HEIGHT, LINE, CLEAR = 1.2, 0.8, 1.1, 0.75, 0.9
MACHINE = Machine(
    "puller", (Gear(20e3, 0.1),), (LENGTH, WIDTH, HEIGHT), line_height=LINE, clearance=CLEAR
)
ALLOWANCES = Allowances()
LIMIT = ALLOWANCES.lead_angle
AHEAD = pulling_end((0, 0, LINE), (1, 0, 0))
CORNER = (LeadOff(math.pi / 2, Sheave("corner", 0.2, 50e3)),)
HALL = ((0.0, -5.0), (9.0, -5.0), (9.0, 5.0), (0.0, 5.0))


def box(x0: float, y0: float, x1: float, y1: float) -> tuple[tuple[float, float], ...]:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def hall(*obstacles: tuple[tuple[float, float], ...], ceiling: float | None = 3.0) -> Room:
    return Room("hall", HALL, 0.0, ceiling, obstacles)


def block(name: str, low: Sequence[float], high: Sequence[float]) -> SiteMesh:
    mesh = trimesh.creation.box(bounds=(low, high))
    return SiteMesh(name, np.asarray(mesh.vertices), np.asarray(mesh.faces))


def slab(x0: float, y0: float, x1: float, y1: float, z: float = 0.0) -> SiteMesh:
    corners = np.array([(x, y, z) for x, y in box(x0, y0, x1, y1)])
    return SiteMesh("slab", corners, np.array([(0, 1, 2), (0, 2, 3)]))


def search(
    site: Surroundings | Room,
    end: PullEnd = AHEAD,
    machine: Machine = MACHINE,
    lead_off: Sequence[LeadOff] = (),
    **rules: object,
) -> PlacementSearch:
    site = surroundings((site,)) if isinstance(site, Room) else site
    found = place_machine(
        end,
        machine,
        site,
        ALLOWANCES,
        lead_off=lead_off,
        rules=PlaceRules(**rules),  # type: ignore[arg-type]
    )
    if not site.empty:  # every place is good or has one reason why not
        assert found.good + sum(f.count for f in found.failures) == found.tried
    return found


def reasons(found: PlacementSearch) -> dict[tuple[str, str], int]:
    return {(f.reason, f.what): f.count for f in found.failures}


def turned(p: Sequence[float]) -> tuple[float, float, float]:
    """A point of the room turned by 90 degrees about the origin."""
    return (-p[1], p[0], p[2])


def same_place(p: Placement, q: Placement) -> bool:
    """Whether ``q`` is ``p`` turned by 90 degrees; rounding alone may part them."""
    yaw = math.remainder(q.yaw - p.yaw - math.pi / 2, 2 * math.pi)
    return (
        q.position == pytest.approx(turned(p.position), abs=1e-9)
        and abs(yaw) < 1e-9
        and (q.lead_angle, q.distance) == pytest.approx((p.lead_angle, p.distance), abs=1e-9)
        and q.clear_least == pytest.approx(p.clear_least, abs=1e-9)
        and (q.sides, len(q.notes)) == (p.sides, len(p.notes))
    )
