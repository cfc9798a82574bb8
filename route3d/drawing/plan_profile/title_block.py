"""The title block of a sheet: what, for whom, scale, key plan, revisions, signatures, number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from route3d.disk import file_mark
from route3d.drawing.labels import LabelRoom
from route3d.drawing.marks import BLACK, Mark, Rect, Shape, inset
from route3d.drawing.plan_profile.flags import SHEET, Flag, place, take_line
from route3d.drawing.plan_profile.layout import PAPER_NAMES, Scale, SheetLayout, round_step
from route3d.drawing.plan_profile.linework import (
    LARGE,
    PLAIN,
    SMALL,
    frame,
    letters,
    ruled,
    snug,
    stroke,
)
from route3d.drawing.plan_profile.setup import Setup
from route3d.drawing.text_width import plain, text_width, wrapped
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.origin import Revision
from route3d.planning.result import CAUTIONS
from route3d.units import convert, show, unit_label

_FOOT = 8.5  # of the title block: two lines of small words
# Shares of the width that the cells take: what, scale, key plan, revisions, signatures, number.
_CELLS = (0.22, 0.16, 0.12, 0.27, 0.14, 0.09)
_BAR = 38.0  # the scale bar is at most so long, mm
_LINE = 3.7  # from line to line, mm
_CHORD = 0.1  # mm that lines of the key plan may leave the run
_MOST_NUMBERED = 24  # sheets that the key plan numbers


@dataclass(frozen=True, slots=True, eq=False)
class Titled:
    """What the title block of one sheet says; ``scale`` is None where every view has its own.

    ``lines`` say what the sheet shows, ``number`` of ``total`` is its number in the set. The key
    plan has the runs of ``shown``, and of the first the sheet ``here``; 0 for none.
    """

    job: Job
    layout: SheetLayout
    system: str
    paper: str
    lines: tuple[str, ...]
    scale: Scale | None
    number: int
    total: int
    shown: tuple[Setup, ...]
    here: int = 0


def title_block(told: Titled) -> list[Mark]:
    """The marks of a title block."""
    left, top, right, bottom = told.layout.strip
    foot = bottom - _FOOT
    edges = [left, *(left + (right - left) * np.cumsum(_CELLS)).tolist()]
    marks: list[Mark] = [stroke((left, foot), (right, foot), layer="TABLE")]
    marks += [stroke((x, top), (x, foot), layer="TABLE") for x in edges[1:-1]]
    cells = [(a + 2.0, top, b - 2.0, foot) for a, b in pairwise(edges)]
    marks += _what(told, cells[0])
    marks += _scale(told, cells[1])
    marks += _key_plan(told, cells[2])
    marks += _revisions(told.job.document.revisions, cells[3])
    marks += _signatures(told, cells[4])
    marks += _number(told, cells[5])
    return marks + _small_print(told.job, told.system, left + 2.5, foot, right - left - 5)


def _lines(text: str, height: float, width: float, most: int, *, bold: bool = False) -> list[str]:
    """A text in at most so many lines; the last one has all that is left."""

    def measure(words: str, size: float, heavy: bool) -> tuple[float, float]:
        return text_width(words, size, bold=heavy), size

    found = wrapped(plain(text), width, height, bold, measure)
    return found if len(found) <= most else [*found[: most - 1], " ".join(found[most - 1 :])]


def _what(told: Titled, cell: Rect) -> list[Mark]:
    """Title of the job, what the sheet shows, client and job."""
    x, y, width = cell[0], cell[1], cell[2] - cell[0]
    title, document = plain(told.job.title), told.job.document
    size = next((h for h in (LARGE, 3.0) if text_width(title, h, bold=True) <= width), PLAIN)
    marks: list[Mark] = []
    for line in _lines(title, size, width, 2, bold=True):
        y += size + 2.1
        marks.append(snug(x, y, line, width, size, bold=True))
    room = int((cell[3] - 0.8 - y) / _LINE)
    given = sum(map(bool, (document.client, document.job))) + len(told.lines)
    most = 2 if room > given else 1
    for name, text in (("client", document.client), ("job", document.job)):
        for line in _lines(f"{name}: {text}", SMALL, width, most) if text else ():
            y += _LINE
            marks.append(snug(x, y, line, width))
    room = int((cell[3] - 0.8 - y) / _LINE)
    for most in (3, 2, 1):
        lines = [line for text in told.lines for line in _lines(text, SMALL, width, most)]
        if len(lines) <= room:
            break
    else:
        lines = list(told.lines[:room])
    for line in lines:
        y += _LINE
        marks.append(snug(x, y, line, width))
    return marks


def _scale(told: Titled, cell: Rect) -> list[Mark]:
    """The scale in words and as a bar of a round length; paper and units."""
    x, top, width, system = cell[0], cell[1], cell[2] - cell[0], told.system
    words = "scales: as noted" if told.scale is None else told.scale.words(system)
    size = next((h for h in (PLAIN, SMALL) if text_width(words, h, bold=True) <= width), SMALL)
    marks: list[Mark] = [
        snug(x, top + 4.4, words, width, size, bold=True),
        snug(x, top + 8.2, f"on {PAPER_NAMES[told.paper]} paper", width),
    ]
    length, radius = (unit_label(q, system) for q in ("length", "radius"))
    units = f"lengths {length}, radii {radius}" if length != radius else f"lengths, radii {length}"
    marks.append(snug(x, top + 23.6, units, width))
    if told.scale is not None:
        marks += _bar(told.scale, system, x + 1.5, top + 13.4, min(_BAR, width - 11))
    return marks


def _bar(scale: Scale, system: str, x: float, y: float, room: float) -> list[Mark]:
    step = round_step(room / scale.mm / 2.0001, system)
    if 2 * step * scale.mm > room:
        step /= 2
    marks: list[Mark] = []
    half = 0.75
    ends = [x + k * step * scale.mm for k in range(3)]
    for a, b, up in ((ends[0], ends[1], -1), (ends[1], ends[2], 1)):
        marks.append(frame((a, y - half, b, y + half), layer="TABLE"))
        filled = np.array([(a, y), (b, y), (b, y + up * half), (a, y + up * half)])
        marks.append(Shape(filled, BLACK, layer="TABLE"))
    for k in range(3):
        figure = f"{round(convert(k * step, 'length', system), 6):g}"
        marks.append(letters(ends[k], y + 4.2, figure, align="middle"))
    return [*marks, letters(ends[2] + 3.0, y + 0.8, unit_label("length", system))]


# --- key plan ------------------------------------------------------------------------------------


def _key_plan(told: Titled, cell: Rect) -> list[Mark]:
    """The runs small, the stretches of the sheets with their numbers, this one heavy."""
    marks: list[Mark] = [letters(cell[0], cell[1] + 4.0, "key plan")]
    box = (cell[0], cell[1] + 5.0, cell[2], cell[3] - 0.6)
    paths = [setup.course.points[:, :2] for setup in told.shown]
    if not paths:
        return marks
    low = np.min([p.min(axis=0) for p in paths], axis=0)
    high = np.max([p.max(axis=0) for p in paths], axis=0)
    inner = inset(box, 3.2)
    size = np.maximum(high - low, 1e-6)
    mm = float(min((inner[2] - inner[0]) / size[0], (inner[3] - inner[1]) / size[1]))
    middle = np.array([(box[0] + box[2]) / 2, (box[1] + box[3]) / 2])

    def on(points: Floats) -> Floats:
        step = (points[:, :2] - (low + high) / 2) * mm
        return np.column_stack((middle[0] + step[:, 0], middle[1] - step[:, 1]))

    room = LabelRoom(inset(box, -0.4), SHEET)
    for i, setup in enumerate(told.shown):
        few = setup.course.path.sample(_CHORD / mm)
        points = setup.course.path.point(few)
        take_line(room, on(points))
        for k, span in enumerate(setup.stretches, 1):
            ends = setup.course.path.point(np.array([span.start, span.end]))
            inside = points[(few > span.start) & (few < span.end)]
            line = on(np.vstack((ends[:1], inside, ends[1:])))
            layer = "KEY-SHEET" if i == 0 and k == told.here else "KEY"
            marks.append(ruled(line, layer=layer))
            if k > 1:
                marks.append(_tick(line))
    for setup in told.shown:
        for k, span in enumerate(setup.stretches[:_MOST_NUMBERED], 1):
            spot = on(setup.course.path.point(np.array([(span.start + span.end) / 2])))[0]
            x, y = spot.tolist()
            words = (str(setup.in_set(k)),)
            flag = Flag(x, y, words, layer="KEY", first=0.8, near=0.2, reach=5.0, leader=False)
            marks += place(flag, room) or []
    return marks


def _tick(line: Floats) -> Mark:
    """A short stroke across the start of a line."""
    way = line[min(1, len(line) - 1)] - line[0]
    long = float(np.hypot(*way))
    across = np.array([-way[1], way[0]]) / long if long > 1e-9 else np.array([0.0, 1.0])
    return ruled(np.array([line[0] - 1.1 * across, line[0] + 1.1 * across]), layer="KEY")


# --- revisions, signatures, number ---------------------------------------------------------------


def _revisions(revisions: Sequence[Revision], cell: Rect) -> list[Mark]:
    """The last revisions, the latest at the bottom; how many came before."""
    left, top, right, foot = cell
    columns = (left, left + 6.5, left + 25.5, right - 9.0)
    marks: list[Mark] = [
        letters(x, top + 4.0, name)
        for x, name in zip(columns, ("rev.", "date", "revision", "by"), strict=True)
    ]
    y = top + 5.2
    marks.append(stroke((left - 2.0, y), (right + 2.0, y), layer="TABLE"))
    room = int((foot - y) / _LINE)
    wide = right - 10.0 - columns[2]
    spare = room - len(revisions)  # for second lines, the latest first
    whats: dict[int, list[str]] = {}
    for k in reversed(range(len(revisions))):
        lines = _lines(revisions[k].what, SMALL, wide, 2 if spare > 0 else 1)
        spare -= len(lines) - 1
        whats[id(revisions[k])] = lines
    shown = list(revisions[-room:]) if len(revisions) <= room else list(revisions[1 - room :])
    earlier = len(revisions) - len(shown)
    if earlier:
        y += _LINE
        said = f"{earlier} earlier: see the model file"
        marks.append(snug(left, y - 1.0, said, right - left))
    for revision in shown:
        y += _LINE
        first, *more = whats[id(revision)] or [""]
        cells = (revision.mark, revision.date, first, revision.by)
        ends = (*(x - 1.0 for x in columns[1:]), right + 1.4)
        for x, end, text in zip(columns, ends, cells, strict=True):
            if text:
                marks.append(snug(x, y - 1.0, text, end - x))
        for words in more:
            y += _LINE
            marks.append(snug(columns[2], y - 1.0, words, wide))
    for k in range(1, room):
        line = top + 5.2 + k * _LINE
        marks.append(stroke((left - 2.0, line), (right + 2.0, line), layer="TABLE"))
    return marks


def _signatures(told: Titled, cell: Rect) -> list[Mark]:
    """Who drew, checked and approved, with room to sign, and the date."""
    left, top, right, _ = cell
    document = told.job.document
    marks: list[Mark] = []
    named = (("drawn", document.made), ("checked", document.checked),
             ("approved", document.approved), ("date", document.date))  # fmt: skip
    for i, (name, text) in enumerate(named):
        base = top + 4.8 + 6.3 * i
        marks.append(letters(left, base, name))
        marks.append(stroke((left + 15, base + 0.8), (right, base + 0.8), layer="TABLE"))
        if text:
            marks.append(snug(left + 15.5, base, plain(text), right - left - 15.5))
    return marks


def _number(told: Titled, cell: Rect) -> list[Mark]:
    left, top, right, _ = cell
    width, document = right - left, told.job.document
    cells = [
        ("drawing no.", document.number),
        ("revision", document.revision),
        ("sheet", f"{told.number} of {told.total}"),
    ]
    marks: list[Mark] = []
    for i, (name, text) in enumerate(cells):
        y = top + 8.5 * i
        marks.append(letters(left, y + 3.3, name))
        if text:
            marks.append(snug(left, y + 7.3, plain(text), width, PLAIN, bold=True))
        if i:
            marks.append(stroke((left - 2.0, y), (right + 2.0, y), layer="TABLE"))
    return marks


def _small_print(job: Job, system: str, x: float, top: float, width: float) -> list[Mark]:
    from route3d import __version__

    rules = job.practice
    assumed = " (assumed)" if rules.rules_assumed else ""
    made = f"rules {rules.rule_set.title}{assumed}  route3d {__version__}"
    if job.path is not None:
        made += f"  model file {plain(job.path.name)}, SHA-256 {file_mark(job.path)}"
    frame_of = job.site.frame
    if frame_of.origin is not None or frame_of.crs:
        made += f"  grid {frame_of.crs or 'of the site'}"
        if frame_of.origin is not None:
            places = (show(v, "length", system).split()[0] for v in frame_of.origin)
            made += f", origin {', '.join(places)} {unit_label('length', system)}"
    return [
        snug(x, top + 3.4, CAUTIONS[0], width),
        snug(x, top + 7.0, made, width),
    ]
