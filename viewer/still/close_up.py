"""A picture of one clash: the two things in color, what stands round them faint."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from route3d.drawing.marks import Box, Marks, Ring, Text
from route3d.drawing.pixels import measure, painted
from route3d.geometry.blocks import FACES, Blocks
from route3d.geometry.fillet import route_path
from route3d.geometry.mesh_tree import Ints
from route3d.geometry.path import Path
from route3d.geometry.tubes import tubes
from route3d.geometry.vectors import Floats
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.planning.clearance.conduits import bank_ducts, outer_radii
from route3d.planning.clearance.issues import CloseUp, Issue
from route3d.planning.clearance.job import ClearanceResult
from route3d.units import show
from viewer.camera import Camera
from viewer.meshes import Part
from viewer.renderer import off_screen
from viewer.still.picture import png_of
from viewer.theme import CATEGORIES, LIGHT, OVER_LIMIT

if TYPE_CHECKING:
    import pyvista as pv

SIZE = (960, 720)
_TIMES = 2
_CHORD = 0.002  # m, of tubes
_ONE, _OTHER = OVER_LIMIT, CATEGORIES[4]
# What is shown of a thing reaches so far beyond what the camera sees, in widths of that.
_CUT = 1.6
_HEAD, _RING = 62, 46.0  # pixels

Surface = tuple[Floats, Ints]


class Surroundings:
    """Every surface of a result by its name, made once for all its pictures."""

    def __init__(self, result: ClearanceResult) -> None:
        self.result = result
        job = result.job
        self.lines: dict[str, tuple[Path, Floats]] = {}
        paths = [route_path(run.route) for run in job.runs]
        banks = {bank.run: bank for bank in bank_ducts(job, paths)[0]}
        for run, path in zip(job.runs, paths, strict=True):
            radii = outer_radii(run)
            if run.name not in banks:
                self.lines[f"run {run.name}"] = path, radii[path.leg]
                continue
            for duct, label in zip(banks[run.name].paths, banks[run.name].labels, strict=True):
                self.lines[f"{label} of run {run.name}"] = duct, radii[duct.leg]
        self.bodies: dict[str, Blocks] = {body.name: body.blocks for body in result.built}

    def surfaces(self, name: str, low: Floats, high: Floats) -> Iterator[Surface]:
        """What a name stands for, near a box."""
        if name in self.bodies:
            yield _faces_of(self.bodies[name])
        elif name in self.lines:
            path, radii = self.lines[name]
            yield from tubes(path, radii, chord_tolerance=_CHORD, sides=32)
        else:
            for meshes in self.result.classes:
                if name in meshes.names:
                    items = meshes.tree.within(low, high)
                    own = items[meshes.owner[items] == meshes.names.index(name)]
                    yield _soup(meshes.tree.triangles[own])

    def others(self, names: tuple[str, ...], low: Floats, high: Floats) -> Iterator[Surface]:
        """Everything else near a box."""
        for name in (*self.lines, *self.bodies):
            if name not in names:
                yield from self.surfaces(name, low, high)
        for meshes in self.result.classes:
            items = meshes.tree.within(low, high)
            named = [k for k, name in enumerate(meshes.names) if name in names]
            yield _soup(meshes.tree.triangles[items[~np.isin(meshes.owner[items], named)]])


def close_up_png(
    issue: Issue, view: CloseUp, site: Surroundings, system: str, size: tuple[int, int] = SIZE
) -> bytes:
    """The picture of an issue from its camera, as PNG; the same input gives the same bytes.

    Raises RendererError where this machine cannot render.
    """
    right = np.cross(view.forward, view.up)
    camera = Camera(right, view.up, view.forward, np.zeros(3), 2 * view.around / size[1], size)
    reach = _CUT * view.around * size[0] / size[1]
    low, high = view.target - reach, view.target + reach
    names = (issue.one, issue.other)
    parts = []
    for name, color, opacity in ((issue.one, _ONE, 1.0), (issue.other, _OTHER, 0.6)):
        for surface in site.surfaces(name, low, high):
            mesh = _cut(surface, view.target, reach)
            if mesh.n_cells:
                parts.append(Part(name, mesh, color, opacity, smooth=name in site.lines))
                edges = mesh.extract_feature_edges(40.0, boundary_edges=False)
                if edges.n_cells and name not in site.lines:
                    parts.append(Part("edges", edges, color, line_width=1.4, lit=False))
    for surface in site.others(names, low, high):
        mesh = _cut(surface, view.target, reach)
        if mesh.n_cells:
            parts.append(Part("other", mesh, LIGHT.context, 0.18, hollow=True))
    with off_screen(tuple(parts), camera, LIGHT, _TIMES) as shot:
        from PIL import Image as Images

        image = Images.fromarray(shot())
    marks = _words(issue, site.result, system, size)
    return png_of(np.asarray(painted(image, marks, _TIMES)))


def _faces_of(body: Blocks) -> Surface:
    """The outsides of a body as triangles."""
    shown = np.ones((len(body), 6), dtype=bool)
    shown[:, :2] = ~body.open
    quads = body.corners[:, FACES][shown]
    return _soup(quads[:, [(0, 1, 2), (0, 2, 3)]].reshape(-1, 3, 3))


def _soup(triangles: Floats) -> Surface:
    corners, faces = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    return corners, faces.reshape(-1, 3)


def _cut(surface: Surface, target: Floats, reach: float) -> pv.PolyData:
    """The part of a surface within a box about a place, which is the origin of what is drawn."""
    import pyvista as pv

    points, faces = surface
    if not len(faces):
        return pv.PolyData()
    packed = np.insert(faces, 0, 3, axis=1).ravel()
    mesh = pv.PolyData((points - target).astype(np.float32), packed)
    for axis in np.eye(3):
        for side in (axis, -axis):
            if mesh.n_points and float((mesh.points @ side).max()) > reach:
                mesh = mesh.clip(normal=side, origin=reach * side, invert=True)
    return mesh


def _words(issue: Issue, result: ClearanceResult, system: str, size: tuple[int, int]) -> Marks:
    """Title, figures and what the two colors stand for."""
    ink, faint = LIGHT.ink, LIGHT.faint
    figures = [
        f"clearance {show(issue.distance, 'diameter', system)}",
        f"required {show(issue.required, 'diameter', system)}" if issue.required else "",
        f"station {show(issue.station, 'length', system)} of run {issue.run}",
        issue.zone,
    ]
    marks: list[Box | Text | Ring] = [
        Box((0.0, 0.0, size[0], _HEAD), LIGHT.card),
        Text((16.0, 20.0), _fitted(f"{issue.number}: {issue.title}", 17, size), 17, ink, True),
        Text((16.0, 44.0), _fitted(" · ".join(f for f in figures if f), 14, size), 14, faint),
    ]
    middle = (size[0] / 2, size[1] / 2)
    marks.append(Ring(middle, _RING, LIGHT.ink, 2.0))
    left = 16.0
    for name, color in ((issue.one, _ONE), (issue.other, _OTHER)):
        y = size[1] - 22.0
        marks.append(Box((left, y - 7, left + 14, y + 7), color))
        marks.append(Text((left + 20, y), name, 14, ink))
        left += 20 + measure(name, 14, False)[0] + 24
    if banner := example_banner(result.job.examples, MOST_NAMED):
        marks.append(Text((16.0, _HEAD + 16.0), banner, 14, LIGHT.alarm, True))
    return tuple(marks)


def _fitted(text: str, letters: int, size: tuple[int, int]) -> str:
    """A line that ends in the picture."""
    room = size[0] - 32.0
    if measure(text, letters, True)[0] <= room:
        return text
    while text and measure(text + "…", letters, True)[0] > room:
        text = text[:-1]
    return f"{text.rstrip()}…"
