"""What the machine's gauge should read: a table by cable length, with caution and stop.

Caution is what the machine feels with the head here if every friction were higher by the band
allowed for, or if the reels were held as hard as their order allows. Stop is where the first limit
of cable, head, rope or line is reached, whatever makes the cable behind it hard to pull
(``planning.stop_reading``).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from route3d.checks.finding import Finding
from route3d.checks.limits import limit_name
from route3d.geometry.fillet import pull_stations
from route3d.geometry.path import ARC
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import feed_factor
from route3d.mechanics.pull import Pull
from route3d.mechanics.rope_scenarios import head_track
from route3d.model.allowances import Allowances
from route3d.model.machine import Gear
from route3d.phrase import Phrase, literal, say
from route3d.planning.margins import BrakeWindow
from route3d.planning.pull_plan.gears import GearChange, GearPlan
from route3d.planning.pull_plan.stop_reading import SLICK, Reached, Stops, stop_readings

# Places this close (m) are one row: nobody marks a rope more finely.
_ONE_PLACE = 0.05
MOST_BENDS = 60


@dataclass(frozen=True, slots=True)
class GaugeRow:
    """One line of the table: ``pulled`` m of cable in, the head at ``station`` m of the route.

    ``kind`` is "start", "step", "bend", "pull point", "gear change", "stop" or "end", and ``place``
    says which, "" for a step. Loads at the machine in N: ``expected``, between ``expected_low`` and
    ``expected_high`` as the reels are held within the brake window; ``caution``; and ``stop``, at
    which ``limit`` ("conductor", "grip", "sidewall", "sheave", "rope", "head fitting" or "line
    fitting") is reached at ``limit_place``. A plan that exceeds a limit has ``stop`` below
    ``expected``. ``stalls`` N is what the gear can pull: no stop, for nothing protects the cable
    by it. ``slick`` is the stop should friction be lower than planned.

    ``gear`` is the one from here on, None where none is planned; ``readable`` whether the gauge
    reads true then. ``first_move`` N is the load at a planned start from rest here, and
    ``first_stop`` what that first move must stay below: its own stop, in a plan the lower of that
    and of the moving cable's over the first 3 m; None where none is planned. ``hidden`` names the
    places whose limit the gauge cannot show with the head here.
    """

    pulled: float
    station: float
    place: str
    kind: str
    expected: float
    expected_low: float
    expected_high: float
    caution: float
    stop: float
    limit: str
    limit_place: str
    gear: Gear | None
    readable: bool
    stalls: float
    slick: Reached
    first_move: float | None = None
    first_stop: float | None = None
    hidden: tuple[str, ...] = ()

    @property
    def exceeded(self) -> bool:
        """True where the planned pull itself takes the machine above the stop."""
        return self.expected > self.stop * (1 + 1e-9)

    @property
    def ratio(self) -> float:
        """The expected reading over the stop; infinite where nothing may be pulled at all."""
        return self.expected / self.stop if self.stop > 0 else math.inf


def gauge_table(
    pull: Pull,
    gear_plan: GearPlan | None,
    allowances: Allowances,
    step: float,
    *,
    stops: Sequence[float] = (),
    head_rating: float = math.inf,
    line_rating: float = math.inf,
    most_bends: int = MOST_BENDS,
    window: BrakeWindow | None = None,
    drawn_on: bool = False,
) -> tuple[GaugeRow, ...]:
    """Rows at every ``step`` m of cable, every bend, pull point, gear change and end.

    Of more than ``most_bends`` bends, those of the highest sidewall pressure.

    ``stops`` m of cable in are other planned stops, such as those for lubricant.

    ``head_rating`` N is the weakest fitting at the cable head, ``line_rating`` N the machine load
    at which the weakest of sheaves, boom and the like is at its rating. ``window`` is what the
    reels may be held with; without one they are held as planned. ``drawn_on`` where the cable
    starts from rest once more at the end, to be drawn on beyond a full conduit. Empty without a
    rope, for then nothing is known of the load. Common practice, no source.
    """
    if pull.run.rope is None:
        return ()
    if not step > 0:
        raise ValueError(f"step must be positive, not {step!r}")
    marks = _marks(pull, gear_plan, step, stops, most_bends)
    track = head_track(pull, np.array([_pulled(pull, m.pulled) for m in marks]))
    low, high = _held(pull, window)
    factors = np.array([1.0, 1.0, 1.0, 1.0 + allowances.friction_band, pull.practice.restart])
    starts = np.array([low, pull.start_tension, high, pull.start_tension, pull.start_tension])
    loads = track.loads(np.broadcast_to(factors, (len(marks), 5)), starts).machine
    found = stop_readings(track, head_rating=head_rating, line_rating=line_rating)
    resting = (*_FROM_REST, "end") if drawn_on else _FROM_REST
    return tuple(
        _row(pull, gear_plan, mark, read, reached, rests=mark.kind in resting)
        for mark, read, reached in zip(marks, loads.tolist(), found, strict=True)
    )


@dataclass(frozen=True, eq=False)
class GaugeBand:
    """What the gauge should read with the head at each of m places, as the rows of the table.

    All (m,): ``pulled`` m of cable in, and in N ``expected``, ``low`` and ``high`` as the reels are
    held within the brake window, ``caution`` and ``stop``; ``limit`` is what is reached at stop.
    """

    pulled: Floats
    expected: Floats
    low: Floats
    high: Floats
    caution: Floats
    stop: Floats
    limit: tuple[Reached, ...]


def gauge_band(
    pull: Pull,
    pulled: Floats,
    allowances: Allowances,
    window: BrakeWindow,
    *,
    head_rating: float = math.inf,
    line_rating: float = math.inf,
) -> GaugeBand:
    """The readings with ``pulled`` (m,) m of cable in, rising; the run has a rope.

    ``window`` is that of the plan, within its stops; ratings as of ``gauge_table``.
    """
    stations = pull.path.length - pulled if pull.reverse else pulled
    track = head_track(pull, stations)
    low, high = _held(pull, window)
    factors = np.array([1.0, 1.0, 1.0, 1.0 + allowances.friction_band])
    starts = np.array([low, pull.start_tension, high, pull.start_tension])
    loads = track.loads(np.broadcast_to(factors, (len(pulled), 4)), starts).machine
    found = stop_readings(track, head_rating=head_rating, line_rating=line_rating)
    limit = tuple(stops.moving for stops in found)
    stop = np.array([reached.reading for reached in limit])
    least, expected, most, caution = loads.T
    caution = np.maximum(expected, np.minimum(caution, stop))
    if window.holds:  # as in within_window
        caution = np.maximum(caution, np.minimum(most, stop))
    return GaugeBand(pulled, expected, least, most, caution, stop, limit)


def _held(pull: Pull, window: BrakeWindow | None) -> tuple[float, float]:
    """The least and the largest tension that may enter the conduit, N; that of the plan between."""
    if window is None:
        return pull.start_tension, pull.start_tension
    least = window.at_least if window.holds else window.drag
    planned = pull.reel_tension
    factor = feed_factor(pull.run)
    return min(least, planned) * factor, max(window.at_most, planned) * factor


def _row(
    pull: Pull,
    plan: GearPlan | None,
    mark: _Mark,
    read: list[float],
    stops: Stops,
    *,
    rests: bool,
) -> GaugeRow:
    low, expected, high, caution, start = read
    gear = None if plan is None else plan.gear_at(mark.pulled)
    stop = stops.moving
    return GaugeRow(
        pulled=mark.pulled,
        station=_pulled(pull, mark.pulled),
        place=mark.place,
        kind=mark.kind,
        expected=expected,
        expected_low=low,
        expected_high=high,
        # never beyond stop, where the plan itself holds
        caution=max(expected, min(caution, stop.reading)),
        stop=stop.reading,
        limit=stop.limit,
        limit_place=stop.place,
        gear=gear,
        readable=_readable(plan, gear),
        stalls=_stalls(pull, gear),
        slick=stops.slick,
        first_move=start if rests else None,
        first_stop=stops.first_move.reading if rests else None,
        hidden=stops.hidden,
    )


def _stalls(pull: Pull, gear: Gear | None) -> float:
    """What the gear can pull, the strongest where none is planned; infinite without a machine."""
    machine = pull.run.machine
    if machine is None:
        return math.inf
    return (machine.line_pull if gear is None else gear.line_pull) * machine.efficiency


def _readable(plan: GearPlan | None, gear: Gear | None) -> bool:
    """Without gears nothing is known against the gauge; beyond an overload nothing is pulled."""
    return plan is None if gear is None else gear.gauge


# --- places -------------------------------------------------------------------------------------


class _Mark(NamedTuple):
    """A place that deserves a row."""

    pulled: float
    kind: str
    place: str


_ENDS = ("start", "end")
# Of marks at one place the first of these lends the row its kind and its exact place.
_RANK = ("start", "end", "gear change", "stop", "pull point", "bend", "step")
_FROM_REST = ("start", "gear change", "stop")


def _marks(
    pull: Pull, plan: GearPlan | None, step: float, stops: Sequence[float], most_bends: int
) -> tuple[_Mark, ...]:
    """All marks in pulling order, those at one place made one."""
    length = pull.path.length
    marks = [
        _Mark(0.0, "start", pull.feed_name),
        *(_Mark(step * i, "step", "") for i in range(1, math.ceil(length / step))),
        *_bends(pull, most_bends),
        *_pull_points(pull),
        *(_Mark(c.pulled, "gear change", _change(c)) for c in (plan.changes if plan else ())),
        *(_Mark(at, "stop", "stop for lubricant") for at in stops),
        _Mark(length, "end", pull.pull_name),
    ]
    return tuple(_one_for_each_place(sorted(marks, key=lambda m: m.pulled)))


def _bends(pull: Pull, most: int) -> Iterator[_Mark]:
    """Where the head enters and leaves every bend, numbered along the route.

    Of very many bends only those of the highest sidewall pressure: nobody reads thousands of rows.
    """
    pressure = pull.profile.sidewall[pull.worst_rows[np.flatnonzero(pull.path.kind == ARC)]]
    kept = set(np.argsort(-pressure, kind="stable")[:most].tolist())
    for number, (label, *ends) in enumerate(bend_places(pull)):
        if number in kept:
            yield from (
                _Mark(at, "bend", f"{w} of {label}") for at, w in zip(ends, _ENDS, strict=True)
            )


def bend_places(pull: Pull) -> Iterator[tuple[str, float, float]]:
    """The label of every bend along the route, and the cable in (m) where the head passes it."""
    path = pull.path
    for number, i in enumerate(np.flatnonzero(path.kind == ARC).tolist(), 1):
        start, end = sorted(_pulled(pull, float(s)) for s in path.stations[i : i + 2])
        yield pull.run.route.bend_label(number, int(path.vertex[i])), start, end


def _pull_points(pull: Pull) -> Iterator[_Mark]:
    """The pull points between the ends; the leg that starts there starts the segment there."""
    route = pull.run.route
    for vertex, station in zip(route.pull_points, pull_stations(route, pull.path), strict=True):
        yield _Mark(_pulled(pull, station), "pull point", route.label(vertex))


def _pulled(pull: Pull, station: float) -> float:
    """Cable in with the head at a station; and the other way about, for it is its own inverse."""
    return pull.path.length - station if pull.reverse else station


def _change(change: GearChange) -> str:
    name = change.to_gear.name
    return f"change to gear {name}" if name else "change gear"


def _one_for_each_place(marks: list[_Mark]) -> Iterator[_Mark]:
    while marks:
        here = [m for m in marks if m.pulled - marks[0].pulled <= _ONE_PLACE]
        first = min(here, key=lambda m: _RANK.index(m.kind))
        names = dict.fromkeys(m.place for m in here if m.place)
        yield first._replace(place=", ".join(names))
        marks = marks[len(here) :]


# --- the brake within the stops -------------------------------------------------------------------

# The largest reel tension is looked for in so many steps, and the one that exceeds a stop in as
# many again, three times: to within a thousandth of the window.
_STEPS, _TIMES = 11, 4


def within_stops(
    rows: Sequence[GaugeRow], pull: Pull, window: BrakeWindow
) -> tuple[tuple[GaugeRow, ...], BrakeWindow]:
    """The window as far as no reading is above its stop, and the rows with the band of that.

    The window holds the limits of cable, rope and machine; a fitting of the line or what holds the
    machine may be weaker. Unchanged where the planned reel tension itself reads above a stop.
    """
    track = head_track(pull, np.array([row.station for row in rows]))
    first = np.array([row.first_stop is not None for row in rows])
    stop = np.array([row.stop for row in rows])
    first_stop = np.array([row.first_stop or math.inf for row in rows])
    factor = feed_factor(pull.run)

    def readings(reel: Floats) -> tuple[Floats, Floats]:
        """Moving and from rest, (rows, reels) N."""
        factors = np.repeat([1.0, pull.practice.restart], len(reel))
        each = np.broadcast_to(factors, (len(rows), len(factors)))
        moving, start = np.hsplit(track.loads(each, np.tile(reel * factor, 2)).machine, 2)
        return moving, start

    def above(reel: Floats) -> NDArray[np.bool_]:
        moving, start = readings(reel)
        over = start > first_stop[:, None] * (1 + 1e-9)
        too_much = (moving > stop[:, None] * (1 + 1e-9)) | (over & first[:, None])
        return np.asarray(too_much.any(axis=0))

    low, high = pull.reel_tension, window.at_most
    if high <= low or above(np.array([low, high])).tolist() != [False, True]:
        return tuple(rows), window
    for _ in range(_TIMES):
        tried = np.linspace(low, high, _STEPS)
        k = int(np.argmax(above(tried)))
        low, high = float(tried[k - 1]), float(tried[k])
    most = readings(np.array([low]))[0][:, 0].tolist()
    banded = (replace(row, expected_high=x) for row, x in zip(rows, most, strict=True))
    return tuple(banded), replace(window, at_most=low)


def within_window(rows: Sequence[GaugeRow], window: BrakeWindow) -> tuple[GaugeRow, ...]:
    """The rows with no caution below what the upper end of an ordered brake reads.

    Who holds the reels as told must not read above caution while friction is as planned.
    """
    if not window.holds:
        return tuple(rows)
    return tuple(replace(r, caution=max(r.caution, min(r.expected_high, r.stop))) for r in rows)


# --- findings -------------------------------------------------------------------------------------

_SOURCE = "limit tension carried forward to the machine (common practice, no source)"


def reading_findings(rows: Sequence[GaugeRow], pull: Pull) -> Iterator[Finding]:
    """What the readings of the table cannot allow or cannot show.

    A stop where the planned pull reads above the stop; a caution for each stretch of cable in where
    the gauge alone protects no limit, as friction may be lower ahead or the cable goes slack there.
    """
    exceeded = [row for row in rows if row.exceeded]
    if exceeded:
        worst = max(exceeded, key=lambda row: row.ratio)
        name = limit_name(worst.limit, pull.run, pull.practice)
        what = literal(f"{name} at {worst.limit_place}")
        fix = say(
            f"the expected reading exceeds the stop reading, where {what} reaches its limit: "
            "do not pull"
        )
        found = _finding("stop reading", "stop", pull, worst, worst.stop, fix)
        # neither reading is told: of a pull that must not be made no surface shows any
        yield replace(found, demand=math.nan, limit=math.nan)
    yield from first_move_findings(
        [(r.pulled, r.first_move, r.first_stop) for r in rows if not r.exceeded], pull
    )
    yield from _unprotected(rows, pull)
    yield from _unseen(rows, pull)


def first_move_findings(
    starts: Sequence[tuple[float, float | None, float | None]], pull: Pull
) -> Iterator[Finding]:
    """A caution for the worst planned start whose first move reads above Stop.

    ``starts`` are m of cable in, the load of the first move and what it must stay below, N; both
    None where no start is planned.
    """
    above = [
        (load / stop if stop > 0 else math.inf, at, load, stop)
        for at, load, stop in starts
        if load is not None and stop is not None and load > stop * (1 + 1e-9)
    ]
    if not above:
        return
    ratio, at, load, stop = max(above)
    yield Finding(
        "first move above stop",
        "caution",
        f"{pull.run.name}, head at station {{}}",
        load,
        stop,
        "force",
        say(
            "Stop always applies, in a first move too: the planned start with {} of cable in "
            "would read above it. Move the stop, or reduce the tension",
            (at, "length"),
        ),
        _SOURCE,
        _pulled(pull, at),
        ratio,
    )


def window_findings(pull: Pull, window: BrakeWindow, within: BrakeWindow) -> Iterator[Finding]:
    """Where the stops leave less for the brake than the limits of the pull; ``within`` is that."""
    if within.at_most >= window.at_most:
        return
    fix = say(
        "brake the reels: at most {} total, not the {} that cable, rope and machine allow. A "
        "harder brake would read above a Stop value of the gauge table",
        (within.at_most, "force-"),
        (window.at_most, "force-"),
    )
    yield Finding(
        "brake limited by stop reading",
        "stop" if within.empty else "caution",
        pull.feed_name,
        max(within.at_least, pull.reel_tension),
        within.at_most,
        "force",
        fix,
        _SOURCE,
        rounding=("+", "-"),
    )


def _unprotected(rows: Sequence[GaugeRow], pull: Pull) -> Iterator[Finding]:
    """Where friction ahead at its lower end brings a limit below the expected reading."""

    def key(row: GaugeRow) -> tuple[str, str] | None:
        below = row.slick.reading < row.expected and not row.exceeded
        return (row.slick.limit, row.slick.place) if below else None

    for named, here, ends in _stretches(rows, key):
        limit, place = named
        name = literal(limit_name(limit, pull.run, pull.practice))
        worst = max(here, key=lambda row: row.expected - row.slick.reading)
        fix = say(
            f"from {{}} to {{}} of cable in, the gauge alone cannot protect {literal(place)}: "
            f"with friction ahead at {SLICK:g} times the plan, {name} reaches its limit at a "
            "reading of {}, below the expected {}. Keep the reel tension within its "
            "limits and watch the cable at the reel",
            *((at, "length") for at in ends),
            (worst.slick.reading, "force"),
            (worst.expected, "force"),
        )
        yield _finding("gauge cannot protect", "caution", pull, worst, worst.slick.reading, fix)


def _unseen(rows: Sequence[GaugeRow], pull: Pull) -> Iterator[Finding]:
    """Where the cable ahead of a place at its limit is slack, so that the gauge shows nothing."""
    for names, here, ends in _stretches(rows, lambda row: row.hidden or None):
        places = literal(", ".join(names))
        fix = say(
            f"from {{}} to {{}} of cable in, the gauge cannot show when {places} reaches its "
            "limit, because the cable ahead goes slack. Control and read the tension at the "
            "reel instead",
            *((at, "length") for at in ends),
        )
        yield _finding("gauge cannot show", "caution", pull, here[0], math.nan, fix)


_Key = TypeVar("_Key")


def _stretches(
    rows: Sequence[GaugeRow], key: Callable[[GaugeRow], _Key | None]
) -> Iterator[tuple[_Key, list[GaugeRow], tuple[float, float]]]:
    """Rows that follow each other with one key, and from where to where it may hold, m.

    What is between two rows is not known: a stretch goes on to the row before and the row after.
    """
    keys = [key(row) for row in rows]
    first = 0
    for named, group in groupby(keys):
        last = first + len(list(group)) - 1
        if named is not None:
            before, after = max(first - 1, 0), min(last + 1, len(rows) - 1)
            yield named, list(rows[first : last + 1]), (rows[before].pulled, rows[after].pulled)
        first = last + 1


def _finding(
    rule: str, severity: str, pull: Pull, row: GaugeRow, limit: float, fix: Phrase
) -> Finding:
    where = f"{pull.run.name}, head at station {{}}"
    ratio = math.inf if limit <= 0 else row.expected / limit  # NaN stays
    return Finding(
        rule, severity, where, row.expected, limit, "force", fix, _SOURCE, row.station, ratio
    )
