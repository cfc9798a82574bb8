"""What the machine's gauge should read: a table by cable length, with caution and stop.

The gauge cannot see what makes a pull hard; more friction than planned is the usual cause. So
caution and stop are what the machine feels with the head here if every friction were higher.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.checks.limits import conductor_limit, grip_limit, sidewall_limit
from route3d.geometry.path import ARC
from route3d.geometry.route_path import pull_stations
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.mechanics.rope_scenarios import HeadLoads, HeadTrack, head_track
from route3d.model.allowances import Allowances
from route3d.model.machine import Gear
from route3d.planning.gears import GearChange, GearPlan

# Places this close (m) are one row: nobody marks a rope more finely.
_ONE_PLACE = 0.05
MOST_BENDS = 60
# Friction beyond this many times the planned one is a blockage, not friction.
_MOST = 64.0
# Steps in which friction is raised at first: each is a third more than the one before.
_FIRST = np.concatenate(([0.0], np.geomspace(1.0 / 32.0, _MOST, 27)))
# Then the step that meets a limit is cut into 8, and once more into 8. Between those, half a per
# cent of the friction apart, loads are straight to 1e-4.
_FINER = (8, 8)


@dataclass(frozen=True, slots=True)
class GaugeRow:
    """One line of the table: ``pulled`` m of cable in, the head at ``station`` m of the route.

    ``kind`` is "start", "step", "bend", "pull point", "gear change", "stop" or "end", and ``place``
    says which, "" for a step. Loads at the machine in N: ``expected``; ``caution``; ``stop``, at
    which ``limit`` breaks ("conductor", "grip", "sidewall", "rope", "machine", "head fitting" or
    "line fitting"). A plan that breaks a limit has ``stop`` below ``expected``. ``gear`` is the
    one from here on, None where none is planned; ``readable`` whether the gauge reads true then.
    ``first_move`` N is the load at a planned start from rest here, None where none is planned.
    ``other_stop`` and ``other_limit`` are stop and limit whatever the gear: the gear changes at
    once, the others little from row to row.
    """

    pulled: float
    station: float
    place: str
    kind: str
    expected: float
    caution: float
    stop: float
    gear: Gear | None
    readable: bool
    limit: str
    other_stop: float
    other_limit: str
    first_move: float | None = None


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
) -> tuple[GaugeRow, ...]:
    """Rows at every ``step`` m of cable, every bend, pull point, gear change and end.

    Of more than ``most_bends`` bends, those of the highest sidewall pressure.

    ``stops`` m of cable in are other planned stops, such as those for lubricant.

    ``head_rating`` N is the weakest fitting at the cable head, ``line_rating`` N the machine load
    at which the weakest of sheaves, boom and the like is at its rating. Empty without a rope, for
    then nothing is known of the load. Stop is at the first limit that friction brings anywhere
    between reel and machine with the head here, up to 64 times the planned friction. Where a limit
    is broken without any friction, stop is that load over the share of the limit.
    Common practice, no source.
    """
    if pull.run.rope is None:
        return ()
    if not step > 0:
        raise ValueError("step must be positive")
    marks = _marks(pull, gear_plan, step, stops, most_bends)
    track = head_track(pull, np.array([_pulled(pull, m.pulled) for m in marks]))
    usual = np.array([1.0, 1.0 + allowances.friction_band, pull.practice.restart])
    read = track.loads(np.broadcast_to(usual, (len(marks), 3))).machine
    rows = []
    for mark, (expected, caution, start), reached in zip(
        marks, read.tolist(), _stops(track, head_rating), strict=True
    ):
        gear = _gear_at(gear_plan, mark.pulled)
        other = min((reached, *_caps(pull, line_rating)))
        stop, limit = min((other, *_gear_cap(pull, gear)))
        caution = max(
            expected, min(caution, stop)
        )  # never beyond stop, where the plan itself holds
        rows.append(
            GaugeRow(
                pulled=mark.pulled,
                station=_pulled(pull, mark.pulled),
                place=mark.place,
                kind=mark.kind,
                expected=expected,
                caution=caution,
                stop=stop,
                gear=gear,
                readable=_readable(gear_plan, gear),
                limit=limit,
                other_stop=other[0],
                other_limit=other[1],
                first_move=start if mark.kind in _FROM_REST else None,
            )
        )
    return tuple(rows)


def _gear_at(plan: GearPlan | None, pulled: float) -> Gear | None:
    """The gear from here on; at the end of the plan the last."""
    for span in reversed(plan.spans if plan else ()):
        if span.start - 1e-9 <= pulled <= span.end + 1e-9:
            return span.gear
    return None


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
    path = pull.path
    arcs = np.flatnonzero(path.kind == ARC)
    pressure = pull.profile.sidewall[pull.worst_rows[arcs]]
    kept = set(np.argsort(-pressure, kind="stable")[:most].tolist())
    for number, i in enumerate(arcs.tolist()):
        if number not in kept:
            continue
        label = pull.run.route.bend_label(number + 1, int(path.vertex[i]))
        ends = sorted(_pulled(pull, float(s)) for s in path.stations[i : i + 2])
        yield from (_Mark(at, "bend", f"{w} of {label}") for at, w in zip(ends, _ENDS, strict=True))


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


# --- limits -------------------------------------------------------------------------------------


def _caps(pull: Pull, line_rating: float) -> Iterator[tuple[float, str]]:
    """What the machine load itself may be, whatever friction and gear."""
    if pull.run.rope is not None:
        yield pull.run.rope.rated_load, "rope"
    yield line_rating, "line fitting"


def _gear_cap(pull: Pull, gear: Gear | None) -> Iterator[tuple[float, str]]:
    """What the gear brings, the strongest where none is planned."""
    machine = pull.run.machine
    if machine is not None:
        strongest = machine.line_pull if gear is None else gear.line_pull
        yield strongest * machine.efficiency, "machine"


_ALONG = ("conductor", "grip", "head fitting", "sidewall", "rope")


def _shares(pull: Pull, loads: HeadLoads, head_rating: float) -> Floats:
    """Share of each limit of ``_ALONG`` between reel and conduit end, (5, m, k)."""
    conductor = conductor_limit(pull.run, pull.practice).value
    weakest = (conductor, grip_limit(pull.run).value, head_rating)
    rated = math.inf if pull.run.rope is None else pull.run.rope.rated_load
    pressure = loads.sidewall / sidewall_limit(pull.run).value
    return np.stack([*(loads.cable / x for x in weakest), pressure, loads.rope / rated])


def _stops(track: HeadTrack, head_rating: float) -> tuple[tuple[float, str], ...]:
    """Machine load and name of the first limit that friction brings with the head at each place.

    Infinite where none does. All heads search at once: tension never falls with friction.
    """
    m = len(track.joints)
    factors = np.broadcast_to(_FIRST, (m, len(_FIRST)))
    first = found = _crossing(track, factors, head_rating)
    for parts in _FINER:
        found = _crossing(track, np.linspace(*found.factors, parts + 1, axis=1), head_rating)
    stop = np.where(first.always, first.load, found.load)
    limit = np.where(first.always, first.limit, found.limit)
    stop[~first.met] = np.inf
    return tuple((s, _ALONG[i]) for s, i in zip(stop.tolist(), limit.tolist(), strict=True))


class _Crossing(NamedTuple):
    """The step of ``factors`` (2, m) in which a limit is met, the load there and which limit, (m,).

    ``always`` where even the lowest factor is above it; ``load`` is then scaled down to the limit.
    """

    factors: tuple[Floats, Floats]
    load: Floats
    limit: NDArray[np.int64]
    met: NDArray[np.bool_]
    always: NDArray[np.bool_]


def _crossing(track: HeadTrack, factors: Floats, head_rating: float) -> _Crossing:
    loads = track.loads(factors)
    shares = _shares(track.pull, loads, head_rating)
    worst = shares.max(axis=0)
    broken = worst > 1.0
    met, always = broken.any(axis=1), broken[:, 0]
    row = np.arange(len(factors))
    high = np.where(met, np.maximum(broken.argmax(axis=1), 1), factors.shape[1] - 1)
    (a, b), (x, y) = ((v[row, high - 1], v[row, high]) for v in (worst, loads.machine))
    share = np.clip((1.0 - a) / np.where(b > a, b - a, 1.0), 0.0, 1.0)
    scaled = loads.machine[:, 0] / np.where(always, worst[:, 0], 1.0)
    return _Crossing(
        factors=(factors[row, high - 1], factors[row, high]),
        load=np.where(always, scaled, x + share * (y - x)),
        limit=shares[:, row, np.where(always, 0, high)].argmax(axis=0),
        met=met,
        always=always,
    )
