"""Strip drawings of bent pieces, and a label for every piece, on sheets in paper mm.

A strip is one piece of conduit laid flat: the marks of its bends with their distances from one end,
and beside it how each bend turns. It is for the bench, so it fills the width of the sheet, each
strip at its own scale.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from route3d.disk import file_mark
from route3d.drawing import pdf, svg
from route3d.drawing.marks import BLACK, Mark, Rect, Ring, Shape, arrow
from route3d.drawing.plan_profile.layout import PAPERS
from route3d.drawing.plan_profile.linework import MEDIUM, frame, letters, stroke
from route3d.drawing.plan_profile.profile import spread
from route3d.drawing.text_width import fitted, plain, text_width, wrapped
from route3d.geometry.turns import degrees, roll_sense
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.shop import ShopPiece
from route3d.report.bends import (
    MADE,
    PIECES_MADE,
    BendRow,
    BendSheet,
    PieceRow,
    tape_words,
)
from route3d.units import show, tape

MARGIN = 10.0
_HEADER = 15.0
_FOOTER = 12.0
_SMALL, _TEXT, _TITLE = 2.0, 2.3, 3.2  # heights of capitals
_LINE = 3.5
_LEAST = 1.9  # height of capitals of the words of a bend, where there are many
_DIAL = 4.2  # radius
_BAR = 5.0  # of the conduit
_TIER = 11.5  # leaders and labels of marks
_GAP = 2.9  # between strips
_SPACE = 2.5  # between labels of marks
_GRAY = "#d9d9d9"
_LABELS = (3, 8)  # across and down a sheet of labels


@dataclass(frozen=True, slots=True)
class StripMark:
    """A mark of a bend on a piece ``at`` m from its first end; ``name`` such as B03 end."""

    at: float
    name: str
    bend: int
    center: bool = False


@dataclass(frozen=True, slots=True)
class BendStrip:
    """One piece with bends as it is drawn: ``rows`` are its bends, ``arcs`` where they lie, m.

    ``rolls`` rad are turned clockwise from the plane of the first bend in the piece. Of a piece
    with very many bends ``rows`` are some of them, drawn on a strip of their own. ``from_end`` is
    false where there is nothing to mark: a factory elbow, or conduit whose sticks are not known, of
    which the arc alone is drawn.
    """

    piece: ShopPiece
    rows: tuple[BendRow, ...]
    rolls: tuple[float, ...]
    marks: tuple[StripMark, ...]
    arcs: tuple[tuple[float, float], ...]
    from_end: bool

    def part(self, first: int, last: int) -> BendStrip:
        """The strip with its bends from ``first`` up to ``last``, which is not in it, alone."""
        kept = {row.line.bend.number for row in self.rows[first:last]}
        return replace(
            self,
            rows=self.rows[first:last],
            rolls=self.rolls[first:last],
            marks=tuple(m for m in self.marks if m.bend in kept),
            arcs=self.arcs[first:last],
        )


@dataclass(frozen=True, slots=True, eq=False)
class StripSheet:
    """One sheet in paper mm: its size and its marks in drawing order."""

    size: tuple[float, float]
    marks: tuple[Mark, ...]


def bend_strips(sheet: BendSheet) -> tuple[BendStrip, ...]:
    """The strips of a run, one for every piece that has bends."""
    rows = {row.line.bend.number: row for row in sheet.rows}
    head = f"{sheet.run.run.name}-"
    return tuple(
        _strip(piece, [rows[n] for n in piece.bends], head)
        for piece in sheet.shop.pieces
        if piece.bends
    )


def _strip(piece: ShopPiece, rows: Sequence[BendRow], head: str) -> BendStrip:
    marks: list[StripMark] = []
    arcs: list[tuple[float, float]] = []
    rolls = [0.0]
    for row in rows:
        bend, short = row.line.bend, row.made.label.removeprefix(head)
        if row is not rows[0]:
            rolls.append(rolls[-1] + bend.roll)
        first, last = bend.station - piece.start, bend.station + bend.arc_length - piece.start
        arcs.append((max(first, 0.0), min(last, piece.length)))
        ends = [(first, "start", False), ((first + last) / 2, "center", True), (last, "end", False)]
        marks += (
            StripMark(min(max(at, 0.0), piece.length), f"{short} {name}", bend.number, center)
            for at, name, center in ends
            if -1e-6 <= at <= piece.length + 1e-6
        )
    marks.sort(key=lambda mark: mark.at)
    known = piece.stick is not None
    return BendStrip(piece, tuple(rows), tuple(rolls), tuple(marks), tuple(arcs), known)


def strip_sheets(
    job: Job, sheets: Sequence[BendSheet], system: str, *, paper: str
) -> tuple[StripSheet, ...]:
    """The strips of every run on sheets of a ``paper``; each run begins a new one."""
    pages: list[tuple[BendSheet, list[BendStrip]]] = []
    width, height = PAPERS[paper]
    room = height - 2 * MARGIN - _HEADER - _FOOTER
    for sheet in sheets:
        taken = math.inf
        whole = bend_strips(sheet)
        for strip in (p for w in whole for p in _parts(w, room, width - 2 * MARGIN, system)):
            needed = _height(strip, width - 2 * MARGIN, system)
            if taken + needed > room:
                pages.append((sheet, []))
                taken = 0.0
            pages[-1][1].append(strip)
            taken += needed
    return tuple(
        _sheet(job, sheet, strips, system, (width, height), (i, len(pages)))
        for i, (sheet, strips) in enumerate(pages, 1)
    )


def _parts(strip: BendStrip, room: float, width: float, system: str) -> Iterator[BendStrip]:
    """The strip, or where its bends have no room on a sheet, strips with half of them each."""
    if len(strip.rows) < 2 or _height(strip, width, system) <= room:
        yield strip
        return
    half = len(strip.rows) // 2
    yield from _parts(strip.part(0, half), room, width, system)
    yield from _parts(strip.part(half, len(strip.rows)), room, width, system)


def sheet_svg(sheet: StripSheet) -> str:
    """One sheet; the same sheet gives the same text."""
    return svg.document(sheet.marks, sheet.size, unit="mm")


def sheets_pdf(sheets: Sequence[StripSheet], title: str) -> bytes:
    """The sheets as pages; the same sheets give the same bytes."""
    return pdf.pages_pdf([(sheet_svg(sheet), sheet.size) for sheet in sheets], title)


# --- one sheet -----------------------------------------------------------------------------------


def _sheet(
    job: Job,
    sheet: BendSheet,
    strips: Sequence[BendStrip],
    system: str,
    size: tuple[float, float],
    number: tuple[int, int],
) -> StripSheet:
    width, height = size
    box = (MARGIN, MARGIN, width - MARGIN, height - MARGIN)
    words = (
        "Marks are on the straight conduit, measured from the end with the black wedge. Gray: the "
        "arc. Dial: looking along the route; the first bend of a piece points up, the others "
        "as they are rolled from it. " + tape_words(system)
    )
    marks = _around(job, f"Run {sheet.run.run.name}: bend strips", words, box, number)
    y = box[1] + _HEADER
    for strip in strips:
        marks += _drawn(strip, box[0], y, box[2] - box[0], system)
        y += _height(strip, box[2] - box[0], system)
    return StripSheet(size, tuple(marks))


def _around(
    job: Job,
    title: str,
    words: str,
    box: Rect,
    number: tuple[int, int],
) -> list[Mark]:
    """Heading and foot of a sheet."""
    from route3d import __version__

    left, top, right, bottom = box
    width = right - left
    page = f"sheet {number[0]} of {number[1]}"
    room = width - text_width(page, _TEXT) - 6
    banner = plain(example_banner(job.examples))
    rule = top + _HEADER - 3
    marks: list[Mark] = [
        letters(left, top + 3.4, fitted(plain(title), _TITLE, room, bold=True), _TITLE, bold=True),
        letters(left, top + 7.2, fitted(plain(job.title), _TEXT, width), _TEXT),
        letters(right, top + 3.4, page, _TEXT, "right"),
        stroke((left, rule), (right, rule), width=MEDIUM, layer="FRAME"),
    ]
    if banner:
        said = fitted(banner, _TEXT, width, bold=True)
        marks.append(letters(left, top + 10.8, said, _TEXT, bold=True))
    foot = f"route3d {__version__}"
    if job.path is not None:
        foot += f"  model file {plain(job.path.name)}, SHA-256 {file_mark(job.path)}"
    lines = [*wrapped(words, width, _SMALL, False, _measure), fitted(foot, _SMALL, width)]
    base = bottom - 3.1 * (len(lines) - 1)
    return [*marks, *(letters(left, base + 3.1 * i, x) for i, x in enumerate(lines))]


def _measure(text: str, size: float, bold: bool) -> tuple[float, float]:
    return text_width(text, size, bold=bold), size


# --- one strip -----------------------------------------------------------------------------------


def _columns(strip: BendStrip, width: float, system: str) -> int:
    """Bends beside each other above the bar: up to three, as far as their words have room."""
    for count in (3, 2):
        room = _room(width / count)
        lines = (line for row in strip.rows for line in _lines(row, system))
        if count <= len(strip.rows) and all(
            text_width(text, _LEAST, bold=bold) <= room for text, bold in lines
        ):
            return count
    return 1


def _room(cell: float) -> float:
    """For words beside the dial."""
    return cell - 2 * _DIAL - 5


def _words_height(strip: BendStrip, width: float, system: str) -> float:
    """Of the words of all bends of a strip."""
    rows = math.ceil(len(strip.rows) / _columns(strip, width, system))
    return rows * _row_height(strip, system)


def _row_height(strip: BendStrip, system: str) -> float:
    return max(len(_lines(row, system)) for row in strip.rows) * _LINE + 0.8


def _height(strip: BendStrip, width: float, system: str) -> float:
    """What a strip takes of the height of a sheet."""
    below, above = _tiers(strip, width, system)
    return 6.5 + _words_height(strip, width, system) + above + _BAR + below + _GAP


def _tiers(strip: BendStrip, width: float, system: str) -> tuple[float, float]:
    """The height of the labels below and above the bar."""
    pitch = _pitch(strip.marks, system)
    fits = width / pitch
    if len(strip.marks) <= fits:
        return _TIER, 0.0
    if len(strip.marks) <= 2 * math.floor(fits):
        return _TIER, _TIER
    return 4.0 + max(text_width(_one_line(m, system), _SMALL) for m in strip.marks), 0.0


def _pitch(marks: Sequence[StripMark], system: str) -> float:
    texts = [text for m in marks for text in (m.name, tape(m.at, system))]
    return max(text_width(text, _TEXT, bold=True) for text in texts) + _SPACE


def _one_line(mark: StripMark, system: str) -> str:
    return f"{mark.name} {tape(mark.at, system)}"


def _drawn(strip: BendStrip, left: float, top: float, width: float, system: str) -> Iterator[Mark]:
    """Heading, bends, bar and marks of one strip."""
    label = _tail(plain(strip.piece.label), _TITLE, 0.45 * width)
    yield letters(left, top + 4.0, label, _TITLE, bold=True)
    after = left + text_width(label, _TITLE, bold=True) + 4
    about = fitted(plain(_about(strip, system)), _TEXT, left + width - after - 22)
    yield letters(after, top + 4.0, about, _TEXT)
    yield letters(left + width - 11, top + 4.0, "route", _SMALL, "right")
    yield from _arrow((left + width - 10, top + 3.0), (left + width, top + 3.0))
    count, high_row = _columns(strip, width, system), _row_height(strip, system)
    cell = width / count
    for k, (row, roll) in enumerate(zip(strip.rows, strip.rolls, strict=True)):
        x, y = left + k % count * cell, top + 6.5 + k // count * high_row
        yield from _bend_words(row, x, y, cell, roll, system)
    below, above = _tiers(strip, width, system)
    y = top + 6.5 + _words_height(strip, width, system) + above
    yield from _bar(strip, left, y, width)
    if below > _TIER:
        yield from _upright_labels(strip, left, y + _BAR, width, system)
        return
    high = strip.marks[1::2] if above else ()
    low = strip.marks[::2] if above else strip.marks
    yield from _labels(strip, low, left, y + _BAR, width, system, down=True)
    yield from _labels(strip, high, left, y, width, system, down=False)


def _tail(label: str, height: float, room: float) -> str:
    """A label cut at its front, which is the name of the run: its number is what counts."""
    if text_width(label, height, bold=True) <= room:
        return label
    while label and text_width("…" + label, height, bold=True) > room:
        label = label[1:]
    return "…" + label


def _about(strip: BendStrip, system: str) -> str:
    piece = strip.piece
    length = tape(piece.length, system)
    where = f"from station {tape(piece.start, system)}"
    if piece.kind == "elbow":
        made = MADE[strip.rows[0].made.elbow]
        return f"{piece.conduit.label}, {made}: bought bent; arc {length} long, {where}"
    if not strip.from_end:
        said = "stick length not known: only the arc is drawn"
        return f"{piece.conduit.label}, field bend, arc {length} long, {where}; {said}"
    cut = "cut to " if piece.cut else ""
    return f"{piece.conduit.label}, stick {piece.stick}, {cut}{length} long, {where}"


def _lines(row: BendRow, system: str) -> list[tuple[str, bool]]:
    """The words of one bend, and which are bold."""
    bend, back = row.line.bend, row.back
    rolled = roll_sense(bend.roll)
    if "clockwise" in rolled:
        rolled = f"{degrees(abs(bend.roll))}° {rolled}"
    shape = f"{show(bend.angle, 'angle', system)}, R {tape(bend.radius, system)}, "
    shape += f"arc {tape(bend.arc_length, system)}"
    shape += "" if back is None else f", back of 90° {tape(back, system)}"
    gained = f"set-back {tape(bend.setback, system)}, gain {tape(bend.gain, system)}"
    lines = [
        (plain(f"{row.made.label}: {row.turn.words}"), True),
        (f"heading {row.turn.heading}", False),
        (shape, False),
        (gained + (f", roll {rolled}" if rolled else ""), False),
    ]
    figure = row.made.figure
    if figure is not None and figure.first == bend.number:
        lines.append(
            (
                f"{figure.kind}: height {tape(figure.height, system)}, "
                f"travel {tape(figure.travel, system)}",
                False,
            )
        )
        shrunk = f"shrink: whole {tape(figure.shrink, system)}"
        if not math.isnan(figure.shrink_to_center):
            shrunk += f", to center {tape(figure.shrink_to_center, system)}"
        lines.append((shrunk, False))
    if row.verdict != "ok":
        lines.append((row.verdict, row.verdict.startswith("stop")))
    return lines


def _bend_words(
    row: BendRow, left: float, top: float, width: float, roll: float, system: str
) -> Iterator[Mark]:
    """The dial and the words of one bend."""
    yield from _dial(left + _DIAL + 0.5, top + _DIAL + 1.5, roll)
    x, room = left + 2 * _DIAL + 3, _room(width)
    for i, (text, bold) in enumerate(_lines(row, system)):
        size = _TEXT
        while size > _LEAST and text_width(text, size, bold=bold) > room:
            size -= 0.1
        said = _tail(text, size, room) if bold else fitted(text, size, room)
        yield letters(x, top + 3.2 + _LINE * i, said, size, bold=bold)


def _dial(x: float, y: float, roll: float) -> Iterator[Mark]:
    """A circle with an arrow the way the bend goes, ``roll`` rad clockwise from up."""
    yield Ring((x, y), _DIAL, BLACK, 0.18)
    yield stroke((x, y - _DIAL), (x, y - _DIAL + 1.0), layer="FRAME")
    tip = (x + 0.9 * _DIAL * math.sin(roll), y - 0.9 * _DIAL * math.cos(roll))
    yield from _arrow((x, y), tip)


def _arrow(start: tuple[float, float], tip: tuple[float, float]) -> Iterator[Mark]:
    """An arrow of a picture with a head for paper."""
    for mark in arrow(start, tip, BLACK, MEDIUM):
        if isinstance(mark, Shape):
            head = tuple(
                (tip[0] + (x - tip[0]) / 4, tip[1] + (y - tip[1]) / 4) for x, y in mark.points
            )
            yield Shape(head, BLACK)
        else:
            yield mark


def _place(strip: BendStrip, at: float, left: float, width: float) -> float:
    return left + at / strip.piece.length * width


def _bar(strip: BendStrip, left: float, top: float, width: float) -> Iterator[Mark]:
    """The conduit with its arcs and ticks, and where to measure from."""
    bottom = top + _BAR
    for first, last in strip.arcs:
        a, b = (_place(strip, at, left, width) for at in (first, last))
        yield Shape(((a, top), (b, top), (b, bottom), (a, bottom)), _GRAY)
    yield frame((left, top, left + width, bottom), MEDIUM)
    if strip.from_end:
        yield Shape(((left, top), (left + 3.2, top + _BAR / 2), (left, bottom)), BLACK)
    for mark in strip.marks:
        x = _place(strip, mark.at, left, width)
        dash = "0.8 0.6" if mark.center else ""
        yield stroke((x, top - 0.8), (x, bottom + 0.8), width=MEDIUM, dash=dash, layer="BENDS")


def _labels(
    strip: BendStrip,
    marks: Sequence[StripMark],
    left: float,
    edge: float,
    width: float,
    system: str,
    *,
    down: bool,
) -> Iterator[Mark]:
    """Names and distances of marks in one line below or above the bar, each with its leader."""
    if not marks:
        return
    pitch = _pitch(strip.marks, system)
    wanted = [_place(strip, m.at, left, width) for m in marks]
    span = (left + (pitch - _SPACE) / 2, left + width - (pitch - _SPACE) / 2)
    way = 1.0 if down else -1.0
    near, far = edge + 0.8 * way, edge + 4.5 * way
    for mark, x, at in zip(marks, wanted, spread(wanted, pitch, span), strict=True):
        yield stroke((x, near), (at, far), layer="DIMENSIONS")
        base = far + 3.1 if down else far - 4.2
        yield letters(at, base, mark.name, _SMALL, "middle")
        yield letters(at, base + _LINE, tape(mark.at, system), _TEXT, "middle", bold=True)


def _upright_labels(
    strip: BendStrip, left: float, edge: float, width: float, system: str
) -> Iterator[Mark]:
    """The same, one line each and turned, where there are too many marks for lines side by side."""
    wanted = [_place(strip, m.at, left, width) for m in strip.marks]
    pitch = min(_SMALL + 1.2, width / len(wanted))
    places = spread(wanted, pitch, (left + pitch / 2, left + width - pitch / 2))
    for mark, x, at in zip(strip.marks, wanted, places, strict=True):
        yield stroke((x, edge + 0.8), (at, edge + 3.0), layer="DIMENSIONS")
        words = _one_line(mark, system)
        place = edge + 3.6 + text_width(words, _SMALL)
        yield letters(at + _SMALL / 2, place, words, _SMALL, upright=True)


# --- labels --------------------------------------------------------------------------------------


def label_sheets(
    job: Job, sheets: Sequence[BendSheet], system: str, *, paper: str
) -> tuple[StripSheet, ...]:
    """A label to cut out for every piece of every run; each run begins a new sheet."""
    across, down = _LABELS
    pages = [
        (sheet, sheet.pieces[i : i + across * down])
        for sheet in sheets
        for i in range(0, len(sheet.pieces), across * down)
    ]
    return tuple(
        _label_sheet(job, sheet, rows, system, PAPERS[paper], (i, len(pages)))
        for i, (sheet, rows) in enumerate(pages, 1)
    )


def _label_sheet(
    job: Job,
    sheet: BendSheet,
    pieces: Sequence[PieceRow],
    system: str,
    size: tuple[float, float],
    number: tuple[int, int],
) -> StripSheet:
    width, height = size
    box = (MARGIN, MARGIN, width - MARGIN, height - MARGIN)
    words = "A label for each piece, in the order of the route. " + tape_words(system)
    marks = _around(job, f"Run {sheet.run.run.name}: labels of pieces", words, box, number)
    rows = {row.line.bend.number: row for row in sheet.rows}
    across, down = _LABELS
    wide = (box[2] - box[0]) / across
    high = (box[3] - box[1] - _HEADER - _FOOTER) / down
    for k, piece in enumerate(pieces):
        left = box[0] + k % across * wide
        top = box[1] + _HEADER - 2 + k // across * high
        turned = [rows[n] for n in piece.first.bends]
        marks += _label(piece.first, turned, (left, top, left + wide, top + high), system)
    return StripSheet(size, tuple(marks))


def _label(
    piece: ShopPiece,
    bends: Sequence[BendRow],
    box: Rect,
    system: str,
) -> Iterator[Mark]:
    left, top, right, _ = box
    room = right - left - 5
    yield frame(box)
    label, size = plain(piece.label), 5.0
    while size > 3.0 and text_width(label, size, bold=True) > room:
        size -= 0.25
    yield letters(left + 2.5, top + 7.0, _tail(label, size, room), size, bold=True)
    turned = ", ".join(row.turn.words for row in bends)
    kind = PIECES_MADE[piece.kind] + (f": {turned}" if turned else "")
    about = f"{piece.conduit.label}, {tape(piece.length, system)}, "
    about += f"station {tape(piece.start, system)}"
    for i, text in enumerate((kind, about)):
        yield letters(left + 2.5, top + 11.4 + 3.8 * i, fitted(plain(text), _TEXT, room), _TEXT)
