"""How far inputs may go, one at a time, from each end."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from route3d.geometry.vectors import Floats
from route3d.model.run import Run
from route3d.phrase import Phrase, say


@dataclass(frozen=True, slots=True)
class StockChoice:
    """A machine or rope that passes: its ``name`` and what it is ``rated`` for, N."""

    name: str
    rated: float


@dataclass(frozen=True, slots=True)
class FarthestValue:
    """The last value of one input that still passes, all others as planned.

    ``input`` says which: "friction", "longest straight", "bend radius", "cable diameter", "set
    weight", "machine", "rope". ``name`` is the conduit, leg, bend, cable or stock entry it is of.
    ``planned`` and ``farthest`` are in SI of ``quantity`` (as in `route3d.units`); ``planned`` is
    NaN where the run has none. ``farthest`` is None where not even the easiest value passes; where
    no value breaks a limit it is infinite, or 0 for a smallest value. ``beyond`` is the value next
    to it that does not pass, NaN where there is none. ``first`` is the limit reached first beyond
    it, ``where`` its place, which may hold one ``station {}`` for ``station`` m (as in `Finding`).
    ``at_most`` tells which way: True for the largest value that passes, False for the smallest.
    ``own`` and ``stock`` are the smallest machine or rope of the job and of the tables that pass.
    A bend of less than ``special`` m takes a special bender or elbow, which is a caution and counts
    for nothing here; None where none does.
    """

    input: str
    name: str
    quantity: str
    planned: float
    farthest: float | None
    first: str
    where: str
    at_most: bool
    station: float | None = None
    beyond: float = math.nan
    own: StockChoice | None = None
    stock: StockChoice | None = None
    special: float | None = None

    @property
    def unlimited(self) -> bool:
        """True where no value breaks a limit."""
        return self.farthest is not None and math.isnan(self.beyond)

    @property
    def room(self) -> float | None:
        """What is left of the planned value, as a share of it; negative where it must change."""
        if self.farthest is None or self.unlimited or not self.planned > 0:
            return None
        change = self.farthest / self.planned - 1.0
        return change if self.at_most else -change


@dataclass(frozen=True, slots=True)
class FrictionLimits:
    """What one friction, constant or falling above a contact load, leaves from one end.

    ``utilization`` is the largest share of a limit of the pull as planned, the reels held alike;
    ``farthest`` the largest factor on all friction that passes, None where that was not asked for.
    """

    utilization: float
    farthest: FarthestValue | None


@dataclass(frozen=True, slots=True)
class ByBoth:
    """The limits by ``constant`` friction and ``by_pressure``, wherever friction falls.

    By pressure it falls in every conduit that has a fall; ``decides`` says in words which of them
    the other values were found with.
    """

    constant: FrictionLimits
    by_pressure: FrictionLimits
    decides: str


@dataclass(frozen=True, eq=False)
class EndLimits:
    """How far each input may go with the cables fed from one end.

    ``stations`` (n,) m in pulling order and ``shares`` (limit name, (n,)): how much of each limit
    is taken at each place as planned, for the map along the route; of rope and machine with the
    head there. ``passes`` says that the plan does from this end, ``barred`` why an end cannot
    serve, which the values leave out. ``by_both`` is None where friction falls nowhere.
    """

    feed: str
    pull: str
    reverse: bool
    values: tuple[FarthestValue, ...]
    stations: Floats
    shares: tuple[tuple[str, Floats], ...]
    passes: bool = True
    barred: Phrase = field(default_factory=lambda: say(""))
    by_both: ByBoth | None = None

    @property
    def longest(self) -> FarthestValue | None:
        """The straight that may be longest; None where none was looked at, or none passes."""
        found = [v for v in self.values if v.input == "longest straight" and v.farthest is not None]
        return max(found, key=lambda v: v.farthest or 0.0, default=None)


@dataclass(frozen=True, eq=False)
class Limits:
    """The limits of one run from both ``ends`` (with the route, against it).

    ``planned`` is the number of the end of the plan in ``ends``, of the better one where neither
    passes; ``stops`` says that the run must not be pulled as planned.
    """

    run: Run
    ends: tuple[EndLimits, EndLimits]
    planned: int
    stops: bool = False
