"""A pull followed reading by reading: what each means, what departs, and what lies ahead.

Every reading is judged; those at one place of the cable are joined before anything is learned from
them, so that memory does not grow with the length of a log. It never replaces the limiter, the
operator or the word that stops.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from route3d.errors import InputError, Problem
from route3d.field.departures import Departure, detector
from route3d.field.forecast import Ahead, Forecaster
from route3d.field.judgment import Judgment
from route3d.field.readings import EVENT_KINDS, Event, Reading
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.plan import Plan

NOTICE = 15.0
"""A planned stop or gear change is announced this much cable before it, m (own judgment)."""
# Flags of a reading that is none, whatever it shows: it cannot pass Stop.
_NO_READING = frozenset({"no reading", "reading not a number", "spike"})
_FIRST_MOVE = "first move"
_PLANNED = ("gear change", "stop", "end")
_LOOSENING = ("brake", "lubricant", "start", "gear")
_HERE = 0.05
# Later rows call a reading a spike within so many of them.
_RECENT = 5000


@dataclass(frozen=True, eq=False)
class Seen:
    """What one reading means.

    ``load`` N is what it is judged by: the higher of the reading with and without its tare.
    ``called`` are the departures it made known, ``ahead`` the forecast, None before the first
    reading that counts, and ``fresh`` whether that is new. ``coming`` is the next planned stop,
    gear change or the end, ``announced`` whether it has just come near.
    """

    reading: Reading
    load: float
    judgment: Judgment
    called: tuple[Departure, ...]
    ahead: Ahead | None
    fresh: bool
    coming: GaugeRow | None
    announced: bool

    @property
    def state(self) -> str:
        """The state of the reading, with what was called and what lies ahead: the words go by it.

        A departure, or Stop likely ahead, calls for caution though the reading itself is on plan.
        """
        likely = self.ahead is not None and self.ahead.stop_at is not None
        if self.judgment.state == "on plan" and (self.called or likely):
            return "caution"
        return self.judgment.state


@dataclass(slots=True)
class _Place:
    """Readings at one place of the cable, joined: their ``total`` N and ``count``."""

    pulled: float
    total: float = 0.0
    count: int = 0

    @property
    def mean(self) -> float:
        return self.total / self.count


class Watch:
    """One pull as it goes on. ``gauge_step`` N is that of the dial."""

    def __init__(self, plan: Plan, gauge_step: float) -> None:
        self.plan = plan
        self.forecaster = Forecaster.of(plan, gauge_step)
        self._detector = detector(plan.pull, gauge_step)
        self._departures = self._detector.start()
        self._known = self.forecaster.start()
        self._place: _Place | None = None
        self._ahead: Ahead | None = None
        self._told: set[float] = set()
        self._history: list[list[Any]] = []
        self._over: dict[int, float] = {}
        self.called: list[Departure] = []
        self.readings = self.passed = self.last_row = 0
        self.pulled, self.largest, self.largest_at = 0.0, 0.0, 0.0
        self.least_margin, self.least_at = math.inf, 0.0

    # --- what comes -----------------------------------------------------------------------------

    def reading(self, reading: Reading, tare: float = 0.0, *, forecast: bool = True) -> Seen | None:
        """One more reading; None where there is nothing to judge: no load, or no place.

        Without ``forecast`` what lies ahead stays as it was, for readings long past.
        """
        self.readings += 1
        self.last_row = max(self.last_row, reading.row)
        if not (math.isfinite(reading.load) and math.isfinite(reading.pulled)):
            return None
        load = max(reading.load, reading.load - tare)
        judgment = self._judged(reading, load)
        if not _NO_READING.intersection(reading.flags):
            self._count(reading, load, judgment)
        called: tuple[Departure, ...] = ()
        fresh = False
        if reading.used:
            self.pulled = max(self.pulled, reading.pulled)
            place, wide = self._place, self.forecaster.wide
            if place is None or reading.pulled >= place.pulled + wide:
                called = self._closed()
                self._place, fresh = _Place(reading.pulled), forecast
            if self._place is not None and reading.pulled >= self._place.pulled - wide:
                self._place.total += reading.load - tare
                self._place.count += 1
            if fresh and self._place is not None:
                here = self.forecaster.read(self._known, self._place.pulled, self._place.mean)
                self._ahead = self.forecaster.ahead(here)
        coming = self._coming(reading.pulled)
        announced = coming is not None and self._announces(coming, reading.pulled)
        return Seen(reading, load, judgment, called, self._ahead, fresh, coming, announced)

    def event(self, event: Event) -> tuple[Departure, ...]:
        """Something that happened between readings; what the readings before it made known."""
        self.last_row = max(self.last_row, event.row)
        if event.kind not in _LOOSENING:
            return ()
        called = self._closed()
        self._loosened(event)
        entry = [event.kind, self.pulled, event.force if math.isfinite(event.force) else None]
        if not self._history or self._history[-1] != entry:
            self._history.append(entry)
        return called

    def amended(self, flags: Mapping[int, tuple[str, ...]]) -> None:
        """Flags that later rows added to readings given before: a spike passed no Stop."""
        for row, words in flags.items():
            if row in self._over and _NO_READING.intersection(words):
                del self._over[row]
                self.passed -= 1

    def finish(self) -> tuple[Departure, ...]:
        """The last place counts too; what it made known."""
        return self._closed()

    @property
    def ahead(self) -> Ahead:
        """The forecast as of the last reading."""
        return self.forecaster.ahead(self._known)

    # --- one reading ----------------------------------------------------------------------------

    def _judged(self, reading: Reading, load: float) -> Judgment:
        """By the gauge table; a first move from rest may take what the plan says it takes."""
        judged = self.forecaster.limits.judge(reading.pulled, load)
        if _FIRST_MOVE not in reading.flags:
            return judged
        moving = self.plan.pace.moves.load_at(reading.pulled)
        caution = min(max(judged.caution, moving), judged.stop)
        if judged.state == "caution" and load <= caution:
            return replace(judged, state="on plan", caution=caution)
        return replace(judged, caution=caution)

    def _count(self, reading: Reading, load: float, judgment: Judgment) -> None:
        if load > self.largest:
            self.largest, self.largest_at = load, reading.pulled
        if judgment.margin < self.least_margin:
            self.least_margin, self.least_at = judgment.margin, reading.pulled
        if judgment.state == "stop":
            self.passed += 1
            self._over[reading.row] = load
            for row in list(self._over)[:-_RECENT]:
                del self._over[row]

    def _closed(self) -> tuple[Departure, ...]:
        """Learn from the readings of the place that is left behind."""
        place, self._place = self._place, None
        if place is None or not place.count:
            return ()
        self._history.append(["reading", place.pulled, round(place.mean, 1)])
        return self._learned(place.pulled, place.mean)

    def _learned(self, pulled: float, load: float) -> tuple[Departure, ...]:
        self._departures, called = self._detector.step(self._departures, pulled, load)
        self.called += called
        if not self._departures.low:  # what is near nothing teaches nothing of friction
            self._known = self.forecaster.read(self._known, pulled, load)
            for departure in called:
                self._known = self.forecaster.departed(self._known, departure)
        return called

    def _loosened(self, event: Event) -> None:
        self._departures = self._detector.loosened(self._departures, event.kind)
        self._known = self.forecaster.after(self._known, event)

    def _coming(self, pulled: float) -> GaugeRow | None:
        rows = (r for r in self.plan.gauge if r.kind in _PLANNED and r.pulled > pulled + _HERE)
        return next(rows, None)

    def _announces(self, row: GaugeRow, pulled: float) -> bool:
        if row.kind == "end" or row.pulled in self._told or row.pulled - pulled > NOTICE:
            return False
        self._told.add(row.pulled)
        return True

    # --- kept and taken up again ----------------------------------------------------------------

    def kept(self) -> dict[str, Any]:
        """All that is needed to take this up again, for JSON."""
        place = self._place
        return {
            "run": self.plan.pull.run.name,
            "feed": self.plan.pull.feed_name,
            "readings": self.readings,
            "passed": self.passed,
            "largest_N": self.largest,
            "largest_at_m": self.largest_at,
            "least_margin_N": self.least_margin if math.isfinite(self.least_margin) else None,
            "least_at_m": self.least_at,
            "place": None if place is None else [place.pulled, place.total, place.count],
            "told": sorted(self._told),
            "history": self._history,
        }

    def take_up(self, kept: Mapping[str, Any], file: str) -> None:
        """Go on from where another watch was; InputError for what is no state of this pull."""
        pull = self.plan.pull
        try:
            of = (kept["run"], kept["feed"])
            if of != (pull.run.name, pull.feed_name):
                said = f"is of run {of[0]!r} fed from {of[1]!r}"
                raise InputError(Problem(said, "--state", "name another file", file))
            for kind, pulled, value in kept["history"]:
                if kind == "reading":
                    self._learned(float(pulled), float(value))
                elif kind in EVENT_KINDS:
                    force = math.nan if value is None else float(value)
                    self._loosened(Event(kind, float(pulled), math.nan, "", force))
                self.pulled = max(self.pulled, float(pulled))
            self._history = [list(entry) for entry in kept["history"]]
            self.readings, self.passed = int(kept["readings"]), int(kept["passed"])
            self.largest, self.largest_at = float(kept["largest_N"]), float(kept["largest_at_m"])
            least = kept["least_margin_N"]
            self.least_margin = math.inf if least is None else float(least)
            self.least_at = float(kept["least_at_m"])
            self._told = {float(x) for x in kept["told"]}
            if kept["place"] is not None:
                at, total, count = kept["place"]
                self._place = _Place(float(at), float(total), int(count))
        except (KeyError, TypeError, ValueError) as error:
            said = "is not a state of route3d field watch"
            raise InputError(Problem(said, "--state", "name another file", file)) from error
        self._ahead = self.ahead if self._known.readings else None
