"""Cable behind and rope ahead of the head, for many heads and many frictions at once.

The same law as ``pull`` and ``rope`` work by, marched once from feed to machine: at every place
of the path the heads that have yet to come there have cable on it, the others rope.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.lead_off import lead_off_factor
from route3d.mechanics.pull import Pull, sidewall_share
from route3d.mechanics.tension import integrate
from route3d.model.rope import Rope

# What passes this (N) has passed every limit; held here it stays a number, however many bends
# follow. Between two heads tension then grows by less than the range of floats allows.
_ENDLESS = 1e12


@dataclass(frozen=True, eq=False)
class HeadLoads:
    """What holds with the head at each of m places in each of k scenarios, all (m, k).

    ``machine`` N with lead-off; ``cable`` N the largest tension of the cable anywhere, and
    ``sidewall`` N/m its largest pressure per cable; ``rope`` N the largest tension of the rope
    between head and conduit end. What passes 1e12 N is cut off there.
    """

    machine: Floats
    cable: Floats
    sidewall: Floats
    rope: Floats


@dataclass(frozen=True, eq=False)
class HeadTrack:
    """The course of a pull, with a joint at each of m heads; ``joints`` (m,) are their numbers.

    ``walked`` is in pulling order, as are ``friction`` (n,), weight factor included, and ``share``
    (n,) 1/m, sidewall pressure over tension. ``on_sheave`` (n,) is true where a sheave guides
    cable and rope: ``friction`` then stands for its efficiency, whatever the scenario.
    """

    pull: Pull
    rope: Rope
    walked: Path
    joints: NDArray[np.int64]
    friction: Floats
    share: Floats
    on_sheave: NDArray[np.bool_]

    def loads(self, factors: Floats, start: float | Floats | None = None) -> HeadLoads:
        """Loads with every friction multiplied by ``factors`` (m, k).

        ``start`` N enters the conduit, one for all or (m, k); as planned where left out. Sheaves of
        the lead-off keep their efficiency.
        """
        entering = self.pull.start_tension if start is None else start
        at = _State(
            head=np.array(np.broadcast_to(entering, factors.shape), dtype=np.float64),
            cable=np.array(np.broadcast_to(entering, factors.shape), dtype=np.float64),
            sidewall=np.zeros(factors.shape),
            rope=np.zeros(factors.shape),
        )
        for passed, piece in self._pieces():
            self._with_cable(at, piece, slice(passed, None), factors)
            self._with_rope(at, piece, slice(0, passed), factors)
        at.rope[:] = np.maximum(at.rope, at.head)
        return HeadLoads(at.head * self.lead_off(factors), at.cable, at.sidewall, at.rope)

    def _pieces(self) -> Iterator[tuple[int, slice]]:
        """Pieces between one head and the next, each with the number of heads passed before it."""
        ends = [0, *self.joints.tolist(), len(self.walked)]
        for passed, (a, b) in enumerate(pairwise(ends)):
            if b > a:
                yield passed, slice(a, b)

    def _with_cable(self, at: _State, piece: slice, heads: slice, factors: Floats) -> None:
        if not at.head[heads].size:
            return
        friction = self.friction[piece, None, None] * self._scale(piece, factors[heads])
        run, method = self.pull.run, self.pull.practice.method
        t = _march(self.walked, piece, run.cables.weight, friction, at.head[heads], method)
        pressure = self.share[piece, None, None] * np.maximum(t[:-1], t[1:])
        at.cable[heads] = np.maximum(at.cable[heads], t.max(axis=0))
        at.sidewall[heads] = np.maximum(at.sidewall[heads], pressure.max(axis=0))
        at.head[heads] = t[-1]

    def _with_rope(self, at: _State, piece: slice, heads: slice, factors: Floats) -> None:
        if not at.head[heads].size:
            return
        rope = np.where(self.on_sheave[piece], self.friction[piece], self.rope.friction)
        friction = rope[:, None, None] * self._scale(piece, factors[heads])
        t = _march(self.walked, piece, self.rope.weight, friction, at.head[heads], "exact")
        at.rope[heads] = np.maximum(at.rope[heads], t.max(axis=0))
        at.head[heads] = t[-1]

    def _scale(self, piece: slice, factors: Floats) -> Floats:
        """Factors of each segment, (n, m, k); 1 on sheaves."""
        return np.where(self.on_sheave[piece, None, None], 1.0, factors)

    def lead_off(self, factors: Floats) -> Floats:
        """Machine load over the tension of the rope at the conduit end, of the shape given."""
        turns, friction = self.pull.run.lead_off, self.rope.friction
        if not turns:
            return np.ones_like(factors)
        each = [lead_off_factor(turns, friction * f) for f in factors.ravel().tolist()]
        return np.array(each).reshape(factors.shape)


@dataclass(slots=True)
class _State:
    """Tension at the front of the march, and the largest values so far; changed as it goes on."""

    head: Floats
    cable: Floats
    sidewall: Floats
    rope: Floats


def head_track(pull: Pull, heads: Floats) -> HeadTrack:
    """The track of a pull with its heads at stations ``heads`` (m,) m, in pulling order.

    Bends are looked at as closely as in the pull itself; along straights tension is a straight
    line, and only its ends count. A head at a turn without length stands behind it.

    Raises ValueError without a rope.
    """
    if pull.run.rope is None:
        raise ValueError("without a rope there is no head to follow")
    course = pull.course
    inside_bends = course.fine.stations[:-1][course.fine.kind == ARC]
    cut = pull.path.split(np.concatenate((heads, inside_bends)))
    owners = _owners(cut, course.fine)
    friction = (course.friction * course.weight_factor)[owners]
    on_sheave = course.on_sheave[owners]
    walked = cut
    if pull.reverse:
        walked, friction, on_sheave = cut.reversed(), friction[::-1], on_sheave[::-1]
    pulled = np.abs(heads - course.stations[0])
    joints = np.searchsorted(walked.stations, pulled + 2e-9, side="right") - 1
    share = sidewall_share(pull.run, pull.practice, pull.fits, walked)
    return HeadTrack(pull, pull.run.rope, walked, joints, friction, share, on_sheave)


def _owners(cut: Path, fine: Path) -> NDArray[np.int64]:
    """The piece of ``fine`` that each piece of ``cut``, of the same path, begins in or is."""
    owner = fine.locate((cut.stations[:-1] + cut.stations[1:]) / 2)[0]
    owner[cut.kind == CORNER] = np.flatnonzero(fine.kind == CORNER)
    return owner


def _march(
    path: Path, piece: slice, weight: float, friction: Floats, start: Floats, method: str
) -> Floats:
    """Tension at the joints of some pieces, cut off where it has passed every limit."""
    part = _part(path, piece)
    t = integrate(part, weight, friction, 1.0, start, method=method, per_segment=True)[1]
    return np.minimum(t, _ENDLESS)


def _part(path: Path, piece: slice) -> Path:
    return Path(
        kind=path.kind[piece],
        lengths=path.lengths[piece],
        angles=path.angles[piece],
        starts=path.starts[piece],
        tangents=path.tangents[piece],
        normals=path.normals[piece],
        vertex=path.vertex[piece],
        leg=path.leg[piece],
    )
