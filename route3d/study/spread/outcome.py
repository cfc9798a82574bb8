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
    reached most often, empty on a straight and where the limit has no place. ``pulled`` is how
    much cable is in there, m.
    """

    limit: str
    probability: float
    error: float
    where: str = ""
    pulled: float | None = None


@dataclass(frozen=True, slots=True)
class InputSpread:
    """What one input was taken to be: its ``shape``, its percentiles and where they are from.

    ``low``, ``median`` and ``high`` are the 5th, 50th and 95th percentile in SI of ``quantity``;
    for "percent" as shares, of the ``planned`` value or, for ovality, themselves. ``cut`` is the
    share of the shape that lies below the smallest value there is and was left out.
    """

    name: str
    shape: str
    quantity: str
    low: float
    median: float
    high: float
    planned: float
    source: str
    cut: float = 0.0


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


@dataclass(frozen=True, slots=True)
class ByBoth:
    """The probability that no limit is reached, in the same scenarios by both frictions.

    ``constant`` with constant friction, ``by_pressure`` with the fall in every conduit that has
    one; ``decides`` says in words which of them the study was worked with.
    """

    constant: float
    by_pressure: float
    decides: str


@dataclass(frozen=True, eq=False)
class EndSpread:
    """The spread with the cables fed from one end; in pulling order, SI.

    ``pulled`` (n,) m of cable in at the places looked at; ``tension`` (p, n) N of the cable with
    the whole cable in, by percentile; ``heads`` (m,) m of cable in, ``gauge`` (p, m) N at the
    machine there, None without rope. ``reached_by`` (m,) is the probability that some limit has
    been reached by the time the head is there. ``passes`` is the probability that no limit is,
    ``utilization`` (k,) the largest share of any limit in each scenario. The reels are held with
    ``reel_tension`` N as planned, of which ``brake`` N is set at the brakes and ``drag`` N is what
    the reels take to turn; ``by_hand`` says that they are turned, so that drag is not felt.
    ``by_both`` has ``passes`` by both frictions where one falls above a contact load, else None.
    ``barred`` says in words why the end cannot serve, empty where it can. ``bends`` are name and
    station, m along the route, of the b bends looked at, and ``sidewall`` (p, b) N/m is the
    pressure on the worst cable there, by percentile; None where there are none, or very many.
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
    by_both: ByBoth | None = None
    reel_tension: float = 0.0
    drag: float = 0.0
    brake: float = 0.0
    by_hand: bool = False
    barred: str = ""
    bends: tuple[tuple[str, float], ...] = ()
    sidewall: Floats | None = None


@dataclass(frozen=True, eq=False)
class Spread:
    """The spread of one run from both ``ends`` (with the route, against it).

    ``percentiles`` (p,) are the rows of the tables of each end. ``count`` scenarios were solved
    with ``seed``; ``steps`` (k, 2) are count and probability of passing from the better end as
    points were added, ``errors`` (k,) its standard error, and ``settled`` says that those of both
    ends had come down to ``wanted``. ``planned`` is the number
    of the end of the plan in ``ends``; ``other_better`` the probability that the other end would
    have had the lower utilization. ``turns_at`` is the multiplier on the median friction at which
    the decision turns, None where it never does. ``varying`` tells what each input was taken to
    be, ``pairs`` the correlations that are not 0 (name, name, value), and ``stops`` whether the
    run as planned is stopped by a limit. ``lower`` is the number of the end with the lower
    utilization with all inputs at their medians, None where both take the same.
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
    errors: Floats
    wanted: float
    varying: tuple[InputSpread, ...]
    pairs: tuple[tuple[str, str, float], ...] = ()
    stops: bool = False
    lower: int | None = 0

    @property
    def better(self) -> int:
        """The number of the end from which more pulls pass, of those that can serve."""
        open_ = [i for i in (0, 1) if not self.ends[i].barred] or [0, 1]
        return max(open_, key=lambda i: (self.ends[i].passes, i == self.planned))
