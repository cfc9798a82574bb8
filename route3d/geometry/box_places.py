"""Where the box of a pull point stands: one rule for drawings, banks, clearance, models, pictures.

Own judgment, all of it; the model file gives a point and a size and no more.

- A box is upright. Its length lies along the conduit that comes in, taken level, at the first point
  along the conduit that leaves.
- Of a riser, steeper than 45 degrees, the length is upright. The height lies along the nearest leg
  before it that is no riser, else the nearest after it, else along the plan of the riser, else x.
- Between the ends of the run its middle is on the point.
- At an end of the run the box stands beyond it: the conduit ends at the middle of its near wall.
- A room of the same name gives the floor the box stands on; the box of a riser it leaves alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from route3d.geometry.rmf_frames import STEEP
from route3d.geometry.vectors import Floats, frozen, norm, unit
from route3d.model.route import Route

_UP = np.array([0.0, 0.0, 1.0])
_LEVEL = np.array([1.0, 1.0, 0.0])
_PLUMB = 1e-6  # of a unit vector: what is less in plan has no direction there


@dataclass(frozen=True, slots=True, eq=False)
class BoxPlace:
    """The box at a ``vertex``, whose place is ``point`` (3,) m.

    ``middle`` (3,) m is that of the box. ``axes`` (3, 3) are unit vectors along its length, width
    and height, which are its ``size``, m.
    """

    vertex: int
    point: Floats
    middle: Floats
    axes: Floats
    size: tuple[float, float, float]

    @property
    def is_of_riser(self) -> bool:
        """Whether its length is upright."""
        return bool(self.axes[0, 2] != 0)

    @property
    def heading(self) -> Floats:
        """The level unit vector (3,) that the box lies along on the plan."""
        return frozen(self.axes[2 if self.is_of_riser else 0])

    @property
    def extents(self) -> tuple[float, float, float]:
        """Its size as it stands, m: along the heading, across it, and upright."""
        length, width, height = self.size
        return (height, width, length) if self.is_of_riser else self.size

    @property
    def low(self) -> float:
        """Elevation of its floor, m."""
        return float(self.middle[2]) - self.extents[2] / 2

    @property
    def reach(self) -> float:
        """From the point to the farthest corner, m."""
        away = np.abs(self.axes @ (self.middle - self.point)) + np.array(self.size) / 2
        return float(norm(away))


def box_place(
    points: Floats, vertex: int, size: tuple[float, float, float], floor: float | None = None
) -> BoxPlace:
    """Where the box at a vertex stands, by the rule of this module.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        The vertices of the route, m.
    vertex : int
        Which of them has the box.
    size : tuple of float
        Length along the pull, width and height, m.
    floor : float, optional
        Elevation of the floor of a room of the same name, m.

    Returns
    -------
    BoxPlace
    """
    points = np.asarray(points, dtype=np.float64)
    legs = unit(np.diff(points, axis=0))
    own = max(vertex - 1, 0)
    steep = abs(float(legs[own, 2])) > STEEP
    heading = _heading(legs, own)
    if steep:
        ahead = _UP * math.copysign(1.0, float(legs[own, 2]))
        axes = np.array([ahead, np.cross(ahead, heading), heading])
    else:
        axes = np.array([heading, np.cross(heading, _UP), _UP])
    beyond = -0.5 if vertex == 0 else 0.5 if vertex == len(points) - 1 else 0.0
    middle = points[vertex] + beyond * size[0] * axes[0]
    if floor is not None and not steep:
        middle[2] = floor + size[2] / 2
    return BoxPlace(vertex, frozen(points[vertex]), frozen(middle), frozen(axes), size)


def _heading(legs: Floats, own: int) -> Floats:
    """The way a box lies on the plan, (3,), by the directions of the legs and the number of its."""
    order = [*range(own, -1, -1), *range(own + 1, len(legs))]
    level = [i for i in order if abs(float(legs[i, 2])) <= STEEP]
    for i in (*level, own):
        flat = legs[i] * _LEVEL
        if float(norm(flat)) > _PLUMB:
            return np.asarray(unit(flat))
    return np.array([1.0, 0.0, 0.0])


def box_places(route: Route, floors: Mapping[str, float] | None = None) -> tuple[BoxPlace, ...]:
    """The boxes that a route gives, by the rule of this module.

    Parameters
    ----------
    route : Route
        With the boxes.
    floors : mapping of str to float, optional
        Elevation of the floor of each room by its name, m.

    Returns
    -------
    tuple of BoxPlace
        In the order of the route.
    """
    points = np.array([v.point for v in route.vertices])
    return tuple(
        box_place(points, i, vertex.box, (floors or {}).get(vertex.name))
        for i, vertex in enumerate(route.vertices)
        if vertex.box is not None
    )
