"""The profile of a sheet, developed along the plan, and the rows of figures below it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from route3d.drawing.axes import multiples
from route3d.drawing.labels import LabelRoom, apart
from route3d.drawing.marks import BLACK, Mark, Rect, Ring, Text, along, inset, lengths, stretches
from route3d.drawing.plan_profile.course import bend_middles
from route3d.drawing.plan_profile.flags import SHEET, DrawnView, Flag, take_line, take_other
from route3d.drawing.plan_profile.layout import COVER, HEADS, PAD, ProfileView, round_step
from route3d.drawing.plan_profile.linework import (
    SMALL,
    clipped,
    interrupted,
    letters,
    ruled,
    stroke,
)
from route3d.drawing.plan_profile.plan import (
    STEEP,
    SectionMark,
    about,
    dimension,
    legs_shown,
    place_callout,
    place_name,
    rounded,
    section_letters,
    section_mark,
    station_words,
)
from route3d.drawing.plan_profile.setup import Setup, SheetSpan, boxes_in, in_span, on_sheet
from route3d.drawing.plan_profile.surroundings import Piece
from route3d.drawing.text_width import fitted, text_width
from route3d.geometry.vectors import Floats
from route3d.units import show, unit_label

# Heights of the rows from the top, mm: stations, elevations, straights, grade, conduit.
_STATION, _ELEVATION, _STRAIGHT, _GRADE, _CONDUIT = 5.0, 21.0, 5.0, 5.0, 5.0
_COLUMN = 3.1  # from one upright figure to the next
_GRID_GAP = 9.0  # at least so far apart are round elevations


@dataclass(slots=True, kw_only=True)
class _ProfileView(DrawnView):
    """A profile being drawn."""

    view: ProfileView

    @property
    def right(self) -> float:
        """Where the profile of the stretch ends, and its grid, mm."""
        return profile_end(self.setup, self.span, self.view)

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


def profile_marks(setup: Setup, number: int, view: ProfileView) -> DrawnView:
    """The profile of a sheet and the rows below it, drawn."""
    box = setup.layout.profile
    room = LabelRoom(inset(box, 1.0), SHEET)
    span, flagged = setup.stretches[number - 1], on_sheet(setup, number)
    profile = _ProfileView(setup=setup, span=span, box=box, flagged=flagged, room=room, view=view)
    pieces = _pieces(profile)
    _line(profile)
    _callouts(profile)
    _joins(profile, number)
    cuts = _cuts(profile)
    _dimensions(profile)
    _labels(profile)
    section_letters(profile, cuts)
    _risers(profile)
    _crossings(profile)
    _names(profile, pieces)
    _grid(profile)
    _rows(profile)
    profile.untold += [(s.start, a, b) for s, a, b in profile.straights()]
    return profile


def profile_detail(setup: Setup, span: SheetSpan, view: ProfileView, box: Rect) -> DrawnView:
    """A stretch of the profile, drawn larger: every straight and bend in words."""
    room = LabelRoom(inset(box, 0.8), SHEET)
    flagged = in_span(setup, span.start, span.end)
    profile = _ProfileView(
        setup=setup, span=span, box=box, flagged=flagged, room=room, close=True, view=view
    )
    _pieces(profile)
    _line(profile)
    _dimensions(profile)
    _labels(profile)
    system = setup.system
    for straight, start, end in profile.straights():
        if end - start < straight.length - 1e-6:
            continue
        x, y = profile.at((start + end) / 2)
        step, _ = profile.across((start + end) / 2)
        words = (f"straight {show(straight.length, 'length', system)}", straight.grade)
        flag = Flag(
            x, y, words, layer="DIMENSIONS", near=0.6, prefer=math.atan2(-step[1], step[0]),
            either=True,
        )  # fmt: skip
        profile.add(flag, words[0], (straight.start, straight.end))
    return profile


def _on_paper(profile: _ProfileView, points: Floats) -> Floats:
    """Distances gone in plan and elevations (k, 2) m on paper."""
    view = profile.view
    return np.column_stack(
        (view.left + view.mm * (points[:, 0] - view.start), view.y(points[:, 1]))
    )


def _pieces(profile: _ProfileView) -> list[tuple[Piece, list[Floats]]]:
    """Ground, bank and boxes, as far as they are in the view; those that are."""
    window, found = inset(profile.box, 0.4), []
    if not profile.close:
        window = profile_window(profile.setup, profile.span, profile.view)
    for piece in profile.setup.pieces.profile:
        points = _on_paper(profile, piece.points)
        for rows in stretches(np.isfinite(points[:, 1])):
            if rows.stop - rows.start < 2:
                continue
            parts = clipped(points[rows], window)
            profile.marks += [ruled(part, layer=piece.layer) for part in parts]
            for part in parts:
                take_other(profile.room, part)
            if parts:
                found.append((piece, parts))
    return found


def profile_end(setup: Setup, span: SheetSpan, view: ProfileView) -> float:
    """Where a profile ends at the right, with the boxes at the end of the run, mm."""
    boxes = boxes_in(setup, span.start, span.end)
    gone = max((float(box.profile.points[:, 0].max()) for box in boxes), default=-math.inf)
    return max(view.x(span.end), view.left + view.mm * (gone - view.start)) + PAD


def profile_window(setup: Setup, span: SheetSpan, view: ProfileView) -> Rect:
    """What a sheet shows of a profile: all of its box, but nothing beyond a match line.

    Half a millimeter more leaves the ends of lines whole.
    """
    left, top, right, bottom = setup.layout.profile
    right = min(right, profile_end(setup, span, view))
    path = setup.course.path
    for station, beyond in ((span.start, -1.0), (span.end, 1.0)):
        if not 0 < station < path.length:
            continue
        tangent = path.tangent(station)
        if math.hypot(tangent[0], tangent[1]) < STEEP:
            y = view.y(float(path.point(station)[2]))
            if tangent[2] * beyond > 0:
                top = y - 0.4
            else:
                bottom = y + 0.4
        elif beyond > 0:
            right = view.x(station) + 0.4
        else:
            left = view.x(station) - 0.4
    return (left, top, right, bottom)


def _names(profile: _ProfileView, pieces: list[tuple[Piece, list[Floats]]]) -> None:
    """Each name of what stands around once, where there is room."""
    named: set[str] = set()
    for piece, parts in pieces:
        if piece.name in ("", *named):
            continue
        longest = max(parts, key=lambda p: float(np.ptp(p[:, 0])))
        for share in (0.12, 0.3, 0.5, 0.7, 0.9):
            x, y = along(longest, np.array([share * float(lengths(longest)[-1])]))[0].tolist()
            if placed := place_name(profile, piece.name, x, y, 15.0):
                profile.marks += placed
                named.add(piece.name)
                break


def _crossings(profile: _ProfileView) -> None:
    """Other runs where they cross: a ring at their elevation, and the name."""
    _, top, _, bottom = profile.box
    for station, z, name in profile.setup.pieces.crossings:
        if not profile.span.start <= station <= profile.span.end:
            continue
        x, y = profile.view.x(station), profile.view.y(z)
        if top + 2 < y < bottom - 2:
            profile.marks.append(Ring((x, y), 1.0, BLACK, 0.18, layer="CROSSINGS"))
            words = (name, f"elev. {profile.setup.elevation(z)}")
            profile.add(Flag(x, y, words, layer="NAMES", near=1.2), None, None)


def _callouts(profile: _ProfileView) -> None:
    """A frame round each stretch that is drawn larger elsewhere, with its letter."""
    for detail in profile.details("profile"):
        course = profile.setup.course
        stations = course.between(profile.inside(detail.start), profile.inside(detail.end))
        spots = np.array([profile.at(float(s)) for s in stations])
        box = about(spots, profile.box)
        profile.marks.append(rounded(box))
        place_callout(profile, detail.bubble, box)


def _cuts(profile: _ProfileView) -> list[SectionMark]:
    """Where sections are taken: strokes above and below what they cut."""
    found = []
    for cut in profile.setup.cuts:
        if not profile.span.start <= cut.station <= profile.span.end:
            continue
        spot = np.array(profile.at(cut.station))
        times = profile.view.mm * profile.view.exaggeration
        near = (cut.up * times + 1.2, cut.down * times + 1.2)
        spot = spot + np.array([cut.shift * profile.view.mm, 0.0])
        found.append(section_mark(profile, spot, np.array([1.0, 0.0]), near, cut.bubble))
    return found


def _line(profile: _ProfileView) -> None:
    course, span, view = profile.setup.course, profile.span, profile.view
    stations = course.between(span.start, span.end)
    heights = course.path.point(stations)[:, 2]
    x = view.left + view.mm * (np.interp(stations, view.stations, view.level) - view.start)
    points = np.column_stack((x, view.y(heights)))
    profile.marks.append(ruled(points, layer="PROFILE"))
    take_line(profile.room, points)


def _labels(profile: _ProfileView) -> None:
    """The number of each bend and of each point; in a detail what a bend is, too."""
    middles = bend_middles(profile.setup.course.path)
    system, details = profile.setup.system, profile.details("profile")
    for event in profile.flagged:
        for station in sorted({event.station, profile.inside(event.end)}):
            spot, step = np.array(profile.at(station)), profile.across(station)[0]
            half = 1.1 if event.is_bend else 1.6
            layer = "BENDS" if event.is_bend else "PULL-POINTS"
            ends = np.array([spot - half * step, spot + half * step])
            profile.marks.append(ruled(ends, layer=layer))
    for event in sorted(profile.flagged, key=lambda e: e.is_bend):
        if any(d.holds(event.station, profile.inside(event.end)) for d in details):
            continue
        station = profile.inside(middles.get(event.mark, event.station))
        x, y = profile.at(station)
        layer = "BENDS" if event.is_bend else "PULL-POINTS"
        step, _ = profile.across(station)
        away = math.atan2(-step[1], step[0])
        words: tuple[str, ...] = ()
        if profile.close and event.is_bend:
            angle = show(event.angle, "angle", system)
            words = (f"R {show(event.radius, 'radius', system)}", f"{angle}, {event.lies}")
        flag = Flag(x, y, words, event.mark, not event.is_bend, layer, near=1.2, prefer=away)
        profile.add(flag, f"{event.mark} in profile", (event.station, event.end))


def _dimensions(profile: _ProfileView) -> None:
    """The rise of each riser between the points where tangents meet."""
    path, span, details = profile.setup.course.path, profile.span, profile.details("profile")
    for leg in legs_shown(profile):
        if leg.in_profile and not any(d.holds(leg.start, leg.end) for d in details):
            ends, whole = leg.within(path, span.start, span.end)
            x = profile.view.x(profile.inside((leg.start + leg.end) / 2))
            line = np.array([(x, profile.view.y(float(z))) for z in ends[:, 2]])
            spot = profile.at(profile.inside((leg.start + leg.end) / 2))
            dimension(profile, leg, line, spot, abs(leg.rise), whole=whole)


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
        if profile.add(flag, lines[0], (straight.start, straight.end)):
            profile.told.add(straight.start)


def _grid(profile: _ProfileView) -> None:
    """Round elevations and round stations, under all else, as thin lines that stop before words."""
    left, top, _, bottom = profile.setup.layout.profile
    setup, view = profile.setup, profile.view
    marks: list[Mark] = []
    boxes = [inset(box, -0.9) for box in map(tuple, profile.room.labels.tolist())]
    right = profile.right
    high = view.low + (bottom - top) / (view.mm * view.exaggeration)
    step = round_step(_GRID_GAP / (view.mm * view.exaggeration), setup.system)
    datum = setup.job.site.frame.shift[2]
    for elevation in multiples(step, view.low + datum, high + datum):
        y = view.y(elevation - datum)
        if not top + 1.5 < y < bottom - 1.5:
            continue
        level = stroke((left, y), (right, y), layer="GRID")
        marks += interrupted(level, boxes)
        marks.append(stroke((left - 1.2, y), (left, y), layer="GRID"))
        words = station_words(elevation, setup.system)
        marks.append(letters(left - 1.8, y + SMALL / 2, words, align="right", layer="TEXT"))
    for station in multiples(setup.interval, profile.span.start, profile.span.end):
        if profile.across(station)[1]:
            continue
        x = view.x(profile.inside(station))
        upright = stroke((x, top), (x, bottom), layer="GRID")
        marks += interrupted(upright, boxes)
    for a, b in pairwise(((left, bottom), (left, top), (right, top), (right, bottom))):
        marks += interrupted(stroke(a, b, layer="GRID"), boxes)
    profile.marks[:0] = marks


def _joins(profile: _ProfileView, number: int) -> None:
    """The ends of the profile where another sheet goes on: upright, in a riser level."""
    _, top, _, bottom = profile.setup.layout.profile
    count, span = len(profile.setup.stretches), profile.span
    joins = ((span.start, number - 1, -2.0), (span.end, number + 1, 4.0))
    for station, other, aside in joins:
        if not 1 <= other <= count:
            continue
        (x, y), told = profile.at(station), f"see sheet {profile.setup.in_set(other)}"
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
        line = stroke(*ends, layer="MATCH-LINES")
        profile.marks += [line, words]
        take_line(profile.room, np.asarray(line.points))
        profile.room.take(words.box)


# --- rows --------------------------------------------------------------------------------------


def _rows(profile: _ProfileView) -> None:
    """Stations, elevations, straights, grade and conduit under the profile, each in its row."""
    left, top, right, bottom = profile.setup.layout.rows
    unit = unit_label("length", profile.setup.system)
    cover = (COVER,) * profile.setup.layout.cover
    heights = (_STATION, _ELEVATION, *cover, _STRAIGHT, _GRADE, _CONDUIT)
    heads = (
        ("station", f"{unit}"),
        ("centerline", "elevation", unit),
        *((("cover", f"to grade, {unit}"),) * len(cover)),
        ("straights", unit),
        ("grade", ""),
        ("conduit", ""),
    )
    y = top
    for words, height in zip(heads, heights, strict=True):
        profile.marks.append(stroke((left, y), (right, y), layer="TABLE"))
        profile.marks += _head(left + 2.0, y, height, [w for w in words if w])
        y += height
    x = left + HEADS
    profile.marks.append(stroke((x, top), (x, bottom), layer="TABLE"))
    _station_row(profile, top)
    _elevation_row(profile, top + _STATION)
    _straight_rows(profile, top + _STATION + _ELEVATION + sum(cover))
    _conduit_row(profile, bottom - (bottom - y) - _CONDUIT)
    profile.marks.append(stroke((left, y), (right, y), layer="TABLE"))


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
    for station in multiples(profile.setup.interval, profile.span.start, profile.span.end):
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
    course, cover = profile.setup.course, profile.setup.pieces.cover
    for station, x, at in zip(
        stations, wanted, spread(wanted, _COLUMN, (left, right)), strict=True
    ):
        elbow = ((x, top), (x, top + 1.0), (at, top + 4.0), (at, top + 5.0))
        profile.marks.append(stroke(*elbow, layer="DIMENSIONS"))
        words = profile.setup.elevation(float(course.path.point(station)[2])).split()[0]
        words = fitted(words, SMALL, _ELEVATION - 6.0)
        y = top + 5.8
        profile.marks.append(
            letters(at + SMALL / 2, y, words, align="right", upright=True, layer="TEXT")
        )
        deep = (
            float(cover[np.argmin(np.abs(course.stations - station))]) if len(cover) else math.nan
        )
        if profile.setup.layout.cover and math.isfinite(deep):
            words = show(deep, "length", profile.setup.system).split()[0]
            y = top + _ELEVATION + 1.0
            over = letters(at + SMALL / 2, y, words, align="right", upright=True, layer="TEXT")
            profile.marks.append(over)


def _elevation_stations(profile: _ProfileView) -> list[float]:
    """Ends of the sheet, points, bend ends; of a level bend only the start."""
    path = profile.setup.course.path
    found = [profile.span.start, profile.span.end]
    for event in profile.flagged:
        found.append(event.station)
        if event.end > event.station and event.end <= profile.span.end:
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
    """The true length of each straight as a dimension, and its grade, where they fit.

    A length that is wider than its dimension stands beside it where no other dimension is.
    """
    system, view = profile.setup.system, profile.view
    parts = [(view.x(a), view.x(b), s, b - a) for s, a, b in profile.straights()]
    left, right = profile.setup.layout.rows[0] + HEADS, profile.setup.layout.rows[2]
    taken = [(a - 1.0, b + 1.0) for a, b, *_ in parts]
    for a, b, straight, shown in parts:
        words = show(straight.length, "length", system).split()[0]
        if shown < straight.length - 1e-6:
            words = f"{words} total"
        y = top + _STRAIGHT / 2
        measured = _measured(a, b, y, words)
        wide = text_width(words, SMALL)
        spots = ((b + 1.6, b + 1.6 + wide), (a - 1.6 - wide, a - 1.6))
        if measured and not any(isinstance(mark, Text) for mark in measured):
            for start, end in spots:
                clear = all(end < c or start > d for c, d in taken if (c, d) != (a - 1.0, b + 1.0))
                if clear and start > left + 0.5 and end < right - 0.5:
                    measured.append(letters(start, y + SMALL / 2, words, layer="DIMENSIONS"))
                    taken.append((start, end))
                    break
        profile.marks += measured
        if any(isinstance(mark, Text) for mark in measured):
            profile.told.add(straight.start)
        profile.marks += _centered(a, b, top + _STRAIGHT + _GRADE / 2, (straight.grade,), "TEXT")


def _measured(a: float, b: float, y: float, words: str) -> list[Mark]:
    """A dimension line from a to b with its words in a gap; the line alone where they are wider."""
    if b - a < 1.0:
        return []
    line = stroke((a, y), (b, y), layer="DIMENSIONS")
    marks: list[Mark] = [
        stroke((x - 0.7, y + 0.7), (x + 0.7, y - 0.7), layer="DIMENSION-ENDS") for x in (a, b)
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
    path, stretch = profile.setup.course.path, profile.span
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
            label, y = labels[i], top + _CONDUIT / 2
            wide, edge = text_width(label, SMALL), profile.setup.layout.rows[2] - 1.0
            if wide > b - a - 0.6 and j == len(labels) and b + 1.6 + wide < edge:
                profile.marks.append(letters(b + 1.6, y + SMALL / 2, label))
            else:  # what has no room is in the table, where it starts
                profile.marks += _centered(a, b, y, (label,), "TEXT")
            if start > stretch.start:
                profile.marks.append(stroke((a, top), (a, top + _CONDUIT), layer="TABLE"))
            if end < path.length and end < stretch.end:
                profile.marks.append(stroke((b, top), (b, top + _CONDUIT), layer="TABLE"))
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
