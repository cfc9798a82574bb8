"""The points of a run on the grid of the site, and from each the leg to the next: a table.

By it the run is set out: at a bend the point is where its tangents meet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from route3d.drawing.marks import Mark
from route3d.drawing.plan_profile.frame import label_of
from route3d.drawing.plan_profile.layout import HEADER, ROW
from route3d.drawing.plan_profile.linework import SMALL, frame, letters, stroke
from route3d.drawing.plan_profile.sections import LargeView
from route3d.drawing.plan_profile.setup import Setup
from route3d.drawing.text_width import fitted, text_width
from route3d.geometry.path import ARC
from route3d.units import convert, show, unit_label

_HEADS = ("point", "x", "y", "z", "leg in plan", "leg", "heading")
_DIGITS = {"SI": 3, "US": 2}
_GAP = 4.0  # between columns, mm
_ROOM = 34.0  # of the height of a sheet, for heads and titles, mm
_NAME = 40.0  # the name of a point is no wider, mm


def setting_out(setup: Setup) -> list[LargeView]:
    """The table, in parts that each have room on a sheet."""
    rows = list(_rows(setup))
    _, top, _, bottom = setup.layout.views
    most = max(int((bottom - top - HEADER - _ROOM) / ROW), 4)
    parts = [rows[i : i + most] for i in range(0, len(rows), most)]
    run, unit = setup.course.run.name, unit_label("length", setup.system)
    frame_of = setup.job.site.frame
    grid = frame_of.crs or ("grid of the site" if frame_of.origin is not None else "model's axes")
    said = f"{unit}, {grid}; heading clockwise from grid north (y)"
    return [
        _table(f"SETTING OUT, RUN {run}" + (f", {k} OF {len(parts)}" if k > 1 else ""), said, part)
        for k, part in enumerate(parts, 1)
    ]


def _rows(setup: Setup) -> Iterator[tuple[str, ...]]:
    course, system = setup.course, setup.system
    shift, digits = setup.job.site.frame.shift, _DIGITS[system]
    names = _names(setup)
    legs = [*course.legs, None]
    for i, (vertex, leg) in enumerate(zip(course.run.route.vertices, legs, strict=True)):
        places = [
            f"{convert(v + s, 'length', system):,.{digits}f}"
            for v, s in zip(vertex.point, shift, strict=True)
        ]
        if leg is None:
            yield (names.get(i, ""), *places, "", "", "")
            continue
        level, whole = (
            show(v, "length", system).split()[0]
            for v in (leg.level, (leg.level**2 + leg.rise**2) ** 0.5)
        )
        way = show(leg.heading, "angle", system) if leg.in_plan else "plumb"
        yield (names.get(i, ""), *places, level, whole, way)


def _names(setup: Setup) -> dict[int, str]:
    """What is at each vertex of the route, by its number: label and name."""
    path, run = setup.course.path, setup.course.run
    arcs = [int(v) for v in path.vertex[path.kind == ARC]]
    bends = [m for m in setup.course.marks if m.is_bend]
    found = {
        v: " ".join(filter(None, (label_of(run, m), m.name)))
        for v, m in zip(arcs, bends, strict=True)
    }
    stations = path.vertex_stations(len(run.route.vertices)).tolist()
    for mark in setup.course.marks:
        if mark.is_bend:
            continue
        at = next(
            i
            for i, vertex in enumerate(run.route.vertices)
            if i not in found and abs(stations[i] - mark.station) < 1e-9
            and (vertex.name == mark.name)
        )  # fmt: skip
        found[at] = " ".join(filter(None, (mark.mark, mark.name)))
    return found


def _table(title: str, said: str, rows: Sequence[tuple[str, ...]]) -> LargeView:
    rows = [(fitted(row[0], SMALL, _NAME), *row[1:]) for row in rows]
    columns = list(zip(_HEADS, *rows, strict=True))
    wides = [max(text_width(w, SMALL, bold=k < 1) for k, w in enumerate(c)) for c in columns]
    edges = [_GAP / 2]
    for wide in wides:
        edges.append(edges[-1] + wide + _GAP)
    right, bottom = edges[-1] - _GAP / 2, ROW * (len(rows) + 1)
    box = (0.0, 0.0, right, bottom)
    marks: list[Mark] = [frame(box, layer="FRAME")]
    for k, row in enumerate((_HEADS, *rows)):
        base = ROW * (k + 1) - 1.1
        for column, words in enumerate(row):
            if not words:
                continue
            x = edges[column] if not column else edges[column + 1] - _GAP
            align = "right" if column else "left"
            marks.append(letters(x, base, words, align=align, bold=not k))  # type: ignore[arg-type]
        if k:
            marks.append(stroke((0.0, ROW * k), (right, ROW * k), layer="TABLE"))
    return LargeView(title, said, None, tuple(marks), box)
