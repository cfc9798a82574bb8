"""How much of its aim one direction of a run takes, worked quickly: a remedy is sought with this.

Only joints of whole straights and bends are looked at, so the share is never above that of the full
solution, by which every remedy is judged in the end.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from route3d.checks.limits import NO_BRAKE, Rated
from route3d.errors import InputError
from route3d.geometry.fillet import route_path
from route3d.geometry.path import Path
from route3d.mechanics.feed import reel_drag
from route3d.mechanics.fit import Fit
from route3d.mechanics.friction_path import FrictionPath, course
from route3d.mechanics.pull import Heads, Peaks, peaks_along, run_fits, sidewall_share
from route3d.mechanics.rope import head_nodes
from route3d.model.conduit import HIGH_FRICTION
from route3d.model.practice import Practice
from route3d.model.run import Run

FRICTION_MARGIN = 1.1
"""Friction margin a remedy aims at: the friction planned may be off by a tenth (own judgment)."""


@dataclass(frozen=True, slots=True)
class Aim:
    """``margin``: share of each load limit a pull may take; ``friction``: its friction margin."""

    margin: float
    friction: float = FRICTION_MARGIN


@dataclass(frozen=True, eq=False)
class Taken:
    """What one direction takes: the largest loads as ``planned``, and ``raised`` with the friction
    of the margin, both held against ``rated``.

    ``held`` are those at high friction where the cables must be held back; None where not.
    """

    run: Run
    reverse: bool
    aim: Aim
    rated: Rated
    planned: Peaks
    raised: Peaks
    held: Peaks | None

    @cached_property
    def share(self) -> float:
        """Share of the aim: 1 where it is just kept."""
        return max(self._shares.values())

    @property
    def of_limits(self) -> float:
        """The largest share of a limit, the stated margin left out."""
        loads = (self.planned, *([self.held] if self.held else []))
        return max(self.rated.utilization(peaks).peak for peaks in loads)

    def share_of(self, limit: str) -> float:
        """Share of the aim at one limit, by its key such as "machine"; 0 for one not given."""
        return self._shares.get(limit, 0.0)

    @cached_property
    def _shares(self) -> dict[str, float]:
        shares: dict[str, float] = {}
        for peaks, most in self._loads:
            for name, share in self.rated.utilization(peaks).items():
                if share is not None:
                    shares[name] = max(share / most, shares.get(name, 0.0))
        return shares

    @property
    def _loads(self) -> tuple[tuple[Peaks, float], ...]:
        """Loads, and the share of a limit that each may take."""
        held = ((self.held, 1.0),) if self.held else ()
        return ((self.planned, self.aim.margin), (self.raised, 1.0), *held)

    @property
    def needed_pull(self) -> float:
        """Line pull (N) at the rope with which machine and rope keep the aim."""
        return max(_on_machine(peaks) / most for peaks, most in self._loads)

    @property
    def needed_tension(self) -> float:
        """Rating (N) with which the attachment keeps the aim."""
        return max(peaks.tension / most for peaks, most in self._loads)


_Laid = tuple[Path, tuple[Fit, ...]]


def taken(
    run: Run, practice: Practice, aim: Aim, *, reverse: bool, laid: _Laid | None = None
) -> Taken | None:
    """What one direction takes; None where access bars it, or there is no path or no tension.

    ``laid`` is the path of the run and how its cables lie, where known already.
    """
    ends = (0, len(run.route.vertices) - 1)
    feed, pull = ends[::-1] if reverse else ends
    access = run.route.vertices[feed].access, run.route.vertices[pull].access
    if "reel" not in access[0] or "machine" not in access[1]:
        return None
    try:
        return _taken(run.pulled(feed, pull), practice, aim, laid or _laid(run), reverse)
    except InputError:  # the run makes no path, or its cables do not fit
        return None


def both(run: Run, practice: Practice, aim: Aim) -> tuple[Taken, ...]:
    """What the directions take that can be pulled, with the route first."""
    try:
        laid = _laid(run)
    except InputError:
        return ()
    found = (taken(run, practice, aim, reverse=reverse, laid=laid) for reverse in (False, True))
    return tuple(t for t in found if t is not None)


def share_of(run: Run, practice: Practice, aim: Aim) -> float:
    """Share of the aim in the better direction; infinite where neither can be pulled."""
    return min((t.share for t in both(run, practice, aim)), default=math.inf)


def share_of_limits(run: Run, practice: Practice, aim: Aim) -> float:
    """The same without the stated margin."""
    return min((t.of_limits for t in both(run, practice, aim)), default=math.inf)


def _laid(run: Run) -> _Laid:
    return route_path(run.route), run_fits(run)


def _taken(run: Run, practice: Practice, aim: Aim, laid: _Laid, reverse: bool) -> Taken:
    path, fits = laid
    way = course(run, practice, path, fits, reverse, looks=False)
    rated = Rated.of(run, practice)
    pressing = sidewall_share(run, practice, fits, way.walked)
    low = way.with_friction(run, lambda c: c.lowest_friction, sheaves=False).needed[0]
    given = run.reel_tension
    reel = max(float(way.needed[0]), reel_drag(run)) if given is None else given
    reel = max(reel, float(low))

    nodes = head_nodes(len(way.fine) + 1)
    heads = Heads(way.walked, nodes, nodes)

    def peaks(along: FrictionPath, factor: float, tension: float) -> Peaks:
        return peaks_along(run, along, pressing, heads, tension, factor)

    as_planned, raised = peaks(way, 1.0, reel), peaks(way.scaled(aim.friction), aim.friction, reel)
    held = None
    if low > NO_BRAKE:
        high = way.with_friction(run, lambda c: c.highest_friction, sheaves=True)
        held = peaks(high, HIGH_FRICTION, float(low))
    return Taken(run, reverse, aim, rated, as_planned, raised, held)


def _on_machine(peaks: Peaks) -> float:
    return peaks.tension_at_end if peaks.machine is None else peaks.machine


# --- the least change that passes -----------------------------------------------------------------

# Steps of a search: each costs a solution or two, and a figure is wanted to a printed step only.
_MOST_STEPS = 24


def least(share: Callable[[float], float], low: float, high: float, step: float) -> float | None:
    """The least figure above ``low``, a whole number of ``step``, at which a share is at most 1.

    The share falls as the figure grows: the root of its logarithm is bracketed by false position
    (Illinois form; M. Dowell and P. Jarratt, BIT 11, 1971, 168-174; from memory). None where even
    ``high`` does not bring it.
    """
    last = math.floor(high / step + 1e-9)
    first = math.floor(low / step + 1e-9) + 1
    if first > last:
        return None

    def excess(k: int) -> float:
        return math.log(max(share(k * step), 1e-300))

    high_excess = excess(last)
    if high_excess > 0:
        return None
    a, b, fa, fb = first, last, excess(first), high_excess
    if fa <= 0:
        return first * step
    for turn in range(_MOST_STEPS):
        if b - a <= 1:
            break
        halve = turn % 3 == 2 or not (math.isfinite(fa) and math.isfinite(fb))
        k = (a + b) // 2 if halve else math.ceil(a + (b - a) * fa / (fa - fb))
        k = min(max(k, a + 1), b - 1)
        f = excess(k)
        if f <= 0:
            b, fb, fa = k, f, fa / 2
        else:
            a, fa, fb = k, f, fb / 2
    return b * step
