"""The course of a pull: the path cut where it is looked at, with friction and weight factor."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import ARC, CORNER, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.fit import Fit
from route3d.mechanics.pressure_friction import FallingFriction
from route3d.mechanics.tension import lies_still, march_one, pieces_of
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.run import Run

# Bends are looked at every 7.5 degrees and straights every 10 m or so, to draw them and to find
# the largest tension inside a bend: between two looks it exceeds both by less than 0.002 w R.
_LOOK_ANGLE = np.radians(7.5)
_LOOK_LENGTH = 10.0
_MOST_LOOKS = 4000


class Fall(NamedTuple):
    """Friction that falls above a contact load, for each of n pieces (docs/theory.md section 19).

    ``share`` (n,) is what is left of it, 1 where it does not fall, and ``above`` (n,) N/m the load
    of the whole set on the wall above which it does, infinite where it does not.
    """

    share: Floats
    above: Floats

    def of(self, pieces: Any) -> Fall:
        """That of other pieces, by their numbers here or a slice."""
        return Fall(self.share[pieces], self.above[pieces])

    def at(self, piece: int, friction: Any, rope: NDArray[np.bool_] | None = None) -> Any:
        """Effective ``friction`` (k,) as it falls in a piece, but not where ``rope`` (k,) lies."""
        share, above = float(self.share[piece]), float(self.above[piece])
        if math.isinf(above):
            return friction
        load = above if rope is None else np.where(rope, np.inf, above)
        return FallingFriction(friction, friction * share, load)


@dataclass(frozen=True, eq=False)
class FrictionPath:
    """What the cable is pulled along, in one direction.

    ``fine`` is the path with a joint wherever the pull is looked at, in the order of the route, and
    ``walked`` the same in pulling order. ``friction`` and ``weight_factor`` (n,) belong to the
    pieces of ``fine``; ``weight`` N/m is that of all cables. ``on_sheave`` (n,) is true at a pull
    point whose sheave guides the cable: there friction stands for the sheave's efficiency.

    Where friction that falls above a contact load decides, ``fall`` has it for the pieces of
    ``fine``; else it is None.
    """

    fine: Path
    walked: Path
    reverse: bool
    weight: float
    friction: Floats
    weight_factor: Floats
    method: str
    on_sheave: NDArray[np.bool_]
    fall: Fall | None = None

    def scaled(self, factor: float) -> FrictionPath:
        """The same with the friction of every conduit multiplied; sheaves stay as they are.

        Friction that falls above a contact load does so by the same share, at the same load.
        """
        friction = self.friction * np.where(self.on_sheave, 1.0, factor)
        return replace(self, friction=friction)

    def with_friction(
        self, run: Run, friction: Callable[[Conduit], float], *, sheaves: bool
    ) -> FrictionPath:
        """The same with another coefficient in each conduit.

        With ``sheaves`` kept, friction that falls above a contact load does so by the same share,
        at the same load. Without, sheaves turn freely and the coefficient holds at every load.
        """
        mu = np.array([friction(c) for c in run.route.conduits])[self.fine.leg]
        kept = self.friction if sheaves else np.zeros_like(mu)
        fall = self.fall if sheaves else None
        return replace(self, friction=np.where(self.on_sheave, kept, mu), fall=fall)

    def rope_friction(self, friction: float, walked: Path) -> float | Floats:
        """Friction of a rope on each segment of ``walked``, this route cut up in any way.

        At a sheave that guides the cable it stands for the sheave's efficiency.
        """
        if not self.on_sheave.any():
            return friction
        at = np.flatnonzero(self.on_sheave)
        sheaves = dict(zip(self.fine.vertex[at].tolist(), self.friction[at].tolist(), strict=True))
        corners = zip((walked.kind == CORNER).tolist(), walked.vertex.tolist(), strict=True)
        return np.array([sheaves.get(v, friction) if c else friction for c, v in corners])

    @property
    def walked_fall(self) -> Fall | None:
        """``fall`` for the pieces of ``walked``."""
        if self.fall is None or not self.reverse:
            return self.fall
        return self.fall.of(slice(None, None, -1))

    @property
    def stations(self) -> Floats:
        """Stations of the joints in pulling order, (n + 1,) m."""
        return self.fine.stations[::-1] if self.reverse else self.fine.stations

    def tension(self, start: float) -> Floats:
        """Tension at the joints with ``start`` N at the feed, (n + 1,) N."""
        return self._marched(start, self.friction, self.reverse)

    @cached_property
    def needed(self) -> Floats:
        """Smallest tension at the joints that keeps the cable taut from there on, (n + 1,) N.

        As ``tension.brake``: walked backwards, from zero at the machine.
        """
        if self.lies_still:
            return np.zeros(len(self.fine) + 1)
        return self._marched(0.0, -self.friction, not self.reverse)[::-1]

    def _marched(self, start: float, friction: Floats, reverse: bool) -> Floats:
        """As ``tension.integrate`` for one scenario, whose values are known to be in range."""
        walked = self.fine.reversed() if reverse else self.fine
        turn = -1 if reverse else 1
        effective = (friction * self.weight_factor)[::turn].tolist()
        if self.fall is not None:
            fall = self.fall.of(slice(None, None, turn))
            effective = [fall.at(i, k) for i, k in enumerate(effective)]
        return np.array(march_one(pieces_of(walked), self.weight, effective, start, self.method))

    @property
    def lies_still(self) -> bool:
        """True where no place is as steep as the friction angle: no cable runs away by itself."""
        least = self.friction if self.fall is None else self.friction * self.fall.share
        return bool(lies_still(self.fine, least * self.weight_factor).all())

    @property
    def turned(self) -> FrictionPath:
        """The same course pulled from its other end."""
        return replace(self, walked=self.walked.reversed(), reverse=not self.reverse)

    def behind(self, station: float) -> FrictionPath | None:
        """The part between the feed and a head at ``station`` m; None for a head at the feed."""
        cut = self.fine.split([station])
        joint = int(np.argmin(np.abs(cut.stations - station)))
        if not self.reverse:  # behind a turn without length that the head has come to
            joint = int(np.flatnonzero(cut.stations <= cut.stations[joint] + 1e-9)[-1])
        kept = np.arange(joint, len(cut)) if self.reverse else np.arange(joint)
        if not kept.size:
            return None
        owner = self.fine.locate((cut.stations[:-1] + cut.stations[1:]) / 2)[0]
        owner[cut.kind == CORNER] = np.flatnonzero(self.fine.kind == CORNER)
        fine, own = cut.part(kept[0], kept[-1] + 1), owner[kept]
        return replace(
            self,
            fine=fine,
            walked=fine.reversed() if self.reverse else fine,
            friction=self.friction[own],
            weight_factor=self.weight_factor[own],
            on_sheave=self.on_sheave[own],
            fall=None if self.fall is None else self.fall.of(own),
        )

    @property
    def needed_without_friction(self) -> float:
        """Weight of the deepest fall of the route below its feed, N."""
        heights = np.append(self.walked.starts[:, 2], self.walked.ends[-1:, 2])
        return self.weight * float(heights[0] - heights.min())


def course(
    run: Run,
    practice: Practice,
    path: Path,
    fits: tuple[Fit, ...],
    reverse: bool,
    *,
    looks: bool = True,
    by_pressure: bool | None = None,
) -> FrictionPath:
    """The course of a run along its own ``path``.

    Without ``looks`` it has joints between whole straights and bends only: the same tensions there
    for a fraction of the work, and what is larger in between is not seen.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    path : Path
        The centerline, n segments.
    fits : tuple of Fit, one for each leg
        How the cables lie.
    reverse : bool
        Pull against the order of the route.
    looks : bool
        Cut where the pull is looked at.
    by_pressure : bool, optional
        False for constant friction, True for friction that falls above a contact load in every
        conduit that has it. Default: where its test report is cited.

    Returns
    -------
    Course
        Path, friction and weight factor of its pieces.

    References
    ----------
    docs/theory.md sections 2 and 15.
    """
    fine = path.split(_looks(path)) if looks else path
    mu, omega = _friction(run, practice, fits, fine)
    on_sheave = _with_sheaves(run, fine, mu, omega)
    walked = fine.reversed() if reverse else fine
    weight, method = run.cables.weight, practice.method
    fall = _fall(run, fine, by_pressure) if method == "exact" and by_pressure is not False else None
    return FrictionPath(fine, walked, reverse, weight, mu, omega, method, on_sheave, fall)


def _fall(run: Run, path: Path, by_pressure: bool | None) -> Fall | None:
    """Where friction falls above a contact load, None where it does nowhere."""
    conduits = run.route.conduits
    falls = [c.friction_then is not None if by_pressure else c.fall_decides for c in conduits]
    if not any(falls):
        return None
    each = [
        (c.friction_share, c.friction_above)
        if fall and c.friction_above is not None
        else (1.0, math.inf)
        for c, fall in zip(conduits, falls, strict=True)
    ]
    share, above = np.array(each).T
    smooth = path.kind != CORNER  # where a path turns without length there is no load per length
    return Fall(
        share=np.where(smooth, share[path.leg], 1.0),
        above=np.where(smooth, above[path.leg], np.inf),
    )


def _with_sheaves(run: Run, path: Path, mu: Floats, omega: Floats) -> NDArray[np.bool_]:
    """Where a sheave guides the cable round a pull point, with its efficiency put for friction.

    A sheave of efficiency e multiplies tension by 1/e whatever the turn: e^{μφ} with that μ.
    """
    on_sheave = np.zeros(len(path), dtype=bool)
    for i in np.flatnonzero(path.kind == CORNER).tolist():
        sheave = run.route.vertices[int(path.vertex[i])].sheave
        if sheave is not None and path.angles[i] > 0:
            on_sheave[i] = True
            mu[i], omega[i] = -math.log(sheave.efficiency) / float(path.angles[i]), 1.0
    return on_sheave


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
