"""Points that scatter are told from bends and curves, and made the straights they were taken on."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.geometry.recognize import recognize
from route3d.geometry.scatter import fitting_tolerance, scatter_of, straightened
from route3d.geometry.vectors import Floats, norm

TRUTH = np.array([(0.0, 0, 0), (100, 0, 0), (100, 99.5, 0)])
ALONG = np.arange(400) * 0.5


def walk(seed: int, plan: float = 0.02, height: float = 0.04) -> Floats:
    """400 points each half meter along the truth, as far off as a receiver has them."""
    x, y = np.minimum(ALONG, 100.0), np.maximum(ALONG - 100.0, 0.0)
    off = np.random.default_rng(seed).normal(0.0, (plan, plan, height), (len(ALONG), 3))
    return np.column_stack((x, y, 0 * x)) + off


@pytest.mark.parametrize("seed", range(2))
def test_a_walk_with_a_receiver_becomes_its_two_straights(seed: int) -> None:
    points = walk(seed)
    # across each line: 20 mm in plan and 40 mm in height
    assert scatter_of(points) == pytest.approx(np.hypot(0.02, 0.04), rel=0.15)
    limit = fitting_tolerance(points)
    assert limit is not None and 0.05 <= limit <= 0.15
    for tolerance in (limit, 2 * limit):
        made = recognize(points, tolerance)
        assert made.points.shape == TRUTH.shape and not made.radii.any()
        # 20 mm of 200 points lie on a line within 3 mm; the ends are feet, with 20 mm along it
        assert norm(made.points - TRUTH)[1] < 0.015
        assert np.abs((made.points - TRUTH)[:, 2]).max() < 0.02
        assert made.residual <= 2 * tolerance and made.scatter > 0
    assert recognize(points, 0.005).scatter == 0  # too tight: told, not made up


def test_marked_points_stay_on_the_straights() -> None:
    keep = np.zeros(400, dtype=bool)
    keep[[50, 200, 300]] = True
    made = recognize(walk(3), 0.2, keep=keep)
    assert {50, 300} <= set(made.source.tolist()) and len(made.points) == 5


@pytest.mark.parametrize(
    "points",
    [
        np.column_stack((ALONG, 20 * np.sin(ALONG / 30), 0 * ALONG)),
        np.column_stack((5 * np.cos(ALONG / 200), 5 * np.sin(ALONG / 200), 0 * ALONG)),
        np.column_stack((ALONG, np.where(ALONG % 10 < 5, 0.0, 0.4), 0 * ALONG)),  # offsets
        np.column_stack((ALONG, 0 * ALONG, 0 * ALONG)),
    ],
)
def test_curves_and_offsets_do_not_scatter(points: Floats) -> None:
    assert scatter_of(points) == 0.0


def test_a_bend_of_five_points_is_no_scatter() -> None:
    assert straightened(walk(0)[:5], 1.0) is None
    assert scatter_of(walk(0)[:10]) == 0.0
