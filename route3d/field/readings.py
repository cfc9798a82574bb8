"""What was read during a pull: the readings, what happened between them, and what was done to them.

SI throughout. A reading that cannot be true stays in the log, is flagged and is never used in
silence: ``used`` says which count.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, frozen

EventKind = Literal["start", "stop", "gear", "brake", "lubricant", "note"]
EVENT_KINDS: tuple[EventKind, ...] = ("start", "stop", "gear", "brake", "lubricant", "note")


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened with ``pulled`` m of cable in, ``time`` s after the first row.

    ``words`` is the gear of "gear" and the text of "note"; ``force`` N that of "brake", summed over
    the reels. What is not known is NaN. ``row`` is the line of the file it came from, 0 for none.
    """

    kind: EventKind
    pulled: float
    time: float
    words: str = ""
    force: float = float("nan")
    row: int = 0


@dataclass(frozen=True, slots=True)
class Decision:
    """What was done to the rows of a log and why: ``rule`` short, ``words`` a sentence.

    ``rows`` are lines of the file, first and last of each stretch.
    """

    rule: str
    words: str
    rows: tuple[tuple[int, int], ...]
    count: int


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of a pull that goes on: an element of each array of ``PullLog``, as there."""

    pulled: float
    load: float
    time: float
    gear: str
    used: bool
    flags: tuple[str, ...]
    row: int


@dataclass(frozen=True, eq=False)
class PullLog:
    """One pull as it was read: n readings in the order they were taken.

    ``pulled`` m of cable in, ``load`` N as the gauge read it, tare not taken off, and ``time`` s
    since the first row, NaN where not known; all (n,). ``gear`` (n,) names the gear, "" where not
    known. ``used`` (n,) is true where a reading may be compared with a plan: the cable moves, the
    gauge is true in that gear, neither footage nor load is doubtful; ``flags`` (n,) say why not.
    ``row`` (n,) is the line of the file. ``tare`` N is what the gauge reads without a load, 0 where
    nothing is known. ``feed`` is the feed end written in the log, "" where none is; ``started`` the
    date and time written there as ISO text, "" where none is.
    """

    name: str
    pulled: Floats
    load: Floats
    time: Floats
    gear: tuple[str, ...]
    used: NDArray[np.bool_]
    flags: tuple[tuple[str, ...], ...]
    row: NDArray[np.int64]
    events: tuple[Event, ...] = ()
    decisions: tuple[Decision, ...] = ()
    tare: float = 0.0
    run: str = ""
    feed: str = ""
    started: str = ""
    details: tuple[tuple[str, Any], ...] = ()

    def __post_init__(self) -> None:
        for name in ("pulled", "load", "time"):
            object.__setattr__(self, name, frozen(np.asarray(getattr(self, name), np.float64)))
        for array in (self.used, self.row):
            array.setflags(write=False)

    def __len__(self) -> int:
        return len(self.pulled)
