"""Where the pulling machine can stand: every place of a grid round the conduit end, judged.

A finer grid follows round the best places, or round those that came closest where none will do.

The order of the checks is the order of ``REASONS``; a place that fails all ways round counts under
the check that its best way round got to. The rope comes before the room for the machine: a place
beyond a wall is no near miss.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.geometry.vectors import Floats, norm
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.job import Job
from route3d.model.machine import Machine
from route3d.model.rigging import LeadOff
from route3d.phrase import Phrase, literal, say
from route3d.planning.placement.checks import LOOK, SIDES, Fitted, fitted
from route3d.planning.placement.rope_legs import PullEnd, RopeLine, pull_end, rope_lines
from route3d.planning.placement.site import Ints, SiteMesh, Surroundings, site_near
from route3d.planning.placement.stands import (
    Ground,
    PlaceRules,
    StandingMachine,
    ground_at,
    ways_to_stand,
)

__all__ = [
    "REASONS",
    "Failure",
    "PlaceRules",
    "Placement",
    "PlacementSearch",
    "machine_search",
    "place_key",
    "place_machine",
]

REASONS = ("floor", "line", "reach", "rope", "machine", "head room", "clearance", "vehicle")

# Weight of the rope's length against lead angle and crowding, each from 0 to 1: a longer rope
# alone never outweighs a rope at its limit or a machine against the wall. No source.
_ROPE_WEIGHT = 0.3
# Lengths that differ by rounding alone are the same, m.
_SAME = 1e-6
_USUAL = PlaceRules()


@dataclass(frozen=True, slots=True)
class Placement:
    """A machine location; lengths in m, angles in rad.

    ``position`` is the middle of its feet; ``yaw`` the plan angle from +x of its front, which
    faces the rope. ``lead_angle`` is the larger of the rope's angles to the machine's axis and to
    the line of the conduit or last sheave; ``distance`` the rope's length, its corners in
    ``rope``. ``clear_least`` is the smallest gap round the machine, inf beyond LOOK and nan where
    not checked. ``sides`` are those with the working clearance, seen from behind the
    machine. The smaller ``score`` the better. ``floor`` is the height under it, None where it is
    not known and the machine was taken to stand at grade.
    """

    position: tuple[float, float, float]
    yaw: float
    lead_angle: float
    distance: float
    clear_least: float
    score: float
    sides: tuple[str, ...]
    rope: tuple[tuple[float, float, float], ...]
    reasons: Phrase
    notes: tuple[Phrase, ...] = ()
    floor: float | None = None

    def lacks(self, out: float) -> float:
        """How much rope is missing for the head to be drawn out ``out`` m, 0 for none."""
        return out - self.distance if self.distance < out - _SAME else 0.0


@dataclass(frozen=True, slots=True)
class Failure:
    """``count`` places that fail for one ``reason`` of REASONS, ``what`` being in the way.

    ``example`` is the one of them nearest to the conduit end, m.
    """

    reason: str
    what: str
    count: int
    example: tuple[float, float, float]
    text: Phrase


@dataclass(frozen=True, slots=True)
class PlacementSearch:
    """The ``best`` places, best first, of ``tried``; the rest by reason, most frequent first.

    ``good`` places pass every check. ``why`` says why the best is best, or why there is none.
    """

    best: tuple[Placement, ...]
    tried: int
    good: int
    failures: tuple[Failure, ...]
    why: Phrase


@dataclass(slots=True)
class _Tally:
    """For each place the last check it failed, and what was in the way; -1 for neither."""

    reason: Ints
    owner: Ints

    def with_places(self, more: _Tally) -> _Tally:
        """The places of both, these first."""
        reasons, owners = (self.reason, more.reason), (self.owner, more.owner)
        return _Tally(np.concatenate(reasons), np.concatenate(owners))

    def fail(self, places: Ints, reason: str, owner: Ints | int = -1) -> None:
        self.reason[places] = REASONS.index(reason)
        self.owner[places] = owner


def machine_search(
    pull: Pull, machine: Machine, job: Job, meshes: Sequence[SiteMesh] = ()
) -> PlacementSearch:
    """Where ``machine`` can stand at the pulling end of a pull."""
    rules = PlaceRules.of(pull.run, job.allowances)
    far = max(PlaceRules().reach[1], rules.reach[1]) + sum(rules.vehicle or ())
    point = pull.run.route.vertices[pull.pull].point
    site = site_near(point, job.site.rooms, meshes, far)
    # The head is drawn out so far before it may meet the machine; nearer only where that fails.
    low, high = rules.reach
    for near in (rules.out, low) if low < rules.out <= high else (low,):
        found = place_machine(
            pull_end(pull),
            machine,
            site,
            job.allowances,
            lead_off=pull.run.lead_off,
            rules=replace(rules, reach=(near, high)),
        )
        if found.best:
            break
    return found


def place_key(pull: Pull, allowances: Allowances) -> object:
    """Two pulls of one key, on one site, find the same places for the machine."""
    machine, end = pull.run.machine, pull_end(pull)
    return (
        machine and (machine.name, machine.envelope, machine.line_height, machine.clearance),
        pull.run.lead_off,
        allowances,
        PlaceRules.of(pull.run, allowances),
        tuple(np.concatenate((end.point, end.outward, end.heading)).round(9).tolist()),
    )


def place_machine(
    end: PullEnd,
    machine: Machine,
    site: Surroundings,
    allowances: Allowances,
    *,
    lead_off: Sequence[LeadOff] = (),
    rules: PlaceRules = _USUAL,
) -> PlacementSearch:
    """Search the places where ``machine`` can stand and pull from ``end``.

    Grid and quarter turns lie along the rope into the machine; a machine square to the plan grid is
    tried as well where that is within the lead angle.
    """
    if machine.envelope is None:
        text = f"machine {literal(machine.name)} has no envelope: location not searched"
        return PlacementSearch((), 0, 0, (), say(text))
    lines = rope_lines(end, lead_off, allowances.lead_angle)
    if not lines:
        return PlacementSearch((), 0, 0, (), _not_level(end, lead_off, allowances))
    stand = StandingMachine.of(end, machine, machine.envelope, allowances.lead_angle, rules)
    if site.empty:
        return _straight_ahead(stand, lines[0], allowances)
    site = site.near(end.point[None], stand.span)
    along = lines[0].entry
    ground = ground_at(site, stand, _grid(stand, along))
    good, tally = _judged(site, stand, ground, lines)
    finer = ground_at(
        site, stand, _close_by(stand, along, _seeds(stand, ground, good, tally)), ground
    )
    more, failed = _judged(site, stand, finer, lines)
    more = replace(more, ways=replace(more.ways, place=more.ways.place + len(ground.floor)))
    good, tally = Fitted.joined((good, more)), tally.with_places(failed)
    return _search(site, stand, ground.with_places(finer), good, tally)


def _not_level(end: PullEnd, lead_off: Sequence[LeadOff], allowances: Allowances) -> Phrase:
    if lead_off:
        return say(
            "no path through the lead-off brings the rope within {} of level",
            (allowances.lead_angle, "angle"),
        )
    return say(
        "the rope leaves the conduit {} off level; limit {}: a lead-off sheave must turn it",
        (math.asin(min(1.0, abs(float(end.outward[2])))), "angle"),
        (allowances.lead_angle, "angle"),
    )


def _grid(stand: StandingMachine, along: Floats) -> Floats:
    """Places (n, 2) within the span of the end, in rows along the rope, nearest first."""
    count = math.floor((stand.rules.reach[1] + stand.envelope[0] / 2) / stand.rules.step)
    u, v = np.mgrid[-count : count + 1, -count : count + 1].reshape(2, -1)
    keep = u * u + v * v <= count * count
    steps = _in_rows(u[keep], v[keep], along)
    places: Floats = stand.end.point[:2] + stand.rules.step * steps
    return places


def _close_by(stand: StandingMachine, along: Floats, seeds: Floats) -> Floats:
    """Places (n, 2) of the finer grid round the ``seeds`` (k, 2), short of the next coarse ones."""
    finer = stand.rules.finer
    u, v = np.mgrid[1 - finer : finer, 1 - finer : finer].reshape(2, -1)
    other = (u != 0) | (v != 0)
    steps = _in_rows(u[other], v[other], along) / finer
    places: Floats = (seeds[:, None] + stand.rules.step * steps).reshape(-1, 2)
    return places


def _in_rows(u: Ints, v: Ints, along: Floats) -> Floats:
    """Steps (n, 2) of ``u`` along the rope and ``v`` across it, the shortest first."""
    order = np.lexsort((-v, -u, u * u + v * v))
    across = np.array([-along[1], along[0]])
    steps: Floats = u[order, None] * along[:2] + v[order, None] * across
    return steps


def _seeds(stand: StandingMachine, ground: Ground, good: Fitted, tally: _Tally) -> Floats:
    """The best places (k, 2) so far, or the closest if none is acceptable."""
    if len(good.ways.place):
        return ground.places[good.ways.place[_picked(stand, good)]]
    closest = np.argsort(-tally.reason, kind="stable")
    return ground.places[_spread(stand, ground.places, closest)]


def _judged(
    site: Surroundings, stand: StandingMachine, ground: Ground, lines: Sequence[RopeLine]
) -> tuple[Fitted, _Tally]:
    """The ways to stand that pass every check, and what the others failed."""
    blank = np.full(len(ground.floor), -1)
    tally = _Tally(blank.copy(), blank.copy())
    tally.fail(np.flatnonzero(np.isnan(ground.floor)), "floor")
    ways, off_line, off_reach = ways_to_stand(stand, ground, lines)
    tally.fail(off_line, "line")
    tally.fail(off_reach, "reach")
    good, failed = fitted(site, stand, ground, ways)
    for reason in REASONS:
        for places, owner in failed.get(reason, ()):
            tally.fail(places, reason, owner)
    tally.reason[good.ways.place] = -1
    return good, tally


def _search(
    site: Surroundings, stand: StandingMachine, ground: Ground, good: Fitted, tally: _Tally
) -> PlacementSearch:
    failures = _failures(site, stand, ground, tally)
    tried, passed = len(ground.floor), len(np.unique(good.ways.place))
    if not passed:
        closest = max(failures, key=lambda f: (REASONS.index(f.reason), f.count))
        head = say("none of {} locations is acceptable; closest: ", (tried, "count"))
        return PlacementSearch((), tried, 0, failures, head + closest.text)
    score = _score(stand, good)
    best = tuple(_placement(stand, ground, good, i, float(score[i])) for i in _picked(stand, good))
    counts = (passed, "count"), (tried, "count")
    head = say("best of {} acceptable locations of {} tried: ", *counts)
    if best[0].lacks(stand.rules.out):
        head = say("longest rope of {} locations where the machine fits, of {} tried: ", *counts)
    return PlacementSearch(best, tried, passed, failures, head + best[0].reasons)


def _score(stand: StandingMachine, good: Fitted) -> Floats:
    """Share of the lead angle used, share of the clearance missing, and the rope's length."""
    lead = good.ways.lead / max(stand.lead_angle, 1e-9)
    wanted = min(stand.clearance or 1.0, LOOK)
    crowded = 1.0 - np.minimum(good.gap / wanted, 1.0)
    length = good.ways.length / max(stand.rules.reach[1], 1e-9)
    score: Floats = lead + crowded + _ROPE_WEIGHT * length
    return score


def _picked(stand: StandingMachine, good: Fitted) -> list[int]:
    """The ways to keep, best first: the rope that the head lacks comes before the score.

    Counted in finer steps begun, so that no machine leaves the line for a little more rope.
    """
    missing = stand.rules.out - _SAME - good.ways.length
    lacks = np.ceil(missing * stand.rules.finer / stand.rules.step).clip(0.0)
    score = np.round(_score(stand, good), 9)
    return _spread(stand, good.ways.feet, np.lexsort((good.ways.place, score, lacks)))


def _spread(stand: StandingMachine, places: Floats, order: Ints) -> list[int]:
    """The first of ``order``, each at least a machine's length from those before it."""
    picked: list[int] = []
    for i in order:
        apart = norm(places[picked] - places[i])
        if (apart >= stand.envelope[0] - 1e-9).all():
            picked.append(int(i))
        if len(picked) == stand.rules.keep:
            break
    return picked


def _placement(
    stand: StandingMachine, ground: Ground, good: Fitted, i: int, score: float
) -> Placement:
    ways = good.ways
    front = 0.0 - ways.axis[i]
    sides = tuple(s for s, free in zip(SIDES, good.sides[i], strict=True) if free)
    reasons = say(
        "rope angle {} (limit {}), ",
        (float(ways.lead[i]), "angle"),
        (stand.lead_angle, "angle"),
    )
    gap = float(good.gap[i])
    reasons += _gap_words(gap) + say("{} of rope", (float(ways.length[i]), "length"))
    return Placement(
        position=_point(ways.feet[i]),
        yaw=math.atan2(front[1], front[0]),
        lead_angle=float(ways.lead[i]),
        distance=float(ways.length[i]),
        clear_least=gap,
        score=score,
        sides=sides,
        rope=tuple(_point(p) for p in ways.corners[i]),
        reasons=reasons,
        notes=(*stand.notes, *_place_notes(stand, bool(ground.known[ways.place[i]]), sides)),
        floor=float(ground.floor[ways.place[i]]) if ground.known[ways.place[i]] else None,
    )


def _gap_words(gap: float) -> Phrase:
    if math.isnan(gap):
        return say("")
    if gap == math.inf:
        return say("no obstacle within {}, ", (LOOK, "length"))
    return say("{} clear, ", (gap, "length"))


def _place_notes(stand: StandingMachine, known: bool, sides: tuple[str, ...]) -> list[Phrase]:
    notes = [] if known else [stand.grade_note]
    if stand.clearance and 0 < len(sides) < 3:
        clear = (stand.clearance, "length")
        notes.append(say(f"working clearance of {{}} only at the {' and '.join(sides)}", clear))
    return notes


def _point(p: Floats) -> tuple[float, float, float]:
    return float(p[0]), float(p[1]), float(p[2])


def _failures(
    site: Surroundings, stand: StandingMachine, ground: Ground, tally: _Tally
) -> tuple[Failure, ...]:
    """Failed places by reason and by what is in the way."""
    away = np.round(norm(ground.places - stand.end.point[:2]), 9)
    nearest = np.argsort(away, kind="stable")
    failed = nearest[tally.reason[nearest] >= 0]
    named = np.array([*(site.names.index(n) for n in site.names), -1])  # -1 stands for nothing
    kinds = np.stack((tally.reason[failed], named[tally.owner[failed]]), axis=1)
    found = []
    for (reason, owner), first, count in zip(
        *np.unique(kinds, axis=0, return_index=True, return_counts=True), strict=True
    ):
        place = failed[first]
        floor = ground.floor[place]
        z = stand.end.point[2] if np.isnan(floor) else floor
        what = site.names[owner] if owner >= 0 else ""
        text = _failure_text(REASONS[reason], literal(what), int(count), stand)
        example = _point(np.array([*ground.places[place], z]))
        found.append(Failure(REASONS[reason], what, int(count), example, text))
    return tuple(sorted(found, key=lambda f: -f.count))


def _failure_text(reason: str, what: str, count: int, stand: StandingMachine) -> Phrase:
    head = say("{} location: " if count == 1 else "{} locations: ", (count, "count"))
    near, far = stand.rules.reach
    if reason == "line":
        limit = (stand.lead_angle, "angle")
        return head + say("rope angle would exceed {}", limit)
    if reason == "reach":
        words = "no rope path between {} and {} long with room for its sheaves"
        return head + say(words, (near, "length"), (far, "length"))
    if reason == "head room":
        return head + say(f"too little head room under {what}")
    if reason == "clearance":
        clear = (stand.clearance, "length")
        return head + say(f"less than {{}} of working clearance from {what} on both sides", clear)
    if reason == "vehicle":
        return head + say(
            "the machine fits but the vehicle behind it does not: "
            + (f"{what} is in the way" if what else "no level floor under it")
        )
    plain = {
        "floor": "no level floor for the machine",
        "machine": f"the machine would overlap {what}",
        "rope": f"the rope would touch {what}",
    }
    return head + say(plain[reason])


def _straight_ahead(
    stand: StandingMachine, line: RopeLine, allowances: Allowances
) -> PlacementSearch:
    """One unchecked place: the nearest on the rope's line that leaves room for the cable's tail."""
    near, far = stand.rules.reach
    first = min(max(allowances.pull_slack, stand.rules.out, near), far)
    turns = line.least[:-1] @ line.directions[:-1, :2] if len(line.least) > 1 else np.zeros(2)
    away = np.append(np.arange(first, far, stand.rules.step), far) + stand.envelope[0] / 2
    places = stand.end.point[:2] + turns + away[:, None] * line.entry[:2]
    ground = Ground.at_grade(stand, places)
    ways, _, _ = ways_to_stand(stand, ground, (line,), checked=False)
    straight = ways.lead <= stand.lead_angle + 1e-9
    i = int(np.argmax(straight) if straight.any() else np.argmin(ways.lead))
    alone = Fitted(ways, np.full(len(places), np.nan), np.zeros((len(places), 3), dtype=bool))
    note = say("no room in the model: location not checked")
    place = _placement(stand, ground, alone, i, 0.0)
    place = replace(place, notes=(*place.notes, note))
    return PlacementSearch((place,), 0, 0, (), note)
