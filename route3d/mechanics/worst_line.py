"""The worst of many lines that each start at a joint of their own."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.tension import pieces_of, through_segment


class WorstLine(NamedTuple):
    """The worst line by its number, and its ``tension`` N at the end of the path.

    ``along`` is the largest tension any line has at each joint of the path from the first of
    ``nodes`` on.
    """

    line: int
    tension: float
    along: list[float]


def carry_worst(
    walked: Path,
    weight: float,
    friction: float | Floats,
    tensions: Floats,
    nodes: NDArray[np.int64],
) -> WorstLine:
    """The largest tension at the end of ``walked`` that ``tension.carry`` gives any line.

    Of two lines at one joint the tighter one stays at least as tight to the end, for the law is
    one of first order: so one line is followed, and left where a tighter one starts.

    Parameters
    ----------
    walked : Path
        The path in pulling order, n segments.
    weight : float
        Of the rope, N/m.
    friction : float or ndarray, shape (n,)
        Of the rope.
    tensions : ndarray, shape (m,)
        Of each line where it starts, N.
    nodes : ndarray of int, shape (m,)
        Joint at which each line starts, increasing.

    Returns
    -------
    Carried
        The worst line and its tension, N.

    References
    ----------
    docs/theory.md section 7.
    """
    pieces = pieces_of(walked)
    mu = np.broadcast_to(np.asarray(friction, dtype=np.float64), (len(pieces),)).tolist()
    starting = dict(zip(nodes.tolist(), enumerate(tensions.tolist()), strict=True))
    worst, t = 0, -math.inf
    along: list[float] = []
    for i in range(int(nodes[0]), len(pieces) + 1):
        line, start = starting.get(i, (worst, t))
        if start > t:
            worst, t = line, start
        along.append(t)
        if i < len(pieces):
            t = through_segment(pieces[i], weight, mu[i], t, "exact")
    return WorstLine(worst, t, along)
