"""What a building conduit takes, by the cable and conduit factors of the IET On-Site Guide.

The factors of all cables are added up, and their sum held against the factor of the conduit, which
falls with length and bends. The tables are of single-core PVC-insulated cable without sheath, 1 to
25 mm2, in conduit of 16 to 32 mm, up to 10 m between draw-in points.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from route3d.standards.classes import EU_MEDIUM, CableClass
from route3d.standards.source import Fact
from route3d.standards.tables import load, si, source_of

TITLE = "IET On-Site Guide, appendix on cable capacities"
SIZES = ("16", "20", "25", "32")

# Conductor areas of the table, and the largest overall diameter of such a cable, mm2 and mm (HD
# 21.3, upper limit of the mean diameter, from memory): a thicker cable counts as the next size.
_CABLES: Mapping[str, tuple[float, float]] = {
    "1_0": (1.0, 2.8),
    "1_5": (1.5, 3.4),
    "2_5": (2.5, 4.2),
    "4_0": (4.0, 4.8),
    "6_0": (6.0, 5.4),
    "10_0": (10.0, 6.8),
    "16_0": (16.0, 8.0),
    "25_0": (25.0, 9.8),
}
# Straight runs up to 3 m have factors of their own, but for the two largest cables; solid or
# stranded is not known, and stranded takes more room.
_SHORT_KEYS = {k: f"{k}_str" if k in ("1_5", "2_5") else k for k in list(_CABLES)[:6]}
_SHORT = 3.0
_ROUNDED = 1e-3
# Coordinates make a right angle a hair more than that.
_SAME_TURN = math.radians(0.05)


@dataclass(frozen=True, slots=True)
class Factors:
    """Cable factors ``needed`` in all, and the conduit factor ``allowed`` or None.

    ``bends`` is the sum of bends in right angles, rounded up.
    """

    needed: float
    allowed: Fact | None
    bends: int


def covers(cables: Sequence[CableClass], trade_size: str) -> bool:
    """True where the tables list the conduit size and every cable."""
    return trade_size in SIZES and all(_listed(c) for c in cables)


def conduit_factors(
    cables: Sequence[CableClass], trade_size: str, run: float, turn: float
) -> Factors | None:
    """The factors of ``cables`` in a conduit; None where the tables do not list them.

    ``run`` m and ``turn`` rad between draw-in points. The next longer line is taken.
    """
    if not covers(cables, trade_size):
        return None
    names = [_listed(c) for c in cables]
    bends = max(0, math.ceil((turn - _SAME_TURN) / (math.pi / 2)))
    table = load("bs7671_osg_factors")
    if not bends and run <= _SHORT * (1 + _ROUNDED) and all(n in _SHORT_KEYS for n in names):
        each = table.facts["cable_factor_le_3m"]
        value = float(table.facts[f"straight_le_3m_{trade_size}"])
        source = source_of(table, {}, title=TITLE, cite=f"straight to 3 m, {trade_size} mm")
        allowed = Fact(value, "count", source, "conduit factor")
        return Factors(sum(float(each[_SHORT_KEYS[n]]) for n in names), allowed, bends)
    each = table.facts["cable_factor_long"]
    return Factors(sum(float(each[n]) for n in names), _long(run, bends, trade_size), bends)


def right_angles(bends: int) -> str:
    """The number of right-angle bends in words."""
    return f"{bends} right-angle bend{'s' * (bends != 1)}"


def _long(run: float, bends: int, trade_size: str) -> Fact | None:
    table, key = load("eu_bs7671_osg_factors_full"), f"b{bends}_{trade_size}"
    for row in sorted(table.where(), key=lambda r: float(r["run_m"])):
        if key in row and float(row["run_m"]) >= run * (1 - _ROUNDED):
            where = f"to {row['run_m']:g} m with {right_angles(bends)}, {trade_size} mm"
            source = source_of(table, row, title=TITLE, cite=where)
            return Fact(float(row[key]), "count", source, "conduit factor")
    return None


def _listed(cable: CableClass) -> str:
    """The cable of the table that is no smaller in metal or overall; empty for none."""
    several = cable.conductors > 1 or cable.shielded or cable.armor
    if several or (cable.voltage is not None and cable.voltage > EU_MEDIUM):
        return ""
    return next(
        (
            name
            for name, (area, diameter) in _CABLES.items()
            if cable.area <= si(area, "mm2") * (1 + _ROUNDED)
            and cable.diameter <= si(diameter, "mm") * (1 + _ROUNDED)
        ),
        "",
    )
