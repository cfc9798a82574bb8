"""Taut scenarios through one bend: many at a time, in one step.

Most pulls are taut: U is large against b, and the last term of U' (see ``bend``) adds some
millionths of U. This stage takes that term by five Lobatto points and says of each scenario
whether that was enough. The rest go on to the kernel of ``bend``, which also resolves a large
term and a cable that changes walls, at several times the cost.
"""

from __future__ import annotations

import math
import operator
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats
from route3d.mechanics.bend import Bend

Single = NDArray[np.float32]

# Lobatto's points: the ends, where U is wanted anyway, and three inside; exact up to degree 7.
_NODE = math.sqrt(3.0 / 7.0)
_POINTS = (0.0, (1.0 - _NODE) / 2.0, 0.5, (1.0 + _NODE) / 2.0, 1.0)
# c4 may pass through zero by accident, so c3 is asked too, at this share.
_FALL = 0.3
_INNER = 49.0 / 60.0 * _NODE
# What is made of the values at the points: their mean, their rise from the start to the end, and
# the Legendre coefficients c3 (times _FALL) and c4 of the polynomial through them.
_FORMS = np.array(
    [
        [1 / 20, 49 / 180, 16 / 45, 49 / 180, 1 / 20],
        [-1.0, 0.0, 0.0, 0.0, 1.0],
        [-7 / 20 * _FALL, _INNER * _FALL, 0.0, -_INNER * _FALL, 7 / 20 * _FALL],
        [1 / 5, -7 / 15, 8 / 15, -7 / 15, 1 / 5],
    ]
)
_FORM_ROWS = _FORMS.tolist()
# The points miss the mean by 0.4 c8. With coefficients falling by r a degree c8 = c4²/c0; those
# of a bend mostly fall faster with every degree, which is the margin.
_MISSED = 0.5
# What each of the two parts left out may be, as a share of U.
_LEFT_OUT = 1e-11
# With c3 and c4 multiplied by this, the sum of their squares is held against U.
_ERRORS = np.array([[1.0], [1.0], *[[math.sqrt(_MISSED / _LEFT_OUT)]] * 2])
# U > 2.5 means y > 1 and so τ = y + n_z > 0: neither slack nor near the other wall.
_TAUT = 2.5


def room_for(count: int) -> Single:
    """Room in which ``through_taut`` works on so many scenarios.

    Who passes bend after bend gives the same room each time: memory that is freed and asked for
    again goes back to the system in between, and that costs more than the arithmetic.

    Parameters
    ----------
    count : int
        Number of scenarios.

    Returns
    -------
    ndarray of float32, shape (3, 5, count)
        Scratch.
    """
    return np.empty((3, len(_POINTS), count), dtype=np.float32)


@np.errstate(over="ignore", invalid="ignore", divide="ignore")  # of scenarios it does not settle
def through_taut(
    bend: Bend, friction: Any, tau: Any, room: Single
) -> tuple[Floats, NDArray[np.bool_]]:
    """τ (n,) at the end of a bend for n scenarios, and in which of them it is settled.

    Parameters
    ----------
    bend : Bend
        The bend, the same for all or with a part for each scenario. Only the ends of its slopes
        are looked at.
    friction : float or ndarray, shape (n,)
        Effective coefficient K = ω μ.
    tau : ndarray, shape (n,)
        τ = T/(wR) entering.
    room : ndarray of float32, shape (3, 5, n)
        From `room_for`.

    Returns
    -------
    tuple of ndarray, shape (n,)
        τ leaving, and where it is settled.

    References
    ----------
    docs/theory.md section 15.
    """
    h, b2 = bend.angle, bend.b * bend.b
    share = 4.0 / (1.0 + friction * friction)
    turning, exponent = share * friction, friction * h
    first = tau - bend.nz[0]
    root = first * first
    root += b2
    np.sqrt(root, out=root)
    first += root
    start = first + (turning * bend.tz[0] + share * bend.nz[0])
    end = np.exp(exponent) * start
    end -= turning * bend.tz[-1] + share * bend.nz[-1]
    # U falls by at most 4 a radian: forwards, or backwards if friction is negative.
    lowest = np.minimum(first, end)
    lowest -= 4.0 * h
    settled = lowest > _TAUT
    level = isinstance(h, float) and not (bend.tz[0] or bend.tz[-1])
    if b2 > 0.0 and not level:  # else the last term vanishes
        forms = _forms(bend, exponent, turning, share, start, room)
        end, enough = _corrected_many(bend, end, lowest, forms)
        settled &= enough
    out = np.divide(b2, end)
    np.subtract(end, out, out=out)
    out *= 0.5
    out += bend.nz[-1]
    return out, settled


class _Slopes(NamedTuple):
    """t_z and n_z at the points, (p, 1) or (p, n) each.

    Of one bend for all scenarios also both side by side, (p, 2), and `_FORMS` with 4 h t_z and, in
    the last two, `_ERRORS` put in.
    """

    tz: Single
    nz: Single
    both: Single | None = None
    forms: Single | None = None


def _slopes_at(bend: Bend) -> _Slopes:
    if isinstance(bend.angle, float):
        return _slopes_of_one(bend.angle, bend.tz[0], bend.nz[0])
    at = bend.angle * np.array(_POINTS)[:, None]
    sin, cos = np.sin(at), np.cos(at)
    t, n = bend.tz[0], bend.nz[0]
    tz, nz = t * cos + n * sin, n * cos - t * sin
    return _Slopes(tz.astype(np.float32), nz.astype(np.float32))


@lru_cache(maxsize=1024)  # a route's bends are passed by one chunk of scenarios after the other
def _slopes_of_one(angle: float, t: float, n: float) -> _Slopes:
    at = angle * np.array(_POINTS)
    sin, cos = np.sin(at), np.cos(at)
    tz, nz = t * cos + n * sin, n * cos - t * sin
    forms = 4.0 * angle * _ERRORS * _FORMS * tz
    both = np.stack((tz, nz), axis=1).astype(np.float32)
    return _Slopes(both[:, :1], both[:, 1:], both, forms.astype(np.float32))


def _forms(
    bend: Bend, exponent: Any, turning: Any, share: Any, start: Floats, room: Single
) -> Single:
    """The forms of the last term's values at the points, (4, n), the errors by `_ERRORS`.

    In single precision: where the term counts as settled it adds less than 2e-5 of U.
    """
    grow, u, term = room
    forms: Single = term[: len(_FORMS)]
    at = _slopes_at(bend)
    if isinstance(turning, np.ndarray) and at.both is not None:
        grow[0], grow[1] = turning, share
        loads: Any = np.matmul(at.both, grow[:2], out=term)
    else:
        loads = (turning * at.tz + share * at.nz).astype(np.float32)
    if isinstance(exponent, np.ndarray):
        _growths(grow, exponent.astype(np.float32))
    else:
        grow = np.empty((len(_POINTS), 1), dtype=np.float32)
        _growths(grow, np.float32(exponent))
    np.multiply(grow, start.astype(np.float32), out=u)
    u -= loads
    np.multiply(u, u, out=u)
    u += np.float32(bend.b * bend.b)
    np.divide(grow[::-1], u, out=u)  # growth from each point to the end, by symmetry
    if at.forms is not None:
        np.matmul(np.float32(bend.b * bend.b) * at.forms, u, out=forms)
        return forms
    u *= at.tz
    np.matmul((_FORMS * _ERRORS).astype(np.float32), u, out=forms)
    forms *= 4.0 * bend.b * bend.b * bend.angle
    return forms


def through_taut_one(bend: Bend, friction: float, tau: float) -> float | None:
    """As ``through_taut`` for one scenario, in plain floats; None where it is not settled.

    Parameters
    ----------
    bend : Bend
        The bend.
    friction : float
        Effective coefficient K = ω μ.
    tau : float
        τ = T/(wR) entering.

    Returns
    -------
    float or None
        τ leaving.

    References
    ----------
    docs/theory.md section 15.
    """
    h, b2 = bend.angle, bend.b * bend.b
    t, n, last = bend.tz[0], bend.nz[0], bend.tz[-1]
    share = 4.0 / (1.0 + friction * friction)
    y = tau - n
    u = y + math.sqrt(y * y + b2)
    start, grow = u + share * (friction * t + n), math.exp(friction * h)
    end = grow * start - share * (friction * last + bend.nz[-1])
    lowest = min(u, end) - 4.0 * h
    if not lowest > _TAUT:
        return None
    if b2 > 0.0 and (t or last):
        terms = [grow * t / (u * u + b2)]
        for point in _POINTS[1:-1]:
            at = point * h
            sin, cos, grown = math.sin(at), math.cos(at), math.exp(friction * at)
            tz = t * cos + n * sin
            u = grown * start - share * (friction * tz + n * cos - t * sin)
            terms.append(grow / grown * tz / (u * u + b2))
        terms.append(last / (end * end + b2))
        forms = [sum(map(operator.mul, form, terms)) for form in _FORM_ROWS]
        end, enough = _corrected(bend, end, lowest, forms)
        if not enough:
            return None
    return float(0.5 * (end - b2 / end) + bend.nz[-1])


def _corrected(bend: Bend, end: Any, lowest: Any, forms: Any) -> tuple[Any, Any]:
    """U at the end with its last term, and whether both parts left out are small enough.

    What the term adds to U lowers the term itself, by added²/U if exp(κθ)/U did not change along
    the bend; it changes by a share of less than (4h + b)/lowest.
    """
    mean, rise, c3, c4 = forms
    drive = 4.0 * bend.b * bend.b * bend.angle
    size = abs(mean) + abs(rise)  # of the values, also where they change sign and the mean is 0
    missed = (_MISSED * drive) * (c3 * c3 + c4 * c4)
    most = (drive * size) / end
    enough = missed <= _LEFT_OUT * (size * end)
    enough &= (4.0 * bend.angle + bend.b) * (most * most) <= _LEFT_OUT * lowest
    added = -drive * mean
    return end + added * (1.0 - added / end), enough


def _corrected_many(
    bend: Bend, end: Floats, lowest: Floats, forms: Single
) -> tuple[Floats, NDArray[np.bool_]]:
    """As ``_corrected`` for arrays, in few steps; ``forms`` hold the drive and are worked in."""
    u, low = end.astype(np.float32), lowest.astype(np.float32)
    takes, most, size = forms[0], forms[1], np.abs(forms[0])
    np.abs(most, out=most)
    size += most
    missed = forms[2:]
    missed *= missed
    missed[0] += missed[1]
    np.multiply(size, u, out=most)
    enough = missed[0] <= most
    size /= u
    size *= size
    size *= (4.0 * bend.angle + bend.b) / _LEFT_OUT
    enough &= size <= low
    np.multiply(takes, takes, out=most)
    most /= u
    most += takes
    return end - most, enough


def _growths(out: Single, exponent: Any) -> None:
    """exp(κθ) at the points, from two exponentials since they lie symmetric about the middle."""
    out[0] = 1.0
    out[1] = np.exp(_POINTS[1] * exponent)
    out[2] = np.exp(0.5 * exponent)
    np.multiply(out[2], out[2], out=out[4])
    np.divide(out[4], out[1], out=out[3])
