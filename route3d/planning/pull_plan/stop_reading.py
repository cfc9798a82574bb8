"""The reading at which to stop: the first limit of cable, head, rope or line, seen from the gauge.

Every place keeps its own limit, however hard the cable behind it is to pull: stop is the smallest
reading at which one of them is reached with friction ahead of it as planned (``mechanics.ceiling``
has the march). Friction ahead that is lower than planned brings the limit at a lower reading, which
``slick`` tells. Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.checks.limits import cable_cap, conductor_limit, fitting_ratings, sidewall_limit
from route3d.geometry.path import ARC
from route3d.geometry.vectors import Floats
from route3d.mechanics.ceiling import AT_LINE, LimitTensions, ceilings
from route3d.mechanics.pull import Pull
from route3d.mechanics.rope_scenarios import HeadTrack

KINDS = ("conductor", "grip", "head fitting", "sidewall", "sheave", "rope")
"""Names of the limits between reel and conduit end."""
SLICK = 0.8
"""Share of the planned friction that is still likely (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Reached:
    """A ``reading`` N at the machine at which ``limit`` is reached at ``place``.

    ``limit`` is "conductor", "grip", "sidewall", "sheave", "rope", "head fitting" or "line
    fitting". The rope at the machine is rated, so that there always is one.
    """

    reading: float
    limit: str
    place: str


@dataclass(frozen=True, slots=True)
class Stops:
    """Stop readings with the head at one place.

    ``moving`` with friction as planned, ``first_move`` with the friction of a start from rest,
    ``slick`` with ``SLICK`` of the planned friction. ``hidden`` names the places whose limit
    the gauge cannot show, for the cable ahead of them goes slack.
    """

    moving: Reached
    first_move: Reached
    slick: Reached
    hidden: tuple[str, ...]


def stop_readings(
    track: HeadTrack, *, head_rating: float = math.inf, line_rating: float = math.inf
) -> tuple[Stops, ...]:
    """The stop readings with the head at each joint of a track.

    ``head_rating`` N is the weakest fitting at the cable head besides grip or eyes and swivel,
    ``line_rating`` N the machine load at which the first of sheaves, boom and the like, or of what
    holds the machine, is at its rating.
    """
    limits = _Limits(track, head_rating, line_rating)
    factors = np.array([1.0, track.pull.practice.restart, SLICK])
    found = ceilings(track, limits.tensions, factors)

    def reached(row: int, k: int) -> Reached:
        reading, joint = float(found.reading[row, k]), int(found.joint[row, k])
        if joint == AT_LINE:
            return Reached(reading, limits.at_line, track.pull.pull_name)
        limit = KINDS[found.limit[row, k]]
        return Reached(reading, limit, limits.place(row, joint, limit))

    return tuple(
        Stops(
            reached(row, 0),
            reached(row, 1),
            reached(row, 2),
            limits.places(row, found.hidden[:, :, row, 0]),
        )
        for row in range(len(track.joints))
    )


class _Limits:
    """What each joint of a track may carry, and where it is."""

    def __init__(self, track: HeadTrack, head_rating: float, line_rating: float) -> None:
        pull = self.pull = track.pull
        run, joints = pull.run, len(track.walked) + 1
        self.track = track
        bends = pull.path.vertex[pull.path.kind == ARC].tolist()
        self.numbers = {vertex: number for number, vertex in enumerate(bends, start=1)}
        self.at_line = "rope" if track.rope.rated_load <= line_rating else "line fitting"
        none = np.full(joints, np.inf)
        pressure = sidewall_limit(run).value
        wall, sheave = self._before_joints(pressure)
        wall[0] = _feed_sheave(pull) * pressure
        self.at_feed_sheave = bool(wall[0] <= np.append(wall[1:], np.inf)[0])
        # Where cable lies on both sides, what begins at a joint presses there too.
        both = np.minimum(wall, np.append(wall[1:], np.inf))
        conductor = np.full(joints, conductor_limit(run, pull.practice).value)
        rope = np.full(joints, track.rope.rated_load)
        grip = np.full(joints, cable_cap(run).value)
        fittings = [limit.value for limit in fitting_ratings(run)]
        fitting = np.full(joints, min((head_rating, *fittings)))
        at_head = np.stack((conductor, grip, fitting, wall, sheave, rope))
        self.tensions = LimitTensions(
            cable=np.stack((conductor, none, none, both, sheave, none)),
            head=at_head[:, track.joints],
            rope=np.stack((none, none, none, none, sheave, rope)),
            line=min(track.rope.rated_load, line_rating),
        )

    def _before_joints(self, sidewall: float) -> tuple[Floats, Floats]:
        """Tensions that the piece ending at each joint bears, (n + 1,) N.

        By its sidewall pressure, and by the fastening of a sheave that guides the cable there.
        """
        track = self.track
        pressing = np.concatenate(([0.0], track.share))
        with np.errstate(divide="ignore"):
            wall = np.where(pressing > 0, sidewall / pressing, np.inf)
        held = np.full(len(wall), np.inf)
        vertices = self.pull.run.route.vertices
        ratings = {k: v.sheave.rating for k, v in enumerate(vertices) if v.sheave is not None}
        for i in np.flatnonzero(track.on_sheave).tolist():  # 2T sin(turn/2), T that going out
            doubled = 2.0 * math.sin(float(track.walked.angles[i]) / 2.0)
            held[i + 1] = ratings[int(track.walked.vertex[i])] / doubled
        return wall, held

    def places(self, row: int, hidden: NDArray[np.bool_]) -> tuple[str, ...]:
        """The places of cable and head whose limit is hidden, (l, n + 1), in pulling order."""
        head = int(self.track.joints[row])
        pairs = sorted((joint, kind) for kind, joint in np.argwhere(hidden).tolist())
        named = (self.place(row, joint, KINDS[kind]) for joint, kind in pairs if joint <= head)
        return tuple(dict.fromkeys(named))

    def place(self, row: int, joint: int, limit: str) -> str:
        """A bend or a guiding sheave by its name; else cable, its head, or rope."""
        track, route = self.track, self.pull.run.route
        at_head = joint == int(track.joints[row])
        if at_head and limit in ("conductor", "grip", "head fitting", "rope"):
            return "cable head"
        if joint == 0 and limit == "sidewall" and self.at_feed_sheave:
            return "feed-in sheave"
        for piece in self._pressed(joint, limit):
            vertex = int(track.walked.vertex[piece])
            if track.on_sheave[piece]:
                return route.label(vertex)
            return route.bend_label(self.numbers[vertex], vertex)
        return "rope" if limit == "rope" else "cable"

    def _pressed(self, joint: int, limit: str) -> Iterator[int]:
        """The piece that ends or begins at a joint and presses there, the harder one first."""
        share = self.track.share
        near = [i for i in (joint - 1, joint) if 0 <= i < len(share)]
        if limit == "sheave":
            yield from (i for i in near if self.track.on_sheave[i])
        elif limit == "sidewall":
            yield from sorted((i for i in near if share[i] > 0), key=lambda i: -float(share[i]))


def _feed_sheave(pull: Pull) -> float:
    """Tension over sidewall pressure at the sheave or guide that feeds the cable in, m."""
    radius = pull.run.reel.sheave_radius if pull.run.reel else None
    if radius is None:
        return math.inf
    factor = 1.0
    if pull.practice.sidewall == "per cable":
        factor = pull.fits[-1 if pull.reverse else 0].sidewall_factor
    return radius / factor
