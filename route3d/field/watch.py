"""A pull followed reading by reading: what each means, what departs, and what lies ahead.

Every reading is judged; those at one place of the cable are joined before anything is learned from
them, so that memory does not grow with the length of a log. It never replaces the limiter, the
operator or the word that stops.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from route3d.errors import InputError, Problem
from route3d.field.departures import Departure, detector
from route3d.field.forecast import Ahead, Forecaster
from route3d.field.judgment import Judgment
from route3d.field.readings import EVENT_KINDS, Event, Reading
from route3d.planning.pull_plan.dial import first_move_mark, mark_below
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.plan import Plan

NOTICE = 15.0
"""A planned stop or gear change is announced this much cable before it, m (own judgment)."""
CHANCE = 0.2
"""From this chance of Stop ahead on, a reading is not called on plan without it (own judgment)."""
BACK = 3
"""Readings on plan again, in a row, that end a call to stop."""
State = Literal[
    "on plan", "recorded", "not judged", "stop ahead", "departs", "caution", "low", "fall",
    "first move", "jump", "drop", "stop",
]  # fmt: skip
"""What a reading asks for, worse and worse."""
# Flags of a reading that is none, whatever it shows: it cannot pass Stop.
_NO_READING = frozenset({"no reading", "reading not a number", "spike"})
_AT_REST = frozenset({"before the start", "at standstill"})
_NO_PLACE = frozenset(
    {"beyond the route", "footage back", "footage out of line", "another pull", "out of order"}
)
# No plan speaks of these places: only Stop is judged there.
_OFF_ROUTE = frozenset({"beyond the route", "footage below 0", "another pull"})
_FIRST_MOVE = "first move"
_PLANNED_START = 0.5  # m from a planned start that is still that start
_PLANNED = ("gear change", "stop", "end")
_LOOSENING = ("brake", "lubricant", "start", "gear")
_HERE = 0.05
# Later rows call a reading a spike within so many of them.
_RECENT = 5000


@dataclass(frozen=True, eq=False)
class Seen:
    """What one reading means.

    ``load`` N is what it is judged by: the higher of the reading with and without its tare.
    ``state`` goes by the reading, what was called before and still stands, and what lies ahead.
    ``called`` are the departures it made known, ``ahead`` the forecast from this place on, None
    before the first reading that counts and where the readings are no longer those of a pull, and
    ``fresh`` whether that is new. ``coming`` is the next planned stop,
    gear change or the end, ``announced`` whether it has just come near.
    """

    reading: Reading
    load: float
    judgment: Judgment
    state: State
    called: tuple[Departure, ...]
    ahead: Ahead | None
    fresh: bool
    coming: GaugeRow | None
    announced: bool

    @property
    def at_rest(self) -> bool:
        """Whether the cable stands."""
        return not _AT_REST.isdisjoint(self.reading.flags)

    @property
    def first_move(self) -> bool:
        """Whether Caution is the limit of a first move: the cable stands, or has just started."""
        return self.at_rest or _FIRST_MOVE in self.reading.flags


@dataclass(slots=True)
class _Call:
    """A call to stop that stands until ``BACK`` readings in a row are as before it.

    For a jump these are at most ``back_at`` N above the plan; ``count`` of them were seen, the last
    ``at`` m.
    """

    kind: Literal["jump", "drop"]
    back_at: float
    count: int = 0
    at: float = -math.inf


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
        self.plan, self.step = plan, gauge_step
        self.forecaster = Forecaster.of(plan, gauge_step)
        self._detector = detector(plan.pull, gauge_step)
        self._departures = self._detector.start()
        self._known = self.forecaster.start()
        self._place: _Place | None = None
        self._ahead: Ahead | None = None
        self._told: set[float] = set()
        self._history: list[list[Any]] = []
        self._over: dict[int, float] = {}
        self._call: _Call | None = None
        self._started = self._stands = math.nan
        self.called: list[Departure] = []
        self.readings = self.passed = self.last_row = 0
        self.pulled, self.largest, self.largest_at = 0.0, 0.0, 0.0
        self.read_to = 0.0
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
        reading = self._moving(reading)
        load = max(reading.load, reading.load - tare)
        judgment = self._judged(reading, load)
        if _NO_PLACE.isdisjoint(reading.flags):
            self.read_to = max(self.read_to, reading.pulled)
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
        self._back(reading, load, judgment)
        ahead = self._from_here(reading.pulled, judgment)
        state = self._state(reading, judgment, called, ahead)
        if state in ("drop", "low", "not judged"):
            ahead, fresh = None, False
        coming = self._coming(reading.pulled)
        announced = coming is not None and self._announces(coming, reading.pulled)
        return Seen(reading, load, judgment, state, called, ahead, fresh, coming, announced)

    def event(self, event: Event) -> tuple[Departure, ...]:
        """Something that happened between readings; what the readings before it made known."""
        self.last_row = max(self.last_row, event.row)
        if event.kind == "stop":
            self._started = math.nan
        if event.kind not in _LOOSENING:
            return ()
        called = self._closed()
        self._loosened(event)
        if event.kind == "start":
            self._call = None
            self._started = self.pulled if math.isnan(event.pulled) else event.pulled
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
        """By the gauge table, Stop at a mark of the dial; a first move by its own limit."""
        judged = self.forecaster.limits.judge(reading.pulled, load)
        stop = mark_below(judged.stop, self.step)
        rest = not _AT_REST.isdisjoint(reading.flags)
        if not rest and _FIRST_MOVE not in reading.flags:
            return judged.held_to(load, stop, self.step)
        start = reading.pulled if rest or math.isnan(self._started) else self._started
        most, first_stop = self._first_move(start)
        judged = judged.held_to(load, min(stop, first_stop), self.step)
        if rest and judged.state == "low":  # at rest the rope may be slack
            judged = replace(judged, state="on plan")
        return judged.first_move(load, most, self.step)

    def _first_move(self, start: float) -> tuple[float, float]:
        """What a first move from ``start`` m may read up to, and its Stop, N: as on the cards."""
        for row in self.plan.gauge:
            if row.first_move is not None and abs(row.pulled - start) <= _PLANNED_START:
                stop = math.inf if row.first_stop is None else row.first_stop
                return first_move_mark(row.first_move, stop, self.step), mark_below(stop, self.step)
        for there in self.plan.accidents:
            if there.gear is not None and there.start - _HERE <= start <= there.end + _HERE:
                return mark_below(there.most, self.step), math.inf
        return self.plan.pace.moves.load_at(start), math.inf

    def _moving(self, reading: Reading) -> Reading:
        """One on its way from rest is a first move, also where the log reader waits for more."""
        rest = _AT_REST.intersection(reading.flags)
        if not rest:
            self._stands = math.nan
        elif math.isnan(self._stands):
            self._stands = reading.pulled
        elif reading.pulled > self._stands + _HERE:
            flags = tuple(_FIRST_MOVE if flag in rest else flag for flag in reading.flags)
            return replace(reading, flags=flags)
        return reading

    def _state(
        self,
        reading: Reading,
        judgment: Judgment,
        called: tuple[Departure, ...],
        ahead: Ahead | None,
    ) -> State:
        """The worst of the reading itself, what was called, and what lies ahead."""
        if judgment.state == "stop":
            return "stop"
        if self._call is not None:
            return self._call.kind
        if not _OFF_ROUTE.isdisjoint(reading.flags):
            return "not judged"
        if judgment.state == "first move":
            return "first move"
        if any(found.kind == "jump" and found.size < 0 for found in called):
            return "fall"
        if not judgment.accurate or "gauge not accurate" in reading.flags:
            return "recorded"
        if judgment.state != "on plan":
            return judgment.state
        if called:
            return "departs"
        if not _AT_REST.isdisjoint(reading.flags):
            return "recorded"
        return "stop ahead" if ahead is not None and ahead.chance >= CHANCE else "on plan"

    def _calls(self, called: tuple[Departure, ...], pulled: float, load: float) -> None:
        """Let a drop, or a jump up, stand until the readings are back."""
        for found in called:
            if found.kind == "drop":
                self._call = _Call("drop", math.nan)
            elif found.kind == "jump" and found.size > 0 and not self._dropped:
                away = load - self.forecaster.limits.judge(pulled, load).expected
                self._call = _Call("jump", away - 0.5 * found.size)

    @property
    def _dropped(self) -> bool:
        return self._call is not None and self._call.kind == "drop"

    def _back(self, reading: Reading, load: float, judgment: Judgment) -> None:
        """End a call once enough readings, at as many places, are as before it."""
        call = self._call
        if call is None or not (_NO_READING | _AT_REST).isdisjoint(reading.flags):
            return
        if call.kind == "drop":
            back = judgment.state == "on plan"
        else:
            back = load - judgment.expected <= call.back_at
        if not back:
            call.count = 0
        elif reading.pulled >= call.at + self.forecaster.wide:
            call.count, call.at = call.count + 1, reading.pulled
        if call.count >= BACK:
            self._call = None

    def _from_here(self, pulled: float, judgment: Judgment) -> Ahead | None:
        """The forecast as last made, of places beyond ``pulled`` m only."""
        ahead = self._ahead
        if ahead is None:
            return None
        here = min(pulled, float(ahead.pulled[-1]))
        if here > ahead.pulled[0]:
            beyond = ahead.pulled > here
            low, mid, high = (
                np.concatenate(([np.interp(here, ahead.pulled, y)], y[beyond]))
                for y in (ahead.low, ahead.mid, ahead.high)
            )
            places = np.concatenate(([here], ahead.pulled[beyond]))
            ahead = replace(
                ahead,
                pulled=places,
                low=low,
                mid=mid,
                high=high,
                peak=float(mid.max()),
                peak_at=float(places[mid.argmax()]),
            )
        stop_from = None if ahead.stop_from is None else max(ahead.stop_from, here)
        safe = None
        if stop_from is not None:
            safe = self.plan.pace.moves.last_safe(here, stop_from)
        above = judgment.state in ("caution", "stop")
        return replace(
            ahead,
            stop_at=None if ahead.stop_at is None else max(ahead.stop_at, here),
            stop_from=stop_from,
            caution_at=None if ahead.caution_at is None or above else max(ahead.caution_at, here),
            last_safe=safe,
        )

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
        called = self._learned(place.pulled, place.mean)
        self._calls(called, place.pulled, place.mean)
        return called

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
        if event.kind == "start":  # a rope that is still without load is called again
            self._departures = self._departures._replace(low=0)
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
        place, call = self._place, self._call
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
            "read_to_m": self.read_to,
            "started_m": _json(self._started),
            "stands_m": _json(self._stands),
            "call": call and [call.kind, _json(call.back_at), call.count, _json(call.at)],
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
            self.read_to = float(kept["read_to_m"])
            self._started, self._stands = _figure(kept["started_m"]), _figure(kept["stands_m"])
            if kept["call"] is not None:
                kind, back_at, seen, last = kept["call"]
                last = -math.inf if last is None else float(last)
                self._call = _Call(
                    "drop" if kind == "drop" else "jump", _figure(back_at), int(seen), last
                )
            if kept["place"] is not None:
                at, total, count = kept["place"]
                self._place = _Place(float(at), float(total), int(count))
        except (KeyError, TypeError, ValueError) as error:
            said = "is not a state of route3d field watch"
            raise InputError(Problem(said, "--state", "name another file", file)) from error
        self._ahead = self.ahead if self._known.readings else None


def _json(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _figure(value: Any) -> float:
    return math.nan if value is None else float(value)
