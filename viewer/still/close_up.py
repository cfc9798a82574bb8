"""A picture of one clash: the two things in color, what stands round them faint."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from route3d.drawing.marks import Box, Line, Marks, Ring, Text
from route3d.drawing.pixels import measure, painted
from route3d.geometry.vectors import Floats
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.planning.clearance.close_up import CloseUp, Surface, Surroundings
from route3d.planning.clearance.issues import Issue
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
_ONE, _OTHER = OVER_LIMIT, CATEGORIES[4]
# What is shown of a thing reaches so far beyond what the camera sees, in widths of that.
_CUT = 1.6
_HEAD, _RING = 62, 46.0  # pixels
_TICK, _BESIDE, _SHORT = 9.0, 28.0, 14.0  # of the line of a gap, pixels


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
    marks = (*_place(issue, view, camera, system), *_words(issue, view, site.result, system, size))
    return png_of(np.asarray(painted(image, marks, _TIMES)))


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


def _place(issue: Issue, view: CloseUp, camera: Camera, system: str) -> Marks:
    """A ring round a clash; the line of a gap with its length, over all that stands before it."""
    middle = (camera.size[0] / 2, camera.size[1] / 2)
    if view.gap is None:
        return (Ring(middle, _RING, LIGHT.ink, 2.0),)
    one, other = camera.project(view.gap - view.target)
    length = float(np.hypot(*(other - one)))
    along = (other - one) / length if length > 1e-9 else np.array([1.0, 0.0])
    aside = np.array([-along[1], along[0]])
    if aside[1] > 0 or (aside[1] == 0 and aside[0] < 0):  # the words above, or to the right
        aside = -aside
    lines = [np.array([one, other])]
    tick = min(_TICK, length / 2) * aside
    lines += [np.array([end - tick, end + tick]) for end in (one, other)]
    said = show(issue.distance, "diameter", system)
    half = measure(said, 16, True)[0] / 2
    at = (one + other) / 2 + aside * (_BESIDE + half * abs(aside[0]))
    marks: list[Box | Line | Ring | Text] = [Line(line, LIGHT.card, 6.0) for line in lines]
    marks += [Line(line, LIGHT.ink, 2.2) for line in lines]
    if length < _SHORT:
        left, top = ((one + other) / 2).tolist()
        marks.append(Ring((left, top), _RING, LIGHT.ink, 2.0))
        at = (one + other) / 2 + aside * (_RING + 12.0 + half * abs(aside[0]))
    x, y = at.tolist()
    marks.append(Box((x - half - 5, y - 12, x + half + 5, y + 12), LIGHT.card, corner=3.0))
    marks.append(Text((x, y), said, 16, LIGHT.ink, True, "middle"))
    return tuple(marks)


def _words(
    issue: Issue, view: CloseUp, result: ClearanceResult, system: str, size: tuple[int, int]
) -> Marks:
    """Title, figures and what the two colors stand for."""
    ink, faint = LIGHT.ink, LIGHT.faint
    figures = [
        f"clearance {show(issue.distance, 'diameter', system)}",
        f"required {show(issue.required, 'diameter', system)}" if issue.required else "",
        f"station {show(issue.station, 'length', system)} of run {issue.run}",
        issue.zone,
        "marked through what stands before it" if view.hidden else "",
    ]
    marks: list[Box | Text | Ring] = [
        Box((0.0, 0.0, size[0], _HEAD), LIGHT.card),
        Text((16.0, 20.0), _fitted(f"{issue.number}: {issue.title}", 17, size), 17, ink, True),
        Text((16.0, 44.0), _fitted(" · ".join(f for f in figures if f), 14, size), 14, faint),
    ]
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
