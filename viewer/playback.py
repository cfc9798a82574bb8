"""The pull as a film: head location, cable and rope, load, gear and clock.

Numpy only, so that the page, the window and the movie show the same pull. The frames are the head
locations of the mechanics; ``evenly`` spaces them for a film.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import ARC
from route3d.geometry.vectors import Floats, frozen
from route3d.mechanics.pull import Pull
from route3d.mechanics.rope import head_nodes
from route3d.model.allowances import Allowances
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.gears import Overload
from route3d.planning.pull_plan.progress import progress
from route3d.planning.result import RunResult
from route3d.units import show
from viewer.gauge import NOT_TO_BE_MADE, Headline, crossings, headline, now_and_next, stop_loads


@dataclass(frozen=True, slots=True, eq=False)
class Playback:
    """What holds with the head at each of ``m`` places, feed end first.

    ``station`` m as the route counts, ``pulled`` m of cable in the conduit, ``xyz`` (m, 3) m on the
    plan grid: a picture takes ``Scene.origin`` off. ``load`` N on the machine, ``limit`` N of the
    gear in use, ``stop`` N the machine load at which the first limit anywhere is reached, and
    ``breaks`` which; ``elapsed`` s of pulling with its gear changes and lubricant stops. NaN where
    there is no rope or no machine to tell them, ``stop`` also where no plan was handed in,
    ``elapsed`` also once no gear holds. ``gear`` (m,) numbers ``gear_words``, weakest first, -1
    where none holds or none is known; a pull that must not be made has neither gears nor clock,
    and its ``limit`` is what the machine can pull at all. ``head_tension`` N of the cable at its
    head; ``peak_sidewall`` N/m, the largest so far. ``bends`` (k, 2) m are the stations at which
    bends 1 to k begin and end. ``rows`` are those of the gauge table. ``ending`` says where and why
    the plan ends before the cable is in, and ``lacking`` why there is no stop load.
    """

    feed: str
    pull: str
    reverse: bool
    length: float
    station: Floats
    pulled: Floats
    xyz: Floats
    bends: Floats
    load: Floats
    limit: Floats
    stop: Floats
    breaks: tuple[str, ...]
    gear: NDArray[np.int64]
    elapsed: Floats
    head_tension: Floats
    peak_sidewall: Floats
    gear_words: tuple[str, ...]
    captions: tuple[str, ...]
    lacking: str = ""
    ending: str = ""
    rows: tuple[GaugeRow, ...] = ()

    def __len__(self) -> int:
        return len(self.station)

    @property
    def least(self) -> Floats:
        """The load limit, (m,) N: the lower of stop load and gear limit."""
        return np.fmin(self.limit, self.stop)

    @property
    def over(self) -> NDArray[np.bool_]:
        """Where the load exceeds its limit, (m,)."""
        return np.asarray(self.load > self.least * (1 + 1e-9))

    @property
    def stop_known(self) -> bool:
        """Whether a plan gives the stop load."""
        return bool(np.isfinite(self.stop).any())

    def headlines(self, at: int, units: str) -> tuple[Headline, ...]:
        """The readings of the place now, and of the next one; none without a gauge table.

        Each is of one row of the table: that which the head has passed last, and the one after.
        """
        if not self.rows:
            return ()
        now, after = now_and_next(self.rows, np.array([self.pulled[at]]))
        numbers = dict.fromkeys((int(now[0]), int(after[0])))
        return tuple(headline(self.rows[i], units) for i in numbers)

    def governs(self, at: int) -> str:
        """What sets the load limit, in words."""
        stop, limit = float(self.stop[at]), float(self.limit[at])
        if stop < limit * (1 - 1e-9):
            return self.breaks[at]
        return "gear limit" if self.gear_words else "machine line pull"


def playback(
    result: RunResult,
    pull: Pull,
    units: str,
    allowances: Allowances,
    rows: Sequence[GaugeRow] = (),
    *,
    made: bool = True,
) -> Playback:
    """The frames of one direction of a run, with captions in ``units`` ("US" or "SI").

    ``rows`` of the plan's gauge table tell the stop load. Of a pull that must not be ``made`` there
    is neither stop load nor gear nor clock: only the load, and what the machine can pull.
    """
    moving = progress(pull, allowances) if made else None
    if moving is not None:
        station, tension, sidewall = moving.station, moving.head_tension, moving.sidewall
        load, limit, elapsed, gear = moving.load, moving.limit, moving.elapsed, moving.gear
    else:
        station, tension, sidewall = _heads(pull)
        nothing = np.full(len(station), math.nan)
        load = nothing if pull.machine_loads is None else pull.machine_loads
        limit, elapsed, gear = nothing, nothing, np.full(len(station), -1)
        if pull.run.machine is not None and pull.machine_loads is not None:
            limit = np.full(len(station), pull.run.machine.available_pull)
    rows = rows if made else ()
    pulled = frozen(np.abs(station - station[0]))
    stop, breaks = stop_loads(rows, pulled)
    path = result.path
    arcs = np.flatnonzero(path.kind == ARC)
    frames = Playback(
        feed=pull.feed_name,
        pull=pull.pull_name,
        reverse=pull.reverse,
        length=pull.path.length,
        station=frozen(station),
        pulled=pulled,
        xyz=frozen(path.point(station)),
        bends=frozen(np.column_stack((path.stations[arcs], path.stations[arcs + 1]))),
        load=frozen(load),
        limit=frozen(limit),
        stop=frozen(stop),
        breaks=breaks,
        gear=_frozen_numbers(gear),
        elapsed=frozen(elapsed),
        head_tension=frozen(tension),
        peak_sidewall=frozen(np.maximum.accumulate(sidewall)),
        gear_words=() if moving is None else moving.names,
        captions=(),
        lacking="" if rows else _lacking(pull) if made else NOT_TO_BE_MADE,
        rows=tuple(rows),
        ending="" if moving is None else ending_words(moving.plan.overload, units),
    )
    frames = _with_crossings(frames)
    return replace(frames, captions=_captions(frames, units))


def _with_crossings(frames: Playback) -> Playback:
    """The frames, and between them one wherever the load comes above or below its limit."""
    at = crossings(frames.load, frames.least)
    rows = np.insert(np.arange(len(frames)), at.after + 1, at.after)
    return replace(
        frames,
        station=frozen(at.into(frames.station)),
        pulled=frozen(at.into(frames.pulled)),
        xyz=frozen(at.into(frames.xyz)),
        load=frozen(at.into(frames.load)),
        limit=frozen(at.into(frames.limit)),
        stop=frozen(at.into(frames.stop)),
        elapsed=frozen(at.into(frames.elapsed)),
        head_tension=frozen(at.into(frames.head_tension)),
        peak_sidewall=frozen(at.into(frames.peak_sidewall)),
        breaks=tuple(frames.breaks[i] for i in rows.tolist()),
        gear=_frozen_numbers(frames.gear[rows]),
    )


def _lacking(pull: Pull) -> str:
    if pull.run.rope is None:
        return "no rope given"
    return "no machine given" if pull.run.machine is None else "not calculated"


def _heads(pull: Pull) -> tuple[Floats, Floats, Floats]:
    """Stations of the head, the tension there, and the largest sidewall up to there."""
    profile = pull.profile
    joints = np.concatenate((profile.station[:1], profile.station[1::2]))
    tension = np.concatenate((profile.tension[:1], profile.tension[1::2]))
    worst = np.maximum.accumulate(profile.sidewall)
    sidewall = np.concatenate((worst[:1], worst[1::2]))
    if pull.heads is None:
        return joints, tension, sidewall
    nodes = head_nodes(len(joints))
    if not np.array_equal(joints[nodes], pull.heads):  # very many bends: only at their ends
        way = np.abs(joints - joints[0])
        nodes = np.searchsorted(way, np.abs(pull.heads - joints[0]))
    return joints[nodes], tension[nodes], sidewall[nodes]


def _frozen_numbers(values: NDArray[np.int64]) -> NDArray[np.int64]:
    array = np.array(values)
    array.setflags(write=False)
    return array


def _captions(frames: Playback, units: str) -> tuple[str, ...]:
    return tuple(_caption(frames, i, units) for i in range(len(frames)))


NAMES = ("now", "next")
"""Names of the two rows of a headline."""


def _caption(frames: Playback, i: int, units: str) -> str:
    """Place, readings or load with its limit, gear and clock of one frame, as far as known."""
    parts = [f"head at station {show(float(frames.station[i]), 'length', units)}"]
    load, limit, least = (float(x[i]) for x in (frames.load, frames.limit, frames.least))
    told = frames.headlines(i, units)
    parts += [
        f"{name} {one.length} in: {one.readings}" for name, one in zip(NAMES, told, strict=False)
    ]
    if math.isfinite(load) and not told:
        parts.append(f"machine load {show(load, 'force', units)}")
        if math.isfinite(limit):
            parts[-1] += f", limit {show(least, 'force', units)} ({frames.governs(i)})"
    if math.isfinite(limit):
        if frames.over[i]:
            parts[-1] += f": OVER, {frames.governs(i)}" if told else ": OVER"
        gear = int(frames.gear[i])
        if frames.gear_words:
            words = "no gear is strong enough" if gear < 0 else in_gear(frames.gear_words[gear])
            parts.append(words)
    if math.isfinite(float(frames.elapsed[i])):
        parts.append(clock(float(frames.elapsed[i])))
    return "; ".join(parts)


def in_gear(name: str) -> str:
    """The name of a gear as part of a sentence: ``gear high``, ``gear 1 of 2``."""
    return name if "gear" in name.lower() else f"gear {name}"


def warning(frames: Playback, units: str) -> str:
    """From where the load exceeds its limit, and which limit; empty where it never does.

    Every limit that governs somewhere above is named, the one reached first at the front.
    """
    over = np.flatnonzero(frames.over)
    if not over.size:
        return ""
    named = dict.fromkeys(frames.governs(i) for i in over.tolist())
    at = float(frames.pulled[over[0]])
    begin = f"{show(at, 'length', units)} of cable in" if at > 0 else "the start"
    what = "gear limit" if frames.gear_words else "machine line pull"
    what = "stop load" if frames.stop_known else what
    return f"Machine load exceeds the {what} from {begin} on: {', '.join(named)}"


def ending_words(overload: Overload | None, units: str) -> str:
    """Where and why a gear plan ends early; empty where it does not."""
    if overload is None:
        return ""
    what = "first move" if overload.restart else "load"
    at = show(overload.pulled, "length", units)
    load, limit = (show(x, "force", units) for x in (overload.load, overload.limit))
    text = f"The plan ends at {at} of cable in: no gear is strong enough ({what} {load}, "
    text += f"{limit} available"
    if overload.restart:
        return f"{text})"
    return f"{text}; maximum from there on {show(overload.largest, 'force', units)})"


def clock(seconds: float) -> str:
    """Elapsed time as minutes and seconds, ``8:05``; ``-`` where it is not known.

    >>> clock(485.2), clock(7260.0), clock(float("nan"))
    ('8:05', '2:01:00', '-')
    """
    if not math.isfinite(seconds):
        return "-"
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def clock_unit(seconds: float) -> str:
    """What the parts of ``clock`` are: ``min:s``, or ``h:min:s`` from an hour on."""
    return "h:min:s" if seconds >= 3599.5 else "min:s"


def evenly(frames: Playback, count: int, units: str) -> Playback:
    """``count`` (at least 2) frames at equal steps of cable pulled, ends kept.

    Numbers are read off between two places in a straight line; the gear is that of the step.
    """
    if count < 2:
        raise ValueError(f"a film needs at least two frames, not {count}")
    pulled = np.linspace(0.0, float(frames.pulled[-1]), count)
    step = np.clip(np.searchsorted(frames.pulled, pulled, side="right") - 1, 0, len(frames) - 1)

    def between(values: Floats) -> Floats:
        return frozen(np.interp(pulled, frames.pulled, values))

    sampled = replace(
        frames,
        station=between(frames.station),
        pulled=frozen(pulled),
        xyz=frozen(np.column_stack([between(frames.xyz[:, k]) for k in range(3)])),
        load=between(frames.load),
        limit=frozen(frames.limit[step]),
        stop=frozen(frames.stop[step]),
        breaks=tuple(frames.breaks[i] for i in step),
        gear=_frozen_numbers(frames.gear[step]),
        elapsed=between(frames.elapsed),
        head_tension=between(frames.head_tension),
        peak_sidewall=between(frames.peak_sidewall),
    )
    return replace(sampled, captions=_captions(sampled, units))


def split(points: Floats, station: Floats, head: float, *, reverse: bool) -> tuple[Floats, Floats]:
    """A centerline (n, 3) cut at the head's station: the part with cable, the part with rope.

    ``station`` (n,) rises; both parts are in route order and share the head's point. A part of no
    length comes back empty, (0, 3).
    """
    cut = float(np.clip(head, station[0], station[-1]))
    middle = np.array([[np.interp(cut, station, points[:, k]) for k in range(3)]])
    before, after = points[station < cut], points[station > cut]
    low = np.vstack((before, middle)) if len(before) else np.empty((0, 3))
    high = np.vstack((middle, after)) if len(after) else np.empty((0, 3))
    return (high, low) if reverse else (low, high)
