"""Cross sections along a duct bank, what of it lies below the ground, and the ground over it.

Cover and depth are measured upright over the whole width of the bank. Between cross sections a
bank and the triangles of a ground surface are flat, so that least and most are met at a cross
section, where an edge of the bank passes an edge of a triangle, or at a point of the surface.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.encasement import STEP, ConcreteSection, ground_stations, spans
from route3d.geometry.grade import Grade
from route3d.geometry.path import CORNER, Path
from route3d.geometry.rmf_frames import frames, frames_at
from route3d.geometry.vectors import Floats

# Below this horizontal part of its direction a route is plumb, and its heading that before it.
_PLUMB = 1e-9
# Gauss's rule of four points on (0, 1): exact to the seventh power of a step of 2.5 degrees.
_NODES, _WEIGHTS = (w / 2 for w in np.polynomial.legendre.leggauss(4))
_NODES = _NODES + 0.5
# The lines along a bank that say whether it is below grade: its corners and the middles between.
_EDGES = np.array([(-1, -1), (0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0)]) / 2
# Halvings that follow a line to where it passes the ground, and a hair beside an edge, m.
_HALVINGS, _HAIR = 50, 1e-5

# --- cross sections ------------------------------------------------------------------------------


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


def slices_at(path: Path, starts: Floats, shape: ConcreteSection, at: Floats) -> BankSlices:
    """The cross sections at stations of the centerline.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.
    shape : ConcreteSection
        From `section`.
    at : ndarray, shape (k,)
        Stations, m.

    Returns
    -------
    BankSlices
        Of k cross sections.
    """
    return _slices(path, starts, shape, at, path.tangent(at), np.zeros(len(at)))


def slices_along(
    path: Path,
    starts: Floats,
    shape: ConcreteSection,
    turn: float = STEP,
    spacing: float = math.inf,
) -> BankSlices:
    """Cross sections at most ``turn`` rad and ``spacing`` m apart; all joints twice.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.
    shape : ConcreteSection
        From `section`.
    turn, spacing : float
        rad, m

    Returns
    -------
    BankSlices
        m
    """
    return _slices(path, starts, shape, *_along(path, turn, spacing))


def _slices(
    path: Path,
    starts: Floats,
    shape: ConcreteSection,
    stations: Floats,
    tangents: Floats,
    gone: Floats,
) -> BankSlices:
    ahead = _ahead(tangents)
    level = np.einsum("ki,ki->k", tangents, ahead)
    upright = -tangents[:, 2:] * ahead + level[:, None] * np.array([0.0, 0.0, 1.0])
    frame = frames_at(path, stations, starts)
    size = np.array([shape.width, shape.height]) / 2
    across = np.cross(ahead, np.array([0.0, 0.0, 1.0]))
    return BankSlices(
        stations,
        path.point(stations),
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


def gone_on_plan(path: Path, turn: float = STEP) -> float:
    """How far a path goes on the plan.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    turn : float
        The largest turn between two places that are looked at, rad.

    Returns
    -------
    float
        m
    """
    return float(_along(path, turn, math.inf)[2][-1])


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


# --- what lies below the ground ------------------------------------------------------------------


def stretches_below(
    path: Path,
    grade: Grade,
    shape: ConcreteSection | None = None,
    starts: Floats | None = None,
    *,
    whole: bool = False,
) -> tuple[tuple[float, float], ...]:
    """Station pairs (m) of the stretches below grade, lower station first.

    A bank is below grade where any part of its section is, as a rule its bottom edge; ``whole``
    asks for all of the section. Without a ``shape`` the path itself counts. What lies outside the
    surface of the grade is not among them; over what of a section reaches beyond it the ground is
    that over the middle.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    grade : Grade
        The ground, m.
    shape : ConcreteSection, optional
        From `section`.
    starts : ndarray, shape (n, 2, 3), optional
        Right and up at the start of each segment. Default: `frames`.
    whole : bool
        Only where all of the section lies below grade.

    Returns
    -------
    tuple of (float, float)
        m
    """
    offsets = np.zeros((1, 2)) if shape is None else _EDGES * (shape.width, shape.height)
    starts = frames(path) if starts is None else starts

    def places(stations: Floats) -> Floats:
        beside = np.einsum("ef,kfi->eki", offsets, frames_at(path, stations, starts))
        found: Floats = path.point(stations) + beside
        return found

    def depth(stations: Floats) -> Floats:
        """How far each line (e) lies below the ground at stations (k), (e, k) m."""
        points = places(stations)
        over = grade.at(points.reshape(-1, 3)).reshape(points.shape[:2])
        middle = grade.at(path.point(stations))
        over = np.where(np.isnan(over) | np.isnan(middle), middle, over)
        deep: Floats = over - points[..., 2]
        return deep

    stations = ground_stations(path, grade)
    if not grade.is_level:
        for line in places(stations):
            piece, share = grade.passed(line[:-1], line[1:])
            between = stations[piece] + share * np.diff(stations)[piece]
            stations = np.unique(np.concatenate((stations, between)))
    hair = np.minimum(_HAIR, np.diff(stations) / 4)
    low, high = stations[:-1] + hair, stations[1:] - hair
    first, last = depth(low), depth(high)
    jumps = (np.isnan(first[:, 1:]) != np.isnan(last[:, :-1])) | (first[:, 1:] * last[:, :-1] < 0)
    cuts = [stations[1:-1][jumps.any(axis=0)]]
    edges, pieces = np.nonzero(first * last < 0)
    cuts.append(_passing(edges, low[pieces], high[pieces], depth))
    fine = path.split(np.sort(np.concatenate(cuts)))
    middle = (fine.stations[:-1] + fine.stations[1:]) / 2
    deep = depth(middle)
    return spans(fine, (deep.min(axis=0) if whole else deep.max(axis=0)) > 1e-9)


def _passing(
    edges: NDArray[np.int64], low: Floats, high: Floats, depth: Callable[[Floats], Floats]
) -> Floats:
    """The stations (n,) between ``low`` and ``high`` at which lines (n,) pass the ground."""
    each = np.arange(len(edges))
    before = depth(low)[edges, each] if len(edges) else low
    for _ in range(_HALVINGS if len(edges) else 0):
        middle = (low + high) / 2
        same = depth(middle)[edges, each] * before > 0
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    passed: Floats = (low + high) / 2
    return passed


# --- the ground over a strip ---------------------------------------------------------------------


@dataclass(frozen=True, eq=False, slots=True)
class GroundOver:
    """How far the ground lies over a strip at the places where that may be least or most.

    ``height`` (n,) m, NaN where no ground is known; ``share`` (n,) of the way from cross section
    ``piece`` (n,) to the next.
    """

    piece: NDArray[np.int64]
    share: Floats
    height: Floats

    def along(self, values: Floats) -> Floats:
        """What has ``values`` (k,) at the cross sections, at each place (n,)."""
        found: Floats = values[self.piece] + self.share * np.diff(values)[self.piece]
        return found


def ground_over(points: Floats, across: Floats, half: Floats, grade: Grade) -> GroundOver:
    """The ground over a strip that is level across.

    Where the ground is not known at an edge it is taken as that over the middle.

    Parameters
    ----------
    points : ndarray, shape (k, 3)
        The middle of the strip, m.
    across : ndarray, shape (k, 3)
        Unit vectors across it.
    half : ndarray, shape (k,)
        How far it reaches to both sides, m.
    grade : Grade
        The ground.

    Returns
    -------
    GroundOver
        At the points, and where the strip passes edges and points of the surface.
    """
    count = len(points)
    every, none = np.arange(count - 1), np.zeros(count - 1)
    if grade.is_level:
        piece, share = np.append(every, count - 2), np.append(none, 1.0)
        return GroundOver(piece, share, grade.level - points[:, 2])
    pieces, shares, sides = [], [], []
    for side in (-1.0, 0.0, 1.0):
        line = (points + side * half[:, None] * across)[:, :2]
        piece, share = grade.passed(line[:-1], line[1:])
        hair = _HAIR / np.maximum(np.linalg.norm(np.diff(line, axis=0), axis=1)[piece], _HAIR)
        beside = [np.clip(share + step * hair, 0.0, 1.0) for step in (-1.0, 0.0, 1.0)]
        pieces += [every, np.array([count - 2]), *[piece] * 3]
        shares += [none, np.ones(1), *beside]
        sides.append(np.full(count + 3 * len(piece), side))
    piece, share, at_side = _surface_points(points, across, half, grade)
    piece = np.concatenate((*pieces, piece)).astype(np.int64)
    share, side_of = np.concatenate((*shares, share)), np.concatenate((*sides, at_side))

    def mixed(values: Floats) -> Floats:
        weight = share.reshape(-1, *[1] * (values.ndim - 1))
        found: Floats = values[piece] + weight * np.diff(values, axis=0)[piece]
        return found

    middle = mixed(points)
    edges = mixed(half[:, None] * across)
    over, own = grade.at(middle + side_of[:, None] * edges), grade.at(middle)
    over = np.where(np.isnan(over) | np.isnan(own), own, over)
    return GroundOver(piece, share, over - middle[:, 2])


def least_ground(cut: BankSlices, grade: Grade) -> tuple[Floats, Floats]:
    """The least elevation of the ground over the width of each cross section.

    Parameters
    ----------
    cut : BankSlices
        Of k cross sections.
    grade : Grade
        The ground.

    Returns
    -------
    elevation : ndarray, shape (k,)
        m; NaN where no ground is known over the middle.
    right : ndarray, shape (k,)
        How far to the right of the middle it is met, m.
    """
    reach = cut.half_width[:, None] * cut.across
    line, share = grade.passed(cut.points - reach, cut.points + reach)
    every = np.arange(len(cut.points))
    row = np.concatenate((every, every, every, line))
    side = np.concatenate((0.0 * every, 0.0 * every - 1, 0.0 * every + 1, 2 * share - 1))
    over = grade.at(cut.points[row] + side[:, None] * reach[row])
    over = np.where(np.isnan(over), np.inf, over)
    order = np.lexsort((np.abs(side), over, row))
    first = order[np.searchsorted(row[order], every)]
    known = np.isfinite(grade.at(cut.points))
    return np.where(known, over[first], np.nan), side[first] * cut.half_width


def _surface_points(
    points: Floats, across: Floats, half: Floats, grade: Grade
) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Points of the surface within the strip: their piece, share along it, and share across."""
    import shapely

    corners = np.unique(grade.triangles.reshape(-1, 3)[:, :2], axis=0)
    start, step = points[:-1, :2], np.diff(points[:, :2], axis=0)
    lines = shapely.linestrings(np.stack((points[:-1, :2], points[1:, :2]), axis=1))
    reach = float(half.max())
    piece, corner = shapely.STRtree(shapely.points(corners)).query(lines, "dwithin", reach)
    long = np.maximum(np.einsum("ki,ki->k", step, step)[piece], 1e-18)
    gap = corners[corner] - start[piece]
    share = np.einsum("ki,ki->k", gap, step[piece]) / long
    wide = half[piece] + share * np.diff(half)[piece]
    right = np.einsum("ki,ki->k", gap - share[:, None] * step[piece], across[piece, :2])
    inside = (share >= 0) & (share <= 1) & (np.abs(right) <= wide) & (wide > 0) & (long > 1e-12)
    return piece[inside], share[inside], (right / np.where(wide > 0, wide, 1.0))[inside]
