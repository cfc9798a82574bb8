"""One element of an IFC model: what it is, its centerlines, its ends and the box around it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from route3d.formats.ifc.bodies import Body, Swept, bodies, lines_of
from route3d.formats.ifc.curves import Centerline, Measures
from route3d.formats.ifc.placement import UnusableError, world_placement
from route3d.geometry.join import MEETING
from route3d.geometry.vectors import Floats, norm
from route3d.units import FARTHEST

# What carries cables, and what a run goes through on its way.
CARRIERS = ("IfcFlowSegment", "IfcFlowFitting")
# What runs in a conduit or is none: cables lie on the same line and would double it.
NOT_CARRIERS = ("IfcCableSegment", "IfcCableFitting", "IfcConveyorSegment")
# Fittings and types of these kinds are boxes, where cables are pulled from.
_BOXES = ("IfcJunctionBox", "IfcDistributionChamberElement")
_BRANCHES = ("TEE", "CROSS", "JUNCTION", "Y", "WYE", "LATERAL")
_GENERIC = ("IfcFlowSegment", "IfcFlowFitting", "IfcFlowController", "IfcFlowTerminal")
_NO_BODIES = ("Axis", "Box", "FootPrint", "Annotation", "Profile", "Clearance", "CoG", "Reference")
_BROKEN = (ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError)


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """An element as runs need it; lengths in m on the coordinates of the job.

    ``kind`` is its class, that of its type where its own says nothing. ``lines`` are its
    centerlines; where there are none, ``reason`` says why. ``points`` (n, 3) are places on it.
    """

    element: Any
    number: int
    handle: str
    name: str
    kind: str
    predefined: str
    lines: tuple[Centerline, ...]
    reason: str
    points: Floats
    place: Floats | None

    @property
    def is_box(self) -> bool:
        """Whether it is a box or another place where cables are pulled from."""
        return self.kind in _BOXES or self.predefined == "JUNCTION" or not self.is_carrier

    @property
    def is_branch(self) -> bool:
        """Whether it is said to be a place where more than two runs meet."""
        return self.predefined in _BRANCHES

    @property
    def is_carrier(self) -> bool:
        """Whether it is a segment or a fitting, boxes included."""
        return any(self.element.is_a(kind) for kind in CARRIERS)

    @property
    def at(self) -> tuple[float, float, float] | None:
        """A place of it, for a report."""
        if self.lines:
            spot = self.lines[0].piece.points[0]
        elif len(self.points):
            spot = (self.points.min(axis=0) + self.points.max(axis=0)) / 2
        elif self.place is not None:
            spot = self.place[:3, 3]
        else:
            return None
        x, y, z = spot.tolist()
        return x, y, z

    def ends(self) -> list[tuple[Floats, Floats]]:
        """Its free ends (3,) with the unit vectors that lead on from them."""
        found = []
        for line in self.lines:
            points = line.piece.points
            for end, before in ((0, 1), (-1, -2)):
                leg = points[end] - points[before]
                if (size := float(norm(leg))) > 0:
                    found.append((points[end], leg / size))
        return [
            end
            for i, end in enumerate(found)
            if not any(
                j != i and float(norm(end[0] - other[0])) <= MEETING
                for j, other in enumerate(found)
            )
        ]

    def box(self, along: Floats) -> tuple[float, float, float] | None:
        """Length along a direction, width and height of it, m, by its own axes; None if unknown."""
        if not len(self.points) or self.place is None:
            return None
        turn = self.place[:3, :3] / norm(self.place[:3, :3].T)
        sides = np.ptp(self.points @ turn, axis=0)
        first = int(np.argmax(np.abs(along @ turn)))
        others = [i for i in range(3) if i != first]
        up = max(others, key=lambda i: abs(float(turn[2, i])))
        width = next(i for i in others if i != up)
        size = float(sides[first]), float(sides[width]), float(sides[up])
        return size if min(size) > 0 else None


def type_of(element: Any) -> Any:
    """The type of an element, None where it has none."""
    relations = getattr(element, "IsTypedBy", ()) or [
        r for r in element.IsDefinedBy if r.is_a("IfcRelDefinesByType")
    ]
    return relations[0].RelatingType if relations else None


def kind_of(element: Any) -> str:
    """The class of an element, that of its type where its own is a general one."""
    own = str(element.is_a())
    kind = type_of(element) if own in _GENERIC else None
    return own if kind is None else str(kind.is_a()).removesuffix("Type")


def predefined_of(element: Any) -> str:
    """The predefined type of an element or of its type, in capitals; "" where it says none."""
    for one, free in ((element, "ObjectType"), (type_of(element), "ElementType")):
        said = getattr(one, "PredefinedType", None)
        if said == "USERDEFINED" and getattr(one, free, None):
            return str(getattr(one, free)).upper()
        if said and said not in ("NOTDEFINED", "USERDEFINED"):
            return str(said)
    return ""


def is_class(element: Any, name: str) -> bool:
    """Whether an element is of an entity or predefined type of this name, capitals or not."""
    if name.upper() in (kind_of(element).upper(), predefined_of(element)):
        return True
    try:
        return bool(element.is_a(name))
    except RuntimeError:  # no entity of this schema
        return False


def part_of(
    element: Any, world: Floats, measures: Measures, damaged: Callable[[Any], bool]
) -> Part:
    """Read an element; whatever is wrong with it becomes its reason."""
    lines: Sequence[Centerline] = ()
    points, reason, place = np.empty((0, 3)), "", None
    try:
        if damaged(element):
            raise UnusableError("damaged in the file")
        place = world @ world_placement(element.ObjectPlacement)
        if element.Representation is None:
            raise UnusableError("no geometry")
        shown = _shown(element, measures)
        points = _points(shown, place)
        lines = [line.moved(place, measures) for line in _lines(shown, measures)]
        if any(not (np.abs(line.piece.points) <= FARTHEST).all() for line in lines):
            lines = ()
            raise UnusableError("a point outside the Earth: check its units")
    except UnusableError as error:
        reason = str(error)
    except _BROKEN:
        reason = "broken geometry"
    name = " ".join(str(getattr(element, "Name", None) or "").split())
    return Part(
        element,
        int(element.id()),
        str(getattr(element, "GlobalId", None) or f"#{element.id()}"),
        name,
        _safely(kind_of, element) or str(element.is_a()),
        _safely(predefined_of, element),
        tuple(lines),
        reason,
        points,
        place,
    )


def _safely(ask: Callable[[Any], str], element: Any) -> str:
    try:
        return ask(element)
    except _BROKEN:
        return ""


@dataclass(frozen=True, slots=True)
class _Shown:
    """The bodies of one representation, or the reason why they cannot be read."""

    axis: bool
    found: tuple[Body, ...]
    reason: str = ""


def _shown(element: Any, measures: Measures) -> list[_Shown]:
    """The representations of an element that may tell its line: axes before bodies."""
    every = list(element.Representation.Representations)
    named = sorted(
        (r for r in every if r.RepresentationIdentifier in (None, "", "Axis", "Body")
         or r.RepresentationIdentifier not in _NO_BODIES),
        key=lambda r: _ORDER.get(r.RepresentationIdentifier, 2),
    )  # fmt: skip
    return [_read(r, r.RepresentationIdentifier == "Axis", measures) for r in named]


_ORDER = {"Axis": 0, "Body": 1}


def _read(representation: Any, axis: bool, measures: Measures) -> _Shown:
    found: list[Body] = []
    reason = ""
    for item in representation.Items:
        try:
            found += bodies(item, measures)
        except UnusableError as error:
            reason = reason or str(error)
        except _BROKEN:
            reason = reason or "broken geometry"
    return _Shown(axis, tuple(found), reason)


def _lines(shown: Sequence[_Shown], measures: Measures) -> list[Centerline]:
    """The centerlines of an element: of its axis, else of its body."""
    reasons: list[str] = []
    for each in shown:
        try:
            if each.reason:
                raise UnusableError(each.reason)
            lines = lines_of(each.found, measures)
        except UnusableError as error:
            reasons.append(str(error))
            continue
        said: tuple[str, ...] = ()
        if reasons and any(other.axis for other in shown):
            which = "its first axis" if each.axis else "its axis"
            said = (f"{which} not used: {reasons[0]}",)
        size = _diameter(shown, measures) if each.axis else None
        return [
            replace(line, diameter=line.diameter or size, guesses=(*line.guesses, *said))
            for line in lines
        ]
    raise UnusableError(reasons[0] if reasons else "neither axis nor body")


def _diameter(shown: Sequence[_Shown], measures: Measures) -> float | None:
    """The diameter of a body, where it says so; an axis is enough for the route."""
    for each in shown:
        if each.axis or each.reason or not each.found:
            continue
        try:
            sizes = {line.diameter for line in lines_of(each.found, measures)}
        except UnusableError:
            sizes = {body.line.diameter for body in each.found if isinstance(body, Swept)}
        return sizes.pop() if len(sizes) == 1 else None
    return None


def _points(shown: Sequence[_Shown], place: Floats) -> Floats:
    """Points on the body of an element; none where it has none that can be read."""
    for each in shown:
        if not each.axis and each.found:
            points = np.vstack([body.corners() for body in each.found])
            return np.asarray(points @ place[:3, :3].T + place[:3, 3])
    return np.empty((0, 3))
