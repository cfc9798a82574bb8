"""Plan and profile as DXF: the run in real units in model space, its sheets as layouts.

Model space holds the centerline in all three dimensions (lines, and true arcs of any plane), with
bends, points and level dimensions as seen from above, and below it the profile as on the sheets,
developed along the plan. Each layout is one sheet in paper millimeters with a viewport on the plan
and one on the profile.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from route3d.drawing.dxf import (
    FEET_OR_METERS,
    Pen,
    draw_centerline,
    draw_mark,
    draw_text,
    new_drawing,
    new_layer,
    without_the_hour,
)
from route3d.drawing.labels import LabelRoom
from route3d.drawing.marks import Line
from route3d.drawing.plan_profile.course import Event, bend_middles
from route3d.drawing.plan_profile.flags import SHEET, Flag, place, place_anywhere, take_line
from route3d.drawing.plan_profile.layout import PlanView, turned
from route3d.drawing.plan_profile.linework import SMALL
from route3d.drawing.plan_profile.plan import (
    GHOST_DASH,
    GROUND_DASH,
    MATCH_DASH,
    STEEP,
    level_dimensions,
)
from route3d.drawing.plan_profile.setup import Setup, SheetSpan
from route3d.drawing.plan_profile.sheets import DrawingSheet
from route3d.drawing.text_width import text_width
from route3d.geometry.vectors import Floats
from route3d.units import convert, show

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace, Paperspace

# Layers with their line width in 1/100 mm; all in the color that is black on white.
_LAYERS = {
    "CENTERLINE": 70,
    "GRADE": 70,
    "BENDS": 25,
    "PULL-POINTS": 35,
    "STATIONS": 18,
    "DIMENSIONS": 18,
    "TEXT": 18,
    "GRID": 9,
    "MATCH-LINES": 35,
    "FRAME": 35,
}
# What a sheet says in its own letters is hidden where it looks into model space.
_HIDDEN = ("BENDS", "PULL-POINTS", "DIMENSIONS", "TEXT", "STATIONS")
_SEEN_THROUGH = ("CENTERLINE", "GRADE")
_DASHES = {MATCH_DASH: "MATCH_LINE", GHOST_DASH: "BEYOND", GROUND_DASH: "GROUND"}
_VIEWPORTS = "VIEWPORTS"
_STYLE = "DRAWING"
_PROFILE_GAP = 60.0  # paper mm between the plan and the profile below it in model space
_DIMENSION_OFFSET = 9.0  # mm
_AROUND = 150.0  # mm about the route where labels of model space may stand


@dataclass(frozen=True, slots=True)
class _Model:
    """One run in model space: drawing units in a meter, and the place of its profile."""

    scale: float
    letter: float
    left: float
    base: float


def drawing_dxf(sheets: Sequence[DrawingSheet]) -> str:
    """The sheets of one or more runs as one DXF text; the same sheets give the same text."""
    out = io.StringIO()
    with without_the_hour():
        doc = _new(sheets[0].setup.system)
        taken: set[str] = {"model", "layout1"}
        for _, group in groupby(sheets, key=lambda sheet: id(sheet.setup)):
            run = list(group)
            model = _model_space(doc, run[0].setup)
            for sheet in run:
                name = f"{run[0].setup.course.run.name} sheet {sheet.number}"
                layout = doc.layouts.new(new_layer(name, taken))
                _layout(doc, layout, sheet, model)
        doc.layouts.delete("Layout1")
        doc.write(out)
    return out.getvalue()


def _new(system: str) -> Drawing:
    doc = new_drawing(system)
    doc.header["$LWDISPLAY"] = 1
    for name, weight in _LAYERS.items():
        doc.layers.add(name, color=7, lineweight=weight)
    frame = doc.layers.add(_VIEWPORTS, color=7)
    frame.dxf.plot = 0
    doc.styles.add(_STYLE, font="arial.ttf")
    for dash, name in _DASHES.items():
        lengths = [float(part) * (-1) ** i for i, part in enumerate(dash.split())]
        doc.linetypes.add(name, [sum(map(abs, lengths)), *lengths])
    style = doc.dimstyles.new("PLAN")
    style.dxf.dimtxsty = _STYLE
    style.dxf.dimdsep = ord(".")
    style.dxf.dimdec = 1 if system == "US" else 2
    style.dxf.dimpost = f"<> {FEET_OR_METERS[system]}"
    style.dxf.dimtad, style.dxf.dimlwd, style.dxf.dimlwe = 0, 18, 18
    style.dxf.dimzin, style.dxf.dimtih, style.dxf.dimtoh = 0, 0, 0
    return doc


# --- model space -------------------------------------------------------------------------------


def _model_space(doc: Drawing, setup: Setup) -> _Model:
    """The run in real units; the place of its profile is told by what comes back."""
    scale, points = convert(1.0, "length", setup.system), setup.course.points
    letter = SMALL / setup.scale.mm * scale
    rise = float(np.ptp(points[:, 2])) * setup.exaggeration
    base = float(points[:, 1].min()) - rise - _PROFILE_GAP / setup.scale.mm
    model = _Model(scale, letter, float(points[:, 0].min()) * scale, base * scale)
    doc.header["$PDSIZE"] = letter
    space = doc.modelspace()
    draw_centerline(
        Pen(space, "CENTERLINE", "TEXT", scale, letter, setup.system), setup.course.path
    )
    _profile(space, setup, model)
    _flags(space, setup, model)
    return model


def _profile(space: Modelspace, setup: Setup, model: _Model) -> None:
    """Distance in plan against elevation, exact on straights."""
    course = setup.course
    heights = course.points[:, 2] - course.points[:, 2].min()
    x = model.left + course.level * model.scale
    y = model.base + heights * model.scale * setup.exaggeration
    points = _corners_only(np.column_stack((x, y)))
    space.add_lwpolyline(points.tolist(), dxfattribs={"layer": "GRADE"})
    words = f"PROFILE {course.run.name}: plan distance and elevation, vertical scale x "
    words += f"{setup.exaggeration}; base line at elevation "
    words += show(float(course.points[:, 2].min()), "length", setup.system)
    at = (model.left, model.base - 3 * model.letter)
    draw_text(space, words, at, model.letter, "TEXT", style=_STYLE)


def _corners_only(points: Floats) -> Floats:
    """Points without those on the straight between their neighbors."""
    before, after = points[1:-1] - points[:-2], points[2:] - points[1:-1]
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    size = np.hypot(*before.T) * np.hypot(*after.T)
    keep = np.concatenate(([True], np.abs(turn) > 1e-9 * np.maximum(size, 1e-300), [True]))
    return points[keep]


def _flags(space: Modelspace, setup: Setup, model: _Model) -> None:
    """Bends and points with their words, seen from above, placed as on a sheet without end."""
    course, mm = setup.course, setup.scale.mm
    view = PlanView(0.0, mm, (0.0, 0.0), (0.0, 0.0))
    line = view(course.points)
    (left, top), (right, bottom) = line.min(axis=0) - _AROUND, line.max(axis=0) + _AROUND
    room = LabelRoom((left, top, right, bottom), SHEET)
    take_line(room, line)
    _dimensions(space, setup, model, view, room)
    for event, spot in zip(course.marks, _spots(setup), strict=True):
        layer = "BENDS" if event.is_bend else "PULL-POINTS"
        space.add_point((spot * model.scale).tolist(), dxfattribs={"layer": layer})
        x, y = view(spot[None, :])[0].tolist()
        lines = tuple(_lines(event, setup.system))
        label = Flag(x, y, lines, event.mark, not event.is_bend, layer, near=1.2, reach=math.inf)
        for mark in place(label, room) or place_anywhere(label, room) or ():
            draw_mark(space, mark, 0.0, model.scale / mm, dashes=_DASHES, style=_STYLE)


def _spots(setup: Setup) -> Iterator[Floats]:
    """Where each bend (its middle) and point is, (3,) m."""
    path, middles = setup.course.path, bend_middles(setup.course.path)
    for event in setup.course.marks:
        yield path.point(middles[event.mark] if event.is_bend else event.station)


def _lines(event: Event, system: str) -> Iterator[str]:
    station = f"sta {show(event.station, 'length', system)}"
    if event.is_bend:
        radius, angle = show(event.radius, "radius", system), show(event.angle, "angle", system)
        yield f"R {radius}, {angle}"
        yield f"{station}, {event.lies}"
        return
    if event.name:
        yield event.name
    yield station
    yield from filter(None, (event.box, event.conduit))


def _dimensions(
    space: Modelspace, setup: Setup, model: _Model, view: PlanView, room: LabelRoom
) -> None:
    """Real dimensions of the level legs, between the points where the tangents meet."""
    points = [v.point for v in setup.course.run.route.vertices]
    for (a, b), length in level_dimensions(setup, SheetSpan(0.0, setup.course.path.length, 0.0)):
        if length < 4 * SMALL / setup.scale.mm:
            continue
        ends = view(np.array([points[a], points[b]]))
        _keep_off(room, ends, show(length, "length", setup.system))
        first, second = ((points[i][0] * model.scale, points[i][1] * model.scale) for i in (a, b))
        space.add_aligned_dim(
            p1=first,
            p2=second,
            distance=_DIMENSION_OFFSET / setup.scale.mm * model.scale,
            dimstyle="PLAN",
            override={
                "dimtxt": model.letter,
                "dimtsz": model.letter * 0.6,
                "dimexo": model.letter,
                "dimexe": model.letter * 0.6,
                "dimgap": model.letter * 0.4,
            },
            dxfattribs={"layer": "DIMENSIONS"},
        ).render()


def _keep_off(room: LabelRoom, ends: Floats, words: str) -> None:
    """Keep labels off a dimension beside a leg from one of the ends (2, 2) to the other."""
    way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    line = ends + _DIMENSION_OFFSET * np.array([way[1], -way[0]])
    for part in (line, np.array([ends[0], line[0]]), np.array([ends[1], line[1]])):
        take_line(room, part)
    x, y = line.mean(axis=0).tolist()
    half = text_width(words, SMALL) / 2 + 1.0  # turned any way
    room.take((x - half, y - half, x + half, y + half))


# --- layouts -----------------------------------------------------------------------------------


def _layout(doc: Drawing, layout: Paperspace, sheet: DrawingSheet, model: _Model) -> None:
    """One sheet: its marks in paper mm, and the two views into model space."""
    size = sheet.setup.layout
    layout.page_setup(size=(size.width, size.height), margins=(0, 0, 0, 0), units="mm")
    for mark in sheet.marks:
        if not (isinstance(mark, Line) and mark.layer in _SEEN_THROUGH):
            draw_mark(layout, mark, size.height, dashes=_DASHES, style=_STYLE)
    _plan_viewport(layout, sheet, model)
    _profile_viewport(layout, sheet, model)


def _plan_viewport(layout: Paperspace, sheet: DrawingSheet, model: _Model) -> None:
    """The plan at scale, turned as on the sheet."""
    view, (left, top, right, bottom) = sheet.plan, sheet.setup.layout.plan
    x, y = turned(np.array([[*view.focus]]) * model.scale, view.turn)
    _viewport(
        layout,
        sheet,
        (left, top, right, bottom),
        (float(x[0]), float(y[0])),
        model,
        turn=view.turn,
        other="GRADE",
    )


def _profile_viewport(layout: Paperspace, sheet: DrawingSheet, model: _Model) -> None:
    """The stretch of the profile, no more."""
    view, (left, top, right, bottom) = sheet.profile, _profile_box(sheet)
    lowest = float(sheet.setup.course.points[:, 2].min())
    box = (left, top, right, bottom)
    along = view.start + ((left + right) / 2 - view.left) / view.mm
    up = (view.low - lowest) * view.exaggeration + (view.bottom - (top + bottom) / 2) / view.mm
    center = (model.left + along * model.scale, model.base + up * model.scale)
    _viewport(layout, sheet, box, center, model, turn=0.0, other="CENTERLINE")


def _profile_box(sheet: DrawingSheet) -> tuple[float, float, float, float]:
    """The room of the line in the profile; half a millimeter more leaves its ends whole.

    Where the run is cut in a riser, the box ends at the cut.
    """
    view, stretch, path = sheet.profile, sheet.stretch, sheet.setup.course.path
    _, top, _, bottom = sheet.setup.layout.profile
    for station, beyond in ((stretch.start, -1.0), (stretch.end, 1.0)):
        tangent = path.tangent(station)
        if 0 < station < path.length and math.hypot(tangent[0], tangent[1]) < STEEP:
            y = view.y(float(path.point(station)[2]))
            if tangent[2] * beyond > 0:
                top = y - 0.4
            else:
                bottom = y + 0.4
    return (view.x(stretch.start) - 0.4, top, view.x(stretch.end) + 0.4, bottom)


def _viewport(
    layout: Paperspace,
    sheet: DrawingSheet,
    box: tuple[float, float, float, float],
    center: tuple[float, float],
    model: _Model,
    *,
    turn: float,
    other: str,
) -> None:
    """A view into model space; ``other`` is the layer of the line that the other view shows."""
    left, top, right, bottom = box
    height = sheet.setup.layout.height
    viewport = layout.add_viewport(
        center=((left + right) / 2, height - (top + bottom) / 2),
        size=(right - left, bottom - top),
        view_center_point=center,
        view_height=(bottom - top) / sheet.setup.scale.mm * model.scale,
        status=2,
    )
    viewport.dxf.layer = _VIEWPORTS
    viewport.dxf.view_twist_angle = math.degrees(turn)
    viewport.frozen_layers = [*_HIDDEN, other]
