"""Conduit tubes of a pull: centerline samples with the values that color them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import CORNER, Path
from route3d.geometry.vectors import Floats, frozen
from route3d.mechanics.pull import Profile, Pull
from route3d.model.route import Route
from viewer.scene.records import Tube
from viewer.scene.scale import conduit_names, utilization_of

# A chord may leave the arc by a hundredth of the drawn radius: no corner shows in the outline.
_CHORD = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class _Samples:
    """Samples of the whole path, (n,) each, two at every joint; ``segment`` of the path."""

    station: Floats
    segment: NDArray[np.int64]
    points: Floats
    tangents: Floats


def tubes(pull: Pull, exaggeration: float, origin: Floats) -> tuple[Tube, ...]:
    """One tube for each stretch of equal conduit between pull points."""
    path, route = pull.path, pull.run.route
    radius = min(c.outer_diameter for c in route.conduits) / 2 * exaggeration
    samples = _sample(path, pull.profile, _CHORD * radius)
    tension, sidewall = _values(pull.profile, samples)
    share = utilization_of(pull, tension, sidewall)
    names, found = conduit_names(pull), []
    for first, last in _stretches(path, route):
        a, b = np.searchsorted(samples.segment, (first, last + 1))
        conduit = route.conduits[int(path.leg[first])]
        found.append(
            Tube(
                points=frozen(samples.points[a:b] - origin),
                tangents=frozen(samples.tangents[a:b]),
                station=frozen(samples.station[a:b]),
                tension=frozen(tension[a:b]),
                sidewall=frozen(sidewall[a:b]),
                utilization=frozen(share[a:b]),
                radius=conduit.outer_diameter / 2 * exaggeration,
                conduit=names[conduit],
            )
        )
    return tuple(found)


def _stretches(path: Path, route: Route) -> list[tuple[int, int]]:
    """First and last segment of each stretch without a pull point or a change of conduit."""
    found: list[tuple[int, int]] = []
    for i in range(len(path)):
        if path.kind[i] == CORNER:
            continue
        leg = int(path.leg[i])
        before = int(path.leg[i - 1]) if i else leg
        new = not found or found[-1][1] != i - 1 or _parted(route, before, leg)
        if new:
            found.append((i, i))
        else:
            found[-1] = (found[-1][0], i)
    return found


def _parted(route: Route, before: int, leg: int) -> bool:
    if before == leg:
        return False
    return route.conduits[before] != route.conduits[leg] or route.vertices[leg].is_pull_point


def _sample(path: Path, profile: Profile, chord: float) -> _Samples:
    """Stations by chord tolerance, and those of the profile so that no value is cut off."""
    wanted = np.unique(np.concatenate((path.sample(chord), profile.station, path.stations)))
    first = np.searchsorted(wanted, path.stations[:-1])
    last = np.searchsorted(wanted, path.stations[1:])
    count = np.where(path.kind == CORNER, 0, last - first + 1)
    segment = np.repeat(np.arange(len(path)), count)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)
    station = wanted[first[segment] + within]
    ending = within == count[segment] - 1
    tangents = np.where(ending[:, None], path.end_tangents[segment], path.tangent(station))
    return _Samples(station, segment, path.point(station), tangents)


def _values(profile: Profile, samples: _Samples) -> tuple[Floats, Floats]:
    """Tension and sidewall pressure at each sample, from its own segment's side of a joint."""
    order = np.lexsort((profile.station, profile.segment))
    owner, station = profile.segment[order], profile.station[order]
    tension, sidewall = np.zeros_like(samples.station), np.zeros_like(samples.station)
    for i in np.unique(samples.segment):
        a, b = np.searchsorted(samples.segment, (i, i + 1))
        rows = order[slice(*np.searchsorted(owner, (i, i + 1)))]
        known = station[slice(*np.searchsorted(owner, (i, i + 1)))]
        tension[a:b] = np.interp(samples.station[a:b], known, profile.tension[rows])
        sidewall[a:b] = np.interp(samples.station[a:b], known, profile.sidewall[rows])
    return tension, sidewall
