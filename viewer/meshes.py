"""Scene data to surfaces in PyVista: points, faces and a color each; no plotter in here."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, norm, unit
from viewer.scene.records import (
    Arrow,
    ColorScale,
    Encasement,
    Grade,
    RoomEdges,
    Scene,
    Solid,
    Tube,
    Wheel,
)
from viewer.theme import Theme, category_color, colors

if TYPE_CHECKING:
    import pyvista as pv

_SIDES, _FEW_SIDES = 24, 12
_MOST_EDGES = 40_000
# Opacity of the run over the walls before it.
_THROUGH = 0.85
_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One mesh and how it looks: one ``color``, or ``rgb`` point colors where that is empty.

    ``hollow``: only its far walls are seen, so that they tint nothing inside. ``over``: drawn over
    whatever stands before it.
    """

    name: str
    mesh: pv.PolyData
    color: str = ""
    opacity: float = 1.0
    smooth: bool = False
    line_width: float = 0.0
    lit: bool = True
    hollow: bool = False
    over: bool = False


def scene_parts(scene: Scene, theme: Theme) -> tuple[Part, ...]:
    """All meshes of a scene, opaque ones first."""
    parts = [Part("tube", tube_mesh(t, scene, theme), smooth=True) for t in scene.tubes]
    radius = max(t.radius for t in scene.tubes)
    for solid in scene.solids:
        parts += _solid_parts(solid, theme, radius)
    parts += [Part("arrow", arrow_mesh(a), theme.ink, smooth=True) for a in scene.arrows]
    for bank in scene.encasements:
        mesh = bank_mesh(bank)
        edges = mesh.extract_feature_edges(50.0)
        parts.append(Part("bank edges", edges, theme.concrete, line_width=1.2, lit=False))
        parts.append(Part("bank", mesh, theme.concrete, 0.45, hollow=True))
    parts += context_parts(scene, theme)
    for room in scene.rooms:
        lines = room_lines(room)
        parts.append(Part("room edges", lines, theme.context, 0.8, line_width=1.6, lit=False))
    if scene.grade is not None:
        lines, plane = grade_meshes(scene.grade)
        parts.append(Part("grade", plane, theme.plane, 0.09, lit=False))
        parts.append(Part("grid", lines, theme.plane, 0.5, line_width=1.0, lit=False))
    return tuple(parts)


def through_walls(parts: Sequence[Part]) -> tuple[Part, ...]:
    """The parts, with the run once more over all of them where there are buildings.

    So it is seen through any number of walls, in nearly its own colors.
    """
    if not any(part.name == "context" for part in parts):
        return tuple(parts)
    run = [part for name in ("tube", "arrow", "head") for part in parts if part.name == name]
    return (*parts, *(replace(part, opacity=_THROUGH, over=True) for part in run))


# --- tubes -------------------------------------------------------------------------------------


def frames(tangents: Floats) -> tuple[Floats, Floats]:
    """Two unit normals along a curve of unit ``tangents`` (n, 3), without twist.

    Parallel transport: from one tangent to the next the frame turns by the least rotation, here
    by two reflections (W. Wang and others, "Computation of rotation minimizing frames", 2008,
    reduced to tangents; from memory).
    """
    start = np.eye(3)[int(np.argmin(np.abs(tangents[0])))]
    moved = tuple(unit(start - (start @ tangents[0]) * tangents[0]).tolist())
    rows = tangents.tolist()
    found = [moved]
    for before, after in pairwise(rows):
        moved = _transported(moved, before, after)
        found.append(moved)
    first: Floats = unit(np.array(found))
    return first, np.cross(tangents, first)


def _transported(
    moved: tuple[float, ...], before: list[float], after: list[float]
) -> tuple[float, ...]:
    """A normal of one tangent brought to the next; plain floats, a long route has thousands."""
    x, y, z = moved
    bx, by, bz = before
    ax, ay, az = after
    cx, cy, cz = ax + bx, ay + by, az + bz
    size = cx * cx + cy * cy + cz * cz
    if size > 1e-12:
        k = 2 * (cx * x + cy * y + cz * z) / size
        x, y, z = x - k * cx, y - k * cy, z - k * cz
        k = 2 * (ax * x + ay * y + az * z)
        x, y, z = x - k * ax, y - k * ay, z - k * az
    k = ax * x + ay * y + az * z  # rounding must not add up
    x, y, z = x - k * ax, y - k * ay, z - k * az
    long = math.sqrt(x * x + y * y + z * z)
    return x / long, y / long, z / long


def sweep(points: Floats, tangents: Floats, outline: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """Points and quads of an ``outline`` (k, 2) carried along a curve of ``n`` points."""
    first, second = frames(tangents)
    n, k = len(points), len(outline)
    shell = (
        points[:, None]
        + outline[None, :, :1] * first[:, None]
        + outline[None, :, 1:] * second[:, None]
    )
    i, j = (a.ravel() for a in np.meshgrid(np.arange(n - 1), np.arange(k), indexing="ij"))
    following = (j + 1) % k
    quads = np.column_stack(
        (i * k + j, i * k + following, (i + 1) * k + following, (i + 1) * k + j)
    )
    return shell.reshape(-1, 3), quads


def _poly(points: Floats, quads: NDArray[np.int64]) -> pv.PolyData:
    import pyvista as pv

    faces = np.insert(quads, 0, quads.shape[1], axis=1).ravel()
    return pv.PolyData(points, faces)


def tube_mesh(tube: Tube, scene: Scene, theme: Theme) -> pv.PolyData:
    """A round tube with its ends closed and ``rgb`` and ``values`` at its points."""
    import pyvista as pv

    angle = np.arange(_SIDES) * (2 * np.pi / _SIDES)
    outline = tube.radius * np.column_stack((np.cos(angle), np.sin(angle)))
    shell, quads = sweep(tube.points, tube.tangents, outline)
    rings = shell[:_SIDES], shell[-_SIDES:]
    points = np.vstack((shell, *rings))  # caps have points of their own: a sharp rim
    cap = np.arange(_SIDES) + len(shell)
    caps = np.concatenate(([_SIDES], cap[::-1], [_SIDES], cap + _SIDES))
    mesh = pv.PolyData(points, np.concatenate((np.insert(quads, 0, 4, axis=1).ravel(), caps)))
    outward = np.repeat(tube.points, _SIDES, axis=0)
    normals = np.vstack(
        (
            unit(shell - outward),
            np.tile(-tube.tangents[0], (_SIDES, 1)),
            np.tile(tube.tangents[-1], (_SIDES, 1)),
        )
    )
    values = scene.values(tube)
    at = np.concatenate((values, values[[0, -1]]))
    mesh.point_data["values"] = np.repeat(at, _SIDES)
    shades = scale_colors(scene.scale, at, theme)
    mesh.point_data["rgb"] = np.repeat(shades, _SIDES, axis=0)
    mesh.point_data.active_normals = normals
    return mesh


def scale_colors(scale: ColorScale, values: Floats, theme: Theme) -> NDArray[np.uint8]:
    """Red, green and blue of each value by its scale, (n,) to (n, 3)."""
    if not scale.categories:
        return colors(values, scale.full, scale.limit, theme)
    table = [category_color(i) for i in range(len(scale.categories))]
    return np.array(table, dtype=np.uint8)[values.astype(np.int64)]


def context_parts(scene: Scene, theme: Theme) -> list[Part]:
    """Buildings: far walls only, faint, and their sharp edges where they are few enough to read."""
    parts = []
    for building in scene.context:
        mesh = _poly(building.vertices, building.faces)
        parts.append(Part("context", mesh, theme.context, 0.35, hollow=True))
        edges = mesh.extract_feature_edges(30.0)
        if 0 < edges.n_cells < _MOST_EDGES:
            parts.append(
                Part("context edges", edges, theme.context, 0.6, line_width=1.0, lit=False)
            )
    return parts


def room_lines(room: RoomEdges) -> pv.PolyData:
    """The edges of a room, in pieces of two points."""
    import pyvista as pv

    pairs = [np.stack((loop, np.roll(loop, -1, axis=0)), axis=1) for loop in room.loops]
    points = np.vstack((*pairs, room.uprights)).reshape(-1, 3)
    pieces = np.arange(len(points)).reshape(-1, 2)
    return pv.PolyData(points, lines=np.insert(pieces, 0, 2, axis=1).ravel())


def bank_mesh(bank: Encasement) -> pv.PolyData:
    """A rectangular box swept along the centerline, level across, mitred where it turns."""
    points = bank.points
    step = unit(np.diff(points, axis=0))
    before, after = np.vstack((step[:1], step)), np.vstack((step, step[-1:]))
    tangent = unit(before + after)
    stretch = 1 / np.maximum(np.einsum("ij,ij->i", tangent, after), 0.2)
    side = _level_sides(tangent)
    top = np.cross(side, tangent)
    turn = np.abs(after - before)
    in_plan = norm(turn[:, :2]) > turn[:, 2]
    wide = np.where(in_plan, stretch, 1.0)[:, None] * bank.width / 2
    high = np.where(in_plan, 1.0, stretch)[:, None] * bank.height / 2
    ring = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    shell = np.stack([points + a * wide * side + b * high * top for a, b in ring], axis=1)
    n = len(points)
    i, j = (a.ravel() for a in np.meshgrid(np.arange(n - 1), np.arange(4), indexing="ij"))
    k = (j + 1) % 4
    quads = np.column_stack((4 * i + j, 4 * i + 4 + j, 4 * i + 4 + k, 4 * i + k))  # outward
    ends = np.array([[0, 1, 2, 3], [4 * n - 1, 4 * n - 2, 4 * n - 3, 4 * n - 4]])
    return _poly(shell.reshape(-1, 3), np.vstack((quads, ends)))


def _level_sides(tangents: Floats) -> Floats:
    """Level unit vectors across a curve, (n, 3); in a shaft that of the place before."""
    side = np.cross(tangents, _UP)
    flat = norm(side) > 1e-6
    if not flat.any():
        return np.tile([1.0, 0.0, 0.0], (len(tangents), 1))
    last = np.maximum.accumulate(np.where(flat, np.arange(len(side)), -1))
    return unit(side[np.where(last < 0, int(np.argmax(flat)), last)])


# --- solids ------------------------------------------------------------------------------------


def _solid_parts(solid: Solid, theme: Theme, radius: float) -> list[Part]:
    if solid.kind == "box":
        mesh = block(solid.base, solid.along, np.zeros(3), solid.size)
        edges = mesh.extract_feature_edges(30.0)
        return [
            Part("box edges", edges, theme.box, line_width=2.0, lit=False),
            Part("box", mesh, theme.box, 0.3, hollow=True),
        ]
    if solid.kind == "end":
        stake = block(solid.base, solid.along, np.zeros(3), solid.size)
        rope = rod(solid.mouth, solid.base + _UP * 0.5 * solid.size[2], 0.25 * radius)
        return [
            Part("machine post", stake, theme.machine),
            Part("rope", rope, theme.machine, smooth=True),
        ]
    return _reel(solid, theme, radius) if solid.kind == "reel" else _machine(solid, theme, radius)


def _reel(solid: Solid, theme: Theme, radius: float) -> list[Part]:
    """Two flanges, the coil between them, and the cable from under the coil to the conduit."""
    flange, width, _ = solid.size
    across = np.cross(_UP, solid.along)
    hub = solid.base + _UP * flange / 2
    thick = 0.1 * width
    coil = 0.36 * flange
    sides = [
        cylinder(hub + s * across * (width - thick) / 2, across, flange / 2, thick)
        for s in (-1.0, 1.0)
    ]
    axle = cylinder(hub, across, 0.07 * flange, 1.25 * width)
    cable = rod(hub - _UP * coil, solid.mouth, 0.4 * radius)
    return [
        *(Part("reel", side, theme.feed) for side in sides),
        Part("reel coil", cylinder(hub, across, coil, width - 2 * thick), theme.cable, smooth=True),
        Part("reel axle", axle, theme.steel, smooth=True),
        Part("cable", cable, theme.cable, smooth=True),
    ]


def _machine(solid: Solid, theme: Theme, radius: float) -> list[Part]:
    """A housing within the envelope, a capstan drum before it, the rope from the conduit."""
    length, width, height = solid.size
    across = np.cross(_UP, solid.along)
    drum, drum_width = 0.24 * height, 0.55 * width
    hub = solid.base + _UP * 0.52 * height - solid.along * (length / 2 - drum)
    body = block(
        solid.base,
        solid.along,
        np.array([0.2 * length, 0, 0.1 * height]),
        (0.6 * length, width, 0.9 * height),
    )
    skid = block(solid.base, solid.along, np.zeros(3), (length, width, 0.12 * height))
    cheeks = [
        cylinder(hub + s * across * drum_width / 2, across, drum * 1.35, 0.07 * width)
        for s in (-1.0, 1.0)
    ]
    post = block(
        solid.base,
        solid.along,
        np.array([-length / 2 + drum, 0, 0.1 * height]),
        (0.5 * drum, 0.9 * drum_width, 0.42 * height),
    )
    rope = [rod(solid.mouth, hub + _UP * drum * 0.9, 0.25 * radius)]
    if len(solid.rope):
        course = np.vstack((solid.rope, hub + _UP * drum * 0.9))
        rope = [hose(course, 0.25 * radius)]
    return [
        Part("machine", body, theme.machine),
        Part("machine skid", skid, theme.steel),
        Part("machine post", post, theme.steel),
        Part("capstan", cylinder(hub, across, drum, drum_width), theme.steel, smooth=True),
        *(Part("capstan cheek", cheek, theme.machine) for cheek in cheeks),
        *(Part("rope", piece, theme.machine, smooth=True) for piece in rope),
        *(Part("sheave", wheel, theme.steel, smooth=True) for wheel in map(_wheel, solid.wheels)),
    ]


def _wheel(wheel: Wheel) -> pv.PolyData:
    return cylinder(wheel.hub, wheel.axis, wheel.radius, 0.35 * wheel.radius)


def hose(points: Floats, radius: float) -> pv.PolyData:
    """A round line of ``radius`` m through ``points`` (n, 3), no two of them the same."""
    step = unit(np.diff(points, axis=0))
    tangents = unit(np.vstack((step[:1], step[:-1] + step[1:], step[-1:])))
    angle = np.arange(_FEW_SIDES) * (2 * np.pi / _FEW_SIDES)
    outline = radius * np.column_stack((np.cos(angle), np.sin(angle)))
    shell, quads = sweep(points, tangents, outline)
    return _poly(shell, quads)


def block(
    base: Floats, along: Floats, shift: Floats, size: tuple[float, float, float]
) -> pv.PolyData:
    """A box on ``base`` moved by ``shift`` (along, across, up), ``size`` in the same order."""
    across = np.cross(_UP, along)
    foot = base + shift[0] * along + shift[1] * across + shift[2] * _UP
    corners = (
        np.array(
            [
                (x, y, z)
                for z in (0.0, 1.0)
                for x, y in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
            ]
        )
        * size
    )
    points = foot + corners @ np.vstack((along, across, _UP))
    quads = np.array(
        [[3, 2, 1, 0], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7]]
    )
    return _poly(points, quads)


def cylinder(middle: Floats, axis: Floats, radius: float, length: float) -> pv.PolyData:
    """A closed cylinder about ``middle``."""
    import pyvista as pv

    return pv.Cylinder(center=middle, direction=axis, radius=radius, height=length, resolution=48)


def rod(start: Floats, end: Floats, radius: float) -> pv.PolyData:
    """A thin cylinder from one point to another."""
    length = float(norm(end - start))
    return cylinder((start + end) / 2, unit(end - start), radius, length)


def arrow_mesh(arrow: Arrow) -> pv.PolyData:
    """A cone whose middle lies at the arrow's place."""
    import pyvista as pv

    return pv.Cone(
        center=arrow.at,
        direction=arrow.along,
        height=arrow.length,
        radius=arrow.radius,
        resolution=32,
    )


# --- grade -------------------------------------------------------------------------------------


def grade_meshes(grade: Grade) -> tuple[pv.PolyData, pv.PolyData]:
    """Grid lines and surface of the grade."""
    import pyvista as pv

    corners = grade.corners.reshape(-1, 3)
    first = corners[:, :2].min(axis=0)
    steps = np.rint((corners[:, :2] - first) / grade.spacing)
    key, at, owner = np.unique(steps, axis=0, return_index=True, return_inverse=True)
    points = np.column_stack((first + key * grade.spacing, corners[at, 2]))
    quads = owner.reshape(-1, 4)
    sides = np.sort(np.stack((quads, np.roll(quads, -1, axis=1)), axis=-1).reshape(-1, 2), axis=1)
    pairs = np.unique(sides, axis=0)
    lines = pv.PolyData(points, lines=np.insert(pairs, 0, 2, axis=1).ravel())
    return lines, _poly(points, quads)
