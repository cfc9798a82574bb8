"""Rooms in which a machine may stand, as polygons on the plan grid."""

from __future__ import annotations

from dataclasses import dataclass

Polygon = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Room:
    """``outline`` and ``obstacles`` as (x, y) m; ``floor`` and ``ceiling`` z m.

    Without a ceiling the room is open above; obstacles reach from floor to ceiling.
    """

    name: str
    outline: Polygon
    floor: float
    ceiling: float | None = None
    obstacles: tuple[Polygon, ...] = ()
