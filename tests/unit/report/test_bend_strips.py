"""Strips and labels: every mark where it belongs, no text over another, all of it on the paper."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

import route3d
from route3d.drawing.marks import Line, Ring, Text, inset, overlap
from route3d.model import Job, Run
from route3d.planning.evaluate import evaluate
from route3d.report.bend_strips import (
    StripSheet,
    bend_strips,
    label_sheets,
    sheet_svg,
    strip_sheets,
)
from route3d.report.bends import BendSheet, bend_sheets
from route3d.units import SYSTEMS, parse
from tests.support.jobs import INCH, along, conduit, run
from tests.support.routes import Go, Turn, vertices

MODELS = Path(route3d.__file__).parents[1] / "models"
EMT = conduit(stock_type="EMT", trade_size="2", elbow_radius=9.5 * INCH, min_bend_radius=12 * INCH)
UP, DOWN = (Turn(30, 12.5 * INCH, side) for side in ("up", "down"))
SHAPES: dict[str, list[Go | Turn]] = {
    "saddle of four": [Go(1), UP, Go(0.4), DOWN, Go(0.5), DOWN, Go(0.4), UP, Go(0.2),
                       Turn(90, 12.5 * INCH), Go(3), Turn(90, 12.5 * INCH, "up"), Go(1)],
    "long sweep": [Go(2), Turn(90, 4.0), Go(2)],
    "many": [p for k in range(18) for p in (Go(0.1), Turn(7, 0.35, ("up", "left", "down")[k % 3]))]
            + [Go(1)],
}  # fmt: skip


def made(shape: Sequence[Go | Turn], name: str = "F1") -> tuple[Job, tuple[BendSheet, ...]]:
    one: Run = run(along(vertices(list(shape)), EMT), name=name)
    job = Job("Ferry terminal: berth 6", runs=(one,), examples=("cable.phase",))
    return job, bend_sheets(evaluate(job, with_remedies=False), 6.0 if len(shape) > 30 else None)


@pytest.fixture(scope="module")
def jobs() -> dict[str, tuple[Job, tuple[BendSheet, ...]]]:
    found = {name: made(shape) for name, shape in SHAPES.items()}
    found["long name"] = made(SHAPES["saddle of four"], "Feeder of berth 4, north side, " * 4)
    job = route3d.load(MODELS / "mezzanine.toml")
    found["mezzanine"] = job, bend_sheets(evaluate(job, with_remedies=False))
    return found


def crossed(line: Line, text: Text) -> bool:
    """Whether a leader runs through a text, by places close to each other along it."""
    (a, b), box = np.asarray(line.points, dtype=float)[:2], inset(text.box, 0.1)
    places = a + np.linspace(0, 1, 60)[:, None] * (b - a)
    inside = (places > box[:2]) & (places < box[2:])
    return bool(inside.all(axis=1).any())


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", [*SHAPES, "long name", "mezzanine"])
def test_no_text_lies_over_another_or_off_the_paper(
    jobs: dict[str, tuple[Job, tuple[BendSheet, ...]]], name: str, system: str
) -> None:
    job, sheets = jobs[name]
    paper = "letter" if system == "US" else "a4"
    pages: list[StripSheet] = [*strip_sheets(job, sheets, system, paper=paper)]
    pages += label_sheets(job, sheets, system, paper=paper)
    for page in pages:
        texts = [m for m in page.marks if isinstance(m, Text)]
        boxes = [t.box for t in texts]
        for a, b in combinations(range(len(boxes)), 2):
            assert not overlap(boxes[a], boxes[b]), (texts[a].text, texts[b].text)
        for box in boxes:
            assert min(box[:2]) >= 9.9 and box[2] <= page.size[0] - 9.9
            assert box[3] <= page.size[1] - 9
        for mark in page.marks:
            if isinstance(mark, Line) and mark.layer == "DIMENSIONS":
                assert not [t.text for t in texts if crossed(mark, t)]


def test_every_bend_of_the_run_has_its_strip(
    jobs: dict[str, tuple[Job, tuple[BendSheet, ...]]],
) -> None:
    for _, (sheet,) in jobs.values():
        drawn = [row.made.label for strip in bend_strips(sheet) for row in strip.rows]
        assert list(dict.fromkeys(drawn)) == [row.made.label for row in sheet.rows]


def test_marks_lie_where_their_distance_says(
    jobs: dict[str, tuple[Job, tuple[BendSheet, ...]]],
) -> None:
    """Read from the SVG: ticks of the bar over its length are the printed distances over 3.048 m.

    By hand: 12.5 in at 30° is an arc of 166.2 mm; the second stick begins 140 mm before the figure.
    """
    job, sheets = jobs["saddle of four"]
    (page,) = strip_sheets(job, sheets, "SI", paper="a4")
    root = ElementTree.fromstring(sheet_svg(page))
    texts = [(float(e.get("x", "0")), float(e.get("y", "0")), e.text or "") for e in root.iter()
             if e.tag.endswith("}text")]  # fmt: skip
    named = [(x, y, text) for x, y, text in texts if re.fullmatch(r"B0[1-4] (start|end)", text)]
    assert len(named) == 8
    told = {}
    for x, y, text in named:
        below = min((t for t in texts if abs(t[0] - x) < 0.01 and t[1] > y), key=lambda t: t[1])
        told[text] = parse(below[2].replace(",", ""), "length", "SI")
    arc = 12.5 * INCH * math.radians(30)
    strip = next(s for s in bend_strips(sheets[0]) if len(s.rows) > 1)
    first = told["B01 start"]
    assert first == pytest.approx(strip.marks[0].at, abs=5.1e-4)
    assert told["B01 end"] - first == pytest.approx(arc, abs=1e-3)
    assert told["B02 start"] - first == pytest.approx(arc + 0.4, abs=1e-3)
    assert told["B04 end"] - first == pytest.approx(4 * arc + 1.3, abs=1e-3)
    left, right = 10.0, page.size[0] - 10.0
    ticks = [m for m in page.marks if isinstance(m, Line) and m.layer == "BENDS"]
    at = (float(ticks[0].points[0][0]) - left) / (right - left) * strip.piece.length
    assert at == pytest.approx(strip.marks[0].at, abs=1e-9)


def test_the_dials_turn_as_the_conduit_is_rolled() -> None:
    """Up, then left of it: looking along +x up is at the top of the dial, left at its left."""
    shape = [Go(0.5), Turn(20, 0.4, "up"), Go(0.3), Turn(20, 0.4, "left"), Go(0.3)]
    job, sheets = made(shape)
    (page,) = strip_sheets(job, sheets, "US", paper="letter")
    dials = [m.at for m in page.marks if isinstance(m, Ring)]
    lines = [m for m in page.marks if isinstance(m, Line) and m.width > 0.3]
    ways = []
    for x, y in dials:
        (arrow,) = [m for m in lines if tuple(m.points[0]) == (x, y)]
        ways.append(((arrow.points[1][0] - x), (arrow.points[1][1] - y)))
    assert ways[0] == pytest.approx((0, -0.9 * 4.2), abs=1e-9)
    assert ways[1][0] < -3.7 and abs(ways[1][1]) < 0.1


def test_a_label_for_every_piece(jobs: dict[str, tuple[Job, tuple[BendSheet, ...]]]) -> None:
    job, sheets = jobs["mezzanine"]
    pages = label_sheets(job, sheets, "US", paper="letter")
    texts = [m.text for page in pages for m in page.marks if isinstance(m, Text)]
    assert [t for t in texts if re.fullmatch(r"M1-[SB]\d\d", t)] == [
        p.label for p in sheets[0].shop.pieces
    ]


def test_values_nobody_confirmed_are_said_on_every_sheet(
    jobs: dict[str, tuple[Job, tuple[BendSheet, ...]]],
) -> None:
    job, sheets = jobs["saddle of four"]
    for page in strip_sheets(job, sheets, "US", paper="letter"):
        texts = [m.text for m in page.marks if isinstance(m, Text)]
        assert "EXAMPLE VALUES, not confirmed: cable.phase" in texts
