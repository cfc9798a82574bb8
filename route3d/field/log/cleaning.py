"""Rows to readings, one after another: the clock, the counter, starts and stops, and the gauge.

Everything here goes forward through the log, so that a whole file and a stream are judged by the
same rules. What only later rows show (that a stop had begun, that one row was a spike) is added to
the flags of rows already given, in ``amended``.

The figures are our judgment where no source stands beside them.
"""

from __future__ import annotations

import math
from collections import OrderedDict, deque
from collections.abc import Container, Iterable
from statistics import median

from route3d.field.log.decisions import Decisions
from route3d.field.log.pulled_run import PulledRun
from route3d.field.log.rows import BAD_TIME, BEYOND, NAN, LogRow
from route3d.field.readings import EVENT_KINDS, Event, EventKind, Reading
from route3d.planning.pull_plan.stops import FIRST_MOVE
from route3d.units import show

ABOVE_MACHINE = "above the machine's pull"
FLAGS: dict[str, str] = {
    "no reading": "No reading is written.",
    "reading not a number": "The reading is not a number.",
    "no footage": "No cable in is written.",
    "cable in not a number": "The cable in is not a number.",
    "speed not a number": "The speed is not a number.",
    "brake not a number": "The brake is not a number.",
    BAD_TIME: "The time cannot be read. The reading counts, without its time.",
    "duplicate": "The row repeats the one before.",
    "out of order": "The row is from earlier and came late.",
    "footage below 0": "The cable in is below 0.",
    "beyond the route": "The cable in is beyond the end of the route.",
    "footage back": "The cable in is less than before: pulled back, or the counter slipped.",
    "footage jumps": "The cable in jumps farther than the line can run.",
    "footage out of line": "The cable in does not fit between the rows around it.",
    "footage stands": "The cable in stands while the speed says that the cable moves.",
    "footage after a gap": "The cable in is from speed and time, and rows are missing before it.",
    "another pull": "The cable in begins again after the end: another pull.",
    "before the start": "The cable does not move yet.",
    "at standstill": "The cable stands still.",
    "first move": "First move from rest: friction at rest applies over the first {first_move}.",
    "saturated": "The gauge is at the end of its range.",
    "stuck": "The reading stays the same for longer than the marks of the dial explain.",
    "negative": "The reading is negative.",
    BEYOND: "The reading is beyond 10,000 kN (2,248,000 lbf), more than any gauge shows, and is "
    "kept as that.",
    ABOVE_MACHINE: "The reading is above what the machine can pull: wrong unit, or wrong gauge?",
    "spike": "One reading far from those around it.",
    "gauge not accurate": "The gauge does not read true in this gear.",
}
"""Why a reading is flagged, and the sentence for it."""
COUNTS_ANYWAY = frozenset({BAD_TIME})
"""Flags with which a reading may still be compared with a plan."""

# Flags may be added so many rows later: at 10 Hz a stuck gauge shows within minutes.
_RECENT = 5000
# A pause is a gap if it is so many times the usual one, and so many seconds, at least.
_GAP, _GAP_S = 10.0, 10.0
_USUAL = 5  # intervals before any is called usual
_HOUR = 3600.0
_DAY = 86400.0
# The counter may tremble so far back, m.
_TREMBLE = 0.1
# A counter that shows so little again, m or share of what it showed, was reset.
_RESET, _RESET_SHARE = 2.0, 0.05
_CONFIRMED = 3  # rows that bear out what one row suggests
# From this share of the route on, a counter at zero again is that of another pull.
_AT_END = 0.9
# The cable moves again once it is so far on, m, whatever the counter trembles.
_MOVED = (0.15, 1.0)
# It stands once no advance was seen for so many seconds, or times the usual between two.
_STANDS_S, _STANDS = 5.0, 3.0
# Rows this far apart (m) are written by hand: the same cable in twice is then a stop.
_SPARSE = 1.0
# The same reading for so many rows is doubtful once the plan changes by so many dial steps, or once
# it lasts so many times as long as such runs did before while the plan changes by half of that.
_SAME_ROWS, _SAME_STEPS, _SAME_LONGER = 6, 4.0, 12.0
# A counter may be off by so much, m and share of what it shows.
_COUNTER_OFF = (0.5, 0.02)
# A spike: closer rows than this (m), off by so many dial steps and this share of its neighbors.
_DENSE, _SPIKE_STEPS, _SPIKE_SHARE = 0.5, 5.0, 0.5
_TARE_ROWS = 1000
# The last reading before a standstill was taken at rest if it fell by so many dial steps and share.
_FALLEN_STEPS, _FALLEN_SHARE = 3.0, 0.3


class Cleaner:
    """Takes the rows of a log in order and gives readings and events.

    ``tare`` N as asked for, None to find it; ``step`` N between marks of the dial. ``in_order``
    says that rows were put in order of time before; ``doubted`` are rows whose cable in is known
    not to fit, and ``counts_down`` m the first figure of a counter that counts down.
    """

    def __init__(
        self,
        pulled: PulledRun,
        decisions: Decisions,
        *,
        tare: float | None = None,
        step: float | None = None,
        in_order: bool = False,
        doubted: Container[int] = (),
        counts_down: float | None = None,
    ) -> None:
        self.pulled, self.decisions = pulled, decisions
        self.step = step or pulled.step
        self.clock = _Clock(decisions, in_order)
        self.counter = _Counter(pulled, decisions, doubted, counts_down)
        self.motion = _Motion(self)
        self.gauge = _Gauge(self)
        self.tare = 0.0 if tare is None else tare
        self._find_tare = tare is None
        self.gear = ""
        self.amended: dict[int, tuple[str, ...]] = {}
        self._recent: OrderedDict[int, list[str]] = OrderedDict()
        self._events: list[Event] = []
        self._last: LogRow | None = None
        self._first: LogRow | None = None
        self._anew = False
        self._unknown_gears: set[str] = set()
        self._brake = NAN

    def add(self, row: LogRow) -> list[Reading | Event]:
        """The events and the reading of one row; nothing where the row says nothing."""
        self._events = []
        if row.says_nothing:
            self.decisions.note("not a reading", "Rows without a reading were left out.", row.line)
            return []
        self._first = self._first or row
        if self._anew:
            self._anew = False
            if self._last is not None and _same_reading(row, self._first):
                self.clock.late_until = self._last.time  # what follows was read before
        late = self.clock.runs(row, self.counter)
        if row.tells:
            self._happened(row)
        if not row.reads:
            return [*self._events]
        reading = self._read(row, late)
        self._last = row
        return [*self._events, reading]

    def amend(self, lines: Iterable[int], flag: str) -> None:
        """Add a flag to readings given before."""
        for line in lines:
            flags = self._recent.get(line)
            if flags is not None and flag not in flags:
                flags.append(flag)
                self.amended[line] = tuple(flags)
                self._note(flag, line)

    def begun_anew(self) -> None:
        """The file of the log begins again: with new rows, or with those given before."""
        self._anew = True

    def happened(self, kind: EventKind, pulled: float, time: float, line: int) -> None:
        """Something that the readings themselves show."""
        self._events.append(Event(kind, pulled, time, row=line))

    def _note(self, flag: str, line: int) -> None:
        words = FLAGS[flag].format(first_move=show(FIRST_MOVE, "length", self.pulled.system))
        self.decisions.note(flag, words, line)

    # --- what was written of the pull beside readings --------------------------------------------

    def _happened(self, row: LogRow) -> None:
        kind: EventKind = "note"
        for known in EVENT_KINDS:
            kind = known if row.kind == known else kind
        place = self.counter.at(row.pulled)
        words = row.note
        if kind == "gear" and row.gear and row.note:  # what is said beside the gear is a note
            self._events.append(Event("note", place, self.clock.now, row.note, row=row.line))
        if kind == "gear":
            words = self._gear_of(row.gear or row.note, row.line)
            self._change_gear(words, place)
        elif kind == "brake":
            self._brake = row.brake
        self._events.append(Event(kind, place, self.clock.now, words, row.brake, row.line))
        if kind == "start":
            self.motion.started(place)
        elif kind == "stop":
            self.motion.stopped(place)

    def _gear_of(self, text: str, line: int) -> str:
        named = self.pulled.gear_named(text)
        if named is not None:
            return named
        if text not in self._unknown_gears and len(self._unknown_gears) < 20:
            self._unknown_gears.add(text)
            said = f"Gear {text!r} is not a gear of the machine; its gauge is taken as true."
            self.decisions.note("gear not known", said, line)
        return text

    def _change_gear(self, gear: str, place: float) -> None:
        if gear and gear != self.gear and self.gear and self.motion.timeless:
            self.motion.started(place)  # a gear is changed at rest
        self.gear = gear or self.gear

    # --- a reading -------------------------------------------------------------------------------

    def _read(self, row: LogRow, late: bool) -> Reading:
        flags = list(row.troubles)
        time = self.clock.of(row) if late else self.clock.now
        if math.isnan(row.time):
            time = NAN
        if math.isnan(row.load) and math.isnan(row.time) and not row.troubles:
            place = self.counter.written(row)  # a line of a form that was left empty
        elif late:
            place = self.counter.written(row)
            flags.append("out of order")
        elif self._repeats(row):
            place = self.counter.at(NAN)
            flags.append("duplicate")
        else:
            place, wrong = self.counter.place(row, time)
            flags += [flag for flag in wrong if not (flag == "no footage" and _bad_place(flags))]
            if not wrong:
                flags += self.motion.moves(row, place, time)
        if row.gear:
            self._change_gear(self._gear_of(row.gear, row.line), place)
        gear = self.gear or self.pulled.gear_at(place)
        if not self.pulled.gauge_true(gear):
            flags.append("gauge not accurate")
        if row.brake == row.brake and row.brake != self._brake:
            self._brake = row.brake
            self._events.append(Event("brake", place, time, force=row.brake, row=row.line))
        if row.note and not row.tells and self._last is not None and row.note == self._last.note:
            said = "A note that stands again in the next row was kept once."
            self.decisions.note("note again", said, row.line)
        elif row.note and not row.tells:
            self._events.append(Event("note", place, time, row.note, row=row.line))
        if math.isnan(row.load):
            if not {"saturated", "reading not a number"} & set(flags):
                flags.append("no reading")
        else:
            flags += self.gauge.judged(row, place, clear=not (set(flags) - COUNTS_ANYWAY))
        for flag in flags:
            self._note(flag, row.line)
        self._recent[row.line] = flags
        if len(self._recent) > _RECENT:
            self._recent.popitem(last=False)
        used = not set(flags) - COUNTS_ANYWAY
        return Reading(place, row.load, time, gear, used, tuple(flags), row.line)

    def _repeats(self, row: LogRow) -> bool:
        last = self._last
        if last is None or math.isnan(row.time):
            return False
        return _same_reading(row, last) and (row.gear, row.note) == (last.gear, last.note)

    def settle_tare(self, loads: list[float], place: float, line: int) -> None:
        """Take the tare from the readings at rest before the start, where the rope was slack."""
        if not self._find_tare or not loads:
            return
        self._find_tare = False
        rest, system = median(loads), self.pulled.system
        planned = self.pulled.expected(max(place, 0.0))
        most = max(2.0 * self.step, 0.0 if math.isnan(planned) else 0.5 * planned)
        text = show(rest, "force", system)
        if abs(rest) > most:
            said = f"The gauge read {text} at rest before the start: the rope was not slack. "
            self.decisions.note("tare", said + "Not taken as tare; give it with --tare.", line)
        elif rest:
            self.tare = rest
            said = f"The gauge read {text} at rest before the start. Taken as tare."
            self.decisions.note("tare", said, line)


def _same(a: float, b: float) -> bool:
    return a == b or (math.isnan(a) and math.isnan(b))


def _same_reading(row: LogRow, other: LogRow) -> bool:
    """Whether two rows give the same reading at the same place and time."""
    pairs = (row.time, other.time), (row.pulled, other.pulled), (row.load, other.load)
    return all(_same(a, b) for a, b in pairs)


def _bad_place(flags: list[str]) -> bool:
    return "cable in not a number" in flags or "speed not a number" in flags


class _Clock:
    """A clock that runs forward only, from the clock of the log. ``now`` s since the first row."""

    def __init__(self, decisions: Decisions, in_order: bool) -> None:
        self.decisions, self.in_order = decisions, in_order
        self.now = NAN
        self.usual = NAN
        self.late_until = -math.inf  # on the clock of the log
        self._first = NAN
        self._shift = 0.0
        self._count = 0

    def of(self, row: LogRow) -> float:
        """The time of a row on this clock."""
        return row.time + self._shift - self._first

    def runs(self, row: LogRow, counter: _Counter) -> bool:
        """Go on to a row; true, and no further, where it is from earlier and came late."""
        if math.isnan(row.time):
            return False
        if math.isnan(self._first):
            self._first, self.now = row.time, 0.0
            return False
        if row.time <= self.late_until:
            return True
        self.late_until = -math.inf
        step = self.of(row) - self.now
        if step < -1e-6:
            if not self.in_order and counter.behind(row):
                return True
            self._set_back(row, step)
        elif self._count >= _USUAL:
            self._set_forward(row, step, counter)
        passed = self.of(row) - self.now
        if passed > 0:
            bounded = passed if math.isnan(self.usual) else min(passed, 5.0 * self.usual)
            self.usual = bounded if math.isnan(self.usual) else 0.9 * self.usual + 0.1 * bounded
            self._count += 1
        self.now = self.of(row)
        return False

    def _set_back(self, row: LogRow, step: float) -> None:
        usual = 0.0 if math.isnan(self.usual) else self.usual
        if row.family == "day" and 0 <= step + _DAY < _DAY / 2:
            self._shift += _DAY
            self.decisions.note("midnight", "The clock passed midnight.", row.line)
        elif row.half_day and 0 <= step + _DAY / 2 < _DAY / 4:
            self._shift += _DAY / 2
            said = "The times have no AM or PM; they were read as going on past 12:59."
            self.decisions.note("12-hour clock", said, row.line)
        else:
            self._shift += usual - step
            back = _duration(usual - step)
            said = f"The clock was set back by {back}. Time goes on from the row before."
            self.decisions.note("clock set back", said, row.line)

    def _set_forward(self, row: LogRow, step: float, counter: _Counter) -> None:
        slack = max(2.0, 2.0 * self.usual)
        if abs(step - self.usual - _HOUR) <= slack < _HOUR / 10 and counter.one_step(row):
            self._shift -= step - self.usual
            said = (
                f"The clock was set forward by {_duration(step - self.usual)}: the cable in goes "
            )
            said += "on as if no time had passed. Time goes on from the row before."
            self.decisions.note("clock set forward", said, row.line)
        elif step > max(_GAP_S, _GAP * self.usual):
            said = f"No row for {_duration(step)} before this one."
            self.decisions.note("gap in time", said, row.line)


def _duration(seconds: float) -> str:
    """A time that passed, as people say it."""
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    parts = [f"{hours} h" if hours else "", f"{minutes} min" if minutes else ""]
    parts.append(f"{rest} s" if rest or not whole else "")
    return " ".join(part for part in parts if part)


class _Counter:
    """Cable in, from the counter or from speed and time. ``top`` m is the most so far."""

    def __init__(
        self,
        pulled: PulledRun,
        decisions: Decisions,
        doubted: Container[int],
        counts_down: float | None,
    ) -> None:
        self.pulled, self.decisions, self.doubted = pulled, decisions, doubted
        self.top = NAN
        self.usual = NAN  # m between rows while it moves
        self.fine = math.inf  # m, the least step seen
        self._count = 0
        self._time = NAN
        self._shift, self._sign = 0.0, 1.0
        if counts_down is not None:
            self._down_from(counts_down, 0)
        self._pending: tuple[float, float] | None = None
        self._low: list[float] = []
        self._falls: list[float] = []
        self._over = False
        self._speed: tuple[float, float] | None = None
        self._run, self._lost = 0.0, False
        # half of the last figure people write
        self._rounding = 0.5 * (0.3048 if pulled.system == "US" else 1.0)

    def at(self, written: float) -> float:
        """The cable in of an event: as written, else the most so far."""
        return self.top if math.isnan(written) else self._sign * written + self._shift

    def written(self, row: LogRow) -> float:
        """The cable in of a row that is not taken into account."""
        return self._sign * row.pulled + self._shift

    def behind(self, row: LogRow) -> bool:
        """Whether a row is from where the cable was before; not so a counter that began anew."""
        place = self.written(row)
        return not self._begins_again(row.pulled) and place < self.top - 1e-6

    def one_step(self, row: LogRow) -> bool:
        """Whether the cable has moved on by about one usual step."""
        moved = self.written(row) - self.top
        return 0 < moved <= 3.0 * self.usual + 2.0 * min(self.fine, 0.5)

    def place(self, row: LogRow, time: float) -> tuple[float, list[str]]:
        """The cable in of a row, and what is wrong with it."""
        if math.isnan(row.pulled) and not math.isnan(row.speed):
            return self._by_speed(row, time)
        if math.isnan(row.pulled):
            return NAN, ["no footage"]
        place = self.written(row)
        if self._over:
            return place, ["another pull"]
        if row.line in self.doubted:
            return place, ["footage out of line"]
        if place < 0:
            return place, ["footage below 0"]
        length, system = self.pulled.length, self.pulled.system
        if place > length:
            if place > length + self._rounding:
                return place, ["beyond the route"]
            end = show(length, "length", system)
            said = f"Cable in rounded beyond the end was taken as the end, {end}."
            self.decisions.note("end rounded", said, row.line)
            place = length
        if math.isnan(self.top):
            self._on_to(place, time)
            return place, []
        if place < self.top - max(_TREMBLE, min(self.fine, 0.5)):
            return self._back(row, place, time)
        self._low, self._falls = [], []
        if place - self.top > self._reach(time):
            before = self._pending
            self._pending = (place, time)
            if before is None or not 0 <= place - before[0] <= self._reach_from(before[1], time):
                return place, ["footage jumps"]
            text = show(place - self.top, "length", system)
            said = f"The cable in jumped by {text} and went on from there: the counter was "
            self.decisions.note("footage corrected", said + "corrected, or had slipped.", row.line)
            self._count = 0
        self._pending = None
        self._on_to(place, time)
        return place, []

    def _on_to(self, place: float, time: float) -> None:
        moved = place - self.top
        if moved > 1e-3:
            bounded = moved if math.isnan(self.usual) else min(moved, 5.0 * self.usual)
            self.usual = bounded if math.isnan(self.usual) else 0.9 * self.usual + 0.1 * bounded
            self.fine = min(self.fine, moved)
            self._count += 1
        self.top = place if math.isnan(self.top) else max(place, self.top)
        self._time = time

    def _reach(self, time: float) -> float:
        return self._reach_from(self._time, time)

    def _reach_from(self, then: float, time: float) -> float:
        """How far the cable can have come, m; without times, by what is usual."""
        if not math.isnan(time - then):
            late = 60.0 if time % 60 == 0 and then % 60 == 0 else 1.0  # times in whole minutes
            return self.pulled.fastest * (time - then + late) + max(1.0, 3.0 * min(self.fine, 1.0))
        if self._count < _USUAL:
            return math.inf
        return 20.0 * self.usual + 5.0

    # --- a counter that goes back ----------------------------------------------------------------

    def _begins_again(self, raw: float) -> bool:
        shown = self._sign * (self.top - self._shift)
        return shown > 5.0 * _RESET and self._sign * raw <= max(_RESET, _RESET_SHARE * shown)

    def _back(self, row: LogRow, place: float, time: float) -> tuple[float, list[str]]:
        self._pending = None
        again = self._begins_again(row.pulled) or bool(self._low)
        if again and (not self._low or row.pulled >= self._low[-1]):
            self._low.append(row.pulled)
        else:
            self._low = []
        enough = _CONFIRMED if not math.isnan(time) else 2
        if len(self._low) >= enough and self.top >= _AT_END * self.pulled.length:
            self._over = True
            return place, ["another pull"]
        if len(self._low) >= enough:
            self._shift += self.top - self.written_low()
            text = show(self.top, "length", self.pulled.system)
            said = f"The counter was reset. {text} was added from here on."
            self.decisions.note("counter reset", said, row.line)
            self._low = []
            place = self.written(row)
            self._on_to(place, time)
            return place, []
        if self._count == 0 and self._falling(row.pulled):
            self._down_from(self.top, row.line)
            place = self.written(row)
            self.top = max(place, 0.0)
            self._time = time
            return place, []
        return place, ["footage back"]

    def written_low(self) -> float:
        """Where a counter that was reset stood at its first row, as cable in."""
        return self._sign * self._low[0] + self._shift

    def _falling(self, raw: float) -> bool:
        """Whether nothing but a fall was seen since the first row, of 3 m and more."""
        if self._falls and raw > self._falls[-1]:
            self._falls = []
            return False
        self._falls = [*self._falls[-_CONFIRMED:], raw]
        return len(self._falls) > _CONFIRMED and self.top - self.written_fall() > 3.0

    def written_fall(self) -> float:
        """Where a falling counter stands, as cable in."""
        return self._sign * self._falls[-1] + self._shift

    def _down_from(self, first: float, line: int) -> None:
        self._sign, self._shift = -1.0, first
        text = show(first, "length", self.pulled.system)
        said = f"The counter counts down from {text}. Cable in is what it has gone down by."
        self.decisions.note("counter counts down", said, line)

    # --- from speed and time ---------------------------------------------------------------------

    def _by_speed(self, row: LogRow, time: float) -> tuple[float, list[str]]:
        if math.isnan(time):
            return NAN, ["no footage"]
        if self._speed is not None:
            passed = time - self._speed[1]
            usual = self._usual_time
            if self._count >= _USUAL and passed > max(_GAP_S, _GAP * usual) and not self._lost:
                still = row.speed == 0 and self._speed[0] == 0
                self._lost = not still
            self._run += 0.5 * (max(row.speed, 0.0) + max(self._speed[0], 0.0)) * passed
            self._usual_time = (
                passed if math.isnan(usual) else 0.9 * usual + 0.1 * min(passed, 5.0 * usual)
            )
        else:
            said = "Cable in was worked out from speed and time, from 0 at the first row."
            self.decisions.note("footage from speed", said, row.line)
        self._speed = (row.speed, time)
        if self._lost:
            return self._run, ["footage after a gap"]
        if self._run > self.pulled.length + self._rounding:
            return self._run, ["beyond the route"]
        place = min(self._run, self.pulled.length)
        self._on_to(place, time)
        return place, []

    _usual_time = NAN


class _Motion:
    """Whether the cable moves: before the start, moving, or at a standstill."""

    def __init__(self, cleaner: Cleaner) -> None:
        self.cleaner = cleaner
        self.state = ""
        self.timeless = True
        self._from = -math.inf  # where it last started from rest
        self._first = NAN
        self._advanced: tuple[float, float] = (NAN, NAN)  # place and time of the last advance
        self._usual = NAN  # s between advances
        self._grace: deque[int] = deque(maxlen=_RECENT)
        self._rest: list[float] = []
        self._rest_line = 0
        # line and load of the last advances
        self._advances: deque[tuple[int, float]] = deque(maxlen=2)

    def moves(self, row: LogRow, place: float, time: float) -> list[str]:
        """What a row with a sound place says of the motion: flags."""
        if not math.isnan(time):
            self.timeless = False
        if not self.state:
            self._first = place
            self._advanced = (place, time)
            self.state = "before" if place <= FIRST_MOVE else "moving"
            if self.state == "moving":  # a log that begins in the middle of a pull
                return []
        if self.state == "before":
            return self._before(row, place, time)
        if self.state == "standing":
            return self._standing(row, place, time)
        return self._moving(row, place, time)

    def _needed(self) -> float:
        """How far the cable must have come to have moved, m."""
        return min(max(_MOVED[0], 2.0 * self.cleaner.counter.fine), _MOVED[1])

    def _before(self, row: LogRow, place: float, time: float) -> list[str]:
        if place - self._first > self._needed():
            self._start(place, time, row.line, self._first)
            return self._first_move(place)
        if not math.isnan(row.load) and len(self._rest) < _TARE_ROWS:
            self._rest.append(row.load)
            self._rest_line = self._rest_line or row.line
        return ["before the start"]

    def _moving(self, row: LogRow, place: float, time: float) -> list[str]:
        at, then = self._advanced
        if place > at + 1e-3 or math.isnan(at):
            passed = time - then
            if passed > 0:
                known = not math.isnan(self._usual)
                bounded = min(passed, 5.0 * self._usual) if known else passed
                self._usual = 0.9 * self._usual + 0.1 * bounded if known else bounded
            self._advanced = (place, time)
            self._advances.append((row.line, row.load))
            self._grace.clear()
            return self._first_move(place)
        if row.speed > 0.01:
            return ["footage stands"]
        sparse = self.cleaner.counter.usual > _SPARSE
        if not math.isnan(time - then) and not sparse:
            self._grace.append(row.line)
            usual = (self._usual, self.cleaner.clock.usual)
            waits = (_STANDS_S, _STANDS * usual[0], 2.0 * usual[1])
            if time - then <= max(w for w in waits if not math.isnan(w)):
                return self._first_move(place)
        self.cleaner.amend([x for x in self._grace if x != row.line], "at standstill")
        self._grace.clear()
        self._relaxed()
        self.cleaner.happened("stop", at, then, row.line)
        self.state = "standing"
        return ["at standstill"]

    def _standing(self, row: LogRow, place: float, time: float) -> list[str]:
        at, then = self._advanced
        if math.isnan(at):
            self._advanced = (place, time)
            return ["at standstill"]
        moved = place - at
        if moved <= self._needed():
            return ["at standstill"]
        counter = self.cleaner.counter
        late = moved > max(FIRST_MOVE, 20.0 * min(counter.fine, 1.0)) and counter.usual <= _SPARSE
        if late and not math.isnan(time - then):
            text = show(moved, "length", self.cleaner.pulled.system)
            said = (
                f"The cable in stood and then jumped by {text}: the counter had stopped counting."
            )
            self.cleaner.decisions.note("footage stood", said, row.line)
            self._start(place, time, row.line, place)
            return ["footage jumps"]
        self._start(place, time, row.line, at)
        return self._first_move(place)

    def _start(self, place: float, time: float, line: int, origin: float) -> None:
        if self.state == "before":
            # one row at rest may be the first of the pull: no tare by it
            loads = self._rest if len(self._rest) >= _CONFIRMED else []
            self.cleaner.settle_tare(loads, origin, self._rest_line)
        self.cleaner.happened("start", origin, time, line)
        self.state, self._from = "moving", origin
        self._advanced = (place, time)
        self._grace.clear()

    def _relaxed(self) -> None:
        """The last advance before a standstill was read at rest where its load has fallen."""
        if len(self._advances) == 2:
            (_, before), (line, last) = self._advances
            if before - last > max(_FALLEN_STEPS * self.cleaner.step, _FALLEN_SHARE * before):
                self.cleaner.amend([line], "at standstill")
        self._advances.clear()

    def _first_move(self, place: float) -> list[str]:
        return ["first move"] if place - self._from < FIRST_MOVE else []

    def started(self, place: float) -> None:
        """The log says that the pull starts with so much cable in."""
        if self.state in ("", "before"):
            self.cleaner.settle_tare(self._rest, 0.0, self._rest_line)
        at = 0.0 if math.isnan(place) else place
        self.state, self._from = "moving", at
        self._advanced = (at if self._advanced[0] != self._advanced[0] else self._advanced[0], NAN)
        self._grace.clear()

    def stopped(self, place: float) -> None:
        """The log says that the pull stops with so much cable in."""
        if self.state != "before":
            if self.state == "moving":
                self._relaxed()
            self.state = "standing"
            if not math.isnan(place):
                self._advanced = (place, self._advanced[1])
        self._grace.clear()


class _Gauge:
    """What is wrong with a reading by itself and by those around it."""

    def __init__(self, cleaner: Cleaner) -> None:
        self.cleaner = cleaner
        self._largest = -math.inf
        self._same: deque[int] = deque(maxlen=_RECENT)
        self._value, self._from, self._to = NAN, NAN, NAN
        self._bad = ""
        self._spans: list[float] = [0.0, 0.0]  # number of ended runs, m in all
        self._two: deque[tuple[int, float, float]] = deque(maxlen=2)

    def judged(self, row: LogRow, place: float, *, clear: bool) -> list[str]:
        """Flags of a reading; only one ``clear`` of others is compared with its neighbors."""
        flags = ["negative"] if row.load < -0.5 * self.cleaner.step else []
        if row.load > self.cleaner.pulled.most_load and BEYOND not in row.troubles:
            flags.append(ABOVE_MACHINE)
        if not clear or flags:
            return flags
        flags += self._stays(row, place)
        self._jumps(row, place)
        self._largest = max(self._largest, row.load)
        return flags

    def _stays(self, row: LogRow, place: float) -> list[str]:
        if row.load != self._value:
            if not math.isnan(self._value) and not self._bad:
                self._spans[0] += 1.0
                self._spans[1] += place - self._from
            self._value, self._from, self._bad = row.load, place, ""
            self._same.clear()
            self._same.append(row.line)
            return []
        self._same.append(row.line)
        if not self._bad and self._too_long(place):
            peak = row.load >= self._largest and self._spans[0] > 0
            self._bad = "saturated" if peak else "stuck"
            self.cleaner.amend([x for x in self._same if x != row.line], self._bad)
        return [self._bad] if self._bad else []

    def _too_long(self, place: float) -> bool:
        if len(self._same) < _SAME_ROWS:
            return False
        span, step = place - self._from, self.cleaner.step
        changes = self._planned_change(place)
        if changes > _SAME_STEPS * step:
            return True
        count, total = self._spans
        if count < _CONFIRMED or span < FIRST_MOVE or not total:
            return False
        longer = span * count / total
        if math.isnan(changes):
            return longer > 2.0 * _SAME_LONGER
        return longer > _SAME_LONGER and changes > 0.5 * _SAME_STEPS * step

    def _planned_change(self, place: float) -> float:
        """By how much the reading should have changed since it stays the same, N; NaN if unknown.

        Away from the ends of the stretch, for the cable in may be off; and in the ratio in which
        the pull is lighter than planned.
        """
        off = _COUNTER_OFF[0] + _COUNTER_OFF[1] * place
        start, end = self._from + off, place - off
        if end <= start:
            return 0.0
        pulled = self.cleaner.pulled
        planned = pulled.expected(0.5 * (start + end))
        lighter = min(max(self._value, 0.0) / planned, 1.0) if planned > 0 else 1.0
        return lighter * pulled.planned_range(start, end)

    def _jumps(self, row: LogRow, place: float) -> None:
        """Flag the row before where it alone is far from those on both sides."""
        if len(self._two) == 2:
            (_, at0, y0), (line, at1, y1) = self._two
            off = min(y1 - y0, y1 - row.load) if y1 > y0 else min(y0 - y1, row.load - y1)
            near = max(abs(y0), abs(row.load))
            far = off > max(_SPIKE_STEPS * self.cleaner.step, _SPIKE_SHARE * near)
            if far and place - at0 <= 2.0 * _DENSE and abs(y0 - row.load) < 0.3 * off:
                self.cleaner.amend([line], "spike")
                self._two.popleft()
                self._two.clear()
                self._two.append((line, at0, y0))
            del at1
        self._two.append((row.line, place, row.load))
