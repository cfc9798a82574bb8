"""The rope ahead of the cable head: what the machine feels as the head moves along the run.

With the head at station s, cable lies from the feed to s and rope from s to the pulling end. The
cable's tension at s is that of the whole-run solution, for what lies behind the head does not
change with what lies ahead; the rope carries it on by the same law with its own weight and
friction.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.tension import carry
from route3d.mechanics.worst_line import WorstLine, carry_worst
from route3d.model.rope import Rope


class Peak(NamedTuple):
    """The largest ``load`` (N) on the machine, and the station ``head`` (m) of the head then."""

    load: float
    head: float


class BendLoad(NamedTuple):
    """Rope in one bend: route ``vertex``, largest ``tension`` N, ``radius`` m of the centerline.

    ``slid`` m of rope slide through it, for it lies so far from the feed.
    """

    vertex: int
    tension: float
    radius: float
    slid: float


@dataclass(frozen=True, eq=False)
class RopePhase:
    """A pull while rope runs ahead of the head, which is looked at in ``m`` places.

    ``walked`` is the path in pulling order, ``nodes`` (m,) increasing joint numbers of it where
    the head stands, ``heads`` (m,) m their stations on the route, and ``tensions`` (m,) N what the
    cable has at its head. ``friction`` is the rope's, one for all or one for each segment of
    ``walked``; ``joints`` (m,) are the joints of the whole course where the head stands.
    ``lead_off`` multiplies the rope's tension between conduit and machine.
    """

    rope: Rope
    lead_off: float
    walked: Path
    nodes: NDArray[np.int64]
    heads: Floats
    tensions: Floats
    friction: float | Floats
    joints: NDArray[np.int64]

    @cached_property
    def loads(self) -> Floats:
        """Load on the machine with the head at each of ``heads``, (m,) N."""
        rope = self.rope
        leaving = carry(self.walked, rope.weight, self.friction, self.tensions, self.nodes)
        return leaving * self.lead_off

    @cached_property
    def peak(self) -> Peak:
        """The largest of ``loads``, found without the others."""
        worst = self._worst
        return Peak(worst.tension * self.lead_off, float(self.heads[worst.line]))

    @cached_property
    def _worst(self) -> WorstLine:
        rope = self.rope
        return carry_worst(self.walked, rope.weight, self.friction, self.tensions, self.nodes)

    def in_bends(self) -> tuple[BendLoad, ...]:
        """The largest tension of the rope in each bend over all head positions, in pulling order.

        A bend that lies before the first place of the head has no rope in it. The pieces of one
        bend count as one.
        """
        first, walked = int(self.nodes[0]), self.walked
        along = self._worst.along
        found: dict[int, BendLoad] = {}
        for i in np.flatnonzero(walked.kind[first:] == ARC).tolist():
            segment, vertex = first + i, int(walked.vertex[first + i])
            tension = max(along[i], along[i + 1])
            before = found.get(vertex)
            start = float(walked.stations[segment]) if before is None else before.slid
            tension = tension if before is None else max(tension, before.tension)
            found[vertex] = BendLoad(vertex, tension, float(walked.radii[segment]), start)
        return tuple(found.values())


def head_nodes(joints: int, most: int = 240) -> NDArray[np.int64]:
    """Joint numbers at which the head is looked at: all, or ``most`` spread evenly, ends kept.

    Parameters
    ----------
    joints : int
        Number of joints.
    most : int
        Most heads.

    Returns
    -------
    ndarray of int
        Increasing, both ends kept.
    """
    if joints <= most:
        return np.arange(joints)
    return np.unique(np.linspace(0, joints - 1, most).round().astype(int))
