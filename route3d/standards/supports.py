"""Supports of exposed conduit: how far the first stands from a box."""

from __future__ import annotations

from route3d.standards.conduits import support_spacing
from route3d.standards.source import Fact
from route3d.standards.tables import FOOT, load, source_of


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
