"""Where a person can work beside a machine or a reel, clear of every zone where nobody stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.model.room import Polygon
from route3d.planning.rigging.danger_zones import DangerZone

STANDING = 0.3
"""Half the width of the place a person takes, m (own judgement)."""
# How far from the machine the operator is sought, nearest first, m: arm's length, then farther.
_AWAY = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0)
_ALONG = 7  # places tried along the machine


def place_beside(
    outline: Floats,
    zones: Sequence[DangerZone],
    blocked: Sequence[Polygon | Floats],
    rooms: Sequence[Polygon],
    sides: Sequence[str] = (),
) -> Floats | None:
    """The nearest place (2,) m beside a machine where somebody can stand; None where there is none.

    ``outline`` (4, 2) m is the machine's: front left, front right, rear right, rear left, seen from
    behind it. The place keeps clear of the ``zones``, of what is ``blocked`` and of the walls of
    ``rooms``, if any. ``sides`` with their working clearance come before the others.
    """
    import shapely

    taken = [shapely.Polygon(p) for p in (outline, *(z.plan for z in zones), *blocked)]
    closed = shapely.union_all(taken)
    inside = shapely.union_all([shapely.Polygon(room) for room in rooms]) if rooms else None
    for place in _places(outline, sides):
        person = shapely.Point(place).buffer(STANDING)
        if closed.intersects(person):
            continue
        if inside is None or inside.contains(person):
            return place
    return None


def _places(outline: Floats, sides: Sequence[str]) -> Iterator[Floats]:
    """Places beside the machine, near ones first; at each distance from its rear to its front."""
    left_front, right_front, right_rear, left_rear = outline
    across = (left_front - right_front) / np.linalg.norm(left_front - right_front)
    both = {"left": (left_rear, left_front, across), "right": (right_rear, right_front, -across)}
    order = sorted(both, key=lambda side: side not in sides)
    for away in _AWAY:
        for side in order:
            rear, front, out = both[side]
            for share in np.linspace(0.25, 1.0, _ALONG):
                yield rear + share * (front - rear) + away * out
