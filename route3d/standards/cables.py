"""Limits of the cable itself: bend multiples, sidewall pressure, support in risers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from route3d.standards.conductors import conductor_area
from route3d.standards.source import Fact
from route3d.standards.tables import (
    CIRCULAR_MIL,
    FOOT,
    NotInTable,
    Row,
    Table,
    load,
    rule_fact,
    source_of,
    unknown,
)

_BEND_TABLES = (
    "cable_bend_radius_nec_icea",
    "cable_bend_radius_more",
    "cable_bend_radius_international",
)


def bend_ids() -> tuple[str, ...]:
    """Every id :func:`bend_multiple` or :func:`minimum_radius` knows."""
    return tuple(name for name, _, _ in _bend_rules())


def bend_multiple(identity: str, *, installed: bool = False) -> Fact:
    """Least bend radius as a multiple of the cable's overall diameter.

    Some tables print one multiple for pulling and a smaller one for the cable once installed;
    ``installed`` asks for the second. Raises NotInTable for an unknown id, for a rule of two
    diameters (see :func:`minimum_radius`) and where only the other multiple is printed.
    """
    table, row = _bend_rule(identity)
    if "factor_single" in row:
        raise NotInTable(
            f"{identity} is the greater of {row['factor_single']} x one core and "
            f"{row['factor_overall']} x overall; use minimum_radius",
            "minimum_radius",
        )
    key = _multiple_key(identity, row, installed)
    source = source_of(table, row, title=_title(table, row), cite=_cite(row))
    state = "installed" if installed else "while pulling"
    label = f"bend radius over diameter, {identity}, {state}"
    return Fact(float(row[key]), "ratio", source, label)


def _multiple_key(identity: str, row: Row, installed: bool) -> str:
    if "factor" in row:
        return "factor"
    key = "in_situ" if installed else "during_install"
    if key not in row:
        other = "while pulling" if installed else "once installed"
        raise NotInTable(f"{identity} prints a multiple only for the cable {other}")
    return key


def minimum_radius(
    identity: str, overall_diameter: float, core_diameter: float | None = None
) -> Fact:
    """Least bend radius in m while pulling.

    Rules of two diameters take the greater radius and need ``core_diameter`` (m).
    """
    table, row = _bend_rule(identity)
    if "factor_single" not in row:
        multiple = bend_multiple(identity)
        radius = multiple.value * overall_diameter
        return Fact(radius, "radius", multiple.source, f"least bend radius, {identity}")
    if core_diameter is None:
        raise ValueError(f"{identity} needs core_diameter, the diameter of one core in m, not None")
    radius = max(row["factor_single"] * core_diameter, row["factor_overall"] * overall_diameter)
    source = source_of(table, row, title=_title(table, row), cite=_cite(row))
    return Fact(radius, "radius", source, f"least bend radius, {identity}")


def _cell(
    factors: list[int], rows: list[float], columns: list[float], insulation: float, od: float
) -> int:
    # A hair of slack keeps 1.000 in, given in meters, on the near side of its step.
    row = sum(insulation > step + 1e-9 for step in rows[:2])
    column = sum(od > step + 1e-9 for step in columns[:2])
    return factors[3 * row + column]


def _bend_rules() -> Iterator[tuple[str, Table, Row]]:
    for name in _BEND_TABLES:
        table = load(name)
        for row in table.rows:
            if {"factor", "factor_single", "during_install", "in_situ"} & row.keys():
                yield str(row.get("id") or f"{row['region']}: {row['cable']}"), table, row


def _bend_rule(identity: str) -> tuple[Table, Row]:
    for name, table, row in _bend_rules():
        if name == identity:
            return table, row
    raise unknown("bend multiple", identity, bend_ids())


_REGIONS: Mapping[str, str] = {
    "AU": "Australian manufacturer bending radii sheet",
    "UK": "UK practice",
    "DE": "German practice",
}


def _title(table: Table, row: Row) -> str:
    if "region" in row:
        return _REGIONS[row["region"]]
    if "source" in row:
        return ""
    return "NFPA 70" if "cite" in row else "ICEA S-95-658, S-93-639"


def _cite(row: Row) -> str:
    return str(row.get("cite") or row.get("cable") or row["id"])


def sidewall_limit(family: str) -> Fact:
    """Largest sidewall bearing pressure of a cable family, N/m."""
    table = load("sidewall_limits")
    for row in table.where(family=family):
        return _sidewall(table, row)
    raise unknown("sidewall limit for", family, (row["family"] for row in table.rows))


def sidewall_limits() -> tuple[Fact, ...]:
    """Every published sidewall limit, labeled by family."""
    table = load("sidewall_limits")
    return tuple(_sidewall(table, row) for row in table.rows)


def _sidewall(table: Table, row: Row) -> Fact:
    return rule_fact(table, row, "sidewall", row["family"])


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


def deflected_support_share() -> Fact:
    """Share of the table distance at which 90 degree deflections in boxes must stand, 20 %."""
    table = load("field_practice")
    row = table.rule("deflected_support_share")
    return rule_fact(table, row, "ratio", "share of the riser support spacing, deflected cable")
