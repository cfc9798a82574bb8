"""Routes as a DXF drawing: lines and true arcs, a layer for each run, labels and pull points."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

import numpy as np

from route3d.disk import write_text_atomic
from route3d.drawing.dxf import (
    Pen,
    draw_centerline,
    new_drawing,
    new_layer,
    plain_text,
    vector,
    without_the_hour,
)
from route3d.formats.dxf.entities import APP
from route3d.formats.exchange import ExchangeRoute
from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats
from route3d.model.site import GRID, Frame
from route3d.units import METERS, show, system_of

if TYPE_CHECKING:
    from ezdxf.document import Drawing

# Letters as high as this part of the drawing, so that a whole job can be read on one sheet.
_LETTER = 1 / 150
_COLORS = (1, 5, 3, 6, 30, 4, 8)  # color numbers that show on white and on black


def write_dxf(
    routes: Sequence[ExchangeRoute], path: FilePath, unit: str, frame: Frame = GRID
) -> None:
    """Write the centerlines as LINE and ARC (of any plane) in the ``unit``, a key of ``METERS``.

    Each run has a layer of its name, and one of labels beside it: bends with their number, angle,
    radius and stations, named points, pull points. The names travel along as extended data, so
    that ``read_dxf`` finds them again. Raises InputError where a route has no path or the file
    cannot be written.
    """
    write_text_atomic(path, dxf_text(routes, unit))


def dxf_text(routes: Sequence[ExchangeRoute], unit: str) -> str:
    """The text of that drawing; the same routes give the same text."""
    out = io.StringIO()
    with without_the_hour():
        _drawing(routes, unit).write(out)
    return out.getvalue()


def _drawing(routes: Sequence[ExchangeRoute], unit: str) -> Drawing:
    doc, scale = new_drawing(unit), 1 / METERS[unit]
    doc.appids.add(APP)
    letter = _letter_height(routes) * scale
    doc.header["$PDSIZE"] = letter
    sheet = _Labels(letter / scale)
    lines = [route.path() for route in routes]
    layers: list[str] = []
    taken = {layer.dxf.name.casefold() for layer in doc.layers}  # 0 and Defpoints are always there
    for index, route in enumerate(routes):
        layer = new_layer(route.name, taken)
        labels = new_layer(f"{route.name} labels", taken)
        _add_layers(doc, route, layer, labels, _COLORS[index % len(_COLORS)])
        pen = Pen(doc.modelspace(), layer, labels, scale, letter, unit)
        draw_centerline(pen, lines[index])
        _points(pen, route)
        layers.append(labels)
    for label in sheet.placed(routes, lines, system_of(unit)):
        pen = Pen(doc.modelspace(), "", layers[label.run], scale, letter, unit)
        _write(pen, label.rows, label.at)
    return doc


def labels_left_out(routes: Sequence[ExchangeRoute], unit: str) -> int:
    """How many labels of bends a drawing of these routes has no room for."""
    sheet = _Labels(_letter_height(routes))
    sheet.placed(routes, [route.path() for route in routes], system_of(unit))
    return sheet.left_out


def _letter_height(routes: Sequence[ExchangeRoute]) -> float:
    """Height of letters, m: so that the drawing, about as large as its routes, can be read."""
    every = np.vstack([route.points for route in routes])
    return max(float(np.ptp(every, axis=0).max()) * _LETTER, 0.05)


def _add_layers(doc: Drawing, route: ExchangeRoute, layer: str, labels: str, color: int) -> None:
    line = doc.layers.add(layer, color=color)
    doc.layers.add(labels, color=color)
    facts: list[tuple[int, object]] = [
        (1000, "run"),
        (1000, _xdata(route.name)),
        (1000, _xdata(route.conduit)),
    ]
    if route.outer_diameter is not None:
        facts.append((1040, route.outer_diameter))
    line.set_xdata(APP, facts)


def _xdata(text: str) -> str:
    """Text as extended data holds it: one line of at most 255 bytes (DXF reference)."""
    return " ".join(text.split()).encode()[:255].decode(errors="ignore")


# --- what is drawn -----------------------------------------------------------------------------


def _points(pen: Pen, route: ExchangeRoute) -> None:
    """A point at every vertex of which there is something to tell."""
    for i in route.told:
        point = pen.space.add_point(
            vector(route.points[i] * pen.scale), dxfattribs={"layer": pen.labels}
        )
        access = " ".join(sorted(route.access[i]))
        texts = ("vertex", route.name, route.names[i], access, route.changes[i])
        sizes = [(1040, size) for size in route.boxes[i] or ()]
        point.set_xdata(APP, [*((1000, _xdata(text)) for text in texts), *sizes])


# --- labels ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Label:
    """Rows of text that start at a place (3,) m, of the run of this number."""

    run: int
    rows: tuple[str, ...]
    at: Floats


@dataclass(slots=True)
class _Labels:
    """The labels of a drawing, seen in plan: none on another, with letters ``letter`` m high.

    A label without room moves up or down by its own height. Those of bends that have no room there
    either are ``left_out``; those of points stay.
    """

    letter: float
    left_out: int = 0
    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)

    def placed(
        self, routes: Sequence[ExchangeRoute], lines: Sequence[Path], system: str
    ) -> list[_Label]:
        """The labels of the points of all routes, then those of the bends that have room."""
        result = []
        for number, (route, line) in enumerate(zip(routes, lines, strict=True)):
            for rows, at in _point_labels(route, line, self.letter, system):
                spot = self._spot(rows, at)
                result.append(_Label(number, rows, at if spot is None else spot))
        for number, line in enumerate(lines):
            for rows, at in _bend_labels(line, self.letter, system):
                if (spot := self._spot(rows, at)) is None:
                    self.left_out += 1
                else:
                    result.append(_Label(number, rows, spot))
        return result

    def _spot(self, rows: Sequence[str], at: Floats) -> Floats | None:
        """The nearest free place of a label, None where there is none."""
        high, wide = 1.5 * self.letter * len(rows), _WIDE * self.letter * max(map(len, rows))
        for up in (0.0, 1.0, -1.0, 2.0, -2.0):
            spot: Floats = at + np.array([0.0, up * high, 0.0])
            x, y = float(spot[0]), float(spot[1]) + self.letter
            box = x, y - high, x + wide, y
            held = np.reshape(self.boxes, (-1, 4))
            beside = (held[:, 2] <= x) | (held[:, 0] >= box[2])
            if (beside | (held[:, 3] <= box[1]) | (held[:, 1] >= y)).all():
                self.boxes.append(box)
                return spot
        return None


# Width of a letter by its height, as drawn by most fonts of drawings.
_WIDE = 0.8


_Text = tuple[tuple[str, ...], Floats]
"""The rows of a label, and the place (3,) m where it starts."""


def _bend_labels(line: Path, letter: float, system: str) -> Iterator[_Text]:
    bends = np.flatnonzero(line.kind == ARC)
    for number, i in enumerate(bends.tolist(), 1):
        middle = line.point((line.stations[i] + line.stations[i + 1]) / 2)
        outward = line.point(line.stations[i]) + line.ends[i] - 2 * middle
        stations = [show(float(s), "length", system) for s in line.stations[i : i + 2]]
        rows = (
            f"bend {number}: {show(float(line.angles[i]), 'angle', system)}, "
            f"R {show(float(line.radii[i]), 'radius', system)}",
            f"sta {stations[0]} to {stations[1]}",
        )
        yield rows, middle - _sideways(outward, letter)


def _sideways(direction: Floats, letter: float) -> Floats:
    """Two letter heights along a direction, in plan; straight up the sheet where it has none."""
    flat = np.array([direction[0], direction[1], 0.0])
    size = float(np.hypot(flat[0], flat[1]))
    return 2 * letter * (flat / size if size > 1e-9 else np.array([0.0, -1.0, 0.0]))


def _point_labels(route: ExchangeRoute, line: Path, letter: float, system: str) -> Iterator[_Text]:
    for i in route.told:
        name, access = route.names[i], route.access[i]
        rows = [name or f"point {i + 1}"]
        if not route.radii[i] > 0:
            rows.append(f"sta {show(_station(route, line, i), 'length', system)}")
        if access and 0 < i < len(route.points) - 1:
            rows.append("pull point")
        if route.changes[i]:
            rows.append(f"conduit {route.changes[i]}")
        if (box := route.boxes[i]) is not None:
            rows.append("box " + " x ".join(show(side, "diameter", system) for side in box))
        yield tuple(rows), route.points[i] + np.array([1.0, 1.0, 0.0]) * letter


def _station(route: ExchangeRoute, line: Path, i: int) -> float:
    """The station of a vertex, m; that of a bend is the middle of its arc."""
    bend = np.flatnonzero(line.vertex == i)
    if bend.size:
        return float(line.stations[bend[0]] + line.stations[bend[0] + 1]) / 2
    return float(line.vertex_stations(len(route.points))[i])


def _write(pen: Pen, rows: Sequence[str], at: Floats) -> None:
    for number, row in enumerate(rows):
        below = np.array([0.0, -1.5 * pen.letter * number, 0.0])
        text = pen.space.add_text(
            plain_text(row), height=pen.letter, dxfattribs={"layer": pen.labels}
        )
        text.set_placement(vector(at * pen.scale + below))
