"""Fittings drawn as faces alone, bridged from port to port along the straights beside them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from route3d.files.ifc_placement import UnusableError, world_placement
from route3d.geometry.chains import Drawn, straight_piece
from route3d.geometry.vectors import Floats, frozen, norm

# Set-backs of a bend are equal; what differs by more than this share is no bend.
_EVEN = 0.02


def bridged(
    bare: Sequence[tuple[Any, str]], pieces: Sequence[Drawn]
) -> tuple[list[Drawn], Counter[str]]:
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


def _ends(pieces: Sequence[Drawn]) -> tuple[Floats, Floats]:
    """The ends of all pieces and the unit directions in which they lead on, (n, 3) each."""
    ends, outward = [], []
    for piece in pieces:
        for a, b in ((1, 0), (-2, -1)):
            leg = piece.points[b] - piece.points[a]
            if (size := float(norm(leg))) > 0:
                ends.append(piece.points[b])
                outward.append(leg / size)
    return np.array(ends).reshape(-1, 3), np.array(outward).reshape(-1, 3)


def _bridge(first: Floats, last: Floats, ends: Floats, outward: Floats) -> Drawn:
    """The bend that is tangent to the pieces at both ports, else a straight."""
    ahead = outward[int(np.argmin(norm(ends - first)))]
    back = outward[int(np.argmin(norm(ends - last)))]
    across = np.cross(ahead, back)
    size = float(across @ across)
    if size < 1e-8:
        return straight_piece(first, last)
    gap = last - first
    # the lines first + a·ahead and last + b·back come nearest to each other at
    a = float(np.cross(gap, back) @ across) / size
    b = float(np.cross(gap, ahead) @ across) / size
    meeting = (first + a * ahead + last + b * back) / 2
    apart = float(norm(first + a * ahead - last - b * back))
    if min(a, b) <= 0 or abs(a - b) > _EVEN * max(a, b) or apart > _EVEN * max(a, b):
        return straight_piece(first, last)
    turn = np.pi - float(np.arctan2(np.sqrt(size), ahead @ back))
    radius = min(a, b) / np.tan(turn / 2)
    return Drawn(frozen([first, meeting, last]), frozen([0.0, radius, 0.0]))
