"""The route of a run: its vertices, which conduit each leg is, and the radius of every bend."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from route3d.errors import GeometryError
from route3d.model import Conduit, Route, Sheave, Vertex
from route3d.modelfile.problems import Collector
from route3d.modelfile.toml_positions import KeyPath
from route3d.units import show, show_marked

if TYPE_CHECKING:
    from route3d.geometry.vectors import Floats
    from route3d.modelfile.entries import VertexEntry

# One short leg spoils the next ones too; more than this from one route helps nobody.
MOST_PATH_PROBLEMS = 20
# A sharper turn is a slip of a coordinate: no one bend of conduit comes near it.
SHARPEST = math.radians(175.0)


def build_route(
    entries: Sequence[VertexEntry],
    conduits: Mapping[str, Conduit],
    sheaves: Mapping[str, Sheave],
    path: KeyPath,
    report: Collector,
    system: str,
) -> Route | None:
    """The Route at key path ``path``; None where a problem was reported.

    ``conduits`` and ``sheaves`` hold those that were read without a problem; unknown names are
    reported by ``route3d.modelfile.references``.
    """
    before = len(report.problems)
    legs = _conduit_of_legs(entries, conduits, path, report)
    turns = _turns(entries, path, report)
    _check_boxes(entries, path, report)
    if turns is None or any(leg is None for leg in legs):
        return None
    known = [leg for leg in legs if leg is not None]
    _check_sheaves(entries, turns, path, report)
    vertices = [
        replace(
            _vertex(i, entries, known, turns[i], (*path, i), report),
            sheave=sheaves.get(entry.sheave or ""),
        )
        for i, entry in enumerate(entries)
    ]
    if len(report.problems) > before:
        return None
    route = Route(tuple(vertices), tuple(known))
    _check_path(route, turns, path, report, system)
    return route if len(report.problems) == before else None


def _conduit_of_legs(
    entries: Sequence[VertexEntry],
    conduits: Mapping[str, Conduit],
    path: KeyPath,
    report: Collector,
) -> list[Conduit | None]:
    """The conduit of each leg, None where its name stands for none that could be read."""
    if entries[0].conduit is None:
        report.add((*path, 0), "the first point has no conduit", 'add conduit = "..." there')
    last = len(entries) - 1
    if entries[last].conduit is not None:
        report.add(
            (*path, last, "conduit"),
            "a conduit at the last point: no straight or bend follows",
            "remove it",
        )
    legs: list[Conduit | None] = []
    current: Conduit | None = None
    for entry in entries[:-1]:
        if entry.conduit is not None:
            current = conduits.get(entry.conduit)
        legs.append(current)
    return legs


def _turns(entries: Sequence[VertexEntry], path: KeyPath, report: Collector) -> Floats | None:
    """The turn at each vertex, rad, 0 at the ends; None where two points coincide."""
    import numpy as np

    from route3d.geometry.fillet import COINCIDENT
    from route3d.geometry.vectors import angle_between, norm, unit

    legs = np.diff(np.array([entry.at for entry in entries]), axis=0)
    same = np.flatnonzero(norm(legs) < COINCIDENT)
    for i in same.tolist():
        report.add(
            (*path, i + 1, "at"),
            f"{_label(entries, i + 1)} is the same point as {_label(entries, i)}",
            "remove one of them",
        )
    if same.size:
        return None
    turns = np.zeros(len(entries))
    directions = unit(legs)
    turns[1:-1] = angle_between(directions[:-1], directions[1:])
    folds = np.flatnonzero(turns > SHARPEST)
    for i in folds.tolist():
        report.add(
            (*path, i, "at"),
            f"the route turns back on itself at {_label(entries, i)} "
            f"({math.degrees(turns[i]):.1f}°)",
            "add a point, so that the turn is made of two bends",
        )
    return None if folds.size else turns


def _check_boxes(entries: Sequence[VertexEntry], path: KeyPath, report: Collector) -> None:
    for i in range(1, len(entries) - 1):
        entry = entries[i]
        if entry.box is not None and (not entry.access or entry.bend is not None):
            report.add(
                (*path, i, "box"),
                f"{_label(entries, i)} has a box but is not a pull point",
                "add access and remove the bend, or remove the box",
            )


def _check_sheaves(
    entries: Sequence[VertexEntry], turns: Floats, path: KeyPath, report: Collector
) -> None:
    """A sheave guides the cables only at a pull point between the ends that turns."""
    for i, entry in enumerate(entries):
        if entry.sheave is None:
            continue
        inside = 0 < i < len(entries) - 1
        if inside and entry.access and entry.bend is None and not _is_straight(float(turns[i])):
            continue
        why = "does not turn" if inside and entry.access else "is not a pull point between the ends"
        report.add(
            (*path, i, "sheave"),
            f"{_label(entries, i)} has a sheave but {why}",
            "a sheave guides the cables around a pull point that turns: remove it here",
        )


def _label(entries: Sequence[VertexEntry], index: int) -> str:
    return entries[index].name or f"point {index + 1}"


# --- bends -------------------------------------------------------------------------------------


def _vertex(
    index: int,
    entries: Sequence[VertexEntry],
    legs: Sequence[Conduit],
    turn: float,
    path: KeyPath,
    report: Collector,
) -> Vertex:
    entry = entries[index]
    bend, source = 0.0, "given"
    if entry.bend is not None:
        bend = entry.bend
        _check_given_bend(index, entries, turn, path, report)
    elif _needs_bend(index, entries, turn):
        bend, source = _standard_elbow(index, entries, legs, turn, path, report)
    place = report.document.values.get(path)
    return Vertex(
        point=entry.at,
        name=entry.name or "",
        bend=bend,
        bend_source=source,
        access=frozenset(entry.access),
        box=entry.box,
        line=place[0] if place else None,
    )


def _is_straight(turn: float) -> bool:
    from route3d.geometry.fillet import STRAIGHT_TURN

    return turn <= float(STRAIGHT_TURN)


def _needs_bend(index: int, entries: Sequence[VertexEntry], turn: float) -> bool:
    is_end = index in (0, len(entries) - 1)
    return not (is_end or entries[index].access or _is_straight(turn))


def _check_given_bend(
    index: int, entries: Sequence[VertexEntry], turn: float, path: KeyPath, report: Collector
) -> None:
    where = _label(entries, index)
    if index in (0, len(entries) - 1):
        which = "first" if index == 0 else "last"
        message = f"bend at the {which} point, {where}: a bend needs a leg on both sides"
        report.add((*path, "bend"), message, "remove it")
    elif _is_straight(turn):
        message = f"{where} has a bend but the route does not turn there"
        report.add((*path, "bend"), message, "remove the bend, or check the points")


def _standard_elbow(
    index: int,
    entries: Sequence[VertexEntry],
    legs: Sequence[Conduit],
    turn: float,
    path: KeyPath,
    report: Collector,
) -> tuple[float, str]:
    conduit = legs[index]  # a bend is made of the conduit from its vertex onward
    if conduit.elbow_radius is not None:
        return conduit.elbow_radius, conduit.elbow_source
    report.add(
        path,
        f"{_label(entries, index)} turns {math.degrees(turn):.1f}° without a bend radius, and the "
        f"tables have no standard elbow of {conduit.label}",
        "add bend = ... there",
    )
    return 0.0, ""


# --- tangents that overlap ---------------------------------------------------------------------


def _check_path(route: Route, turns: Floats, path: KeyPath, report: Collector, system: str) -> None:
    """Report every place where the bends do not fit: after each, both sides are tried again."""
    from route3d.geometry.fillet import route_path, sub_route

    last = len(route.vertices) - 1
    parts, budget = [(0, last)], MOST_PATH_PROBLEMS
    while parts and budget:
        first, end = parts.pop()
        try:
            route_path(sub_route(route, first, end))
        except GeometryError as error:
            budget -= 1
            at_fault = tuple(first + i for i in error.vertices)
            _add_path_problem(route, turns, error, at_fault, path, report, system)
            if len(at_fault) == 2:
                sides = ((first, at_fault[0]), (at_fault[1], end))
                parts += [side for side in sides if side[0] < side[1]]


def _add_path_problem(
    route: Route,
    turns: Floats,
    error: GeometryError,
    at_fault: tuple[int, ...],
    path: KeyPath,
    report: Collector,
    system: str,
) -> None:
    if len(at_fault) != 2 or error.largest_radius is None:
        problem = error.problems[0]
        report.add((*path, *at_fault[:1]), problem.message, problem.fix)
        return
    a, b = at_fault
    needed = _setback(route, turns, a) + _setback(route, turns, b)
    worst = max((a, b), key=lambda i: _setback(route, turns, i))  # whose radius the error gives
    largest = show_marked(error.largest_radius, "radius-", system)
    elbow = route.vertices[worst].bend_source
    report.add(
        (*path, worst, "bend"),
        f"the bends at {route.label(a)} and {route.label(b)} need "
        f"{show(needed, 'length', system, decimals=2)} of straight between them; available "
        f"{show(_leg(route, a), 'length', system, decimals=2)}",
        f"maximum radius that fits at {route.label(worst)}: {largest}; given: "
        f"{show(route.vertices[worst].bend, 'radius', system)}"
        + ("" if elbow == "given" else f" by {elbow}"),
    )


def _setback(route: Route, turns: Floats, index: int) -> float:
    """Length a bend takes off each of its legs, m."""
    return route.vertices[index].bend * math.tan(float(turns[index]) / 2)


def _leg(route: Route, index: int) -> float:
    return math.dist(route.vertices[index].point, route.vertices[index + 1].point)
