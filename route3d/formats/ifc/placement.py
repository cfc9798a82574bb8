"""Placements of IFC as 4 x 4 matrices, in the lengths of the file.

Directions need not be square to each other in IFC: the reference direction counts by its part
across the axis (ISO 16739-1, IfcBuildAxes), which the library's own helper leaves out.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from route3d.geometry.vectors import Floats, norm

# Placements lean on placements; more than this many is a circle.
_DEEPEST = 100


class UnusableError(Exception):
    """Geometry that gives no centerline; the text says why, for the report."""


def point3(entity: Any) -> Floats:
    """The coordinates of an IfcCartesianPoint, (3,); plane points lie at z = 0."""
    numbers = [float(c) for c in entity.Coordinates]
    if not 2 <= len(numbers) <= 3:
        raise UnusableError("a point without its coordinates")
    return finite(np.array((*numbers, 0.0)[:3]))


def finite(numbers: Floats) -> Floats:
    """The numbers as they are; UnusableError where one is no place (1e15 of any unit is none)."""
    if not (np.abs(numbers) < 1e15).all():
        raise UnusableError("a coordinate that is not finite")
    return numbers


def direction3(entity: Any, default: tuple[float, float, float]) -> Floats:
    """A unit vector, (3,), from an IfcDirection or, where there is none, the ``default``."""
    ratios = default if entity is None else (*(float(r) for r in entity.DirectionRatios), 0.0)[:3]
    vector = finite(np.array(ratios))
    size = float(norm(vector))
    if len(vector) != 3 or size == 0:
        raise UnusableError("a direction without length")
    return vector / size


def axis_placement(entity: Any) -> Floats:
    """An IfcAxis2Placement2D or 3D as a matrix."""
    if not entity.Location.is_a("IfcCartesianPoint"):
        raise UnusableError("a place along a curve")
    axis = direction3(getattr(entity, "Axis", None), (0.0, 0.0, 1.0))
    reference = direction3(entity.RefDirection, (1.0, 0.0, 0.0))
    x = reference - (reference @ axis) * axis
    if float(norm(x)) < 1e-9:
        x = np.eye(3)[int(np.argmin(np.abs(axis)))]
        x = x - (x @ axis) * axis
    x = x / norm(x)
    return _matrix(x, np.cross(axis, x), axis, point3(entity.Location))


def _matrix(x: Floats, y: Floats, z: Floats, origin: Floats) -> Floats:
    matrix = np.eye(4)
    matrix[:3, :] = np.column_stack((x, y, z, origin))
    return matrix


def world_placement(placement: Any) -> Floats:
    """The matrix of an element: its placement in all those it is relative to."""
    matrix = np.eye(4)
    for _ in range(_DEEPEST):
        if placement is None:
            return matrix
        if not placement.is_a("IfcLocalPlacement"):
            raise UnusableError("placed on a grid or along a curve")
        matrix = axis_placement(placement.RelativePlacement) @ matrix
        placement = placement.PlacementRelTo
    raise UnusableError("circular placements")


def mapping(item: Any) -> Floats:
    """The matrix of an IfcMappedItem: its target after the map's own origin.

    The standard could be read as the origin undone; ifcopenshell's own geometry applies it, and
    writers check their files in such readers. The scale may differ along the three axes.
    """
    target = item.MappingTarget
    x = direction3(target.Axis1, (1.0, 0.0, 0.0))
    z = direction3(getattr(target, "Axis3", None), (0.0, 0.0, 1.0))
    x = x - (x @ z) * z
    if float(norm(x)) < 1e-9:
        raise UnusableError("a map with parallel directions")
    x = x / norm(x)
    y = np.cross(z, x)
    if target.Axis2 is not None and float(direction3(target.Axis2, (0.0, 1.0, 0.0)) @ y) < 0:
        y = -y  # a mirror image
    scale = 1.0 if target.Scale is None else float(target.Scale)
    others = (getattr(target, "Scale2", None), getattr(target, "Scale3", None))
    second, third = (scale if other is None else float(other) for other in others)
    scales = finite(np.array((scale, second, third)))
    if not scales.all():
        raise UnusableError("a map of scale 0")
    matrix = _matrix(x * scale, y * second, z * third, point3(target.LocalOrigin))
    return matrix @ axis_placement(item.MappingSource.MappingOrigin)


def evenly(matrix: Floats) -> bool:
    """Whether a matrix keeps all angles: turns, moves and scales alike in all directions."""
    square = matrix[:3, :3].T @ matrix[:3, :3]
    size = float(np.trace(square)) / 3
    return bool(np.abs(square - size * np.eye(3)).max() <= 2e-9 * size)
