"""What the crew writes down of a pull beside its readings: reels, lubricant, tests, names.

A text that nobody gave is "", a figure None: it is printed as a blank to fill in, never guessed.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

from route3d.field.readings import Event, PullLog


@dataclass(frozen=True, slots=True)
class UsedReel:
    """One reel: its number, ``cable`` type and lot, ``length`` m on it before the pull.

    ``mark_head`` and ``mark_feed`` are the footage marks printed on the jacket at the head and at
    the cut on the feed end, as read.
    """

    number: str = ""
    cable: str = ""
    lot: str = ""
    length: float | None = None
    mark_head: str = ""
    mark_feed: str = ""


@dataclass(frozen=True, slots=True)
class UsedLubricant:
    """The lubricant: product, lot, ``quantity`` m³, and where and how it was put in."""

    product: str = ""
    lot: str = ""
    quantity: float | None = None
    how: str = ""


@dataclass(frozen=True, slots=True)
class StopNote:
    """What was written of a stop with ``at`` m of cable in."""

    at: float
    why: str = ""
    restart: str = ""


@dataclass(frozen=True, slots=True)
class CableTest:
    """One test of the cable, ``when`` "before" or "after" the pull.

    ``value`` and ``unit`` are as the tester wrote them.
    """

    what: str = ""
    when: str = ""
    cable: str = ""
    value: str = ""
    unit: str = ""
    instrument: str = ""
    by: str = ""
    date: str = ""


@dataclass(frozen=True, slots=True)
class ChangeFromPlan:
    """What was done otherwise than planned, why, and who agreed."""

    what: str = ""
    why: str = ""
    agreed: str = ""


@dataclass(frozen=True, slots=True)
class Details:
    """All that was written down.

    ``temperature`` and ``cable_temperature`` are in K, of the air and of the cable on the reel;
    ``brake`` N is what the reels were held with, summed. ``jacket`` is that of the cable as
    delivered, where the model does not say.
    """

    date: str = ""
    started: str = ""
    finished: str = ""
    foreman: str = ""
    operator: str = ""
    feed_end: str = ""
    weather: str = ""
    temperature: float | None = None
    cable_temperature: float | None = None
    jacket: str = ""
    brake: float | None = None
    brake_how: str = ""
    lubricant: UsedLubricant = field(default_factory=UsedLubricant)
    reels: tuple[UsedReel, ...] = ()
    stops: tuple[StopNote, ...] = ()
    tests: tuple[CableTest, ...] = ()
    changes: tuple[ChangeFromPlan, ...] = ()
    remarks: str = ""

    def over(self, other: Details) -> Details:
        """These details, and of what they leave open those of ``other``."""
        own = {f.name: getattr(self, f.name) for f in fields(self)}
        given = {k: v for k, v in own.items() if v not in ("", None, ()) and k != "lubricant"}
        poured = {
            f.name: getattr(self.lubricant, f.name) or getattr(other.lubricant, f.name)
            for f in fields(UsedLubricant)
        }
        return replace(other, **given, lubricant=UsedLubricant(**poured))

    def brake_in(self, log: PullLog) -> PullLog:
        """The log with the brake of these details from its start on, unless it says one there."""
        told = any(e.kind == "brake" and e.pulled <= 0.0 for e in log.events)
        if self.brake is None or told:
            return log
        return replace(log, events=(Event("brake", 0.0, 0.0, force=self.brake), *log.events))
