"""Ports of IFC elements, where they are, and which of them are connected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from route3d.formats.ifc.placement import UnusableError, world_placement
from route3d.geometry.vectors import Floats, norm

# A port without a connection is connected to what lies this near, m.
SAME_PLACE = 2e-3


@dataclass(frozen=True, slots=True, eq=False)
class Port:
    """A port of the ``element`` with that number; ``place`` (3,) m, None where it has none."""

    number: int
    element: int
    place: Floats | None


@dataclass(frozen=True, slots=True, eq=False)
class Connection:
    """Two elements by their numbers that are connected, each with the place (3,) m of its port."""

    elements: tuple[int, int]
    places: tuple[Floats | None, Floats | None]


def ports_of(model: Any, world: Floats) -> dict[int, Port]:
    """All ports of a model by their numbers, placed by the matrix ``world`` (4, 4)."""
    owners: dict[int, int] = {}
    for relation in model.by_type("IfcRelNests"):
        for part in _entities(relation.RelatedObjects):
            if part.is_a("IfcPort"):
                owners |= _owned(part, relation.RelatingObject)
    for relation in model.by_type("IfcRelConnectsPortToElement"):
        owners |= _owned(relation.RelatingPort, relation.RelatedElement)
    return {
        number: Port(number, owner, _place(model.by_id(number), world))
        for number, owner in owners.items()
    }


def _entities(values: Any) -> list[Any]:
    """Those of some values that are entities: a damaged file may hold others, or none."""
    found = values if isinstance(values, (tuple, list)) else (values,)
    return [each for each in found if hasattr(each, "is_a")]


def _owned(port: Any, element: Any) -> dict[int, int]:
    known = _entities((port, element))
    return {known[0].id(): known[1].id()} if len(known) == 2 else {}


def _place(port: Any, world: Floats) -> Floats | None:
    try:
        if port.ObjectPlacement is None:
            return None
        found = (world @ world_placement(port.ObjectPlacement))[:3, 3]
    except (UnusableError, AttributeError, TypeError, ValueError):
        return None
    return found if np.isfinite(found).all() else None


def connections(model: Any, ports: dict[int, Port]) -> tuple[list[Connection], set[int]]:
    """What is connected by ports, each pair of ports once, and the numbers of those ports."""
    found, used = [], set()
    for relation in model.by_type("IfcRelConnectsPorts"):
        ends = _entities((relation.RelatingPort, relation.RelatedPort))
        if len(ends) < 2 or any(end.id() not in ports for end in ends):
            continue
        one, two = (ports[end.id()] for end in ends)
        if one.element != two.element:
            found.append(Connection((one.element, two.element), (one.place, two.place)))
            used |= {one.number, two.number}
    return found, used


def by_place(
    free: Iterable[Port], ends: Iterable[tuple[int, Floats]], near: float
) -> list[Connection]:
    """Ports without a connection that lie at each other, or at the end of another element.

    ``ends`` are numbers of elements with places (3,) m.
    """
    spots = [(port.element, port.place) for port in free if port.place is not None]
    count = len(spots)
    spots += list(ends)
    if not count or len(spots) < 2:
        return []
    cell = 2 * near
    places = np.array([place for _, place in spots])
    keys = np.floor(places / cell).astype(np.int64)
    cells: dict[tuple[int, ...], list[int]] = {}
    for i, key in enumerate(map(tuple, keys.tolist())):
        cells.setdefault(key, []).append(i)
    steps = np.array(np.meshgrid(*[(-1, 0, 1)] * 3)).reshape(3, -1).T
    found: dict[tuple[int, int], Connection] = {}
    for i in range(count):
        for key in map(tuple, (keys[i] + steps).tolist()):
            for j in cells.get(key, ()):
                a, b = spots[i][0], spots[j][0]
                pair = (min(a, b), max(a, b))
                if a != b and float(norm(places[i] - places[j])) <= near and pair not in found:
                    mine, theirs = (
                        (places[i], places[j]) if a == pair[0] else (places[j], places[i])
                    )
                    found[pair] = Connection(pair, (mine, theirs))
    return list(found.values())
