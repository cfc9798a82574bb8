"""Pull boxes: NFPA 70 314.28(A) for conductors up to 1000 V, 314.71 above."""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum

from route3d.standards.source import Fact
from route3d.standards.tables import INCH, load, source_of


def straight_pull_factor() -> Fact:
    """Length of a straight-pull box over the largest raceway's trade size, 8."""
    return _factor("straight_pull", "factor", "straight pull, x trade size")


def angle_pull_factor() -> Fact:
    """First factor of an angle or U pull: 6 x the largest raceway, plus the others of the row."""
    return _factor("angle_u_pull", "factor", "angle pull, x trade size")


def mv_straight_factor(shielded: bool) -> Fact:
    """Above 1000 V, length of a straight-pull box over the largest cable's outside diameter."""
    return _factor("mv_straight", _column(shielded), "straight pull above 1000 V, x diameter")


def mv_angle_factor(shielded: bool) -> Fact:
    """Above 1000 V, factor of an angle pull: x the largest diameter, plus the other diameters."""
    return _factor("mv_angle", _column(shielded), "angle pull above 1000 V, x diameter")


def minimum_box_straight(trade_inches: float) -> Fact:
    """Least box length (m) of a straight pull; ``trade_inches`` of the largest raceway."""
    return _box(straight_pull_factor(), trade_inches * INCH)


def minimum_box_angle(largest: float, others: Iterable[float] = ()) -> Fact:
    """Least distance (m) to the opposite wall for one row of raceways, trade sizes in inches.

    Compute each row and take the largest.
    """
    return _box(angle_pull_factor(), largest * INCH, [other * INCH for other in others])


def minimum_mv_box_straight(cable_diameter: float, shielded: bool) -> Fact:
    """Least box length (m) of a straight pull above 1000 V; outside diameter in m."""
    return _box(mv_straight_factor(shielded), cable_diameter)


def minimum_mv_box_angle(largest: float, others: Iterable[float], shielded: bool) -> Fact:
    """Least distance (m) to the opposite wall above 1000 V; outside diameters in m."""
    return _box(mv_angle_factor(shielded), largest, others)


def _box(factor: Fact, largest: float, others: Iterable[float] = ()) -> Fact:
    sizes = (largest, *others)
    if min(sizes) <= 0 or largest < max(sizes):
        raise ValueError(f"sizes must be positive with the largest first, got {sizes}")
    length = factor.value * largest + fsum(sizes[1:])
    return Fact(length, "length", factor.source, f"least box, {factor.label}")


def _column(shielded: bool) -> str:
    return "factor_shielded" if shielded else "factor_nonshielded"


def _factor(rule: str, key: str, label: str) -> Fact:
    table = load("nec_rules_bends_boxes")
    row = table.rule(rule)
    cite = str(row["cite"]).split(",")[0]
    return Fact(float(row[key]), "ratio", source_of(table, row, title="NFPA 70", cite=cite), label)
