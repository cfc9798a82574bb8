"""One remedy and the list of them, as every surface shows it."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.checks.finding import Finding
from route3d.model.run import Run
from route3d.phrase import Phrase
from route3d.planning.remedies.edits import Edit

COST_CLASSES = (
    "nothing to buy",
    "buy or rent",
    "change the route",
)
"""Cost classes of a remedy, cheapest first; prices are the user's."""


@dataclass(frozen=True, slots=True)
class Cost:
    """The one order of remedies: by class, then by effort, then by how large the change is.

    ``ranks`` are places in :data:`COST_CLASSES`, one for each of several changes, the dearest
    first. ``effort`` is a stated number for each kind of change (common practice, no source),
    ``amount`` the size of the change within its kind, 0 to 1.
    """

    ranks: tuple[int, ...]
    effort: float
    amount: float

    @property
    def rank(self) -> int:
        """The place in :data:`COST_CLASSES` of the whole remedy: that of its dearest part."""
        return self.ranks[0]

    @property
    def key(self) -> tuple[tuple[int, ...], float, float]:
        """What orders remedies."""
        return (self.ranks, self.effort, self.amount)

    def plus(self, other: Cost) -> Cost:
        """What both together take."""
        ranks = tuple(sorted((*self.ranks, *other.ranks), reverse=True))
        effort, amount = self.effort + other.effort, (self.amount + other.amount) / 2
        return Cost(ranks, effort, amount)


@dataclass(frozen=True, eq=False)
class Remedy:
    """What to do, carried out and solved again with all findings.

    ``kind`` names the change ("split", "friction", "radius", ...; "pair" for two together) and
    ``edits`` are what it changes, in the order they are carried out; ``runs`` come of it, more than
    one where the run is split. ``outcome`` says which end then feeds each pull and what governs.
    ``utilization`` is the largest share of a limit in any pull and ``governing`` its name,
    ``restart`` the share at a restart anywhere, of ``restart_limit``, ``friction_margin`` the
    smallest of any pull, None where a limit is exceeded without friction. ``still_stops`` are the
    findings that stop it all the same, worst first, of check and plan together; ``planned`` says
    that the plan was made too.
    ``reaches`` is true where the stated margin is kept.
    """

    kind: str
    what: Phrase
    outcome: Phrase
    edits: tuple[Edit, ...]
    cost: Cost
    runs: tuple[Run, ...]
    utilization: float
    governing: str
    restart: float
    restart_limit: str
    friction_margin: float | None
    still_stops: tuple[Finding, ...]
    planned: bool
    reaches: bool

    @property
    def cost_class(self) -> str:
        """What the remedy takes, in words."""
        return COST_CLASSES[self.cost.rank]

    @property
    def passes(self) -> bool:
        """True where nothing stops the run any more."""
        return not self.still_stops


@dataclass(frozen=True, eq=False)
class Advice:
    """The remedies of one run, ranked and numbered from 1; empty where nothing stops it.

    Where some pass at the margin only those are listed. Where none does, ``why_none`` says so, and
    the list holds what comes closest: first what passes short of the margin, then what leaves the
    fewest stops, the best pair among it. ``margin`` is the share of a load limit aimed at and
    ``friction_margin`` the friction margin. ``left_out`` counts passing remedies past the list.
    """

    remedies: tuple[Remedy, ...]
    why_none: Phrase
    margin: float
    friction_margin: float
    left_out: int = 0

    def __bool__(self) -> bool:
        return bool(self.remedies) or bool(self.why_none)
