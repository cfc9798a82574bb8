"""The outline of a duct bank's concrete on a plan and on a profile developed along the plan.

The concrete is the section of the bank carried along the run without twist (``geometry.bank``),
where the run lies below grade, or all along it where no part does. Direct-buried ducts (cover 0)
have the outline of the ducts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from route3d.geometry.encasement import STEP, Z0, part_of, rings
from route3d.geometry.fillet import route_path
from route3d.geometry.grade import Grade
from route3d.geometry.path import CORNER, Path
from route3d.geometry.rmf_frames import frames, frames_at
from route3d.geometry.vectors import Floats
from route3d.model.job import Bank
from route3d.model.run import Run
from route3d.planning.bank import EncasedPart, parts_of

if TYPE_CHECKING:
    from shapely import Geometry

# Below this horizontal part of its direction a route is plumb, and its heading that before it.
_PLUMB = 1e-9
# Gauss's rule of four points on (0, 1): exact to the seventh power of a step of 2.5 degrees.
_NODES, _WEIGHTS = (w / 2 for w in np.polynomial.legendre.leggauss(4))
_NODES = _NODES + 0.5


def plan_outlines(bank: Bank, run: Run, grade: Grade = Z0) -> list[Floats]:
    """What the concrete covers on the plan: closed polylines (k, 2) m, the last point the first.

    Outer edges run counter-clockwise, the edges of what a loop of the bank leaves free clockwise.
    Chords in bends span at most 2.5 degrees. Raises GeometryError where the route has no path.
    """
    import shapely

    outlines: list[Floats] = []
    for whole in shapely.get_parts(shapely.union_all(_shadows(bank, run, grade))):
        shape = shapely.simplify(shapely.orient_polygons(whole), 1e-6)
        outlines += [np.asarray(r.coords) for r in (shape.exterior, *shape.interiors)]
    return outlines


def _shadows(bank: Bank, run: Run, grade: Grade) -> list[Geometry]:
    """The plan of each piece of the concrete between two rings of its mesh."""
    import shapely

    center = route_path(run.route)
    shadows = []
    for part in parts_of(bank, run, center, frames(center), grade):
        starts = frames(part.path, part.frame)
        around = rings(part.path, starts, part.section.corners, STEP)[..., :2]
        pairs = np.concatenate((around[:-1], around[1:]), axis=1)
        shadows += list(shapely.convex_hull(shapely.multipoints(pairs)))
    return shadows


@dataclass(frozen=True, eq=False, slots=True)
class ProfileLines:
    """Top and bottom of one stretch of concrete on a profile developed along the plan of the run.

    ``stations`` (k,) m are those of the run's own line. ``top`` and ``bottom`` (k, 2) m are points
    of the profile: how far the run has gone on the plan, and elevation. Beside a plumb riser they
    are two upright lines.
    """

    stations: Floats
    top: Floats
    bottom: Floats

    @property
    def outline(self) -> Floats:
        """Both lines and the square ends as one closed polyline, (2 k + 1, 2) m."""
        closed: Floats = np.concatenate((self.top, self.bottom[::-1], self.top[:1]))
        return closed


def profile_lines(bank: Bank, run: Run, grade: Grade = Z0) -> list[ProfileLines]:
    """Top and bottom of the concrete, one for each stretch in concrete with ducts of one size.

    Both are square to the run's line, by half of what the section measures upright. Chords in bends
    span at most 2.5 degrees. Raises GeometryError where the route has no path.
    """
    center = route_path(run.route)
    starts, lines = frames(center), []
    for part in parts_of(bank, run, center, starts, grade):
        stations, tangents, gone = _along(part.path)
        if part.start > 0:
            gone += _along(part_of(center, 0.0, part.start))[2][-1]
        normal = _upright(tangents)
        beside = np.einsum("kfi,ki->kf", _frames(part, stations), normal)
        reach = np.abs(beside) @ np.array([part.section.width, part.section.height]) / 2
        level = np.hypot(tangents[:, 0], tangents[:, 1])
        step = reach[:, None] * np.column_stack((-tangents[:, 2], level))
        middle = np.column_stack((gone, part.path.point(stations)[:, 2]))
        lines.append(ProfileLines(part.start + stations, middle + step, middle - step))
    return lines


def _frames(part: EncasedPart, stations: Floats) -> Floats:
    return frames_at(part.path, stations, frames(part.path, part.frame))


def _along(path: Path) -> tuple[Floats, Floats, Floats]:
    """Stations (k,) m with at most ``STEP`` of turn between, tangents, and how far in plan, m.

    Both ends of every segment are there, each with its own tangent.
    """
    stations, tangents, gone = [], [], [np.zeros(1)]
    for i in np.flatnonzero(path.kind != CORNER):
        count = max(int(np.ceil(path.angles[i] / STEP - 1e-9)), 1)
        share = np.linspace(0.0, 1.0, count + 1)
        inner = (share[:-1, None] + _NODES / count).ravel()
        level = np.hypot(*_turned(path, int(i), inner)[:, :2].T).reshape(count, -1) @ _WEIGHTS
        stations.append(path.stations[i] + share * path.lengths[i])
        tangents.append(_turned(path, int(i), share))
        run = np.concatenate(([0.0], np.cumsum(level))) * path.lengths[i] / count
        gone.append(gone[-1][-1] + run)
    return np.concatenate(stations), np.concatenate(tangents), np.concatenate(gone[1:])


def _turned(path: Path, i: int, share: Floats) -> Floats:
    """Tangents (k, 3) at shares of the way along a segment."""
    angle = share[:, None] * path.angles[i]
    turned: Floats = np.cos(angle) * path.tangents[i] + np.sin(angle) * path.normals[i]
    return turned


def _upright(tangents: Floats) -> Floats:
    """Units square to the tangents in the upright plane of each, up or, where plumb, back."""
    level = np.hypot(tangents[:, 0], tangents[:, 1])
    known = np.flatnonzero(level > _PLUMB)
    if not len(known):
        return np.tile([1.0, 0.0, 0.0], (len(tangents), 1))
    last = np.searchsorted(known, np.arange(len(level)), side="right") - 1
    ahead = tangents[known[np.maximum(last, 0)]] * np.array([1.0, 1.0, 0.0])
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    upright: Floats = -tangents[:, 2:] * ahead + level[:, None] * np.array([0.0, 0.0, 1.0])
    return upright
