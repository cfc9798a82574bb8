"""Chains of drawn pieces as routes, with what was joined, omitted and guessed on the way."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from route3d.errors import InputError
from route3d.formats.exchange import (
    Box,
    Element,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    unique_names,
)
from route3d.formats.sound_routes import turns_of, whole_name
from route3d.geometry.fillet import STRAIGHT_TURN
from route3d.geometry.join import MEETING, Chain, DrawnPiece, Joined, chain
from route3d.geometry.loose_ends import Gap, gaps_between
from route3d.geometry.vectors import Floats, norm

# Routes outside these are drawn in other units than was said: no conduit run is so short or long.
SHORTEST, LONGEST = 0.5, 100_000.0
# A drawing of more chains than this is a building plan: its layers must be chosen.
MOST_ROUTES = 1_000


@dataclass(frozen=True, slots=True, eq=False)
class LostFitting:
    """An element that may be part of a route but has no centerline, and why (``said``).

    ``points`` (k, 3) m are places of it, such as its corners or ports; none where not known.
    """

    handle: str
    kind: str
    said: str
    points: Floats
    name: str = ""


@dataclass(frozen=True, slots=True)
class WrittenVertex:
    """A vertex of which a file tells more: the name of its run, and what an ExchangeRoute says.

    ``handle`` and ``kind`` are those of the element that is there, "" where there is none.
    """

    point: Floats
    run: str
    name: str
    access: frozenset[str]
    conduit: str = ""
    box: Box | None = None
    handle: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """The ``pieces`` (m) of one name in a file: a layer, a system.

    ``handles`` identify the elements that the pieces are of, in order; none where not known.
    ``lost`` are the elements without a centerline: they may be the elbows between the pieces.
    ``marks`` are vertices of which there is more to tell; they stay, whatever is joined there.
    ``kind`` is what the file calls it. ``titles`` are the names of the elements that the pieces
    are of; a run of elements with one name has that.
    """

    name: str
    pieces: tuple[DrawnPiece, ...]
    conduit: str = ""
    outer_diameter: float | None = None
    handles: tuple[str, ...] = ()
    lost: tuple[LostFitting, ...] = ()
    marks: tuple[WrittenVertex, ...] = ()
    kind: str = "layer"
    titles: tuple[str, ...] = ()

    @property
    def called(self) -> str:
        """What it is and its name, for a report."""
        return f"{self.kind} {self.name}"


@dataclass(slots=True)
class _Notes:
    """Sentences and elements for the report, gathered layer by layer."""

    used: list[str] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    elements: list[Element] = field(default_factory=list)


def assembled(layers: list[Layer], options: ReadOptions, path: Path) -> ImportedRoutes:
    """The routes that the pieces of each layer join into.

    Gaps between straights are closed by the elbow that is tangent to both, as
    ``route3d.geometry.loose_ends`` has it; a run that stays in parts is one route for each part,
    named "F1 part 1 of 2", with an element that is broken.

    Raises InputError where none is left, and where the lengths show that the unit is wrong.
    """
    notes = _Notes()
    routes: list[ExchangeRoute] = []
    for layer in layers:
        found, gaps = _joined(layer, options)
        if len(routes) + len(found.chains) > MOST_ROUTES:
            raise _too_many(layers, path)
        _report(layer, found, notes)
        runs = _runs(found, gaps)
        if len(runs) > 1:
            notes.guessed.append(f"{layer.called}: {len(runs)} separate lines, each taken as a run")
        names: dict[int, str] = {}
        before = len(routes)
        for number, parts in enumerate(runs, 1):
            run = f"{layer.name} {number}" if len(runs) > 1 else layer.name
            run = _title(layer, found, parts) or run
            if len(parts) > 1:
                notes.guessed.append(f"{run}: in {len(parts)} parts, because of gaps")
            for part, index in enumerate(parts, 1):
                name = f"{run} part {part} of {len(parts)}" if len(parts) > 1 else run
                routes.append(_route(name, found.chains[index], layer, notes))
                names |= dict.fromkeys(found.chains[index].pieces, name)
        _name_breaks(routes, before, gaps, names)
        _report_gaps(layer, gaps, names, options.tolerance, notes)
    if not routes:
        raise bad_file(path, f"has no route: {'; '.join(notes.ignored)}", "draw it with two ends")
    refuse_wrong_units(routes, path)
    names_apart = unique_names(route.name for route in routes)
    renamed = tuple(replace(r, name=name) for r, name in zip(routes, names_apart, strict=True))
    told = (tuple(notes.used), tuple(notes.ignored), tuple(notes.guessed))
    apart = {old.name: new.name for old, new in zip(routes, renamed, strict=True)}
    elements = tuple(replace(e, run=apart.get(e.run, e.run)) for e in notes.elements)
    return ImportedRoutes(renamed, *told, elements=elements)


@dataclass(frozen=True, slots=True, eq=False)
class _LayerGap:
    """A gap with the numbers of the drawn pieces at both ends of it."""

    gap: Gap
    pieces: tuple[int, int]


def _joined(layer: Layer, options: ReadOptions) -> tuple[Joined, list[_LayerGap]]:
    """The chains of a layer, those elbows closed that can be, and all gaps."""
    keep = np.reshape([mark.point for mark in layer.marks], (-1, 3))
    found = chain(layer.pieces, options.tolerance, keep)
    branches = [at for one in found.chains for at in one.ends_at]
    drawn = [DrawnPiece(one.points, one.radii) for one in found.chains]
    gaps = gaps_between(
        drawn,
        branches,
        options.tolerance,
        diameter=layer.outer_diameter,
        fittings=[lost.points for lost in layer.lost],
    )
    held = [_LayerGap(gap, _end_pieces(gap, found.chains)) for gap in gaps]
    bridges = [gap.bridge for gap in gaps if gap.bridge is not None]
    if bridges:
        found = chain([*layer.pieces, *bridges], options.tolerance, keep)
    return found, held


def _name_breaks(
    routes: list[ExchangeRoute], start: int, gaps: Sequence[_LayerGap], names: dict[int, str]
) -> None:
    """Name the ends on both sides of each gap "break 1" and so on, run by run."""
    place = {route.name: i for i, route in enumerate(routes[start:], start)}
    count: Counter[str] = Counter()
    for each in gaps:
        if each.gap.bridge is not None or each.gap.kind == "far":
            continue
        run = whole_name(names[each.pieces[0]])
        count[run] += 1
        for piece in each.pieces:
            route = routes[i := place[names[piece]]]
            off = norm(route.points[[0, -1]] - each.gap.at)
            end = 0 if off[0] <= off[1] else len(route.points) - 1
            held = list(route.names)
            held[end] = held[end] or f"break {count[run]}"
            routes[i] = replace(route, names=tuple(held))


def _end_pieces(gap: Gap, chains: Sequence[Chain]) -> tuple[int, int]:
    """The drawn pieces at both ends of a gap."""
    found = []
    for number in gap.pieces:
        one = chains[number]
        off = norm(one.points[[0, -1]] - gap.at)
        found.append(one.pieces[0 if off[0] <= off[1] else -1])
    return found[0], found[1]


def _runs(found: Joined, gaps: Sequence[_LayerGap]) -> list[list[int]]:
    """The numbers of the chains by run: those with a gap between them that was not closed."""
    chain_of = {piece: i for i, one in enumerate(found.chains) for piece in one.pieces}
    run = list(range(len(found.chains)))
    for each in gaps:
        if each.gap.bridge is None and each.gap.kind != "far":
            one, two = (run[chain_of[piece]] for piece in each.pieces)
            run = [min(one, two) if number in (one, two) else number for number in run]
    return [[i for i, r in enumerate(run) if r == first] for first in sorted(set(run))]


def _title(layer: Layer, found: Joined, parts: Sequence[int]) -> str:
    """The one name that all elements of a run have, "" where they have several or none."""
    pieces = [i for part in parts for i in found.chains[part].pieces if i < len(layer.titles)]
    names = {layer.titles[i] for i in pieces}
    return names.pop() if len(names) == 1 else ""


def _too_many(layers: list[Layer], path: Path) -> InputError:
    largest = sorted(layers, key=lambda layer: -len(layer.pieces))
    there = ", ".join(layer.name for layer in largest[:20])
    many = f"has more than {MOST_ROUTES:,} separate lines"
    return bad_file(path, many, f"select the layers of the routes: {there}")


def refuse_wrong_units(routes: Sequence[ExchangeRoute], path: Path) -> None:
    """InputError where the longest route has the length of none: its unit is another.

    A building model always has its unit: there a stub may be alone.
    """
    name, length = longest_route(routes)
    shortest = 0.0 if path.suffix.lower() == ".ifc" else SHORTEST
    if not shortest <= length <= LONGEST:
        raise bad_file(
            path,
            f"units appear wrong: the longest route, {name}, would be {length:.4g} m long",
            "use --units m, ft, mm or in",
        )


def longest_route(routes: Sequence[ExchangeRoute]) -> tuple[str, float]:
    """The name of the longest route and its length along its points, m."""
    lengths = [float(norm(np.diff(route.points, axis=0)).sum()) for route in routes]
    most = int(np.argmax(lengths))
    return routes[most].name, lengths[most]


# --- one chain ---------------------------------------------------------------------------------


def _route(name: str, one: Chain, layer: Layer, notes: _Notes) -> ExchangeRoute:
    drawn = sum(i < len(layer.pieces) for i in one.pieces)
    rebuilt = len(one.pieces) - drawn
    turned = f", {counted(one.turned, 'piece')} reversed" if one.turned else ""
    # 1e-9 m is rounding: saying it was closed would only frighten
    gap = f", gaps up to {one.gap * 1000:.2g} mm closed" if one.gap > 1e-9 else ""
    arcs = int((one.radii > 0).sum()) - rebuilt
    bends = counted(arcs, "bend") + f" drawn as {'an arc' if arcs == 1 else 'arcs'}"
    corners = int(((turns_of(one.points) > STRAIGHT_TURN) & (one.radii == 0)).sum())
    bends += f", {counted(corners, 'corner')} without a radius" if corners else ""
    between = f", {counted(rebuilt, 'gap')} between straights closed" if rebuilt else ""
    pieces = counted(drawn, "piece")
    notes.used.append(f"route {name}: {pieces} joined, {bends}{between}{turned}{gap}")
    route = ExchangeRoute(
        name, one.points, one.radii, conduit=layer.conduit, outer_diameter=layer.outer_diameter
    )
    marks = [replace(mark, run=name) for mark in layer.marks]
    return _with_marks(route, marks, set(), MEETING) if marks else route


# --- gaps and what lies in them ----------------------------------------------------------------


def _report_gaps(
    layer: Layer,
    gaps: Sequence[_LayerGap],
    names: dict[int, str],
    tolerance: float,
    notes: _Notes,
) -> None:
    """The elements of a layer of which there is something to tell: gaps, fittings, loops."""
    explained: set[int] = set()
    for each in gaps:
        gap = each.gap
        fitting = None if gap.fitting is None else layer.lost[gap.fitting]
        if gap.fitting is not None:
            explained.add(gap.fitting)
        handles = ", ".join(layer.handles[i] for i in each.pieces) if layer.handles else ""
        notes.elements.append(
            Element(
                fitting.handle if fitting else handles,
                fitting.kind if fitting else "gap",
                "guessed" if gap.bridge is not None or gap.kind == "far" else "broken",
                _said(gap, fitting, tolerance),
                fitting.name if fitting else "",
                names.get(each.pieces[0], ""),
                _at(gap.at),
            )
        )
    rebuilt = [each.gap for each in gaps if each.gap.radius]
    if rebuilt:
        radii = sorted({f"{gap.radius:.4g}" for gap in rebuilt}, key=float)
        sizes = radii[0] if len(radii) == 1 else f"{radii[0]} to {radii[-1]}"
        said = f"{counted(len(rebuilt), 'elbow')} of radius {sizes} m rebuilt"
        notes.guessed.append(f"{layer.called}: {said} from the straights on both sides")
    for number, lost in enumerate(layer.lost):
        if number not in explained:
            at = _at(lost.points.mean(axis=0)) if len(lost.points) else None
            notes.elements.append(
                Element(lost.handle, lost.kind, "missing", lost.said, lost.name, at=at)
            )


def _said(gap: Gap, fitting: LostFitting | None, tolerance: float) -> str:
    """In words, how a gap was closed, or why it was not."""
    size = f"{gap.size * 1000:.4g} mm" if gap.size < 1 else f"{gap.size:.4g} m"
    why = f"{fitting.said}; " if fitting else ""
    if gap.radius:
        return f"{why}elbow of radius {gap.radius:.4g} m rebuilt from the straights on both sides"
    if gap.bridge is not None:
        return f"{why}gap of {size} between two straights in line closed by a straight"
    if gap.doubtful:
        return f"{why}gap of {size}; more than one straight would do for its elbow"
    if gap.kind == "near":
        limit = f"{tolerance * 1000:.4g} mm"
        return f"{why}gap of {size}, above the tolerance of {limit}; use --tolerance"
    if gap.kind == "in line":
        return f"{why}gap of {size} between two straights in line"
    if gap.kind == "skew":
        return f"{why}gap of {size}; the axes pass {gap.apart * 1000:.3g} mm apart and do not meet"
    if gap.kind == "far":
        return (
            f"{why}gap of {size} to another line that leads on to this one: too long for an elbow "
            "left out; separate runs"
        )
    if gap.kind == "uneven":
        return f"{why}gap of {size}; the set-backs of its elbow differ too much"
    return f"{why}gap of {size}; the straights on both sides do not meet in one point"


def _at(place: Floats) -> tuple[float, float, float]:
    x, y, z = place.tolist()
    return x, y, z


# --- what is omitted --------------------------------------------------------------------------


def _report(layer: Layer, found: Joined, notes: _Notes) -> None:
    for loop in found.loops:
        at = _place(layer.pieces[loop[0]].points[0])
        notes.ignored.append(
            f"{layer.called}: closed loop of {counted(len(loop), 'piece')} at {at}; a "
            "route must have two ends"
        )
        handle = layer.handles[loop[0]] if layer.handles else ""
        said = "closed loop: a route must have two ends"
        start = _at(layer.pieces[loop[0]].points[0])
        notes.elements.append(Element(handle, "loop", "missing", said, at=start))
    if found.doubles:
        notes.ignored.append(
            f"{layer.called}: {counted(len(found.doubles), 'piece')} drawn twice, used once"
        )
    if found.short:
        notes.ignored.append(
            f"{layer.called}: {counted(len(found.short), 'piece')} "
            "shorter than the joining tolerance"
        )
    branches = {_place(at): at for one in found.chains for at in one.ends_at}
    for meeting in branches.values():
        said = "more than two pieces meet; all routes end here"
        mark = _mark_at(layer, meeting)
        handle, kind = (mark.handle, mark.kind) if mark else ("", "branch")
        name = mark.name if mark else layer.name
        notes.elements.append(Element(handle, kind, "guessed", said, name, at=_at(meeting)))
    for place, meeting in list(branches.items())[:10]:
        mark = _mark_at(layer, meeting)
        named = f" ({mark.name})" if mark else ""
        notes.guessed.append(
            f"{layer.called}: more than two pieces meet at {place}{named}; all routes end there"
        )
    if len(branches) > 10:
        notes.guessed.append(f"{layer.called}: {len(branches) - 10} more branches")


def _mark_at(layer: Layer, at: Floats) -> WrittenVertex | None:
    return next((m for m in layer.marks if float(norm(m.point - at)) <= MEETING), None)


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
