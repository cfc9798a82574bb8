"""Routes from IFC models: cable carrier, duct and pipe segments and fittings, by their systems."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from route3d.formats.drawn_routes import Layer, WrittenVertex, assembled, with_marks
from route3d.formats.exchange import ImportedRoutes, ReadOptions, bad_file, counted
from route3d.formats.ifc.curves import Centerline, centerlines, moved
from route3d.formats.ifc.files import BOX_SIDES, PSET, angle_unit, length_unit, opened
from route3d.formats.ifc.placement import UnusableError, world_placement
from route3d.geometry.join import DrawnPiece, straight_piece
from route3d.geometry.loose_ends import EVEN, elbow_between
from route3d.geometry.vectors import Floats, frozen, norm
from route3d.units import FARTHEST, METERS

# --- fittings drawn as faces alone, bridged from port to port along the straights beside them


def bridged(
    bare: Sequence[tuple[Any, str]], pieces: Sequence[DrawnPiece]
) -> tuple[list[DrawnPiece], Counter[str]]:
    """Pieces for the elements without geometry that have two ports; the others by their reason."""
    bridges, left = [], Counter[str]()
    starts, outward = _ends(pieces)
    for element, reason in bare:
        ports = _ports(element)
        if len(ports) == 2 and len(starts) and float(norm(ports[0] - ports[1])) > 0:
            bridges.append(_bridge(ports[0], ports[1], starts, outward))
        else:
            left[reason] += 1
    return bridges, left


def _ports(element: Any) -> list[Floats]:
    try:
        return [world_placement(port.ObjectPlacement)[:3, 3] for port in _port_elements(element)]
    except UnusableError:
        return []


def _port_elements(element: Any) -> Iterator[Any]:
    for relation in getattr(element, "IsNestedBy", ()):  # IFC4
        yield from (o for o in relation.RelatedObjects if o.is_a("IfcDistributionPort"))
    for relation in element.HasPorts:
        yield relation.RelatingPort


def _ends(pieces: Sequence[DrawnPiece]) -> tuple[Floats, Floats]:
    """The ends of all pieces and the unit directions in which they lead on, (n, 3) each."""
    ends, outward = [], []
    for piece in pieces:
        for a, b in ((1, 0), (-2, -1)):
            leg = piece.points[b] - piece.points[a]
            if (size := float(norm(leg))) > 0:
                ends.append(piece.points[b])
                outward.append(leg / size)
    return np.array(ends).reshape(-1, 3), np.array(outward).reshape(-1, 3)


def _bridge(first: Floats, last: Floats, ends: Floats, outward: Floats) -> DrawnPiece:
    """The bend that is tangent to the pieces at both ports, else a straight."""
    ahead = outward[int(np.argmin(norm(ends - first)))]
    back = outward[int(np.argmin(norm(ends - last)))]
    made = elbow_between(first, ahead, last, back, EVEN * float(norm(last - first)))
    if made is None or max(made.setbacks) - min(made.setbacks) > EVEN * max(made.setbacks):
        return straight_piece(first, last)
    return made.piece


# --- routes from IFC models: cable carrier, duct and pipe segments and fittings, by their systems

# An element takes about 0.6 ms; more than this are longer than a person waits.
MOST_ELEMENTS = 5_000
_CARRIERS = ("IfcFlowSegment", "IfcFlowFitting")
# What runs in a conduit or is none: cables lie on the same line and would double it.
_NOT_CARRIERS = ("IfcCableSegment", "IfcCableFitting", "IfcConveyorSegment")


@dataclass(slots=True)
class _RunsFound:
    """What the elements of one system gave; ``lost`` counts those without a centerline."""

    name: str
    pieces: list[DrawnPiece] = field(default_factory=list)
    diameters: set[float | None] = field(default_factory=set)
    types: set[str] = field(default_factory=set)
    bare: list[tuple[Any, str]] = field(default_factory=list)
    classes: Counter[str] = field(default_factory=Counter)
    guesses: Counter[str] = field(default_factory=Counter)
    lost: Counter[str] = field(default_factory=Counter)


def read_ifc(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read the routes of an IFC file: IFC2X3, IFC4 or IFC4X3, as STEP text.

    Every IfcFlowSegment and IfcFlowFitting (cable carriers, ducts, pipes; not cables) gives its
    axis curve, else the axis of its swept body, in its place; a fitting without either is bridged
    from port to port. Those of one system are joined within ``options.tolerance``; every chain is
    a route, named after the system, and ``options.layers`` chooses systems. Needs ifcopenshell.
    Raises InputError for files that are broken, too large, or hold no route.
    """
    held = _held(opened(path), options, path)
    layers = [_layer(each, held.meters, options, path) for each in held.found]
    kept = [layer for layer in layers if layer.pieces]
    if not kept:
        raise bad_file(
            path, f"has no route{_instead(held.found)}", "export conduits with their axes"
        )
    made = assembled(kept, options, path)
    routes, lost = with_marks(made.routes, held.marks, options.tolerance)
    return ImportedRoutes(
        routes,
        (*held.used, *made.used),
        (*held.ignored, *made.ignored, *lost),
        (*held.guessed, *made.guessed),
        held.meters,
    )


@dataclass(frozen=True, slots=True)
class _Held:
    """What a model holds: ``meters`` in its unit, what was found, marks, and the report."""

    meters: float
    found: list[_RunsFound]
    marks: list[WrittenVertex]
    used: list[str]
    ignored: list[str]
    guessed: list[str]


def _held(model: Any, options: ReadOptions, path: Path) -> _Held:
    """All that is wanted of a model; InputError where its parts are not what they must be."""
    try:
        own = length_unit(model, path)
        meters = METERS[options.units] if options.units else own
        groups = _grouped(model, path)
        chosen = _chosen(groups, options, path)
        found = [_read(name, elements, model) for name, elements in chosen.items()]
        marks = list(_marks(model, meters, options))
        for each in found:
            if any(mark.conduit for mark in marks if mark.run == each.name):
                each.types.clear()  # they say less
        return _Held(
            meters,
            found,
            marks,
            [_units_said(meters, own, options), f"schema {model.schema}", *_used(found)],
            list(_ignored(found, groups, model)),
            list(_guessed(found, model, own, meters)),
        )
    except (ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError) as e:
        reason = " ".join(str(e).split())[:150]  # a value of another kind than the schema says
        raise bad_file(path, f"is damaged: {reason}", "export it again") from None


# --- which elements ----------------------------------------------------------------------------


Groups = dict[str, list[Any]]


def _grouped(model: Any, path: Path) -> Groups:
    """Elements by the name of their system; those of none by the name of the file."""
    elements = [e for kind in _CARRIERS for e in model.by_type(kind)]
    elements = [e for e in elements if e.is_a() not in _NOT_CARRIERS]
    if not elements:
        fix = "export conduits as IfcCableCarrierSegment and IfcCableCarrierFitting"
        raise bad_file(path, "has no cable carrier, duct or pipe segment", fix)
    groups: Groups = {}
    for element in sorted(elements, key=lambda e: int(e.id())):
        groups.setdefault(_system(element) or path.stem, []).append(element)
    return groups


def _system(element: Any) -> str:
    for relation in element.HasAssignments:
        if relation.is_a("IfcRelAssignsToGroup") and relation.RelatingGroup.is_a("IfcSystem"):
            group = relation.RelatingGroup
            return " ".join((group.Name or f"system {group.id()}").split())
    return ""


def _chosen(groups: Groups, options: ReadOptions, path: Path) -> Groups:
    for name in options.layers:
        if name not in groups:
            there = ", ".join(list(groups)[:20])
            raise bad_file(path, f"has no system {name}", f"systems: {there}")
    chosen = {n: e for n, e in groups.items() if not options.layers or n in options.layers}
    if (count := sum(map(len, chosen.values()))) > MOST_ELEMENTS:
        many = f"{count:,} segments and fittings, the maximum is {MOST_ELEMENTS:,}"
        there = ", ".join(list(groups)[:20])
        raise bad_file(path, f"is too large to read: {many}", f"select systems: {there}")
    return chosen


# --- their centerlines -------------------------------------------------------------------------


def _read(name: str, elements: Iterable[Any], model: Any) -> _RunsFound:
    found = _RunsFound(name)
    angle = angle_unit(model)
    for element in elements:
        found.classes[element.is_a()] += 1
        try:
            parts = _centerlines(element, angle)
        except UnusableError as reason:
            found.bare.append((element, str(reason)))
            continue
        except (ArithmeticError, AttributeError, IndexError, RuntimeError, TypeError, ValueError):
            found.bare.append((element, "broken geometry"))
            continue
        found.pieces += [part.piece for part in parts]
        found.guesses.update(part.guess for part in parts if part.guess)
        found.diameters |= {part.diameter for part in parts if part.diameter}
        if (kind := _type_name(element)) is not None:
            found.types.add(kind)
    bridges, left = bridged(found.bare, found.pieces)
    found.pieces += bridges
    if bridges:
        found.guesses["fittings without axis drawn from port to port"] = len(bridges)
    found.lost.update(left)
    return found


def _centerlines(element: Any, angle: float) -> list[Centerline]:
    """The parts of one element in their place: of its axis, else of its body."""
    if element.Representation is None:
        raise UnusableError("no geometry")
    place = world_placement(element.ObjectPlacement)
    shown = {r.RepresentationIdentifier: r for r in element.Representation.Representations}
    body = shown.get("Body")
    if (axis := shown.get("Axis")) is not None:
        parts = _parts(axis, angle)
        diameter = _diameter(body, angle)
        parts = [Centerline(p.piece, p.diameter or diameter, p.guess) for p in parts]
    elif body is not None:
        parts = _parts(body, angle)
    else:
        raise UnusableError("neither axis nor body")
    return [moved(part, place) for part in parts]


def _parts(representation: Any, angle: float) -> list[Centerline]:
    parts = [part for item in representation.Items for part in centerlines(item, angle)]
    if not parts:
        raise UnusableError("an empty representation")
    return parts


def _diameter(body: Any, angle: float) -> float | None:
    """The diameter of a body, where it says so; an axis is enough for the route."""
    if body is None:
        return None
    try:
        if all(item.is_a("IfcSweptDiskSolid") for item in body.Items):
            sizes: set[float | None] = {2 * float(item.Radius) for item in body.Items}
        else:
            sizes = {part.diameter for part in _parts(body, angle)}
    except UnusableError:
        return None
    return sizes.pop() if len(sizes) == 1 else None


def _type_name(element: Any) -> str | None:
    """The name of the type of a segment; None for fittings, which have types of their own."""
    if not element.is_a("IfcFlowSegment"):
        return None
    relations = getattr(element, "IsTypedBy", ()) or [
        r for r in element.IsDefinedBy if r.is_a("IfcRelDefinesByType")
    ]
    return (relations[0].RelatingType.Name or "") if relations else ""


def _layer(found: _RunsFound, meters: float, options: ReadOptions, path: Path) -> Layer:
    pieces = []
    for piece in found.pieces:
        points = options.local(piece.points, meters)
        if not (np.abs(points) <= FARTHEST).all():
            raise bad_file(
                path, f"has a point of {found.name} outside the Earth", "check its units"
            )
        pieces.append(DrawnPiece(frozen(points), frozen(piece.radii * meters)))
    sizes = {round(d * meters, 9) for d in found.diameters if d is not None}
    conduit = next(iter(found.types)) if len(found.types) == 1 else ""
    diameter = sizes.pop() if len(sizes) == 1 else None
    return Layer(found.name, tuple(pieces), conduit, diameter)


# --- names that route3d wrote ------------------------------------------------------------------


def _marks(model: Any, meters: float, options: ReadOptions) -> Iterator[WrittenVertex]:
    """The named vertices in the property sets of systems, as ``write_ifc`` puts them there."""
    for system in model.by_type("IfcSystem"):
        lists = {}
        for relation in system.IsDefinedBy:
            if (
                relation.is_a("IfcRelDefinesByProperties")
                and relation.RelatingPropertyDefinition.is_a("IfcPropertySet")
                and relation.RelatingPropertyDefinition.Name == PSET
            ):
                for one in relation.RelatingPropertyDefinition.HasProperties:
                    if one.is_a("IfcPropertyListValue") and one.ListValues:
                        lists[one.Name] = [value.wrappedValue for value in one.ListValues]
        yield from _listed(" ".join((system.Name or "").split()), lists, meters, options)


def _listed(
    run: str, lists: dict[str, list[Any]], meters: float, options: ReadOptions
) -> Iterator[WrittenVertex]:
    columns = [lists.get(key, []) for key in ("X", "Y", "Z", "Names", "Access")]
    count = len(columns[0])
    columns += [lists.get("Conduits", [""] * count)]
    columns += [lists.get(side, [0.0] * count) for side in BOX_SIDES]
    if {len(column) for column in columns} != {count}:
        return
    for x, y, z, name, access, conduit, *sides in zip(*columns, strict=True):
        if all(isinstance(c, float) and math.isfinite(c) for c in (x, y, z, *sides)):
            point = options.local(np.array((x, y, z)), meters)
            a, b, c = (side * meters for side in sides)
            box = (a, b, c) if min(a, b, c) > 0 else None
            yield WrittenVertex(
                point, run, str(name), frozenset(str(access).split()), str(conduit), box
            )


# --- the report --------------------------------------------------------------------------------


def _units_said(meters: float, own: float, options: ReadOptions) -> str:
    if options.units:
        return f"lengths in {options.units}, as requested"
    names = [name for name, size in METERS.items() if math.isclose(size, meters, rel_tol=1e-12)]
    return f"lengths in {names[0] if names else f'{own:g} m'}, by the project units"


def _used(found: Iterable[_RunsFound]) -> Iterator[str]:
    for each in found:
        yield f"system {each.name}: " + ", ".join(f"{n:,} {k}" for k, n in each.classes.items())


def _ignored(found: list[_RunsFound], groups: Groups, model: Any) -> Iterator[str]:
    for each in found:
        for reason, n in each.lost.most_common():
            yield f"system {each.name}: {counted(n, 'element')} without a centerline: {reason}"
    read = {each.name for each in found}
    for name, elements in groups.items():
        if name not in read:
            yield f"system {name}: {counted(len(elements), 'element')}, not a requested system"
    others = Counter(
        e.is_a()
        for e in model.by_type("IfcElement")
        if not any(e.is_a(kind) for kind in _CARRIERS) or e.is_a() in _NOT_CARRIERS
    )
    if others:
        yield "other elements: " + ", ".join(f"{n:,} {kind}" for kind, n in others.most_common(20))


def _guessed(found: Iterable[_RunsFound], model: Any, own: float, meters: float) -> Iterator[str]:
    if not math.isclose(own, meters, rel_tol=1e-9):
        yield f"lengths as requested, although the project unit is {own:g} m"
    if model.schema != "IFC2X3" and model.by_type("IfcMapConversion"):
        yield "coordinates of the model, not moved to its map grid"
    for each in found:
        for guess, n in each.guesses.items():
            yield f"system {each.name}: {guess} ({n:,})"
        if len(each.diameters) > 1:
            yield f"system {each.name}: {len(each.diameters)} diameters, none used"
        if len(each.types) > 1:
            yield f"system {each.name}: {len(each.types)} conduit types, none used"


def _instead(found: Iterable[_RunsFound]) -> str:
    lost: Counter[str] = sum((each.lost for each in found), Counter())
    parts = [f"{counted(n, 'element')} with {reason}" for reason, n in lost.most_common(5)]
    return f", only {', '.join(parts)}" if parts else ""
