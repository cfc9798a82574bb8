"""Supports of conductors that hang in a riser."""

from __future__ import annotations

from route3d.standards.conductors import conductor_area
from route3d.standards.source import Fact
from route3d.standards.tables import (
    CIRCULAR_MIL,
    FOOT,
    NotInTable,
    Row,
    Table,
    load,
    source_of,
    unknown,
)

# 18 AWG, where the table starts; NFPA 70 Table 8 prints 1620 cmil (from memory).
_SMALLEST = 1620 * CIRCULAR_MIL
# Sizes in mm2 are printed to four figures: 107.2 mm2 is 4/0 AWG.
_AREA_SLACK = 1e-3


def riser_support_spacing(metal: str, conductor_area_m2: float) -> Fact:
    """Greatest distance between supports of conductors in a vertical raceway, Table 300.19(A).

    ``metal`` copper or aluminum (aluminum also stands for copper-clad). An area between two
    printed ranges (between 8 and 6 AWG, say) takes the shorter of both distances.
    """
    column = {"copper": "cu_ft", "aluminium": "al_ft", "aluminum": "al_ft"}.get(metal.lower())
    if column is None:
        raise unknown("conductor metal", metal, ("copper", "aluminium"))
    if not conductor_area_m2 >= _SMALLEST * (1 - _AREA_SLACK):
        raise NotInTable(
            f"Table 300.19(A) starts at 18 AWG; {conductor_area_m2 * 1e6:.3g} mm2 is below it"
        )
    table = load("nec_t300_19a_vertical")
    row = min(_riser_rows(table, conductor_area_m2), key=lambda r: float(r[column]))
    cite = f"{row['size_from']} to {row['size_to'] or 'any'}"
    source = source_of(table, row, cite=cite)
    return Fact(float(row[column]) * FOOT, "length", source, f"riser support spacing, {metal}")


def _riser_rows(table: Table, area: float) -> list[Row]:
    """The row that holds the area, or the two rows whose gap it falls in."""
    at = next(i for i, row in enumerate(table.rows) if area <= _upper(row) * (1 + _AREA_SLACK))
    row = table.rows[at]
    below_range = at > 0 and area < _lower(row) * (1 - _AREA_SLACK)
    return [table.rows[at - 1], row] if below_range else [row]


def _upper(row: Row) -> float:
    return _size_area(row["size_to"]) if row["size_to"] else float("inf")


def _lower(row: Row) -> float:
    size = str(row["size_from"])
    return 0.0 if size == "18" or size.startswith("over ") else _size_area(size)


def _size_area(size: str) -> float:
    unit = "kcmil" if "/" not in size and int(size) >= 250 else "AWG"
    return conductor_area(f"{size} {unit}").value
