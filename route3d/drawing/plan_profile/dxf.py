"""Plan and profile as DXF: the run in real units in model space, its sheets as layouts.

Model space holds the centerline in all three dimensions (lines, and true arcs of any plane), with
bends, points and level dimensions as seen from above, and below it the profile as on the sheets,
developed along the plan. Each layout is one sheet in paper millimeters with a viewport on the plan
and one on the profile.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from route3d.drawing.dxf import (
    BOLD,
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
from route3d.drawing.layers import LAYERS, LINE_TYPES, VIEWPORTS
from route3d.drawing.marks import Line, Mark, Shape, spaced, stretches
from route3d.drawing.plan_profile.course import Event, bend_middles
from route3d.drawing.plan_profile.flags import (
    SHEET,
    Flag,
    place,
    place_alone,
    take_line,
    take_other,
)
from route3d.drawing.plan_profile.frame import label_of
from route3d.drawing.plan_profile.layout import PlanView, turned
from route3d.drawing.plan_profile.linework import SMALL
from route3d.drawing.plan_profile.plan import NORTH, north_arrow
from route3d.drawing.plan_profile.profile import profile_window
from route3d.drawing.plan_profile.setup import Setup
from route3d.drawing.plan_profile.sheets import DrawingSheet, Sheet
from route3d.drawing.plan_profile.surroundings import Piece
from route3d.drawing.text_width import text_width
from route3d.geometry.vectors import Floats
from route3d.units import convert, show, unit_label

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities.viewport import Viewport
    from ezdxf.layouts.layout import Modelspace, Paperspace

# The marks of these layers a sheet sees in model space, each through the viewport of its view.
_SEEN = {view: [k for k, v in LAYERS.items() if v.seen == view] for view in ("plan", "profile")}
# What a sheet says in its own letters is hidden where it looks into model space.
_HIDDEN = ("BENDS", "PULL-POINTS", "DIMENSIONS", "TEXT", "STATIONS", "NAMES", "FRAME")
_NAMES = {key: layer.name for key, layer in LAYERS.items()}
_STYLE = "DRAWING"
_PROFILE_GAP = 60.0  # paper mm between the plan and the profile below it in model space
_DIMENSION_OFFSET = 9.0  # mm
_ALONG = 1.5  # between places along a route that labels of model space keep off, mm
_MOST_PIECES = 40  # of buildings whose edges labels of model space keep off
_CLIP = 0.6  # to both sides of the centerline, mm
_AROUND = 150.0  # mm about the route where labels of model space may stand


@dataclass(frozen=True, slots=True)
class _Model:
    """One run in model space: drawing units in a meter, and the place of its profile.

    ``shift`` (3,) m is what the grid adds to coordinates of the model.
    """

    scale: float
    letter: float
    left: float
    base: float
    shift: Floats


def drawing_dxf(sheets: Sequence[Sheet]) -> str:
    """The sheets of one or more runs as one DXF text; the same sheets give the same text."""
    out = io.StringIO()
    with without_the_hour():
        doc = _new(_first(sheets).setup.system)
        taken: set[str] = {"model", "layout1"}
        models: dict[str, _Model] = {}
        for sheet in sheets:
            layout = doc.layouts.new(new_layer(sheet.name, taken))
            if isinstance(sheet, DrawingSheet):
                run = sheet.setup.course.run.name + str(id(sheet.setup.course))
                if run not in models:
                    last = next(reversed(models.values()), None)
                    models[run] = _model_space(doc, sheet.setup, last)
                _layout(doc, layout, sheet, models[run])
            else:
                _page(layout, sheet)
                _draw(layout, sheet.marks, sheet.layout.height)
        doc.layouts.delete("Layout1")
        doc.write(out)
    return out.getvalue()


def _first(sheets: Sequence[Sheet]) -> DrawingSheet:
    return next(sheet for sheet in sheets if isinstance(sheet, DrawingSheet))


def _new(system: str) -> Drawing:
    doc = new_drawing(unit_label("length", system))
    doc.header["$LWDISPLAY"] = 1
    doc.header["$PSLTSCALE"] = 1  # dashes in a viewport are those of the paper
    for name, dash in LINE_TYPES.items():
        if dash:
            lengths = [float(part) * (-1) ** i for i, part in enumerate(dash.split())]
            doc.linetypes.add(name, [sum(map(abs, lengths)), *lengths])
    for layer in LAYERS.values():
        made = doc.layers.add(
            layer.name,
            color=layer.color,
            lineweight=round(100 * layer.pen.width),
            linetype=layer.line_type if layer.dash else "Continuous",
        )
        made.description = layer.holds
    frame = doc.layers.add(VIEWPORTS, color=8)
    frame.dxf.plot = 0
    doc.styles.add(_STYLE, font="arial.ttf")
    doc.styles.add(f"{_STYLE}{BOLD}", font="arialbd.ttf")
    style = doc.dimstyles.new("PLAN")
    style.dxf.dimtxsty = _STYLE
    style.dxf.dimdsep = ord(".")
    style.dxf.dimdec = 1 if system == "US" else 2
    style.dxf.dimpost = f"<> {FEET_OR_METERS[system]}"
    style.dxf.dimtad, style.dxf.dimlwd, style.dxf.dimlwe = 0, 18, 18
    style.dxf.dimzin, style.dxf.dimtih, style.dxf.dimtoh = 0, 0, 0
    return doc


# --- model space -------------------------------------------------------------------------------


def _model_space(doc: Drawing, setup: Setup, before: _Model | None) -> _Model:
    """The run in real units on its grid; the place of its profile is told by what comes back.

    That of the run ``before`` stands above it, out of what its sheets see. The first run brings
    what all share, such as buildings.
    """
    scale, points = convert(1.0, "length", setup.system), setup.course.points
    shift = np.array(setup.job.site.frame.shift)
    letter = SMALL / setup.scale.mm * scale
    rise = float(np.ptp(points[:, 2])) * setup.exaggeration
    base = float(points[:, 1].min() + shift[1]) - rise - _PROFILE_GAP / setup.scale.mm
    if before is not None:
        box = setup.layout.profile
        high = rise + (box[3] - box[1] + _PROFILE_GAP) / setup.scale.mm
        base = min(base, before.base / scale - high)
    left = float(points[:, 0].min() + shift[0])
    model = _Model(scale, letter, left * scale, base * scale, shift)
    doc.header["$PDSIZE"] = letter
    space = doc.modelspace()
    for piece in setup.pieces.plan:
        if before is None or piece.layer in ("BOXES", "OTHER-RUNS"):
            _piece(space, piece, (piece.points + shift[:2]) * scale, [
                (hole + shift[:2]) * scale for hole in piece.loops
            ])  # fmt: skip
    pen = Pen(space, _NAMES["CENTERLINE"], _NAMES["TEXT"], scale, letter,
              unit_label("length", setup.system), setup.job.site.frame.shift)  # fmt: skip
    draw_centerline(pen, setup.course.path)
    _profile(space, setup, model)
    _flags(space, setup, model, first=before is None)
    return model


def _piece(space: Modelspace, piece: Piece, points: Floats, holes: Sequence[Floats]) -> None:
    """A line of what stands around, and its area where it is filled."""
    if piece.filled:
        look = {"layer": _NAMES[f"{piece.layer}-FILL"]}
        hatch = space.add_hatch(color=256, dxfattribs=look)
        for i, loop in enumerate((points, *holes)):
            hatch.paths.add_polyline_path(loop.tolist(), is_closed=True, flags=16 if i else 1)
    for loop in (points, *holes):
        line = space.add_lwpolyline(loop.tolist(), dxfattribs={"layer": _NAMES[piece.layer]})
        if piece.closed and len(loop) > 2 and np.allclose(loop[0], loop[-1]):
            line.closed = True


def _developed(setup: Setup, model: _Model, level: Floats, heights: Floats) -> Floats:
    """Distances gone in plan and elevations (k,) m in model space, (k, 2)."""
    lowest = float(setup.course.points[:, 2].min())
    x = model.left + level * model.scale
    y = model.base + (heights - lowest) * model.scale * setup.exaggeration
    return np.column_stack((x, y))


def _profile(space: Modelspace, setup: Setup, model: _Model) -> None:
    """Distance in plan against elevation, exact on straights."""
    course = setup.course
    for piece in setup.pieces.profile:
        known = np.isfinite(piece.points[:, 1])
        for rows in stretches(known):
            if rows.stop - rows.start > 1:
                part = _developed(setup, model, *piece.points[rows].T)
                _piece(space, piece, _corners_only(part), ())
    points = _corners_only(_developed(setup, model, course.level, course.points[:, 2]))
    space.add_lwpolyline(points.tolist(), dxfattribs={"layer": _NAMES["PROFILE"]})
    words = f"PROFILE {course.run.name}: plan distance and elevation, vertical scale x "
    words += f"{setup.exaggeration}; base line at elevation "
    words += show(float(course.points[:, 2].min() + model.shift[2]), "length", setup.system)
    at = (model.left, model.base - 3 * model.letter)
    draw_text(space, words, at, model.letter, _NAMES["TEXT"], style=_STYLE)


def _corners_only(points: Floats) -> Floats:
    """Points without those on the straight between their neighbors."""
    before, after = points[1:-1] - points[:-2], points[2:] - points[1:-1]
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    size = np.hypot(*before.T) * np.hypot(*after.T)
    keep = np.concatenate(([True], np.abs(turn) > 1e-9 * np.maximum(size, 1e-300), [True]))
    return points[keep]


def _flags(space: Modelspace, setup: Setup, model: _Model, *, first: bool) -> None:
    """Bends and points with their words, seen from above, placed as on a sheet without end.

    With the ``first`` run come north and the names of what stands around.
    """
    course, mm = setup.course, setup.scale.mm
    view = PlanView(0.0, mm, (0.0, 0.0), (0.0, 0.0))
    line = view(course.points + model.shift)
    (left, top), (right, bottom) = line.min(axis=0) - _AROUND, line.max(axis=0) + _AROUND
    room = LabelRoom((left, top, right, bottom), SHEET)
    room.take_line(line, _ALONG)
    pieces = setup.pieces.plan
    for piece in pieces:
        if piece.layer != "CONTEXT" or len(pieces) <= _MOST_PIECES:
            for loop in (piece.points, *piece.loops):
                take_other(room, view(loop + model.shift[:2]))
    _dimensions(space, setup, model, view, room)
    for event, spot in zip(course.marks, _spots(setup), strict=True):
        layer = "BENDS" if event.is_bend else "PULL-POINTS"
        place_ = ((spot + model.shift) * model.scale).tolist()
        space.add_point(place_, dxfattribs={"layer": _NAMES[layer]})
        x, y = view((spot + model.shift)[None, :])[0].tolist()
        lines = tuple(_lines(event, setup.system))
        name = label_of(setup.course.run, event)
        label = Flag(x, y, lines, name, not event.is_bend, layer, near=1.2, reach=math.inf)
        _draw_flat(space, place(label, room) or place_alone(label, room) or (), setup, model)
    own = Piece("CENTERLINE", course.points[:, :2], closed=False, name=f"run {course.run.name}")
    for piece in (own, *pieces) if first else (own,):
        if piece.name:
            spots = spaced(view(piece.points + model.shift[:2]), _ALONG)
            inside = spots[((spots > (left, top)) & (spots < (right, bottom))).all(axis=1)]
            for x, y in inside[:: max(len(inside) // 4, 1)].tolist():
                named = Flag(x, y, (piece.name,), layer="NAMES", first=1.5, near=0.0)
                if placed := place(named, room):
                    _draw_flat(space, placed, setup, model)
                    break
    if first:
        corner = (right - 2 * NORTH, top, right, top + 2 * NORTH)
        _draw_flat(space, north_arrow(corner, 0.0, setup.job.site.frame.north), setup, model)


def _draw_flat(space: Modelspace, marks: Iterable[Mark], setup: Setup, model: _Model) -> None:
    """Marks in mm of the sheet, seen from above."""
    unit = model.scale / setup.scale.mm
    for mark in marks:
        draw_mark(space, mark, 0.0, unit, dashes={}, style=_STYLE, layers=_NAMES)


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
    for leg in setup.course.legs:
        if not leg.in_plan:
            continue
        turned_by = np.round((leg.b - leg.a)[:2], 6).tolist() < [0.0, 0.0]  # read from the right
        ends = np.array([leg.b, leg.a] if turned_by else [leg.a, leg.b]) + model.shift
        _keep_off(room, view(ends), show(leg.level, "length", setup.system))
        first, second = (tuple(row) for row in (ends[:, :2] * model.scale).tolist())
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
            dxfattribs={"layer": _NAMES["DIMENSIONS"]},
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


def _page(layout: Paperspace, sheet: Sheet) -> None:
    size = sheet.layout
    layout.page_setup(size=(size.width, size.height), margins=(0, 0, 0, 0), units="mm")


def _draw(layout: Paperspace, marks: Iterable[Mark], height: float) -> None:
    for mark in marks:
        draw_mark(layout, mark, height, dashes={}, style=_STYLE, layers=_NAMES)


def _layout(doc: Drawing, layout: Paperspace, sheet: DrawingSheet, model: _Model) -> None:
    """One sheet: its marks in paper mm, and the two views into model space."""
    _page(layout, sheet)
    seen = {*_SEEN["plan"], *_SEEN["profile"]}
    own = (m for m in sheet.marks if not isinstance(m, Line | Shape) or m.layer not in seen)
    _draw(layout, own, sheet.layout.height)
    _plan_viewport(layout, sheet, model)
    _profile_viewport(layout, sheet, model)


def _plan_viewport(layout: Paperspace, sheet: DrawingSheet, model: _Model) -> None:
    """The plan at scale, turned as on the sheet."""
    view, (left, top, right, bottom) = sheet.plan, sheet.setup.layout.plan
    focus = (np.array([[*view.focus]]) + model.shift[:2]) * model.scale
    x, y = turned(focus, view.turn)
    at, box = (float(x[0]), float(y[0])), (left, top, right, bottom)
    hidden = [*_HIDDEN, *_SEEN["profile"]]
    several = len(sheet.setup.stretches) > 1
    if several:  # beyond its match lines the sheet has the run dashed, on paper
        hidden.append("CENTERLINE")
    _viewport(layout, sheet, box, at, model, turn=view.turn, hidden=hidden)
    if several:
        own = [key for key in LAYERS if key != "CENTERLINE"]
        whole = _viewport(layout, sheet, box, at, model, turn=view.turn, hidden=own)
        _clip(layout, sheet, whole)


def _clip(layout: Paperspace, sheet: DrawingSheet, viewport: Viewport) -> None:
    """A viewport that shows no more than the stretch of its sheet, and what is a line's width off.

    DXF reference: VIEWPORT has bit 0x10000 of group 90, and the clipping boundary by group 340.
    """
    import shapely

    course, stretch = sheet.setup.course, sheet.stretch
    line = sheet.plan(course.path.point(course.between(stretch.start, stretch.end)))
    line = line[np.concatenate(([True], np.hypot(*np.diff(line, axis=0).T) > 1e-9))]
    if len(line) < 2:
        line = np.array([line[0], line[0] + (0.01, 0.0)])
    around = shapely.buffer(
        shapely.LineString(line), _CLIP, quad_segs=2, cap_style="flat", join_style="bevel"
    )
    height = sheet.layout.height
    edge = np.asarray(shapely.get_parts(around)[0].exterior.coords)[:-1]
    corners = [(x, height - y) for x, y in edge.tolist()]
    boundary = layout.add_lwpolyline(corners, close=True, dxfattribs={"layer": VIEWPORTS})
    viewport.dxf.flags |= 0x10000
    viewport.dxf.clipping_boundary_handle = boundary.dxf.handle


def _profile_viewport(layout: Paperspace, sheet: DrawingSheet, model: _Model) -> None:
    """The stretch of the profile, no more."""
    view, (left, top, right, bottom) = (
        sheet.profile,
        profile_window(sheet.setup, sheet.stretch, sheet.profile),
    )
    lowest = float(sheet.setup.course.points[:, 2].min())
    box = (left, top, right, bottom)
    along = view.start + ((left + right) / 2 - view.left) / view.mm
    up = (view.low - lowest) * view.exaggeration + (view.bottom - (top + bottom) / 2) / view.mm
    center = (model.left + along * model.scale, model.base + up * model.scale)
    _viewport(layout, sheet, box, center, model, turn=0.0, hidden=[*_HIDDEN, *_SEEN["plan"]])


def _viewport(
    layout: Paperspace,
    sheet: DrawingSheet,
    box: tuple[float, float, float, float],
    center: tuple[float, float],
    model: _Model,
    *,
    turn: float,
    hidden: Sequence[str],
) -> Viewport:
    """A view into model space that does not show the ``hidden`` layers."""
    left, top, right, bottom = box
    height = sheet.setup.layout.height
    viewport = layout.add_viewport(
        center=((left + right) / 2, height - (top + bottom) / 2),
        size=(right - left, bottom - top),
        view_center_point=center,
        view_height=(bottom - top) / sheet.setup.scale.mm * model.scale,
        status=2,
    )
    viewport.dxf.layer = VIEWPORTS
    viewport.dxf.view_twist_angle = math.degrees(turn)
    viewport.frozen_layers = [_NAMES[key] for key in hidden]
    return viewport
