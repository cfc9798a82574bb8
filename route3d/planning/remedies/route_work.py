"""What helps by changing the route: radii, points, pull points, elbows, a larger conduit."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from route3d.checks.finding import Finding
from route3d.checks.fit import check_fit
from route3d.errors import InputError
from route3d.geometry.bend_schedule import LEVEL, ScheduledBend, largest_radius, leg_rooms
from route3d.geometry.fillet import route_path
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import run_fits
from route3d.model.conduit import Conduit, stock_conduit
from route3d.model.route import Route
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.remedies.aim import least, share_of
from route3d.planning.remedies.edits import (
    BendRadius,
    Edit,
    MovedPoint,
    NewPullPoint,
    OtherConduit,
    OtherElbows,
    Point,
    PulledApart,
    carried_out,
)
from route3d.planning.remedies.field_work import ROUTE, split_option
from route3d.planning.remedies.option import FailingRun, Option, option
from route3d.planning.splitting.new_points import (
    NewPoint,
    fewest_new_points,
    new_names,
    new_points_for_turn,
)
from route3d.planning.splitting.timing import best_splits
from route3d.standards.conduits import conduit_size, trade_sizes
from route3d.standards.friction import friction_range
from route3d.standards.tables import NotInTable
from route3d.units import convert, parse

# Effort of each kind of change (common practice, no source).
_RADIUS, _ELBOW, _MOVE, _POINT, _APART, _CONDUIT = 0.0, 2.0, 4.0, 8.0, 10.0, 20.0
# Bends looked at for a larger radius, elbow or moved vertex: those of the highest pressure. Fewer
# on a route of very many bends, whose every solution is long.
_MOST_BENDS, _MOST_MOVED, _MOST_SOLVED = 4, 3, 400
# A larger radius is no bend of a conduit run any more (common practice, no source), m.
_LARGEST_RADIUS, _LARGEST_FACTOR = 7.62, 10.0
FARTHEST = 8.0
"""A vertex moved further than this, m, makes another route (common practice, no source)."""
# No leg is shortened by more than this (common practice, no source).
_SHARE_OF_LEG = 0.45
RADIUS_RULES = ("cable bend radius", "conduit bend radius", "duct bend radius")
FIT_RULES = ("fill", "bore to bundle ratio", "minimum duct bore", "jam ratio", "clearance")
TURN_RULES = ("degrees between pull points",)
_ELBOWS = ("RMC",)
_SIZES_TRIED = 4
# So many bends and pull points are named; of more the first are.
_MOST_NAMED = 4
# A conduit begins again so far past an elbow, m.
_PAST = 0.1


def fit_options(state: FailingRun) -> Iterator[Option | None]:
    """What makes the cables fit: a larger conduit, or the riding cables apart."""
    yield from _larger_conduit(state)
    if state.run.cables.riders:
        yield _apart(state)


def radius_options(state: FailingRun) -> Iterator[Option | None]:
    """What gives cable and conduit the bend radius they need."""
    tight = tight_bends(state)
    if tight:
        yield from _room_for(state, tight)


def turn_options(state: FailingRun) -> Iterator[Option | None]:
    """What leaves less turn between two pull points."""
    yield from _shared_turn(state)


def route_options(state: FailingRun) -> Iterator[Option | None]:
    """Every change of the route for the pull."""
    if state.run.cables.riders:
        yield _apart(state)
    if state.within:
        return
    for bend in _worst_bends(state, _MOST_BENDS):
        yield _larger_radius(state, bend)
    yield from _pressed_bends(state)
    yield from _elbows(state)
    for bend in _worst_bends(state, _MOST_MOVED):
        yield _moved(state, bend)
    yield from _new_points(state)


# --- bends ----------------------------------------------------------------------------------------


def tight_bends(state: FailingRun) -> dict[int, float]:
    """Least radius, m, of every bend that is too tight for cable or conduit, by its number."""
    needed: dict[int, float] = {}
    bends = {b.number: b for b in state.bends}
    for finding in state.stopped_by(*RADIUS_RULES):
        bend = bends.get(bend_number(finding) or 0)
        if bend is None:
            continue
        radius = radius_asked(bend, finding)
        elbow = state.run.route.conduits[bend.leg].elbow_radius
        if finding.rule == "conduit bend radius" and elbow is not None and elbow < radius:
            radius = elbow
        rounded = radius if radius == elbow else state.up(radius, "radius")
        needed[bend.number] = max(rounded, needed.get(bend.number, 0.0))
    return needed


def radius_asked(bend: ScheduledBend, finding: Finding) -> float:
    """The radius (m) that a finding of ``RADIUS_RULES`` asks for, on the centerline.

    A check on the inside radius is brought back to it.
    """
    return bend.radius - finding.demand + finding.limit


def bend_number(finding: Finding) -> int | None:
    """The number of the bend a finding is about; None where it is about none."""
    first = finding.where.split(",")[0].split(" at ")[0]
    number = first.removeprefix("bend ")
    return int(number) if first != number and number.isdigit() else None


def _worst_bends(state: FailingRun, most: int) -> list[ScheduledBend]:
    """The bends of the highest sidewall pressure, taken in turn from both directions."""
    bends = state.bends
    if not bends:
        return []
    segments = np.array([b.segment for b in bends])
    orders = []
    for candidate in state.verdict.results[0].candidates:
        pull = candidate.pull
        peaks = pull.profile.sidewall[pull.worst_rows[segments]]
        orders.append(np.argsort(-peaks, kind="stable"))
    in_turn = dict.fromkeys(np.column_stack(orders).ravel().tolist())
    return [bends[k] for k in in_turn][: max(1, min(most, _MOST_SOLVED // len(bends)))]


def _label(state: FailingRun, bend: ScheduledBend) -> str:
    return literal(state.run.route.bend_label(bend.number, bend.vertex))


def _radii(state: FailingRun, radii: dict[int, float]) -> Option | None:
    """Some bends, by number, made to other radii."""
    bends = [b for b in state.bends if b.number in radii]
    edits = [BendRadius(b.vertex, radii[b.number]) for b in bends]
    if len(bends) > _MOST_NAMED:
        what = say(
            f"Make {len(bends)} bends larger, starting with {_label(state, bends[0])}: radius "
            "at least {}",
            (max(radii.values()), "radius+"),
        )
    else:
        what = _radii_words(state, bends, radii)
    larger = sum(radii[b.number] / b.radius for b in bends) / 10
    return option(state, "radius", what, edits, (ROUTE, _RADIUS + len(bends) - 1, larger))


def _radii_words(
    state: FailingRun, bends: Sequence[ScheduledBend], radii: dict[int, float]
) -> Phrase:
    what = say("")
    for bend in bends:
        elbow = state.run.route.conduits[bend.leg].elbow_radius
        made = ", standard elbow" if radii[bend.number] == elbow else ""
        what += say(
            f"{', and' if what else 'Increase the radius of'} {_label(state, bend)} to "
            f"{{}}{made} (now {{}})",
            (radii[bend.number], "radius+"),
            (state.radius_given(bend.vertex), "radius"),
        )
    return what


def _larger_radius(state: FailingRun, bend: ScheduledBend) -> Option | None:
    """One bend of the least radius that keeps the aim."""
    path = state.verdict.results[0].path
    fits = largest_radius(path, bend.segment, leg_rooms(path))
    most = min(fits, bend.radius * _LARGEST_FACTOR, _LARGEST_RADIUS)

    def share(radius: float) -> float:
        return state.share([BendRadius(bend.vertex, radius)])

    radius = least(share, bend.radius, most, state.step("radius"))
    return None if radius is None else _radii(state, {bend.number: radius})


def _pressed_bends(state: FailingRun) -> Iterator[Option | None]:
    """All bends pressed too hard made as large as their own pressure asks, in either direction."""
    path = state.verdict.results[0].path
    rooms = leg_rooms(path)
    for direction in state.taken:
        candidate = state.verdict.results[0].candidates[direction.reverse]
        pull = candidate.pull
        limit = direction.rated.sidewall * state.task.aim.margin
        wanted: dict[int, float] = {}
        for bend in state.bends:
            pressure = float(pull.profile.sidewall[pull.worst_rows[bend.segment]])
            if pressure <= limit:
                continue
            fits = min(largest_radius(path, bend.segment, rooms), _LARGEST_RADIUS)
            radius = state.up(bend.radius * pressure / limit, "radius")
            if bend.radius < min(radius, fits):
                wanted[bend.number] = radius if radius <= fits else fits
        if 1 < len(wanted) <= _MOST_SOLVED:
            yield _radii(state, wanted)


def _room_for(state: FailingRun, tight: dict[int, float]) -> Iterator[Option | None]:
    """The radii that cable and conduit need; where one does not fit, with points moved for it."""
    path = state.verdict.results[0].path
    rooms = leg_rooms(path)
    bends = {b.number: b for b in state.bends}
    lacking = [n for n, r in tight.items() if r > largest_radius(path, bends[n].segment, rooms)]
    made = _radii(state, tight)
    if made is not None or not lacking:
        yield made
        return
    fitting = {n: r for n, r in tight.items() if n not in lacking}
    edits: list[Edit] = [BendRadius(bends[n].vertex, r) for n, r in fitting.items()]
    what, far = say(""), 0.0
    for number in lacking if len(lacking) <= _MOST_MOVED else ():
        bend = bends[number]
        edits.append(BendRadius(bend.vertex, tight[number]))
        (run,) = carried_out(state.run, edits)
        near = (bend.vertex, bend.vertex - 1, bend.vertex + 1)
        move = _shortest(state, run, near, _has_path)
        if move is None:
            return
        edits += move.edits
        far += move.distance
        head = (
            f"{'; increase' if what else 'Increase'} the radius of {_label(state, bend)} to {{}} "
            "and "
        )
        what += say(head, (tight[number], "radius+")) + _move_words(state, run, move)
    for number, radius in fitting.items():
        what += say(
            f"; increase the radius of {_label(state, bends[number])} to {{}}", (radius, "radius+")
        )
    if what:
        cost = (ROUTE, _MOVE * len(lacking) + len(fitting), far / 100)
        yield option(state, "move", what, edits, cost)


def _has_path(run: Run) -> float:
    """A share: at most 1 where the bends have room."""
    try:
        route_path(run.route)
    except InputError:
        return 2.0
    return 0.5


# --- moved points ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Way:
    """A way to move ``vertices`` together: in words, its unit vector, and the farthest to go, m."""

    vertices: tuple[int, ...]
    words: str
    direction: Point
    farthest: float


@dataclass(frozen=True, slots=True)
class _Move:
    """Vertices moved ``distance`` m one way."""

    edits: tuple[MovedPoint, ...]
    distance: float
    way: Way


def ways(route: Route, vertex: int, label: Callable[[int], str]) -> Iterator[Way]:
    """The ways a bend's vertex may be moved: along both legs, across the bend, up and down.

    With a bend beside it also as a leg that is moved as a whole, along the leg that it meets.
    """
    at = [np.array(route.vertices[i].point) for i in (vertex - 1, vertex, vertex + 1)]
    before, after = at[1] - at[0], at[2] - at[1]
    legs = float(np.linalg.norm(before)), float(np.linalg.norm(after))
    names = label(vertex - 1), label(vertex + 1)
    near = _SHARE_OF_LEG * min(legs)
    along, on = before / legs[0], after / legs[1]
    across = (on - along) / np.linalg.norm(on - along)
    one = (vertex,)
    found: list[tuple[tuple[int, ...], str, Floats, float]] = [
        (one, f"toward {names[0]}", -along, _SHARE_OF_LEG * legs[0]),
        (one, f"away from {names[0]}", along, FARTHEST),
        (one, f"toward {names[1]}", on, _SHARE_OF_LEG * legs[1]),
        (one, f"away from {names[1]}", -on, FARTHEST),
        (one, "to the inside of the bend", across, near),
        (one, "to the outside of the bend", -across, near),
    ]
    if max(abs(along[2]), abs(on[2])) < 1 - 1e-6:  # else the ways along the legs are these
        up = np.array([0.0, 0.0, 1.0])
        found += [(one, "up", up, near), (one, "down", -up, near)]
    if route.vertices[vertex - 1].bend:
        leg = (vertex - 1, vertex)
        found += [
            (leg, f"toward {names[1]}", on, _SHARE_OF_LEG * legs[1]),
            (leg, f"away from {names[1]}", -on, FARTHEST),
        ]
    if route.vertices[vertex + 1].bend:
        leg = (vertex, vertex + 1)
        found += [
            (leg, f"toward {names[0]}", -along, _SHARE_OF_LEG * legs[0]),
            (leg, f"away from {names[0]}", along, FARTHEST),
        ]
    for vertices, words, direction, farthest in found:
        x, y, z = direction.tolist()
        yield Way(vertices, words, (x, y, z), min(farthest, FARTHEST))


def _shortest(
    state: FailingRun, run: Run, vertices: Sequence[int], share: Callable[[Run], float]
) -> _Move | None:
    """The shortest move of one of some vertices with which a share is at most 1."""
    best: _Move | None = None
    bent = [v for v in vertices if run.route.vertices[v].bend]
    for way in (w for v in bent for w in ways(run.route, v, state.label)):

        def after(distance: float, way: Way = way) -> float:
            edits = _moved_points(state, run, way, distance)
            return math.inf if edits is None else share(carried_out(run, edits)[0])

        farthest = way.farthest if best is None else min(way.farthest, best.distance)
        distance = least(after, 0.0, farthest, state.step("length"))
        if distance is None or (best is not None and distance >= best.distance):
            continue
        edits = _moved_points(state, run, way, distance)
        if edits is not None:
            best = _Move(edits, distance, way)
    return best


def _moved_points(
    state: FailingRun, run: Run, way: Way, distance: float
) -> tuple[MovedPoint, ...] | None:
    """The vertices so much farther that way; None where a plumb or level leg would lean."""
    edits = []
    for vertex in way.vertices:
        x, y, z = (
            _coordinate(p + distance * d, state.task.job.units)
            for p, d in zip(run.route.vertices[vertex].point, way.direction, strict=True)
        )
        edits.append(MovedPoint(vertex, (x, y, z)))
    (after,) = carried_out(run, edits)
    legs = {(v + k, v + k + 1) for v in way.vertices for k in (-1, 0)}
    leans = not state.practice.may_lean and any(
        _leans(run.route, after.route, a, b) for a, b in legs
    )
    return None if leans else tuple(edits)


def _leans(before: Route, after: Route, a: int, b: int) -> bool:
    """Whether a leg was plumb or level and is not after."""
    was, now = (_rise(route, a, b) for route in (before, after))
    plumb = math.pi / 2 - LEVEL
    return (was > plumb and now < was - 1e-4) or (was < LEVEL and now > was + 1e-3)


def _rise(route: Route, a: int, b: int) -> float:
    """Angle between a leg and the level, rad, 0 to a right angle."""
    along = np.subtract(route.vertices[b].point, route.vertices[a].point)
    return math.atan2(abs(float(along[2])), float(np.hypot(along[0], along[1])))


def _coordinate(value: float, units: str) -> float:
    """A coordinate (m) as it is written to a file in ``units``: to a ten-thousandth, m."""
    return parse(round(convert(value, "length", units), 4), "length", units)


def _move_words(state: FailingRun, run: Run, move: _Move) -> Phrase:
    names = " and ".join(literal(state.label(v)) for v in move.way.vertices)
    way = literal(move.way.words)
    if len(move.edits) == 1:
        was = run.route.vertices[move.edits[0].vertex].point
        places = tuple((v, "length") for v in (move.distance, *was, *move.edits[0].to))
        return say(
            f"move {names} by {{}} {way}, from ({{}}, {{}}, {{}}) to ({{}}, {{}}, {{}})", *places
        )
    return say(f"move {names} together by {{}} {way}", (move.distance, "length"))


def _moved(state: FailingRun, bend: ScheduledBend) -> Option | None:
    """The vertex of one bend moved the least that keeps the aim, the shortest way."""
    move = _shortest(
        state,
        state.run,
        [bend.vertex],
        lambda run: share_of(run, state.practice, state.task.aim),
    )
    if move is None:
        return None
    words = _move_words(state, state.run, move)
    what = Phrase(words.template[:1].upper() + words.template[1:], words.values)
    return option(state, "move", what, move.edits, (ROUTE, _MOVE, move.distance / FARTHEST))


# --- pull points ----------------------------------------------------------------------------------


def _as_written(route: Route, new: NewPoint, units: str) -> tuple[float, float, float]:
    """A new point as it is written: its coordinates, or for legs its distance along the straight.

    Off the line of a straight, if only by rounding, all legs after it would have to turn back.
    """
    x, y, z = new.point
    if route.legs is None:
        return _coordinate(x, units), _coordinate(y, units), _coordinate(z, units)
    start, end = (route.vertices[i].point for i in (new.leg, new.leg + 1))
    share = _coordinate(math.dist(start, new.point), units) / math.dist(start, end)
    x, y, z = (a + share * (b - a) for a, b in zip(start, end, strict=True))
    return x, y, z


def _points(state: FailingRun, found: Sequence[NewPoint]) -> tuple[list[Edit], Phrase]:
    """The edits that add pull points, and words for them."""
    units, route = state.task.job.units, state.run.route
    names = new_names(route, len(found))
    edits: list[Edit] = []
    what = say(f"Add {'a pull point' if len(found) == 1 else f'{len(found)} pull points'} at ")
    ordered = sorted(found, key=lambda p: p.station)
    for k, new in enumerate(ordered):
        # The last first: legs shift.
        edits.insert(0, NewPullPoint(new.leg, _as_written(route, new, units), names[k]))
        if k >= _MOST_NAMED:
            continue
        before, after = (literal(state.label(v)) for v in (new.leg, new.leg + 1))
        what += say(
            f"{' and at ' if k else ''}({{}}, {{}}, {{}}), station {{}}, {{}} from the corner at "
            f"{before} toward {after}",
            *((v, "length") for v in new.point),
            (new.station, "length"),
            (math.dist(route.vertices[new.leg].point, new.point), "length"),
        )
    return edits, what


def _shared_turn(state: FailingRun) -> Iterator[Option | None]:
    """New pull points that share out the turn of every stretch that turns too much."""
    path, route = state.verdict.results[0].path, state.run.route
    points = (0, *route.pull_points, len(route.vertices) - 1)
    found: list[NewPoint] = []
    for finding in state.stopped_by("degrees between pull points"):
        for first, last in pairwise(points):
            if f"{route.label(first)} to {route.label(last)}" == finding.where:
                found += new_points_for_turn(path, first, last, finding.limit)
    if found:
        edits, what = _points(state, found)
        yield option(state, "pull point", what, edits, (ROUTE, _POINT * len(found), 0.0))


def _new_points(state: FailingRun) -> Iterator[Option | None]:
    """The fewest new pull points with which the run can be pulled in stages."""
    job, aim = state.task.job, state.task.aim
    path = state.verdict.results[0].path
    found = fewest_new_points(state.run, job.practice, path, aim=aim.margin)
    if not found:
        return
    edits, what = _points(state, found)
    (run,) = carried_out(state.run, edits)
    ways_found = best_splits(run, job.practice, job.allowances, best=1, aim=aim.margin)
    for way in ways_found.plans:
        cost = (ROUTE, _POINT * len(found))
        yield split_option(state, edits, what + say(", and "), way, cost)


# --- conduit and set ------------------------------------------------------------------------------


def _larger_conduit(state: FailingRun) -> Iterator[Option | None]:
    """Each conduit that is too small for the set in the next size that is not."""
    edits: list[Edit] = []
    what, growth = say(""), 0.0
    for conduit in dict.fromkeys(state.run.route.conduits):
        if not any(
            f.where.endswith(f"conduit {conduit.name}") for f in state.stopped_by(*FIT_RULES)
        ):
            continue
        larger = next((c for c in _larger(state, conduit) if _fits(state, conduit, c)), None)
        if larger is None:
            return
        edits.append(OtherConduit(conduit.name, larger))
        growth += larger.inner_diameter / conduit.inner_diameter
        labels = literal(larger.label), literal(conduit.label)
        alike = labels[0] == labels[1] or not larger.stock_type
        new, old = ("a conduit", f"conduit {literal(conduit.name)}") if alike else labels
        what += say(
            f"{'; use' if what else 'Use'} {new} with an inner diameter of {{}} instead of "
            f"{old} ({{}})",
            (larger.inner_diameter, "diameter"),
            (conduit.inner_diameter, "diameter"),
        )
    if edits:
        yield option(state, "conduit", what, edits, (ROUTE, _CONDUIT * len(edits), growth / 100))


def _larger(state: FailingRun, conduit: Conduit) -> Iterator[Conduit]:
    """The next sizes of a stock conduit; of plain dimensions a bore larger by steps."""
    friction = {
        key: getattr(conduit, key)
        for key in (
            *("friction", "friction_low", "friction_high", "friction_source"),
            *("friction_above", "friction_then", "friction_report"),
        )
    }
    if not conduit.stock_type:
        wall = conduit.outer_diameter - conduit.inner_diameter
        for k in range(1, 41):
            bore = round(conduit.inner_diameter * (1 + 0.025 * k), 3)
            yield replace(
                conduit,
                name=f"{conduit.name} {round(bore * 1000)}",
                inner_diameter=bore,
                outer_diameter=bore + wall,
                min_bend_radius=None,
                elbow_radius=None,
            )
        return
    sizes = trade_sizes(conduit.stock_type)
    if conduit.trade_size not in sizes:
        return
    rules = state.practice.rule_set
    for size in sizes[sizes.index(conduit.trade_size) + 1 :][:_SIZES_TRIED]:
        stock = conduit_size(conduit.stock_type, size)
        if stock.outer_diameter is not None:
            name = f"{conduit.name} {size}"
            yield stock_conduit(name, stock, rules, outer=stock.outer_diameter, **friction)


def _fits(state: FailingRun, given: Conduit, larger: Conduit) -> bool:
    """Whether the set fits the larger conduit, and that a duct bank about the run."""
    spacings = [b.spacing for b in state.task.job.banks if b.run == state.given.name]
    if any(larger.outer_diameter > min(spacing) for spacing in spacings):
        return False
    try:
        (run,) = carried_out(state.run, [OtherConduit(given.name, larger)])
        found = check_fit(run, state.practice, run_fits(run))
    except InputError:
        return False
    where = f"conduit {larger.name}"
    return not any(f.severity == "stop" and f.where.endswith(where) for f in found)


def _apart(state: FailingRun) -> Option | None:
    """The riding cables in a conduit of their own."""
    names = tuple(c.name for c, _ in state.run.cables.riders)
    cables = literal(" and ".join(names))
    plural = "cables" if len(names) > 1 else "cable"
    what = say(f"Pull the riding {plural} {cables} separately, in its own conduit")
    return option(state, "apart", what, [PulledApart(names)], (ROUTE, _APART, 0.0))


def _elbows(state: FailingRun) -> Iterator[Option | None]:
    """Elbows of steel where a publication gives the jacket less friction in them."""
    jacket = state.run.cables.largest.jacket
    path = state.verdict.results[0].path
    if not jacket or len(state.bends) > _MOST_SOLVED:
        return
    for given in dict.fromkeys(state.run.route.conduits):
        bends = [b for b in state.bends if state.run.route.conduits[b.leg] == given]
        for stock_type in _ELBOWS if given.plastic and given.trade_size else ():
            try:
                published = friction_range(jacket, stock_type, True)
                friction = round(published.typical, 2)
                stock = conduit_size(stock_type, given.trade_size)
            except NotInTable:
                continue
            if not bends or stock.outer_diameter is None or friction >= given.friction:
                continue
            ends = [b.station + b.arc_length + _PAST for b in bends]
            if any(
                s > path.length or b.straight_after < 2 * _PAST
                for s, b in zip(ends, bends, strict=True)
            ):
                continue
            elbow = stock_conduit(
                f"{given.name} elbow",
                stock,
                state.practice.rule_set,
                outer=stock.outer_diameter,
                friction=friction,
            )
            units = state.task.job.units
            places = [tuple(_coordinate(v, units) for v in path.point(s).tolist()) for s in ends]
            edit = OtherElbows(tuple(b.vertex for b in bends), tuple(places), elbow)  # type: ignore[arg-type]
            what = say(
                f"Use {literal(elbow.label)} elbows for the bends in {literal(given.label)} "
                f"(friction {friction:.2f} by {literal(str(published.sources[0]))}; now "
                f"{given.friction:.2f})"
            )
            yield option(state, "elbows", what, [edit], (ROUTE, _ELBOW * len(bends), friction))
