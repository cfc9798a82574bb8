"""Which input matters most: Sobol indices, Borgonovo's delta, and one input at a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from route3d.geometry.vectors import Floats

REPLICATES = 8
"""Independent scrambles of the points: what differs between them tells the error."""
T_95 = 2.3646242515927844
"""97.5th percentile of Student's t with one degree of freedom less than ``REPLICATES``."""

Function = Callable[[Floats], Floats]
"""Values (s, k) at points (d, k) of the open unit cube."""


class Indices(NamedTuple):
    """Sobol indices of s outputs for d inputs, all (s, d), with half the 95 % interval of each."""

    first: Floats
    first_error: Floats
    total: Floats
    total_error: Floats


def sobol_indices(function: Function, inputs: int, points: int, seed: int) -> Indices:
    """First and total Sobol indices of any function of independent inputs.

    Parameters
    ----------
    function : callable
        Values (s, k) at points (d, k) of the open unit cube; each input is its own quantile.
    inputs : int
        Number d of inputs.
    points : int
        Points of each of ``REPLICATES`` scrambles, a power of two; d + 2 times as many calls.
    seed : int
        The same seed gives the same figures.

    Returns
    -------
    Indices
        Means over the scrambles; an output that does not vary has indices of 0.

    References
    ----------
    Saltelli et al. 2010, by ``scipy.stats.sobol_indices``. A constant is taken off the output
    first, as the estimators then are less noisy (own judgment; the indices do not change).
    """
    from scipy import stats

    cube = [stats.uniform()] * inputs
    near = function(np.full((inputs, 1), 0.5))
    firsts, totals = [], []
    for replicate in range(REPLICATES):
        rng = np.random.default_rng([seed, 1, replicate])

        def centered(at: Floats) -> Floats:
            return function(inside(at)) - near

        with np.errstate(invalid="ignore", divide="ignore"):
            found = stats.sobol_indices(func=centered, n=points, dists=cube, rng=rng)
        firsts.append(np.nan_to_num(found.first_order).reshape(-1, inputs))
        totals.append(np.nan_to_num(found.total_order).reshape(-1, inputs))
    (first, first_error), (total, total_error) = map(_mean_and_error, (firsts, totals))
    return Indices(first, first_error, total, total_error)


def inside(at: Floats) -> Floats:
    """Points of the unit cube, those on its faces moved in by half a step of the sequence."""
    step = 2.0**-31
    return np.clip(at, step, 1.0 - step)


def _mean_and_error(each: list[Floats]) -> tuple[Floats, Floats]:
    values = np.array(each)
    error = T_95 * values.std(axis=0, ddof=1) / np.sqrt(len(values))
    return values.mean(axis=0), error


def delta_indices(values: Floats, output: Floats, seed: int) -> tuple[Floats, Floats]:
    """Borgonovo's delta (d,) of inputs (d, k) for an output (k,), and half its 95 % interval.

    It asks how much the whole distribution of the output moves when an input is known, and so
    holds for inputs that go together too (E. Borgonovo 2007, by SALib). An input that does nothing
    comes out at some 0.06, the noise of density estimates.
    """
    import warnings

    from SALib.analyze import delta

    if np.ptp(output) == 0:
        return np.zeros(len(values)), np.zeros(len(values))
    names = [f"x{i}" for i in range(len(values))]
    problem = {"num_vars": len(values), "names": names, "bounds": [[0.0, 1.0]] * len(values)}
    # It seeds the generator of the whole process, and changes how warnings are worded.
    state, wording = np.random.get_state(), warnings.formatwarning  # noqa: NPY002
    try:
        with warnings.catch_warnings(record=True):
            found = delta.analyze(
                problem, values.T.copy(), output, num_resamples=10, seed=seed, method="delta"
            )
    finally:
        np.random.set_state(state)  # noqa: NPY002
        warnings.formatwarning = wording
    key = "delta_raw" if "delta_raw" in found else "delta"
    return np.array(found[key], dtype=np.float64), np.array(found[f"{key}_conf"], dtype=np.float64)
