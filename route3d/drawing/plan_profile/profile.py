"""The profile of a sheet, developed along the plan, and the rows of figures below it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from route3d.drawing.axes import multiples
from route3d.drawing.labels import LabelRoom, apart
from route3d.drawing.marks import Mark, Text, inset, stretches
from route3d.drawing.plan_profile.course import bend_middles
from route3d.drawing.plan_profile.flags import SHEET, DrawnView, Flag, take_line
from route3d.drawing.plan_profile.layout import HEADS, PAD, ProfileView, round_step
from route3d.drawing.plan_profile.linework import (
    MEDIUM,
    SMALL,
    THICK,
    interrupted,
    letters,
    ruled,
    stroke,
)
from route3d.drawing.plan_profile.plan import GROUND_DASH, MATCH_DASH, STEEP, station_words
from route3d.drawing.plan_profile.setup import Setup, on_sheet
from route3d.drawing.text_width import fitted, text_width
from route3d.geometry.encasement import ground_line
from route3d.geometry.vectors import Floats
from route3d.units import show, unit_label

# Heights of the rows from the top, mm: stations, elevations, straights, grade, conduit.
_STATION, _ELEVATION, _STRAIGHT, _GRADE, _CONDUIT = 5.0, 21.0, 6.0, 6.0, 6.0
_COLUMN = 3.1  # from one upright figure to the next
_GRID_GAP = 9.0  # at least so far apart are round elevations


@dataclass(slots=True, kw_only=True)
class _ProfileView(DrawnView):
    """A profile being drawn."""

    view: ProfileView

    @property
    def right(self) -> float:
        """Where the profile of the stretch ends, and its grid, mm."""
        return self.view.x(self.stretch.end) + PAD

    def at(self, station: float) -> tuple[float, float]:
        """Where the centerline is at a station, mm."""
        point = self.setup.course.path.point(station)
        return self.view.x(station), self.view.y(float(point[2]))

    def across(self, station: float) -> tuple[Floats, bool]:
        """Unit step square to the line on paper, up or to the right; whether it runs steep."""
        path = self.setup.course.path
        tangent = path.tangent(min(max(station, 0.0), path.length))
        level = math.hypot(tangent[0], tangent[1])
        rise = self.view.exaggeration * float(tangent[2])
        up = np.array([-rise, -level]) / math.hypot(rise, level)  # paper y runs down
        steep = level < STEEP
        return (-up if steep and up[0] < 0 else up), steep


def profile_marks(setup: Setup, number: int, view: ProfileView) -> tuple[list[Mark], list[str]]:
    """The marks of the profile, and which labels found no free place."""
    room = LabelRoom(inset(setup.layout.profile, 1.0), SHEET)
    profile = _ProfileView(setup=setup, number=number, room=room, view=view)
    _line(profile)
    _ground(profile)
    _joins(profile)
    _labels(profile)
    _risers(profile)
    _grid(profile)
    _rows(profile)
    return profile.marks, profile.left_out


def _line(profile: _ProfileView) -> None:
    course, stretch, view = profile.setup.course, profile.stretch, profile.view
    stations = course.between(stretch.start, stretch.end)
    heights = course.path.point(stations)[:, 2]
    x = view.left + view.mm * (np.interp(stations, view.stations, view.level) - view.start)
    points = np.column_stack((x, view.y(heights)))
    profile.marks.append(ruled(points, THICK, "", "GRADE"))
    take_line(profile.room, points)


def _ground(profile: _ProfileView) -> None:
    """The ground over the run where the grade is given, as far as it lies in the profile."""
    setup, view, stretch = profile.setup, profile.view, profile.stretch
    if not setup.grade.given:
        return
    _, top, _, bottom = setup.layout.profile
    stations, heights = ground_line(setup.course.path, setup.grade)
    ends = np.array([stretch.start, stretch.end])
    every = np.unique(np.concatenate((ends, stations[(stations > ends[0]) & (stations < ends[1])])))
    y = view.y(np.interp(every, stations, heights))
    points = np.column_stack(([view.x(float(station)) for station in every], y))
    for rows in stretches((y > top) & (y < bottom)):
        if rows.stop - rows.start > 1:
            profile.marks.append(ruled(points[rows], 0.25, GROUND_DASH, "GRID"))
            take_line(profile.room, points[rows])
            x, at = points[rows][0]
            word = letters(x + 1.0, at - 0.8, "ground", layer="TEXT")
            profile.marks.append(word)
            profile.room.take(word.box)


def _labels(profile: _ProfileView) -> None:
    """The number of each bend and the letter of each point."""
    middles = bend_middles(profile.setup.course.path)
    flagged = on_sheet(profile.setup, profile.number)
    for event in flagged:
        for station in sorted({event.station, profile.inside(event.end)}):
            spot, step = np.array(profile.at(station)), profile.across(station)[0]
            half = 1.1 if event.is_bend else 1.6
            layer = "BENDS" if event.is_bend else "PULL-POINTS"
            width = 0.25 if event.is_bend else MEDIUM
            ends = np.array([spot - half * step, spot + half * step])
            profile.marks.append(ruled(ends, width, "", layer))
    for event in sorted(flagged, key=lambda e: e.is_bend):
        station = profile.inside(middles.get(event.mark, event.station))
        x, y = profile.at(station)
        layer = "BENDS" if event.is_bend else "PULL-POINTS"
        step, _ = profile.across(station)
        away = math.atan2(-step[1], step[0])
        flag = Flag(x, y, (), event.mark, not event.is_bend, layer, near=1.2, prefer=away)
        profile.add(flag, f"{event.mark} in profile")


def _risers(profile: _ProfileView) -> None:
    """Steep straights take hardly any room in the rows: their length stands beside them."""
    system = profile.setup.system
    for straight, start, end in profile.straights():
        if not straight.is_riser:
            continue
        x, y = profile.at((start + end) / 2)
        length = show(straight.length, "length", system)
        first, last = (show(s, "length", system) for s in (straight.start, straight.end))
        whole = "" if end - start > straight.length - 1e-6 else " total"
        lines = (
            f"riser {straight.way} {length}{whole}, {straight.grade}",
            f"sta {first.split()[0]} to {last}",
        )
        flag = Flag(x, y, lines, layer="DIMENSIONS", near=0.6, prefer=0.0, either=True)
        profile.add(flag, lines[0])


def _grid(profile: _ProfileView) -> None:
    """Round elevations and round stations as thin lines that stop before words."""
    left, top, _, bottom = profile.setup.layout.profile
    setup, view = profile.setup, profile.view
    boxes = [inset(box, -0.9) for box in map(tuple, profile.room.labels.tolist())]
    right = profile.right
    high = view.low + (bottom - top) / (view.mm * view.exaggeration)
    step = round_step(_GRID_GAP / (view.mm * view.exaggeration), setup.system)
    for elevation in multiples(step, view.low, high):
        y = view.y(elevation)
        if not top + 1.5 < y < bottom - 1.5:
            continue
        level = stroke((left, y), (right, y), width=0.1, layer="GRID")
        profile.marks += interrupted(level, boxes)
        profile.marks.append(stroke((left - 1.2, y), (left, y), layer="GRID"))
        words = station_words(elevation, setup.system)
        profile.marks.append(letters(left - 1.8, y + SMALL / 2, words, align="right", layer="TEXT"))
    for station in multiples(setup.interval, profile.stretch.start, profile.stretch.end):
        if profile.across(station)[1]:
            continue
        x = view.x(profile.inside(station))
        upright = stroke((x, top), (x, bottom), width=0.1, layer="GRID")
        profile.marks += interrupted(upright, boxes)
    for a, b in pairwise(((left, bottom), (left, top), (right, top), (right, bottom))):
        profile.marks += interrupted(stroke(a, b, layer="GRID"), boxes)


def _joins(profile: _ProfileView) -> None:
    """The ends of the profile where another sheet goes on: upright, in a riser level."""
    _, top, _, bottom = profile.setup.layout.profile
    count, stretch = len(profile.setup.stretches), profile.stretch
    joins = ((stretch.start, profile.number - 1, -2.0), (stretch.end, profile.number + 1, 4.0))
    for station, other, aside in joins:
        if not 1 <= other <= count:
            continue
        (x, y), told = profile.at(station), f"see sheet {other}"
        ends, words = (
            ((x, top), (x, bottom)),
            letters(
                x + aside,
                (top + bottom) / 2,
                told,
                align="middle",
                upright=True,
                layer="MATCH-LINES",
            ),
        )
        if profile.across(station)[1]:
            ends = ((x - 5.0, y), (x + 12.0, y))
            words = letters(x + 13.0, y + SMALL / 2, told, layer="MATCH-LINES")
        line = stroke(*ends, width=0.5, dash=MATCH_DASH, layer="MATCH-LINES")
        profile.marks += [line, words]
        take_line(profile.room, np.asarray(line.points))
        profile.room.take(words.box)


# --- rows --------------------------------------------------------------------------------------


def _rows(profile: _ProfileView) -> None:
    """Stations, elevations, straights, grade and conduit under the profile, each in its row."""
    left, top, right, bottom = profile.setup.layout.rows
    unit = unit_label("length", profile.setup.system)
    heights = (_STATION, _ELEVATION, _STRAIGHT, _GRADE, _CONDUIT)
    heads = (
        ("station", f"{unit}"),
        ("centerline", "elevation", unit),
        ("straights", unit),
        ("grade", ""),
        ("conduit", ""),
    )
    y = top
    for words, height in zip(heads, heights, strict=True):
        profile.marks.append(stroke((left, y), (right, y), layer="FRAME"))
        profile.marks += _head(left + 2.0, y, height, [w for w in words if w])
        y += height
    x = left + HEADS
    profile.marks.append(stroke((x, top), (x, bottom), layer="FRAME"))
    _station_row(profile, top)
    _elevation_row(profile, top + _STATION)
    _straight_rows(profile, top + _STATION + _ELEVATION)
    _conduit_row(profile, bottom - (bottom - y) - _CONDUIT)
    profile.marks.append(stroke((left, y), (right, y), layer="FRAME"))


def _head(x: float, y: float, height: float, words: Sequence[str]) -> list[Mark]:
    if height < 10:
        text = f"{words[0]}, {words[1]}" if len(words) > 1 else words[0]
        return [letters(x, y + height / 2 + 1.0, text)]
    top = y + height / 2 - len(words) * 1.6
    return [letters(x, top + 3.2 * i + 2.6, text) for i, text in enumerate(words)]


def _station_row(profile: _ProfileView, top: float) -> None:
    """Round stations; the last one kept inside the row."""
    system = profile.setup.system
    limit, spans, texts = profile.setup.layout.rows[2] - 1.0, [], []
    for station in multiples(profile.setup.interval, profile.stretch.start, profile.stretch.end):
        if profile.across(station)[1]:
            continue  # in a riser: its label tells its stations
        words = station_words(station, system)
        half = text_width(words, SMALL) / 2
        x = min(profile.view.x(profile.inside(station)), limit - half)
        if x - half >= profile.setup.layout.rows[0] + HEADS:
            spans.append((x - half, x + half))
            texts.append(letters(x, top + 3.6, words, align="middle", layer="STATIONS"))
    profile.marks += [texts[i] for i in apart(spans, 0.8)]


def _elevation_row(profile: _ProfileView, top: float) -> None:
    """Elevations at points and at both ends of bends, upright, pushed apart, with their ticks."""
    left, right = profile.setup.layout.rows[0] + HEADS + 2.2, profile.setup.layout.rows[2] - 1.5
    stations = _elevation_stations(profile)
    wanted = [profile.view.x(s) for s in stations]
    most = int((right - left) / _COLUMN)
    if len(stations) > most:
        profile.left_out.append(f"{len(stations) - most} elevations")
        stations, wanted = stations[:most], wanted[:most]
    # Words stand behind their base line: its middle is what should be under the station.
    for station, x, at in zip(
        stations, wanted, spread(wanted, _COLUMN, (left, right)), strict=True
    ):
        elbow = ((x, top), (x, top + 1.0), (at, top + 4.0), (at, top + 5.0))
        profile.marks.append(stroke(*elbow, layer="DIMENSIONS"))
        z = float(profile.setup.course.path.point(station)[2])
        words = show(z, "length", profile.setup.system).split()[0]
        words = fitted(words, SMALL, _ELEVATION - 6.0)
        y = top + 5.8
        profile.marks.append(
            letters(at + SMALL / 2, y, words, align="right", upright=True, layer="GRADE")
        )


def _elevation_stations(profile: _ProfileView) -> list[float]:
    """Ends of the sheet, points, bend ends; of a level bend only the start."""
    path = profile.setup.course.path
    found = [profile.stretch.start, profile.stretch.end]
    for event in on_sheet(profile.setup, profile.number):
        found.append(event.station)
        if event.end > event.station and event.end <= profile.stretch.end:
            rise = float(path.point(event.end)[2] - path.point(event.station)[2])
            if abs(rise) > 0.005:
                found.append(event.end)
    kept: list[float] = []
    for station in sorted(found):
        if not kept or station - kept[-1] > 1e-6:
            kept.append(station)
    return kept


def spread(wanted: Sequence[float], gap: float, span: tuple[float, float]) -> list[float]:
    """Places at least ``gap`` apart within ``span``, each as near as can be to where it is wanted.

    ``wanted`` rises and has room; neighbors in each other's way share the push (pool of adjacent
    violators).
    """
    pools: list[list[float]] = []  # of each pool: sum of wishes less their rank, count
    for i, x in enumerate(wanted):
        pools.append([x - i * gap, 1.0])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] > pools[-1][0] / pools[-1][1]:
            total, count = pools.pop()
            pools[-1][0] += total
            pools[-1][1] += count
    flat = [total / count for total, count in pools for _ in range(int(count))]
    high = span[1] - (len(wanted) - 1) * gap
    return [min(max(x, span[0]), high) + i * gap for i, x in enumerate(flat)]


def _straight_rows(profile: _ProfileView, top: float) -> None:
    """The true length of each straight as a dimension, and its grade, where they fit."""
    system = profile.setup.system
    for straight, start, end in profile.straights():
        a, b = profile.view.x(start), profile.view.x(end)
        words = show(straight.length, "length", system).split()[0]
        if end - start < straight.length - 1e-6:
            words = f"{words} total"
        profile.marks += _measured(a, b, top + _STRAIGHT / 2, words)
        profile.marks += _centered(a, b, top + _STRAIGHT + _GRADE / 2, (straight.grade,), "GRADE")


def _measured(a: float, b: float, y: float, words: str) -> list[Mark]:
    """A dimension line from a to b with its words in a gap; the line alone where they are wider."""
    if b - a < 1.0:
        return []
    line = stroke((a, y), (b, y), layer="DIMENSIONS")
    marks: list[Mark] = [
        stroke((x - 0.7, y + 0.7), (x + 0.7, y - 0.7), width=MEDIUM, layer="DIMENSIONS")
        for x in (a, b)
    ]
    text = _centered(a + 2.0, b - 2.0, y, (words,), "DIMENSIONS")
    if not text:  # between the strokes, without a line
        text = _centered(a + 1.0, b - 1.0, y, (words,), "DIMENSIONS")
    boxes = [inset(m.box, -0.6) for m in text if isinstance(m, Text)]
    return [*interrupted(line, boxes), *marks, *text]


def _centered(a: float, b: float, y: float, choices: Iterable[str], layer: str) -> list[Mark]:
    """The first of the choices that fits between a and b."""
    for words in choices:
        if text_width(words, SMALL) <= b - a - 0.6:
            return [letters((a + b) / 2, y + SMALL / 2, words, align="middle", layer=layer)]
    return []


def _conduit_row(profile: _ProfileView, top: float) -> None:
    """Type and size of the conduit from where it starts to where it ends."""
    path, stretch = profile.setup.course.path, profile.stretch
    conduits = profile.setup.course.run.route.conduits
    labels = [conduits[int(leg)].label for leg in path.leg]
    i = 0
    while i < len(labels):
        j = i
        while j < len(labels) and labels[j] == labels[i]:
            j += 1
        start, end = float(path.stations[i]), float(path.stations[j])
        start, end = max(start, stretch.start), min(end, stretch.end)
        if end > start:
            a, b = profile.view.x(start), profile.view.x(end)
            words = fitted(labels[i], SMALL, max(b - a - 1.0, 0.0))
            profile.marks += _centered(a, b, top + _CONDUIT / 2, (words,), "TEXT")
            if start > stretch.start:
                profile.marks.append(stroke((a, top), (a, top + _CONDUIT), layer="FRAME"))
            if end < path.length and end < stretch.end:
                profile.marks.append(stroke((b, top), (b, top + _CONDUIT), layer="FRAME"))
        i = j


def profile_words(setup: Setup) -> list[str]:
    """What the profile shows, and its scales: the longest first, never without the scales."""
    times = setup.exaggeration
    along = setup.scale.words(setup.system)
    if times == 1:
        scales, least = f"horizontal and vertical {along}", f"{along}, H and V"
    else:
        up = setup.scale.ratio / times
        scales = f"horizontal {along}, vertical 1:{up:g} (exaggerated x {times})"
        least = f"1:{setup.scale.ratio:g}, vertical x {times}"
    what = "elevation vs. plan distance, risers vertical"
    long = f"{scales}; {what}"
    return [f"{long}; stations along the conduit", long, scales, least]
