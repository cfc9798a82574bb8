"""How readings scatter about what they should be: correlated along the cable, and rounded.

A gauge swings slowly and its dial is read to the next mark, so neighboring readings say less than
their number. The residual r at cable length s is e(s) + v: e a stationary first-order process with
standard deviation ``sigma`` whose correlation over a distance d is exp(-d / reach), v the rounding,
taken as white with variance step²/12 (B. Widrow, I. Kollár, Quantization Noise, 2008, section 1.1,
from memory). The likelihood is exact for that model by the scalar Kalman filter (A. C. Harvey,
Forecasting, Structural Time Series Models and the Kalman Filter, 1989, section 3.4, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from route3d.geometry.vectors import Floats


@dataclass(frozen=True, slots=True)
class Noise:
    """``sigma`` N, ``reach`` m over which the correlation falls to 1/e, dial ``step`` N."""

    sigma: float
    reach: float
    step: float

    @property
    def rounding(self) -> float:
        """Variance of rounding to the marks of the dial, N²."""
        return self.step**2 / 12.0


class NoiseState(NamedTuple):
    """What is known of e at the last reading: its ``mean`` N (k,), ``variance`` N², and where.

    One scenario may be a plain float.
    """

    mean: Any
    variance: float
    at: float


def start_state(noise: Noise, count: int) -> NoiseState:
    """Before the first reading, in ``count`` scenarios."""
    return NoiseState(np.zeros(count), noise.sigma**2, math.nan)


def predicted(noise: Noise, state: NoiseState, at: float) -> NoiseState:
    """The state carried on to cable length ``at`` m, before anything is read there."""
    if math.isnan(state.at):
        return NoiseState(state.mean, state.variance, at)
    rho = math.exp(-abs(at - state.at) / noise.reach)
    variance = rho**2 * state.variance + (1.0 - rho**2) * noise.sigma**2
    return NoiseState(rho * state.mean, variance, at)


def updated(noise: Noise, state: NoiseState, at: float, residual: Any) -> tuple[NoiseState, Any]:
    """The state with ``residual`` (k,) N read at ``at`` m, and the log likelihood of it, (k,)."""
    before = predicted(noise, state, at)
    total = before.variance + noise.rounding
    surprise = residual - before.mean
    gain = before.variance / total
    after = NoiseState(before.mean + gain * surprise, before.variance * (1.0 - gain), at)
    return after, -0.5 * (math.log(2.0 * math.pi * total) + surprise**2 / total)


def log_likelihood(noise: Noise, at: Floats, residual: Floats) -> Floats:
    """Log likelihood of residuals (n, k) N at cable lengths ``at`` (n,) m in order, (k,)."""
    if residual.shape[1] == 1:  # in plain floats: numpy's cost per call would be most of the time
        state, rows = NoiseState(0.0, noise.sigma**2, math.nan), residual[:, 0].tolist()
    else:
        state, rows = start_state(noise, residual.shape[1]), residual
    total = np.zeros(residual.shape[1])
    for place, row in zip(at.tolist(), rows, strict=True):
        state, each = updated(noise, state, place, row)
        total += each
    return total
