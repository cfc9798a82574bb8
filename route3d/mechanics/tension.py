"""Tension along a path, from the feed to the pulling end, over any number of scenarios."""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.geometry.path import ARC, CORNER, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.bend import NODES, Bend
from route3d.mechanics.bend_batch import Single, room_for
from route3d.mechanics.bend_slack import through_bend, through_one, through_parts

METHODS = ("exact", "handbook")
# Scenarios worked at a time: the arrays of one bend then stay in a core's own cache.
_CHUNK = 8192


class Tensions(NamedTuple):
    """Tension along a path, in pulling order.

    Attributes
    ----------
    stations : ndarray, shape (n + 1,)
        Stations of the ends of the n segments, m; they fall in a reversed pull.
    tensions : ndarray, shape (n + 1,) + S
        Tension there for every scenario of the shape S, N.
    """

    stations: Floats
    tensions: Floats


def integrate(
    path: Path,
    weight: ArrayLike,
    friction: ArrayLike,
    weight_factor: ArrayLike = 1.0,
    start_tension: ArrayLike = 0.0,
    reverse: bool = False,
    method: str = "exact",
    *,
    per_segment: bool = False,
) -> Tensions:
    """Tension along a path, from the feed to the pulling end, for any number of scenarios.

    Parameters
    ----------
    path : Path
        The centerline, with n segments.
    weight : array_like, shape S
        Weight per length of everything pulled, N/m; positive.
    friction : array_like, shape S, or (n,) + S with `per_segment`
        Basic coefficient of friction of cable on conduit.
    weight_factor : array_like, shape S, or (n,) + S with `per_segment`
        Weight correction factor ω of the arrangement; 1 for one cable.
    start_tension : array_like, shape S
        Tension entering the path at the feed, N; not negative.
    reverse : bool
        Pull from the last point of the path to the first.
    method : {"exact", "handbook"}
        "exact" integrates friction, curvature and gravity together to a relative error below 1e-8;
        "handbook" multiplies by exp(ω μ φ) in bends and neglects the cable's weight there.
    per_segment : bool
        The first axis of `friction` and `weight_factor` (length n, or 1) runs over the segments in
        the order of the path, and only the rest is broadcast.

    Returns
    -------
    Tensions
        ``stations`` (n + 1,) m and ``tensions`` (n + 1,) + S in N, both in pulling order. Tension
        never falls below zero: a slack cable cannot push.

    Raises
    ------
    ValueError
        For values out of range and shapes that do not broadcast.

    References
    ----------
    docs/theory.md, equation (1) for "exact" and (11) for "handbook" (IEEE 1185-2019 Annex C;
    TES-P-104.05 clause 4.5).

    Examples
    --------
    >>> from route3d.geometry.fillet import fillet
    >>> path = fillet([[0, 0, 0], [30, 0, 0], [30, 20, 0]], [0, 1.2, 0])
    >>> integrate(path, weight=80.0, friction=[0.2, 0.35], weight_factor=1.2).tensions[-1].round(1)
    array([1170.3, 2506.8])
    """
    if method not in METHODS:
        raise ValueError(f"method {method!r} is not one of {METHODS}")
    walked = path.reversed() if reverse else path
    n = len(path)
    mu, omega = _by_segment(friction, n, per_segment), _by_segment(weight_factor, n, per_segment)
    if reverse:
        mu, omega = mu[::-1], omega[::-1]
    w = np.asarray(weight, dtype=np.float64)
    t0 = np.asarray(start_tension, dtype=np.float64)
    shape = np.broadcast_shapes(w.shape, t0.shape, mu.shape[1:], omega.shape[1:])
    _require(w > 0, w, "weight must be positive")
    _require(t0 >= 0, t0, "start_tension must not be negative")
    _require(omega >= 0, omega, "weight_factor must not be negative")
    _require(np.isfinite(mu), mu, "friction must be finite")
    tensions = _march(walked, w, mu, omega, t0, shape, method)
    stations = path.stations[::-1] if reverse else path.stations
    return Tensions(stations, tensions)


def sidewall(
    path: Path, solved: Tensions, factor: ArrayLike = 1.0, bore: ArrayLike = 0.0
) -> Floats:
    """Sidewall pressure on the worst cable in every bend, by the published form.

    Parameters
    ----------
    path : Path
        The path that was integrated, with n segments.
    solved : Tensions
        What :func:`integrate` returned for it, in either direction.
    factor : array_like, scalar or shape (n,) in the order of the path
        Share of the tension with which the worst cable is pressed: 1 for one cable;
        ``Fit.sidewall_factor`` has it for an arrangement.
    bore : array_like, scalar or shape (n,) in the order of the path
        Inner diameter of the conduit, m, to work at the inner wall, R - bore/2; 0 works on the
        centerline.

    Returns
    -------
    ndarray, shape (n,) + S
        The larger of the pressures at both ends of each segment, N/m, in the order of the path;
        zero on straights and at corners.

    Raises
    ------
    ValueError
        For a bend whose radius is not above half the bore.

    References
    ----------
    docs/theory.md, equations (12) to (15).

    Examples
    --------
    >>> from route3d.geometry.fillet import fillet
    >>> path = fillet([[0, 0, 0], [30, 0, 0], [30, 20, 0]], [0, 1.2, 0])
    >>> sidewall(path, integrate(path, weight=80.0, friction=0.35)).round(1)
    array([   0. , 1167.2,    0. ])
    """
    tensions = solved.tensions
    if solved.stations[0] > solved.stations[-1]:
        tensions = tensions[::-1]
    bent = path.kind == ARC
    radius = np.where(bent, path.radii, np.inf) - np.asarray(bore, dtype=np.float64) / 2
    _require(radius > 0, radius, "the radius at the inner wall must be positive")
    share = np.asarray(factor, dtype=np.float64) / radius
    per_newton = share.reshape((-1,) + (1,) * (tensions.ndim - 1))
    return np.asarray(per_newton * np.maximum(tensions[:-1], tensions[1:]))


def brake(
    path: Path,
    weight: ArrayLike,
    friction: ArrayLike,
    weight_factor: ArrayLike = 1.0,
    reverse: bool = False,
    method: str = "exact",
    *,
    per_segment: bool = False,
) -> Tensions:
    """Smallest tension at each joint that keeps the cable taut from there on.

    Walking a pull backwards turns the sign of friction and of every slope, and the least tension is
    the one that reaches zero: so this is :func:`integrate` on the opposite path with friction -μ,
    from zero at the pulling end.

    Parameters
    ----------
    path, weight, friction, weight_factor, reverse, method, per_segment
        As for :func:`integrate`.

    Returns
    -------
    Tensions
        In pulling order, N; the first entry is the brake at the feed.

    Raises
    ------
    ValueError
        As :func:`integrate` does.

    References
    ----------
    docs/theory.md section 6.
    """
    opposite = np.negative(np.asarray(friction, dtype=np.float64))
    stations, needed = integrate(
        path, weight, opposite, weight_factor, 0.0, not reverse, method, per_segment=per_segment
    )
    return Tensions(stations[::-1], needed[::-1])


def lies_still(path: Path, friction: Floats) -> NDArray[np.bool_]:
    """Whether each segment is less steep than its effective ``friction`` (n,) holds, (n,).

    Without tension cable stays so there. Along an arc the slope t_z swings by hypot(t_z, n_z) at
    the most, which is safe to ask.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    friction : ndarray, shape (n,)
        Effective coefficient K = ω μ.

    Returns
    -------
    ndarray of bool, shape (n,)

    References
    ----------
    docs/theory.md section 6.
    """
    steepest = np.hypot(path.tangents[:, 2], path.normals[:, 2])
    return np.asarray(steepest < friction / np.sqrt(1.0 + friction * friction) * (1 - 1e-9))


def carry(
    walked: Path,
    weight: float,
    friction: float | Floats,
    tensions: Floats,
    nodes: NDArray[np.int64],
) -> Floats:
    """Tension at the end of ``walked`` for lines that each start at a joint of their own.

    Line j starts at joint ``nodes[j]`` (increasing) with ``tensions[j]`` N; all have the same
    ``weight`` N/m and ``friction``, one for all or one for each of the n segments. This is the
    rope from the cable head to the machine.

    Parameters
    ----------
    walked : Path
        The path in pulling order, n segments.
    weight : float
        N/m
    friction : float or ndarray, shape (n,)
        Coefficient.
    tensions : ndarray, shape (m,)
        Where each line starts, N.
    nodes : ndarray of int, shape (m,)
        Joint at which each line starts, increasing.

    Returns
    -------
    ndarray, shape (m,)
        N

    References
    ----------
    docs/theory.md section 7.
    """
    t = np.array(tensions, dtype=np.float64)
    mu = np.broadcast_to(np.asarray(friction, dtype=np.float64), (len(walked),)).tolist()
    with np.errstate(over="ignore", invalid="ignore"):  # the caller looks at what comes out
        for whole in wholes_of(walked):
            m = int(np.searchsorted(nodes, whole.first + len(whole.ends) - 1, side="right"))
            if m:
                begun = np.maximum(nodes[:m] - whole.first, 0)
                start = np.concatenate(([0.0], whole.ends))[begun]
                size = whole.ends[-1] - start
                t[:m] = through_part(whole, start, size, weight, mu[whole.first], t[:m], "exact")
    return t


def _require(ok: NDArray[np.bool_], values: Floats, message: str) -> None:
    """ValueError with the first value that is not ``ok``."""
    if not ok.all():
        raise ValueError(f"{message}, not {values[~ok].flat[0]}")


def _by_segment(values: ArrayLike, n: int, per_segment: bool) -> Floats:
    """Values with a leading segment axis of length 1 or n."""
    array = np.asarray(values, dtype=np.float64)
    if not per_segment or array.ndim == 0:
        return array[None]
    if array.shape[0] not in (1, n):
        raise ValueError(f"the first axis must be 1 or the {n} segments, not {array.shape[0]}")
    return array


class MarchSegment(NamedTuple):
    """What the march needs of one segment."""

    kind: int
    length: float
    rise: float  # t_z of a straight
    level: float  # |z⊥| of a straight
    bend: Bend


class Whole(NamedTuple):
    """A whole straight, bend or corner of a path that is cut up.

    ``first`` is the number of its first segment, and ``ends`` (n,) say how far into it each of its
    segments reaches: m of a straight, rad of a bend or corner.
    """

    first: int
    ends: Floats
    segment: MarchSegment


_NO_BEND = Bend(0.0, [], [], 0.0, 0.0, math.inf)


@lru_cache(maxsize=16)  # a pull is solved many times along the few paths of its route
def pieces_of(path: Path) -> list[MarchSegment]:
    """What the march needs of every segment of a path, in order; not to be changed.

    Parameters
    ----------
    path : Path
        The centerline, n segments.

    Returns
    -------
    list of Piece
        One for each segment.
    """
    t = path.tangents
    level = np.hypot(t[:, 0], t[:, 1])
    kinds, *columns = (c.tolist() for c in (path.kind, path.lengths, t[:, 2], level))
    bends = _bends(path)
    each = [_NO_BEND if kind == STRAIGHT else next(bends) for kind in kinds]
    return list(map(MarchSegment._make, zip(kinds, *columns, each, strict=True)))


def whole_path(path: Path) -> tuple[Path, NDArray[np.int64]]:
    """A path that is cut up, as whole bends and straights, and the first segment of each.

    Parameters
    ----------
    path : Path
        n segments.

    Returns
    -------
    tuple of Path and ndarray of int, shape (m,)
        The m whole ones.
    """
    other = (np.diff(path.vertex) != 0) | (np.diff(path.leg) != 0)
    at = np.concatenate(([0], np.flatnonzero(other) + 1))
    merged = {f.name: getattr(path, f.name)[at] for f in fields(Path)}
    for name in ("lengths", "angles"):
        merged[name] = np.add.reduceat(getattr(path, name), at)
    return Path(**merged), at


@lru_cache(maxsize=16)  # as `pieces_of`
def wholes_of(path: Path) -> list[Whole]:
    """The whole bends and straights of a path that is cut up, in order; not to be changed.

    Parameters
    ----------
    path : Path
        n segments.

    Returns
    -------
    list of Whole
        One for each bend, corner or straight.
    """
    whole, first = whole_path(path)
    sizes = np.split(np.where(path.kind == STRAIGHT, path.lengths, path.angles), first[1:])
    ends = map(np.cumsum, sizes)
    return list(map(Whole._make, zip(first.tolist(), ends, pieces_of(whole), strict=True)))


def _bends(path: Path) -> Iterator[Bend]:
    bent = path.kind != STRAIGHT
    t, n, angles = path.tangents[bent], path.normals[bent], path.angles[bent]
    b = np.abs(t[:, 0] * n[:, 1] - t[:, 1] * n[:, 0])
    b[b < 1e-12] = 0.0  # a vertical plane met up to rounding; |q| moves by less than 1e-12 w
    at = angles[:, None] * np.array([0.0, *NODES, 1.0])
    sin, cos = np.sin(at), np.cos(at)
    tz = t[:, 2:] * cos + n[:, 2:] * sin
    nz = n[:, 2:] * cos - t[:, 2:] * sin
    columns = (angles, tz, nz, b, _level(tz, nz), path.radii[bent])
    return map(Bend._make, zip(*(c.tolist() for c in columns), strict=True))


def _level(tz: Floats, nz: Floats) -> Floats:
    """Angle at which t_z passes zero inside each bend, which turns by less than π; 0 for none."""
    first, side = tz[:, 0], np.where(tz[:, 0] > 0, -nz[:, 0], nz[:, 0])
    return np.where(first * tz[:, -1] < 0, np.arctan2(np.abs(first), side), 0.0)


def _march(
    path: Path,
    w: Floats,
    mu: Floats,
    omega: Floats,
    t0: Floats,
    shape: tuple[int, ...],
    method: str,
) -> Floats:
    pieces = pieces_of(path)
    rows = [_rows(a, shape) for a in (w[None], t0[None], mu, omega)]
    size = math.prod(shape)
    if size == 1:
        friction = (rows[2] * rows[3])[:, 0].tolist()
        if len(friction) == 1:
            friction *= len(pieces)
        one = march_one(pieces, rows[0].item(), friction, rows[1].item(), method)
        return np.array(one).reshape((-1, *shape))
    out = np.empty((len(pieces) + 1, size))

    def work(span: slice) -> None:
        with np.errstate(over="ignore", invalid="ignore"):  # numpy keeps this for each thread
            _march_chunk(pieces, [_cut(a, span) for a in rows], out[:, span], method)

    if size <= _CHUNK:  # starting threads costs more than one chunk
        work(slice(0, size))
        return out.reshape((-1, *shape))
    with ThreadPoolExecutor(max_workers=2) as pool:
        for _ in pool.map(work, _spans(size)):
            pass
    return out.reshape((-1, *shape))


def _rows(array: Floats, shape: tuple[int, ...]) -> Floats:
    """``(segments, size)``, or ``(segments, 1)`` where one value serves all scenarios."""
    lead, rest = array.shape[0], array.shape[1:]
    if math.prod(rest) == 1:
        return array.reshape(lead, 1)
    full = array.reshape((lead,) + (1,) * (len(shape) - len(rest)) + rest)
    return np.broadcast_to(full, (lead, *shape)).reshape(lead, -1)


def _spans(size: int) -> Iterator[slice]:
    return (slice(i, min(i + _CHUNK, size)) for i in range(0, size, _CHUNK))


def _cut(rows: Floats, span: slice) -> Floats:
    return rows if rows.shape[1] == 1 else rows[:, span]


def march_one(
    pieces: list[MarchSegment], w: float, friction: list[float], t: float, method: str
) -> list[float]:
    """One scenario, in plain floats: numpy's cost per call would be most of the time.

    Parameters
    ----------
    pieces : list of Piece
        From `pieces_of`.
    w : float
        N/m
    friction : list of float
        K of each piece.
    t : float
        Entering, N.
    method : {"exact", "handbook"}
        As for `integrate`.

    Returns
    -------
    list of float
        At every joint, N.
    """
    tensions = [t]
    for piece, k in zip(pieces, friction, strict=True):
        t = through_segment(piece, w, k, t, method)
        tensions.append(t)
    return tensions


def through_segment(piece: MarchSegment, w: float, k: float, t: float, method: str) -> float:
    """As `through_piece` for one scenario, in plain floats.

    Parameters
    ----------
    piece : MarchSegment
        One segment.
    w : float
        N/m
    k : float
        Effective coefficient K = ω μ.
    t : float
        Entering, N.
    method : {"exact", "handbook"}
        As for `integrate`.

    Returns
    -------
    float
        Leaving, N.

    References
    ----------
    docs/theory.md, equations (1), (2) and (11).
    """
    if piece.kind == STRAIGHT:
        return max(t + piece.length * w * (piece.rise + k * piece.level), 0.0)
    if method == "handbook" or piece.kind == CORNER or math.isinf(t):
        return t * math.exp(k * piece.bend.angle)
    return through_one(piece.bend, w, k, t)


def _march_chunk(pieces: list[MarchSegment], rows: list[Floats], out: Floats, method: str) -> None:
    w_row, t_row, mu, omega = rows
    w = _shared(w_row[0])
    t = out[0]
    t[:] = t_row[0]
    room, rows_before, k = room_for(t.size), (-1, -1), None
    for i, piece in enumerate(pieces):
        own = min(i, len(mu) - 1), min(i, len(omega) - 1)
        if own != rows_before:
            k, rows_before = _shared(mu[own[0]] * omega[own[1]]), own
        out[i + 1] = t = through_piece(piece, w, k, t, method, room)


def through_piece(
    piece: MarchSegment, w: Any, k: Any, t: Floats, method: str, room: Single | None = None
) -> Floats:
    """Tension of every scenario at the end of one segment.

    Parameters
    ----------
    piece : Piece
        One segment.
    w : float or ndarray, shape (k,)
        N/m
    k : float or ndarray, shape (k,)
        Effective coefficient K = ω μ.
    t : ndarray, shape (k,)
        Entering, N.
    method : {"exact", "handbook"}
        As for `integrate`.
    room : ndarray, optional
        From `taut.room_for`.

    Returns
    -------
    ndarray, shape (k,)
        Leaving, N.

    References
    ----------
    docs/theory.md, equations (1), (2) and (11).
    """
    if piece.kind == STRAIGHT:
        return np.asarray(np.maximum(t + piece.length * w * (piece.rise + k * piece.level), 0.0))
    if piece.kind == CORNER or method == "handbook":
        return np.asarray(t * np.exp(k * piece.bend.angle))
    return np.asarray(through_bend(piece.bend, w, k, t, room=room))


def through_part(
    whole: Whole, start: Any, size: Any, w: float, k: Any, t: Floats, method: str
) -> Floats:
    """Tension of every scenario at the end of a part of its own of one bend or straight.

    Parameters
    ----------
    whole : Whole
        The bend, corner or straight.
    start, size : float or ndarray, shape (k,)
        Where each part begins and how much it is: m of a straight, rad of a bend.
    w : float
        N/m
    k : float or ndarray, shape (k,)
        Effective coefficient K = ω μ.
    t : ndarray, shape (k,)
        Entering the part, N.
    method : {"exact", "handbook"}
        As for `integrate`.

    Returns
    -------
    ndarray, shape (k,)
        Leaving it, N.

    References
    ----------
    docs/theory.md, equations (1), (2) and (11).
    """
    segment = whole.segment
    if segment.kind == STRAIGHT:
        return np.asarray(np.maximum(t + size * w * (segment.rise + k * segment.level), 0.0))
    if segment.kind == CORNER or method == "handbook":
        return np.asarray(t * np.exp(k * size))
    return through_parts(segment.bend, start, size, w, k, t)


def _shared(row: Floats) -> Any:
    """A row of one value as a float, so that the kernel computes with it once."""
    return float(row[0]) if row.size == 1 else row
