"""Around the views of a sheet: frame, headings, table of what is flagged, title block."""

from __future__ import annotations

from collections.abc import Sequence

from route3d.disk import file_mark
from route3d.drawing.marks import Mark, Rect
from route3d.drawing.plan_profile.course import Event
from route3d.drawing.plan_profile.layout import HEADER, ROW, PlanView, round_step
from route3d.drawing.plan_profile.linework import (
    LARGE,
    MEDIUM,
    PLAIN,
    SMALL,
    THICK,
    frame,
    letters,
    stroke,
)
from route3d.drawing.plan_profile.plan import north_arrow
from route3d.drawing.plan_profile.profile import profile_words
from route3d.drawing.plan_profile.setup import Setup, on_sheet
from route3d.drawing.text_width import fitted, plain, text_width
from route3d.model.examples import example_banner
from route3d.planning.result import CAUTIONS
from route3d.units import convert, show, unit_label

_FOOT = 8.5  # of the title block: two lines of small words
_PAPER_NAMES = {"letter": "Letter", "tabloid": "Tabloid", "a4": "A4", "a3": "A3", "a1": "A1"}
# Shares of the width that the cells of the title block take.
_CELLS = (0.46, 0.24, 0.3)
_BAR = 38.0  # the scale bar is at most so long, mm
# Columns of the table: head, the right edge of its figures (mm from the left of the table).
_COLUMNS = (("", 4.5), ("station", 22.0), ("straight", 36.5), ("elev.", 51.0), ("angle", 62.5))
_RADIUS, _LIES = 79.0, 80.8


def frame_marks(setup: Setup, number: int, view: PlanView, left_out: Sequence[str]) -> list[Mark]:
    """Everything on a sheet but its two views; ``left_out`` is what they had no room for."""
    layout = setup.layout
    parts = (layout.plan_part, layout.table, layout.profile_part)
    marks: list[Mark] = [frame(layout.frame, THICK), frame(layout.strip, MEDIUM)]
    marks += [frame(part, MEDIUM) for part in parts]
    marks += _heading(layout.plan_part, "PLAN", [setup.scale.words(setup.system)])
    marks += _unconfirmed(setup, layout.plan_part)
    marks += _heading(layout.profile_part, "PROFILE", profile_words(setup))
    marks += north_arrow(layout.plan, view.turn)
    marks += _table(setup, on_sheet(setup, number), left_out)
    marks += _title_block(setup, number)
    return marks


def _heading(part: Rect, title: str, choices: Sequence[str]) -> list[Mark]:
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


def _unconfirmed(setup: Setup, part: Rect) -> list[Mark]:
    """Which values nobody has confirmed, at the right of the heading of the plan."""
    left, top, right, _ = part
    banner = plain(example_banner(setup.job.examples))
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
    marks.append(stroke((left, y), (right, y), layer="FRAME"))
    for event in flagged:
        marks += _row(setup, event, left, y + ROW - 1.1)
        y += ROW
        if event.words:
            room = right - left - 9.0
            marks.append(letters(left + 7.5, y + ROW - 1.3, fitted(event.words, SMALL, room)))
            y += ROW
        marks.append(stroke((left, y), (right, y), width=0.1, layer="FRAME"))
    marks += _foot(left, bottom, right - left, left_out)
    return marks


def _row(setup: Setup, event: Event, left: float, base: float) -> list[Mark]:
    system = setup.system

    def figure(value: float, quantity: str) -> str:
        return fitted(show(value, quantity, system).split()[0], SMALL, 13.8)

    cells = [
        (fitted(event.mark, SMALL, 6.2), 7.4),
        (figure(event.station, "length"), 22.0),
        (figure(event.straight, "length") if event.station > 0 else "", 36.5),
        (figure(event.elevation, "length"), 51.0),
        (show(event.angle, "angle", system) if event.angle > 1e-4 else "", 62.5),
        (figure(event.radius, "radius") if event.is_bend else "", _RADIUS),
    ]
    marks: list[Mark] = [
        letters(left + x, base, text, align="right", bold=i == 0)
        for i, (text, x) in enumerate(cells)
        if text
    ]
    if event.lies:
        marks.append(letters(left + _LIES, base, event.lies))
    return marks


def _foot(left: float, bottom: float, width: float, left_out: Sequence[str]) -> list[Mark]:
    """What the marks mean, and what the views had no room for."""
    lines = ["numbers: bends (station at their start); letters: points; N: plan +y"]
    if left_out:
        lines.append(f"{len(left_out)} not labeled in the views, no room: {'; '.join(left_out)}")
    return [
        letters(left + 1.6, bottom - 1.6 - 3.3 * i, fitted(line, SMALL, width - 3))
        for i, line in enumerate(reversed(lines))
    ]


# --- title block -------------------------------------------------------------------------------


def _title_block(setup: Setup, number: int) -> list[Mark]:
    left, top, right, bottom = setup.layout.strip
    foot = bottom - _FOOT
    edges = [left]
    for share in _CELLS:
        edges.append(edges[-1] + share * (right - left))
    marks: list[Mark] = [stroke((left, foot), (right, foot), layer="FRAME")]
    marks += [stroke((x, top), (x, foot), layer="FRAME") for x in edges[1:-1]]
    marks += _what(setup, edges[0] + 2.5, top, edges[1] - edges[0] - 4)
    marks += _scale_cell(setup, edges[1] + 2.5, top, edges[2] - edges[1] - 4)
    marks += _sign_cell(setup, number, edges[2] + 2.5, top, edges[3] - edges[2] - 4)
    marks += _small_print(setup, left + 2.5, foot, right - left - 5)
    return marks


def _what(setup: Setup, x: float, top: float, width: float) -> list[Mark]:
    run, path = setup.course.run, setup.course.path
    total = f"{show(path.length, 'length', setup.system)} of conduit, "
    total += f"{show(path.turn, 'angle', setup.system)} total bend"
    title = plain(setup.job.title)
    sizes = (LARGE, 3.0, 2.5)
    size = next((h for h in sizes if text_width(title, h, bold=True) <= width), sizes[-1])
    return [
        letters(x, top + 6.2, fitted(title, size, width, bold=True), size, bold=True),
        letters(x, top + 11.6, fitted(f"Run {run.name}: plan and profile", 2.5, width), 2.5),
        letters(x, top + 15.6, fitted(run.cables.describe(), SMALL, width)),
        letters(x, top + 19.2, fitted(total, SMALL, width)),
    ]


def _scale_cell(setup: Setup, x: float, top: float, width: float) -> list[Mark]:
    """The scale in words and as a bar of a round length."""
    system = setup.system
    paper = _PAPER_NAMES[setup.paper]
    words = f"{setup.scale.words(system)} on {paper}"
    marks: list[Mark] = [
        letters(x, top + 4.6, "scale", SMALL),
        letters(x, top + 9.0, fitted(words, PLAIN, width, bold=True), PLAIN, bold=True),
    ]
    room = min(_BAR, width - 14)
    step = round_step(room / setup.scale.mm / 2.0001, system)
    if 2 * step * setup.scale.mm > room:
        step /= 2
    y, half = top + 13.4, 0.75
    unit = unit_label("length", system)
    ends = [x + 1.5 + k * step * setup.scale.mm for k in range(3)]
    for a, b, up in ((ends[0], ends[1], -1), (ends[1], ends[2], 1)):
        marks.append(frame((a, y - half, b, y + half)))
        thick = y + up * half / 2
        marks.append(stroke((a, thick), (b, thick), width=half, layer="FRAME"))
    for k in range(3):
        figure = f"{round(convert(k * step, 'length', system), 6):g}"
        marks.append(letters(ends[k], y + 4.2, figure, align="middle"))
    marks.append(letters(ends[2] + 8.0, y + 0.8, unit))
    return marks


def _sign_cell(setup: Setup, number: int, x: float, top: float, width: float) -> list[Mark]:
    """Number of the sheet, units, and who drew it when, or lines to fill in by hand."""
    length, radius = (unit_label(q, setup.system) for q in ("length", "radius"))
    sheet = f"sheet {number} of {len(setup.stretches)}"
    if setup.job.document.revision:
        sheet += f", rev. {plain(setup.job.document.revision)}"
    units = f"units: {length}; radii {radius}; angles °" if length != radius else f"units: {length}"
    marks: list[Mark] = [
        letters(x, top + 4.8, fitted(sheet, PLAIN, width, bold=True), PLAIN, bold=True),
        letters(x, top + 8.6, fitted(units, SMALL, width)),
    ]
    told = setup.job.document
    for i, (name, text) in enumerate(
        (("drawn", told.made), ("checked", told.checked), ("date", told.date))
    ):
        base = top + 12.0 + 3.6 * i
        marks.append(letters(x, base, name))
        if text:
            marks.append(letters(x + 15, base, fitted(plain(text), SMALL, width - 16)))
        marks.append(stroke((x + 14, base + 0.5), (x + width, base + 0.5), layer="FRAME"))
    return marks


def _small_print(setup: Setup, x: float, top: float, width: float) -> list[Mark]:
    from route3d import __version__

    job = setup.job
    rules = job.practice
    assumed = " (assumed)" if rules.rules_assumed else ""
    made = f"rules {rules.rule_set.title}{assumed}  route3d {__version__}"
    if job.path is not None:
        made += f"  model file {plain(job.path.name)}, SHA-256 {file_mark(job.path)}"
    return [
        letters(x, top + 3.4, fitted(CAUTIONS[0], SMALL, width)),
        letters(x, top + 7.0, fitted(made, SMALL, width)),
    ]
