"""Around the views of a sheet: frame, headings, table of what is flagged, title block."""

from __future__ import annotations

from collections.abc import Sequence

from route3d.drawing.marks import Mark, Rect
from route3d.drawing.plan_profile.course import Event
from route3d.drawing.plan_profile.layout import HEADER, ROW
from route3d.drawing.plan_profile.linework import SMALL, frame, letters, snug, stroke
from route3d.drawing.plan_profile.profile import profile_words
from route3d.drawing.plan_profile.setup import Setup, on_sheet
from route3d.drawing.plan_profile.title_block import Titled, title_block
from route3d.drawing.text_width import fitted, plain, text_width
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.units import show, unit_label

# Columns of the table: head, the right edge of its figures (mm from the left of the table).
_COLUMNS = (("station", 28.0), ("straight", 41.5), ("elev.", 54.0), ("angle", 66.0))
_RADIUS, _LIES = 79.0, 80.8
_LABEL = 14.0  # room for the label of a bend


def frame_marks(setup: Setup, number: int, left_out: Sequence[str]) -> list[Mark]:
    """Everything on a sheet but its two views; ``left_out`` is what they had no room for."""
    layout = setup.layout
    parts = (layout.plan_part, layout.table, layout.profile_part)
    marks: list[Mark] = [frame(layout.frame, layer="BORDER"), frame(layout.strip)]
    marks += [frame(part) for part in parts]
    marks += heading(layout.plan_part, "PLAN", _plan_words(setup))
    marks += unconfirmed(setup.job, layout.plan_part)
    marks += heading(layout.profile_part, "PROFILE", profile_words(setup))
    marks += _table(setup, on_sheet(setup, number), left_out)
    marks += title_block(_titled(setup, number))
    return marks


def _plan_words(setup: Setup) -> list[str]:
    scale = setup.scale.words(setup.system)
    if setup.duct is None:
        return [scale]
    return [f"{scale}; run {setup.duct.words(setup.course.run.name, setup.system)}", scale]


def _titled(setup: Setup, number: int) -> Titled:
    run, path, system = setup.course.run, setup.course.path, setup.system
    total = f"{show(path.length, 'length', system)} of conduit, "
    total += f"{show(path.turn, 'angle', system)} total bend"
    if setup.duct is not None and setup.duct.length is not None:
        duct = f"duct {setup.duct.row}-{setup.duct.column}"
        long = show(setup.duct.length, "length", system)
        total = f"{long} in {duct}; as drawn {total.replace(' of conduit', '')}"
    return Titled(
        setup.job,
        setup.layout,
        system,
        setup.paper,
        (f"Run {run.name}: plan and profile", run.cables.describe(), total),
        setup.scale,
        setup.in_set(number),
        setup.total,
        (setup,),
        number,
    )


def heading(part: Rect, title: str, choices: Sequence[str]) -> list[Mark]:
    """The title of a view, and the first of the choices that has room behind it."""
    left, top, right, _ = part
    base = top + HEADER - 2.2
    start = left + 2.5 + 8.6 + 3.4 * (len(title) - 1)
    room = right - start - 2
    words = next((w for w in choices if text_width(w, SMALL) <= room), choices[-1])
    return [
        letters(left + 2.5, base, title, 2.6, bold=True),
        letters(start, base, fitted(words, SMALL, room), SMALL),
    ]


def unconfirmed(job: Job, part: Rect) -> list[Mark]:
    """Which values nobody has confirmed, at the right of the heading of the plan."""
    left, top, right, _ = part
    banner = plain(example_banner(job.examples))
    if not banner:
        return []
    words = fitted(banner, 2.5, 0.7 * (right - left), bold=True)
    return [letters(right - 2.5, top + HEADER - 2.2, words, 2.5, align="right", bold=True)]


# --- table -------------------------------------------------------------------------------------


def _table(setup: Setup, flagged: Sequence[Event], left_out: Sequence[str]) -> list[Mark]:
    """Every bend and point that starts on the sheet."""
    left, top, right, bottom = setup.layout.table
    length, radius = (unit_label(q, setup.system) for q in ("length", "radius"))
    heads = [*_COLUMNS, (f"R, {radius}", _RADIUS)]
    y = top + 5.0
    marks: list[Mark] = []
    for title, x in heads:
        marks.append(letters(left + x, y, title, align="right", bold=True))
    marks.append(letters(left + _LIES, y, "plane", bold=True))
    units = f"station, straight before, elevation of vertex: {length}"
    marks.append(letters(left + 1.6, y + 3.5, fitted(units, SMALL, right - left - 3)))
    y += 5.0
    marks.append(stroke((left, y), (right, y), layer="TABLE"))
    for event in flagged:
        marks += _row(setup, event, left, y + ROW - 1.1)
        y += ROW
        if event.words:
            room = right - left - 9.0
            marks.append(snug(left + 7.5, y + ROW - 1.3, event.words, room))
            y += ROW
        marks.append(stroke((left, y), (right, y), layer="TABLE"))
    marks += _foot(left, bottom, right - left, left_out)
    return marks


def _row(setup: Setup, event: Event, left: float, base: float) -> list[Mark]:
    system = setup.system

    def figure(value: float, quantity: str) -> str:
        return figure_of(show(value, quantity, system))

    def figure_of(words: str) -> str:
        return fitted(words.split()[0], SMALL, 12.6)

    cells = [
        (figure(event.station, "length"), 28.0),
        (figure(event.straight, "length") if event.station > 0 else "", 41.5),
        (figure_of(setup.elevation(event.elevation)), 54.0),
        (show(event.angle, "angle", system) if event.angle > 1e-4 else "", 66.0),
        (figure(event.radius, "radius") if event.is_bend else "", _RADIUS),
    ]
    label = label_of(setup.course.run, event)
    if text_width(label, SMALL, bold=True) > _LABEL:  # the run is in the title
        label = event.mark
    marks: list[Mark] = [letters(left + 1.6, base, label, bold=True)]
    marks += [letters(left + x, base, text, align="right") for text, x in cells if text]
    if event.lies:
        marks.append(letters(left + _LIES, base, event.lies))
    return marks


def label_of(run: Run, event: Event) -> str:
    """The label of a bend as in the bend schedule, such as F1-B03; of a point its number."""
    name = plain(run.name)
    return f"{name}-{event.mark}" if event.is_bend and name else event.mark


def _foot(left: float, bottom: float, width: float, left_out: Sequence[str]) -> list[Mark]:
    """What the marks mean, and what the views had no room for."""
    lines = ["B: bends (station at their start); P: points"]
    if left_out:
        lines.append(f"{len(left_out)} not labeled in the views, no room: {'; '.join(left_out)}")
    return [
        letters(left + 1.6, bottom - 1.6 - 3.3 * i, fitted(line, SMALL, width - 3))
        for i, line in enumerate(reversed(lines))
    ]
