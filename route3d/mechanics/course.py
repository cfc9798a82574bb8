"""The course of a pull: the path cut where it is looked at, with friction and weight factor."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from route3d.geometry.path import ARC, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.fit import Fit
from route3d.mechanics.tension import brake, integrate
from route3d.model.practice import Practice
from route3d.model.run import Run

# Bends are looked at every 7.5 degrees and straights every 10 m or so, to draw them and to find
# the largest tension inside a bend: between two looks it exceeds both by less than 0.002 w R.
_LOOK_ANGLE = np.radians(7.5)
_LOOK_LENGTH = 10.0
_MOST_LOOKS = 4000


@dataclass(frozen=True, eq=False)
class Course:
    """What the cable is pulled along, in one direction.

    ``fine`` is the path with a joint wherever the pull is looked at, in the order of the route, and
    ``walked`` the same in pulling order. ``friction`` and ``weight_factor`` (n,) belong to the
    pieces of ``fine``; ``weight`` N/m is that of all cables.
    """

    fine: Path
    walked: Path
    reverse: bool
    weight: float
    friction: Floats
    weight_factor: Floats
    method: str

    @property
    def stations(self) -> Floats:
        """Stations of the joints in pulling order, (n + 1,) m."""
        return self.fine.stations[::-1] if self.reverse else self.fine.stations

    def tension(self, start: float) -> Floats:
        """Tension at the joints with ``start`` N at the feed, (n + 1,) N."""
        return integrate(
            self.fine,
            self.weight,
            self.friction,
            self.weight_factor,
            start,
            self.reverse,
            self.method,
            per_segment=True,
        )[1]

    @cached_property
    def needed(self) -> Floats:
        """Smallest tension at the joints that keeps the cable taut from there on, (n + 1,) N."""
        if self._lies_still():
            return np.zeros(len(self.fine) + 1)
        return brake(
            self.fine,
            self.weight,
            self.friction,
            self.weight_factor,
            self.reverse,
            self.method,
            per_segment=True,
        )[1]

    def _lies_still(self) -> bool:
        """True where no place is as steep as the friction angle: no cable runs away by itself.

        Along an arc the slope t_z swings by hypot(t_z, n_z) at the most, which is safe to ask.
        """
        k = self.friction * self.weight_factor
        steepest = np.hypot(self.fine.tangents[:, 2], self.fine.normals[:, 2])
        return bool((steepest < k / np.sqrt(1.0 + k * k) * (1 - 1e-9)).all())

    @property
    def needed_without_friction(self) -> float:
        """Weight of the deepest fall of the route below its feed, N."""
        heights = np.append(self.walked.starts[:, 2], self.walked.ends[-1:, 2])
        return self.weight * float(heights[0] - heights.min())


def course(
    run: Run, practice: Practice, path: Path, fits: tuple[Fit, ...], reverse: bool
) -> Course:
    """The course of a run along its own ``path``."""
    fine = path.split(_looks(path))
    mu, omega = _friction(run, practice, fits, fine)
    walked = fine.reversed() if reverse else fine
    return Course(fine, walked, reverse, run.cables.weight, mu, omega, practice.method)


def _looks(path: Path) -> Floats:
    """Stations between the joints at which the pull is looked at."""
    most = max(2, _MOST_LOOKS // len(path))
    arcs = path.kind == ARC
    wanted = np.where(arcs, path.angles / _LOOK_ANGLE, path.lengths / _LOOK_LENGTH)
    count = np.clip(np.ceil(wanted), 1, most).astype(int)
    owner = np.repeat(np.arange(len(path)), count)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    looks: Floats = path.stations[owner] + path.lengths[owner] * within / count[owner]
    return looks


def _friction(
    run: Run, practice: Practice, fits: tuple[Fit, ...], path: Path
) -> tuple[Floats, Floats]:
    """Basic friction and weight factor of every segment of a path."""
    mu = np.array([c.friction for c in run.route.conduits])[path.leg]
    omega = np.array([f.weight_factor for f in fits])[path.leg]
    if practice.weight_factor_in == "straights":
        omega = np.where(path.kind == STRAIGHT, omega, 1.0)
    return mu, omega
