"""Other ways to build or pull a run, solved and ranked."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from route3d.phrase import Phrase
from route3d.planning.summary import RunSummary

AS_MODELED = "as modeled"
"""The name of the run without a change."""


@dataclass(frozen=True, slots=True)
class Option:
    """One way, solved.

    ``changes`` say in words what differs from the model file, ``words`` the same for any units.
    ``utilization`` is that of the worst pull, ``setups`` the number of pulls: each is set up by
    itself. ``crew_time`` s is over all pulls, splices in the new vaults included, None where a pull
    has no plan or must not be made. ``cost`` is in the user's currency, the sum of the ``costs`` by
    what they are for; None where the user gave none or one of them is not known. ``stops`` tells
    why it must not be pulled. ``efficient`` says that it passes, and that no other option that
    passes is at least as good in everything and better in something. ``error`` tells why it could
    not be solved. ``vaults`` are the stations of new vaults, m, ``splices`` the number of
    splices; ``pulls`` the single pulls. ``unpriced`` is what it uses and has no price. ``same_as``
    names an option that has the same figures with fewer changes: of a combination to which one of
    its options adds nothing.
    """

    name: str
    changes: tuple[str, ...]
    utilization: float
    friction_margin: float | None
    setups: int
    crew_time: float | None
    cost: float | None
    governing: str
    feed: str
    pull: str
    stops: tuple[str, ...]
    efficient: bool
    costs: tuple[tuple[str, float], ...] = ()
    error: str = ""
    words: tuple[Phrase, ...] = ()
    vaults: tuple[float, ...] = ()
    pulls: tuple[RunSummary, ...] = ()
    splices: int = 0
    unpriced: tuple[str, ...] = ()
    same_as: str = ""

    @property
    def passes(self) -> bool:
        """True where it was solved and nothing stops it."""
        return not self.error and not self.stops

    @classmethod
    def unsolved(cls, name: str, changes: tuple[str, ...], error: str) -> Option:
        """An option that could not be solved, with why."""
        return cls(name, changes, math.nan, None, 0, None, None, "", "", "", (), False, error=error)


@dataclass(frozen=True, eq=False)
class Options:
    """All options of a run, best first; ``currency`` is empty where no costs were given.

    ``by`` is what those that pass are ranked by: one of ``ranking.RANKED_BY``. ``unpriced`` is what
    some option uses and has no price.
    """

    title: str
    run: str
    options: tuple[Option, ...]
    currency: str = ""
    notes: tuple[Phrase, ...] = field(default=())
    by: str = "utilization"
    unpriced: tuple[str, ...] = ()

    @property
    def solved(self) -> tuple[Option, ...]:
        """Those without an error, best first."""
        return tuple(o for o in self.options if not o.error)

    @property
    def passing(self) -> tuple[Option, ...]:
        """Those that may be pulled, best first."""
        return tuple(o for o in self.options if o.passes)
