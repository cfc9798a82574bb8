"""Plan and profile of a run on sheets, in paper mm.

Plan above, profile below, or beside it for a tall run, both at one round scale. The profile is
developed along the plan: elevation against the distance gone in plan, so that slopes are true where
heights are not exaggerated and a riser is vertical. Against the station a plumb riser would lean
at 45 degrees. The table holds everything flagged on the sheet, and says what the views had no room
for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.drawing import pdf, svg
from route3d.drawing.marks import Mark
from route3d.drawing.plan_profile.frame import frame_marks
from route3d.drawing.plan_profile.layout import PAD, PlanView, ProfileView, Scale, turned
from route3d.drawing.plan_profile.plan import plan_marks
from route3d.drawing.plan_profile.profile import profile_marks
from route3d.drawing.plan_profile.setup import MOST_SHEETS, Setup, SheetSpan, set_up
from route3d.geometry.grade import Grade
from route3d.model.job import Job
from route3d.model.run import Run


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


def run_sheets(
    job: Job,
    run: Run,
    system: str,
    *,
    paper: str,
    scale: Scale | None = None,
    most: int = MOST_SHEETS,
    grade: Grade | None = None,
) -> tuple[DrawingSheet, ...]:
    """The sheets of one run at ``scale``, or at the largest round one it fits a single sheet at.

    A long run takes several sheets, but no more than ``most``, at the largest scale they allow.
    The profile shows the ``grade`` where it is given.

    Raises InputError where the scale would need too many sheets.
    """
    setup = set_up(job, run, system, paper=paper, scale=scale, most=most)
    setup = setup if grade is None else replace(setup, grade=grade)
    sheets = []
    for number, stretch in enumerate(setup.stretches, 1):
        plan, profile = _plan_view(setup, stretch), _profile_view(setup, stretch)
        marks, left_out = plan_marks(setup, number, plan)
        more, also = profile_marks(setup, number, profile)
        outer = frame_marks(setup, number, plan, (*left_out, *also))
        sheets.append(DrawingSheet(setup, number, plan, profile, (*outer, *marks, *more)))
    return tuple(sheets)


def sheet_svg(sheet: DrawingSheet) -> str:
    """One sheet, true to scale where it is printed at 100 %; the same sheet gives the same text."""
    layout = sheet.setup.layout
    return svg.document(sheet.marks, (layout.width, layout.height), unit="mm")


def sheets_pdf(sheets: Sequence[DrawingSheet], title: str) -> bytes:
    """The sheets as pages of the size of their paper; the same sheets give the same bytes."""
    sizes = [(s.setup.layout.width, s.setup.layout.height) for s in sheets]
    return pdf.pages_pdf(list(zip(map(sheet_svg, sheets), sizes, strict=True)), title)


# --- views -------------------------------------------------------------------------------------


def _plan_view(setup: Setup, stretch: SheetSpan) -> PlanView:
    """The stretch in the middle of the plan."""
    points = setup.course.path.point(setup.course.between(stretch.start, stretch.end))
    x, y = turned(points, stretch.turn)
    middle = (float(x.max() + x.min()) / 2, float(y.max() + y.min()) / 2)
    cos, sin = math.cos(stretch.turn), math.sin(stretch.turn)
    focus = (cos * middle[0] + sin * middle[1], -sin * middle[0] + cos * middle[1])
    left, top, right, bottom = setup.layout.plan
    at = ((left + right) / 2, (top + bottom) / 2)
    return PlanView(stretch.turn, setup.scale.mm, focus, at)


def _profile_view(setup: Setup, stretch: SheetSpan) -> ProfileView:
    """The stretch from the left of the profile, its heights in the middle."""
    points = setup.course.path.point(setup.course.between(stretch.start, stretch.end))
    left, top, _, bottom = setup.layout.profile
    per_meter = setup.scale.mm * setup.exaggeration
    middle = float(points[:, 2].max() + points[:, 2].min()) / 2
    low = middle - (bottom - top) / 2 / per_meter
    course, mm = setup.course, setup.scale.mm
    start = float(np.interp(stretch.start, course.stations, course.level))
    at = left + PAD
    return ProfileView(
        mm, setup.exaggeration, course.stations, course.level, start, low, at, bottom
    )
