"""One sheet of the rigging drawing: plan, side view, what stands there in words, title block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from route3d.disk import file_mark
from route3d.drawing import pdf, svg
from route3d.drawing.marks import Mark, Rect, Shape, Text
from route3d.drawing.plan_profile.layout import MARGIN, PAPERS, Scale, round_step
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
from route3d.drawing.plan_profile.plan import NORTH, north_arrow
from route3d.drawing.rigging.views import ViewFrame, Words, view_frames, view_marks
from route3d.drawing.text_width import fitted, plain, text_width, wrapped
from route3d.errors import InputError, Problem
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.phrase import Phrase, literal, say
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import CAUTIONS
from route3d.planning.rigging.layout import Entry, RiggingLayout, rigging_layouts
from route3d.units import SYSTEMS, convert, render, unit_label

_HEADER = 11.0
_STRIP = 25.0
_PANEL = 82.0
_PANEL_SHARE = 0.31  # of the width, where that is more
_CELLS = (0.5, 0.25, 0.25)
_FOOT = 8.2  # of the title block
_LINE = 3.3  # between base lines of the panel, mm
_GAP = 1.5
_BAR = 40.0
_GRAY = "#e4e4e4"
_TITLE = 4.6


@dataclass(frozen=True, slots=True, eq=False)
class RiggingSheet:
    """One sheet in paper mm: ``views`` are drawn to ``scale``, ``outer`` is all about them.

    ``size`` of the paper; ``plan`` and ``side`` are the frames of the two views; ``missing`` the
    labels that had no room.
    """

    layout: RiggingLayout
    system: str
    size: tuple[float, float]
    scale: Scale
    plan: ViewFrame
    side: ViewFrame
    outer: tuple[Mark, ...]
    views: tuple[Mark, ...]
    missing: tuple[str, ...]

    @property
    def marks(self) -> tuple[Mark, ...]:
        """Everything on it."""
        return (*self.views, *self.outer)


def rigging_sheets(
    job: Job,
    plans: Sequence[Plan],
    system: str,
    *,
    paper: str,
    scale: Scale | None = None,
    draft: bool = False,
    words: Words | None = None,
) -> tuple[RiggingSheet, ...]:
    """Machine end and feed end of every plan that may be pulled, a sheet each.

    Every text goes through ``words``, by default as it is printed in ``system``. A ``draft`` has
    DRAFT across it. InputError where a ``scale`` has no room on the paper.
    """
    made = [layout for plan in plans if not plan.stops for layout in rigging_layouts(plan, job)]
    said = words or (lambda phrase: render(phrase, system))
    return tuple(
        _sheet(job, layout, system, said, paper, scale, (i, len(made)), draft)
        for i, layout in enumerate(made, 1)
    )


def rigging_picture(layout: RiggingLayout, system: str, words: Words | None = None) -> str:
    """SVG of the two views of one end alone, for a page."""
    said = words or (lambda phrase: render(phrase, system))
    size = (200.0, 150.0)
    found = view_frames(layout, (0.0, 0.0, *size), system)
    assert found is not None
    _, plan, side = found
    marks: list[Mark] = []
    for view, title in ((plan, say("PLAN")), (side, say("SIDE VIEW"))):
        drawn, _ = view_marks(layout, view, said)
        heading = letters(view.box[0] + 2.0, view.box[1] + 4.2, said(title), 2.6, bold=True)
        marks += [*drawn, heading]
    marks.append(stroke((0.0, plan.box[3]), (size[0], plan.box[3]), width=MEDIUM, layer="FRAME"))
    marks += _bar(size[0] - 60.0, side.box[1] + 1.6, plan.mm, system)
    return svg.document(marks, size, title=said(_title(layout)))


def rigging_pages(
    job: Job, plan: Plan, system: str, *, paper: str, words: Words | None = None
) -> list[dict[str, float | str]]:
    """The sheets of a plan as pages for a document, with size in mm; none of a pull that stops.

    They have no ground of their own, so that what a page has behind it is seen.
    """
    sheets = rigging_sheets(job, [plan], system, paper=paper, words=words)
    return [
        {"svg": rigging_svg(s, ground="none"), "width": s.size[0], "height": s.size[1]}
        for s in sheets
    ]


def rigging_svg(sheet: RiggingSheet, *, ground: str = "#ffffff") -> str:
    """One sheet, true to scale where it is printed at 100 %; the same sheet gives the same text."""
    return svg.document(sheet.marks, sheet.size, unit="mm", ground=ground)


def rigging_pdf(sheets: Sequence[RiggingSheet], title: str) -> bytes:
    """The sheets as pages of the size of their paper; the same sheets give the same bytes."""
    return pdf.pages_pdf([(rigging_svg(sheet), sheet.size) for sheet in sheets], title)


def _sheet(
    job: Job,
    layout: RiggingLayout,
    system: str,
    words: Words,
    paper: str,
    scale: Scale | None,
    number: tuple[int, int],
    draft: bool,
) -> RiggingSheet:
    width, height = PAPERS[paper]
    outer = (MARGIN, MARGIN, width - MARGIN, height - MARGIN)
    strip = (outer[0], outer[3] - _STRIP, outer[2], outer[3])
    edge = outer[2] - max(_PANEL, _PANEL_SHARE * (outer[2] - outer[0]))
    views = (outer[0], outer[1] + _HEADER, edge, strip[1])
    found = view_frames(layout, views, system, scale)
    if found is None:
        said = f"the {layout.end} end has no room on this paper at that scale"
        raise InputError(Problem(said, where="--scale", fix="omit --scale, or use larger paper"))
    used, plan, side = found
    marks: list[Mark] = []
    missing: list[str] = []
    for view in (plan, side):
        drawn, lost = view_marks(layout, view, words)
        marks += drawn
        missing += lost
    panel = (edge, views[1], outer[2], strip[1])
    around: list[Mark] = [frame(outer, THICK), frame(strip, MEDIUM), frame(panel, MEDIUM)]
    around += [frame(view.box, MEDIUM) for view in (plan, side)]
    around += _header(job, layout, words, (outer[0], outer[1], outer[2], views[1]))
    around += _view_titles(plan, side, used, system, words)
    around += _panel(layout, words, panel, system)
    around += _title_block(job, layout, used, system, words, strip, paper, number)
    if draft:
        marks.insert(0, _draft(width, height))
    return RiggingSheet(
        layout, system, (width, height), used, plan, side, tuple(around), tuple(marks),
        tuple(missing),
    )  # fmt: skip


def _draft(width: float, height: float) -> Text:
    """DRAFT across the sheet, pale, under everything."""
    size = 0.24 * width
    return Text(
        (width / 2, height / 2), "DRAFT", size, _GRAY, True, "middle", base=True, layer="DRAFT"
    )


def _title(layout: RiggingLayout) -> Phrase:
    name = literal(layout.place)
    return say(f"MACHINE END: {name}" if layout.end == "machine" else f"FEED END: {name}")


def _header(job: Job, layout: RiggingLayout, words: Words, box: Rect) -> list[Mark]:
    left, _, right, bottom = box
    base = bottom - 3.2
    room = right - left - 6.0
    place = layout.plan.place
    run = say(f"Run {literal(layout.plan.result.run.name)}")
    if place is not None:
        run = say(
            f"Run {literal(place.whole.name)}, way {{}}, stage {{}} of {{}}",
            (place.number, "count"),
            (place.index, "count"),
            (place.count, "count"),
        )
    banner = plain(example_banner(job.examples))
    said = fitted(plain(words(_title(layout))), _TITLE, 0.62 * room, bold=True)
    right_words = fitted(plain(words(run)), 3.0, 0.36 * room, bold=True)
    high = base - 1.4 if banner else base
    found: list[Mark] = [
        letters(left + 3.0, high, said, _TITLE, bold=True),
        letters(right - 3.0, high, right_words, 3.0, "right", bold=True),
    ]
    if banner:
        short = fitted(banner, SMALL, room, bold=True)
        found.append(letters(left + 3.0, bottom - 1.2, short, SMALL, bold=True))
    return found


def _view_titles(
    plan: ViewFrame, side: ViewFrame, scale: Scale, system: str, words: Words
) -> list[Mark]:
    found: list[Mark] = []
    for view, title in ((plan, say("PLAN")), (side, say("SIDE VIEW"))):
        x, y = view.box[0] + 2.0, view.box[1] + 4.4
        said = words(title)
        found.append(letters(x, y, said, 2.6, bold=True))
        after = x + text_width(said, 2.6, bold=True) + 3.0
        found.append(letters(after, y, scale.words(system), SMALL))
    return found


# --- panel ---------------------------------------------------------------------------------------


def _measure(text: str, size: float, bold: bool) -> tuple[float, float]:
    return text_width(text, size, bold=bold), size


def _panel(layout: RiggingLayout, words: Words, box: Rect, system: str) -> list[Mark]:
    """What stands there in words; what has no room is said to be in the crew's sheet."""
    left, top, right, bottom = box
    room = right - left - 6.0
    y = top + 1.0
    marks: list[Mark] = []
    *entries, legend = layout.entries

    def lines_of(entry: Entry) -> list[str]:
        texts = [plain(_both(phrase, words, system)) for phrase in entry.lines]
        return [x for t in texts for x in wrapped(t, room, SMALL, False, _measure)]

    def height(entry: Entry) -> float:
        return PLAIN + 1.6 + _LINE * len(lines_of(entry)) + _GAP

    bottom -= height(legend) + 1.5
    marks.append(stroke((left, bottom), (right, bottom), width=MEDIUM, layer="FRAME"))
    for i, entry in enumerate((*entries, legend)):
        title, lines = words(entry.title), lines_of(entry)
        if entry is legend:
            y = bottom + 1.0
        elif y + height(entry) > bottom - (4.0 if i < len(entries) - 1 else 0.0):
            if y < bottom:
                left_out = ", ".join(plain(words(e.title)) for e in entries[i:])
                more = fitted(f"{words(say('See the crew sheet'))}: {left_out}", SMALL, room)
                marks.append(letters(left + 3.0, bottom - 1.6, more))
                y = bottom + 1.0
            continue
        y += PLAIN + 1.6
        x = left + 3.0
        if entry is legend:
            swatch = ((x, y - PLAIN), (x + 7.0, y - PLAIN), (x + 7.0, y + 0.2), (x, y + 0.2))
            marks.append(Shape(swatch, "nobody", "#000000", 0.25))
            x += 9.0
        short = fitted(plain(title), PLAIN, right - x - 3.0, bold=True)
        marks.append(letters(x, y, short, PLAIN, bold=True))
        for line in lines:
            y += _LINE
            marks.append(letters(left + 3.0, y, line))
        y += _GAP
    return marks


def _both(phrase: Phrase, words: Words, system: str) -> str:
    """A line of the panel; a force also in the units of the other system."""
    said = words(phrase)
    forces = [value for value, quantity in phrase.values if quantity.startswith("force")]
    if len(forces) != 1 or len(phrase.values) != 1:
        return said
    other = next(s for s in SYSTEMS if s != system)
    return f"{said} ({render(say('{}', phrase.values[0]), other)})"


# --- title block ---------------------------------------------------------------------------------


def _title_block(
    job: Job,
    layout: RiggingLayout,
    scale: Scale,
    system: str,
    words: Words,
    strip: Rect,
    paper: str,
    number: tuple[int, int],
) -> list[Mark]:
    from route3d import __version__

    left, top, right, bottom = strip
    foot = bottom - _FOOT
    edges = [left]
    for share in _CELLS:
        edges.append(edges[-1] + share * (right - left))
    marks: list[Mark] = [stroke((left, foot), (right, foot), layer="FRAME")]
    marks += [stroke((x, top), (x, foot), layer="FRAME") for x in edges[1:-1]]
    x, width = edges[0] + 2.5, edges[1] - edges[0] - 4.0
    run = layout.plan.result.run
    title = plain(job.title)
    size = next((h for h in (LARGE, 3.0) if text_width(title, h, bold=True) <= width), 2.5)
    marks += [
        letters(x, top + 5.6, fitted(title, size, width, bold=True), size, bold=True),
        letters(x, top + 10.2, fitted(words(say("Rigging drawing")), 2.5, width), 2.5),
        letters(x, top + 14.2, fitted(plain(run.cables.describe()), SMALL, width)),
    ]
    x, width = edges[1] + 2.5, edges[2] - edges[1] - 4.0
    marks.append(letters(x, top + 4.2, fitted(scale.words(system), PLAIN, width), PLAIN, bold=True))
    marks += _bar(x, top + 8.4, scale.mm, system)
    marks += north_arrow(
        (x, top + 8.4 - NORTH, edges[2] - 8.0 + NORTH, foot), -layout.turn, job.site.frame.north
    )
    x, width = edges[2] + 2.5, edges[3] - edges[2] - 4.0
    told = job.document
    sheet = words(say("sheet {} of {}", (number[0], "count"), (number[1], "count")))
    sheet += f", rev. {plain(told.revision)}" if told.revision else ""
    marks.append(letters(x, top + 4.2, fitted(sheet, PLAIN, width, bold=True), PLAIN, bold=True))
    signs = (("drawn", told.made), ("checked", told.checked), ("date", told.date))
    for i, (name, text) in enumerate(signs):
        base = top + 8.4 + 3.8 * i
        marks.append(letters(x, base, fitted(words(say(name)), SMALL, 13.0)))
        marks.append(stroke((x + 14, base + 0.5), (x + width, base + 0.5), layer="FRAME"))
        if text:
            marks.append(letters(x + 15, base, fitted(plain(text), SMALL, width - 16)))
    small = words(say("Loads: largest planned, first moves included. Anyone may stop the pull."))
    made = f"{small}  route3d {__version__}"
    if job.path is not None:
        made += f"  model file {plain(job.path.name)}, SHA-256 {file_mark(job.path)}"
    room = right - left - 5
    marks += [
        letters(left + 2.5, foot + 3.3, fitted(words(say(literal(CAUTIONS[0]))), SMALL, room)),
        letters(left + 2.5, foot + 6.7, fitted(made, SMALL, room)),
    ]
    return marks


def _bar(x: float, y: float, mm: float, system: str) -> list[Mark]:
    """A bar of a round length in two halves."""
    step = round_step(_BAR / mm / 2.0001, system)
    while 2 * step * mm > _BAR:
        step /= 2
    half = 0.75
    ends = [x + 1.5 + k * step * mm for k in range(3)]
    marks: list[Mark] = []
    for a, b, up in ((ends[0], ends[1], -1), (ends[1], ends[2], 1)):
        marks.append(frame((a, y - half, b, y + half)))
        thick = y + up * half / 2
        marks.append(stroke((a, thick), (b, thick), width=half, layer="FRAME"))
    for k in range(3):
        figure = f"{round(convert(k * step, 'length', system), 6):g}"
        marks.append(letters(ends[k], y + 4.0, figure, align="middle"))
    marks.append(letters(ends[2] + 4.0, y + 4.0, unit_label("length", system)))
    return marks
