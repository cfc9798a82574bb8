"""A bend passed by a cable that may be taut, low in tension or slack.

A slack cable rests in the bend and cannot push: its tension stays zero until the bend is flat
enough, against friction, for the cable to be drawn along again.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.mechanics.bend import (
    ARRAYS,
    FLOATS,
    Bend,
    Maths,
    part_of,
    pick,
    scenarios,
    through_array,
    through_float,
)
from route3d.mechanics.bend_batch import Single, room_for, through_taut, through_taut_one

# So few scenarios are sooner passed one by one, in plain floats, than in arrays, where numpy's cost
# per call is most of the time: both take as long at some 16 to 24.
_FEW = 16
# Above this τ half a bend is as a rule settled by the taut stage, which pays for so many scenarios.
_FAIRLY_TAUT, _MANY = 8.0, 200
# Plain floats raise where exp(κθ) overflows at 709; arrays hold it at infinity.
_MOST_GROWTH = 500.0


def through_one(bend: Bend, weight: float, friction: float, tension: float) -> float:
    """As ``through_bend`` for one scenario, in plain floats.

    Parameters
    ----------
    bend : Bend
        The bend.
    weight : float
        N/m
    friction : float
        Effective coefficient K = ω μ.
    tension : float
        Entering, N.

    Returns
    -------
    float
        Leaving, N.

    References
    ----------
    docs/theory.md section 6.
    """
    scale = weight * bend.radius
    tau = tension / scale
    end = through_taut_one(bend, friction, tau)
    return scale * (_through_one(bend, friction, tau) if end is None else end)


def _through_one(bend: Bend, friction: float, tau: float) -> float:
    # Most pulls are tauter than that everywhere, and nothing more has to be asked.
    if (tau < bend.angle or friction < 0.0) and _may_slack(bend, friction, tau, FLOATS):
        return float(_through_slack_one(bend, friction, tau))
    return through_float(bend, friction, tau)


def through_bend(
    bend: Bend, weight: Any, friction: Any, tension: Any, *, room: Single | None = None
) -> Any:
    """Tension (N) leaving a bend, T ≥ 0 throughout, in scenario arrays.

    ``friction`` is the effective coefficient K = ω μ; a negative one walks a pull backwards.
    ``room`` is that of ``room_for``, made where it is left out.

    Parameters
    ----------
    bend : Bend
        The bend.
    weight : float or ndarray, shape (k,)
        N/m
    friction : float or ndarray, shape (k,)
        Effective coefficient K = ω μ.
    tension : ndarray, shape (k,)
        Entering, N.
    room : ndarray, optional
        From `room_for`.

    Returns
    -------
    ndarray, shape (k,)
        Leaving, N.

    References
    ----------
    docs/theory.md sections 4 and 6.
    """
    scale = weight * bend.radius
    tau = tension / scale
    room = room_for(tau.size) if room is None else room
    end, settled = through_taut(bend, friction, tau, room)
    left = np.flatnonzero(~settled)
    if left.size:
        end[left] = _in_halves(bend, pick(friction, left), tau[left], room)
    end *= scale
    return end


def _in_halves(bend: Bend, friction: Any, tau: Floats, room: Single) -> Floats:
    """As ``_through_any``: what is fairly taut passes halves of an oblique bend, which settle."""
    taut = np.flatnonzero(tau > _FAIRLY_TAUT) if bend.b > 0.0 else np.empty(0, dtype=np.int64)
    if taut.size < _MANY:
        return np.asarray(_through_any(bend, friction, tau))
    half, end = 0.5 * bend.angle, tau.copy()
    own = room.reshape(-1)[: room[..., 0].size * taut.size].reshape(*room.shape[:-1], taut.size)
    k, passing = pick(friction, taut), tau[taut]
    for begin in (0.0, half):
        piece, before = part_of(bend, begin, half, FLOATS), passing
        passing, settled = through_taut(piece, k, before, own)
        left = np.flatnonzero(~settled)
        if left.size:
            passing[left] = _through_any(piece, pick(k, left), before[left])
    end[taut] = passing
    rest = np.flatnonzero(~(tau > _FAIRLY_TAUT))
    if rest.size:
        end[rest] = _through_any(bend, pick(friction, rest), tau[rest])
    return end


def through_parts(
    bend: Bend, start: Any, angle: Any, weight: Any, friction: Any, tension: Floats
) -> Floats:
    """As ``through_bend`` for scenarios that each pass a part of the bend of their own.

    Parameters
    ----------
    bend : Bend
        The whole bend.
    start, angle : float or ndarray, shape (k,)
        Where each part begins, and its angle, rad.
    weight, friction : float or ndarray, shape (k,)
        As for `through_bend`.
    tension : ndarray, shape (k,)
        Entering the part, N.

    Returns
    -------
    ndarray, shape (k,)
        Leaving it, N.

    References
    ----------
    docs/theory.md sections 4 and 6.
    """
    scale = weight * bend.radius
    tau = tension / scale
    both = np.stack(np.broadcast_arrays(start, start + angle))
    sin, cos = np.sin(both), np.cos(both)
    tz, nz = bend.tz[0] * cos + bend.nz[0] * sin, bend.nz[0] * cos - bend.tz[0] * sin
    ends = bend._replace(angle=angle, tz=tz, nz=nz)  # all that a taut one asks for
    end, settled = through_taut(ends, friction, tau, room_for(tau.size))
    left = np.flatnonzero(~settled)
    if left.size:
        part = part_of(bend, pick(start, left), pick(angle, left), ARRAYS)
        end[left] = _through_any(part, pick(friction, left), tau[left])
    return np.asarray(scale * end)


def _through_any(bend: Bend, friction: Any, tau: Any) -> Any:
    """As ``through_array``, for scenarios of which some may be slack inside the bend."""
    if tau.size <= _FEW and _within_floats(bend, friction, tau):
        count = tau.size
        given = _one_by_one(bend, count), _listed(friction, count), tau.tolist()
        return np.array(list(map(_through_one, *given)))
    may_slack = _may_slack(bend, friction, tau, ARRAYS)
    out = np.empty_like(tau)
    for which, through in ((may_slack, _through_slack), (~may_slack, through_array)):
        index = np.flatnonzero(which)
        if index.size:
            out[index] = through(scenarios(bend, index), pick(friction, index), tau[index])
    return out


def _within_floats(bend: Bend, friction: Any, tau: Floats) -> bool:
    """Whether plain floats get through a bend without overflow."""
    growth = np.max(np.abs(friction * bend.angle), initial=0.0)
    return bool(growth < _MOST_GROWTH and np.isfinite(tau).all())


def _one_by_one(bend: Bend, count: int) -> list[Bend]:
    """The bend of each scenario, of plain floats."""
    if not isinstance(bend.angle, np.ndarray):
        return [bend] * count
    columns = np.stack([bend.angle, bend.level, *bend.tz, *bend.nz], axis=1).tolist()
    n = len(bend.tz)
    return [
        bend._replace(angle=angle, level=level, tz=rest[:n], nz=rest[n:])
        for angle, level, *rest in columns
    ]


def _listed(value: Any, count: int) -> list[float]:
    values: list[float] = np.broadcast_to(value, (count,)).tolist()
    return values


def _may_slack(bend: Bend, friction: Any, tau: Any, maths: Maths) -> Any:
    """Whether the cable may be slack somewhere in the bend."""
    # No bend lowers the cable by more than its length, so more tension than that stays taut.
    low = (tau < bend.angle) | (friction < 0.0)
    lowest = _lowest_of_parts(bend) if isinstance(bend.angle, np.ndarray) else lowest_slope(bend)
    return low & (-friction / maths.sqrt(1.0 + friction * friction) > lowest)


def lowest_slope(bend: Bend) -> float:
    """Lowest t_z along a bend: at an end, or where θ passes middle + π.

    Parameters
    ----------
    bend : Bend
        Of floats.

    Returns
    -------
    float
    """
    first, side = bend.tz[0], bend.nz[0]
    if (math.atan2(side, first) + math.pi) % math.tau < bend.angle:
        return -math.hypot(first, side)
    return float(min(first, bend.tz[-1]))


def highest_normal(bend: Bend) -> float:
    """Largest n_z along a bend: at an end, or where t_z passes zero upwards.

    Parameters
    ----------
    bend : Bend
        Of floats.

    Returns
    -------
    float
    """
    first, side = bend.tz[0], bend.nz[0]
    if (math.atan2(side, first) - math.pi / 2.0) % math.tau < bend.angle:
        return math.hypot(first, side)
    return float(max(side, bend.nz[-1]))


def _lowest_of_parts(bend: Bend) -> Floats:
    """As ``lowest_slope`` where every scenario has a part of its own."""
    first, side = bend.tz[0], bend.nz[0]
    inside = np.mod(np.arctan2(side, first) + np.pi, 2 * np.pi) < bend.angle
    lowest: Floats = np.where(inside, -np.hypot(first, side), np.minimum(first, bend.tz[-1]))
    return lowest


def _through_slack(bend: Bend, friction: Any, tau: Any) -> Any:
    """Cut the bend where a slack cable starts or stops running; clamp at the end of each piece.

    Inside one piece the slope at T = 0 keeps its sign, so a tension that would end below zero
    reached zero once and stayed there: the clamp at the end is exact.
    """
    low, high = _slack_angles(bend, friction)
    tau = tau.copy()
    for start, end in ((0.0 * low, low), (low, high), (high, 0.0 * low + bend.angle)):
        on = np.flatnonzero(np.broadcast_to(end > start, tau.shape))
        if on.size:
            own, first = scenarios(bend, on), pick(start, on)
            piece = part_of(own, first, pick(end, on) - first, ARRAYS)
            tau[on] = np.maximum(through_array(piece, pick(friction, on), tau[on]), 0.0)
    return tau


def _through_slack_one(bend: Bend, friction: float, tau: float) -> float:
    """As ``_through_slack`` for one scenario, in plain floats."""
    low, high = _slack_angles_one(bend, friction)
    for start, end in ((0.0, low), (low, high), (high, bend.angle)):
        if end > start:
            piece = part_of(bend, start, end - start, FLOATS)
            tau = max(through_float(piece, friction, tau), 0.0)
    return tau


def _slack_angles(bend: Bend, friction: Any) -> tuple[Any, Any]:
    """The angles in [0, angle] where t_z passes the friction angle, the lower first.

    A cable without tension stays without where t_z + K sqrt(1 - t_z²) < 0, that is where
    t_z < -K/sqrt(1 + K²): steeper downhill than the friction angle.
    """
    limit = -friction / np.sqrt(1.0 + friction * friction)
    size = np.hypot(bend.tz[0], bend.nz[0])
    middle = np.arctan2(bend.nz[0], bend.tz[0])  # t_z = size cos(θ - middle)
    half = np.arccos(np.clip(limit / np.where(size == 0.0, 1.0, size), -1.0, 1.0))
    first, second = np.mod(middle + half, 2 * np.pi), np.mod(middle - half, 2 * np.pi)
    low, high = np.minimum(first, second), np.maximum(first, second)
    return np.minimum(low, bend.angle), np.minimum(high, bend.angle)


def _slack_angles_one(bend: Bend, friction: float) -> tuple[float, float]:
    """As ``_slack_angles`` for one scenario, in plain floats."""
    limit = -friction / math.sqrt(1.0 + friction * friction)
    size = math.hypot(bend.tz[0], bend.nz[0])
    middle = math.atan2(bend.nz[0], bend.tz[0])
    half = math.acos(min(max(limit / (size or 1.0), -1.0), 1.0))
    low, high = sorted(((middle + half) % math.tau, (middle - half) % math.tau))
    return min(low, bend.angle), min(high, bend.angle)
