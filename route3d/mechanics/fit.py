"""Do the cables fit the conduit, how do they lie, and how much room is left over them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from route3d.mechanics.arrangement import (
    ROUNDING,
    FitError,
    choose,
    mixed,
    sidewall_factor,
)
from route3d.mechanics.packing import (
    clearance_above,
    enclosing_circle,
    ridden_positions,
    section_positions,
)
from route3d.phrase import say

# Ovality of bends raises the ratio at which three cables can jam; practice (MH3), from memory.
OVAL = 1.05


# Above D/d = 3 loose cables do not lie in a diamond; each of its two side cables then takes half of
# the set, by statics, where the published w - 1 falls below that.
DIAMOND_LEAST = 0.5


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way the main cables may lie, with what follows from it; ``clearance`` m."""

    arrangement: str
    weight_factor: float
    clearance: float
    sidewall_factor: float


@dataclass(frozen=True, slots=True)
class Fit:
    """Cables in a conduit: the arrangement taken and what follows from it. Lengths in m.

    Arrangement, weight factor, jam ratio and sidewall factor are those of the main cables, the
    first ``mains`` of ``diameters``; fill, clearance and enclosing circle count the riding cables
    too. ``alternatives`` holds every answer practice allows, the one taken included, where there is
    more than one. ``fill`` is cable area over bore area. ``jam_ratio`` is D/d and
    ``jam_ratio_oval`` 1.05 D/d, for three main cables only, else None. ``clearance`` is the gap
    over the bundle. ``sidewall_factor`` is the sidewall pressure of the worst cable over T/R;
    ``by_share`` is true where that is a cable's own share of the tension and no formula of the
    arrangement. ``enclosing_diameter`` is the smallest circle round the settled bundle.
    """

    arrangement: str
    weight_factor: float
    alternatives: tuple[Alternative, ...]
    reason: str
    fill: float
    jam_ratio: float | None
    jam_ratio_oval: float | None
    clearance: float
    sidewall_factor: float
    diameters: tuple[float, ...]
    inner_diameter: float
    enclosing_diameter: float | None
    mains: int
    by_share: bool

    @property
    def per_cable(self) -> bool:
        """False where the whole set is taken to press on one cable, for want of a formula."""
        return self.arrangement != "complex"

    @property
    def centers(self) -> NDArray[np.float64]:
        """Centers (N, 2) m of the cables at rest, in the order of ``diameters``."""
        mains, riders = self.diameters[: self.mains], self.diameters[self.mains :]
        return ridden_positions(self.arrangement, mains, riders, self.inner_diameter)


def fit(
    diameters: Sequence[float],
    inner_diameter: float,
    arrangement: str = "auto",
    *,
    riders: Sequence[float] = (),
    share: float = 0.0,
) -> Fit:
    """Fit cables of these diameters (m) into a bore (m), lying as asked or as practice has it.

    ``diameters`` are those of the main cables, ``riders`` those of cables that only ride along.
    ``share`` is the largest share of the tension of the set on one main cable: no cable presses
    with less than that over the radius. Fill is ``sum(d²)/D²``, the whole cross-section (NFPA 70
    chapter 9 note 6 counts areas so).

    Parameters
    ----------
    diameters : sequence of float
        Of the main cables, m.
    inner_diameter : float
        Of the conduit, m.
    arrangement : str
        "auto", "triplexed" or one of ARRANGEMENTS.
    riders : sequence of float
        Diameters of cables that ride along, m.
    share : float
        Largest share of the tension on one main cable.

    Returns
    -------
    Fit
        Arrangement, factors, fill, jam ratio, clearance.

    Raises
    ------
    FitError
        Where the cables do not go in; with the bore needed.
    ValueError
        For sizes that are not positive.

    References
    ----------
    docs/theory.md sections 9, 10 and 13.
    """
    mains, others = (tuple(float(d) for d in sizes) for sizes in (diameters, riders))
    return _fit(mains, others, float(inner_diameter), arrangement, share)


@lru_cache(maxsize=256)
def _fit(
    mains: tuple[float, ...], riders: tuple[float, ...], bore: float, arrangement: str, share: float
) -> Fit:
    """Kept, since reading, solving and the search for changes ask for the same few fits again."""
    sizes = (*mains, *riders)
    if not mains or not all(d > 0 and math.isfinite(d) for d in (*sizes, bore)):
        raise ValueError(f"diameters must be positive and finite: {sizes} in {bore}")
    _refuse_too_big(sizes, bore)
    chosen = choose(mains, bore, arrangement)
    centers = ridden_positions(chosen.arrangement, mains, riders, bore)
    ratio = _jam_ratio(mains, bore)
    by_formula = _sidewall(chosen.arrangement, chosen.weight_factor)
    return Fit(
        arrangement=chosen.arrangement,
        weight_factor=chosen.weight_factor,
        alternatives=tuple(
            Alternative(n, w, clearance(n, mains, bore), max(_sidewall(n, w), share))
            for n, w in chosen.alternatives
        ),
        reason=chosen.reason,
        fill=fill(sizes, bore),
        jam_ratio=ratio,
        jam_ratio_oval=None if ratio is None else OVAL * ratio,
        clearance=clearance_above(centers, sizes, bore),
        sidewall_factor=max(by_formula, share),
        diameters=sizes,
        inner_diameter=bore,
        enclosing_diameter=enclosing_circle(centers, sizes)[1],
        mains=len(mains),
        by_share=share > by_formula * (1 + 1e-9),
    )


def _sidewall(arrangement: str, weight_factor: float) -> float:
    """The published factor of an arrangement, nowhere below what statics gives a diamond."""
    least = DIAMOND_LEAST if arrangement == "diamond" else 0.0
    return max(sidewall_factor(arrangement, weight_factor), least)


def fill(diameters: Sequence[float], inner_diameter: float) -> float:
    """Cable area over bore area, ``sum(d²)/D²``.

    Parameters
    ----------
    diameters : sequence of float, length N
        Of the cables, m.
    inner_diameter : float
        Of the conduit, m.

    Returns
    -------
    float

    References
    ----------
    docs/theory.md section 13.
    """
    return float(sum(d * d for d in diameters)) / inner_diameter**2


def clearance(arrangement: str, diameters: Sequence[float], inner_diameter: float) -> float:
    """Gap (m) between the crown of the bore and the level of the top of the bundle.

    The exact height of the section, which for the published arrangements is:

    - one cable, ``D - d``; TES-P-104.05 p.12 (READ);
    - three triangular, ``D/2 - 1.366 d + (D-d)/2 sqrt(1-x²)``, ``x = d/(D-d)``; TES p.12 (READ);
      here with ``(1+sqrt(3))/2`` for 1.366;
    - three cradled, ``D/2 - d/2 + (D-d)/2 (1 - 2x²)``. The form handbooks print,
      ``... sqrt(1 - (x/2)²)`` (from memory), is larger at every D/d: it takes the outer cables
      to lie half as far up the wall as three touching cables do. The smaller one is used.

    Parameters
    ----------
    arrangement : str
        One of ARRANGEMENTS.
    diameters : sequence of float, length N
        Of the cables, m.
    inner_diameter : float
        Of the conduit, m.

    Returns
    -------
    float
        m

    References
    ----------
    docs/theory.md section 13.
    """
    return clearance_above(
        section_positions(arrangement, diameters, inner_diameter), diameters, inner_diameter
    )


def _jam_ratio(diameters: Sequence[float], D: float) -> float | None:
    """D/d of three cables; of unequal ones by their mean diameter (from memory)."""
    return D / float(np.mean(diameters)) if len(diameters) == 3 else None


def _refuse_too_big(diameters: Sequence[float], D: float) -> None:
    if max(diameters) <= D * (1 + ROUNDING):
        return
    many = "the largest cable" if mixed(diameters) else "a cable"
    raise FitError(
        say(
            many + ", {}, does not fit in a bore of {}",
            (max(diameters), "diameter"),
            (D, "diameter"),
        ),
        cure=say("use an inner diameter larger than {}", (max(diameters), "diameter+")),
        bore_needed=max(diameters),
    )
