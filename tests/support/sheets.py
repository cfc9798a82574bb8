"""Sheets for tests, what stands on them, and what must hold of every one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np

from route3d.drawing.marks import Line, Rect, Ring, Text, overlap
from route3d.drawing.plan_profile.layout import Scale
from route3d.drawing.plan_profile.setup import on_sheet
from route3d.drawing.plan_profile.sheets import DrawingSheet, run_sheets
from route3d.model import Job, Run
from route3d.modelfile.read import load
from tests.support.jobs import along, conduit, run

MODELS = Path(__file__).parents[2] / "models"
DEMOS = ("riser_duct_bank", "roof_drop", "yard_run")


def job_of(one: Run, units: str = "SI", title: str = "Ferry terminal") -> Job:
    return Job(title, units, (one,))


def straight(length: float = 10.0) -> Run:
    return run(along(([[0, 0, 0], [length, 0, 0]], [0, 0]), conduit()))


def drawn(
    one: Run, paper: str = "a3", units: str = "SI", scale: float | None = None
) -> list[DrawingSheet]:
    wanted = Scale(scale) if scale else None
    return list(run_sheets(job_of(one, units), one, units, paper=paper, scale=wanted))


def demo(name: str, paper: str) -> list[DrawingSheet]:
    job = load(MODELS / f"{name}.toml")
    return [s for one in job.runs for s in run_sheets(job, one, job.units, paper=paper)]


def words_of(sheet: DrawingSheet) -> list[Text]:
    return [m for m in sheet.marks if isinstance(m, Text)]


def lines_of(sheet: DrawingSheet, layer: str) -> list[Line]:
    return [m for m in sheet.marks if isinstance(m, Line) and m.layer == layer and not m.dash]


def outline(sheet: DrawingSheet) -> list[Rect]:
    boxes = [w.box for w in words_of(sheet)]
    for mark in sheet.marks:
        if isinstance(mark, Line) and np.isfinite(mark.points).any():
            low, high = np.nanmin(mark.points, axis=0), np.nanmax(mark.points, axis=0)
            boxes.append((low[0], low[1], high[0], high[1]))
        elif isinstance(mark, Ring):
            (x, y), r = mark.at, mark.radius
            boxes.append((x - r, y - r, x + r, y + r))
    return boxes


def is_inside(box: Rect, frame: Rect) -> bool:
    slack = 1e-6
    return (
        box[0] >= frame[0] - slack
        and box[1] >= frame[1] - slack
        and box[2] <= frame[2] + slack
        and box[3] <= frame[3] + slack
    )


def assert_clean(sheets: Sequence[DrawingSheet]) -> None:
    for sheet in sheets:
        frame = sheet.setup.layout.frame
        assert [b for b in outline(sheet) if not is_inside(b, frame)] == []
        words = words_of(sheet)
        boxes = [(w.text, w.box) for w in words]
        over = [(a, b) for (a, one), (b, two) in combinations(boxes, 2) if overlap(one, two)]
        assert over == []
        assert min(w.height for w in words) >= 2.0
        for line in lines_of(sheet, "CENTERLINE"):
            x, y = walked(line.points)
            assert [text for text, box in boxes if struck(box, x, y)] == []


def walked(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A line through points, every 0.2 mm of it."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    where = np.linspace(0, along[-1], int(along[-1] / 0.2) + 2)
    return np.interp(where, along, points[:, 0]), np.interp(where, along, points[:, 1])


def struck(box: Rect, x: np.ndarray, y: np.ndarray) -> bool:
    """True where any of these points lies in a box."""
    return bool(((x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3])).any())


def assert_complete(sheets: Sequence[DrawingSheet]) -> None:
    """Every meter on one sheet, every bend and point in one table."""
    setup = sheets[0].setup
    ends = [(s.stretch.start, s.stretch.end) for s in sheets]
    assert ends[0][0] == 0.0
    assert ends[-1][1] == setup.course.path.length
    assert all(a[1] == b[0] for a, b in pairwise(ends))
    flagged = [m.mark for s in sheets for m in on_sheet(setup, s.number)]
    assert flagged == [m.mark for m in setup.course.marks]
    for sheet in sheets:
        left = sheet.setup.layout.table[0]
        told = {
            re.sub(r"^.*-(?=B\d+$)", "", w.text, flags=re.DOTALL)
            for w in words_of(sheet)
            if w.bold and left < w.at[0] < left + 8
        }
        assert {m.mark for m in on_sheet(setup, sheet.number)} <= told


def assert_labeled(sheets: Sequence[DrawingSheet]) -> None:
    """Every bend and point of a sheet has its number or letter in plan and in profile."""
    for sheet in sheets:
        for view in (sheet.setup.layout.plan, sheet.setup.layout.profile_part):
            told = [w.text for w in words_of(sheet) if w.bold and is_inside(w.box, view)]
            assert {m.mark for m in on_sheet(sheet.setup, sheet.number)} <= set(told)
