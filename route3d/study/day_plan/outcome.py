"""Which pull on which day, by which crew, with which machine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class PlacedPull:
    """One pull in its place: what the crew does from ``start`` to ``end``.

    ``setup`` and ``move`` are s of that time spent setting up and coming from the place before;
    ``reused`` says that the machine stood there already. ``late_for`` is empty, or the window or
    delivery that it waits for.
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


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The pulls in order of time, and how good the order is.

    ``days`` is the number of working days used, ``bound`` s the least total that the solver could
    not rule out for what it minimized, ``value`` s what the plan has; ``best`` says that the two
    agree. ``solver`` names who found it. ``unplaced`` are the pulls no place was found for, each
    with the reason.
    """

    pulls: tuple[PlacedPull, ...]
    days: int
    value: float
    bound: float
    best: bool
    solver: str
    unplaced: tuple[tuple[str, str], ...] = ()
