"""Cameras before clashes and gaps: from where they are seen, and the surfaces that stand there."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.blocks import FACES, Blocks
from route3d.geometry.fillet import route_path
from route3d.geometry.mesh_tree import Ints
from route3d.geometry.path import Path
from route3d.geometry.tubes import tubes
from route3d.geometry.vectors import Floats, norm, unit
from route3d.planning.clearance.conduits import bank_ducts, outer_radii
from route3d.planning.clearance.issues import CLOSE, Issue
from route3d.planning.clearance.job import ClearanceResult

FIELD_OF_VIEW = 60.0
"""Of a close-up, degrees, up and down."""
# A close-up is taken from so far that this much of the site is seen round the place, m. A small gap
# is taken from nearer: so many of its lengths, but no less than this, m. The whole gap is seen.
_AROUND, _GAPS, _NEAREST, _BESIDE_GAP = 2.5, 8.0, 1.0, 1.4
# Directions from which a close-up is taken: of those that see as much the first.
_ELEVATIONS = (30.0, 60.0, 5.0, -30.0)
_AZIMUTHS = (225.0, 315.0, 135.0, 45.0, 270.0, 0.0, 180.0, 90.0)
# The camera looks from a free place where nothing is nearer to a clash than this, m.
_BESIDE = 0.3
# Where along a gap it is looked whether it is seen.
_LOOKS = (0.1, 0.3, 0.5, 0.7, 0.9)
# What one of the two things hides counts for so many faint things before the gap; a gap seen from
# its very end for as many as half its looks, from so far round on (cosine) for less and less.
_HIDES, _END_ON, _FROM = 10.0, 25.0, 0.75
_CHORD = 0.002  # m, of tubes
# Tubes have flat sides, so that a gap between their surfaces is longer than the true one, m.
_TRUE = 0.005
_TURNS, _STILL = 200, 1e-7  # steps to and fro between two surfaces, and when they end, m

Surface = tuple[Floats, Ints]


@dataclass(frozen=True, slots=True, eq=False)
class CloseUp:
    """A camera before a place: ``eye`` (3,) m, unit ``forward`` and ``up`` (3,).

    ``around`` m of the site are seen round ``target`` (3,) m, with a field of view of 60 degrees.
    ``gap`` (2, 3) m are the two nearest points of what is too close, on the one and on the other;
    None for a clash. ``hidden`` is true where something stands before the place from everywhere.
    """

    eye: Floats
    forward: Floats
    up: Floats
    target: Floats
    around: float
    gap: Floats | None = None
    hidden: bool = False


class Surroundings:
    """Every surface of a result by its name, made once for all its pictures."""

    def __init__(self, result: ClearanceResult) -> None:
        self.result = result
        job = result.job
        self.lines: dict[str, tuple[Path, Floats]] = {}
        paths = [route_path(run.route) for run in job.runs]
        banks = {bank.run: bank for bank in bank_ducts(job, paths)[0]}
        for run, path in zip(job.runs, paths, strict=True):
            radii = outer_radii(run)
            if run.name not in banks:
                self.lines[f"run {run.name}"] = path, radii[path.leg]
                continue
            for duct, label in zip(banks[run.name].paths, banks[run.name].labels, strict=True):
                self.lines[f"{label} of run {run.name}"] = duct, radii[duct.leg]
        self.bodies: dict[str, Blocks] = {body.name: body.blocks for body in result.built}
        self._made: dict[str, tuple[Surface, ...]] = {}

    def _own(self, name: str) -> tuple[Surface, ...]:
        """The surfaces of a line or body."""
        if name not in self._made:
            if name in self.bodies:
                made: tuple[Surface, ...] = (_faces_of(self.bodies[name]),)
            else:
                path, radii = self.lines[name]
                made = tuple(tubes(path, radii, chord_tolerance=_CHORD, sides=32))
            self._made[name] = made
        return self._made[name]

    def surfaces(self, name: str, low: Floats, high: Floats) -> Iterator[Surface]:
        """What a name stands for, near a box."""
        if name in self.bodies or name in self.lines:
            yield from self._own(name)
            return
        for meshes in self.result.classes:
            if name in meshes.names:
                items = meshes.tree.within(low, high)
                own = items[meshes.owner[items] == meshes.names.index(name)]
                yield _soup(meshes.tree.triangles[own])

    def others(self, names: tuple[str, ...], low: Floats, high: Floats) -> Iterator[Surface]:
        """Everything else near a box."""
        for name in (*self.lines, *self.bodies):
            if name not in names:
                yield from self._own(name)
        for meshes in self.result.classes:
            items = meshes.tree.within(low, high)
            named = [k for k, name in enumerate(meshes.names) if name in names]
            yield _soup(meshes.tree.triangles[items[~np.isin(meshes.owner[items], named)]])

    def near(self, names: Sequence[str], low: Floats, high: Floats) -> Floats:
        """The triangles (n, 3, 3) m of lines, bodies and meshes whose boxes meet a box."""
        parts = [p[f] for name in names for p, f in self.surfaces(name, low, high)]
        found = np.concatenate([*parts, np.empty((0, 3, 3))])
        meet = (found.min(axis=1) <= high).all(axis=1) & (found.max(axis=1) >= low).all(axis=1)
        kept: Floats = found[meet]
        return kept


def _faces_of(body: Blocks) -> Surface:
    """The outsides of a body as triangles."""
    shown = np.ones((len(body), 6), dtype=bool)
    shown[:, :2] = ~body.open
    quads = body.corners[:, FACES][shown]
    return _soup(quads[:, [(0, 1, 2), (0, 2, 3)]].reshape(-1, 3, 3))


def _soup(triangles: Floats) -> Surface:
    corners, faces = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    return corners, faces.reshape(-1, 3)


# --- the camera ----------------------------------------------------------------------------------


def close_up(issue: Issue, site: Surroundings) -> CloseUp:
    """The camera from which a clash, or the gap of what is too close, is seen best."""
    target = np.array(issue.point)
    gap = gap_of(issue, site) if issue.verdict == CLOSE else None
    around = _AROUND
    if gap is not None:
        around = min(_AROUND, max(_NEAREST, _GAPS * issue.distance))
        around = max(around, _BESIDE_GAP * float(norm(gap - target).max()))
    away = around / math.tan(math.radians(FIELD_OF_VIEW / 2))
    low, high = target - away, target + away
    two = (issue.one, issue.other)
    rest = [name for name in (*site.lines, *site.bodies) if name not in two]
    faint = site.near(rest, low, high)
    solid = site.near([name for name in two if name not in _meshes(site)], low, high)
    best: CloseUp | None = None
    least = math.inf
    for elevation in _ELEVATIONS:
        for azimuth in _AZIMUTHS:
            eye, forward, up = _camera(target, math.radians(azimuth), math.radians(elevation), away)
            if gap is None:
                ends = (target - _BESIDE * forward)[None]
                cost = hidden = _before(eye, ends, site, faint)
            else:
                ends = gap[0] + np.array(_LOOKS)[:, None] * (gap[1] - gap[0])
                hidden = _HIDES * _before(eye, ends, site, solid)
                cost = hidden + _before(eye, ends, site, faint, meshes=False)
                end_on = abs(float(unit(gap[1] - gap[0]) @ forward)) - _FROM
                cost += _END_ON * max(end_on, 0.0) / (1.0 - _FROM)
            if cost < least:
                best = CloseUp(eye, forward, up, target, around, gap, hidden=hidden > 0)
                least = cost
    assert best is not None
    return best


def _meshes(site: Surroundings) -> set[str]:
    return {name for meshes in site.result.classes for name in meshes.names}


def _camera(
    target: Floats, azimuth: float, elevation: float, away: float
) -> tuple[Floats, Floats, Floats]:
    """Eye, forward and up of a camera that looks at a target."""
    level = math.cos(elevation)
    out = np.array([level * math.cos(azimuth), level * math.sin(azimuth), math.sin(elevation)])
    right = unit(np.cross(-out, [0.0, 0.0, 1.0]))
    return target + away * out, -out, np.cross(right, -out)


def _before(
    eye: Floats, ends: Floats, site: Surroundings, triangles: Floats, *, meshes: bool = True
) -> float:
    """How many triangles of these, and of all meshes, stand between the camera and places."""
    count = 0
    for end in ends:
        count += crossed(eye, end, triangles)
        for found in site.result.classes if meshes else ():
            items = found.tree.along(eye, end)
            count += crossed(eye, end, found.tree.triangles[items])
    return float(count)


def crossed(start: Floats, end: Floats, triangles: Floats) -> int:
    """How many triangles (n, 3, 3) a line passes through."""
    a, b, c = (triangles[:, k] - start for k in range(3))
    way = end - start
    u, v, w = (np.einsum("ij,j->i", np.cross(p, q), way) for p, q in ((a, b), (b, c), (c, a)))
    through = ((u >= 0) & (v >= 0) & (w >= 0)) | ((u <= 0) & (v <= 0) & (w <= 0))
    normal = np.cross(b - a, c - a)
    ahead, over = np.einsum("ij,ij->i", normal, a), normal @ way
    with np.errstate(divide="ignore", invalid="ignore"):
        share = ahead / over
    return int((through & (share > 0) & (share < 1)).sum())


# --- the gap -------------------------------------------------------------------------------------


def gap_of(issue: Issue, site: Surroundings) -> Floats | None:
    """The two nearest points (2, 3) m of what is too close; None where surfaces show none.

    From surface to surface to and fro, from the place of the issue on.
    """
    place = np.array(issue.point)
    reach = max(issue.distance, 0.0) + _AROUND
    one, other = (
        site.near((name,), place - reach, place + reach) for name in (issue.one, issue.other)
    )
    if not len(one) or not len(other):
        return None
    found = min(
        (_to_and_fro(place, one, other), _to_and_fro(place, other, one)[::-1]),
        key=lambda ends: float(norm(ends[1] - ends[0])),
    )
    length = float(norm(found[1] - found[0]))
    return found if abs(length - issue.distance) < _TRUE else None


def _to_and_fro(place: Floats, one: Floats, other: Floats) -> Floats:
    start, end = place, place
    last = math.inf
    for _ in range(_TURNS):
        end = _nearest_on(start if math.isfinite(last) else place, other)
        start = _nearest_on(end, one)
        length = float(norm(end - start))
        if last - length < _STILL:
            break
        last = length
    return np.array([start, end])


def _nearest_on(point: Floats, triangles: Floats) -> Floats:
    """The point (3,) of triangles (n, 3, 3) that is nearest to a point."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    normal = np.cross(b - a, c - a)
    square = np.einsum("ij,ij->i", normal, normal)
    over = square > 0
    for start, end in ((a, b), (b, c), (c, a)):
        over &= np.einsum("ij,ij->i", np.cross(normal, end - start), point - start) >= 0
    height = np.einsum("ij,ij->i", normal, point - a) / np.where(square > 0, square, 1.0)
    found = [np.where(over[:, None], point - height[:, None] * normal, np.inf)]
    for start, end in ((a, b), (b, c), (c, a)):
        side = end - start
        length = np.einsum("ij,ij->i", side, side)
        share = np.einsum("ij,ij->i", side, point - start) / np.where(length > 0, length, 1.0)
        found.append(start + np.clip(share, 0.0, 1.0)[:, None] * side)
    every = np.concatenate(found)
    nearest: Floats = every[int(norm(every - point).argmin())]
    return nearest
