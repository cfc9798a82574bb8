"""Where nobody stands while the rope is loaded, as outlines in plan and in side view.

Every zone is the hull of disks in space, so that it has a true outline in any view. The figures
are common practice, from memory, and no standard: the person in charge may only widen them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np

from route3d.geometry.vectors import Floats, frozen, norm, unit

CONE = math.radians(10.0)
"""Half the angle in which a broken rope flies back (common practice for ropes, from memory)."""
BESIDE = 0.3
"""Nobody stands nearer than this to a loaded rope, m (own judgement)."""
OVERHEAD = 1.8
"""A rope, head or cable this high above the floor is over somebody's head, m (own judgement)."""
UNDER = 0.5
"""Nobody stands nearer than this to the line under a load, m (own judgement)."""

ZoneKind = Literal["line", "bight", "under", "between"]
VIEWS = {"plan": (0, 1), "side": (0, 2)}
"""Coordinates of a view among ahead, aside and up."""
_ROUND = 24  # corners of a disk


@dataclass(frozen=True, slots=True, eq=False)
class DangerZone:
    """One place where nobody stands: its outlines (n, 2) m in ``plan`` and in ``side`` view."""

    kind: ZoneKind
    plan: Floats
    side: Floats


def rope_zones(corners: Floats, reach: float) -> list[DangerZone]:
    """Zones of a loaded rope through ``corners`` (n, 3) m: each leg's line and each turn's bight.

    A leg that breaks at one end flies back past the other, spreading by :data:`CONE`: beyond the
    conduit end and beyond the machine for ``reach`` m, the length of the rope between the two;
    beyond a sheave for the length of the leg.
    """
    zones = []
    legs = list(pairwise(corners))
    for i, (a, b) in enumerate(legs):
        length = float(norm(b - a))
        if length < 1e-6:
            continue
        before = reach if i == 0 else length
        beyond = reach if i == len(legs) - 1 else length
        zones += [fly_back(a, b, beyond), fly_back(b, a, before)]
    for before, at, after in zip(corners[:-2], corners[1:-1], corners[2:], strict=True):
        if norm(np.cross(before - at, after - at)) > 1e-9:
            zones.append(zone_of("bight", [(p, None, BESIDE) for p in (before, at, after)]))
    return zones


def fly_back(apex: Floats, end: Floats, beyond: float) -> DangerZone:
    """The cone of a rope from ``apex`` to ``end`` (3,) m that breaks at its apex."""
    way = unit(end - apex)
    tip = end + beyond * way
    wide = BESIDE + float(norm(tip - apex)) * math.tan(CONE)
    return zone_of("line", [(apex, way, BESIDE), (tip, way, wide)])


def under_load(line: Floats, floor: float) -> list[DangerZone]:
    """Zones on the ``floor`` (m) under what hangs overhead along a ``line`` (n, 3) m."""
    zones = []
    for a, b in pairwise(line):
        if max(a[2], b[2]) - floor <= OVERHEAD:
            continue
        on_floor = [np.array([*p[:2], floor]) for p in (a, b)]
        up = np.array([0.0, 0.0, 1.0])
        zones.append(zone_of("under", [(p, up, UNDER) for p in (*on_floor, a, b)]))
    return zones


def zone_of(kind: ZoneKind, disks: Sequence[tuple[Floats, Floats | None, float]]) -> DangerZone:
    """The hull of disks: middle (3,), axis (3,) or None for a ball, and radius m."""
    import shapely

    points = np.vstack([_rim(*disk) for disk in disks])
    views: dict[str, Any] = {}
    for name, axes in VIEWS.items():
        hull = shapely.convex_hull(shapely.multipoints(points[:, axes]))
        views[name] = frozen(shapely.get_coordinates(hull)[:-1])
    return DangerZone(kind, **views)


def _rim(middle: Floats, axis: Floats | None, radius: float) -> Floats:
    """Points (n, 3) on the edge of a disk, or on three circles of a ball."""
    if axis is None:
        return np.vstack([_rim(middle, one, radius) for one in np.eye(3)])
    across = np.cross(axis, np.eye(3)[int(np.argmin(abs(axis)))])
    across = unit(across)
    other = np.cross(axis, across)
    angle = np.arange(_ROUND) * (2 * math.pi / _ROUND)
    rim: Floats = middle + radius * (
        np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * other
    )
    return rim
