"""Readings at the marks of a dial: Stop down, nothing above it, nothing lost between two rows."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from route3d.model import Gear
from route3d.planning.pull_plan.dial import NO_WARNING, TOO_COARSE, dial_rows, first_move_mark
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.stop_reading import Reached
from route3d.report.plan_blocks import weightiest
from tests.support.gauge_rows import gauge_row

GEAR = Gear(30e3, 0.1)


def table(draw: np.random.Generator) -> list[GaugeRow]:
    """Rows with expected <= caution <= stop, as a plan that holds has them; some stops unseen."""
    rows = []
    for pulled in np.sort(draw.uniform(0, 300, draw.integers(3, 30))).tolist():
        expected, caution, stop = np.sort(draw.uniform(0, draw.choice([300, 5e3, 4e4]), 3)).tolist()
        stop = math.inf if draw.random() < 0.05 else stop
        row = gauge_row(pulled, "step", expected, Reached(stop, "rope", "rope"), GEAR)
        first = expected * 1.3 if draw.random() < 0.2 else None
        rows.append(replace(row, caution=caution, first_move=first, first_stop=stop))
    return rows


def test_every_reading_is_at_a_mark_and_on_the_safe_side() -> None:
    seen = set()
    for seed in range(500):
        draw = np.random.default_rng(seed)
        rows, step = table(draw), float(draw.choice([50 * 4.4482216152605, 200.0, 1000.0]))
        for each, row in zip(dial_rows(rows, step), rows, strict=True):
            for load in (each.expected, each.caution, each.stop, each.first_move or 0.0):
                assert math.isinf(load) or abs(load / step - round(load / step)) < 1e-6
            assert each.stop <= row.stop
            assert math.isinf(row.stop) or row.stop - each.stop < step * (1 + 1e-9)
            assert each.expected <= each.caution <= each.stop
            for shown, true in ((each.expected, row.expected), (each.caution, row.caution)):
                assert abs(shown - true) <= step / 2 * (1 + 1e-9) or shown == each.stop
            coarse = row.expected > each.stop
            tight = not coarse and each.caution == each.stop
            assert each.rule == (TOO_COARSE if coarse else NO_WARNING if tight else "")
            seen.add(each.rule)
    assert seen == {"", NO_WARNING, TOO_COARSE}


def test_the_lower_stop_of_two_rows_holds_between_them() -> None:
    lowered = 0
    for seed in range(300):
        draw = np.random.default_rng(seed)
        rows, step = table(draw), 200.0
        kept = weightiest(rows, int(draw.integers(2, 9)))
        shown = dial_rows(rows, step, kept)
        for row in rows:
            around = [
                min(a.stop, b.stop)
                for a, b in pairwise(shown)
                if a.row.pulled <= row.pulled <= b.row.pulled
            ]
            assert min(around) <= row.stop
            # no caution between two rows is hidden, but one below what the first of them expects
            held = [
                (min(a.caution, b.caution), a.row.expected)
                for a, b in pairwise(shown)
                if a.row.pulled <= row.pulled <= b.row.pulled
            ]
            assert any(caution <= max(row.caution, expected) + step for caution, expected in held)
        own = dial_rows(kept, step)
        lowered += any(a.stop < b.stop for a, b in zip(shown, own, strict=True))
    assert lowered > 20


@pytest.mark.parametrize(
    ("load", "stop", "mark"),
    [(1669, 3000, 1650), (1680, 1700, 1700), (1680, 1690, 1650), (656, 700, 650), (30, 40, 0)],
)
def test_a_first_move_is_expected_at_the_nearest_mark_but_not_above_its_stop(
    load: float, stop: float, mark: float
) -> None:
    assert first_move_mark(load, stop, 50.0) == pytest.approx(mark)
