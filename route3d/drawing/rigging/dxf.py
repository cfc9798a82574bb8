"""The rigging drawing as DXF: both views in feet or meters in model space, sheets as layouts.

In model space the conduit end in plan is the origin and the side view stands below the plan, as on
the sheet; a drawing of several ends has them one below the other. What is hatched is a HATCH with a
closed outline on a layer of its own. Each layout is a sheet in paper millimeters with a viewport on
its two views.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from route3d.drawing.dxf import draw_mark, new_drawing, new_layer, without_the_hour
from route3d.drawing.marks import Text
from route3d.drawing.plan_profile.plan import GHOST_DASH
from route3d.drawing.rigging.sheet import RiggingSheet
from route3d.drawing.rigging.views import LAYERS, LINE_OF_PULL
from route3d.units import convert, unit_label

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

_OUTER = {"FRAME": 35, "TEXT": 18, "DRAFT": 18}
_VIEWPORTS = "Viewports"
_STYLE = "DRAWING"
_DASHES = {GHOST_DASH: "NOT_GIVEN", LINE_OF_PULL: "LINE_OF_PULL"}
_APART = 40.0  # paper mm between two ends in model space


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a sheet stands in model space: drawing units in a mm, its left top corner."""

    unit: float
    left: float
    top: float


def rigging_dxf(sheets: Sequence[RiggingSheet]) -> str:
    """The sheets as one DXF text; the same sheets give the same text."""
    out = io.StringIO()
    with without_the_hour():
        doc = _new(sheets[0].system)
        space = doc.modelspace()
        taken: set[str] = {"model", "layout1"}
        down = 0.0
        for i, sheet in enumerate(sheets):
            place = _model(space, sheet, down if i else None)
            _layout(doc, sheet, place, taken)
            down = place.top - place.unit * (sheet.side.box[3] + _APART)
        doc.layouts.delete("Layout1")
        doc.write(out)
    return out.getvalue()


def _new(system: str) -> Drawing:
    doc = new_drawing(unit_label("length", system))
    doc.header["$LWDISPLAY"] = 1
    doc.header["$PSLTSCALE"] = 0  # dashes in a viewport are those of model space, scaled
    for name, weight in {**LAYERS, **_OUTER}.items():
        doc.layers.add(name, color=7, lineweight=weight)
    doc.layers.add(_VIEWPORTS, color=7).dxf.plot = 0
    doc.styles.add(_STYLE, font="arial.ttf")
    for dash, name in _DASHES.items():
        lengths = [float(part) * (-1) ** i for i, part in enumerate(dash.split())]
        doc.linetypes.add(name, [sum(map(abs, lengths)), *lengths])
    return doc


def _model(space: Modelspace, sheet: RiggingSheet, down: float | None) -> _Place:
    """The views to true size: that of the first sheet has its conduit end at the origin."""
    unit = convert(1.0, "length", sheet.system) / sheet.scale.mm
    x, y = sheet.plan.origin
    top = unit * y if down is None else down + unit * sheet.plan.box[1]
    place = _Place(unit, -unit * x, top)
    for mark in sheet.views:
        if not (isinstance(mark, Text) and mark.layer == "DRAFT"):
            draw_mark(
                space,
                mark,
                place.top / unit,
                unit,
                dashes=_DASHES,
                style=_STYLE,
                left=place.left / unit,
                dash_scale=unit,
            )
    return place


def _layout(doc: Drawing, sheet: RiggingSheet, place: _Place, taken: set[str]) -> None:
    stage = sheet.layout.plan.place
    name = f"{sheet.layout.plan.result.run.name} {sheet.layout.end} end"
    if stage is not None:
        name = f"{stage.whole.name} stage {stage.index} {sheet.layout.end} end"
    layout = doc.layouts.new(new_layer(name, taken))
    wide, high = sheet.size
    layout.page_setup(size=(round(wide, 1), round(high, 1)), margins=(0, 0, 0, 0), units="mm")
    draft = [m for m in sheet.views if isinstance(m, Text) and m.layer == "DRAFT"]
    for mark in (*draft, *sheet.outer):
        draw_mark(layout, mark, high, dashes=_DASHES, style=_STYLE)
    left, top, right, _ = sheet.plan.box
    bottom = sheet.side.box[3]
    middle = ((left + right) / 2, (top + bottom) / 2)
    center = (place.left + place.unit * middle[0], place.top - place.unit * middle[1])
    viewport = layout.add_viewport(
        center=(middle[0], high - middle[1]),
        size=(right - left, bottom - top),
        view_center_point=center,
        view_height=(bottom - top) * place.unit,
        status=2,
    )
    viewport.dxf.layer = _VIEWPORTS
