"""Plan and profile of a run on sheets, in paper mm, and the set of sheets of a job.

Plan above, profile below, or beside it for a tall run, both at one round scale. The profile is
developed along the plan: elevation against the distance gone in plan, so that slopes are true where
heights are not exaggerated and a riser is vertical. Against the station a plumb riser would lean
at 45 degrees. The table holds everything flagged on the sheet, and says what the views had no room
for. In a set that goes to sheets with sections and details.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.drawing import pdf, svg
from route3d.drawing.layers import styled
from route3d.drawing.marks import Mark, Rect, Text, moved
from route3d.drawing.plan_profile.course import letters as letter_of
from route3d.drawing.plan_profile.details import detail_view, joined, needed
from route3d.drawing.plan_profile.flags import DrawnView, broken
from route3d.drawing.plan_profile.frame import frame_marks, heading, unconfirmed
from route3d.drawing.plan_profile.layout import (
    HEADER,
    PAD,
    PlanView,
    ProfileView,
    Scale,
    SheetLayout,
    turned,
)
from route3d.drawing.plan_profile.linework import SMALL, frame, letters
from route3d.drawing.plan_profile.plan import plan_marks
from route3d.drawing.plan_profile.profile import profile_marks
from route3d.drawing.plan_profile.sections import (
    LargeView,
    Section,
    lettered,
    section_scales,
    section_view,
    sections_of,
)
from route3d.drawing.plan_profile.setting_out import setting_out
from route3d.drawing.plan_profile.setup import (
    MOST_SHEETS,
    Setup,
    SheetSpan,
    box_heights,
    boxes_in,
    heights_of,
    set_up,
)
from route3d.drawing.plan_profile.surroundings import NOTHING, Surroundings
from route3d.drawing.plan_profile.title_block import Titled, title_block
from route3d.drawing.text_width import CAPITAL, text_width
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.units import show

_PASSES = 4  # details found to be needed once those of the pass before are taken out
_GAP = 9.0  # between views of a sheet of details, mm
_TITLE, _LINE, _NARROWEST = 11.5, 3.5, 60.0  # height of title and scale, of a line; width, mm


@dataclass(frozen=True, slots=True, eq=False)
class DrawingSheet:
    """One finished sheet: its marks in drawing order, and the two views they belong to."""

    setup: Setup
    number: int
    plan: PlanView
    profile: ProfileView
    marks: tuple[Mark, ...]

    @property
    def stretch(self) -> SheetSpan:
        """The stations it shows."""
        return self.setup.stretches[self.number - 1]

    @property
    def layout(self) -> SheetLayout:
        """Where things are on it."""
        return self.setup.layout

    @property
    def name(self) -> str:
        """What its layout is called in CAD."""
        return f"{self.setup.course.run.name} sheet {self.setup.in_set(self.number)}"


@dataclass(frozen=True, slots=True, eq=False)
class ViewSheet:
    """A finished sheet of sections and details."""

    layout: SheetLayout
    name: str
    views: tuple[LargeView, ...]
    marks: tuple[Mark, ...]


Sheet = DrawingSheet | ViewSheet


def run_sheets(
    job: Job,
    run: Run,
    system: str,
    *,
    paper: str,
    scale: Scale | None = None,
    most: int = MOST_SHEETS,
    around: Surroundings = NOTHING,
) -> tuple[DrawingSheet, ...]:
    """The sheets of one run at ``scale``, or at the largest round one it fits a single sheet at.

    A long run takes several sheets, but no more than ``most``, at the largest scale they allow.

    Raises InputError where the scale would need too many sheets.
    """
    setup = set_up(job, run, system, paper=paper, scale=scale, most=most, around=around)
    return tuple(_sheet(setup, number) for number in range(1, len(setup.stretches) + 1))


def job_sheets(
    job: Job,
    runs: Sequence[Run],
    system: str,
    *,
    paper: str,
    scale: Scale | None = None,
    around: Surroundings = NOTHING,
    draft: bool = False,
) -> tuple[Sheet, ...]:
    """The set of sheets to issue: plan and profile of each run, then sections and details.

    Raises InputError where the scale would need too many sheets.
    """
    setups = []
    before = 0
    for run in runs:
        setup = set_up(job, run, system, paper=paper, scale=scale, around=around)
        setups.append(replace(setup, before=before, draft=draft, breaks_out=True))
        before += len(setup.stretches)
    names = (letter for k in range(10_000) if (letter := letter_of(k)) not in ("I", "O"))
    sections = [lettered(sections_of(setup), names) for setup in setups]
    found = [
        _with_details(replace(s, total=before, cuts=tuple(_cuts(taken, before + 1))))
        for s, taken in zip(setups, sections, strict=True)
    ]
    drawn = [views for _, views in found]
    setups = [setup for setup, _ in found]
    setups = [
        replace(s, details=tuple(replace(d, letter=next(names)) for d in s.details)) for s in setups
    ]
    return _numbered(setups, sections, drawn)


def _cuts(sections: Sequence[Section], sheet: int) -> Iterator:  # type: ignore[type-arg]
    for taken in sections:
        yield replace(taken.cut, sheet=sheet)


def _with_details(setup: Setup) -> tuple[Setup, dict[int, _Views]]:
    """The setup with the details that its sheets need, and the views as drawn so.

    A detail changes what has room in the views it is taken from.
    """
    views: dict[int, _Views] = {}
    for _ in range(_PASSES):
        for number in range(1, len(setup.stretches) + 1):
            if number not in views:
                views[number] = _views(setup, number)
        told = {start for _, profile, *_ in views.values() for start in profile.told}
        more = [
            detail
            for number, (plan, profile, *_) in views.items()
            for detail in needed(setup, number, plan, profile, told)
            if not any(
                d.view == detail.view and d.holds(detail.start, detail.end) for d in setup.details
            )
        ]
        if not more:
            break
        details = joined(setup, (*setup.details, *more))
        named = (replace(d, letter="X", sheet=setup.total + 1) for d in details)
        setup = replace(setup, details=tuple(named))
        views = {k: v for k, v in views.items() if not _taken_from(setup, k)}
    return setup, views


def _taken_from(setup: Setup, number: int) -> bool:
    """Whether a section or detail is taken from a sheet: its marks name the sheet that has it."""
    span = setup.stretches[number - 1]
    cut = any(span.start <= cut.station <= span.end for cut in setup.cuts)
    return cut or any(d.start < span.end and d.end > span.start for d in setup.details)


def _numbered(
    setups: Sequence[Setup],
    sections: Sequence[Sequence[Section]],
    drawn: Sequence[dict[int, _Views]],
) -> tuple[Sheet, ...]:
    """All sheets, with their numbers in the set; views that are ``drawn`` already stay."""
    taken = [(s, section) for s, own in zip(setups, sections, strict=True) for section in own]
    views = [
        section_view(*one, scale) for one, scale in zip(taken, section_scales(taken), strict=True)
    ]
    views += [detail_view(setup, detail) for setup in setups for detail in setup.details]
    views += [table for setup in setups for table in setting_out(setup)]
    first = setups[0]
    pages = _packed(views, first.layout)
    count = sum(len(setup.stretches) for setup in setups)
    total = count + len(pages)
    on_page = {views[i].title: count + k for k, page in enumerate(pages, 1) for i, _ in page}
    sheets: list[Sheet] = []
    done = []
    for setup, ready in zip(setups, drawn, strict=True):
        cuts = tuple(
            replace(c, sheet=on_page[f"SECTION {c.letter}-{c.letter}"]) for c in setup.cuts
        )
        details = tuple(replace(d, sheet=on_page[f"DETAIL {d.letter}"]) for d in setup.details)
        done.append(replace(setup, total=total, cuts=cuts, details=details))
        for number in range(1, len(setup.stretches) + 1):
            kept = None if _taken_from(done[-1], number) else ready.get(number)
            sheets.append(_sheet(done[-1], number, kept))
    for k, page in enumerate(pages, 1):
        placed = [(views[i], at) for i, at in page]
        sheets.append(_view_sheet(done, placed, count + k, total))
    return tuple(sheets)


def sheet_svg(sheet: Sheet) -> str:
    """One sheet, true to scale where it is printed at 100 %; the same sheet gives the same text."""
    layout = sheet.layout
    return svg.document(sheet.marks, (layout.width, layout.height), unit="mm")


def sheets_pdf(sheets: Sequence[Sheet], title: str) -> bytes:
    """The sheets as pages of the size of their paper; the same sheets give the same bytes."""
    sizes = [(s.layout.width, s.layout.height) for s in sheets]
    return pdf.pages_pdf(list(zip(map(sheet_svg, sheets), sizes, strict=True)), title)


# --- plan and profile ----------------------------------------------------------------------------


_Views = tuple[DrawnView, DrawnView, PlanView, ProfileView]


def _views(setup: Setup, number: int) -> _Views:
    stretch = setup.stretches[number - 1]
    plan, profile = _plan_view(setup, stretch), _profile_view(setup, stretch)
    return plan_marks(setup, number, plan), profile_marks(setup, number, profile), plan, profile


def _sheet(setup: Setup, number: int, kept: _Views | None = None) -> DrawingSheet:
    drawn, developed, plan, profile = kept or _views(setup, number)
    left_out = [*drawn.left_out, *developed.left_out]
    if setup.breaks_out:  # what no detail has taken; the table has it
        for start, end in (*drawn.unplaced, *developed.unplaced):
            if not any(d.holds(start, end) for d in setup.details):
                left_out.append(f"at sta {show(start, 'length', setup.system)}")
    outer = frame_marks(setup, number, left_out)
    marks = (*outer, *drawn.marks, *developed.marks)
    return DrawingSheet(setup, number, plan, profile, _finished(setup, setup.layout, marks))


def _finished(setup: Setup, layout: SheetLayout, marks: Sequence[Mark]) -> tuple[Mark, ...]:
    """Marks with the pens of their layers, over the word DRAFT where it is one."""
    under = [_draft(layout)] if setup.draft else []
    return styled((*under, *marks))


def _draft(layout: SheetLayout) -> Text:
    left, top, right, bottom = layout.views
    size = 0.7 * (right - left) / text_width("DRAFT", CAPITAL, bold=True)
    size = min(size, 0.6 * (bottom - top))
    middle = ((left + right) / 2, (top + bottom) / 2 + size * CAPITAL / 2)
    return Text(middle, "DRAFT", size, bold=True, align="middle", base=True, layer="DRAFT")


def _plan_view(setup: Setup, stretch: SheetSpan) -> PlanView:
    """The stretch in the middle of the plan."""
    points = setup.course.path.point(setup.course.between(stretch.start, stretch.end))[:, :2]
    boxes = boxes_in(setup, stretch.start, stretch.end)
    points = np.vstack((points, *(box.plan.points for box in boxes)))
    x, y = turned(points, stretch.turn)
    middle = (float(x.max() + x.min()) / 2, float(y.max() + y.min()) / 2)
    cos, sin = math.cos(stretch.turn), math.sin(stretch.turn)
    focus = (cos * middle[0] + sin * middle[1], -sin * middle[0] + cos * middle[1])
    left, top, right, bottom = setup.layout.plan
    at = ((left + right) / 2, (top + bottom) / 2)
    return PlanView(stretch.turn, setup.scale.mm, focus, at)


def _profile_view(setup: Setup, stretch: SheetSpan) -> ProfileView:
    """The stretch from the left of the profile, its heights in the middle."""
    course, mm = setup.course, setup.scale.mm
    points = course.path.point(course.between(stretch.start, stretch.end))
    left, top, _, bottom = setup.layout.profile
    per_meter = mm * setup.exaggeration
    boxes = boxes_in(setup, stretch.start, stretch.end)
    walls = box_heights(setup, stretch.start, stretch.end)
    choices = (heights_of(setup, stretch.start, stretch.end),
               np.concatenate((points[:, 2], walls)), points[:, 2])  # fmt: skip
    fitting = (z for z in choices if float(np.ptp(z)) * per_meter <= bottom - top - 12.0)
    heights = next(fitting, points[:, 2])
    middle = float(heights.max() + heights.min()) / 2
    low = middle - (bottom - top) / 2 / per_meter
    start = float(np.interp(stretch.start, course.stations, course.level))
    before = max((start - float(b.profile.points[:, 0].min()) for b in boxes), default=0.0)
    at = left + PAD + mm * max(before, 0.0)
    return ProfileView(
        mm, setup.exaggeration, course.stations, course.level, start, low, at, bottom
    )


# --- sections and details ------------------------------------------------------------------------

_Page = list[tuple[int, tuple[float, float]]]


def _packed(views: Sequence[LargeView], layout: SheetLayout) -> list[_Page]:
    """Views in rows on as few sheets as they take: their numbers and where their corners go."""
    left, top, right, bottom = layout.views
    room = (left + 5.0, top + HEADER + 3.0, right - 5.0, bottom - 3.0)
    rows: list[list[int]] = []
    used = math.inf
    for i, view in enumerate(views):
        wide = _size(view)[0]
        if used + wide > room[2] - room[0]:
            rows.append([])
            used = 0.0
        rows[-1].append(i)
        used += wide + _GAP
    pages: list[list[list[int]]] = []
    deep = math.inf
    for row in rows:
        high = max(_size(views[i])[1] for i in row)
        if deep + high > room[3] - room[1]:
            pages.append([])
            deep = 0.0
        pages[-1].append(row)
        deep += high + _GAP
    return [_spread(page, views, room) for page in pages]


def _size(view: LargeView) -> tuple[float, float]:
    """Of a view with its title, mm."""
    left, top, right, bottom = view.box
    wide = max(right - left, _NARROWEST)
    return wide, bottom - top + _TITLE + _LINE * len(_said(view, wide))


def _said(view: LargeView, wide: float) -> tuple[str, ...]:
    return broken((view.said,), wide)


def _spread(rows: Sequence[Sequence[int]], views: Sequence[LargeView], room: Rect) -> _Page:
    """Views of a sheet with what is free shared between them."""
    highs = [max(_size(views[i])[1] for i in row) for row in rows]
    down = min((room[3] - room[1] - sum(highs)) / (len(rows) + 1), 30.0)
    found: _Page = []
    y = room[1] + down
    for row, high in zip(rows, highs, strict=True):
        wides = [_size(views[i])[0] for i in row]
        gap = min((room[2] - room[0] - sum(wides)) / (len(row) + 1), 45.0)
        x = room[0] + gap
        for i, wide in zip(row, wides, strict=True):
            found.append((i, (x, y + high - _size(views[i])[1])))
            x += wide + gap
        y += high + down
    return found


def _view_sheet(
    setups: Sequence[Setup],
    placed: Sequence[tuple[LargeView, tuple[float, float]]],
    number: int,
    total: int,
) -> ViewSheet:
    setup = setups[0]
    layout = setup.layout
    marks: list[Mark] = [
        frame(layout.frame, layer="BORDER"),
        frame(layout.strip),
        *heading(layout.views, "SECTIONS, DETAILS AND SETTING OUT", ["scales as noted"]),
        *unconfirmed(setup.job, layout.views),
    ]
    for view, (x, y) in placed:
        left, top, right, bottom = view.box
        wide = _size(view)[0]
        shift = (x - left + (wide - (right - left)) / 2, y - top)
        marks += [moved(mark, shift) for mark in view.marks]
        base, middle = y + bottom - top, x + wide / 2
        marks.append(letters(middle, base + 6.0, view.title, 2.5, "middle", bold=True))
        scale = () if view.scale is None else (view.scale.words(setup.system),)
        told = (*scale, *_said(view, wide))
        for i, line in enumerate(told):
            marks.append(letters(middle, base + 10.0 + _LINE * i, line, SMALL, "middle"))
    runs = ", ".join(s.course.run.name for s in setups)
    lines = ("Sections, details, setting out", f"Run{'s' * (len(setups) > 1)} {runs}")
    shown = tuple(setups)
    marks += title_block(
        Titled(setup.job, layout, setup.system, setup.paper, lines, None, number, total, shown)
    )
    views = tuple(view for view, _ in placed)
    name = f"Details sheet {number}"
    return ViewSheet(layout, name, views, _finished(setup, layout, marks))
