"""Friction that falls where the wall load passes a threshold, solved exactly through the change.

Up to a contact load P the coefficient is the one given, above it a lower one (docs/theory.md
section 19). In the terms of ``bend``, with p = P/w, the load is |q|/w = sqrt(y² + b²), so it is at
the threshold where y = ±Y, Y = sqrt(p² - b²); where p ≤ b the whole bend is above it. Between two
such places friction is constant, and the kernel of constant friction does the work.

Where y = Y or y = -Y the slope of y is f1 = 2 t_z + K1 p on the inside (|y| < Y) and
f2 = 2 t_z + K2 p on the outside. The bend is cut at the angles where f1 or f2 passes zero, and at
those where a slack cable's own weight passes the threshold. Inside each piece each border is
passed in one direction at the most, so the end of a piece tells whether it was: no crossing is
missed. Where f1 > 0 > f2 the load can neither pass Y nor leave it: it is held at the threshold,
τ = Y + n_z.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats
from route3d.mechanics.bend import FLOATS, Bend, part_of, pick
from route3d.mechanics.bend_slack import through_bend, through_one, through_parts

# A crossing is known to this (rad); the tension moves by its share of wR times K1 - K2 times p.
# Newton's last step d is off by less than d² |y''|/|y'|, so it is taken without a look at its end.
_CLOSE = 1e-14
# Newton's steps, kept in a bracket, take 3 to 6. After so many the bracket is halved instead, and
# as often again it is down to 1e-14 of itself.
_NEWTON, _MOST = 14, 64
# A cable this near to -Y counts as inside: where both sides lead away, the larger tension is used.
_AT_BORDER = 1e-12


class FallingFriction(NamedTuple):
    """Effective friction K that falls above a contact load.

    Takes the place of a plain K in the functions that march a path. The items are floats, or
    arrays (k,) of scenarios. All of ``value`` and ``then`` are negative in a pull walked backwards.

    Attributes
    ----------
    value : float or ndarray, shape (k,)
        K up to the threshold, ω μ.
    then : float or ndarray, shape (k,)
        K above it, of the same sign and smaller in size.
    above : float or ndarray, shape (k,)
        The threshold on the contact load of the whole set, N/m; infinite where friction is
        constant.
    """

    value: Any
    then: Any
    above: Any


class Stretch(NamedTuple):
    """A part of a bend along which one friction holds.

    ``start`` and ``angle`` rad; ``friction`` is the K that holds, None where the contact load is
    held at the threshold; ``tension_in`` and ``tension_out`` N.
    """

    start: float
    angle: float
    friction: float | None
    tension_in: float
    tension_out: float


def on_straight(weight: Any, level: float, friction: FallingFriction) -> Any:
    """K on a straight, whose contact load is the weight across it, all along.

    Parameters
    ----------
    weight : float or ndarray, shape (k,)
        N/m
    level : float
        |z⊥|, the cosine of the slope.
    friction : FallingFriction
        The law.

    Returns
    -------
    float or ndarray, shape (k,)
        ``value`` up to the threshold, ``then`` above it.

    References
    ----------
    docs/theory.md section 19, equation (16).
    """
    above = weight * level > friction.above
    if isinstance(above, np.ndarray):
        return np.where(above, friction.then, friction.value)
    return friction.then if above else friction.value


# --- one scenario, in plain floats


def through_falling_one(
    bend: Bend, weight: float, friction: FallingFriction, tension: float
) -> float:
    """Tension (N) leaving a bend, for one scenario.

    Parameters
    ----------
    bend : Bend
        The bend.
    weight : float
        N/m
    friction : FallingFriction
        The law.
    tension : float
        Entering, N.

    Returns
    -------
    float
        Leaving, N.

    References
    ----------
    docs/theory.md section 19, equations (16) to (20).
    """
    return stretches(bend, weight, friction, tension)[-1].tension_out


def stretches(
    bend: Bend, weight: float, friction: FallingFriction, tension: float
) -> list[Stretch]:
    """The parts of a bend between the places where friction changes, for one scenario.

    Parameters
    ----------
    bend : Bend
        The bend.
    weight : float
        N/m
    friction : FallingFriction
        The law.
    tension : float
        Entering, N.

    Returns
    -------
    list of Stretch
        In order; one only where friction does not change.

    References
    ----------
    docs/theory.md section 19, equations (16) to (20).
    """
    constant = _constant_one(bend, weight, friction)
    if constant is not None:
        out = through_one(bend, weight, constant, tension)
        return [Stretch(0.0, bend.angle, constant, tension, out)]
    scale = weight * bend.radius
    passage = _Passage(bend, friction, friction.above / weight)
    tau, at = tension / scale, 0.0
    for stop in passage.cuts():
        tau = passage.piece(at, stop, tau)
        at = stop
    return _joined(passage.found, scale)


def _constant_one(bend: Bend, weight: float, friction: FallingFriction) -> float | None:
    """K where it is the same all along the bend, else None."""
    if math.isinf(friction.above) or friction.value == friction.then:
        return float(friction.value)
    return float(friction.then) if friction.above <= weight * bend.b else None


class _Passage:
    """One scenario on its way through one bend, in units of wR."""

    def __init__(self, bend: Bend, friction: FallingFriction, p: float) -> None:
        self.bend = bend._replace(radius=1.0)
        self.k1, self.k2, self.p = friction.value, friction.then, p
        self.border = math.sqrt((p - bend.b) * (p + bend.b))
        self.found: list[tuple[float, float, float | None, float, float]] = []

    def cuts(self) -> list[float]:
        """Where a piece ends, the end of the bend last."""
        t, n, angle = self.bend.tz[0], self.bend.nz[0], self.bend.angle
        size, middle = math.hypot(t, n), math.atan2(n, t)
        found = {angle}
        for slope in _slopes_of_cuts(self.k1, self.k2, self.p):
            if abs(slope) < size:
                half = math.acos(slope / size)
                for at in ((middle + half) % math.tau, (middle - half) % math.tau):
                    if 0.0 < at < angle:
                        found.add(at)
        return sorted(found)

    def piece(self, at: float, stop: float, tau: float) -> float:
        """τ at the end of a piece in which each border is passed in one direction at the most."""
        tz, border = 2.0 * self._tz(0.5 * (at + stop)), self.border
        f1, f2 = tz + self.k1 * self.p, tz + self.k2 * self.p
        y = tau - self._nz(at)
        side = 1 if y > border else -1 if y < -border - _AT_BORDER * (1.0 + border) else 0
        while True:
            k = self.k1 if side == 0 else self.k2
            end = self._through(at, stop - at, k, tau)
            bound = _passed_one(side, f1, f2, end - self._nz(stop), border)
            if bound == 0.0:
                self.found.append((at, stop, k, tau, end))
                return end
            met = at + self._crossing(at, stop - at, k, tau, bound, (bound > 0.0) == (side == 0))
            reached = bound + self._nz(met)
            self.found.append((at, met, k, tau, reached))
            at, tau = met, reached
            out = 1 if bound > 0.0 else -1
            onward = (f2 if side == 0 else -f1) * out > 0.0
            if not onward:
                end = bound + self._nz(stop)
                self.found.append((at, stop, None, tau, end))
                return end
            side = out if side == 0 else 0

    def _tz(self, at: float) -> float:
        return float(self.bend.tz[0] * math.cos(at) + self.bend.nz[0] * math.sin(at))

    def _nz(self, at: float) -> float:
        return float(self.bend.nz[0] * math.cos(at) - self.bend.tz[0] * math.sin(at))

    def _through(self, at: float, size: float, k: float, tau: float) -> float:
        whole = at == 0.0 and size == self.bend.angle
        part = self.bend if whole else part_of(self.bend, at, size, FLOATS)
        return through_one(part, 1.0, k, tau)

    def _crossing(
        self, at: float, size: float, k: float, tau: float, bound: float, rising: bool
    ) -> float:
        """Angle at which y reaches ``bound``, which it passes once: Newton's steps in a bracket."""
        b2 = self.bend.b * self.bend.b
        y = tau - self._nz(at)
        low, high, x = 0.0, size, 0.0
        curved = 2.0 + abs(k) * (2.0 + abs(k) * self.p)  # no |y''| is larger at the threshold
        for step in range(_MOST):
            slope = 2.0 * self._tz(at + x) + k * math.sqrt(y * y + b2)
            aim = x - (y - bound) / slope if slope and step < _NEWTON else -1.0
            if not low < aim < high:
                aim = 0.5 * (low + high)
                slope = 0.0
            if (aim - x) ** 2 * curved <= _CLOSE * abs(slope) or high - low <= _CLOSE:
                return aim
            x = aim
            y = self._through(at, x, k, tau) - self._nz(at + x)
            if (y < bound) == rising:
                low = x
            else:
                high = x
        return 0.5 * (low + high)


def _slopes_of_cuts(k1: float, k2: float, p: float) -> tuple[float, ...]:
    """The t_z where f1 or f2 is zero, or a slack cable presses with just the threshold."""
    window = -0.5 * k1 * p, -0.5 * k2 * p
    if p >= 1.0:
        return window
    slack = math.sqrt((1.0 - p) * (1.0 + p))
    return *window, slack, -slack


def _passed_one(side: int, f1: float, f2: float, y: float, border: float) -> float:
    """The border that was passed on the way to ``y``, 0 for none."""
    if side > 0:
        return border if f2 < 0.0 and y < border else 0.0
    if side < 0:
        return -border if f2 > 0.0 and y > -border else 0.0
    if f1 > 0.0:
        return border if y > border else 0.0
    return -border if f1 < 0.0 and y < -border else 0.0


def _joined(
    found: list[tuple[float, float, float | None, float, float]], scale: float
) -> list[Stretch]:
    """Neighbors of one friction as one, and nothing of no length but the last."""
    joined: list[Stretch] = []
    for at, stop, k, tau, end in found:
        if joined and (joined[-1].friction == k or stop - at <= _AT_BORDER):
            before = joined[-1]
            joined[-1] = before._replace(angle=stop - before.start, tension_out=scale * end)
        elif joined and joined[-1].angle <= _AT_BORDER:
            before = joined.pop()
            joined.append(
                Stretch(before.start, stop - before.start, k, before.tension_in, scale * end)
            )
        else:
            joined.append(Stretch(at, stop - at, k, scale * tau, scale * end))
    return joined


# --- many scenarios, in arrays


def through_falling(
    bend: Bend,
    weight: Any,
    friction: FallingFriction,
    tension: Floats,
    start: Any = 0.0,
    angle: Any = None,
) -> Floats:
    """Tension (N) leaving a bend or a part of it, in scenario arrays.

    Each scenario is cut where its own contact load passes its own threshold.

    Parameters
    ----------
    bend : Bend
        The whole bend.
    weight : float or ndarray, shape (k,)
        N/m
    friction : FallingFriction
        The law, of floats or arrays (k,).
    tension : ndarray, shape (k,)
        Entering, N.
    start, angle : float or ndarray, shape (k,), optional
        Where the part of each scenario begins, and its angle, rad. Default: the whole bend.

    Returns
    -------
    ndarray, shape (k,)
        Leaving, N.

    References
    ----------
    docs/theory.md section 19, equations (16) to (20).
    """
    angle = bend.angle if angle is None else angle
    w, k1, k2, above, begin, size = (
        np.array(np.broadcast_to(np.asarray(each, dtype=np.float64), tension.shape))
        for each in (weight, *friction, start, angle)
    )
    always = above <= w * bend.b
    plain = always | np.isinf(above) | (k1 == k2)
    out = np.empty_like(tension)
    at = np.flatnonzero(plain)
    if at.size:
        k = np.where(always, k2, k1)[at]
        out[at] = _through(bend, begin[at], size[at], w[at], k, tension[at])
    at = np.flatnonzero(~plain)
    if at.size:
        scale = w[at] * bend.radius
        passages = _Passages(bend, k1[at], k2[at], above[at] / w[at])
        tau = passages.through(begin[at], size[at], tension[at] / scale)
        out[at] = scale * tau
    return out


def _through(bend: Bend, at: Floats, size: Floats, w: Any, k: Floats, tension: Floats) -> Floats:
    """Constant friction; the whole bend shares its slopes, which is twice as fast."""
    if not at.any() and (size == bend.angle).all():
        return np.asarray(through_bend(bend, w, k, tension))
    return through_parts(bend, at, size, w, k, tension)


class _Passages:
    """Many scenarios on their way through parts of one bend, in units of wR."""

    def __init__(self, bend: Bend, k1: Floats, k2: Floats, p: Floats) -> None:
        self.bend = bend._replace(radius=1.0)
        self.t, self.n = bend.tz[0], bend.nz[0]
        self.k1, self.k2, self.p = k1, k2, p
        self.border = np.sqrt((p - bend.b) * (p + bend.b))

    def through(self, start: Floats, angle: Floats, tau: Floats) -> Floats:
        """τ behind each part."""
        at, tau = start.copy(), tau.copy()
        for stop in self._cuts(start, start + angle):
            on = np.flatnonzero(stop > at)
            if on.size:
                tau[on] = self._piece(on, at[on], stop[on], tau[on])
                at[on] = stop[on]
        return tau

    def _cuts(self, start: Floats, end: Floats) -> list[Floats]:
        """Where the pieces of each scenario end, the end of its part last."""
        size, middle = math.hypot(self.t, self.n), math.atan2(self.n, self.t)
        low = np.minimum(self.p, 1.0)
        slack = np.where(self.p < 1.0, np.sqrt((1.0 - low) * (1.0 + low)), np.inf)
        slopes = np.stack((-0.5 * self.k1 * self.p, -0.5 * self.k2 * self.p, slack, -slack))
        inside = np.abs(slopes) < size
        rows = inside.any(axis=1)  # as a rule none: the threshold is many times the weight
        if not rows.any():
            return [end]
        slopes, inside = slopes[rows], inside[rows]
        half = np.arccos(np.where(inside, slopes, 0.0) / (size or 1.0))
        found = np.concatenate((np.mod(middle + half, math.tau), np.mod(middle - half, math.tau)))
        both = np.concatenate((inside, inside))
        found = np.where(both & (found > start) & (found < end), found, end)
        return [*np.sort(found, axis=0), end]

    def _piece(self, on: NDArray[np.int64], at: Floats, stop: Floats, tau: Floats) -> Floats:
        """As ``_Passage.piece`` for the scenarios ``on``."""
        k1, k2, p, border = self.k1[on], self.k2[on], self.p[on], self.border[on]
        tz = 2.0 * self._tz(0.5 * (at + stop))
        f1, f2 = tz + k1 * p, tz + k2 * p
        y = tau - self._nz(at)
        side = (y > border).astype(np.int8)
        side -= y < -border - _AT_BORDER * (1.0 + border)
        out, left = np.empty_like(tau), np.arange(tau.size)
        while left.size:
            k = np.where(side == 0, k1[left], k2[left])
            end = self._through(at, stop[left] - at, k, tau)
            bound = _passed(side, f1[left], f2[left], end - self._nz(stop[left]), border[left])
            out[left] = end
            met = np.flatnonzero(bound)
            if not met.size:
                break
            left, side, bound = left[met], side[met], bound[met]
            size = stop[left] - at[met]
            rising = (bound > 0.0) == (side == 0)
            at = at[met] + self._crossing(at[met], size, k[met], tau[met], bound, rising, p[left])
            outward = np.sign(bound)
            onward = np.where(side == 0, f2[left], -f1[left]) * outward > 0.0
            out[left] = bound + self._nz(stop[left])  # of those that are held there
            side = np.where(side == 0, outward, 0.0).astype(np.int8)
            left, at, side, bound = left[onward], at[onward], side[onward], bound[onward]
            tau = bound + self._nz(at)
        return out

    def _tz(self, at: Floats) -> Floats:
        return np.asarray(self.t * np.cos(at) + self.n * np.sin(at))

    def _nz(self, at: Floats) -> Floats:
        return np.asarray(self.n * np.cos(at) - self.t * np.sin(at))

    def _through(self, at: Floats, size: Floats, k: Floats, tau: Floats) -> Floats:
        return _through(self.bend, at, size, 1.0, k, tau)

    def _crossing(
        self,
        at: Floats,
        size: Floats,
        k: Floats,
        tau: Floats,
        bound: Floats,
        rising: NDArray[np.bool_],
        p: Floats,
    ) -> Floats:
        """As ``_Passage._crossing``."""
        b2 = self.bend.b * self.bend.b
        y = tau - self._nz(at)
        low, high, x = np.zeros_like(at), size.copy(), np.zeros_like(at)
        curved = 2.0 + abs(k) * (2.0 + abs(k) * p)
        left = np.arange(at.size)
        for step in range(_MOST):
            here, goal = at[left] + x[left], bound[left]
            slope = 2.0 * self._tz(here) + k[left] * np.sqrt(y * y + b2)
            with np.errstate(divide="ignore", invalid="ignore"):
                aim = x[left] - (y - goal) / slope if step < _NEWTON else np.full(left.size, -1.0)
            inside = (low[left] < aim) & (aim < high[left])
            aim = np.where(inside, aim, 0.5 * (low[left] + high[left]))
            moved = aim - x[left]
            close = inside & (moved * moved * curved[left] <= _CLOSE * np.abs(slope))
            close |= high[left] - low[left] <= _CLOSE
            x[left] = aim
            left = left[~close]
            if not left.size:
                break
            y = self._through(at[left], x[left], k[left], tau[left]) - self._nz(at[left] + x[left])
            before = (y < bound[left]) == rising[left]
            low[left] = np.where(before, x[left], low[left])
            high[left] = np.where(before, high[left], x[left])
        return x


def _passed(side: NDArray[np.int8], f1: Floats, f2: Floats, y: Floats, border: Floats) -> Floats:
    """The border that each scenario passed on its way to ``y``, 0 for none."""
    inside = side == 0
    upper = np.where(inside, (f1 > 0.0) & (y > border), (side > 0) & (f2 < 0.0) & (y < border))
    lower = np.where(inside, (f1 < 0.0) & (y < -border), (side < 0) & (f2 > 0.0) & (y > -border))
    return border * (upper.astype(np.float64) - lower)


def picked(friction: Any, index: Any) -> Any:
    """The friction of the scenarios of ``index``, constant or falling.

    Parameters
    ----------
    friction : float, ndarray of shape (k,) or FallingFriction
        Of all scenarios.
    index : ndarray of int or slice
        Numbers of the scenarios wanted.

    Returns
    -------
    float, ndarray or FallingFriction
    """
    if isinstance(friction, FallingFriction):
        return FallingFriction(*(pick(each, index) for each in friction))
    return pick(friction, index)
