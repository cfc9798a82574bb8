"""How the cables of a set share its tension: main cables carry it, riding cables come along.

Rope and attachment load the set as a whole. How it divides among unequal cables is known only
within bounds, between shares by conductor area (all stretch alike) and equal shares (all are held
alike), so each cable is worked with the larger of its two shares unless the practice names one.
Common practice, no source; docs/theory.md section 9 has the sharing by area, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from route3d.model.cable import Cable
from route3d.model.run import CableSet

WORSE, BY_AREA, EQUAL = "worse of both", "conductor area", "equal"


@dataclass(frozen=True, slots=True)
class CableShare:
    """``share`` of the tension of the whole set that one such ``cable`` carries, and by what rule.

    ``rides`` is true for a cable that only comes along: its share is that of its own drag.
    """

    cable: Cable
    count: int
    rides: bool
    share: float
    rule: str


def tension_shares(
    cables: CableSet, attach: str = "pulling eyes", sharing: str = WORSE
) -> tuple[CableShare, ...]:
    """The share of each cable type, main cables first; the shares need not add up to one.

    Main cables share the whole tension among themselves. A riding cable carries its own drag, taken
    as its share of the weight of the set; under one basket grip it is held like the others, and has
    the largest of that, its share by area and an equal share.

    Parameters
    ----------
    cables : CableSet
        The set.
    attach : str
        "pulling eyes" or "basket grip".
    sharing : str
        "worse of both", "conductor area" or "equal".

    Returns
    -------
    tuple of CableShare
        One for each cable type.

    References
    ----------
    docs/theory.md section 9.
    """
    mains = CableSet(cables.mains)
    shares = [
        CableShare(cable, n, False, *_share(cable, mains, sharing)) for cable, n in mains.items
    ]
    for cable, n in cables.riders:
        carried = [(cable.weight / cables.weight, "weight")]
        if attach == "basket grip":
            carried.append(_share(cable, cables, sharing))
        shares.append(CableShare(cable, n, True, *max(carried)))
    return tuple(shares)


def _share(cable: Cable, among: CableSet, sharing: str) -> tuple[float, str]:
    by_area = cable.metal_area / sum(c.metal_area * n for c, n in among.items)
    equal = 1.0 / among.count
    if sharing != WORSE:
        return (by_area, BY_AREA) if sharing == BY_AREA else (equal, EQUAL)
    # Equal cables have both shares alike but for rounding; then the plain one is named.
    return (by_area, BY_AREA) if by_area > equal * (1 + 1e-9) else (equal, EQUAL)


def largest_main_share(cables: CableSet, sharing: str = WORSE) -> float:
    """The largest share that any one main cable carries.

    Parameters
    ----------
    cables : CableSet
        The set.
    sharing : str
        As for `tension_shares`.

    Returns
    -------
    float
    """
    return max(s.share for s in tension_shares(cables, sharing=sharing) if not s.rides)
