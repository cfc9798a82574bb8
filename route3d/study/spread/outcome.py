"""What a spread of the inputs comes to, from each end."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.geometry.vectors import Floats
from route3d.model.run import Run

PERCENTILES = (5.0, 25.0, 50.0, 75.0, 95.0)


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely a ``limit`` (as in ``Utilization``) is reached, and how well that is known.

    ``error`` is the standard error of ``probability``; ``where`` names the place where it is
    reached most often, empty where the limit has no place.
    """

    limit: str
    probability: float
    error: float
    where: str = ""


@dataclass(frozen=True, slots=True)
class Importance:
    """How much of the spread of the utilization one input explains.

    ``first`` and ``total`` are Sobol indices where the inputs are independent, with half the width
    of their 95 % intervals. Where inputs are correlated ``first`` is Borgonovo's delta and
    ``total`` is None. ``low`` and ``high`` are the utilization with this input alone at its 5th and
    its 95th percentile and all others at their medians: the bar of a tornado chart.
    """

    name: str
    first: float
    first_error: float
    total: float | None
    total_error: float | None
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class EndSpread:
    """The spread with the cables fed from one end; in pulling order, SI.

    ``pulled`` (n,) m of cable in at the places looked at; ``tension`` (p, n) N of the cable with
    the whole cable in, by percentile; ``heads`` (m,) m of cable in, ``gauge`` (p, m) N at the
    machine there, None without rope. ``reached_by`` (m,) is the probability that some limit has
    been reached by the time the head is there. ``passes`` is the probability that no limit is.
    """

    feed: str
    pull: str
    reverse: bool
    pulled: Floats
    tension: Floats
    heads: Floats
    gauge: Floats | None
    reached_by: Floats
    chances: tuple[Chance, ...]
    passes: float
    passes_error: float
    utilization: Floats
    importance: tuple[Importance, ...]


@dataclass(frozen=True, eq=False)
class Spread:
    """The spread of one run from both ``ends`` (with the route, against it).

    ``percentiles`` (p,) are the rows of the tables of each end. ``count`` scenarios were solved
    with ``seed``; ``steps`` (k, 2) are count and probability of passing from the better end as
    points were added, and ``settled`` says that they had come to rest. ``planned`` is the number
    of the end of the plan in ``ends``; ``other_better`` the probability that the other end would
    have had the lower utilization. ``turns_at`` is the multiplier on the median friction at which
    the decision turns, None where it never does.
    """

    run: Run
    ends: tuple[EndSpread, EndSpread]
    percentiles: tuple[float, ...]
    inputs: tuple[str, ...]
    correlated: bool
    count: int
    seed: int
    steps: Floats
    settled: bool
    planned: int
    other_better: float
    turns_at: float | None
