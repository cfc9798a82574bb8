"""The outline of a duct bank's concrete on a plan and on a profile developed along the plan.

The concrete is the section of the bank carried along the run without twist (``geometry.bank``),
where the run lies below grade, or all along it where no part does. Direct-buried ducts (cover 0)
have the outline of the ducts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from route3d.geometry.encasement import STEP, part_of, rings
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


def plan_outlines(bank: Bank, run: Run, grade: Grade) -> list[Floats]:
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


def profile_lines(bank: Bank, run: Run, grade: Grade) -> list[ProfileLines]:
    """Top and bottom of the concrete, one for each stretch in concrete with ducts of one size.

    Both are square to the run's line, by half of what the section measures upright. Chords in bends
    span at most 2.5 degrees. Raises GeometryError where the route has no path.
    """
    center = route_path(run.route)
    lines = []
    for part in parts_of(bank, run, center, frames(center), grade):
        cut = slices(part, center)
        lines.append(ProfileLines(cut.stations, cut.on_profile(1.0), cut.on_profile(-1.0)))
    return lines


# --- cross sections along the bank ----------------------------------------------------------


@dataclass(frozen=True, eq=False, slots=True)
class BankSlices:
    """Cross sections of a bank at ``stations`` (k,) m, with their middles ``points`` (k, 3) m.

    ``ahead`` (k, 3) is the level heading and ``upright`` (k, 3) the direction up across the run in
    its upright plane. ``half_height`` and ``half_width`` (k,) m are what the section measures along
    that and level across. ``gone`` (k,) m is how far the run has gone on the plan.
    """

    stations: Floats
    points: Floats
    ahead: Floats
    upright: Floats
    half_height: Floats
    half_width: Floats
    gone: Floats

    @property
    def across(self) -> Floats:
        """Level to the right, (k, 3)."""
        return np.cross(self.ahead, np.array([0.0, 0.0, 1.0]))

    def on_profile(self, side: float) -> Floats:
        """The top (1) or bottom (-1) on a profile developed along the plan, (k, 2) m."""
        step = side * self.half_height[:, None] * self.upright
        along = np.einsum("ki,ki->k", step, self.ahead)
        return np.column_stack((self.gone + along, self.points[:, 2] + step[:, 2]))


def section_at(part: EncasedPart, station: float) -> BankSlices:
    """The cross section at one station of a part, m."""
    at = np.array([station])
    return _slices(part, at, part.path.tangent(at), np.zeros(1))


def slices(
    part: EncasedPart, center: Path, turn: float = STEP, spacing: float = math.inf
) -> BankSlices:
    """Cross sections of a part, at most ``turn`` rad and ``spacing`` m apart; all joints twice."""
    stations, tangents, gone = _along(part.path, turn, spacing)
    if part.start > 0:
        gone += _along(part_of(center, 0.0, part.start), turn, spacing)[2][-1]
    return _slices(part, stations, tangents, gone)


def _slices(part: EncasedPart, stations: Floats, tangents: Floats, gone: Floats) -> BankSlices:
    ahead = _ahead(tangents)
    level = np.einsum("ki,ki->k", tangents, ahead)
    upright = -tangents[:, 2:] * ahead + level[:, None] * np.array([0.0, 0.0, 1.0])
    frame = frames_at(part.path, stations, frames(part.path, part.frame))
    size = np.array([part.section.width, part.section.height]) / 2
    across = np.cross(ahead, np.array([0.0, 0.0, 1.0]))
    return BankSlices(
        part.start + stations,
        part.path.point(stations),
        ahead,
        upright,
        np.abs(np.einsum("kfi,ki->kf", frame, upright)) @ size,
        np.abs(np.einsum("kfi,ki->kf", frame, across)) @ size,
        gone,
    )


def _along(path: Path, turn: float, spacing: float) -> tuple[Floats, Floats, Floats]:
    """Stations (k,) m with at most so much turn between, tangents, and how far in plan, m.

    Both ends of every segment are there, each with its own tangent.
    """
    stations, tangents, gone = [], [], [np.zeros(1)]
    for i in np.flatnonzero(path.kind != CORNER):
        pieces = max(path.angles[i] / turn, path.lengths[i] / spacing)
        count = max(int(np.ceil(pieces - 1e-9)), 1)
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


def _ahead(tangents: Floats) -> Floats:
    """The level heading of each tangent, (k, 3); where plumb that before, else the next."""
    level = np.hypot(tangents[:, 0], tangents[:, 1])
    known = np.flatnonzero(level > _PLUMB)
    if not len(known):
        return np.tile([1.0, 0.0, 0.0], (len(tangents), 1))
    last = np.searchsorted(known, np.arange(len(level)), side="right") - 1
    ahead = tangents[known[np.maximum(last, 0)]] * np.array([1.0, 1.0, 0.0])
    turned: Floats = ahead / np.linalg.norm(ahead, axis=1)[:, None]
    return turned
