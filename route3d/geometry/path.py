"""The centerline: an immutable chain of straights and circular arcs, asked by station.

Station is arc length from the first point, in m. Along an arc of radius R, with ``θ = s/R``,
unit start tangent ``t0`` and unit normal ``n0`` to the center::

    point = p0 + R (sin θ t0 + (1 - cos θ) n0)
    t     = cos θ t0 + sin θ n0        n = -sin θ t0 + cos θ n0

so length, position, tangent and curvature normal carry no chord error.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.geometry.vectors import Floats, distinct, frozen

STRAIGHT, ARC, CORNER = 0, 1, 2
KIND_NAMES = ("straight", "arc", "corner")


@dataclass(frozen=True, slots=True)
class Straight:
    """A straight piece: stations ``start`` to ``start + length`` (m), its leg of the route."""

    start: float
    length: float
    leg: int


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular bend at ``vertex``: ``radius`` m, ``angle`` rad, stations as for a straight."""

    start: float
    length: float
    leg: int
    vertex: int
    radius: float
    angle: float


@dataclass(frozen=True, slots=True)
class Corner:
    """A turn of ``angle`` rad without length: a pull point where the conduit stops and turns."""

    start: float
    leg: int
    vertex: int
    angle: float
    length: float = 0.0


@dataclass(frozen=True, eq=False)
class Path:
    """An immutable centerline of n segments, kept as arrays so that everything vectorises.

    Parameters
    ----------
    kind : ndarray of int, shape (n,)
        STRAIGHT, ARC or CORNER.
    lengths : ndarray, shape (n,)
        m
    angles : ndarray, shape (n,)
        Bend angles, rad; 0 on straights.
    starts, tangents, normals : ndarray, shape (n, 3)
        Point (m), unit tangent and unit normal to the center of curvature at the start of each
        segment; the normal is zero on straights.
    vertex : ndarray of int, shape (n,)
        Route vertex of a bend, -1 on straights.
    leg : ndarray of int, shape (n,)
        Leg of the route; a bend counts with the leg that starts at its vertex.
    """

    kind: NDArray[np.int8]
    lengths: Floats
    angles: Floats
    starts: Floats
    tangents: Floats
    normals: Floats
    vertex: NDArray[np.int64]
    leg: NDArray[np.int64]

    def __post_init__(self) -> None:
        for name in ("kind", "lengths", "angles", "starts", "tangents", "normals", "vertex", "leg"):
            array = np.array(getattr(self, name))
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    def __len__(self) -> int:
        return len(self.kind)

    @cached_property
    def stations(self) -> Floats:
        """Stations of the segment ends, (n + 1,), first 0, m."""
        return frozen(np.concatenate(([0.0], np.cumsum(self.lengths))))

    @property
    def length(self) -> float:
        """Developed length, m."""
        return float(self.stations[-1])

    @property
    def turn(self) -> float:
        """Sum of all bend angles, rad; opposite bends do not cancel."""
        return float(self.angles.sum())

    @cached_property
    def radii(self) -> Floats:
        """Bend radius of each segment, (n,) m; infinite on straights, 0 at corners."""
        with np.errstate(divide="ignore", invalid="ignore"):
            radii = self.lengths / self.angles
        return frozen(np.where(self.kind == STRAIGHT, np.inf, radii))

    @cached_property
    def segments(self) -> tuple[Straight | Arc | Corner, ...]:
        """The segments one by one, for reading; the arrays are for calculating."""
        return tuple(self._segment(i) for i in range(len(self)))

    def _segment(self, i: int) -> Straight | Arc | Corner:
        start, leg = float(self.stations[i]), int(self.leg[i])
        if self.kind[i] == STRAIGHT:
            return Straight(start, float(self.lengths[i]), leg)
        vertex, angle = int(self.vertex[i]), float(self.angles[i])
        if self.kind[i] == CORNER:
            return Corner(start, leg, vertex, angle)
        return Arc(start, float(self.lengths[i]), leg, vertex, float(self.radii[i]), angle)

    def vertex_stations(self, count: int) -> Floats:
        """Station of each of the route's ``count`` vertices, of a bend that of its beginning, m.

        Where a bend begins at the first point, no segment is of the leg before it.

        Parameters
        ----------
        count : int
            Number of vertices of the route.

        Returns
        -------
        ndarray, shape (count,)
            m
        """
        at = np.searchsorted(self.leg, np.arange(count - 1))
        return np.append(self.stations[at], self.length)

    def locate(self, station: ArrayLike) -> tuple[NDArray[np.int64], Floats]:
        """Segment index and bend angle (rad) or distance (m) into it, for stations of any shape.

        A station on a joint belongs to the segment that starts there.

        Parameters
        ----------
        station : array_like, any shape (...)
            m

        Returns
        -------
        tuple of ndarray, shape (...)
            Segment number; rad in bends, m on straights.

        Raises
        ------
        ValueError
            For a station off the path by more than its rounding.

        References
        ----------
        docs/theory.md section 14.
        """
        s = np.asarray(station, dtype=np.float64)
        slack = 1e-9 * max(1.0, self.length)
        if s.size and (np.min(s) < -slack or np.max(s) > self.length + slack):
            worst = max(s.min(), s.max(), key=lambda x: max(-x, x - self.length))
            raise ValueError(f"station {worst} m is outside 0 to {self.length} m")
        index = np.clip(np.searchsorted(self.stations, s, side="right") - 1, 0, len(self) - 1)
        into = np.clip(s - self.stations[index], 0.0, self.lengths[index])
        arc = self.kind[index] == ARC
        scale = np.where(arc, self.angles[index] / np.where(arc, self.lengths[index], 1.0), 1.0)
        return index, into * scale

    def point(self, station: ArrayLike) -> Floats:
        """Position at each station, (..., 3) m.

        Parameters
        ----------
        station : array_like, any shape (...)
            m

        Returns
        -------
        ndarray, shape (..., 3)
            m

        Raises
        ------
        ValueError
            As `locate` does.
        """
        i, u = self.locate(station)
        arc = self.kind[i] == ARC
        radius = np.where(arc, self.radii[i], 1.0)
        half = np.sin(u / 2)
        along = np.where(arc, radius * np.sin(u), u)
        aside = np.where(arc, radius * 2 * half * half, 0.0)  # 1 - cos, without cancellation
        return (
            self.starts[i]
            + along[..., None] * self.tangents[i]
            + aside[..., None] * self.normals[i]
        )

    def tangent(self, station: ArrayLike) -> Floats:
        """Unit tangent at each station, (..., 3).

        Parameters
        ----------
        station : array_like, any shape (...)
            m

        Returns
        -------
        ndarray, shape (..., 3)
            Unit vectors.

        Raises
        ------
        ValueError
            As `locate` does.
        """
        i, u = self.locate(station)
        angle = np.where(self.kind[i] == ARC, u, 0.0)[..., None]
        return np.cos(angle) * self.tangents[i] + np.sin(angle) * self.normals[i]

    def normal(self, station: ArrayLike) -> Floats:
        """Unit normal to the center of curvature at each station, (..., 3); zero on straights.

        Parameters
        ----------
        station : array_like, any shape (...)
            m

        Returns
        -------
        ndarray, shape (..., 3)
            Unit vectors; zero on straights.

        Raises
        ------
        ValueError
            As `locate` does.
        """
        i, u = self.locate(station)
        angle = np.where(self.kind[i] == ARC, u, 0.0)[..., None]
        bend = (self.kind[i] == ARC)[..., None]
        return np.where(
            bend, np.cos(angle) * self.normals[i] - np.sin(angle) * self.tangents[i], 0.0
        )

    def curvature(self, station: ArrayLike) -> Floats:
        """Curvature 1/R at each station, 1/m; zero on straights.

        Parameters
        ----------
        station : array_like, any shape (...)
            m

        Returns
        -------
        ndarray, shape (...)
            1/m

        Raises
        ------
        ValueError
            As `locate` does.
        """
        i, _ = self.locate(station)
        return np.where(
            self.kind[i] == ARC, 1.0 / np.where(self.kind[i] == ARC, self.radii[i], 1), 0
        )

    @cached_property
    def end_tangents(self) -> Floats:
        """Unit tangent at the end of each segment, (n, 3)."""
        c, s = np.cos(self.angles)[:, None], np.sin(self.angles)[:, None]
        return frozen(c * self.tangents + s * self.normals)

    @cached_property
    def end_normals(self) -> Floats:
        """Unit normal at the end of each segment, (n, 3); zero on straights."""
        c, s = np.cos(self.angles)[:, None], np.sin(self.angles)[:, None]
        bend = (self.kind != STRAIGHT)[:, None]
        return frozen(np.where(bend, c * self.normals - s * self.tangents, 0.0))

    @cached_property
    def ends(self) -> Floats:
        """Point at the end of each segment, (n, 3) m."""
        arc = (self.kind == ARC)[:, None]
        radius = np.where(self.kind == ARC, self.radii, 0.0)[:, None]
        a = self.angles[:, None]
        bent = radius * (np.sin(a) * self.tangents + 2 * np.sin(a / 2) ** 2 * self.normals)
        return frozen(self.starts + np.where(arc, bent, self.lengths[:, None] * self.tangents))

    def reversed(self) -> Path:
        """The same centerline walked from its last point to its first.

        Returns
        -------
        Path
            With the same shape.
        """
        return self._reversed

    @cached_property
    def _reversed(self) -> Path:
        return Path(
            kind=self.kind[::-1],
            lengths=self.lengths[::-1],
            angles=self.angles[::-1],
            starts=self.ends[::-1],
            tangents=-self.end_tangents[::-1],
            normals=self.end_normals[::-1],
            vertex=self.vertex[::-1],
            leg=self.leg[::-1],
        )

    def part(self, first: int, last: int) -> Path:
        """Segments ``first`` up to ``last``, which is not in it.

        Parameters
        ----------
        first, last : int
            Segment numbers.

        Returns
        -------
        Path
            Those segments.
        """
        here = slice(first, last)
        return Path(
            kind=self.kind[here],
            lengths=self.lengths[here],
            angles=self.angles[here],
            starts=self.starts[here],
            tangents=self.tangents[here],
            normals=self.normals[here],
            vertex=self.vertex[here],
            leg=self.leg[here],
        )

    def split(self, stations: ArrayLike) -> Path:
        """The same centerline with extra joints at ``stations`` (m); existing joints stay.

        Stations within 1e-9 m of a joint make no new one.

        Parameters
        ----------
        stations : array_like, shape (k,)
            m

        Returns
        -------
        Path
            With more joints.
        """
        s = distinct(stations)
        joints = self.stations
        near = np.abs(joints[np.clip(np.searchsorted(joints, s), 0, len(joints) - 1)] - s)
        before = np.abs(joints[np.clip(np.searchsorted(joints, s) - 1, 0, len(joints) - 1)] - s)
        s = s[(np.minimum(near, before) > 1e-9) & (s > 0) & (s < self.length)]
        if not s.size:
            return self
        return self._rebuilt(s)

    def _rebuilt(self, s: Floats) -> Path:
        owner = np.concatenate((np.arange(len(self)), self.locate(s)[0]))
        start = np.concatenate((self.stations[:-1], s))
        order = np.lexsort((start, owner))
        owner, start = owner[order], start[order]
        last = np.append(owner[1:] != owner[:-1], True)
        end = np.where(last, self.stations[owner + 1], np.append(start[1:], 0.0))
        lengths = np.where(self.kind[owner] == CORNER, 0.0, end - start)
        share = np.divide(
            lengths, self.lengths[owner], out=np.ones_like(lengths), where=self.lengths[owner] > 0
        )
        into = np.where(self.kind[owner] == ARC, start - self.stations[owner], 0.0)
        angle = (into / np.where(self.kind[owner] == ARC, self.radii[owner], 1.0))[:, None]
        tangents = np.cos(angle) * self.tangents[owner] + np.sin(angle) * self.normals[owner]
        normals = np.cos(angle) * self.normals[owner] - np.sin(angle) * self.tangents[owner]
        return Path(
            kind=self.kind[owner],
            lengths=lengths,
            angles=self.angles[owner] * share,
            starts=np.where(
                (into == 0)[:, None], self._straight_points(owner, start), self.point(start)
            ),
            tangents=tangents,
            normals=np.where((self.kind[owner] == STRAIGHT)[:, None], 0.0, normals),
            vertex=self.vertex[owner],
            leg=self.leg[owner],
        )

    def _straight_points(self, owner: NDArray[np.int64], start: Floats) -> Floats:
        return self.starts[owner] + (start - self.stations[owner])[:, None] * self.tangents[owner]

    def sample(self, chord_tolerance: float) -> Floats:
        """Stations, ends of segments included, whose chords stay within ``chord_tolerance`` (m).

        The sagitta of a chord over angle a is R (1 - cos(a/2)), so the largest step on an arc is
        a = 2 arccos(1 - tolerance/R).

        Parameters
        ----------
        chord_tolerance : float
            m

        Returns
        -------
        ndarray, shape (k,)
            m
        """
        radii = np.where(self.kind == ARC, self.radii, 1.0)
        step = 2 * np.arccos(np.clip(1 - chord_tolerance / radii, 0.0, 1.0))
        count = np.where(self.kind == ARC, np.ceil(self.angles / np.maximum(step, 1e-3)), 1).astype(
            int
        )
        pieces = [
            np.linspace(a, b, n, endpoint=False)
            for a, b, n in zip(
                self.stations[:-1], self.stations[1:], np.maximum(count, 1), strict=True
            )
        ]
        return distinct(np.concatenate([*pieces, [self.length]]))
