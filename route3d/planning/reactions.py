"""What the cables or the rope pull a bend with, for whoever sizes its supports.

Two tensions T that part by the angle θ have the resultant 2 T sin(θ/2), along the bisector toward
the inside of the bend (statics of a cord over a smooth pulley; Beer & Johnston, *Vector Mechanics:
Statics*, from memory). T is the larger tension of the two ends of the bend. The drag of friction
along the conduit, its weight and that of the cables are not in it, nor are shocks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.bend_schedule import ScheduledBend
from route3d.geometry.path import ARC
from route3d.geometry.turns import middle_ways
from route3d.geometry.vectors import Floats, frozen
from route3d.mechanics.pull import Pull
from route3d.mechanics.rope_scenarios import HeadTrack, head_track
from route3d.mechanics.tension import MarchSegment, pieces_of, through_piece
from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.planning.result import RunResult

# Steps of the plan that is asked for its Stop readings, besides its bends and pull points.
_STEPS = 12


@dataclass(frozen=True, slots=True, eq=False)
class BendReaction:
    """The pull on bend ``number``: ``force`` N along ``way`` (3,), toward the inside of the bend.

    ``tension`` N is the largest in the bend of the directions that may be pulled: of the cables, or
    of the rope ahead of them where ``of_rope``; ``feed`` names the end it is fed from.
    ``stop_tension`` N is the largest in the bend while the machine reads Stop, by the plan, and
    ``stop_force`` N the force then; None where there is no plan, or it must not be pulled.
    """

    number: int
    tension: float
    of_rope: bool
    feed: str
    force: float
    way: Floats
    stop_tension: float | None = None
    stop_force: float | None = None


def bend_reactions(
    result: RunResult, bends: Sequence[ScheduledBend], job: Job | None = None
) -> tuple[BendReaction, ...]:
    """The reaction of each bend of a run; with its ``job`` that at Stop of its plan too."""
    if not bends:
        return ()
    ways = middle_ways(result.path, bends)
    candidates = [c for c in result.candidates if not c.barred] or list(result.candidates)
    found = [_tensions(candidate, bends) for candidate in candidates]
    stops = None if job is None else stop_tensions(result, bends, job)
    reactions = []
    for i, bend in enumerate(bends):
        tension, of_rope, k = max((float(t[i]), bool(r[i]), -k) for k, (t, r) in enumerate(found))
        twice = 2 * math.sin(bend.angle / 2)
        at_stop = None if stops is None else float(stops[i])
        reactions.append(
            BendReaction(
                number=bend.number,
                tension=tension,
                of_rope=of_rope,
                feed=candidates[-k].pull.feed_name,
                force=twice * tension,
                way=frozen(ways[i]),
                stop_tension=at_stop,
                stop_force=None if at_stop is None else twice * at_stop,
            )
        )
    return tuple(reactions)


def _tensions(
    candidate: Candidate, bends: Sequence[ScheduledBend]
) -> tuple[Floats, NDArray[np.bool_]]:
    """The largest tension in each bend, (b,) N, and whether it is that of the rope, (b,)."""
    pull = candidate.planned
    cable = np.zeros(len(pull.path))
    np.maximum.at(cable, pull.profile.segment, pull.profile.tension)
    phase = pull.rope_phase
    ahead = {} if phase is None else {b.vertex: b.tension for b in phase.in_bends()}
    of_cable = cable[[b.segment for b in bends]]
    of_rope = np.array([ahead.get(b.vertex, 0.0) for b in bends])
    return np.maximum(of_cable, of_rope), np.asarray(of_rope > of_cable)


def stop_tensions(result: RunResult, bends: Sequence[ScheduledBend], job: Job) -> Floats | None:
    """The largest tension in each bend while the machine reads Stop, (b,) N.

    None where the run has no rope or machine, or its plan must not be pulled. The Stop of every
    row of the gauge table is carried back from the machine, with friction ahead as planned: that
    is what a bend has where all that is more than planned lies behind it.
    """
    run = result.best.pull.run
    if result.stops or run.rope is None or run.machine is None:  # what stops it, stops its plan
        return None
    plan = make_plan(result, job, step=max(result.path.length / _STEPS, 1.0))
    if plan.stops:
        return None
    found = tensions_at(plan.pull, *_readings(plan))
    return np.array([found.get(b.vertex, 0.0) for b in bends])


def _readings(plan: Plan) -> tuple[Floats, Floats]:
    """Stations of the head, m, and the lowest Stop there, N."""
    rows = [r for r in plan.gauge if math.isfinite(r.stop)]
    return np.array([r.station for r in rows]), np.array([r.stop for r in rows])


def tensions_at(pull: Pull, heads: Floats, readings: Floats) -> dict[int, float]:
    """The largest tension (N) in each bend, by vertex, while the machine has one of some readings.

    ``heads`` (m,) m are the stations of the head in pulling order, ``readings`` (m,) N the loads of
    the machine there.
    """
    track = head_track(pull, heads)
    t = readings / track.lead_off(np.ones(len(heads)))
    opposite = pieces_of(track.walked.reversed())
    found: dict[int, float] = {}
    for i in range(len(opposite) - 1, -1, -1):
        after, t = t, _behind(track, opposite[-1 - i], i, t)
        if track.walked.kind[i] == ARC:
            vertex = int(track.walked.vertex[i])
            largest = float(np.maximum(after, t).max())
            found[vertex] = max(found.get(vertex, 0.0), largest)
    return found


def _behind(track: HeadTrack, piece: MarchSegment, i: int, t: Floats) -> Floats:
    """Tension (m,) before segment ``i`` with ``t`` N behind it: the same march, backwards."""
    passed, cable = track.passed(i), track.pull
    friction = float(track.friction[i])
    ahead = friction if track.on_sheave[i] else track.rope.friction
    out = np.empty_like(t)
    for rows, weight, mu, method in (
        (slice(None, passed), track.rope.weight, ahead, "exact"),
        (slice(passed, None), cable.run.cables.weight, friction, cable.practice.method),
    ):
        part = t[rows]
        if part.size:
            w, back = np.full_like(part, weight), np.full_like(part, -mu)
            back = back if rows.start is None else track.cable_friction(i, back)
            out[rows] = through_piece(piece, w, back, part, method)
    return out
