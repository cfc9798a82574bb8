"""How far each bend is from failing: room for its tangents, and the least radius that passes.

The radius is found by solving the run again with it, both ways, and deciding again.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from route3d.checks.finding import Finding
from route3d.checks.limits import sidewall_limit
from route3d.errors import InputError
from route3d.geometry.bend_schedule import ScheduledBend, bend_schedule, largest_radius, leg_rooms
from route3d.geometry.fillet import route_path
from route3d.mechanics.pull import run_fits, solve_pull
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.planning.direction import candidate
from route3d.planning.remedies.aim import Aim, least, share_of_limits
from route3d.planning.remedies.edits import BendRadius, carried_out
from route3d.planning.remedies.route_work import RADIUS_RULES, bend_number, radius_asked
from route3d.planning.result import RunResult

SIDEWALL_RULE = "sidewall pressure"

# A radius is found to this share of it, and put right by so many steps of that.
_FINE, _MOST_STEPS = 0.001, 5
_LARGEST_FACTOR = 10.0
# Times a run is solved again, times its bends: about half a second of work.
_MOST_SOLVED = 1000
# What a bend passes by are the limits themselves.
_LIMITS = Aim(1.0, 1.0)


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
    left = most // max(len(bends), 1)
    passing: dict[int, float] = {}
    for bend in sorted(bends, key=lambda b: -max(f.ratio for f in found[b.number])):
        if left > 0:
            largest, findings = largest_radius(result.path, bend.segment, rooms), found[bend.number]
            passing[bend.number], solved = _passing_radius(result, bend, findings, largest)
            left -= solved
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
        number = bend_number(finding)
        if finding.rule in (*RADIUS_RULES, SIDEWALL_RULE) and number is not None:
            found.setdefault(number, []).append(finding)
    return found


def rule_radius(bend: ScheduledBend, findings: Iterable[Finding]) -> float:
    """The largest of the radii that cable and conduit ask for, on the centerline, m."""
    return max((radius_asked(bend, f) for f in findings if f.rule in RADIUS_RULES), default=0.0)


def _passing_radius(
    result: RunResult, bend: ScheduledBend, findings: Sequence[Finding], largest: float
) -> tuple[float, int]:
    """The least radius that passes, NaN where none does; and how often the run was solved."""
    floor = rule_radius(bend, findings)
    most = min(largest, max(bend.radius, floor) * _LARGEST_FACTOR)
    if floor > most:
        return math.nan, 0
    solved = 0

    def changed(radius: float) -> Run:
        return carried_out(result.run, [BendRadius(bend.vertex, radius)])[0]

    def of_run(radius: float) -> float:
        nonlocal solved
        solved += 1
        return share_of_limits(changed(radius), result.practice, _LIMITS)

    def by_itself(radius: float) -> float:
        nonlocal solved
        solved += 1
        return _pressure_share(result, changed(radius), bend.vertex)

    fails = any(f.severity == "stop" for f in findings)
    whole = result.decision.choice is not None or (fails and of_run(most) <= 1.0)
    share = of_run if whole else by_itself
    if share(floor) <= 1.0 and (not whole or passes(changed(floor), result.practice)):
        return floor, solved
    step = _FINE * max(floor, bend.radius / 10)
    radius = least(share, floor, most, step)
    # The quick share leaves out what happens inside a bend: the full solution has the last word.
    for _ in range(_MOST_STEPS):
        if radius is None or not whole or passes(changed(radius), result.practice):
            break
        solved += 1
        radius = radius + step if radius + step <= most else None
    return (math.nan if radius is None else radius), solved


def passes(run: Run, practice: Practice) -> bool:
    """True where a run, solved in full, can be pulled one way or the other without a stop."""
    try:
        path, fits = route_path(run.route), run_fits(run)
        return any(
            candidate(
                solve_pull(run, practice, reverse=reverse, path=path, fits=fits), stops_only=True
            ).passes
            for reverse in (False, True)
        )
    except InputError:  # the change makes no path, or no end to the tension
        return False


def _pressure_share(result: RunResult, run: Run, vertex: int) -> float:
    """Share of its limit of the pressure in the bend at a vertex, in the direction reported."""
    try:
        pull = solve_pull(run, result.practice, reverse=result.best.pull.reverse)
    except InputError:
        return math.inf
    segment = int(np.flatnonzero(pull.path.vertex == vertex)[0])
    pressure = float(pull.profile.sidewall[pull.worst_rows[segment]])
    return pressure / sidewall_limit(run).value
