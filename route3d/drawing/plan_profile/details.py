"""Details: stretches whose labels and dimensions do not fit in a view, drawn larger elsewhere."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence

import numpy as np

from route3d.drawing.marks import Rect, Text
from route3d.drawing.plan_profile.flags import DrawnView
from route3d.drawing.plan_profile.layout import (
    PlanView,
    ProfileView,
    Scale,
    large_scales,
    turned,
)
from route3d.drawing.plan_profile.linework import frame
from route3d.drawing.plan_profile.plan import STEEP, plan_detail
from route3d.drawing.plan_profile.profile import profile_detail
from route3d.drawing.plan_profile.sections import LargeView
from route3d.drawing.plan_profile.setup import Detail, Setup, SheetSpan
from route3d.geometry.vectors import Floats, norm
from route3d.units import show

_AROUND = 4.0  # of a stretch at both ends, mm of the sheet
_JOINED = 12.0  # stretches nearer than this (mm of the sheet) are one detail
_MARGIN = (32.0, 22.0)  # about the stretch in a detail, mm, across and down
_LARGER = 2.0  # a detail is at least so many times larger than its sheet
_LARGEST = 12.0
_HEAD = 26.0  # heading and titles of a sheet of details take, mm


def needed(
    setup: Setup, number: int, plan: DrawnView, profile: DrawnView, told: Collection[float]
) -> list[Detail]:
    """The details that a sheet needs: of the plan, and of the profile for what is steep.

    ``told`` are the starts of the straights whose length some sheet gives.
    """
    path = setup.course.path
    spans: dict[str, list[tuple[float, float]]] = {"plan": [], "profile": []}
    for start, end in plan.unplaced:
        spans["plan"].append((start, end))
    missing = [(start, end) for first, start, end in profile.untold if first not in told]
    for start, end in (*profile.unplaced, *missing):
        slope = norm(path.point(end)[:2] - path.point(start)[:2])
        steep = end > start and slope < STEEP * (end - start)
        rises = any(m.station == start and m.lies not in ("", "horiz.") for m in profile.flagged)
        spans["profile" if steep or rises else "plan"].append((start, end))
    stretch = setup.stretches[number - 1]
    return [
        Detail(view, *part)
        for view, wanted in spans.items()
        for span in _merged(setup, stretch, wanted)
        for part in _parts(setup, view, *span)
    ]


def joined(setup: Setup, details: Sequence[Detail]) -> tuple[Detail, ...]:
    """Details of the same view that lie over one another made one, in the order of the run."""
    found: list[Detail] = []
    for detail in sorted(details, key=lambda d: (d.view, d.start)):
        last = found[-1] if found else None
        if last and last.view == detail.view and detail.start < last.end - 1e-6:
            both = Detail(detail.view, last.start, max(last.end, detail.end))
            found[-1:] = [
                Detail(both.view, *p) for p in _parts(setup, both.view, both.start, both.end)
            ]
        else:
            found.append(detail)
    return tuple(sorted(found, key=lambda d: d.start))


def _merged(
    setup: Setup, stretch: SheetSpan, wanted: Sequence[tuple[float, float]]
) -> Iterator[tuple[float, float]]:
    """Stretches with room about them, those that are near one another as one."""
    mm = setup.scale.mm
    found: list[tuple[float, float]] = []
    for start, end in sorted(wanted):
        if found and start - found[-1][1] < _JOINED / mm:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    for start, end in found:
        yield max(start - _AROUND / mm, stretch.start), min(end + _AROUND / mm, stretch.end)


def _parts(setup: Setup, view: str, start: float, end: float) -> list[tuple[float, float]]:
    """A stretch in as many parts as let each be drawn larger on one sheet."""
    room = _room(setup)
    least = setup.scale.mm * _LARGER
    wide, high = _extent(setup, view, start, end)
    if wide * least <= room[0] and high * least <= room[1]:
        return [(start, end)]
    middle = (start + end) / 2
    free = [m for m in setup.course.straights if start < (m.start + m.end) / 2 < end]
    if free:  # between two bends rather than in one
        cut = min(free, key=lambda s: abs((s.start + s.end) / 2 - middle))
        middle = (cut.start + cut.end) / 2
    if min(middle - start, end - middle) < 1e-3:
        return [(start, end)]
    return [*_parts(setup, view, start, middle), *_parts(setup, view, middle, end)]


def _room(setup: Setup) -> tuple[float, float]:
    """What a stretch may take on a sheet of details, mm."""
    left, top, right, bottom = setup.layout.views
    return (
        min(right - left, 420.0) - 2 * _MARGIN[0] - 12.0,
        min(bottom - top, 300.0) - 2 * _MARGIN[1] - _HEAD,
    )


def _extent(setup: Setup, view: str, start: float, end: float) -> tuple[float, float]:
    """Size (m) of a stretch in a view, across and down."""
    course = setup.course
    stations = course.between(start, end)
    points = course.path.point(stations)
    if view == "plan":
        x, y = turned(points, _turn(setup, start, end))
        return float(np.ptp(x)), float(np.ptp(y))
    level = np.interp((start, end), course.stations, course.level)
    return float(level[1] - level[0]), float(np.ptp(points[:, 2]))


def _turn(setup: Setup, start: float, end: float) -> float:
    """How the plan of the sheet is turned that shows a stretch."""
    middle = (start + end) / 2
    return next(s.turn for s in reversed(setup.stretches) if s.start <= middle + 1e-9)


def detail_view(setup: Setup, detail: Detail) -> LargeView:
    """A detail at the smallest scale at which all its words have room, or the largest."""
    room, ratio = _room(setup), setup.scale.ratio
    wide, high = _extent(setup, detail.view, detail.start, detail.end)
    best: tuple[int, LargeView] | None = None
    for scale in reversed(_scales(setup)):
        if best and (wide * scale.mm > room[0] or high * scale.mm > room[1]):
            break
        drawn, box = _drawn(setup, detail, scale)
        missing = len(drawn.unplaced) + len(drawn.left_out)
        if best is None or missing < best[0]:
            best = missing, _view(setup, detail, scale, drawn, box)
        if not missing or scale.ratio < ratio / _LARGEST:
            break
    assert best is not None
    return best[1]


def _scales(setup: Setup) -> list[Scale]:
    """Round scales that are larger than that of the sheet, from large to small."""
    wanted = [s for s in large_scales(setup.system) if s.ratio <= setup.scale.ratio / _LARGER]
    return wanted or [Scale(setup.scale.ratio / _LARGER)]


def _drawn(setup: Setup, detail: Detail, scale: Scale) -> tuple[DrawnView, Rect]:
    start, end, mm = detail.start, detail.end, scale.mm
    wide, high = _extent(setup, detail.view, start, end)
    box = (0.0, 0.0, wide * mm + 2 * _MARGIN[0], high * mm + 2 * _MARGIN[1])
    course = setup.course
    points = course.path.point(course.between(start, end))
    turn = _turn(setup, start, end)
    span = SheetSpan(start, end, turn)
    if detail.view == "plan":
        view = PlanView(turn, mm, _focus(points, turn), (box[2] / 2, box[3] / 2))
        return plan_detail(setup, span, view, box), box
    low = float(points[:, 2].min()) - _MARGIN[1] / mm
    first = float(np.interp(start, course.stations, course.level))
    developed = ProfileView(
        mm, 1, course.stations, course.level, first, low, _MARGIN[0], box[3]
    )  # fmt: skip
    return profile_detail(setup, span, developed, box), box


def _focus(points: Floats, turn: float) -> tuple[float, float]:
    x, y = turned(points, turn)
    a, b = float(x.max() + x.min()) / 2, float(y.max() + y.min()) / 2
    cos, sin = math.cos(turn), math.sin(turn)
    return cos * a + sin * b, -sin * a + cos * b


def _view(setup: Setup, detail: Detail, scale: Scale, drawn: DrawnView, box: Rect) -> LargeView:
    run, system = setup.course.run.name, setup.system
    start, end = (show(s, "length", system) for s in (detail.start, detail.end))
    said = f"{detail.view}, run {run}, sta {start.split()[0]} to {end}"
    marks = (frame(box, layer="CALLOUTS"), *drawn.marks)
    missing = [t for t in drawn.left_out if t]
    if missing:
        said += f"; no room: {'; '.join(missing)}"
    assert all(not isinstance(mark, Text) or mark.text for mark in marks)
    return LargeView(f"DETAIL {detail.letter}", said, scale, marks, box)
