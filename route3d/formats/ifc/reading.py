"""Routes from IFC models: cable carrier, duct and pipe segments and fittings, by their systems."""

from __future__ import annotations

import importlib
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from route3d.errors import InputError
from route3d.formats.drawn_routes import (
    SHORTEST,
    Layer,
    WrittenVertex,
    assembled,
    longest_route,
    with_marks,
)
from route3d.formats.exchange import (
    Element,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
)
from route3d.formats.ifc.curves import Measures
from route3d.formats.ifc.elements import (
    CARRIERS,
    NOT_CARRIERS,
    Part,
    is_class,
    kind_of,
    part_of,
    predefined_of,
    type_of,
)
from route3d.formats.ifc.files import (
    BOX_SIDES,
    PSET,
    OpenedModel,
    angle_unit,
    length_unit,
    opened_with_faults,
    own_length_unit,
)
from route3d.formats.ifc.map_grid import map_matrix
from route3d.formats.ifc.network import PULL_POINT_SAID, Network, network
from route3d.formats.ifc.ports import SAME_PLACE, Connection, Port, by_place, connections, ports_of
from route3d.formats.sound_routes import (
    TURNS,
    corner_element,
    sharp_corners,
    sound_routes,
    turns_of,
)
from route3d.geometry.loose_ends import TOUCH
from route3d.geometry.recognize import FEWEST
from route3d.geometry.vectors import Floats, norm
from route3d.units import METERS

# An element takes about 1 ms, one of faces 4 ms; more than this are longer than a person waits.
MOST_ELEMENTS = 5_000
# What a run may go through besides segments and fittings: valves, boxes, machines.
_AROUND = "IfcDistributionFlowElement"


def read_ifc(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read the routes of an IFC file: IFC2X3, IFC4 or IFC4X3, as STEP text.

    Every IfcFlowSegment and IfcFlowFitting (cable carriers, ducts, pipes; not cables) gives its
    axis curve, else the axis of its body, in its place. What connected ports join belongs
    together: a fitting without a centerline is bridged from port to port, boxes and valves become
    pull points, and all runs end at an element with three connections. Elements of one system are
    joined within ``options.tolerance``; every chain is a route, named after the system.
    ``options.layers`` chooses systems, ``options.classes`` entities and predefined types. Where
    the model lies on a map grid, so do its routes. Needs ifcopenshell. Raises InputError for files
    that are broken, too large, or hold no route.
    """
    held = opened_with_faults(path)
    try:
        return _read(held, options, path)
    except InputError:
        raise
    except (ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError) as e:
        reason = " ".join(str(e).split())[:150]  # a value of another kind than the schema says
        raise bad_file(path, f"is damaged: {reason}", "export it again") from None


def _read(held: OpenedModel, options: ReadOptions, path: Path) -> ImportedRoutes:
    model = held.model
    frame = _framed(model, options, path)
    choice = _chosen(held, options, path)
    measures = Measures(angle_unit(model), frame.meters, options.arc_tolerance, options.tolerance)
    damaged = _damage(held)
    ports = ports_of(model, frame.world)
    linked, used = connections(model, ports)
    systems = _systems(choice, linked, path)
    wanted = _of_systems(choice.elements, systems, options, path)
    parts = {e.id(): part_of(e, frame.world, measures, damaged) for e in wanted}
    places: dict[int, list[Floats]] = {}
    for port in ports.values():
        if port.place is not None:
            places.setdefault(port.element, []).append(port.place)
    free = [port for number, port in ports.items() if number not in used]
    joints = _connected(model, parts, linked, free, frame, measures, damaged)
    groups = _grouped(choice, parts, systems, joints.all)
    marks = list(_marks(model, frame))
    layers, networks = [], []
    for name, members in groups.items():
        found = network(members, joints.around, joints.all, places, options.tolerance)
        networks.append((name, members, found))
        if found.pieces:
            layers.append(_layer(name, members, found, marks))
        else:
            bare = {one.handle for one in found.lost}
            for part in (p for p in members if p.handle in bare):
                found.tell(part, "missing", part.reason)
    if not layers:
        raise bad_file(path, f"has no route{_instead(networks, held)}", _MENDED)
    made = assembled(layers, options, path)
    routes, lost = with_marks(made.routes, marks, options.tolerance)
    routes, corners, dropped = _corners(routes, list(parts.values()), options)
    known = {mark.run for mark in marks}
    told = [
        kept
        for name, _, found in networks
        for e in found.elements
        if (kept := _beyond_marks(e) if name in known else e) is not None
    ]
    longest, size = longest_route(routes)
    short = (f"the longest route, {longest}, is only {size:.4g} m long: check the units",)
    elements = _in_runs([*told, *made.elements, *corners], routes, parts.values())
    left = Counter(systems[e.id()] for e in choice.elements if e.id() not in parts)
    return ImportedRoutes(
        routes,
        (*_used(frame, model, choice, networks), *made.used),
        (*_ignored(held, choice, left, model, elements), *made.ignored, *lost, *dropped),
        (*_guessed(frame, networks, marks), *(short if size < SHORTEST else ()), *made.guessed),
        frame.meters,
        origin=frame.origin,
        crs=frame.crs,
        elements=elements,
    )


def _beyond_marks(element: Element) -> Element | None:
    """What is left to tell of a box where the file says itself what can stand there."""
    if not element.said.startswith(PULL_POINT_SAID):
        return element
    _, *more = element.said.split("; ")
    left = "; ".join(text for text in more if not text.startswith("the run turns"))
    return replace(element, said=left) if left else None


_MENDED = "export conduits with their axes"


# --- coordinates -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Framed:
    """How coordinates of the file become those of the job: ``world`` (4, 4), file lengths to m.

    ``own`` is the unit of the project in m, None where it has none; ``origin`` m was taken off.
    """

    meters: float
    own: float | None
    asked: str
    world: Floats
    origin: tuple[float, float, float]
    crs: str
    mapped: bool


def _framed(model: Any, options: ReadOptions, path: Path) -> _Framed:
    own = own_length_unit(model)
    meters = METERS[options.units] if options.units else length_unit(model, path)
    grid = map_matrix(model, meters)
    world = np.eye(4) if grid is None else grid.copy()
    world[:3, :3] = world[:3, :3] * meters
    shift = np.array(options.origin) * meters + np.array(options.shift)
    origin = (0.0, 0.0, 0.0)
    if grid is not None and options.near and not shift.any():
        x, y, z = grid[:3, 3].tolist()
        origin = (x, y, z)
        shift = grid[:3, 3]
    world[:3, 3] = world[:3, 3] - shift
    crs = next((str(c.Name or "") for c in _by_type(model, "IfcProjectedCRS")), "")
    if model.schema == "IFC2X3" and grid is not None:
        crs = _old_crs(model)
    return _Framed(meters, own, options.units or "", world, origin, crs, grid is not None)


def _old_crs(model: Any) -> str:
    """The name of the grid in the property set that IFC2X3 has for it."""
    read = importlib.import_module("ifcopenshell.util.element").get_psets
    for owner in (*model.by_type("IfcProject"), *model.by_type("IfcSite")):
        for name, values in read(owner).items():
            if name.lower() == "epset_projectedcrs" and values.get("Name"):
                return str(values["Name"])
    return ""


def _by_type(model: Any, kind: str) -> Sequence[Any]:
    """The entities of a class, none where the schema has no such class."""
    try:
        found: Sequence[Any] = model.by_type(kind)
    except RuntimeError:
        return ()
    return found


# --- which elements ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Choice:
    """The ``elements`` wanted, with ``kinds`` of all there are to choose from, and those left."""

    elements: list[Any]
    kinds: Counter[str]
    left: Counter[str]
    companions: set[int]


def _chosen(held: OpenedModel, options: ReadOptions, path: Path) -> _Choice:
    model = held.model
    every = sorted({e.id(): e for k in CARRIERS for e in model.by_type(k)}.items())
    elements = [e for _, e in every]
    kinds = Counter(_label(e) for e in elements)
    if not options.classes:
        wanted = [e for e in elements if kind_of(e) not in NOT_CARRIERS]
        if not wanted:
            fix = "export conduits as IfcCableCarrierSegment and IfcCableCarrierFitting"
            why = f" (is damaged: {held.said[0]})" if held.said and held.damaged else ""
            if kinds:
                fix += f"; or choose with --class: {', '.join(kinds)}"
            raise bad_file(path, f"has no cable carrier, duct or pipe segment{why}", fix)
        left = Counter(_label(e) for e in elements if kind_of(e) in NOT_CARRIERS)
        companions: set[int] = set()
    else:
        for name in options.classes:
            if not any(is_class(e, name) for e in elements):
                there = ", ".join(f"{n:,} {kind}" for kind, n in kinds.most_common(20))
                raise bad_file(path, f"has no {name}", f"choose with --class: {there or 'nothing'}")
        mine = [e for e in elements if any(is_class(e, name) for name in options.classes)]
        families = {_family(e) for e in mine if e.is_a("IfcFlowSegment")}
        beside = [
            e
            for e in elements
            if e not in mine and e.is_a("IfcFlowFitting") and _goes_with(e, families)
        ]
        wanted = [*mine, *beside]
        companions = {e.id() for e in beside}
        chosen = {e.id() for e in wanted}
        left = Counter(_label(e) for e in elements if e.id() not in chosen)
    return _Choice(wanted, kinds, left, companions)


def _label(element: Any) -> str:
    return " ".join(word for word in (kind_of(element), predefined_of(element)) if word)


def _family(element: Any) -> str:
    return kind_of(element).removesuffix("Segment").removesuffix("Fitting")


def _goes_with(element: Any, families: set[str]) -> bool:
    """Whether a fitting may be part of runs of these families of segments."""
    return kind_of(element) == "IfcJunctionBox" or _family(element) in families


def _damage(held: OpenedModel) -> Callable[[Any], bool]:
    """Whether the geometry or the place of an element leans on a damaged entity."""
    if not held.damaged:
        return lambda element: False

    def leans(element: Any) -> bool:
        roots = [element.Representation, element.ObjectPlacement]
        numbers = {element.id()}
        for root in roots:
            if root is not None:
                numbers |= {each.id() for each in held.model.traverse(root)}
        return bool(numbers & held.damaged)

    return leans


# --- what is connected -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Connected:
    """All connections between elements that matter, and the boxes and machines ``around``."""

    all: list[Connection]
    around: list[Part]


def _connected(
    model: Any,
    parts: dict[int, Part],
    linked: Sequence[Connection],
    free: Sequence[Port],
    frame: _Framed,
    measures: Measures,
    damaged: Callable[[Any], bool],
) -> _Connected:
    """``linked`` by ports, and what lies at the ``free`` ones; boxes without ports around."""
    flow = {e.id(): e for e in _by_type(model, _AROUND) if not any(e.is_a(k) for k in CARRIERS)}
    near = [port for port in free if port.element in parts or port.element in flow]
    ends = [(n, end) for n, part in parts.items() if not part.is_box for end, _ in part.ends()]
    pairs = {tuple(sorted(one.elements)) for one in linked}
    placed = by_place(near, ends, SAME_PLACE)
    found = [*linked, *(c for c in placed if tuple(sorted(c.elements)) not in pairs)]
    touched = {n for one in found if any(e in parts for e in one.elements) for n in one.elements}
    # without ports a box is known by what ends in it
    ported = touched | {port.element for port in near}
    wanted = [
        e for n, e in flow.items() if n in touched or (n not in ported and e.is_a() in _ALONE)
    ]
    around = [part_of(e, frame.world, measures, damaged) for e in wanted[:MOST_ELEMENTS]]
    return _Connected(found, around)


_ALONE = ("IfcValve", "IfcFlowController", "IfcDistributionChamberElement")


# --- systems -----------------------------------------------------------------------------------


Groups = dict[str, list[Part]]


def _systems(choice: _Choice, linked: Sequence[Connection], path: Path) -> dict[int, str]:
    """The system of each element; those of none go with what they are connected to.

    What is left is named after the file.
    """
    systems = {e.id(): _system(e) for e in choice.elements}
    beside = _beside(linked)
    todo = [n for n, name in systems.items() if name]
    while todo:
        number = todo.pop()
        for other in beside.get(number, ()):
            if not systems.get(other, "none here"):
                systems[other] = systems[number]
                todo.append(other)
    return {n: name or path.stem for n, name in systems.items()}


def _beside(joints: Sequence[Connection]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for one in joints:
        a, b = one.elements
        found.setdefault(a, []).append(b)
        found.setdefault(b, []).append(a)
    return found


def _of_systems(
    elements: Sequence[Any], systems: dict[int, str], options: ReadOptions, path: Path
) -> list[Any]:
    """The elements of the systems asked for, as many as can be read."""
    names = list(dict.fromkeys(systems.values()))
    there = ", ".join(names[:20])
    for name in options.layers:
        if name not in names:
            raise bad_file(path, f"has no system {name}", f"systems: {there}")
    wanted = [e for e in elements if not options.layers or systems[e.id()] in options.layers]
    if len(wanted) > MOST_ELEMENTS:
        many = f"{len(wanted):,} segments and fittings, the maximum is {MOST_ELEMENTS:,}"
        raise bad_file(path, f"is too large to read: {many}", f"select systems: {there}")
    return wanted


def _grouped(
    choice: _Choice, parts: dict[int, Part], systems: dict[int, str], joints: Sequence[Connection]
) -> Groups:
    """Elements by the name of their system.

    Fittings that were not asked for themselves are taken where segments that were lead to them.
    """
    left = _unconnected(choice.companions, parts, _beside(joints))
    groups: Groups = {}
    for number in sorted(parts):
        if number not in left:
            groups.setdefault(systems[number], []).append(parts[number])
    return groups


def _unconnected(
    companions: set[int], parts: dict[int, Part], beside: dict[int, list[int]]
) -> set[int]:
    """Fittings that no chosen segment leads to, by ports or by their ends."""
    left = companions & set(parts)
    todo = [n for n in parts if n not in companions]
    spots = {n: np.array([e for e, _ in parts[n].ends()]).reshape(-1, 3) for n in parts}
    while todo and left:
        number = todo.pop()
        near = [n for n in beside.get(number, ()) if n in left]
        for other in left:
            mine, theirs = spots[number], spots[other]
            if not len(theirs):
                theirs = parts[other].points
                if len(mine) and len(theirs):
                    low, high = theirs.min(axis=0) - SAME_PLACE, theirs.max(axis=0) + SAME_PLACE
                    if ((mine >= low) & (mine <= high)).all(axis=1).any():
                        near.append(other)
            elif len(mine):
                apart = norm(mine[:, None] - theirs[None])
                if float(apart.min()) <= SAME_PLACE:
                    near.append(other)
        for other in set(near):
            left.discard(other)
            todo.append(other)
    return left


def _system(element: Any) -> str:
    for relation in element.HasAssignments:
        if relation.is_a("IfcRelAssignsToGroup") and relation.RelatingGroup is not None:
            group = relation.RelatingGroup
            if group.is_a("IfcSystem"):
                return " ".join((group.Name or f"system {group.id()}").split())
    return ""


# --- one system as a layer ---------------------------------------------------------------------


def _layer(
    name: str, members: Sequence[Part], found: Network, marks: Sequence[WrittenVertex]
) -> Layer:
    lines = [line for part in members if not part.is_box for line in part.lines]
    sizes = {round(line.diameter, 9) for line in lines if line.diameter}
    types = _types(members)
    titles = {}
    if not any(_system(part.element) for part in members):  # the system is the file
        titles = {part.handle: part.name for part in members}
    if any(mark.conduit for mark in marks if mark.run == name):
        types = set()  # they say less
    return Layer(
        name,
        tuple(found.pieces),
        next(iter(types)) if len(types) == 1 else "",
        sizes.pop() if len(sizes) == 1 else None,
        tuple(found.handles),
        tuple(found.lost),
        tuple(found.marks),
        "system",
        tuple(titles.get(handle, "") for handle in found.handles if titles),
    )


def _types(members: Iterable[Part]) -> set[str]:
    """The names of the types of the segments; fittings have types of their own."""
    segments = [p.element for p in members if p.lines and p.element.is_a("IfcFlowSegment")]
    kinds = [type_of(element) for element in segments]
    return {str(kind.Name or "") for kind in kinds if kind is not None}


def _in_runs(
    elements: Sequence[Element], routes: Sequence[ExchangeRoute], parts: Iterable[Part]
) -> tuple[Element, ...]:
    """The elements with the runs they belong to, and those at the corners without a radius."""
    known = {part.handle: part for part in parts}
    runs = _Lines.of([(route.name, route.points) for route in routes])
    told = []
    for one in elements:
        part = known.get(one.handle)
        run = one.run
        if not run and part is not None and one.state == "missing":
            run = _broken_run(part, routes)
            if run:
                one = replace(one, state="broken", said=f"{one.said}{_HERE}")
        elif not run and one.at is not None:
            run = runs.nearest(np.array(one.at))
        told.append(replace(one, run=run, name=one.name or (part.name if part else "")))
    return tuple(told)


_HERE = "; its run is broken here"


def _broken_run(part: Part, routes: Sequence[ExchangeRoute]) -> str:
    """The run that ends at an element without a centerline; "" where none does."""
    if not len(part.points):
        return ""
    low, high = part.points.min(axis=0) - TOUCH, part.points.max(axis=0) + TOUCH
    for route in routes:
        ends = route.points[[0, -1]]
        if ((ends >= low) & (ends <= high)).all(axis=1).any():
            return route.name
    return ""


def _corners(
    routes: Sequence[ExchangeRoute], parts: Sequence[Part], options: ReadOptions
) -> tuple[tuple[ExchangeRoute, ...], list[Element], tuple[str, ...]]:
    """Routes that make paths, and their corners without a radius by the elements they are of.

    Where arcs will be looked for in a route its corners are not known yet.
    """
    sound, told, dropped = sound_routes(routes)
    lines = [(part.handle, line.piece.points) for part in parts for line in part.lines]
    near, kinds = _Lines.of(lines), {part.handle: part.kind for part in parts}

    def named(corner: Element) -> Element:
        handle = "" if corner.at is None else near.nearest(np.array(corner.at))
        return replace(corner, handle=handle, kind=kinds[handle]) if handle else corner

    found = [named(one) for one in told]
    sharp = {(e.run, e.name) for e in told if e.state == "sharp"}
    for route in sound:
        if options.recognize and not route.radii.any() and len(route.points) >= FEWEST:
            continue
        turns = np.degrees(turns_of(route.points))
        for i in sharp_corners(route):
            one = corner_element(route, i, "sharp", f"{TURNS} ({turns[i]:.3g}°)")
            if (one.run, one.name) not in sharp:
                found.append(named(one))
    return sound, found, dropped


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Legs of lines, (n, 3) m each, and the name of the line that each belongs to."""

    starts: Floats
    legs: Floats
    names: tuple[str, ...]

    @classmethod
    def of(cls, lines: Iterable[tuple[str, Floats]]) -> _Lines:
        starts, legs, names = [np.empty((0, 3))], [np.empty((0, 3))], []
        for name, points in lines:
            starts.append(points[:-1])
            legs.append(np.diff(points, axis=0))
            names += [name] * (len(points) - 1)
        return cls(np.vstack(starts), np.vstack(legs), tuple(names))

    def nearest(self, at: Floats) -> str:
        """The name of the line nearest to a place (3,) m; "" where there is none."""
        if not self.names:
            return ""
        size = np.einsum("ij,ij->i", self.legs, self.legs)
        share = np.einsum("ij,ij->i", at - self.starts, self.legs) / np.where(size > 0, size, 1.0)
        feet = self.starts + np.clip(share, 0, 1)[:, None] * self.legs
        return self.names[int(np.argmin(norm(feet - at)))]


# --- names that route3d wrote ------------------------------------------------------------------


def _marks(model: Any, frame: _Framed) -> Iterator[WrittenVertex]:
    """The named vertices in the property sets of systems, as ``write_ifc`` puts them there."""
    for system in model.by_type("IfcSystem"):
        lists = {}
        for relation in system.IsDefinedBy:
            if (
                relation.is_a("IfcRelDefinesByProperties")
                and relation.RelatingPropertyDefinition is not None
                and relation.RelatingPropertyDefinition.is_a("IfcPropertySet")
                and relation.RelatingPropertyDefinition.Name == PSET
            ):
                for one in relation.RelatingPropertyDefinition.HasProperties:
                    if one.is_a("IfcPropertyListValue") and one.ListValues:
                        lists[one.Name] = [value.wrappedValue for value in one.ListValues]
        yield from _listed(" ".join((system.Name or "").split()), lists, frame)


def _listed(run: str, lists: dict[str, list[Any]], frame: _Framed) -> Iterator[WrittenVertex]:
    columns = [lists.get(key, []) for key in ("X", "Y", "Z", "Names", "Access")]
    count = len(columns[0])
    columns += [lists.get("Conduits", [""] * count)]
    columns += [lists.get(side, [0.0] * count) for side in BOX_SIDES]
    if {len(column) for column in columns} != {count}:
        return
    for x, y, z, name, access, conduit, *sides in zip(*columns, strict=True):
        if all(isinstance(c, float) and math.isfinite(c) for c in (x, y, z, *sides)):
            point = frame.world[:3, :3] @ np.array((x, y, z)) + frame.world[:3, 3]
            a, b, c = (side * frame.meters for side in sides)
            box = (a, b, c) if min(a, b, c) > 0 else None
            yield WrittenVertex(
                point, run, str(name), frozenset(str(access).split()), str(conduit), box
            )


# --- the report --------------------------------------------------------------------------------

_Networks = Sequence[tuple[str, Sequence[Part], Network]]


def _used(frame: _Framed, model: Any, choice: _Choice, networks: _Networks) -> Iterator[str]:
    if frame.asked:
        yield f"lengths in {frame.asked}, as requested"
    else:
        sizes = [n for n, size in METERS.items() if math.isclose(size, frame.meters, rel_tol=1e-12)]
        yield f"lengths in {sizes[0] if sizes else f'{frame.meters:g} m'}, by the project units"
    yield f"schema {model.schema}"
    if frame.mapped:
        grid = f" {frame.crs}" if frame.crs else ""
        said = ", ".join(f"{a} {c:.10g} m" for a, c in zip("xyz", frame.origin, strict=True))
        kept = f"; its place, {said}, kept as the origin of the site" if any(frame.origin) else ""
        yield f"coordinates on the map grid{grid} of the file{kept}"
    yield "to choose from: " + ", ".join(
        f"{n:,} {kind}" for kind, n in choice.kinds.most_common(20)
    )
    for name, members, found in networks:
        classes = Counter(part.element.is_a() for part in members)
        yield f"system {name}: " + ", ".join(f"{n:,} {kind}" for kind, n in classes.items())
        if found.followed:
            yield f"system {name}: {counted(found.followed, 'connection')} of ports followed"
        for box in found.boxes:
            yield f"system {name}: pull point {box}"


def _ignored(
    held: OpenedModel,
    choice: _Choice,
    systems: Counter[str],
    model: Any,
    elements: Sequence[Element],
) -> Iterator[str]:
    yield from (f"not by its schema: {said}" for said in held.said)
    reasons = Counter(e.said for e in elements if e.state == "missing" or _HERE in e.said)
    for reason, n in reasons.most_common(20):
        yield f"{counted(n, 'element')} without a centerline: {reason.removesuffix(_HERE)}"
    for name, n in systems.items():
        yield f"system {name}: {counted(n, 'element')}, not a requested system"
    if choice.companions or choice.left:
        left = ", ".join(f"{n:,} {kind}" for kind, n in choice.left.most_common(20))
        if left:
            yield f"not of the classes read: {left}"
    known = {each.handle for each in elements}
    others = Counter(
        e.is_a()
        for e in model.by_type("IfcElement")
        if not any(e.is_a(kind) for kind in CARRIERS) and e.GlobalId not in known
    )
    if others:
        yield "other elements: " + ", ".join(f"{n:,} {kind}" for kind, n in others.most_common(20))


def _guessed(frame: _Framed, networks: _Networks, marks: Sequence[WrittenVertex]) -> Iterator[str]:
    if frame.asked and frame.own is None:
        yield "lengths as requested: the project has no unit of length"
    elif frame.own is not None and not math.isclose(frame.own, frame.meters, rel_tol=1e-9):
        yield f"lengths as requested, although the project unit is {frame.own:g} m"
    for name, members, found in networks:
        if found.bridged:
            yield f"system {name}: fittings without axis drawn from port to port ({found.bridged})"
        for guess, n in found.guesses.most_common(20):
            yield f"system {name}: {guess} ({n:,})"
        lines = [line for part in members if not part.is_box for line in part.lines]
        sizes = {round(line.diameter, 9) for line in lines if line.diameter}
        if len(sizes) > 1:
            values = ", ".join(f"{size * 1000:.4g}" for size in sorted(sizes)[:10])
            more = ", ..." if len(sizes) > 10 else ""
            yield f"system {name}: {len(sizes)} diameters, {values}{more} mm, none used"
        told = any(mark.conduit for mark in marks if mark.run == name)
        if not told and len(types := _types(members)) > 1:
            yield f"system {name}: {len(types)} conduit types, none used"


def _instead(networks: _Networks, held: OpenedModel) -> str:
    lost = Counter(each.said for _, _, found in networks for each in found.lost)
    parts = [f"{counted(n, 'element')} with {reason}" for reason, n in lost.most_common(5)]
    first = next((e for _, _, found in networks for e in found.lost), None)
    named = f" ({first.kind} {first.name or first.handle})" if first else ""
    return f", only {', '.join(parts)}{named}" if parts else ""
