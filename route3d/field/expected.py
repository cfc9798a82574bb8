"""What the gauge should read, as a function of all that a log may teach: the full pull model.

Cable behind the head, rope ahead, sheaves and lead-off, by the law of ``mechanics``; the friction
of each conduit, that of the rope and the reel tension are free, each an array over scenarios.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.errors import InputError, Problem
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import feed_factor
from route3d.mechanics.pull import Pull
from route3d.mechanics.rope_scenarios import HeadTrack, head_track


@dataclass(frozen=True, eq=False)
class ExpectedLoad:
    """The load at the machine with the head at each of m places, for any friction and reel tension.

    ``pulled`` (m,) m of cable in, rising. ``conduits`` names the c conduits of the run in the order
    the head meets them, ``friction`` (c,) their coefficients in the plan. ``owner`` (n,) is the
    conduit of each segment of ``track.walked``.
    """

    pull: Pull
    pulled: Floats
    track: HeadTrack
    conduits: tuple[str, ...]
    friction: Floats
    owner: NDArray[np.int64]

    @property
    def rope_friction(self) -> float:
        """The friction of the rope in the plan."""
        return self.track.rope.friction

    @property
    def reel_tension(self) -> float:
        """The tension of the cables leaving the reels in the plan, summed, N."""
        return self.pull.reel_tension

    def loads(
        self,
        friction: ArrayLike | None = None,
        rope: ArrayLike | None = None,
        reel: ArrayLike | None = None,
    ) -> Floats:
        """Machine load, (m, k) N.

        ``friction`` (c,) or (c, k) of the conduits, ``rope`` () or (k,), and ``reel`` N () or (k,);
        by default the plan's.
        """
        each = np.asarray(self.friction if friction is None else friction, dtype=np.float64)
        each = each[:, None] if each.ndim == 1 else each
        rope_ = np.atleast_1d(np.asarray(self.rope_friction if rope is None else rope, np.float64))
        reel_ = np.atleast_1d(np.asarray(self.reel_tension if reel is None else reel, np.float64))
        count = max(each.shape[1], len(rope_), len(reel_))
        mu = np.broadcast_to(each, (len(self.conduits), count))
        ratio = mu / np.where(self.friction > 0, self.friction, 1.0)[:, None]
        return self.track.machine_loads(
            ratio[self.owner],
            np.broadcast_to(rope_, (count,)),
            np.broadcast_to(reel_, (count,)) * feed_factor(self.pull.run),
        )


def expected_load(
    pull: Pull, pulled: Sequence[float] | Floats, *, closely: bool = True
) -> ExpectedLoad:
    """The expected load with ``pulled`` (m,) m of cable in, each from 0 to the length of the route.

    With ``closely`` false it is worked out in whole bends, which is faster and the same to 1e-8.

    InputError for a run without a rope, or with a conduit without friction.
    """
    run = pull.run
    if run.rope is None:
        said = f"run {run.name!r} has no rope, so no reading at the machine can be expected"
        raise InputError(Problem(said, where=f"run {run.name}", fix="assign a rope"))
    places = np.asarray(pulled, dtype=np.float64)
    length = pull.path.length
    stations = length - places if pull.reverse else places
    track = head_track(pull, stations, closely=closely)
    legs = run.route.conduits if not pull.reverse else run.route.conduits[::-1]
    names = tuple(dict.fromkeys(c.name for c in legs))
    friction = {c.name: c.friction for c in legs}
    if smooth := [name for name, mu in friction.items() if not mu > 0]:
        said = f"conduit {smooth[0]!r} has no friction, so nothing can be learned of it"
        raise InputError(Problem(said, where=f"conduit.{smooth[0]}", fix="give its friction"))
    owner = np.array([names.index(run.route.conduits[leg].name) for leg in track.walked.leg])
    return ExpectedLoad(pull, places, track, names, np.array([friction[n] for n in names]), owner)
