"""One uncertain input as a function of a standard normal score: the margin of a Gaussian copula."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.model.spread import LOW, UncertainInput
from route3d.phrase import Phrase, literal, say
from route3d.units import render

Z_HIGH = 1.6448536269514722
"""Score of the 95th percentile."""
# Less than this below the smallest value there is makes no difference in any printed figure.
_NOTHING = 1e-6
# With more than this cut off, low and high are no longer the percentiles that were given.
_MOST_CUT = 0.1
_SCORES = np.linspace(-8.0, 8.0, 1601)

Learned = Sequence[tuple[float, float, float]]
"""A mixture of normals of log friction: share, mean and standard deviation of each."""


class SpreadError(ValueError):
    """A spread that is none: the ``key`` that is wrong, and how to mend it."""

    def __init__(self, key: str, message: str | Phrase, fix: str = "") -> None:
        self.key, self.fix = key, fix
        self._phrase = message if isinstance(message, Phrase) else say(literal(message))
        super().__init__(self.said("SI"))

    def said(self, system: str) -> str:
        """The message in the units of ``system``."""
        return render(self._phrase, system)


@dataclass(frozen=True, eq=False)
class Marginal:
    """The distribution of one input.

    ``whole`` gives its value at standard normal scores; ``cut`` is the share of it below the
    smallest value there is, which is left out and the rest scaled up.
    """

    shape: str
    whole: Callable[[Floats], Floats]
    cut: float = 0.0

    def at(self, scores: Floats) -> Floats:
        """Values at standard normal ``scores``, in their shape."""
        if not self.cut:
            return self.whole(scores)
        from scipy.special import ndtr, ndtri

        return self.whole(ndtri(self.cut + (1.0 - self.cut) * ndtr(scores)))

    def percentile(self, percent: float) -> float:
        """One percentile."""
        from scipy.special import ndtri

        return float(self.at(np.array([ndtri(percent / 100)]))[0])


def marginal_of(
    given: UncertainInput, planned: float, *, least: float | None = None, learned: Learned = ()
) -> Marginal:
    """The distribution that an entry of [spread] stands for.

    Relative amounts must be turned into numbers of the kind of ``planned`` before (a share of it
    is a number beside 1). ``least`` is the smallest value there is; ``learned`` the distribution of
    ``history``. Raises SpreadError for what is no distribution.
    """
    if given.shape == "history":
        return _of_history(given, learned)
    _check_keys(given)
    if given.deviation is not None:
        whole = _from_deviation(given, planned)
    else:
        whole = _from_percentiles(given)
    if least is None:
        return Marginal(given.shape, whole)
    cut = _share_below(whole, least)
    if cut > _MOST_CUT:
        key = "deviation" if given.deviation is not None else "low"
        raise SpreadError(
            key,
            f"{cut:.0%} of the {given.shape} distribution is below {least:g}",
            "use a lognormal shape, or less spread",
        )
    return Marginal(given.shape, whole, cut if cut > _NOTHING else 0.0)


def _of_history(given: UncertainInput, learned: Learned) -> Marginal:
    keys = ("low", "high", "middle", "peak", "mean", "deviation")
    if extra := [key for key in keys if getattr(given, key) is not None]:
        raise SpreadError(extra[0], f"history defines {extra[0]}", f"remove {extra[0]}, or history")
    if not learned:
        raise SpreadError(
            "shape",
            f"the conduit {given.of} has no friction history",
            'give its friction as { history = "pulls.sqlite" }, or another shape here',
        )
    table = np.exp(_mixture_quantiles(learned))
    return Marginal("history", lambda scores: np.interp(scores, _SCORES, table))


def _mixture_quantiles(learned: Learned) -> Floats:
    """Quantiles of a mixture of normals at ``_SCORES``."""
    from scipy.special import log_ndtr, logsumexp, ndtri_exp

    share, mean, spread = np.array(learned, dtype=np.float64).T
    ends = (mean - 9 * spread).min(), (mean + 9 * spread).max()
    x = np.linspace(*ends, 4001)
    u = (x[:, None] - mean) / spread
    below = logsumexp(log_ndtr(u), b=share, axis=1)
    above = logsumexp(log_ndtr(-u), b=share, axis=1)
    score = np.where(below < above, ndtri_exp(below), -ndtri_exp(above))
    return np.interp(_SCORES, score, x)


def _check_keys(given: UncertainInput) -> None:
    """Report amounts that do not go together."""
    pair = [key for key in ("low", "high") if getattr(given, key) is not None]
    if given.deviation is not None:
        if extra := [*pair, *(k for k in ("middle", "peak") if getattr(given, k) is not None)]:
            raise SpreadError(extra[0], f"{extra[0]} and deviation are both given", "remove one")
        if not given.deviation.value > 0:
            raise SpreadError(
                "deviation", f"the spread {given.deviation} is not above 0",
                "enter a positive standard deviation, or remove the entry",
            )  # fmt: skip
        return
    if given.mean is not None:
        raise SpreadError("mean", "mean requires deviation", "add deviation, or remove mean")
    if len(pair) < 2:
        missing = [key for key in ("low", "high") if key not in pair]
        said = f"{' and '.join(missing)} {'is' if pair else 'are'} missing"
        raise SpreadError(
            pair[0] if pair else "", said, "enter low and high (5th, 95th percentile) or deviation"
        )
    if given.middle is not None and given.shape not in ("normal", "lognormal"):
        fix = "remove middle, or use normal or lognormal"
        raise SpreadError("middle", f"middle does not go with {given.shape}", fix)
    if given.peak is not None and given.shape != "triangular":
        fix = "remove peak, or use triangular"
        raise SpreadError("peak", f"peak does not go with {given.shape}", fix)


Whole = Callable[[Floats], Floats]


def _from_deviation(given: UncertainInput, planned: float) -> Whole:
    assert given.deviation is not None
    mean = planned if given.mean is None else given.mean.value
    sd = given.deviation.value
    match given.shape:
        case "normal":
            return _halves(mean, sd, sd)
        case "lognormal":
            if mean <= 0:
                raise SpreadError("mean", f"the mean {mean:g} is not above 0", "use normal")
            s = math.sqrt(math.log1p((sd / mean) ** 2))
            return _log_halves(mean / math.sqrt(1 + (sd / mean) ** 2), s, s)
        case "uniform":
            return _uniform(mean - math.sqrt(3) * sd, mean + math.sqrt(3) * sd)
        case _:
            half = math.sqrt(6) * sd
            return _triangular(mean - half, mean, mean + half)


def _from_percentiles(given: UncertainInput) -> Whole:
    assert given.low is not None and given.high is not None
    low, high = given.low.value, given.high.value
    if not low < high:
        raise SpreadError(
            "low", f"low = {given.low} is not below high = {given.high}",
            "low is the 5th percentile, high the 95th",
        )  # fmt: skip
    middle = given.middle if given.middle is not None else given.peak
    key = "middle" if given.middle is not None else "peak"
    if middle is not None and not low <= middle.value <= high:
        said = f"{key} = {middle} is not between low = {given.low} and high = {given.high}"
        raise SpreadError(key, said, f"{key} must be between low and high")
    match given.shape:
        case "normal":
            at = (low + high) / 2 if middle is None else middle.value
            return _halves(at, (at - low) / Z_HIGH, (high - at) / Z_HIGH)
        case "lognormal":
            if low <= 0:
                said = f"low = {given.low} is not above 0, as lognormal needs"
                raise SpreadError("low", said, "use normal, uniform or triangular")
            at = math.sqrt(low * high) if middle is None else middle.value
            return _log_halves(at, math.log(at / low) / Z_HIGH, math.log(high / at) / Z_HIGH)
        case "uniform":
            beyond = (high - low) * LOW / (1 - 2 * LOW)
            return _uniform(low - beyond, high + beyond)
        case _:
            return _triangular(*_corners(low, None if middle is None else middle.value, high))


def _halves(middle: float, below: float, above: float) -> Whole:
    """Normal on each side of its median, with a deviation of its own there."""
    return lambda z: middle + z * np.where(z < 0, below, above)


def _log_halves(middle: float, below: float, above: float) -> Whole:
    """The same of the logarithm."""
    return lambda z: middle * np.exp(z * np.where(z < 0, below, above))


def _share(scores: Floats) -> Floats:
    """The share below standard normal scores; of one without scipy, so that a file loads."""
    if scores.size == 1:
        return np.full(scores.shape, 0.5 * math.erfc(-scores.item() / math.sqrt(2.0)))
    from scipy.special import ndtr

    return np.asarray(ndtr(scores))


def _uniform(low: float, high: float) -> Whole:
    return lambda z: low + (high - low) * _share(z)


def _triangular(low: float, peak: float, high: float) -> Whole:
    turn = (peak - low) / (high - low)

    def value(z: Floats) -> Floats:
        u, v = _share(z), _share(-z)
        rising = low + np.sqrt(u * (high - low) * (peak - low))
        falling = high - np.sqrt(v * (high - low) * (high - peak))
        values: Floats = np.where(u < turn, rising, falling)
        return values

    return value


def _corners(low: float, peak: float | None, high: float) -> tuple[float, float, float]:
    """Ends and peak of the triangle whose 5th and 95th percentile are ``low`` and ``high``."""
    if peak is None:  # 5 % below: the square root of a tenth of half the base
        half = (high - low) / 2 / (1 - math.sqrt(2 * LOW))
        return (low + high) / 2 - half, (low + high) / 2, (low + high) / 2 + half
    a, b, q = low, high, LOW
    for _ in range(200):  # each end given the other is a root of a quadratic; they settle at once
        p = -2 * low + q * (b + peak)
        a_next = (-p - math.sqrt(p * p - 4 * (1 - q) * (low**2 - q * b * peak))) / (2 * (1 - q))
        p = -2 * high + q * (a_next + peak)
        b_next = (-p + math.sqrt(p * p - 4 * (1 - q) * (high**2 - q * a_next * peak))) / (
            2 * (1 - q)
        )
        done = abs(a_next - a) + abs(b_next - b) < 1e-14 * (high - low)
        a, b = a_next, b_next
        if done:
            break
    return a, peak, b


def _share_below(whole: Whole, least: float) -> float:
    """The share of a distribution below ``least``, found on its own quantiles."""
    if float(whole(np.array([-8.0]))[0]) >= least:
        return 0.0
    low, high = -8.0, 8.0
    for _ in range(60):
        middle = (low + high) / 2
        if float(whole(np.array([middle]))[0]) < least:
            low = middle
        else:
            high = middle
    return float(_share(np.array([low]))[0])
