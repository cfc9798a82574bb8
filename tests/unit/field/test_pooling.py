"""Friction of the next pull: exact where a closed form is, and its interval holds what it says."""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.field.pooling import PUBLISHED_PULLS, NextPull, next_pull

PUBLISHED = (0.15, 0.35)
MIDDLE = (math.log(0.15) + math.log(0.35)) / 2
HALF = (math.log(0.35) - math.log(0.15)) / 2


def _pooled(values: list[float], error: float = 0.05, weight: float = 1.0) -> NextPull:
    n = len(values)
    return next_pull(values, [error] * n, [weight] * n, PUBLISHED)


def test_without_a_pull_it_is_the_published_range() -> None:
    none = _pooled([])
    assert (none.low, none.high) == pytest.approx(PUBLISHED, rel=1e-4)
    assert none.value == pytest.approx(math.exp(MIDDLE), rel=1e-6)
    assert none.weight == 0.0


@pytest.mark.parametrize("n", [1, 3, 12])
def test_pulls_known_exactly_have_the_closed_form(n: int) -> None:
    """Without errors of their own the prior is conjugate: a Student t (BDA, section 3.3)."""
    from scipy.stats import t

    k = PUBLISHED_PULLS
    y = MIDDLE + np.random.default_rng(n).normal(-0.3, 0.2, n)
    scale2 = (HALF / (t.ppf(0.95, k) * math.sqrt(1 + 1 / k))) ** 2
    misfit = ((y - y.mean()) ** 2).sum() + k * n / (k + n) * (y.mean() - MIDDLE) ** 2
    sigma = math.sqrt((k * scale2 + misfit) / (k + n) * (1 + 1 / (k + n)))
    middle, half = (k * MIDDLE + n * y.mean()) / (k + n), t.ppf(0.95, k + n) * sigma
    ours = next_pull(list(np.exp(y)), [0.0] * n, [1.0] * n, PUBLISHED)
    assert ours.value == pytest.approx(math.exp(middle), rel=1e-5)
    assert (ours.low, ours.high) == pytest.approx(
        (math.exp(middle - half), math.exp(middle + half)), rel=2e-4
    )
    assert ours.weight == pytest.approx(n / (k + n), rel=1e-6)


def test_three_pulls_do_not_pretend_to_be_thirty() -> None:
    """Their spread drawn from the published one: width against that of the published range."""
    rng = np.random.default_rng(5)

    def width(n: int) -> float:
        pulls = [_pooled(list(np.exp(rng.normal(MIDDLE, HALF / 2, n)))) for _ in range(40)]
        return float(np.mean([math.log(p.high / p.low) for p in pulls])) / (2 * HALF)

    assert 0.8 < width(3) < 1.2
    assert width(100) < 0.9


@pytest.mark.parametrize("middle", [0.12, 0.18, 0.3])
def test_a_hundred_pulls_are_followed_and_three_are_not(middle: float) -> None:
    own = list(np.exp(np.random.default_rng(7).normal(math.log(middle), 0.1, 100)))
    many, few = _pooled(own), _pooled(own[:3])
    ends = np.quantile(own, [0.05, 0.95])
    assert many.value == pytest.approx(middle, rel=0.04)
    assert many.low <= ends[0] * 1.03 and many.high >= ends[1] / 1.03
    # where all of them lie outside the published range, that still widens the interval
    wide = 2.0 if middle < PUBLISHED[0] else 1.35
    assert math.log(many.high / many.low) < wide * math.log(ends[1] / ends[0])
    assert few.weight < 0.5 < 0.9 < many.weight
    assert math.log(few.high / few.low) > 1.5 * math.log(many.high / many.low)


def test_pulls_of_one_day_count_as_one() -> None:
    """Six of one group move the middle as far as one does, and leave the spread wide."""
    single, group = _pooled([0.1]), _pooled([0.1] * 6, weight=1 / 6)
    assert (group.value, group.low, group.high) == pytest.approx(
        (single.value, single.low, single.high), rel=1e-9
    )
    assert _pooled([0.1] * 6).high < group.high


def test_a_pull_known_badly_counts_less() -> None:
    assert _pooled([0.1], error=1.0).weight < 0.3 * _pooled([0.1], error=0.05).weight


@pytest.mark.parametrize("n", [1, 3, 10, 100])
def test_the_interval_covers_the_next_pull(n: int) -> None:
    """Two hundred synthetic shops: middles and spreads of their own within the published range.

    A shop has 30 to 90 % of the variance of log friction between its own pulls, the rest is between
    shops; each past pull is known to 3 to 15 %.
    """
    rng = np.random.default_rng(100 + n)
    variance, hits = (HALF / 1.645) ** 2, 0
    for _ in range(200):
        within = rng.uniform(0.3, 0.9)
        middle = rng.normal(MIDDLE, math.sqrt(variance * (1 - within)))
        true = rng.normal(middle, math.sqrt(variance * within), n + 1)
        errors = rng.uniform(0.03, 0.15, n)
        past = np.exp(true[:n] + rng.normal(0.0, errors))
        told = next_pull(list(past), list(errors), [1.0] * n, PUBLISHED)
        hits += told.low <= math.exp(true[n]) <= told.high
    assert 0.85 <= hits / 200 <= 0.95
