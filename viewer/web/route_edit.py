"""The route of a run as edited on the page: its points in order, each with its place in the file.

A ``RouteEdit`` is the value of the edit ``route``. It holds the whole route, so that undo, variants
and sharing need nothing of their own, and each point that stands in the file by its number there:
name, access, box and sheave stay with it, and so does its line when the run is saved.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import groupby, pairwise
from typing import Annotated, Any, get_args

import numpy as np
from pydantic import Field, TypeAdapter, ValidationError

from route3d.errors import GeometryError, InputError, Problem
from route3d.geometry.fillet import COINCIDENT, STRAIGHT_TURN
from route3d.geometry.vectors import Floats, angle_between, norm, unit
from route3d.model.route import Route, Vertex
from route3d.model.run import Run
from route3d.modelfile import fields
from route3d.modelfile.build_route import SHARPEST, TightBends
from route3d.units import SYSTEMS, convert, show, unit_label

Place = tuple[float, float, float]

MOST_POINTS = 300
"""Points of a route that can be edited on the page: of more, none could be seen apart."""

MOST_LEGS = 400
"""Legs of a route that can be typed on the page."""

_MOST_WORDS = 6


@dataclass(frozen=True, slots=True)
class Point:
    """A point of an edited route.

    ``origin`` is its number in the file, None for a new one; ``bend`` the radius (m) it has where
    the route turns there, 0 for none; ``conduit`` the leg of the file whose conduit starts here.
    """

    origin: int | None
    at: Place
    bend: float
    conduit: int


@dataclass(frozen=True, slots=True)
class RouteEdit:
    """All points of an edited route; ``base`` tells which route of the file it was made from.

    Where legs were typed, ``drawn`` is the route they give, and the points are counted in that in
    place of the route of the file; its points have their number in the file in place of a line.
    """

    base: str
    points: tuple[Point, ...]
    drawn: Route | None = None

    def origin(self, given: Route) -> Route:
        """The route that the points are counted in."""
        return given if self.drawn is None else self.drawn


def base_of(route: Route) -> str:
    """What tells one route of a file from another."""
    told = repr([(v.point, v.bend, v.name, sorted(v.access)) for v in route.vertices])
    return sha256(told.encode()).hexdigest()[:16]


def as_given(route: Route) -> RouteEdit:
    """The route of the file, nothing changed."""
    last = len(route.conduits) - 1
    points = (Point(i, v.point, v.bend, min(i, last)) for i, v in enumerate(route.vertices))
    return RouteEdit(base_of(route), tuple(points))


# --- changes -----------------------------------------------------------------------------------


def moved(edit: RouteEdit, index: int, to: Place, *, rest: bool = False) -> RouteEdit:
    """A point at another place; with ``rest`` all points after it move with it."""
    by = [b - a for a, b in zip(_point(edit, index).at, to, strict=True)]
    points = list(edit.points)
    points[index] = replace(points[index], at=to)
    for i in range(index + 1, len(points) if rest else 0):
        x, y, z = (c + d for c, d in zip(points[i].at, by, strict=True))
        points[i] = replace(points[i], at=(x, y, z))
    return replace(edit, points=tuple(points))


def inserted(edit: RouteEdit, index: int, at: Place | None = None) -> RouteEdit:
    """A new point after one, in the middle of the leg unless ``at`` another place."""
    before, after = _point(edit, index), _point(edit, index + 1)
    if len(edit.points) >= MOST_POINTS:
        raise InputError(Problem(f"a route edited on the page has at most {MOST_POINTS} points"))
    x, y, z = ((a + b) / 2 for a, b in zip(before.at, after.at, strict=True))
    new = Point(None, at or (x, y, z), 0.0, before.conduit)
    return replace(edit, points=(*edit.points[: index + 1], new, *edit.points[index + 1 :]))


def deleted(edit: RouteEdit, index: int, given: Run) -> RouteEdit:
    """The route without a point between its ends."""
    point = _point(edit, index)
    if index in (0, len(edit.points) - 1):
        raise InputError(Problem("the ends of a run cannot be deleted", fix="move them instead"))
    name = "" if point.origin is None else edit.origin(given.route).vertices[point.origin].name
    if name and name in {end.name for end in given.ends}:
        said = f"{name} has equipment of its own in the model file and cannot be deleted here"
        raise InputError(Problem(said, fix="remove its table under run.ends first"))
    return replace(edit, points=(*edit.points[:index], *edit.points[index + 1 :]))


def with_bend(edit: RouteEdit, index: int, radius: float, given: Run) -> RouteEdit:
    """The route with another radius at a point."""
    point = _point(edit, index)
    if index in (0, len(edit.points) - 1):
        raise InputError(Problem("an end of the run has no bend: it needs a leg on both sides"))
    vertex = None if point.origin is None else edit.origin(given.route).vertices[point.origin]
    if vertex is not None and vertex.is_pull_point:
        raise InputError(Problem("a pull point has no bend: the conduit stops and starts there"))
    points = list(edit.points)
    points[index] = replace(point, bend=radius)
    return replace(edit, points=tuple(points))


def with_length(edit: RouteEdit, index: int, length: float, *, rest: bool) -> RouteEdit:
    """The leg after a point of another length: its far end moves along it."""
    a, b = _point(edit, index).at, _point(edit, index + 1).at
    long = math.dist(a, b)
    if long < COINCIDENT:
        raise InputError(Problem("the leg has no direction", fix="move one of its points first"))
    x, y, z = (p + (q - p) * length / long for p, q in zip(a, b, strict=True))
    return moved(edit, index + 1, (x, y, z), rest=rest)


def _point(edit: RouteEdit, index: int) -> Point:
    if not 0 <= index < len(edit.points):
        raise InputError(Problem(f"the route has no point {index + 1}"))
    return edit.points[index]


def with_radii(edit: RouteEdit, given: Run) -> RouteEdit:
    """The route with a radius at every point that came to turn.

    The standard elbow of its conduit, or that of the nearest bend where none is known.
    """
    turns, points = turns_of([p.at for p in edit.points]), list(edit.points)
    route = edit.origin(given.route)
    for i, point in enumerate(points):
        vertex = None if point.origin is None else route.vertices[point.origin]
        if point.bend or turns[i] <= STRAIGHT_TURN or (vertex is not None and vertex.access):
            continue
        bends = (p for p in sorted(edit.points, key=lambda p: _steps(edit, p, i)) if p.bend)
        nearest = next(bends, None)
        elbow = route.conduits[point.conduit].elbow_radius
        radius = elbow if elbow is not None else nearest.bend if nearest is not None else 0.0
        points[i] = replace(point, bend=radius)
    return replace(edit, points=tuple(points))


def _steps(edit: RouteEdit, point: Point, index: int) -> int:
    return abs(edit.points.index(point) - index)


def turns_of(points: Sequence[Sequence[float]]) -> Floats:
    """The turn at each point, rad; 0 at the ends, and everywhere while two points coincide."""
    turns = np.zeros(len(points))
    legs = np.diff(np.array(points), axis=0)
    if len(points) > 2 and not (norm(legs) < COINCIDENT).any():
        directions = unit(legs)
        turns[1:-1] = angle_between(directions[:-1], directions[1:])
    return turns


# --- the run with its route --------------------------------------------------------------------


def routed(run: Run, edit: RouteEdit) -> Run:
    """The run of the file along the edited route.

    Raises InputError where the file has another route by now, and where the route folds back.
    """
    given, last = edit.origin(run.route), len(edit.points) - 1
    if edit.base != base_of(run.route):
        raise InputError(Problem("the model file has another route now"))
    # other friction may have been given to them
    edited = {c.name: c for c in run.route.conduits}
    turns, vertices = turns_of([p.at for p in edit.points]), []
    for i, point in enumerate(edit.points):
        turn = float(turns[i])
        old = Vertex(point.at) if point.origin is None else given.vertices[point.origin]
        if edit.drawn is not None and old.line is not None:
            old = replace(old, line=run.route.vertices[old.line].line)
        stays = i in (0, last) or (old.is_pull_point and not point.bend)
        bend = 0.0 if stays or turn <= STRAIGHT_TURN else point.bend
        if turn > SHARPEST:
            said = f"the route turns back on itself at {old.name or f'point {i + 1}'}"
            fix = "add a point, so that the turn is made of two bends"
            raise InputError(Problem(f"{said} ({math.degrees(turn):.1f}°)", fix=fix))
        conduit = given.conduits[point.conduit]
        source = conduit.elbow_source if bend == conduit.elbow_radius else "given"
        if bend == old.bend:
            source = old.bend_source
        vertices.append(replace(old, point=point.at, bend=bend, bend_source=source))
    conduits = (given.conduits[p.conduit] for p in edit.points[:-1])
    route = Route(tuple(vertices), tuple(edited.get(c.name, c) for c in conduits))
    if given.legs is not None and is_same(route, given):
        route = replace(route, legs=given.legs)
    return replace(run, route=route, splices=_splices(run, route, edit))


def is_same(one: Route, other: Route) -> bool:
    """Whether two routes have the same points and bends, so that legs of one give the other."""
    a, b = ([(v.point, v.bend, v.name, v.access) for v in r.vertices] for r in (one, other))
    return a == b


def _splices(run: Run, route: Route, edit: RouteEdit) -> frozenset[int]:
    """Where a splice is allowed, as the points are counted now."""
    numbers = {p.origin: i for i, p in enumerate(edit.points) if p.origin is not None}
    if edit.drawn is not None:  # other points: by their names
        names = {v.name: i for i, v in enumerate(route.vertices) if v.name}
        numbers = {s: names.get(v.name) for s, v in enumerate(run.route.vertices)}  # type: ignore[misc]
    return frozenset(n for s in run.splices if (n := numbers.get(s)) is not None)


def geometry_words(error: GeometryError, route: Route, system: str) -> str:
    """What is wrong with points and radii, with lengths in the units on show."""
    tight = TightBends.of(route, error.vertices, route.legs.leg_of if route.legs else ())
    problem = error.problems[0]
    message, fix = tight.words(system) if tight is not None else (problem.message, problem.fix)
    return "; ".join(text for text in (message, fix) if text)


# --- as text -----------------------------------------------------------------------------------

_SPAN = get_args(fields.Coordinate)[1].most
_Number = Annotated[float, Field(ge=-_SPAN, le=_SPAN, allow_inf_nan=False)]
_Radius = Annotated[float, Field(ge=0, le=get_args(fields.Radius)[1].most, allow_inf_nan=False)]
_Index = Annotated[int, Field(ge=0, lt=100_000)]
_Text = Annotated[str, Field(max_length=200)]
_Row = tuple[_Index | None, _Number, _Number, _Number, _Radius, _Index]
_Read = TypeAdapter(
    tuple[
        Annotated[str, Field(pattern="^[0-9a-f]{16}$")],
        Annotated[list[_Row], Field(min_length=2, max_length=MOST_POINTS)],
        Annotated[list[_Text], Field(max_length=MOST_LEGS)],
    ]
)


def route_text(edit: RouteEdit) -> str:
    """An edited route as text, with all digits."""
    rows = [[p.origin, *p.at, p.bend, p.conduit] for p in edit.points]
    legs = () if edit.drawn is None or edit.drawn.legs is None else edit.drawn.legs.texts
    return json.dumps([edit.base, rows, [*legs]], separators=(",", ":"))


def read_route(text: str) -> tuple[RouteEdit, tuple[str, ...]]:
    """What ``route_text`` wrote, and the legs its points are counted in; InputError for other text.

    Where there are legs, the route they give is still to be put to it.
    """
    try:
        base, rows, legs = _Read.validate_json(text)
    except ValidationError:
        raise InputError(Problem("an edited route cannot be read from this text")) from None
    points = tuple(Point(o, (x, y, z), bend, leg) for o, x, y, z, bend, leg in rows)
    return RouteEdit(base, points), tuple(legs)


def check_origins(edit: RouteEdit, of_file: Route) -> None:
    """InputError where the points are not in the order of the file, or its ends are missing."""
    given = edit.origin(of_file)
    origins = [p.origin for p in edit.points if p.origin is not None]
    ends = [edit.points[i].origin for i in (0, -1)] == [0, len(given.vertices) - 1]
    rising = all(a < b for a, b in pairwise(origins))
    legs = all(p.conduit < len(given.conduits) for p in edit.points)
    if not (ends and rising and legs) or edit.base != base_of(of_file):
        raise InputError(Problem("the model file has another route now"))


# --- in words ----------------------------------------------------------------------------------


def route_words(edit: RouteEdit, given: Route, now: Route, system: str) -> str:
    """What differs from the route of the file: ``Route: sweep moved 2.0 ft; point 4 added``."""
    told = [*_differences(edit, edit.origin(given), now, system)]
    if edit.drawn is not None and edit.drawn.legs is not None:
        told.insert(0, f"drawn anew by {len(edit.drawn.legs.texts)} legs")
    more = len(told) - _MOST_WORDS
    return "Route: " + "; ".join((*told[:_MOST_WORDS], *([f"{more} more"] if more > 0 else ())))


def _differences(edit: RouteEdit, given: Route, now: Route, system: str) -> Iterator[str]:
    kept = {p.origin for p in edit.points}
    gone = [given.label(i) for i in range(len(given.vertices)) if i not in kept]
    for by, numbers in groupby(range(len(edit.points)), lambda i: _shift(edit.points[i], given)):
        group = [*numbers]
        if by is None:
            yield from (f"{now.label(i)} added" for i in group)
        elif (away := math.hypot(*by)) > COINCIDENT:
            names = " to ".join(dict.fromkeys(now.label(i) for i in (group[0], group[-1])))
            yield f"{names} moved {show(away, 'length', system, decimals=2)}"
    for i, (point, vertex) in enumerate(zip(edit.points, now.vertices, strict=True)):
        if point.origin is None or vertex.bend == (was := given.vertices[point.origin].bend):
            continue
        radii = (show(v, "radius", system) if v else "none" for v in (was, vertex.bend))
        yield f"bend radius at {now.label(i)}: {' → '.join(radii)}"
    if gone:
        yield f"deleted: {', '.join(gone)}"


def _shift(point: Point, given: Route) -> Place | None:
    """How far a point of the file was moved, to the micrometer; None for a new one."""
    if point.origin is None:
        return None
    old = given.vertices[point.origin].point
    x, y, z = (round(b - a, 6) + 0.0 for a, b in zip(old, point.at, strict=True))
    return x, y, z


# --- for the page ------------------------------------------------------------------------------


def route_data(now: Run, edit: RouteEdit | None) -> Mapping[str, Any]:
    """The points of the route shown, in SI and as they are typed."""
    route = now.route
    if len(route.vertices) > MOST_POINTS:
        return {"points": [], "most": MOST_POINTS}
    points = as_given(route).points if edit is None else edit.points
    turns = turns_of([p.at for p in points])
    return {
        "points": [
            {
                "at": list(vertex.point),
                "label": route.label(i),
                "kind": _kind(route, i),
                "turn": show(float(turns[i]), "angle", "US") if turns[i] > STRAIGHT_TURN else "",
                "text": {u: _typed_point(vertex.point, point.bend, u) for u in SYSTEMS},
                "conduit": route.conduits[i].label if i < len(route.conduits) else "",
            }
            for i, (vertex, point) in enumerate(zip(route.vertices, points, strict=True))
        ],
        "lengths": {u: [*_leg_texts(route, u)] for u in SYSTEMS},
        "units": {u: [unit_label(q, u) for q in ("length", "radius")] for u in SYSTEMS},
        "most": MOST_POINTS,
    }


def _kind(route: Route, index: int) -> str:
    if index in (0, len(route.vertices) - 1):
        return "end"
    vertex = route.vertices[index]
    return "bend" if vertex.bend else "pull point" if vertex.access else "point"


def _typed_point(at: Iterable[float], bend: float, system: str) -> list[str]:
    radius = [f"{convert(bend, 'radius', system):.8g}" if bend else ""]
    return [*(f"{_clean(convert(c, 'length', system)):.10g}" for c in at), *radius]


def _leg_texts(route: Route, system: str) -> Iterator[str]:
    for a, b in pairwise(route.vertices):
        yield f"{convert(math.dist(a.point, b.point), 'length', system):.6g}"


def _clean(value: float) -> float:
    """Without the last digits of a change of units, and without minus zero."""
    return round(value, 9) + 0.0
