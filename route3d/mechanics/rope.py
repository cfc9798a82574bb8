"""The rope ahead of the cable head: what the machine feels as the head moves along the run.

With the head at station s, cable lies from the feed to s and rope from s to the pulling end. The
cable's tension at s is that of the whole-run solution, for what lies behind the head does not
change with what lies ahead; the rope carries it on by the same law with its own weight and
friction.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.tension import carry
from route3d.model.rope import Rope


def machine_loads(
    walked: Path, head_tensions: Floats, nodes: NDArray[np.int64], rope: Rope
) -> Floats:
    """Load on the machine (N) with the head at each of ``nodes``.

    ``walked`` is the path in pulling order, ``head_tensions`` (n + 1,) N the cable's tension at
    its joints, ``nodes`` (m,) increasing joint numbers where the head stands.
    """
    return carry(walked, rope.weight, rope.friction, head_tensions[nodes], nodes)


def head_nodes(joints: int, most: int = 240) -> NDArray[np.int64]:
    """Joint numbers at which the head is looked at: all, or ``most`` spread evenly, ends kept."""
    if joints <= most:
        return np.arange(joints)
    return np.unique(np.linspace(0, joints - 1, most).round().astype(int))
