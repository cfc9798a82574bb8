"""Friction of the next pull: one's own past pulls pooled with the published range.

Log friction of a pull varies about the middle m of the shop with standard deviation tau between
pulls; each pull is known with its own standard error. The published range counts as
``PUBLISHED_PULLS`` pulls: tau² has a scaled inverse chi-square prior with that many degrees of
freedom, m given tau a normal one of variance tau² / ``PUBLISHED_PULLS`` about the middle of the
range, and its scale is such that without a pull the 90 % interval of the next one is the range
itself. The posterior is exact but for one quadrature over tau (A. Gelman et al., Bayesian Data
Analysis, 3rd ed. 2013, sections 3.3 and 5.4, from memory).

Pulls of one day or one bank share lubricant, crew and conduit, and are not as many witnesses: each
of n counts 1/n in the likelihood, which leaves tau that of single pulls.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats

PUBLISHED_PULLS = 4
"""How many pulls the published range counts as (own judgement)."""
INTERVAL = 0.9
"""Probability that the next pull lies between ``low`` and ``high``."""
_T_95 = 2.131846786  # of Student's t with PUBLISHED_PULLS degrees of freedom
_TAUS = 120  # of the quadrature; the interval then keeps three digits
_HALVINGS = 40
_NO_SHARE = 1e-9


@dataclass(frozen=True, slots=True)
class NextPull:
    """Friction of the next pull: median ``value``, 90 % interval ``low`` to ``high``.

    ``weight`` is the share of one's own pulls in the middle, ``between`` the standard deviation of
    log friction between pulls. ``mixture`` is the whole distribution: normals of log friction, each
    by its share, mean and standard deviation.
    """

    value: float
    low: float
    high: float
    weight: float
    between: float
    mixture: tuple[tuple[float, float, float], ...] = ()


def next_pull(
    values: Sequence[float],
    errors: Sequence[float],
    weights: Sequence[float],
    published: tuple[float, float],
) -> NextPull:
    """The next pull after (n,) past ones.

    ``values`` are their friction, ``errors`` the standard errors of log friction, ``weights`` what
    each counts, and ``published`` the range, low below high. n may be 0.
    """
    low, high = map(math.log, published)
    y, s2 = np.log(np.asarray(values, np.float64)), np.asarray(errors, np.float64) ** 2
    w, k = np.asarray(weights, np.float64), float(PUBLISHED_PULLS)
    middle, scale = (low + high) / 2, (high - low) / 2 / (_T_95 * math.sqrt(1 + 1 / k))
    apart = float(np.sqrt(np.mean((y - middle) ** 2))) if len(y) else 0.0
    tau = np.geomspace(scale / 60, 60 * scale + 4 * apart, _TAUS)
    tau2 = tau**2
    # (taus, n): how precisely each pull knows the middle
    each = w / (tau2[:, None] + s2)
    prior = k / tau2
    precision = prior + each.sum(axis=1)
    mean = (prior * middle + each @ y) / precision
    misfit = prior * (middle - mean) ** 2 + (each * (y - mean[:, None]) ** 2).sum(axis=1)
    log_posterior = (
        -k * np.log(tau) - k * scale**2 / (2 * tau2)  # of log tau, on which the grid is even
        + 0.5 * (np.log(prior) - np.log(precision) - misfit)
        - 0.5 * (w * np.log(tau2[:, None] + s2)).sum(axis=1)
    )  # fmt: skip
    p = np.exp(log_posterior - log_posterior.max())
    p /= p.sum()
    spread = np.sqrt(tau2 + 1 / precision)
    tail = (1 - INTERVAL) / 2
    ends = [_quantile(q, p, mean, spread) for q in (tail, 0.5, 1 - tail)]
    return NextPull(
        value=math.exp(ends[1]),
        low=math.exp(ends[0]),
        high=math.exp(ends[2]),
        weight=float(p @ (1 - prior / precision)),
        between=float(math.sqrt(p @ tau2)),
        mixture=_mixture(p, mean, spread),
    )


def _mixture(p: Floats, mean: Floats, spread: Floats) -> tuple[tuple[float, float, float], ...]:
    """The normals that matter, their shares summing to 1."""
    kept = p > _NO_SHARE
    columns = (p[kept] / p[kept].sum(), np.broadcast_to(mean, p.shape)[kept], spread[kept])
    return tuple(zip(*(c.tolist() for c in columns), strict=True))


def _quantile(q: float, p: Floats, mean: Floats, spread: Floats) -> float:
    """Of a mixture of normals with shares ``p``."""
    kept = p > _NO_SHARE
    p, mean, spread = p[kept], mean[kept], spread[kept]
    low, high = float((mean - 9 * spread).min()), float((mean + 9 * spread).max())
    for _ in range(_HALVINGS):
        x = (low + high) / 2
        below = [math.erfc(u) for u in ((mean - x) / (spread * math.sqrt(2))).tolist()]
        if 0.5 * float(p @ np.array(below)) < q:
            low = x
        else:
            high = x
    return (low + high) / 2
