"""Tension along a path, from the feed to the pulling end, over any number of scenarios."""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.geometry.path import CORNER, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.bend import NODES, Bend
from route3d.mechanics.bend_batch import room_for
from route3d.mechanics.bend_slack import through_bend, through_one

METHODS = ("exact", "handbook")
# Scenarios worked at a time: the arrays of one bend then stay in a core's own cache.
_CHUNK = 8192


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
) -> tuple[Floats, Floats]:
    """Integrate tension along ``path`` and return ``(stations, tensions)``.

    ``weight`` N/m, ``friction`` the basic coefficient, ``weight_factor`` ω, ``start_tension`` N at
    the feed: floats or arrays, broadcast together to the scenario shape S. With ``per_segment``
    the first axis of ``friction`` and ``weight_factor`` (length n, or 1) runs over the segments of
    the path in its own order and only the rest is broadcast.

    ``reverse`` pulls from the last point of the path to the first. ``stations`` (n + 1,) m are
    those of ``path`` in pulling order, so they fall in a reversed pull; ``tensions`` is
    (n + 1,) + S in N. Tension never falls below zero: a slack cable cannot push.

    ``method`` "exact" integrates dT/ds = w t_z + μ ω |T κ n - w z⊥| (design section 3) to a
    relative error below 1e-8; "handbook" multiplies by exp(ω μ φ) in bends and neglects the
    cable's weight there (IEEE 1185-2019 Annex C; TES-P-104.05 clause 4.5).

    Raises ValueError for values out of range or shapes that do not broadcast.
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
    _require(w > 0, "weight must be positive")
    _require(t0 >= 0, "start_tension must not be negative")
    _require(omega >= 0, "weight_factor must not be negative")
    tensions = _march(walked, w, mu, omega, t0, shape, method)
    stations = path.stations[::-1] if reverse else path.stations
    return stations, tensions


def brake(
    path: Path,
    weight: ArrayLike,
    friction: ArrayLike,
    weight_factor: ArrayLike = 1.0,
    reverse: bool = False,
    method: str = "exact",
    *,
    per_segment: bool = False,
) -> tuple[Floats, Floats]:
    """Smallest tension at each joint that keeps the cable taut from there on.

    Returns ``(stations, tensions)`` as ``integrate`` does; the first entry is the brake at the
    feed. Walking a pull backwards turns the sign of friction and of every slope, and the least
    tension is the one that reaches zero: so this is ``integrate`` on the opposite path with
    friction -μ, from zero at the pulling end.
    """
    opposite = np.negative(np.asarray(friction, dtype=np.float64))
    stations, needed = integrate(
        path, weight, opposite, weight_factor, 0.0, not reverse, method, per_segment=per_segment
    )
    return stations[::-1], needed[::-1]


def lies_still(path: Path, friction: Floats) -> NDArray[np.bool_]:
    """Whether each segment is less steep than its effective ``friction`` (n,) holds, (n,).

    Without tension cable stays so there. Along an arc the slope t_z swings by hypot(t_z, n_z) at
    the most, which is safe to ask.
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
    """
    t = np.array(tensions, dtype=np.float64)
    mu = np.broadcast_to(np.asarray(friction, dtype=np.float64), (len(walked),)).tolist()
    with np.errstate(over="ignore", invalid="ignore"):  # the caller looks at what comes out
        for i, piece in enumerate(pieces_of(walked)):
            m = int(np.searchsorted(nodes, i, side="right"))
            if m:
                t[:m] = through_piece(piece, weight, mu[i], t[:m], "exact")
    return t


def _require(ok: Any, message: str) -> None:
    if not ok.all():
        raise ValueError(message)


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


_NO_BEND = Bend(0.0, [], [], 0.0, 0.0, math.inf)


@lru_cache(maxsize=16)  # a pull is solved many times along the few paths of its route
def pieces_of(path: Path) -> list[MarchSegment]:
    """What the march needs of every segment of a path, in order; not to be changed."""
    t = path.tangents
    level = np.hypot(t[:, 0], t[:, 1])
    kinds, *columns = (c.tolist() for c in (path.kind, path.lengths, t[:, 2], level))
    bends = _bends(path)
    each = [_NO_BEND if kind == STRAIGHT else next(bends) for kind in kinds]
    return list(map(MarchSegment._make, zip(kinds, *columns, each, strict=True)))


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
    """One scenario, in plain floats: numpy's cost per call would be most of the time."""
    handbook = method == "handbook"
    tensions = [t]
    for piece, k in zip(pieces, friction, strict=True):
        if piece.kind == STRAIGHT:
            t = max(t + piece.length * w * (piece.rise + k * piece.level), 0.0)
        elif handbook or piece.kind == CORNER or math.isinf(t):
            t = t * math.exp(k * piece.bend.angle)
        else:
            t = through_one(piece.bend, w, k, t)
        tensions.append(t)
    return tensions


def _march_chunk(pieces: list[MarchSegment], rows: list[Floats], out: Floats, method: str) -> None:
    w_row, t_row, mu, omega = rows
    w = _shared(w_row[0])
    t = out[0]
    t[:] = t_row[0]
    room = room_for(t.size)
    for i, piece in enumerate(pieces):
        k = _shared(mu[min(i, len(mu) - 1)] * omega[min(i, len(omega) - 1)])
        out[i + 1] = t = through_piece(piece, w, k, t, method, room)


def through_piece(
    piece: MarchSegment, w: Any, k: Any, t: Floats, method: str, room: Floats | None = None
) -> Floats:
    """Tension of every scenario at the end of one segment."""
    if piece.kind == STRAIGHT:
        return np.asarray(np.maximum(t + piece.length * w * (piece.rise + k * piece.level), 0.0))
    if piece.kind == CORNER or method == "handbook":
        return np.asarray(t * np.exp(k * piece.bend.angle))
    return np.asarray(through_bend(piece.bend, w, k, t, room=room))


def _shared(row: Floats) -> Any:
    """A row of one value as a float, so that the kernel computes with it once."""
    return float(row[0]) if row.size == 1 else row
