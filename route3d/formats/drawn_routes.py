"""Chains of drawn pieces as routes, with what was joined, omitted and guessed on the way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from route3d.errors import InputError
from route3d.formats.exchange import (
    Box,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    unique_names,
)
from route3d.geometry.fillet import STRAIGHT_TURN
from route3d.geometry.join import Chain, DrawnPiece, Joined, chain
from route3d.geometry.recognize import recognize
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# Routes outside these are drawn in other units than was said: no conduit run is so short or long.
SHORTEST, LONGEST = 0.5, 100_000.0
# A drawing of more chains than this is a building plan: its layers must be chosen.
MOST_ROUTES = 1_000
# Points in which arcs are looked for, in all routes together: half a millisecond each at worst.
MOST_RECOGNISED = 10_000


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """The ``pieces`` (m) of one name in a file: a layer, a system."""

    name: str
    pieces: tuple[DrawnPiece, ...]
    conduit: str = ""
    outer_diameter: float | None = None


@dataclass(frozen=True, slots=True)
class WrittenVertex:
    """A vertex that route3d wrote: the name of its run, and what an ExchangeRoute says of it."""

    point: Floats
    run: str
    name: str
    access: frozenset[str]
    conduit: str = ""
    box: Box | None = None


@dataclass(slots=True)
class _Notes:
    """Sentences for the report, gathered layer by layer."""

    used: list[str] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    looked_at: int = 0


def assembled(layers: list[Layer], options: ReadOptions, path: Path) -> ImportedRoutes:
    """The routes that the pieces of each layer join into.

    Raises InputError where none is left, and where the lengths show that the unit is wrong.
    """
    notes = _Notes()
    routes: list[ExchangeRoute] = []
    for layer in layers:
        found = chain(layer.pieces, options.tolerance)
        if len(routes) + len(found.chains) > MOST_ROUTES:
            raise _too_many(layers, path)
        _report(layer, found, notes)
        many = len(found.chains) > 1
        if many:
            notes.guessed.append(
                f"layer {layer.name}: {len(found.chains)} separate lines, each taken as a run"
            )
        for number, one in enumerate(found.chains, 1):
            name = f"{layer.name} {number}" if many else layer.name
            routes.append(_route(name, one, layer, options, notes))
    if not routes:
        raise bad_file(path, f"has no route: {'; '.join(notes.ignored)}", "draw it with two ends")
    refuse_wrong_units(routes, path)
    names = unique_names(route.name for route in routes)
    renamed = tuple(replace(route, name=name) for route, name in zip(routes, names, strict=True))
    return ImportedRoutes(renamed, tuple(notes.used), tuple(notes.ignored), tuple(notes.guessed))


def _too_many(layers: list[Layer], path: Path) -> InputError:
    largest = sorted(layers, key=lambda layer: -len(layer.pieces))
    there = ", ".join(layer.name for layer in largest[:20])
    many = f"has more than {MOST_ROUTES:,} separate lines"
    return bad_file(path, many, f"select the layers of the routes: {there}")


def refuse_wrong_units(routes: Sequence[ExchangeRoute], path: Path) -> None:
    """InputError where the longest route has the length of none: its unit is another."""
    longest = max(routes, key=lambda r: float(norm(np.diff(r.points, axis=0)).sum()))
    length = float(norm(np.diff(longest.points, axis=0)).sum())
    if not SHORTEST <= length <= LONGEST:
        raise bad_file(
            path,
            f"units appear wrong: the longest route, {longest.name}, would be {length:.4g} m long",
            "use --units m, ft, mm or in",
        )


# --- one chain ---------------------------------------------------------------------------------


def _route(
    name: str, one: Chain, layer: Layer, options: ReadOptions, notes: _Notes
) -> ExchangeRoute:
    points, radii = one.points, one.radii
    wanted = options.recognize and not radii.any() and len(points) > 3
    notes.looked_at += len(points) * wanted
    if wanted and notes.looked_at > MOST_RECOGNISED:
        notes.guessed.append(f"{name}: arcs not searched, more than {MOST_RECOGNISED:,} points")
    elif wanted:
        found = recognize(points, options.arc_tolerance)
        if found.arcs:
            notes.guessed.append(
                f"{name}: {counted(found.arcs, 'arc')} recognized in {len(points):,} points, "
                f"within {max(found.residual, 1e-7) * 1000:.2g} mm of them"
            )
            points, radii = found.points, found.radii
    if sharp := _sharp_corners(points, radii):
        notes.guessed.append(
            f"{name}: {counted(sharp, 'point')} with a turn but no radius, taken as sharp corners"
        )
    notes.used.extend(_joints(name, one))
    return ExchangeRoute(
        name, points, radii, conduit=layer.conduit, outer_diameter=layer.outer_diameter
    )


def _sharp_corners(points: Floats, radii: Floats) -> int:
    if len(points) < 3:
        return 0
    directions = unit(np.diff(points, axis=0))
    turns = angle_between(directions[:-1], directions[1:])
    return int(((turns > STRAIGHT_TURN) & (radii[1:-1] == 0)).sum())


def _joints(name: str, one: Chain) -> Iterator[str]:
    pieces = counted(len(one.pieces), "piece")
    turned = f", {counted(one.turned, 'piece')} reversed" if one.turned else ""
    # 1e-9 m is rounding: saying it was closed would only frighten
    gap = f", gaps up to {one.gap * 1000:.2g} mm closed" if one.gap > 1e-9 else ""
    bends = counted(int((one.radii > 0).sum()), "bend")
    yield f"route {name}: {pieces} joined, {bends} drawn as arcs{turned}{gap}"


# --- what is omitted --------------------------------------------------------------------------


def _report(layer: Layer, found: Joined, notes: _Notes) -> None:
    for loop in found.loops:
        at = _place(layer.pieces[loop[0]].points[0])
        notes.ignored.append(
            f"layer {layer.name}: closed loop of {counted(len(loop), 'piece')} at {at}; a "
            "route must have two ends"
        )
    if found.doubles:
        notes.ignored.append(
            f"layer {layer.name}: {counted(len(found.doubles), 'piece')} drawn twice, used once"
        )
    if found.short:
        notes.ignored.append(
            f"layer {layer.name}: {counted(len(found.short), 'piece')} "
            "shorter than the joining tolerance"
        )
    branches = {_place(at): None for one in found.chains for at in one.ends_at}
    for at in list(branches)[:10]:
        notes.guessed.append(
            f"layer {layer.name}: more than two pieces meet at {at}; all routes end there"
        )
    if len(branches) > 10:
        notes.guessed.append(f"layer {layer.name}: {len(branches) - 10} more branches")


def _place(point: Floats) -> str:
    return "({})".format(", ".join(f"{c:.2f}" for c in point.tolist())) + " m"


# --- names of our own files --------------------------------------------------------------------


def with_marks(
    routes: Sequence[ExchangeRoute], marks: Sequence[WrittenVertex], tolerance: float
) -> tuple[tuple[ExchangeRoute, ...], tuple[str, ...]]:
    """The routes with the names and access of the marks on their vertices, and what is left."""
    used: set[int] = set()
    result = tuple(_with_marks(route, marks, used, tolerance) for route in routes)
    left = len(marks) - len(used)
    return result, (f"{counted(left, 'named point')} not on a route vertex",) * bool(left)


def _with_marks(
    route: ExchangeRoute, marks: Sequence[WrittenVertex], used: set[int], tolerance: float
) -> ExchangeRoute:
    beside = list(zip(route.names, route.access, route.changes, route.boxes, strict=True))
    for number, mark in enumerate(marks):
        off = norm(route.points - mark.point)
        nearest = int(np.argmin(off))
        if mark.run == route.name and off[nearest] <= tolerance:
            beside[nearest] = mark.name, mark.access, mark.conduit, mark.box
            used.add(number)
    names, access, changes, boxes = zip(*beside, strict=True)
    conduit, changes = changes[0] or route.conduit, ("", *changes[1:])
    return replace(route, names=names, access=access, conduit=conduit, changes=changes, boxes=boxes)
