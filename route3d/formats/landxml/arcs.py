"""A LandXML alignment as bends in space: its plan and its profile together, within a tolerance.

A curve of the plan on a grade is part of a helix, and a vertical curve within it none of the shapes
a conduit is bent to. Each smooth stretch of the two together is followed by arcs that meet
smoothly (``route3d.geometry.biarcs``), so that no curve of either is lost.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from route3d.errors import GeometryError
from route3d.formats.landxml.plan import AlignmentPlan
from route3d.formats.landxml.profile import AlignmentProfile
from route3d.geometry.biarcs import Bends, ParametricCurve, bends_along
from route3d.geometry.clearance import tubes_of
from route3d.geometry.fillet import COINCIDENT, STRAIGHT_TURN, fillet
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# Stretches shorter than this (m) are rounding of what the file prints.
SHORTEST = 1e-6
# Two bends are alike, and may be one, up to this ratio of their radii, and between these turns.
ALIKE = 1.1
LEAST_TURN, MOST_TURN = math.radians(0.5), math.radians(150)
# Bends may overlap by this share of their radius where they touch: rounding.
ROUNDING = 1e-4
_SIDE = 1e-9  # m: nothing to divide by


@dataclass(frozen=True, slots=True, eq=False)
class Bent:
    """``points`` (n, 3) m and ``radii`` (n,) m of a route, ``off`` m from its alignment at most."""

    points: Floats
    radii: Floats
    off: float


def bent_route(
    plan: AlignmentPlan, profile: AlignmentProfile, low: float, high: float, tolerance: float
) -> Bent:
    """The route between two stations m, its bends within ``tolerance`` m of plan and profile."""
    curve = ParametricCurve(
        lambda s: np.column_stack((plan.at(s), profile.level(s))),
        lambda s, other: _direction(plan, profile, s, other),
    )
    stops = _stops(plan, profile, low, high)
    pieces = list(zip(stops[:-1].tolist(), stops[1:].tolist(), strict=True))
    ends = curve.points(stops)
    made = [bends_along(curve, a, b, tolerance / 2) for a, b in pieces]
    chain = _chained(ends, stops, made)
    chain = replace(chain, radii=_touching(chain.points, chain.radii))
    chain = _fewer(chain, curve, tolerance)
    whole = np.unique(np.concatenate([np.linspace(a, b, 25) for a, b in pieces]))
    return Bent(chain.points, chain.radii, _off(chain.points, chain.radii, curve.points(whole)))


def _stops(plan: AlignmentPlan, profile: AlignmentProfile, low: float, high: float) -> Floats:
    """Stations (m) between which plan and profile are each one line or one curve."""
    bends = profile.before > 0
    marks = [profile.stations, (profile.stations - profile.before)[bends]]
    marks += [(profile.stations + profile.after)[bends], plan.joints, np.array([low, high])]
    every = np.unique(np.concatenate(marks))
    inside = every[(every >= low) & (every <= high)]
    # the point of intersection of a vertical curve is no place of the curve itself
    curved = np.zeros(len(inside), dtype=bool)
    for i in np.flatnonzero(bends & (profile.before == profile.after)).tolist():
        curved |= np.abs(inside - profile.stations[i]) < SHORTEST
    curved &= ~np.isin(inside, plan.joints) & (inside > low) & (inside < high)
    inside = inside[~curved]
    keep = np.concatenate((np.diff(inside) > SHORTEST, [True]))
    keep[0] |= len(inside) > 1
    stops: Floats = inside[keep]
    return stops


def _direction(
    plan: AlignmentPlan, profile: AlignmentProfile, station: float, other: float
) -> Floats:
    """The unit tangent at a station, as it is on the side of another."""
    flat = plan.heading(station, other)
    grade = profile.grade(station, other)
    return unit(np.array([flat[0], flat[1], grade]))


@dataclass(frozen=True, slots=True, eq=False)
class _BendPoints:
    """Points (n, 3) m and radii (n,) m, with the stations ``at`` (n,) m that they stand for."""

    points: Floats
    radii: Floats
    at: Floats

    def only(self, which: Any) -> _BendPoints:
        """Some of its points."""
        return _BendPoints(self.points[which], self.radii[which], self.at[which])


def _chained(ends: Floats, stops: Floats, made: list[Bends]) -> _BendPoints:
    """Bends of all pieces in a row, with a point between two pieces where it turns there."""
    points, radii, at = [ends[:1]], [np.zeros(1)], [stops[:1]]
    for number, bends in enumerate(made):
        count = len(bends.radii)
        points += [bends.vertices, ends[number + 1 : number + 2]]
        radii += [bends.radii, np.zeros(1)]
        share = (np.arange(count) + 0.5) / max(count, 1)
        at.append(stops[number] + share * (stops[number + 1] - stops[number]))
        at.append(stops[number + 1 : number + 2])
    return _without_straight(_BendPoints(*(np.concatenate(each) for each in (points, radii, at))))


def _without_straight(chain: _BendPoints) -> _BendPoints:
    """The chain less points without a bend where the route goes straight on."""
    apart = np.concatenate(([True], norm(np.diff(chain.points, axis=0)) >= COINCIDENT))
    chain = chain.only(apart)
    directions = unit(np.diff(chain.points, axis=0))
    turns = angle_between(directions[:-1], directions[1:])
    keep = np.ones(len(chain.points), dtype=bool)
    keep[1:-1] = (chain.radii[1:-1] > 0) | (turns > STRAIGHT_TURN)
    return chain.only(keep)


def _touching(points: Floats, radii: Floats) -> Floats:
    """Radii less what bends that touch overlap by: rounding, as directions are those of chords."""
    legs = np.diff(points, axis=0)
    length = norm(legs)
    directions = legs / length[:, None]
    turns = np.zeros(len(points))
    turns[1:-1] = angle_between(directions[:-1], directions[1:])
    setback = radii * np.tan(turns / 2)
    share = np.minimum(1.0, length / np.maximum(setback[:-1] + setback[1:], _SIDE))
    factor = np.minimum(np.append(share, 1.0), np.insert(share, 0, 1.0))
    return np.where(factor > 1 - ROUNDING, radii * factor, radii)


# --- one bend for two ----------------------------------------------------------------------------


def _fewer(chain: _BendPoints, curve: ParametricCurve, tolerance: float) -> _BendPoints:
    """One bend for two alike that follow each other, wherever that stays within the tolerance."""
    i = 1
    while i < len(chain.points) - 2:
        merged = _merged(chain, i)
        if merged is not None and _near(merged, i, curve) <= tolerance:
            chain = merged
        else:
            i += 1
    return chain


def _near(chain: _BendPoints, i: int, curve: ParametricCurve) -> float:
    """How far the curve is from the bend at ``i`` and the straights to its neighbors, m."""
    # the bends beside it turn a little more or less, and need room from those beside them
    low, high = max(i - 3, 0), min(i + 4, len(chain.points))
    stations = np.linspace(chain.at[max(i - 2, 0)], chain.at[min(i + 2, len(chain.at) - 1)], 97)
    return _off(chain.points[low:high], chain.radii[low:high], curve.points(stations))


def _merged(chain: _BendPoints, i: int) -> _BendPoints | None:
    """With one bend for those at ``i`` and the next; None where they are not alike."""
    points, radii = chain.points, chain.radii
    a, b = float(radii[i]), float(radii[i + 1])
    if min(a, b) <= 0 or max(a, b) > ALIKE * min(a, b):
        return None
    u, v = unit(points[i] - points[i - 1]), unit(points[i + 2] - points[i + 1])
    if not LEAST_TURN < float(angle_between(u, v)) < MOST_TURN:
        return None
    # where the two straights pass each other the nearest, half way from one to the other
    w = points[i + 1] - points[i]
    cross = np.cross(u, v)
    square = float(cross @ cross)
    along, back = np.cross(w, v) @ cross / square, np.cross(w, u) @ cross / square
    if along <= 0 or back >= 0:
        return None
    vertex = (points[i] + along * u + points[i + 1] + back * v) / 2
    new = np.vstack((points[:i], vertex, points[i + 2 :]))
    bends = np.concatenate((radii[:i], [(a + b) / 2], radii[i + 2 :]))
    at = np.concatenate((chain.at[:i], chain.at[i : i + 2].mean(keepdims=True), chain.at[i + 2 :]))
    return _BendPoints(new, _touching(new, bends), at)


def _off(points: Floats, radii: Floats, true: Floats) -> float:
    """How far the alignment is from the route, m; infinite where that is none."""
    radii = np.concatenate(([0.0], radii[1:-1], [0.0]))
    try:
        line = fillet(points, radii, corners=set(np.flatnonzero(radii == 0).tolist()))
    except GeometryError:
        return float("inf")
    away, _ = tubes_of(line, np.zeros(len(points))).nearest(true)
    return float(away.max())
