"""Tension through one bend of any orientation: the soft cable law, solved to rounding.

Along an arc of radius R let ``τ = T/(wR)`` and let t_z, n_z be the vertical parts of the unit
tangent and of the unit normal to the center. The law (docs/theory.md, equations 1 and 3 to 5) is ::

    dτ/dθ = t_z + K |q|/w,      |q|/w = sqrt((τ - n_z)² + b²)

where ``b = |(t × n)·z|`` does not change along the arc. With ``y = τ - n_z`` (n_z' = -t_z) and
``U = s y + sqrt(y² + b²)``, s the sign of y, the square root goes away::

    y' = 2 t_z + K sqrt(y² + b²)        U' = s K U + 4 s t_z - 4 s t_z b²/(U² + b²)

The first two terms integrate exactly. The last one vanishes for a horizontal bend (t_z = 0: the
cosh/sinh form of Rifenburg 1953) and for a bend in a vertical plane (b = 0: the four published
vertical forms and their low-tension twin, on either side of y = 0, where the cable changes from
one wall to the other). Elsewhere it is a small smooth correction, found by Gauss collocation and
fixed-point sweeps; a piece that does not resolve is halved, so the cable changing walls needs no
case of its own.

The kernel works on floats and on arrays of scenarios alike: only the functions in ``Maths``
differ. Nothing here validates.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.polynomial import legendre

from route3d.geometry.vectors import Floats

# Five Gauss points integrate degree 9 exactly: a 90 degree bend at ordinary tension needs no
# halving; more points cost more for every bend and save only in the rare slack one.
_POINTS = 5
# A piece is resolved when its last Legendre coefficient c4 is below this times sqrt(c0 U). With
# coefficients falling by r a degree c4 = c0 r^4 and the error of the integral is
# c0 r^10 = c4^2.5/c0^1.5: 2e-12 U at c0 = U, and below 1e-10 U down to c0 = 1e-7 U.
_RESOLVED = 2e-5
# c4 may pass through zero by accident, so c3 is asked too, times the r of that limit.
_FALL = 0.1
# Sweeps end when no node will move by more than this share of U.
_SETTLED = 1e-12
_MAX_SWEEPS = 8
# Most scenarios settle in this many; the rest go on by themselves.
_FEW_SWEEPS = 3
# A piece this short (rad) is taken by the trapezoid rule: |q| changes by less than 2e-6 w over it,
# and the integral by the square of that.
_SHORTEST = 1e-6
# Bisections to find where a cable leaves its wall in a vertical plane: 1e-12 of the piece.
_HALVINGS = 40
# U of a cable that leaves its wall is known to some such shares of 1 + τ.
_ROUNDED = 1e-14


class Maths(NamedTuple):
    """The functions a kernel needs, for floats or for arrays of scenarios."""

    exp: Callable[[Any], Any]
    sqrt: Callable[[Any], Any]
    sin: Callable[[Any], Any]
    cos: Callable[[Any], Any]
    largest: Callable[[Any], float]


def _largest(values: Any) -> float:
    return float(np.max(values))


FLOATS = Maths(math.exp, math.sqrt, math.sin, math.cos, float)
ARRAYS = Maths(np.exp, np.sqrt, np.sin, np.cos, _largest)


def _gauss() -> tuple[list[float], list[float], list[list[float]], list[list[float]]]:
    """Nodes and weights on [0, 1], running integrals of the nodes, the last two coefficients."""
    x, w = legendre.leggauss(_POINTS)
    p = legendre.legvander(x, _POINTS)  # p[i, k] = P_k(x_i)
    k = np.arange(1, _POINTS)
    integral = np.column_stack((x + 1, (p[:, 2:] - p[:, :-2]) / (2 * k + 1)))
    running = integral @ (
        (2 * np.arange(_POINTS) + 1)[:, None] / 4 * (p[:, :_POINTS] * w[:, None]).T
    )
    last = [((2 * n + 1) / 2 * w * p[:, n]).tolist() for n in (_POINTS - 2, _POINTS - 1)]
    return ((x + 1) / 2).tolist(), (w / 2).tolist(), running.tolist(), last


NODES, _WEIGHTS, _RUNNING, _LAST = _gauss()
# The start, the nodes and the end; the same tables as columns and matrices for arrays.
_SHARES = np.array([0.0, *NODES, 1.0])[:, None]
_WEIGHT_ROW, _RUN_MATRIX = np.array(_WEIGHTS), np.array(_RUNNING)
_LAST_ROWS = np.array([_LAST[0], _LAST[1]]) * np.array([[_FALL], [1.0]])


class Bend(NamedTuple):
    """One bend or piece of one: ``angle`` rad, ``radius`` m and ``b``.

    ``tz`` and ``nz`` are lists: the value at the start, at the Gauss nodes and at the end.
    ``level`` is the angle at which t_z passes zero, 0 where it does not. The items are floats, or
    arrays where scenarios have pieces of their own: then ``tz`` and ``nz`` are the rows of one.
    ``inside`` are t_z and n_z at the three inner points of ``bend_batch``, where they stand ready.
    """

    angle: Any
    tz: Any
    nz: Any
    b: float
    level: Any
    radius: float
    inside: tuple[float, float, float, float, float, float] | None = None


def part_of(bend: Bend, start: Any, angle: Any, maths: Maths) -> Bend:
    """The part of a bend that begins ``start`` rad into it.

    Parameters
    ----------
    bend : Bend
        The whole bend.
    start, angle : float or ndarray, shape (k,)
        Where the part begins, and its angle, rad.
    maths : Maths
        Functions for floats or arrays.

    Returns
    -------
    Bend
        The part.
    """
    t, n = bend.tz[0], bend.nz[0]
    tz: Any = []
    nz: Any = []
    if maths is ARRAYS:
        each = isinstance(start, np.ndarray) or isinstance(angle, np.ndarray)
        shares = _SHARES if bend.b else _SHARES[[0, -1]]  # nothing is asked between the ends
        at = start + (shares if each else shares[:, 0]) * angle
        sin, cos = np.sin(at), np.cos(at)
        tz, nz = t * cos + n * sin, n * cos - t * sin
    else:
        for share in (0.0, *NODES, 1.0):
            at = start + share * angle
            sin, cos = math.sin(at), math.cos(at)
            tz.append(t * cos + n * sin)
            nz.append(n * cos - t * sin)
    level = bend.level - start
    level = level * ((level > 0.0) & (level < angle))
    return bend._replace(angle=angle, tz=tz, nz=nz, level=level, inside=None)


def _weighted(w: list[float], x: list[float]) -> float:
    return w[0] * x[0] + w[1] * x[1] + w[2] * x[2] + w[3] * x[3] + w[4] * x[4]


def _advance(
    bend: Bend, friction: Any, y: Any, sign: Any, maths: Maths, sweeps: int
) -> tuple[Any, Any]:
    """``y`` at the end of one piece, and how badly the piece is resolved (above 1 is too badly).

    ``sign`` is the sign of ``y`` at the start; a piece on which y changes sign is not resolved.
    """
    h, tz, nz, b = bend.angle, bend.tz, bend.nz, bend.b
    b2 = b * b
    kappa = sign * friction
    u0 = sign * y + maths.sqrt(y * y + b2)
    # 4 s t_z integrates to share*(grow*(κ tz + nz)_start - (κ tz + nz)_here)
    share = 4.0 * sign / (1.0 + kappa * kappa)
    start = u0 + share * (kappa * tz[0] + nz[0])
    grow = maths.exp(kappa * h)
    u_h = grow * start - share * (kappa * tz[-1] + nz[-1])
    poor: Any = 0.0
    if b > 0.0 and maths.largest(abs(tz[0]) + abs(tz[-1])) > 0.0:
        size = abs(u0) + abs(u_h)
        correct = _correct_many if maths is ARRAYS else _correct
        correction, poor = correct(bend, kappa, sign, share, start, size, sweeps)
        u_h = u_h + grow * correction
    y_h = sign * (u_h - b2 / (u_h + (u_h == 0.0) * 1e-300)) / 2.0
    # U below b: the cable left one wall for the other; the digits of y go with the far side
    poor = poor + (u_h < 0.5 * b) * 2.0
    if maths.largest(bend.level) > 0.0:
        poor = poor + _left_and_returned(bend, kappa, sign, start, maths) * 2.0
    return y_h, poor


def _left_and_returned(bend: Bend, kappa: Any, sign: Any, start: Any, maths: Maths) -> Any:
    """Whether the cable may have left its wall and come back inside the piece.

    Where y = 0 its slope has the sign of t_z, so both happen only if t_z passes zero toward the
    wall. U is least there (n_z = s sqrt(1 - b²)), and its small last term can only add to it.
    """
    tz, nz = bend.tz[0], bend.nz[0]
    size = maths.sqrt(tz * tz + nz * nz)
    lowest = maths.exp(kappa * bend.level) * start - 4.0 * size / (1.0 + kappa * kappa)
    return (bend.level > 0.0) & (sign * tz < 0.0) & (lowest < 0.5 * bend.b)


def _correct(
    bend: Bend, kappa: float, sign: float, share: float, start: float, size: float, sweeps: int
) -> tuple[float, float]:
    """Integral of exp(-κθ) times the last term of U', and how badly it is resolved."""
    h, b2 = bend.angle, bend.b * bend.b
    drive_all = -4.0 * sign * b2 * h
    nodes, terms = [], []
    for node, tz, nz, row in zip(NODES, bend.tz[1:-1], bend.nz[1:-1], _RUNNING, strict=True):
        g = math.exp(kappa * (node * h))
        u = g * start - share * (kappa * tz + nz)
        d = drive_all * tz / g
        nodes.append((u, g, d, row))
        terms.append(d / (u * u + b2))
    total = _weighted(_WEIGHTS, terms)
    settled = _SETTLED * size
    c0, feedback = _first_move(nodes, terms, b2)
    to_move = c0 * feedback
    last = total
    for _ in range(sweeps):
        if to_move <= settled:
            break
        for i, (u, g, d, row) in enumerate(nodes):
            u = u + g * _weighted(row, terms)  # with the nodes before it already renewed
            terms[i] = d / (u * u + b2)
        before, total = total, _weighted(_WEIGHTS, terms)
        moved = total - before
        # The sweeps contract: the next move is to this one as this one to the last.
        to_move = moved * moved / (abs(last) + settled)
        last = moved
    c3, c4 = _FALL * _weighted(_LAST[0], terms), _weighted(_LAST[1], terms)
    allowed = size * (_RESOLVED * _RESOLVED * c0 + _SETTLED * _SETTLED * size)
    unresolved = (c3 * c3 + c4 * c4) / allowed
    return total, unresolved + (to_move > settled) * 2.0


def _correct_many(
    bend: Bend, kappa: Floats, sign: Floats, share: Floats, start: Floats, size: Floats, sweeps: int
) -> tuple[Floats, Floats]:
    """As ``_correct`` for arrays of scenarios, whose nodes are renewed all at once in a sweep."""
    h, b2 = bend.angle, bend.b * bend.b
    tz, nz = (np.reshape(at[1:-1], (_POINTS, -1)) for at in (bend.tz, bend.nz))
    g = np.exp(_SHARES[1:-1] * (kappa * h))
    u = g * start - share * (kappa * tz + nz)
    d = (-4.0 * b2) * (sign * h) * tz / g
    squares = u * u + b2
    terms = d / squares
    total = _WEIGHT_ROW @ terms
    settled = _SETTLED * size
    sizes = abs(terms[::2])
    c0 = sizes.sum(axis=0)
    feedback = 2.0 * (sizes * abs(u[::2]) / squares[::2]).sum(axis=0) * (1.0 + g[-1])
    to_move, last = c0 * feedback, total
    for _ in range(sweeps):
        if np.max(to_move - settled) <= 0.0:
            break
        now = u + g * (_RUN_MATRIX @ terms)
        terms = d / (now * now + b2)
        before, total = total, _WEIGHT_ROW @ terms
        moved = total - before
        to_move = moved * moved / (abs(last) + settled)
        last = moved
    c3, c4 = _LAST_ROWS @ terms
    allowed = size * (_RESOLVED * _RESOLVED * c0 + _SETTLED * _SETTLED * size)
    return total, (c3 * c3 + c4 * c4) / allowed + (to_move > settled) * 2.0


def _first_move(nodes: list[Any], terms: list[float], b2: float) -> tuple[float, float]:
    """Size of the terms, and the most by which a sweep multiplies a change of them.

    A term d/(U² + b²) answers a change of U by 2U/(U² + b²) of itself. Three nodes of five, added
    without their weights, are more than the weighted mean; ``total`` itself might cancel.
    """
    size, answer = 0.0, 0.0
    for i in (0, 2, 4):
        u, term = nodes[i][0], abs(terms[i])
        size = size + term
        answer = answer + term * abs(u) / (u * u + b2)
    return size, 2.0 * answer * (1.0 + nodes[4][1])


def _side(y: Any, bend: Bend) -> Any:
    """The sign of y; from y = 0 the cable goes where y' = 2 t_z sends it."""
    tz, nz = bend.tz[0], bend.nz[0]
    if isinstance(y, float):
        return 1.0 if (y or tz or nz) >= 0.0 else -1.0
    return np.where(np.where(y == 0.0, np.where(tz == 0.0, nz, tz), y) >= 0.0, 1.0, -1.0)


def _try(bend: Bend, friction: Any, tau: Any, maths: Maths, sweeps: int) -> tuple[Any, Any]:
    """τ at the end of one piece without slack, and how badly it is resolved."""
    y = tau - bend.nz[0]
    y_h, poor = _advance(bend, friction, y, _side(y, bend), maths, sweeps)
    return y_h + bend.nz[-1], poor


def through_float(bend: Bend, friction: float, tau: float) -> float:
    """τ at the end of a piece without slack, for one scenario: in one step, or in smaller ones.

    Parameters
    ----------
    bend : Bend
        A piece without slack.
    friction : float
        Effective coefficient K = ω μ.
    tau : float
        τ = T/(wR) entering.

    Returns
    -------
    float
        τ leaving.

    References
    ----------
    docs/theory.md, equations (3) to (5), section 15.
    """
    end, poor = _try(bend, friction, tau, FLOATS, _MAX_SWEEPS)
    if poor <= 1.0:
        return float(end)
    at, step = 0.0, bend.angle * 0.5
    while at < bend.angle:
        step = min(step, bend.angle - at)
        piece = part_of(bend, at, step, FLOATS)
        end, poor = _try(piece, friction, tau, FLOATS, _MAX_SWEEPS)
        if poor > 1.0 and step <= _SHORTEST:
            end, poor = _across(piece, friction, tau, FLOATS), 0.0
        if poor <= 1.0:
            at, tau, step = at + step, end, step * 2.0 if bend.b else bend.angle
        else:
            step = _shorter_one(piece, friction, tau)
    return float(tau)


def _across(piece: Bend, friction: Any, tau: Any, maths: Maths) -> Any:
    """τ at the end of a piece so short that |q| hardly changes on it."""
    rise = piece.nz[0] - piece.nz[-1]  # the integral of t_z
    y, b2 = tau - piece.nz[0], piece.b * piece.b
    y_h = y + 2.0 * rise
    wall = maths.sqrt(y * y + b2) + maths.sqrt(y_h * y_h + b2)
    return tau + rise + friction * piece.angle * wall / 2.0


def _shorter(piece: Bend, friction: Any, tau: Any) -> Any:
    """Angle to try next after a piece that failed: half of it, or up to where y passes zero."""
    half = 0.5 * piece.angle
    if piece.b > 0.0:
        return half
    along = _along_wall(piece, friction, tau, ARRAYS)
    low, high = 0.0 * half, np.where(piece.level > 0.0, piece.level, piece.angle) + 0.0 * half
    near = 0.5**_HALVINGS * high
    at = 0.5 * high
    above = _ROUNDED * (1.0 + np.abs(tau))  # so that the piece up to there does not fail again
    for number in range(3 * _HALVINGS):
        u, slope = along(at)
        u -= above
        on = u >= 0.0
        low, high = np.where(on, at, low), np.where(on, high, at)
        if not np.any(high - low > 2.0 * near):
            break
        if number % 3 == 2:  # Newton's steps may be poor
            at = 0.5 * (low + high)
            continue
        to = at - u / np.where(slope == 0.0, 1.0, slope)
        # Close to where it was the other side is asked for, so that both ends close in.
        to = np.where(np.abs(to - at) <= near, np.where(on, at + near, at - near), to)
        at = np.clip(to, low + near, high - near)
    return np.maximum(low, _SHORTEST)


def _shorter_one(piece: Bend, friction: float, tau: float) -> float:
    """As ``_shorter`` for one scenario, in plain floats."""
    if piece.b > 0.0:
        return float(0.5 * piece.angle)
    along = _along_wall(piece, friction, tau, FLOATS)
    low, high = 0.0, float(piece.level if piece.level > 0.0 else piece.angle)
    for _ in range(_HALVINGS):
        at = 0.5 * (low + high)
        low, high = (at, high) if along(at)[0] >= 0.0 else (low, at)
    return max(low, _SHORTEST)


def _along_wall(
    piece: Bend, friction: Any, tau: Any, maths: Maths
) -> Callable[[Any], tuple[Any, Any]]:
    """U, and its slope, at an angle into a piece in a vertical plane, where both are exact.

    U keeps its sign as long as y does: at the start of a piece that failed, and not to its end.
    """
    tz, nz = piece.tz[0], piece.nz[0]
    y = tau - nz
    sign = _side(y, piece)
    kappa = sign * friction
    share = 4.0 * sign / (1.0 + kappa * kappa)
    start = 2.0 * sign * y + share * (kappa * tz + nz)

    def along(at: Any) -> tuple[Any, Any]:
        sin, cos = maths.sin(at), maths.cos(at)
        tz_at, nz_at = tz * cos + nz * sin, nz * cos - tz * sin
        grown = maths.exp(kappa * at) * start
        u = grown - share * (kappa * tz_at + nz_at)
        return u, kappa * grown - share * (kappa * nz_at - tz_at)

    return along


def through_array(bend: Bend, friction: Any, tau: Any) -> Any:
    """As ``through_float`` for many scenarios, each with steps of its own where it needs them.

    Parameters
    ----------
    bend : Bend
        A piece without slack.
    friction : float or ndarray, shape (k,)
        Effective coefficient K = ω μ.
    tau : ndarray, shape (k,)
        τ = T/(wR) entering.

    Returns
    -------
    ndarray, shape (k,)
        τ leaving.

    References
    ----------
    docs/theory.md, equations (3) to (5), section 15.
    """
    end, poor = _try(bend, friction, tau, ARRAYS, _FEW_SWEEPS)
    left = np.flatnonzero(np.broadcast_to(poor, end.shape) > 1.0)
    if left.size:
        end[left], poor = _try(
            scenarios(bend, left), pick(friction, left), tau[left], ARRAYS, _MAX_SWEEPS
        )
        left = left[poor > 1.0]
    if left.size:
        end[left] = _in_steps(scenarios(bend, left), pick(friction, left), tau[left])
    return end


def scenarios(bend: Bend, index: Any) -> Bend:
    """The bend as the scenarios of ``index`` have it.

    Parameters
    ----------
    bend : Bend
        One for all scenarios, or with a part for each.
    index : ndarray of int
        Numbers of the scenarios wanted.

    Returns
    -------
    Bend
        With the parts of those scenarios.
    """
    return bend._replace(
        angle=pick(bend.angle, index),
        tz=bend.tz if np.ndim(bend.tz) == 1 else bend.tz[:, index],
        nz=bend.nz if np.ndim(bend.nz) == 1 else bend.nz[:, index],
        level=pick(bend.level, index),
        inside=None,
    )


def _in_steps(bend: Bend, friction: Any, tau: Any) -> Any:
    """March every scenario to the end of the bend with steps of its own, halved and doubled."""
    total = bend.angle + 0.0 * tau
    at, step = np.zeros_like(tau), 0.5 * total
    active = np.arange(tau.size)
    while active.size:
        size = np.minimum(step[active], total[active] - at[active])
        part = scenarios(bend, active)
        piece = part_of(part, at[active], size, ARRAYS)
        k, before = pick(friction, active), tau[active]
        end, poor = _try(piece, k, before, ARRAYS, _MAX_SWEEPS)
        forced = (poor > 1.0) & (size <= _SHORTEST)
        if forced.any():
            end = np.where(forced, _across(piece, k, before, ARRAYS), end)
        good = (poor <= 1.0) | forced
        done = active[good]
        tau[done] = end[good]
        at[done] += size[good]
        grown = 2.0 * size if bend.b else total[active]
        step[active] = grown if good.all() else np.where(good, grown, _shorter(piece, k, before))
        active = active[at[active] < total[active]]
    return tau


def pick(value: Any, index: Any) -> Any:
    """The value of each scenario of ``index``; a value they all share stays as it is.

    Parameters
    ----------
    value : float or ndarray, shape (k,)
        One for all scenarios, or one for each.
    index : ndarray of int
        Numbers of the scenarios wanted.

    Returns
    -------
    float or ndarray
    """
    return value[index] if isinstance(value, np.ndarray) and value.ndim else value
