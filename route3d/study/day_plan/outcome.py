"""Which pull on which day, by which crew, with which machine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from route3d.phrase import Phrase


@dataclass(frozen=True, slots=True)
class PlacedPull:
    """One pull in its place: what the crew does from ``start`` to ``end``.

    ``setup`` and ``move`` are s of that time spent setting up and coming from the place before,
    ``work`` the rest; each is that of the plan rounded up to a whole minute. ``machine`` has its
    number where there are several on site, ``place`` is where it stands, and ``reused`` says that
    it stood there already. ``day`` is that on which the shift of the crew begins. ``waits_for``
    names the delivery, window, stage or machine of another crew that its set-up waits for last,
    else the window it is in.
    """

    run: str
    stage: str
    feed: str
    pull: str
    crew: str
    machine: str
    start: datetime
    end: datetime
    move: float
    setup: float
    work: float
    reused: bool
    waits_for: str = ""
    place: str = ""
    day: date = date.min

    @property
    def name(self) -> str:
        """The run, and the stage where it is pulled in several."""
        return f"{self.run}, {self.stage}" if self.stage else self.run


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The pulls in order of time, and how good the order is.

    ``days`` is the number of days with a pull. The finish is made as early as possible: ``value`` s
    is the working time of all crews together from the first day to the finish, ``bound`` s the
    least that is not ruled out for any plan, ``earliest`` the moment it stands for; ``best`` says
    that the two agree, ``fewest`` that no plan with that finish has fewer set-ups and moves.
    ``solver`` names who found it. ``unplaced`` are the pulls no place was found for, each with the
    reason; ``notes`` are what to know.
    """

    pulls: tuple[PlacedPull, ...]
    days: int
    value: float
    bound: float
    best: bool
    solver: str
    unplaced: tuple[tuple[str, str], ...] = ()
    fewest: bool = False
    earliest: datetime | None = None
    notes: tuple[Phrase, ...] = ()

    @property
    def finish(self) -> datetime | None:
        """When the last pull is over; None for no pull."""
        return max((p.end for p in self.pulls), default=None)

    @property
    def above(self) -> float:
        """The most by which the plan is above the best possible, as a share; 0 where it is best."""
        return 0.0 if self.best or not self.bound else self.value / self.bound - 1.0

    @property
    def setups(self) -> int:
        """Set-ups of a machine that did not stand there already."""
        return sum(not p.reused for p in self.pulls)

    @property
    def stops(self) -> bool:
        """True where a pull has no place in the plan."""
        return bool(self.unplaced)
