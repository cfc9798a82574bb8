"""Conduit by stock type and trade size: bore, outside, elbows, least radius, supports."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

from route3d.standards.source import Fact, Source, Status
from route3d.standards.tables import (
    FOOT,
    INCH,
    NotInTable,
    Row,
    Table,
    load,
    rule_fact,
    si,
    source_of,
    trade_inches,
    unknown,
)


@dataclass(frozen=True, slots=True)
class ConduitSize:
    """One size of one stock type, in m; ``outer_diameter`` is None where no table prints it.

    ``source`` and ``estimate`` speak of the bore; ``estimate`` is True when it is an estimate or
    recalled with low confidence. ``outer_source`` is that of the outside.
    """

    stock_type: str
    trade_size: str
    inner_diameter: float
    outer_diameter: float | None
    source: Source
    estimate: bool
    outer_source: Source | None = None


@dataclass(frozen=True, slots=True)
class _Stock:
    """Where a stock type stands in the data files."""

    table: str
    size: str
    bore: str
    unit: str
    pick: tuple[str, str | float] | None = None
    outer: str = ""  # column of the same row
    outer_type: str = ""  # type in conduit_od_wall_weight


def _hdpe(wall_type: str) -> _Stock:
    return _Stock(
        "astm_f2160_hdpe", "nominal", "id_in", "in", ("wall_type", wall_type), outer="od_in"
    )


def _duct(name: str) -> _Stock:
    return _Stock("nema_tc6_8_duct", "nominal", "id_est_in", "in", ("type", name), outer="od_in")


def _european(system: str) -> _Stock:
    # EN 60423 names a conduit by its greatest outside diameter; the steel rows print both, equal.
    return _Stock("en61386_conduit", "size_mm", "id_mm", "mm", ("system", system), outer="size_mm")


def _pe(ratio: float) -> _Stock:
    # The bore by the thickest wall that the standard allows: the one to check fit with.
    return _Stock("eu_duct_pe_smooth", "od_mm", "id_design_mm", "mm", ("sdr", ratio), outer="od_mm")


def _eu_duct(system: str) -> _Stock:
    return _Stock("eu_duct_other", "od_mm", "id_mm", "mm", ("system", system), outer="od_mm")


def _nec(table: str, outer_type: str = "", pick: tuple[str, str] | None = None) -> _Stock:
    return _Stock(table, "trade", "id_in", "in", pick, outer_type=outer_type)


_STOCK: Mapping[str, _Stock] = {
    "EMT": _nec("nec_ch9_t4_emt", "EMT"),
    "RMC": _nec("nec_ch9_t4_rmc", "RMC"),
    "IMC": _nec("nec_ch9_t4_imc", "IMC"),
    "PVC-40": _nec("nec_ch9_t4_pvc40_hdpe", "PVC40"),
    "PVC-80": _nec("nec_ch9_t4_pvc80", "PVC80"),
    "PVC-A": _nec("nec_ch9_t4_pvc_a_eb", pick=("type", "A")),
    "PVC-EB": _nec("nec_ch9_t4_pvc_a_eb", pick=("type", "EB")),
    "HDPE-40": _hdpe("SCH40"),
    "HDPE-80": _hdpe("SCH80"),
    "HDPE-SDR7": _hdpe("SDR7"),
    "HDPE-SDR9": _hdpe("SDR9"),
    "HDPE-SDR11": _hdpe("SDR11"),
    "HDPE-SDR13.5": _hdpe("SDR13.5"),
    "HDPE-SDR15.5": _hdpe("SDR15.5"),
    "EB-20": _duct("EB-20"),
    "EB-35": _duct("EB-35"),
    "DB-60": _duct("DB-60"),
    "DB-100": _duct("DB-100"),
    "DB-120": _duct("DB-120"),
    "EN-STEEL": _european("steel rigid"),
    "EN-PVC-LIGHT": _european("PVC light min ID"),
    "EN-PVC-MEDIUM": _european("PVC medium min ID"),
    "EN-BURIED": _european("buried 61386-24 min ID"),
    "PE-SDR11": _pe(11),
    "PE-SDR13.6": _pe(13.6),
    "PE-SDR17": _pe(17),
    "PE-SDR21": _pe(21),
    "PE-SDR26": _pe(26),
    "PE-TWINWALL": _eu_duct("PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N)"),
    "PVC-U-DIN16875": _eu_duct("PVC-U cable duct DIN 16875"),
    "PVC-U-EN1401": _eu_duct("PVC-U EN 1401 SN4"),
    "PVC-U-DIN8062": _eu_duct("PVC-U DIN 8062"),
    "PVC-LST": _eu_duct("PVC LST, NF T 54-018"),
    "EN-PLIABLE": _eu_duct("EN 61386-22 pliable corrugated PVC/PP, EN 60423 sizes"),
    "UK-TWINWALL": _eu_duct("UK ENA TS 12-24 twin-wall"),
}
EUROPEAN_DUCTS: tuple[str, ...] = tuple(
    name for name, stock in _STOCK.items() if stock.table.startswith("eu_duct")
)
"""Ducts and pliable conduit of European standards, named by outside diameter in mm."""

TYPES: tuple[str, ...] = tuple(_STOCK)
_METAL_TYPES = ("EMT", "RMC", "IMC", "EN-STEEL")
MATERIALS: Mapping[str, bool] = {
    "steel": False,
    "aluminum": False,
    "concrete": False,
    "fiberglass": True,
    "PVC": True,
    "HDPE": True,
    "plastic": True,
}
"""What a conduit of plain dimensions may be made of, and whether that is plastic."""


def is_plastic(stock_type: str, material: str = "") -> bool | None:
    """Is a conduit plastic? By its stock type, else by its material; None where neither is given.

    Every stock type that is not metal is plastic: PVC, HDPE, EB and DB ducts, plastic EN conduit.
    """
    if stock_type:
        return stock_type not in _METAL_TYPES
    return MATERIALS.get(material)


def material_of(stock_type: str, material: str = "") -> str:
    """What a conduit is made of, a word of ``MATERIALS``; empty where neither says.

    >>> material_of("PVC-40"), material_of("RMC"), material_of("PE-SDR11"), material_of("", "HDPE")
    ('PVC', 'steel', 'HDPE', 'HDPE')
    """
    if not stock_type:
        return material
    if stock_type in _METAL_TYPES:
        return "steel"
    if stock_type.startswith(("HDPE", "PE-", "EN-BURIED", "UK-")):
        return "HDPE"
    return "plastic" if stock_type == "EN-PLIABLE" else "PVC"


def stock_of_row(table: str, columns: Mapping[str, str]) -> tuple[str, str] | None:
    """The stock type and trade size a row of a data file is looked up by; None for other rows."""
    for name, stock in _STOCK.items():
        picked = stock.pick is None or columns.get(stock.pick[0]) == str(stock.pick[1])
        if stock.table == table and picked and stock.size in columns and stock.bore in columns:
            return name, columns[stock.size]
    return None


@cache
def conduit_size(stock_type: str, trade_size: str) -> ConduitSize:
    """Bore and outside of a stock conduit; raises NotInTable with the nearest type or size."""
    stock = _stock(stock_type)
    size, row = _find(stock_type, stock, trade_size)
    table = load(stock.table)
    source = source_of(table, row, column="ID")
    if stock.bore == "id_est_in":  # a recalled or read wall less an assumed tolerance
        source = replace(source, status=Status.ESTIMATE)
    return ConduitSize(
        stock_type=stock_type,
        trade_size=size,
        inner_diameter=si(float(row[stock.bore]), stock.unit),
        outer_diameter=_outer(stock, row, size),
        outer_source=_outer_source(stock, row, f"{stock_type} {size}"),
        source=replace(source, cite=f"{stock_type} {size}"),
        estimate=source.doubtful,
    )


def trade_sizes(stock_type: str) -> tuple[str, ...]:
    """The sizes a stock type is tabulated in, smallest first."""
    return tuple(sorted(_rows(_stock(stock_type)), key=trade_inches))


def _stock(stock_type: str) -> _Stock:
    try:
        return _STOCK[stock_type]
    except KeyError:
        raise unknown("stock conduit type", stock_type, TYPES) from None


def _rows(stock: _Stock) -> dict[str, Row]:
    picked = load(stock.table).where(**(dict([stock.pick]) if stock.pick else {}))
    return {str(row[stock.size]): row for row in picked}


def _find(stock_type: str, stock: _Stock, trade_size: str) -> tuple[str, Row]:
    rows = _rows(stock)
    size = "-".join(trade_size.split())  # "1 1/2" is "1-1/2"
    if size in rows:
        return size, rows[size]
    suggestion = _nearest(size, rows)
    hint = f'did you mean "{suggestion}"? ' if suggestion else ""
    listed = ", ".join(sorted(rows, key=trade_inches))
    raise NotInTable(
        f'{stock_type} has no trade size "{trade_size}" in the table; {hint}sizes: {listed}',
        suggestion,
    )


def _nearest(size: str, rows: Mapping[str, Row]) -> str:
    """The size meant by a metric designator, else the one nearest in number, else nothing."""
    for name, row in rows.items():
        if str(row.get("md", "")) == size:
            return name
    try:
        wanted = float(size) if "." in size else trade_inches(size)
    except (ValueError, NotInTable):
        return ""
    return min(rows, key=lambda name: abs(trade_inches(name) - wanted))


def _outer(stock: _Stock, row: Row, size: str) -> float | None:
    if stock.outer:
        return si(float(row[stock.outer]), stock.unit)
    if not stock.outer_type:
        return None
    for outer in load("conduit_od_wall_weight").where(type=stock.outer_type, trade=size):
        return float(outer["od_in"]) * INCH
    return None


def _outer_source(stock: _Stock, row: Row, name: str) -> Source | None:
    if stock.outer:
        return source_of(load(stock.table), row, column="OD", cite=name)
    table = load("conduit_od_wall_weight")
    title = _ELBOW_TITLES.get(name.split(" ")[0], "")
    rows = table.where(type=stock.outer_type, trade=row[stock.size])
    found = (source_of(table, outer, column="OD", title=title, cite=name) for outer in rows)
    return next(found, None)


_ELBOW_TITLES: Mapping[str, str] = {
    "EMT": "ANSI C80.3 / UL 797",
    "RMC": "ANSI C80.1 / UL 6",
    "PVC-40": "UL 651 / NEMA TC-3",
    "PVC-80": "UL 651 / NEMA TC-3",
    "IMC": "ANSI C80.6 / UL 1242",
}


def standard_elbow_radius(stock_type: str, trade_size: str) -> Fact:
    """Center-line radius of the factory 90 degree elbow; NotInTable where no table covers it."""
    if stock_type not in _ELBOW_TITLES:
        raise _no_table(stock_type, "standard elbow", _ELBOW_TITLES)
    size = conduit_size(stock_type, trade_size).trade_size
    table = load("elbows_standard")
    row = next(table.where(trade=size))
    source = source_of(table, row, title=_ELBOW_TITLES[stock_type], cite=f"elbow {size} in")
    if stock_type == "IMC":  # the elbow table names RMC, EMT and PVC only
        note = f"{source.note}; IMC elbows taken equal to RMC"
        source = replace(source, status=Status.MEMORY, note=note)
    return Fact(
        float(row["radius_in"]) * INCH, "radius", source, f"standard elbow, {stock_type} {size}"
    )


Bender = Literal["other", "one shot"]
_TABLE_2_TYPES = ("EMT", "RMC", "IMC", "PVC-40", "PVC-80", "PVC-A", "PVC-EB")
_HDPE_TYPES = tuple(name for name in TYPES if name.startswith("HDPE"))


def minimum_bend_radius(stock_type: str, trade_size: str, bender: Bender = "other") -> Fact:
    """Least center-line radius of a field bend: NEC Ch 9 Table 2, or HDPE cold-bend factor x OD.

    ``bender="one shot"`` is the column of one-shot and full-shoe benders (metal conduit). Raises
    NotInTable for duct and EN types: see ``bends`` for duct-bank conventions.
    """
    size = conduit_size(stock_type, trade_size)
    if stock_type in _HDPE_TYPES:
        return _cold_bend(size)
    if stock_type not in _TABLE_2_TYPES:
        raise _no_table(stock_type, "least bend radius", (*_TABLE_2_TYPES, *_HDPE_TYPES))
    table = load("nec_ch9_t2_bend_radius")
    row = next(table.where(trade=size.trade_size))
    column = {"other": "other_in", "one shot": "one_shot_in"}[bender]
    source = source_of(table, row, cite=f"{bender} bends, {size.trade_size} in")
    label = f"least bend radius, {stock_type} {size.trade_size}"
    return Fact(float(row[column]) * INCH, "radius", source, label)


# Largest dimension ratio (outside diameter over least wall) each printed factor reaches.
_COLD_BEND_BANDS = (
    (0.0, 9.0, "DR_le_9"),
    (11.0, 13.5, "DR_11_13_5"),
    (17.0, 21.0, "DR_17_21"),
    (26.0, 26.0, "DR_26"),
    (32.5, 32.5, "DR_32_5"),
    (41.0, 41.0, "DR_41"),
)


def _cold_bend(size: ConduitSize) -> Fact:
    table = load("astm_f2160_hdpe")
    ratio = _dimension_ratio(size)
    low, _, key = next(band for band in _COLD_BEND_BANDS if ratio <= band[1])
    factor = float(table.facts["cold_bend_factor_od"][key])
    printed = low <= ratio
    note = "makers disagree: a coilable SDR 13.5 is sold at about 11 x; the larger one stands"
    if not printed:
        note = f"no row for this ratio, the larger factor of its neighbors; {note}"
    source = Source(
        title="ASTM F2160 HDPE, maker's catalog p.12",
        cite=f"cold bend {factor:g} x outside diameter, dimension ratio {ratio:g}",
        status=Status.READ if printed else Status.DERIVED,
        note=note,
    )
    outer = size.outer_diameter or math.nan
    label = f"least field bend radius, {size.stock_type} {size.trade_size}"
    return Fact(factor * outer, "radius", source, label)


def _dimension_ratio(size: ConduitSize) -> float:
    if "SDR" in size.stock_type:
        return float(size.stock_type.partition("SDR")[2])
    _, row = _find(size.stock_type, _stock(size.stock_type), size.trade_size)
    return round(float(row["od_in"]) / float(row["min_wall_in"]), 1)


_SWEEPS: Mapping[str, str] = {
    "PVC-40": "PVC Sch 40/80 special radius",
    "PVC-80": "PVC Sch 40/80 special radius",
    "RMC": "RMC large radius",
}


def sweep_radii(stock_type: str, trade_size: str) -> tuple[Fact, ...]:
    """Radii of special-radius elbows made for a size, smallest first; may be empty."""
    if stock_type not in _SWEEPS:
        raise _no_table(stock_type, "special-radius elbows", _SWEEPS)
    size = conduit_size(stock_type, trade_size).trade_size
    table = load("elbows_sweeps")
    label = f"sweep elbow, {stock_type} {size}"
    return tuple(
        Fact(float(radius) * INCH, "radius", source_of(table, row, cite=row["product"]), label)
        for row in table.where(product=_SWEEPS[stock_type])
        if _in_range(size, *_span(str(row["trade"])))
        for radius in row["radii_in"]
    )


def _span(text: str) -> tuple[str, str]:
    first, _, last = text.partition("..")
    return first, last or first


def _in_range(size: str, first: str, last: str) -> bool:
    return trade_inches(first) <= trade_inches(size) <= trade_inches(last)


_SUPPORT_ROWS: Mapping[str, str] = {
    "EMT": "EMT",
    "RMC": "RMC/IMC",
    "IMC": "RMC/IMC",
    "PVC-40": "PVC",
    "PVC-80": "PVC",
}


def support_spacing(stock_type: str, trade_size: str, *, threaded_straight: bool = False) -> Fact:
    """Greatest distance between supports of exposed conduit.

    ``threaded_straight`` takes the longer spans of straight horizontal RMC or IMC runs with
    threaded couplings.
    """
    if stock_type not in _SUPPORT_ROWS:
        raise _no_table(stock_type, "support spacing", _SUPPORT_ROWS)
    kind = _SUPPORT_ROWS[stock_type]
    if threaded_straight and kind != "RMC/IMC":
        raise _no_table(stock_type, "threaded couplings", ("RMC", "IMC"))
    size = conduit_size(stock_type, trade_size).trade_size
    table = load("raceway_support_spacing")
    name = f"{kind} threaded straight horizontal" if threaded_straight else kind
    row = _support_row(table, name, size)
    return Fact(
        float(row["max_ft"]) * FOOT,
        "length",
        source_of(table, row, cite=name, title="NFPA 70"),
        f"support spacing, {stock_type} {size}",
    )


def _support_row(table: Table, kind: str, size: str) -> Row:
    rows = table.where(type=kind)
    return next(row for row in rows if _in_range(size, row["trade_from"], row["trade_to"]))


def stick_length() -> Fact:
    """Length of one stick of conduit, 10 ft."""
    table = load("field_practice")
    return rule_fact(table, table.rule("stick_length"), "length", "stick of conduit")


def _no_table(stock_type: str, what: str, covered: Iterable[str]) -> NotInTable:
    _stock(stock_type)  # an unknown type is the more useful complaint
    return NotInTable(f"no table of {what} covers {stock_type}; it covers {', '.join(covered)}")


def first_support(stock_type: str, trade_size: str) -> Fact:
    """Greatest distance from a box or an end to the first support of exposed conduit.

    The table has one distance for every type and size it covers. Raises NotInTable for the others.
    """
    support_spacing(stock_type, trade_size)  # refuses a type or a size that is not covered
    table = load("raceway_support_spacing")
    row = min(table.rows, key=lambda r: float(r["first_ft"]))
    source = source_of(table, row, title="NFPA 70", cite="first support")
    label = f"first support, {stock_type} {trade_size}"
    return Fact(float(row["first_ft"]) * FOOT, "length", source, label)
