"""The reading at the machine when a place behind it is at its limit, for many heads at once.

A gauge stands at the machine. With the head at h, the limit tension of a place x of the cable is
carried on from x to h as cable and from h to the machine as rope. The law is one of first order,
so what is tighter at x is tighter at the machine: whatever loads the cable behind x (friction, the
drag of the reels, a snag), the limit at x is reached at just that reading. The smallest over all x
is found in one march, cut down to the limit at every joint.

Where the limit tension goes slack on the way to the machine, the reading no longer depends on the
tension at x: such a place is hidden from the gauge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats
from route3d.mechanics.rope_scenarios import ENDLESS, HeadTrack
from route3d.mechanics.tension import MarchSegment, lies_still, march_one, pieces_of, through_piece

AT_LINE = -1
"""Number that stands for the machine itself, or what lies between it and the conduit end."""


@dataclass(frozen=True, eq=False)
class LimitTensions:
    """The largest tension allowed at the n + 1 joints of a track in pulling order, by l limits, N.

    ``cable`` (l, n + 1) where cable lies on both sides of the joint, ``head`` (l, m) where the head
    stands, ``rope`` (l, n + 1) where rope does; ``line`` N is that of the machine load itself.
    Infinite where there is no limit.
    """

    cable: Floats
    head: Floats
    rope: Floats
    line: float


@dataclass(frozen=True, eq=False)
class Ceilings:
    """The reading at which the first limit is reached, for m heads and k scenarios of friction.

    ``reading`` (m, k) N, infinite where no limit can be seen; ``joint`` (m, k) the joint of the
    track that is then at its limit, ``AT_LINE`` for the machine load itself, and ``limit`` (m, k)
    the number of that limit. ``hidden`` (l, n + 1, m, k) is true where the limit of a joint cannot
    be seen at the machine.
    """

    reading: Floats
    joint: NDArray[np.int64]
    limit: NDArray[np.int64]
    hidden: NDArray[np.bool_]


def ceilings(track: HeadTrack, limits: LimitTensions, factors: Floats) -> Ceilings:
    """Readings with every friction multiplied by ``factors`` (k,); the limits stay as they are.

    Parameters
    ----------
    track : HeadTrack
        Cable, heads and rope of a pull.
    limits : LimitTensions
        Limits at the joints of the track, N.
    factors : ndarray, shape (k,)
        On every friction.

    Returns
    -------
    Ceilings
        Readings (m, k) N for m heads.

    References
    ----------
    docs/theory.md section 12.
    """
    factors = np.asarray(factors, dtype=np.float64)
    march = _March(track, factors)
    hidden = march.hidden(limits)
    t = np.full(march.shape, ENDLESS)
    owner, limit = np.full(march.shape, AT_LINE), np.zeros(march.shape, dtype=np.int64)
    for joint in range(len(march.pieces) + 1):
        caps = np.where(hidden[:, joint], np.inf, _at_joint(track, limits, joint)[..., None])
        cap = np.broadcast_to(caps.min(axis=0), t.shape)
        lower = cap < t
        t[lower], owner[lower] = cap[lower], joint
        limit[lower] = np.broadcast_to(caps.argmin(axis=0), t.shape)[lower]
        if joint < len(march.pieces):
            t = track.over(joint, t, factors)
    reading = t * track.lead_off(factors)
    at_line = limits.line <= reading
    reading, owner = np.where(at_line, limits.line, reading), np.where(at_line, AT_LINE, owner)
    return Ceilings(np.where(reading > ENDLESS / 2, np.inf, reading), owner, limit, hidden)


def _at_joint(track: HeadTrack, limits: LimitTensions, joint: int) -> Floats:
    """The limit tensions at one joint for every head, (l, m) N."""
    heads = track.joints
    behind = np.where(heads > joint, limits.cable[:, joint, None], limits.rope[:, joint, None])
    return np.where(heads == joint, limits.head, behind)


class _March:
    """What keeps rope and cable taut from the machine back, piece by piece."""

    def __init__(self, track: HeadTrack, factors: Floats) -> None:
        self.track = track
        self.shape = len(track.joints), len(factors)
        self.pieces = track.pieces
        self.opposite = pieces_of(track.walked.reversed())
        self.method = track.pull.practice.method
        scaled = np.where(track.on_sheave[:, None], 1.0, factors)
        rope = np.where(track.on_sheave, track.friction, track.rope.friction)
        self.cable_friction = track.friction[:, None] * scaled
        self.rope_friction = rope[:, None] * scaled

    def hidden(self, limits: LimitTensions) -> NDArray[np.bool_]:
        """Where a limit is no more than what keeps all ahead taut, (l, n + 1, m, k)."""
        n, (m, k) = len(self.pieces), self.shape
        hidden = np.zeros((len(limits.cable), n + 1, m, k), dtype=bool)
        lowest = np.minimum(limits.cable, limits.rope).min(axis=0)
        np.minimum.at(lowest, self.track.joints, limits.head.min(axis=0))
        if (self._most_needed() < lowest[:, None]).all():
            return hidden
        rope = np.zeros(k)  # what the rope needs at a joint to stay taut ahead of it
        cable = np.zeros((m, k))  # the same for each head, once the joint is behind it
        weight, method = self.track.pull.run.cables.weight, self.method
        for joint in range(n, -1, -1):
            if joint < n:
                piece = self.opposite[n - 1 - joint]
                rows = slice(int(np.searchsorted(self.track.joints, joint, side="right")), None)
                if cable[rows].size:
                    back = np.tile(-self.cable_friction[joint], len(cable[rows]))
                    back = self.track.cable_friction(joint, back)
                    cable[rows] = _through(piece, weight, back, cable[rows], method)
                back = -self.rope_friction[joint]  # of one rope, behind all heads
                rope = _through(piece, self.track.rope.weight, back, rope[None], "exact")[0]
            cable[self.track.joints == joint] = rope
            needed = np.where((self.track.joints >= joint)[:, None], cable, rope)
            hidden[:, joint] = _at_joint(self.track, limits, joint)[..., None] <= needed
        return hidden

    def _most_needed(self) -> Floats:
        """No head needs more tension at a joint than this to keep all ahead taut, (n + 1, k) N.

        In plain floats, scenario by scenario: they are few.
        """
        n, track = len(self.pieces), self.track
        needed = np.zeros((n + 1, self.shape[1]))
        weights = track.rope.weight, track.pull.run.cables.weight
        for scenario in range(self.shape[1]):
            frictions = self.rope_friction[:, scenario], self.cable_friction[:, scenario]
            least = frictions[1] if track.fall is None else frictions[1] * track.fall.share
            still = [lies_still(track.walked, mu).tolist() for mu in (frictions[0], least)]
            back = [(-mu).tolist() for mu in frictions]
            rope = most = 0.0
            for joint in range(n - 1, -1, -1):
                piece = [self.opposite[n - 1 - joint]]
                if rope or not still[0][joint]:
                    rope = march_one(piece, weights[0], [back[0][joint]], rope, "exact")[1]
                if most or not still[1][joint]:
                    cable = [track.cable_friction(joint, back[1][joint])]
                    most = march_one(piece, weights[1], cable, most, self.method)[1]
                needed[joint, scenario] = most = max(most, rope)
        return needed


def _through(piece: MarchSegment, weight: float, friction: Any, t: Floats, method: str) -> Floats:
    """Tension (r, k) behind one piece; ``friction`` (r·k,)."""
    flat = through_piece(piece, weight, friction, t.ravel(), method)
    return np.minimum(flat, ENDLESS).reshape(t.shape)
