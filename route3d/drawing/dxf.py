"""Marks and centerlines as DXF, by ezdxf: real units in model space, paper mm in layouts."""

from __future__ import annotations

import importlib
import math
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from route3d.drawing.marks import Align, Line, Mark, Point, Points, Ring, Shape, Text
from route3d.geometry.path import ARC, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.units import system_of

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace, Paperspace

FEET_OR_METERS = {"US": "ft", "SI": "m"}
_INSUNITS = {"ft": 2, "m": 6, "us-ft": 21}  # DXF reference, HEADER section; 21 from memory
_WEIGHTS = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)  # DXF reference
BOLD = "-BOLD"  # behind the name of a text style
_HATCH = 2.2  # between the lines of the hatching, mm
_NO_LAYER_NAME = re.compile(r'[<>/\\":;?*|=`\x00-\x1f\x7f]')  # DXF reference, LAYER, group 2


@dataclass(frozen=True, slots=True)
class Pen:
    """Where one run is drawn: its layers, and the drawing's units in a meter and letter height.

    ``shift`` m is what its coordinates are moved by.
    """

    space: Modelspace
    layer: str
    labels: str
    scale: float
    letter: float
    unit: str
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)

    @property
    def system(self) -> str:
        """The system of units of its labels."""
        return system_of(self.unit)


def new_drawing(unit: str) -> Drawing:
    """An empty drawing in the ``unit``, m or feet."""
    from ezdxf.filemanagement import new

    doc = new("R2013")
    doc.header["$INSUNITS"] = _INSUNITS[unit]
    doc.header["$MEASUREMENT"] = 1 if unit == "m" else 0
    doc.header["$PDMODE"] = 34  # points show as a circle with a cross
    return doc


@contextmanager
def without_the_hour() -> Iterator[None]:
    """No time of writing and no random identities in the file: the same routes, the same bytes."""
    options = importlib.import_module("ezdxf").options
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def new_layer(name: str, taken: set[str]) -> str:
    """A name DXF allows for a layer, not yet taken (capital letters make no difference there)."""
    base = _NO_LAYER_NAME.sub("_", name).strip()[:200] or "run"
    layer, number = base, 1
    while layer.casefold() in taken:
        number += 1
        layer = f"{base} {number}"
    taken.add(layer.casefold())
    return layer


def plain_text(text: str) -> str:
    """Text on one line; %% and ^ start codes in DXF, so a space keeps them apart."""
    return " ".join(text.split()).replace("%%", "% %").replace("^", "^ ")


def vector(point: Floats) -> tuple[float, float, float]:
    """A point (3,) as ezdxf takes it."""
    x, y, z = point.tolist()
    return x, y, z


# --- marks -------------------------------------------------------------------------------------


def draw_mark(
    space: Modelspace | Paperspace,
    mark: Mark,
    height: float,
    unit: float = 1.0,
    *,
    dashes: Mapping[str, str],
    style: str,
    left: float = 0.0,
    dash_scale: float = 1.0,
    layers: Mapping[str, str] | None = None,
) -> None:
    """A mark on paper ``height`` mm high; ``unit`` is a paper mm in the space.

    ``dashes`` are the names of line types, ``style`` that of the letters; the edge of the paper is
    ``left`` mm from the origin. ``dash_scale`` is that of the line types. With ``layers``, the
    names of layers in the drawing, a mark has color, width and line type of its layer.
    """
    assert isinstance(mark, Text | Line | Ring | Shape)
    if layers is not None:
        mark = replace(mark, layer=layers[mark.layer])

    def at(x: float, y: float) -> Point:
        return unit * (left + x), unit * (height - y)

    if isinstance(mark, Text):
        turn = 90.0 if mark.upright else 0.0
        size = unit * mark.height
        named = f"{style}{BOLD}" if mark.bold and layers is not None else style
        draw_text(space, mark.text, at(*mark.at), size, mark.layer, mark.align, turn, style=named)
        return
    look: dict[str, object] = {"layer": mark.layer}
    if layers is None:
        look["lineweight"] = min(_WEIGHTS, key=lambda w: abs(w - 100 * mark.width))
    if isinstance(mark, Shape):
        loops = [[at(x, y) for x, y in np.asarray(loop).tolist()] for loop in _loops(mark)]
        _draw_area(space, loops, mark, unit, look)
        return
    if isinstance(mark, Ring):
        space.add_circle(at(*mark.at), unit * mark.radius, dxfattribs=look)
        return
    if mark.dash and layers is None:
        look |= {"linetype": dashes[mark.dash], "ltscale": dash_scale}
    space.add_lwpolyline([at(x, y) for x, y in np.asarray(mark.points).tolist()], dxfattribs=look)


def _loops(mark: Shape) -> tuple[Points, ...]:
    return (mark.points, *mark.holes)


def _draw_area(
    space: Modelspace | Paperspace,
    loops: list[list[Point]],
    mark: Shape,
    unit: float,
    look: dict[str, object],
) -> None:
    """Its outlines closed, and its fill: slanted lines, black, or none where it is white."""
    # what is left free inside the hatching, such as words, has no outline of its own
    for loop in loops if mark.edge else loops[:1] if mark.fill == "nobody" else ():
        space.add_lwpolyline(loop, close=True, dxfattribs=look)
    if mark.fill in ("", "#ffffff"):
        return
    hatch = space.add_hatch(color=256, dxfattribs={"layer": mark.layer})
    if mark.fill == "nobody":
        step = unit * _HATCH * math.sqrt(0.5)
        lines: list[list[object]] = [[45.0, (0.0, 0.0), (-step, step), []]]
        hatch.set_pattern_fill("NOBODY", definition=lines)
    for i, loop in enumerate(loops):
        hatch.paths.add_polyline_path(loop, is_closed=True, flags=1 if i == 0 else 16)


def draw_text(
    space: Modelspace | Paperspace,
    words: str,
    at: Point,
    height: float,
    layer: str,
    align: Align = "left",
    rotation: float = 0.0,
    *,
    style: str,
) -> None:
    """Words whose capitals are ``height`` high."""
    from ezdxf.enums import TextEntityAlignment

    anchor = {
        "left": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "right": TextEntityAlignment.RIGHT,
    }[align]
    look = {"layer": layer, "style": style, "rotation": rotation}
    space.add_text(plain_text(words), height=height, dxfattribs=look).set_placement(
        at, align=anchor
    )


# --- centerlines -------------------------------------------------------------------------------


def draw_centerline(pen: Pen, line: Path) -> None:
    """Each straight as a LINE and each bend as an ARC in its own plane."""
    shift = np.array(pen.shift)
    for i in range(len(line)):
        if line.kind[i] == STRAIGHT:
            start = vector((line.starts[i] + shift) * pen.scale)
            end = vector((line.ends[i] + shift) * pen.scale)
            pen.space.add_line(start, end, dxfattribs={"layer": pen.layer})
        elif line.kind[i] == ARC:
            _arc(pen, line, i)


def _arc(pen: Pen, line: Path, i: int) -> None:
    """An arc of any plane: drawn against the clock about its axis, the extrusion direction."""
    from ezdxf.math import OCS

    radius = float(line.radii[i])
    center = line.starts[i] + radius * line.normals[i]
    ocs = OCS(vector(np.cross(line.tangents[i], line.normals[i])))
    spokes = [ocs.from_wcs(vector(end - center)) for end in (line.starts[i], line.ends[i])]
    first, last = (math.degrees(math.atan2(spoke[1], spoke[0])) for spoke in spokes)
    pen.space.add_arc(
        ocs.from_wcs(vector((center + np.array(pen.shift)) * pen.scale)),
        radius * pen.scale,
        first,
        last,
        dxfattribs={"layer": pen.layer, "extrusion": ocs.uz},
    )
