"""How far each bend is from failing: room for its tangents, and the least radius that passes.

The radius is found by solving the run again with it, both ways, and deciding again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from route3d.checks.finding import Finding
from route3d.checks.limits import sidewall_limit
from route3d.errors import InputError
from route3d.geometry.schedule import ScheduledBend, bend_schedule, largest_radius, leg_rooms
from route3d.mechanics.pull import solve_pull
from route3d.model.run import Run
from route3d.planning.changes import passing_directions, with_radius
from route3d.planning.result import RunResult

RADIUS_RULES = ("cable bend radius", "conduit bend radius")
SIDEWALL_RULE = "sidewall pressure"

# Bisection of a radius stops at this share of it.
_FINE = 0.001
_LARGEST_RADIUS_FACTOR = 10.0
# Times a run is solved again, times its bends: about half a second of work.
_MOST_SOLVED = 1000
# Rounding of converted units is no breach, as in the checks.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class BendMargin:
    """What one bend has left.

    ``room`` m is the straight left on the shorter of its two legs, and ``largest_radius`` m what
    fits with every other bend as it is. ``passing_radius`` m is the least that passes, with every
    other bend as it is; NaN where none does up to the largest that fits, None where not tried.
    """

    number: int
    room: float
    largest_radius: float
    passing_radius: float | None


def bend_margins(result: RunResult, *, most: int = _MOST_SOLVED) -> tuple[BendMargin, ...]:
    """The margins of every bend of a run, in the order of the schedule.

    A radius passes where the run can then be pulled in one of both directions without a stop.
    Where it cannot be pulled at all, a bend passes by itself: by its pressure in the direction
    reported. Bends are taken worst first until ``most`` bends have been solved.
    """
    bends = bend_schedule(result.path)
    rooms = leg_rooms(result.path)
    found = bend_findings(result)
    tries = Tries(most // max(len(bends), 1))
    passing: dict[int, float] = {}
    for bend in _worst_first(found, bends):
        if tries.left > 0:
            largest, findings = largest_radius(result.path, bend.segment, rooms), found[bend.number]
            passing[bend.number] = _passing_radius(result, bend, findings, largest, tries)
    return tuple(
        BendMargin(
            number=b.number,
            room=float(min(rooms[b.vertex - 1], rooms[b.vertex])),
            largest_radius=largest_radius(result.path, b.segment, rooms),
            passing_radius=passing.get(b.number),
        )
        for b in bends
    )


def bend_findings(result: RunResult) -> dict[int, list[Finding]]:
    """The findings on radius and sidewall pressure of each bend, by its number."""
    found: dict[int, list[Finding]] = {}
    for finding in (*result.run_findings, *result.best.findings):
        if finding.rule in (*RADIUS_RULES, SIDEWALL_RULE) and finding.where.startswith("bend "):
            number = int(finding.where.split(" at ")[0].removeprefix("bend "))
            found.setdefault(number, []).append(finding)
    return found


def rule_radius(bend: ScheduledBend, findings: Iterable[Finding]) -> float:
    """The largest of the radii that cable and conduit ask for, on the centerline, m."""
    # A check on the inside radius is brought back to the centerline.
    asked = (bend.radius - f.demand + f.limit for f in findings if f.rule in RADIUS_RULES)
    return max(asked, default=0.0)


def _worst_first(
    found: Mapping[int, list[Finding]], bends: Sequence[ScheduledBend]
) -> list[ScheduledBend]:
    """Bends by the worst share of a limit they take."""
    return sorted(bends, key=lambda b: -max(f.ratio for f in found[b.number]))


@dataclass(slots=True)
class Tries:
    """How many times a run may still be solved again."""

    left: int

    def passes(self, result: RunResult, run: Run) -> bool:
        """True where the changed run can be pulled in one direction; counts as one try."""
        self.left -= 1
        try:
            return bool(passing_directions(run, result.practice))
        except InputError:  # the change makes no path, or no end to the tension
            return False


def _passing_radius(
    result: RunResult,
    bend: ScheduledBend,
    findings: Sequence[Finding],
    largest: float,
    tries: Tries,
) -> float:
    floor = rule_radius(bend, findings)
    most = min(largest, max(bend.radius, floor) * _LARGEST_RADIUS_FACTOR)
    if floor > most:
        return math.nan

    def of_run(radius: float) -> bool:
        return tries.passes(result, with_radius(result.run, bend.vertex, radius))

    def by_itself(radius: float) -> bool:
        tries.left -= 1
        return _holds(result, bend, radius)

    fails = any(f.severity == "stop" for f in findings)
    if result.decision.choice is not None or (fails and of_run(most)):
        return least_passing(of_run, floor, bend.radius, most)
    return least_passing(by_itself, floor, bend.radius, most)


def _holds(result: RunResult, bend: ScheduledBend, radius: float) -> bool:
    """The pressure in the bend keeps to its limit in the direction reported."""
    run = with_radius(result.run, bend.vertex, radius)
    try:
        pull = solve_pull(run, result.practice, reverse=result.best.pull.reverse)
    except InputError:
        return False
    segment = int(np.flatnonzero(pull.path.vertex == bend.vertex)[0])
    pressure = float(pull.profile.sidewall[pull.worst_rows[segment]])
    return pressure <= sidewall_limit(run).value * (1 + _ROUNDING)


def least_passing(
    passes: Callable[[float], bool], floor: float, given: float, most: float
) -> float:
    """The least radius from ``floor`` to ``most`` m that passes, NaN where none does.

    A larger radius is taken to pass where a smaller one does; it is found to a thousandth.
    """
    if passes(floor):
        return floor
    middle = min(max(given, floor), most)
    if middle > floor and passes(middle):
        low, high = floor, middle
    elif passes(most):
        low, high = middle, most
    else:
        return math.nan
    while high - low > _FINE * high:
        half = (low + high) / 2
        low, high = (low, half) if passes(half) else (half, high)
    return high
