"""Forces between frictionless bodies in contact: a linear complementarity problem."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

# Softens the quadratic program so that redundant contacts (hexagonal heaps) have one answer.
SOFTNESS = 1e-13
# Larger systems are solved in blocks of this size. Above it numpy's linear algebra starts threads,
# which on a busy machine makes a system of 130 up to a thousand times slower (measured).
BLOCK = 56


def contact_forces(Q: Floats, g: Floats) -> Floats:
    """Solve ``f >= 0, s = Q f + g >= 0, f·s = 0``: contact forces f that keep the gaps s open.

    A primal-dual interior-point method with Mehrotra's correction (Nocedal & Wright, Numerical
    Optimization, 2006, ch. 16.6, from memory). Heaps of equal cables have far more contacts than
    they need; methods that guess which ones press take thousands of guesses there.
    """
    Q = Q + np.eye(len(g)) * SOFTNESS * max(1.0, float(Q.diagonal().max()))
    size = max(float(abs(g).max()), 1e-9)
    f = np.full(len(g), size / max(1e-12, float(Q.diagonal().mean())))
    s = np.maximum(Q @ f + g, size)
    for _ in range(60):
        off, mu = Q @ f + g - s, float(f @ s) / len(g)
        if mu < 1e-20 * (1 + float(f.max())):  # forces times gaps: rounding from here on
            break
        system = Q + np.diag(s / f)
        df = _solve(system, -off - s)
        ds = Q @ df + off
        ahead = _reach_of(f, df, s, ds)
        aim = float((f + ahead * df) @ (s + ahead * ds)) / len(g) / mu
        df = _solve(system, -off - s + (aim**3 * mu - df * ds) / f)
        ds = Q @ df + off
        part = min(1.0, 0.995 * _reach_of(f, df, s, ds))
        f, s = f + part * df, s + part * ds
    return f


def _reach_of(f: Floats, df: Floats, s: Floats, ds: Floats) -> float:
    """Largest part of a step, at most 1, that leaves forces and gaps positive."""
    shrink = max(float((-df / f).max()), float((-ds / s).max()), 1e-300)
    return min(1.0, 1 / shrink)


def _solve(A: Floats, b: Floats) -> Floats:
    """Solve A x = b by block elimination; A symmetric, positive definite; b (n,) or (n, k)."""
    n = len(A)
    if n <= BLOCK:
        return np.asarray(np.linalg.solve(A, b), dtype=np.float64)
    k = min(BLOCK, n // 2)
    wide = b.reshape(n, -1)
    left = np.linalg.solve(A[:k, :k], np.hstack([A[:k, k:], wide[:k]]))
    low = _solve(A[k:, k:] - A[k:, :k] @ left[:, : n - k], wide[k:] - A[k:, :k] @ left[:, n - k :])
    return np.vstack([left[:, n - k :] - left[:, : n - k] @ low, low]).reshape(b.shape)
