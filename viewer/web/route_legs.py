"""Legs typed on the page: the route they give, and the legs of the route that is shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from route3d.errors import GeometryError
from route3d.geometry.fillet import STRAIGHT_TURN, route_path
from route3d.geometry.leg_grammar import LegFault, LegsError
from route3d.geometry.legs import LegRoute, legs_of, read_legs
from route3d.model.conduit import Conduit
from route3d.model.job import Job
from route3d.model.rigging import Sheave
from route3d.model.route import GivenLegs, Route, Vertex
from route3d.model.run import Run
from route3d.modelfile.build_route import SHARPEST
from route3d.modelfile.fields import nearest
from route3d.units import SYSTEMS, show
from viewer.web.route_edit import (
    MOST_POINTS,
    RouteEdit,
    as_given,
    base_of,
    geometry_words,
    is_same,
    turns_of,
)


def drawn_by_legs(job: Job, given: Run, texts: Sequence[str], units: str = "") -> RouteEdit:
    """The route of a run by other legs, in place of the one of the file.

    Raises LegsError with every fault at its leg; ``units`` are those of its words, by default the
    file's.
    """
    conduits = {c.name: c for run in job.runs for c in run.route.conduits}
    conduits |= {c.name: c for c in given.route.conduits}
    sheaves = {s.name: s for v in given.route.vertices if (s := v.sheave) is not None}
    declination = _declination(given)
    read = read_legs(texts, job.units, conduits=conduits, declination=declination)
    if len(read.points) > MOST_POINTS:
        said = f"a route edited on the page has at most {MOST_POINTS} points"
        raise LegsError([LegFault(len(texts) - 1, 1, said)])
    route = _route(read, conduits, sheaves)
    legs = GivenLegs(tuple(texts), read.leg_of, declination, read.closing)
    route = replace(route, legs=legs, vertices=_as_in_file(route.vertices, given.route))
    try:
        route_path(route)
    except GeometryError as error:
        at = read.leg_of[error.vertices[-1]] if error.vertices else len(texts) - 1
        words = geometry_words(error, route, units or job.units)
        raise LegsError([LegFault(at, 1, words)]) from None
    points = as_given(route).points
    return RouteEdit(base_of(given.route), points, route)


def _declination(given: Run) -> float:
    return 0.0 if given.route.legs is None else given.route.legs.declination


def _route(read: LegRoute, conduits: Mapping[str, Conduit], sheaves: Mapping[str, Sheave]) -> Route:
    """Points, radii and names as a route; LegsError for names and turns that cannot be."""
    faults: list[LegFault] = []
    points = [tuple(point) for point in read.points.tolist()]
    turns, legs, vertices = turns_of(points), list[Conduit](), list[Vertex]()
    last = len(points) - 1
    for i, point in enumerate(points):
        at = read.leg_of[i]
        for kind, name, known in (
            ("conduit", read.conduits[i], conduits),
            ("sheave", read.sheaves[i], sheaves),
        ):
            if name and name not in known:
                faults.append(LegFault(at, 1, f"there is no {kind} {name!r}", nearest(name, known)))
        if not i and not read.conduits[i]:
            fix = "add its name to the start, such as: heading north in duct"
            faults.append(LegFault(at, 1, "the first point has no conduit", fix))
        if faults:
            continue
        if i < last:
            legs.append(conduits[read.conduits[i]] if read.conduits[i] else legs[-1])
        turn, radius, source = float(turns[i]), read.radii[i], read.sources[i] or "given"
        if turn > SHARPEST:
            faults.append(LegFault(at, 1, "the route turns back on itself here"))
        elbow = legs[-1].elbow_radius
        if radius is None and not (i in (0, last) or read.access[i] or turn <= STRAIGHT_TURN):
            if elbow is None:
                said = (
                    f"a turn without a radius, and no standard elbow of {legs[-1].label} is known"
                )
                faults.append(LegFault(at, 1, said, "give the radius, such as: at 36 in"))
            radius, source = elbow, legs[-1].elbow_source
        vertices.append(
            Vertex(
                point=point,
                name=read.names[i],
                bend=radius or 0.0,
                bend_source=source,
                access=read.access[i],
                box=read.boxes[i],
                sheave=sheaves.get(read.sheaves[i]),
            )
        )
    if faults:
        raise LegsError(faults)
    return Route(tuple(vertices), tuple(legs))


def _as_in_file(vertices: Sequence[Vertex], given: Route) -> tuple[Vertex, ...]:
    """The points with their number in the file, in place of a line, where they stand in it.

    A point is one of the file where all but its place and its bend are the same, in the same order.
    """
    found: list[Vertex] = []
    first = 0
    for vertex in vertices:
        same = (i for i in range(first, len(given.vertices)) if _alike(vertex, given.vertices[i]))
        at = next(same, None)
        # of points without a name the next one is taken, a name is looked for further on
        if at is None or (at > first and not vertex.name):
            found.append(vertex)
            continue
        found.append(replace(vertex, line=at))
        first = at + 1
    return tuple(found)


def _alike(vertex: Vertex, old: Vertex) -> bool:
    return replace(vertex, point=old.point, bend=old.bend, bend_source="", line=None) == replace(
        old, bend_source="", line=None
    )


# --- for the page ------------------------------------------------------------------------------


def legs_data(job: Job, given: Run, now: Run, edit: RouteEdit | None) -> Mapping[str, Any]:
    """The legs of the route shown, and what each of them came to."""
    route, lines = now.route, _lines(job, given, now, edit)
    conduits = {c.name: c for c in route.conduits}
    try:
        read = read_legs(lines, job.units, conduits=conduits, declination=_declination(given))
    except LegsError:  # a conduit that is written by another name than its own
        return {"lines": list(lines), "notes": {u: [""] * len(lines) for u in SYSTEMS}}
    return {
        "lines": list(lines),
        "notes": {u: _notes(read, len(lines), u) for u in SYSTEMS},
        "closing": {u: _closing(read, u) for u in SYSTEMS},
    }


def _lines(job: Job, given: Run, now: Run, edit: RouteEdit | None) -> tuple[str, ...]:
    """As they were typed or stand in the file, while the route is still theirs."""
    first = given.route if edit is None or edit.drawn is None else edit.drawn
    if first.legs is not None and is_same(first, now.route):
        return first.legs.texts
    return legs_of(now.route, job.units, declination=_declination(given))


def _notes(read: LegRoute, count: int, system: str) -> list[str]:
    """For each leg: where it leads, and all degrees since the last pull point."""
    told = [""] * count
    totals = [row.total for row in read.echo]
    for i, point in enumerate(read.points.tolist()):
        at = ", ".join(show(c, "length", system) for c in point)
        total = totals[i] if i < len(totals) else totals[-1]
        turned = f"; {total:.4g}° since the last pull point" if total else ""
        told[read.leg_of[i]] = f"{at}{turned}"
    return told


def _closing(read: LegRoute, system: str) -> str:
    """How the legs miss the known end, and the least change that closes them."""
    closing = read.closing
    if closing is None:
        return ""
    away = show(closing.distance, "length", system, decimals=2)
    if closing.distance < 5e-4:
        return f"Closes to the known end within {away}."
    axes = ", ".join(
        f"{axis} {show(c, 'length', system, decimals=2)}"
        for axis, c in zip("xyz", closing.error, strict=True)
    )
    changes = "; ".join(
        f"leg {number + 1} {'longer' if change > 0 else 'shorter'} by "
        f"{show(abs(change), 'length', system, decimals=2)}"
        for number, _, change in closing.changes
        if abs(change) >= 1.5e-3
    )
    fix = f" Smallest change that closes it: {changes}." if changes else ""
    return f"Misses the known end by {away} ({axes}).{fix}"
