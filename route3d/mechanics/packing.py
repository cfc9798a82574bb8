"""Round cables at rest in a round conduit: where each one lies."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from route3d.mechanics.arrangement import FitError, contact_limits, mixed
from route3d.phrase import say

# --- the smallest circle round a set of circles ---------------------------------------------

Floats = npt.NDArray[np.float64]
Disc = tuple[float, float, float]


def enclosing_circle(centers: Floats, diameters: Sequence[float]) -> tuple[Floats, float]:
    """Center (2,) and diameter (m) of the smallest circle round all the cables, exact.

    Parameters
    ----------
    centers : ndarray, shape (N, 2)
        Centers of the cables about the axis of the conduit, m.
    diameters : sequence of float, length N
        Of the cables, m.

    Returns
    -------
    tuple of (ndarray, shape (2,), float)
        m
    """
    discs = [(float(x), float(y), d / 2) for (x, y), d in zip(centers, diameters, strict=True)]
    basis = [max(discs, key=lambda c: c[2])]
    x, y, r = basis[0]
    for _ in range(10 * len(discs)):  # each round grows the circle; a few rounds do
        far = max(discs, key=lambda c: math.hypot(c[0] - x, c[1] - y) + c[2])
        if math.hypot(far[0] - x, far[1] - y) + far[2] <= r * (1 + 1e-12):
            break
        x, y, r, basis = _smallest_round([*basis, far])
    return np.array([x, y]), 2 * r


def _smallest_round(discs: list[Disc]) -> tuple[float, float, float, list[Disc]]:
    """Smallest circle round up to four circles: the one of their one, two or three outermost."""
    best: tuple[float, float, float, list[Disc]] | None = None
    for count in (1, 2, 3):
        for group in combinations(discs, count):
            for x, y, r in _tangent_round(group):
                holds = all(math.hypot(a - x, b - y) + q <= r * (1 + 1e-11) for a, b, q in discs)
                if holds and (best is None or r < best[2]):
                    best = (x, y, r, list(group))
    if best is None:  # some three of the circles always decide
        raise ArithmeticError("no circle round the circles: coordinates not finite?")
    return best


def _tangent_round(group: tuple[Disc, ...]) -> list[Disc]:
    """Circles that touch one, two or three circles from outside, all of them held within."""
    x1, y1, r1 = group[0]
    if len(group) == 1:
        return [group[0]]
    if len(group) == 2:
        x2, y2, r2 = group[1]
        apart = math.hypot(x2 - x1, y2 - y1)
        if apart <= abs(r1 - r2):
            return []
        r = (apart + r1 + r2) / 2
        t = (r - r1) / apart
        return [(x1 + t * (x2 - x1), y1 + t * (y2 - y1), r)]
    # |p - ci| = R - ri; differences of the squares are linear in p and R.
    (a, b), (e, f) = [(2 * (x - x1), 2 * (y - y1)) for x, y, _ in group[1:]]
    det = a * f - b * e
    if abs(det) < 1e-18:
        return []
    k = [x * x - x1 * x1 + y * y - y1 * y1 - r * r + r1 * r1 for x, y, r in group[1:]]
    m = [2 * (r - r1) for _, _, r in group[1:]]
    px, qx = (k[0] * f - k[1] * b) / det, (m[0] * f - m[1] * b) / det
    py, qy = (a * k[1] - e * k[0]) / det, (a * m[1] - e * m[0]) / det
    dx, dy = px - x1, py - y1
    A, B, C = qx * qx + qy * qy - 1, dx * qx + dy * qy + r1, dx * dx + dy * dy - r1 * r1
    roots = _roots(A, B, C)
    return [(px + qx * R, py + qy * R, R) for R in roots if min(r for *_, r in group) <= R]


def _roots(A: float, B: float, C: float) -> list[float]:
    """Real roots of ``A R² + 2 B R + C = 0``."""
    if abs(A) < 1e-15:
        return [-C / (2 * B)] if B else []
    disc = B * B - A * C
    if disc < 0:
        return []
    return [(-B - math.sqrt(disc)) / A, (-B + math.sqrt(disc)) / A]


# --- forces between frictionless bodies in contact: a linear complementarity problem --------

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

    Parameters
    ----------
    Q : ndarray, shape (n, n)
        Symmetric, positive semidefinite.
    g : ndarray, shape (n,)
        Gaps without forces.

    Returns
    -------
    ndarray, shape (n,)
        f
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


# --- round cables at rest in a round conduit: where each one lies ---------------------------
# Coordinates are those of the conduit section: origin on its axis, y up, in m. ``settle`` finds a
# rest position of any set of cables, friction neglected, in three moves: drop the cables one by
# one into the lowest free place; where that fails, grow them from small ones until they fill the
# room; then let all of them sink together until no cable can go lower.
#
# The sinking and the growing are one method: linearise every gap, take the step that gains most
# without closing a gap (a small quadratic program), repeat. A linearized gap between two circles
# is never larger than the true one, so no step makes cables overlap.

__all__ = [
    "Overlaps",
    "clearance_above",
    "enclosing_circle",
    "free_lift",
    "height",
    "ridden_positions",
    "section_positions",
    "settle",
    "verify",
]


# Largest overlap left standing, in bores: a hundredth of a micron in any real conduit.
OVERLAP = 1e-9
# Steps of one descent; ordinary sets need 20 to 100.
STEPS = 400
# A move this small, in bores, is rest: ten times finer than OVERLAP.
REST = 1e-10
# Gaps up to this, in bores, are watched. Wider means longer steps but larger systems.
REACH = 0.03


@dataclass(frozen=True, slots=True)
class Overlaps:
    """Areas (m²) that must be nil: cables over one another, and cables outside the bore."""

    between: float
    outside: float


def section_positions(arrangement: str, diameters: Sequence[float], D: float) -> Floats:
    """Centers (N, 2) of the cables in the named arrangement; exact where it is a formula.

    Equal cables lie as their arrangement says, others as they settle.

    Parameters
    ----------
    arrangement : str
        One of ARRANGEMENTS.
    diameters : sequence of float, length N
        Of the cables, m.
    D : float
        Inner diameter of the conduit, m.

    Returns
    -------
    ndarray, shape (N, 2)
        m

    Raises
    ------
    FitError
        Where they do not go in.
    """
    exact = {"single": _single, "two": _two, "triangular": _triangular}
    exact |= {"cradled": _cradled, "diamond": _diamond}
    if arrangement not in exact or (mixed(diameters) and arrangement not in ("single", "two")):
        return settle(diameters, D)
    lowest, highest = contact_limits(arrangement)
    if D / max(diameters) < lowest * (1 - OVERLAP) and arrangement != "two":
        return settle(diameters, D)  # only to say what bore is needed
    if arrangement == "diamond" and D / max(diameters) > highest:
        return settle(diameters, D)  # there is no diamond so wide
    return exact[arrangement](np.asarray(diameters, dtype=float), D)


def ridden_positions(
    arrangement: str, mains: Sequence[float], riders: Sequence[float], D: float
) -> Floats:
    """Centers (N, 2) of main cables as arranged, with riding cables in the lowest places left free.

    Main cables come first. Where the riders find no room beside them all cables settle together.

    Parameters
    ----------
    arrangement : str
        Of the main cables.
    mains, riders : sequence of float
        Diameters, m.
    D : float
        Inner diameter of the conduit, m.

    Returns
    -------
    ndarray, shape (N, 2)
        m

    Raises
    ------
    FitError
        Where they do not go in.
    """
    placed = section_positions(arrangement, mains, D)
    if not riders:
        return placed
    radii = np.array([*mains, *riders]) / (2 * D)
    order = np.arange(len(mains), len(radii))
    found = _drop(radii, order, placed / D)
    return settle((*mains, *riders), D) if found is None else found * D


def settle(
    diameters: Sequence[float],
    inner_diameter: float,
    seed: int = 0,
    *,
    weights: Floats | None = None,
) -> Floats:
    """Centers (N, 2), m, of cables at rest under gravity: a local minimum of their energy.

    ``weights`` default to the squares of the diameters. The same input gives the same answer;
    ``seed`` picks other starting orders. No overlap exceeds 1e-9 of the bore.

    Parameters
    ----------
    diameters : sequence of float, length N
        Of the cables, m.
    inner_diameter : float
        Of the conduit, m.
    seed : int
        Other starting orders.
    weights : ndarray, shape (N,), optional
        Default: squares of the diameters.

    Returns
    -------
    ndarray, shape (N, 2)
        m

    Raises
    ------
    FitError
        Where no place is found; with the bore needed.
    """
    radii = np.asarray(diameters, dtype=float) / (2 * inner_diameter)
    pull = radii**2 if weights is None else np.asarray(weights, dtype=float)
    pull = pull / pull.mean()
    _refuse_hopeless(radii, inner_diameter)
    heaps = [h for start in _starts(radii, seed) if (h := _sink(start, radii, pull)) is not None]
    if not heaps and (h := _sink(_grown(radii, seed, inner_diameter), radii, pull)) is not None:
        heaps = [h]
    if not heaps:
        raise _no_room(1.0, inner_diameter)
    return min(heaps, key=lambda c: round(float(pull @ c[:, 1]), 9)) * inner_diameter


def height(centers: Floats, diameters: Sequence[float]) -> float:
    """Highest point of the bundle above the conduit axis, m.

    Parameters
    ----------
    centers : ndarray, shape (N, 2)
        Centers of the cables about the axis of the conduit, m.
    diameters : sequence of float, length N
        Of the cables, m.

    Returns
    -------
    float
        m
    """
    return float(np.max(centers[:, 1] + np.asarray(diameters) / 2))


def clearance_above(centers: Floats, diameters: Sequence[float], D: float) -> float:
    """Gap (m) between the crown of the bore and the level of the highest point of the bundle.

    Parameters
    ----------
    centers : ndarray, shape (N, 2)
        Centers of the cables about the axis of the conduit, m.
    diameters : sequence of float, length N
        Of the cables, m.
    D : float
        Inner diameter of the conduit, m.

    Returns
    -------
    float
        m
    """
    return D / 2 - height(centers, diameters)


def free_lift(centers: Floats, diameters: Sequence[float], D: float) -> float:
    """How far (m) the bundle can be lifted straight up, as one body, before it meets the wall.

    Equals :func:`clearance_above` where the highest cable lies on the centerline; less where
    the highest cables lie to the sides, as in the cradle.

    Parameters
    ----------
    centers : ndarray, shape (N, 2)
        Centers of the cables about the axis of the conduit, m.
    diameters : sequence of float, length N
        Of the cables, m.
    D : float
        Inner diameter of the conduit, m.

    Returns
    -------
    float
        m
    """
    room = (D - np.asarray(diameters)) / 2
    x, y = centers.T
    return float(np.min(np.sqrt(np.maximum(room**2 - x**2, 0)) - y))


def verify(centers: Floats, diameters: Sequence[float], D: float) -> Overlaps:
    """Overlaps by polygon areas (shapely): a second way to see that a section is possible.

    Polygons lie inside the cables and outside the bore, so touching is never read as overlap.

    Parameters
    ----------
    centers : ndarray, shape (N, 2)
        Centers of the cables about the axis of the conduit, m.
    diameters : sequence of float, length N
        Of the cables, m.
    D : float
        Inner diameter of the conduit, m.

    Returns
    -------
    Overlaps
        Areas, m².
    """
    from shapely import Point
    from shapely.strtree import STRtree

    sides = 64  # per quarter turn
    discs = [
        Point(x, y).buffer(d / 2, quad_segs=sides)
        for (x, y), d in zip(centers, diameters, strict=True)
    ]
    bore = Point(0, 0).buffer(D / 2 / math.cos(math.pi / (4 * sides)), quad_segs=sides)
    pairs = STRtree(discs).query(discs, predicate="intersects").T
    between = sum(discs[i].intersection(discs[j]).area for i, j in pairs if i < j)
    return Overlaps(float(between), float(sum(disc.difference(bore).area for disc in discs)))


# --- exact arrangements ---------------------------------------------------------------------


def _single(d: Floats, D: float) -> Floats:
    return np.array([[0.0, (d[0] - D) / 2]])


def _two(d: Floats, D: float) -> Floats:
    """Side by side, turned so that their common center of weight hangs under the axis."""
    rho, weight = (D - d) / 2, d**2
    if rho[0] * rho[1] <= 0 or d.sum() > D * (1 + OVERLAP):
        return settle(tuple(d), D)
    # Angle between the two as seen from the axis: sin²(ψ/2) = x1 x2, xi = di/(D-di).
    psi = 2 * math.asin(min(1.0, math.sqrt(d[0] * d[1] / (4 * rho[0] * rho[1]))))
    turn = math.atan2(
        weight[1] * rho[1] * math.sin(psi),
        weight[0] * rho[0] + weight[1] * rho[1] * math.cos(psi),
    )
    angles = np.array([-turn, psi - turn])
    return np.column_stack([rho * np.sin(angles), -rho * np.cos(angles)])


def _triangular(d: Floats, D: float) -> Floats:
    low = -math.sqrt(max((D - d[0]) ** 2 - d[0] ** 2, 0.0)) / 2
    top = low + d[0] * math.sqrt(3) / 2
    return np.array([[-d[0] / 2, low], [d[0] / 2, low], [0.0, top]])


def _cradled(d: Floats, D: float) -> Floats:
    """One at the bottom, one on each side of it, all three on the wall."""
    rho, x = (D - d[0]) / 2, d[0] / (D - d[0])
    side, level = d[0] * math.sqrt(1 - x * x), -rho * (1 - 2 * x * x)
    return np.array([[-side, level], [0.0, -rho], [side, level]])


def _diamond(d: Floats, D: float) -> Floats:
    """A cradle with a fourth on top of its two sides."""
    cradle = _cradled(d, D)
    top = 2 * cradle[0, 1] - cradle[1, 1]
    return np.vstack([cradle, [[0.0, top]]])


# --- starting positions ---------------------------------------------------------------------


def _starts(radii: Floats, seed: int) -> Iterator[Floats]:
    """Heaps dropped in several orders: largest first, as given, smallest first, then shuffled."""
    orders = [np.argsort(-radii, kind="stable"), np.arange(len(radii))]
    orders.append(orders[0][::-1])
    shuffle = np.random.default_rng(seed)
    orders += [shuffle.permutation(len(radii)) for _ in range(5)]
    # A large set has too many rest positions to look for the lowest: two or three are enough.
    for order in orders[: 8 if len(radii) <= 10 else 2]:
        heap = _drop(radii, order)
        if heap is not None:
            yield heap


def _drop(radii: Floats, order: npt.NDArray[np.intp], first: Floats | None = None) -> Floats | None:
    """Put the cables one by one at the lowest free corner; None when one finds no place.

    ``first`` holds the centers of those that lie there already.
    """
    centers = np.zeros((len(radii), 2))
    placed: list[int] = []
    if first is not None:
        centers[: len(first)] = first
        placed = list(range(len(first)))
    for k in order:
        r, c = radii[placed], centers[placed]
        corners = _corners(c, r, radii[k])
        gaps = np.linalg.norm(corners[:, None] - c, axis=2) - (r + radii[k])
        inside = 0.5 - radii[k] - np.linalg.norm(corners, axis=1)
        free = corners[(gaps > -1e-12).all(axis=1) & (inside > -1e-12)]
        if not len(free):
            return None
        # Ties go to the corner nearest the centerline, then to the left.
        keys = (free[:, 0], np.round(abs(free[:, 0]), 9), np.round(free[:, 1], 9))
        centers[k] = free[np.lexsort(keys)[0]]
        placed.append(int(k))
    return centers


def _corners(c: Floats, r: Floats, radius: float) -> Floats:
    """Every place where a circle touches two others, or one and the wall, or lies at the bottom."""
    bottom = np.array([[0.0, radius - 0.5]])
    if not len(c):
        return bottom
    ring_c = np.vstack([[[0.0, 0.0]], c])
    ring_r = np.concatenate([[0.5 - radius], r + radius])
    i, j = np.triu_indices(len(ring_c), 1)
    across = ring_c[j] - ring_c[i]
    apart = np.linalg.norm(across, axis=1)
    meet = (apart <= ring_r[i] + ring_r[j]) & (apart >= abs(ring_r[i] - ring_r[j])) & (apart > 0)
    i, j, across, apart = i[meet], j[meet], across[meet], apart[meet, None]
    unit = across / apart
    along = (apart[:, 0] ** 2 + ring_r[i] ** 2 - ring_r[j] ** 2) / (2 * apart[:, 0])
    out = np.sqrt(np.maximum(ring_r[i] ** 2 - along**2, 0))[:, None]
    foot, normal = ring_c[i] + along[:, None] * unit, np.column_stack([-unit[:, 1], unit[:, 0]])
    return np.vstack([bottom, foot + out * normal, foot - out * normal])


def _grown(radii: Floats, seed: int, D: float) -> Floats:
    """Places for all, found by growing small cables until they are full size."""
    shuffle = np.random.default_rng(seed)
    best = 0.0
    for _ in range(30 if len(radii) <= 12 else 3):
        angle, far = shuffle.uniform(0, 2 * np.pi, len(radii)), np.sqrt(shuffle.random(len(radii)))
        spread = (0.5 - radii) * far
        start = np.column_stack([spread * np.cos(angle), spread * np.sin(angle)])
        centers, scale = _grow(start, radii)
        best = max(best, scale)
        if scale >= 1:
            return centers
    raise _no_room(best, D)


def _no_room(scale: float, D: float) -> FitError:
    bore = D / scale * (1 + OVERLAP)
    return FitError(
        say("no way found to place the cables in a bore of {}", (D, "diameter")),
        cure=say("an inner diameter of {} is enough", (bore, "diameter+")),
        bore_needed=bore,
    )


def _refuse_hopeless(radii: Floats, D: float) -> None:
    largest = np.sort(2 * radii)[::-1]
    bore = max(float(largest[:2].sum()), float(np.sqrt((largest**2).sum())))
    if bore > 1 + OVERLAP:
        raise FitError(
            say("the cables do not fit in a bore of {}", (D, "diameter")),
            cure=say("even side by side they require more than {}", (bore * D, "diameter")),
            bore_needed=bore * D,
        )


# --- sinking and growing --------------------------------------------------------------------


def _sink(start: Floats, radii: Floats, pull: Floats) -> Floats | None:
    """Let the heap sink to rest; None if it ends with cables overlapping."""
    c, pace = start, 0.02
    last, size = np.zeros_like(c), 0.02
    fall = np.zeros((len(radii), 2))
    for _ in range(STEPS):
        fall[:, 1] = -pace
        reach = min(REACH, max(0.004, 4 * size))
        move, _ = _best_step(c, radii, pull, fall, reach=reach)
        size = float(np.max(np.linalg.norm(move, axis=1)))
        if size < REST:
            break
        # Swinging to and fro means the step overshoots; otherwise go bolder.
        swing = float((move * last).sum()) < 0
        pace = min(20.0, max(1e-4, pace * (0.5 if swing else 1.5)))
        move *= min(1.0, reach / 2 / size)  # unlisted pairs stay apart
        c, last = c + move, move
    fall[:] = 0
    for _ in range(8):  # the wall is curved: take back what the last steps left outside
        c = c + _best_step(c, radii, pull, fall, reach=0.01)[0]
    return c if _worst_gap(c, radii) > -OVERLAP else None


def _grow(c: Floats, radii: Floats) -> tuple[Floats, float]:
    """Grow circles from a tenth of their size as far as they go: centers and scale reached."""
    even, still = np.ones(len(radii)), np.zeros_like(c)
    scale, size = 0.1, 0.02
    for _ in range(STEPS):
        reach = min(REACH, max(0.004, 4 * size))
        move, gain = _best_step(c, radii, even, still, reach=reach, scale=scale, eager=0.1)
        size = max(float(np.max(np.linalg.norm(move, axis=1))), abs(gain) * float(radii.max()))
        part = min(1.0, reach / 3 / max(size, REST))  # moves and growth together stay in reach
        c, scale = c + part * move, scale + part * gain
        if scale > 1 + 1e-7 or size < 1e-7:
            break
    return c, scale


def _best_step(
    c: Floats,
    radii: Floats,
    pull: Floats,
    wish: Floats,
    *,
    reach: float,
    scale: float = 1.0,
    eager: float = 0.0,
) -> tuple[Floats, float]:
    """The allowed step nearest to the wished one, cables weighed by ``pull``; and growth of scale.

    Minimizes ``sum pull*|move-wish|² + (growth-eager)²`` with every linearized gap kept open.
    """
    gaps, rows = _gaps(c, radii, scale, reach, growing=eager > 0)
    if not len(gaps):
        return wish.copy(), eager
    free = np.concatenate([wish.ravel(), [eager]])
    ease = np.concatenate([np.repeat(1 / pull, 2), [1.0 if eager else 0.0]])
    # einsum, not @: see contact.BLOCK.
    push = contact_forces(np.einsum("ik,jk->ij", rows * ease, rows), gaps + rows @ free)
    step = free + ease * (rows.T @ push)
    return step[:-1].reshape(-1, 2), float(step[-1])


def _gaps(
    c: Floats, radii: Floats, scale: float, reach: float, *, growing: bool
) -> tuple[Floats, Floats]:
    """Gaps below ``reach`` and their gradients, (M,) and (M, 2N+1): pairs, then the wall."""
    n = len(radii)
    i, j = np.triu_indices(n, 1)
    across = c[i] - c[j]
    apart = np.linalg.norm(across, axis=1)
    sums = radii[i] + radii[j]
    near = np.flatnonzero(apart - scale * sums < reach)
    away = np.linalg.norm(c, axis=1)
    wall = np.flatnonzero(0.5 - scale * radii - away < reach)
    rows = np.zeros((len(near) + len(wall), 2 * n + 1))
    at, unit = np.arange(len(near)), across[near] / np.maximum(apart[near, None], 1e-300)
    for axis in (0, 1):
        rows[at, 2 * i[near] + axis] = unit[:, axis]
        rows[at, 2 * j[near] + axis] = -unit[:, axis]
        rows[len(near) + np.arange(len(wall)), 2 * wall + axis] = -c[wall, axis] / np.maximum(
            away[wall], 1e-300
        )
    if growing:
        rows[:, -1] = -np.concatenate([sums[near], radii[wall]])
    gaps = np.concatenate([apart - scale * sums, 0.5 - scale * radii - away])
    return gaps[np.concatenate([near, len(sums) + wall])], rows


def _worst_gap(c: Floats, radii: Floats) -> float:
    gaps, _ = _gaps(c, radii, 1.0, 10.0, growing=False)
    return float(gaps.min())
