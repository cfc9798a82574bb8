"""Crews, machines, outages and deliveries that the pulls of a job are put in days by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class Crew:
    """A crew: the ``machines`` it may pull with (names of the job) and when it works.

    ``hours`` are start and end of its shift; an end before the start is on the next day. ``days``
    are weekdays from 0 for Monday, ``start`` its first day, ``off`` days it does not work.
    """

    name: str
    machines: tuple[str, ...]
    hours: tuple[time, time]
    days: tuple[int, ...]
    start: date
    off: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class Outage:
    """A window in which its ``runs`` must be pulled, or where not ``inside`` must not be."""

    name: str
    runs: tuple[str, ...]
    start: datetime
    end: datetime
    inside: bool = True


@dataclass(frozen=True, slots=True)
class Delivery:
    """When the cable of ``runs``, or of all runs that are fed from a ``reel``, is on site."""

    name: str
    at: datetime
    runs: tuple[str, ...] = ()
    reel: str = ""


@dataclass(frozen=True, slots=True)
class Schedule:
    """What a day plan is made by; times in s, lengths in m.

    ``counts`` are the machines of each name on site, 1 where not named. ``move`` is from one place
    to another, ``setup_again`` what is left of the set-up where the machine stands there already.
    Pulling points within ``same_place`` of each other are one place. ``ways`` are the runs that are
    pulled in stages, with the number of the way to split them.
    """

    start: date
    crews: tuple[Crew, ...]
    counts: Mapping[str, int] = field(default_factory=dict)
    outages: tuple[Outage, ...] = ()
    deliveries: tuple[Delivery, ...] = ()
    move: float = 0.0
    setup_again: float = 0.0
    same_place: float = 0.0
    ways: Mapping[str, int] = field(default_factory=dict)
    title: str = ""
    path: Path | None = None
