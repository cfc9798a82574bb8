"""How cables lie in a conduit, and what that does to friction and sidewall pressure.

Every factor here is that of statics for frictionless round cables in a round conduit, with
``x = d / (D - d)``: d the diameter of one cable, D the inner diameter of the conduit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NoReturn, overload

import numpy as np
import numpy.typing as npt

from route3d.errors import InputError, Problem
from route3d.phrase import Phrase, literal, say
from route3d.units import render

Values = npt.NDArray[np.float64]

ARRANGEMENTS = ("single", "two", "triangular", "cradled", "diamond", "complex")

# Circle round three equal cables that all touch, over the diameter of one.
THREE_IN_CONTACT = 1 + 2 / math.sqrt(3)
# The same for four in a square; also where a diamond just fits.
FOUR_IN_CONTACT = 1 + math.sqrt(2)
# Diameters are typed with a handful of digits: less than this is rounding, not a difference.
ROUNDING = 1e-9
# Published value for four and more; cabledatasheet.com FAQ (READ, docs/theory.md section 9).
COMPLEX_FACTOR = 1.4
_COUNTS = {3: "three", 4: "four"}


NOTHING = say("")


class FitError(InputError):
    """Cables that cannot lie in the conduit as asked.

    ``bore_needed`` (m) is an inner diameter that would admit them, where that is the trouble;
    ``said`` and ``cure`` are the message and the fix for any system of units.
    """

    def __init__(
        self, said: Phrase, *, cure: Phrase = NOTHING, bore_needed: float | None = None
    ) -> None:
        self.said, self.cure, self.bore_needed = said, cure, bore_needed
        super().__init__(Problem(render(said, "SI"), fix=render(cure, "SI")))


@dataclass(frozen=True, slots=True)
class Choice:
    """The arrangement a calculation assumes, and why.

    ``alternatives`` holds ``(name, weight factor)`` of every answer where practice allows more
    than one, the chosen one included; it is empty where there is only one.
    """

    arrangement: str
    weight_factor: float
    alternatives: tuple[tuple[str, float], ...]
    reason: str


def contact_limits(arrangement: str) -> tuple[float, float]:
    """Smallest and largest D/d at which equal cables lie so without friction (source: statics).

    Below the first they do not go in. Above the second a triangular pile spreads unless bound
    together, and a diamond cannot be: its top cable would lie inside the bottom one.

    Parameters
    ----------
    arrangement : str
        One of ARRANGEMENTS.

    Returns
    -------
    tuple of (float, float)
        D/d; the second infinite where there is none.
    """
    return {
        "single": (1.0, math.inf),
        "two": (2.0, math.inf),
        "triangular": (THREE_IN_CONTACT, 1 + math.sqrt(28)),
        "cradled": (THREE_IN_CONTACT, math.inf),
        "diamond": (FOUR_IN_CONTACT, 3.0),
        "complex": (FOUR_IN_CONTACT, math.inf),
    }[arrangement]


@overload
def weight_factor(arrangement: str, d: float, D: float) -> float: ...
@overload
def weight_factor(arrangement: str, d: Values, D: float | Values) -> Values: ...
@overload
def weight_factor(arrangement: str, d: float, D: Values) -> Values: ...
def weight_factor(arrangement: str, d: float | Values, D: float | Values) -> float | Values:
    """Weight correction factor: wall load of the group over its weight (dimensionless).

    d and D in m, floats or arrays that broadcast. Single, triangular ``1/sqrt(1-x^2)``, cradled
    ``1+(4/3)x^2`` and complex 1.4: cabledatasheet.com FAQ (READ), triangular also TES-P-104.05
    p.10 (READ). Diamond ``1+2x^2`` and two cables by the triangular form: from memory; both are
    exact by statics.

    Parameters
    ----------
    arrangement : str
        One of ARRANGEMENTS.
    d, D : float or ndarray
        Diameters of one cable and of the bore, m; they broadcast.

    Returns
    -------
    float or ndarray
        ω

    Raises
    ------
    FitError
        Where so many such cables cannot touch.

    References
    ----------
    docs/theory.md section 9.
    """
    ratio = np.asarray(D, dtype=float) / np.asarray(d, dtype=float)
    _refuse_below_contact(arrangement, float(np.max(d)), float(ratio.min() * np.max(d)))
    x2 = (ratio - 1) ** -2 if arrangement not in ("single", "complex") else np.zeros_like(ratio)
    factor = {
        "single": lambda: 1 + x2,
        "two": lambda: 1 / np.sqrt(1 - x2),
        "triangular": lambda: 1 / np.sqrt(1 - x2),
        "cradled": lambda: 1 + 4 / 3 * x2,
        "diamond": lambda: 1 + 2 * x2,
        "complex": lambda: COMPLEX_FACTOR + x2,
    }[arrangement]()
    return factor if np.ndim(factor) else float(factor)


def wedge_factor(d1: float, d2: float, D: float) -> float:
    """Weight correction factor of two unequal cables side by side; diameters in m.

    ``1/sqrt(1 - x1*x2)``, ``xi = di/(D-di)``: the largest wall load two touching cables can have
    in any position, derived from statics; the triangular form when d1 = d2. Needs d1 + d2 < D.

    Parameters
    ----------
    d1, d2, D : float
        Diameters of the two cables and of the bore, m.

    Returns
    -------
    float
        ω

    References
    ----------
    docs/theory.md section 9.
    """
    return 1 / math.sqrt(1 - d1 / (D - d1) * d2 / (D - d2))


@overload
def sidewall_factor(arrangement: str, w: float) -> float: ...
@overload
def sidewall_factor(arrangement: str, w: Values) -> Values: ...
def sidewall_factor(arrangement: str, w: float | Values) -> float | Values:
    """Sidewall pressure on the worst cable over T/R, T the tension of the whole group.

    w is the weight correction factor, float or array. Single 1 and cradled ``(3w-2)/3``:
    cabledatasheet.com FAQ (READ). Triangular ``w/2``, diamond ``w-1``: from memory, exact by
    statics. Two: ``w/2``, exact by statics. Complex: no published formula was seen, so the whole
    group is taken to press on one cable, 1 (or w/2 if a wedged pair makes that more).

    The diamond is the published ``w-1`` at every D/d. Above D/d = 3, where four loose cables do
    not lie so, it falls below the 1/2 that statics gives each of the two side cables.

    Parameters
    ----------
    arrangement : str
        One of ARRANGEMENTS.
    w : float or ndarray
        Weight correction factor.

    Returns
    -------
    float or ndarray
        Share of T/R on the worst cable.

    References
    ----------
    docs/theory.md, equation (14).
    """
    v = np.asarray(w, dtype=float)
    factor = {
        "single": np.ones_like(v),
        "two": v / 2,
        "triangular": v / 2,
        "cradled": (3 * v - 2) / 3,
        "diamond": v - 1,
        "complex": np.maximum(v / 2, 1.0),
    }[arrangement]
    return factor if factor.ndim else float(factor)


def choose(diameters: Sequence[float], D: float, asked: str = "auto") -> Choice:
    """Pick the arrangement of cables of these diameters (m) in a bore D (m).

    Bands for three and four cables: docs/theory.md section 9, from memory. Between 2.5 and 3.0
    three cables may lie either way; the governing one (the larger factor) is taken and both are
    kept. Three unequal cables go by the largest (from memory). ``asked`` is honored where the
    number of cables allows it; "triplexed" is always triangular.

    Parameters
    ----------
    diameters : sequence of float, length N
        Of the cables, m.
    D : float
        Inner diameter of the conduit, m.
    asked : str
        "auto", "triplexed" or one of ARRANGEMENTS.

    Returns
    -------
    Choice
        The arrangement, its factor, and why.

    Raises
    ------
    FitError
        Where the cables cannot lie so.

    References
    ----------
    docs/theory.md section 9.
    """
    if asked not in ("auto", "triplexed", *ARRANGEMENTS):
        names = ", ".join(("auto", *ARRANGEMENTS, "triplexed"))
        said = say(literal(f"unknown arrangement {asked!r}"))
        raise FitError(said, cure=say(f"use one of {names}"))
    legal = _legal(diameters, D)
    if asked != "auto":
        return _as_asked(diameters, D, asked, legal)
    if len(legal) == 1:
        return _settled_on(legal[0], diameters, D, _only_way(legal[0], diameters, D))
    rule = _three if len(diameters) == 3 else _four
    return rule(diameters, D)


def mixed(diameters: Sequence[float]) -> bool:
    """Are the cables of more than one size?

    Parameters
    ----------
    diameters : sequence of float, length N
        Of the cables, m.

    Returns
    -------
    bool
    """
    return max(diameters) > min(diameters) * (1 + 1e-6)  # finer than any jacket tolerance


def _legal(diameters: Sequence[float], D: float) -> tuple[str, ...]:
    ratio = D / max(diameters) + ROUNDING
    if len(diameters) == 3 and ratio >= THREE_IN_CONTACT:
        return ("triangular", "cradled")
    if len(diameters) == 4 and ratio >= FOUR_IN_CONTACT:
        return ("diamond", "complex")
    if len(diameters) in (3, 4) and not mixed(diameters):
        lowest = THREE_IN_CONTACT if len(diameters) == 3 else FOUR_IN_CONTACT
        refuse_tight(len(diameters), lowest, max(diameters), D)
    return {1: ("single",), 2: ("two",)}.get(len(diameters), ("complex",))


def _as_asked(diameters: Sequence[float], D: float, asked: str, legal: tuple[str, ...]) -> Choice:
    name = "triangular" if asked == "triplexed" else asked
    if name not in legal:
        allowed = legal + (("triplexed",) if "triangular" in legal else ())
        raise FitError(
            say(f"{len(diameters)} cables at D/d = {D / max(diameters):.3f} cannot be {asked!r}"),
            cure=say(f"use auto or one of: {', '.join(allowed)}"),
        )
    reason = "triplexed: always triangular" if asked == "triplexed" else "as requested"
    if name == "diamond" and D / max(diameters) > contact_limits(name)[1] + ROUNDING:
        reason = "as requested, although above D/d = 3.0 four cables cannot lie in a diamond"
    return _settled_on(name, diameters, D, reason)


def _three(diameters: Sequence[float], D: float) -> Choice:
    ratio = D / max(diameters)
    by = " by the largest cable" if mixed(diameters) else ""
    if ratio < 2.5 - ROUNDING:
        return _settled_on("triangular", diameters, D, f"D/d = {ratio:.3f}{by} is below 2.5")
    if ratio > 3.0 + ROUNDING:
        return _settled_on("cradled", diameters, D, f"D/d = {ratio:.3f}{by} is above 3.0")
    both = tuple((n, _factor(n, diameters, D)) for n in ("triangular", "cradled"))
    name, factor = max(both, key=lambda pair: pair[1])
    reason = (
        f"D/d = {ratio:.3f}{by} is between 2.5 and 3.0: either is possible, the governing one is "
        "used"
    )
    return Choice(name, factor, both, reason)


def _four(diameters: Sequence[float], D: float) -> Choice:
    ratio = D / max(diameters)
    if mixed(diameters):
        return _settled_on("complex", diameters, D, "four cables of mixed sizes")
    tight = ratio < 3.0 - ROUNDING
    name = "diamond" if tight else "complex"
    both = tuple((n, _factor(n, diameters, D)) for n in ("diamond", "complex"))
    below = (
        "is below 3.0: the bore keeps four cables in a diamond"
        if tight
        else ("is 3.0 or more: loose cables do not stay in a diamond")
    )
    return Choice(name, dict(both)[name], both, f"D/d = {ratio:.3f} {below}")


def _settled_on(name: str, diameters: Sequence[float], D: float, reason: str) -> Choice:
    return Choice(name, _factor(name, diameters, D), (), reason)


def _factor(name: str, diameters: Sequence[float], D: float) -> float:
    if name == "two":
        return wedge_factor(*_two_largest(diameters, D), D)
    if name == "complex":
        # 1.4 was never meant for two big cables wedged across the bore among small ones.
        return max(COMPLEX_FACTOR, wedge_factor(*_two_largest(diameters, D), D))
    return weight_factor(name, max(diameters), D)


def _two_largest(diameters: Sequence[float], D: float) -> tuple[float, float]:
    small, large = sorted(diameters)[-2:]
    if small + large >= D * (1 - ROUNDING):
        raise FitError(
            say(
                "cables of {} and {} do not fit side by side in a bore of {}",
                (large, "diameter"),
                (small, "diameter"),
                (D, "diameter"),
            ),
            cure=say("use an inner diameter larger than {}", (small + large, "diameter+")),
            bore_needed=small + large,
        )
    return small, large


def _only_way(name: str, diameters: Sequence[float], D: float) -> str:
    if name != "complex":
        return {"single": "one cable", "two": "two cables"}[name]
    if len(diameters) == 3:
        return f"three unequal cables, D/d = {D / max(diameters):.3f} by the largest is below 2.155"
    return f"{len(diameters)} cables" + (" of mixed sizes" if mixed(diameters) else "")


def _refuse_below_contact(arrangement: str, d: float, D: float) -> None:
    # The diamond formula is tabulated down to 2.2, below its own contact limit of 2.414.
    lowest = min(contact_limits(arrangement)[0], THREE_IN_CONTACT)
    ratio = D / d
    # At D/d = 2 exactly two cables lock across the bore: the factor is infinite.
    locked = arrangement == "two" and ratio <= 2
    if arrangement == "complex" or (ratio >= lowest - ROUNDING and not locked):
        return
    refuse_tight({"single": 1, "two": 2}.get(arrangement, 3), lowest, d, D)


def refuse_tight(count: int, lowest: float, d: float, D: float) -> NoReturn:
    """Raise :class:`FitError`: ``count`` cables in contact require D/d of at least ``lowest``.

    Parameters
    ----------
    count : int
        Number of cables.
    lowest : float
        Least D/d.
    d, D : float
        m

    Raises
    ------
    FitError
        Always.
    """
    who = {1: "one cable requires", 2: "two cables side by side require"}.get(
        count, f"{_COUNTS.get(count, str(count))} cables in contact require"
    )
    raise FitError(
        say(f"D/d = {D / d:.4f}: {who} D/d of at least {lowest:.4f}"),
        cure=say(
            "for cables of {} use an inner diameter of at least {}",
            (d, "diameter"),
            (lowest * d, "diameter+"),
        ),
        bore_needed=lowest * d,
    )
