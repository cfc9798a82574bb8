"""Cable behind and rope ahead of the head, for many heads and many frictions at once.

The same law as ``pull`` and ``rope`` work by, marched once from feed to machine: at every place
of the path the heads that have yet to come there have cable on it, the others rope.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.lead_off import lead_off_factors
from route3d.mechanics.pull import Pull, sidewall_share
from route3d.mechanics.tension import MarchSegment, pieces_of, through_piece
from route3d.model.rope import Rope

ENDLESS = 1e12
"""What passes this (N) has passed every limit; held here it stays a number, however many bends
follow. A drop takes no half of it."""


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

        ``start`` N enters the conduit, one for all or (m, k); by default as planned. Sheaves of
        the lead-off keep their efficiency.
        """
        entering = self.pull.start_tension if start is None else start
        t = np.array(np.broadcast_to(entering, factors.shape), dtype=np.float64)
        cable, sidewall, rope = t.copy(), np.zeros_like(t), np.zeros_like(t)
        for i, share in enumerate(self.share.tolist()):
            passed, before = self.passed(i), t
            t = self.over(i, t, factors)
            tighter = np.maximum(before, t)
            rope[:passed] = np.maximum(rope[:passed], tighter[:passed])
            cable[passed:] = np.maximum(cable[passed:], t[passed:])
            if share:
                sidewall[passed:] = np.maximum(sidewall[passed:], share * tighter[passed:])
        return HeadLoads(t * self.lead_off(factors), cable, sidewall, np.maximum(rope, t))

    def machine_loads(self, ratios: Floats, rope: Floats, start: Floats) -> Floats:
        """Machine load (m, k) N with another friction in each segment, in each of k scenarios.

        ``ratios`` (n, k) multiply the friction of the cable in each segment; ``rope`` (k,) is the
        friction of the rope, lead-off included, and ``start`` (k,) N enters the conduit. As
        ``loads``, with the cable behind all heads carried once. Sheaves keep their efficiency.
        """
        run = self.pull.run
        # Rope for the heads that have passed, one row each, then the cable behind all others.
        t = np.empty((len(self.joints) + 1, len(start)))
        mu, weight = np.empty_like(t), np.full_like(t, self.rope.weight)
        behind, before = np.asarray(start, dtype=np.float64), 0
        for i, friction in enumerate(self.friction.tolist()):
            passed, sheave = self.passed(i), bool(self.on_sheave[i])
            t[before : passed + 1] = behind
            weight[before:passed], weight[passed] = self.rope.weight, run.cables.weight
            mu[:passed] = friction if sheave else rope
            mu[passed] = friction if sheave else friction * ratios[i]
            on = slice(passed + 1)
            t[on] = self._through(i, t[on], weight[on], mu[on], passed)
            behind, before = t[passed], passed
        t[before:] = behind
        ahead: Floats = t[:-1]
        if not run.lead_off:
            return ahead
        return np.asarray(ahead * lead_off_factors(run.lead_off, rope))

    @cached_property
    def pieces(self) -> list[MarchSegment]:
        """What the march needs of every segment of ``walked``."""
        return pieces_of(self.walked)

    def passed(self, i: int) -> int:
        """The number of heads that stand at or before the start of segment ``i``."""
        return int(np.searchsorted(self.joints, i, side="right"))

    def over(self, i: int, t: Floats, factors: Floats) -> Floats:
        """Tension (m, k) behind segment ``i``, with ``t`` N before it; cut off at 1e12 N.

        Rope for the heads that have passed it, cable for the others; ``factors`` (m, k) or (k,)
        multiply their friction.
        """
        passed, cables = self.passed(i), self.pull.run.cables
        friction = float(self.friction[i])
        mu = np.full(t.shape, friction)
        if not self.on_sheave[i]:
            mu[:passed] = self.rope.friction
            mu *= factors
        weight = np.full(t.shape, cables.weight)
        weight[:passed] = self.rope.weight
        return self._through(i, t, weight, mu, passed)

    def _through(self, i: int, t: Floats, weight: Floats, mu: Floats, passed: int) -> Floats:
        """Tension (r, k) behind segment ``i``; the first ``passed`` rows are of rope."""
        method, split = self.pull.practice.method, passed * t.shape[1]
        # The rope is carried by the exact law, whatever the cable is.
        ends = [0, t.size] if method == "exact" else [0, split, t.size]
        flat, w, k, out = t.ravel(), weight.ravel(), mu.ravel(), np.empty(t.size)
        for part, law in zip(pairwise(ends), ("exact", method), strict=False):
            rows = slice(*part)
            if flat[rows].size:
                end = through_piece(self.pieces[i], w[rows], k[rows], flat[rows], law)
                out[rows] = np.minimum(end, ENDLESS)
        return out.reshape(t.shape)

    def lead_off(self, factors: Floats) -> Floats:
        """Machine load over the tension of the rope at the conduit end, of the shape given."""
        turns, friction = self.pull.run.lead_off, self.rope.friction
        if not turns:
            return np.ones_like(factors)
        return np.asarray(lead_off_factors(turns, friction * factors))


def head_track(pull: Pull, heads: Floats, *, closely: bool = True) -> HeadTrack:
    """The track of a pull with its heads at stations ``heads`` (m,) m, in pulling order.

    Bends are looked at as closely as in the pull itself; along straights tension is a straight
    line, and only its ends count. A head at a turn without length stands behind it.

    Parameters
    ----------
    pull : Pull
        One direction, solved.
    heads : ndarray, shape (m,)
        Stations, m, in pulling order.
    closely : bool
        False for machine loads alone, which need no joints within bends.

    Returns
    -------
    HeadTrack
        Cable and rope for each head.

    Raises
    ------
    ValueError
        Without a rope.

    References
    ----------
    docs/theory.md section 7.
    """
    if pull.run.rope is None:
        raise ValueError(f"run {pull.run.name!r} has no rope, so no head to follow")
    course = pull.course
    inside_bends = course.fine.stations[:-1][course.fine.kind == ARC]
    cut = pull.path.split(np.concatenate((heads, inside_bends)) if closely else heads)
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
