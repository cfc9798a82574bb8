"""One run measured against one thing: clashes, places too near, and what counts at its ends."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.checks.clearance import TOUCH, Met, NearPlace
from route3d.geometry.clearance import Clearances, Flags, Stretch, Target, stretches_within
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """A run measured against one thing; ``what`` (rows,) and ``free`` (rows,) where it counts."""

    met: Met
    found: Clearances
    what: tuple[str, ...]
    free: Flags


def limits(required: float) -> tuple[float, ...]:
    """The clearances below which there is a clash, and too little."""
    return (-TOUCH, required - TOUCH)


def measured_from(
    path: Path,
    met: Met,
    found: Clearances,
    target: Target,
    named: Callable[[Sequence[int]], list[str]],
    free: Flags,
) -> Measured:
    """What was found, where it counts (``free``) and where not; ``named`` names items."""

    def near(limit: float, rows: Flags) -> tuple[NearPlace, ...]:
        stretches = stretches_within(path, found, target, limit, rows)
        return tuple(_place(s, tuple(dict.fromkeys(named(s.items)))) for s in stretches)

    touch, enough = limits(met.required)
    short = near(enough, free) if met.required else ()
    met = replace(
        met,
        nearest=_nearest(found, named, free),
        clashes=near(touch, free),
        short=tuple(p for p in short if p.distance >= touch),
        at_ends=near(max(touch, enough), ~free),
    )
    return Measured(met, found, tuple(named(found.item.tolist())), free)


def _nearest(
    found: Clearances, named: Callable[[Sequence[int]], list[str]], free: Flags
) -> NearPlace | None:
    if not free.any():
        return None
    row = int(np.where(free, found.distance, np.inf).argmin())
    at, gap = float(found.station[row]), float(found.gap[row])
    return NearPlace(
        at, at, at, float(found.distance[row]), gap, tuple(named([int(found.item[row])]))
    )


def _place(stretch: Stretch, what: tuple[str, ...]) -> NearPlace:
    s = stretch
    return NearPlace(s.start, s.end, s.station, s.distance, s.gap, what)


def in_zones(bounds: Floats, zones: Sequence[tuple[float, float]]) -> Flags:
    """Which rows lie in one of the zones."""
    middles = (bounds[:-1] + bounds[1:]) / 2
    inside = np.zeros(len(middles), dtype=bool)
    for start, end in zones:
        inside |= (middles > start) & (middles < end)
    return inside
