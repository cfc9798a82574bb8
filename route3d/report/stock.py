"""The built-in tables for people: what is tabulated, how well it is known, and on whose word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from itertools import groupby
from typing import Any

from rich.console import Group, RenderableType

from route3d.report.layout import paragraph, table
from route3d.standards.search import StockEntry, notes
from route3d.standards.tables import load, table_names

STATUS_WORDS = (
    "READ: taken from the source named. XCHECK: recalled, agrees with a stored copy. DERIVED: "
    "worked out from others. MEMORY: from memory. ESTIMATE: an estimate; check it before use."
)


def tables_report() -> RenderableType:
    """The list of all tables."""
    rows = [[name, load(name).title, str(_count(name))] for name in table_names()]
    return Group(
        table(("table", "what it holds", "entries"), rows, numbers=(2,)),
        paragraph("route3d stock WORDS searches them all; --table NAME shows one.", before=1),
    )


def tables_data() -> list[dict[str, Any]]:
    """The list of all tables as plain data."""
    return [
        {"table": name, "title": load(name).title, "entries": _count(name)}
        for name in table_names()
    ]


def _count(name: str) -> int:
    one = load(name)
    return len(one.rows) + len(one.checks) + len(one.facts)


def entries_report(entries: Sequence[StockEntry], *, whole: bool) -> RenderableType:
    """Entries by table; ``whole`` adds the remarks of each table."""
    parts: list[RenderableType] = []
    for name, group in groupby(entries, key=lambda e: e.table):
        parts.append(paragraph(f"{name}: {load(name).title}", style="bold", before=bool(parts)))
        parts += _one_table(list(group))
        parts += [paragraph(f"Note: {note}") for note in notes(name) if whole]
    return Group(*parts, paragraph(STATUS_WORDS, style="dim", before=1))


def _one_table(entries: Sequence[StockEntry]) -> list[RenderableType]:
    """The entries of one table; their sources, which repeat and are long, numbered below it."""
    sources = list(dict.fromkeys(e.source for e in entries))
    rows = [[e.name, _values(e), e.status, f"({sources.index(e.source) + 1})"] for e in entries]
    below = [paragraph(f"({i}) {text}", style="dim") for i, text in enumerate(sources, start=1)]
    return [table(("entry", "value", "status", "source"), rows), *below]


def _values(entry: StockEntry) -> str:
    """The figures as printed, the unit behind its value; what the name says already is left out."""
    unit = dict(entry.values).get("unit", "")
    parts = []
    for column, text in entry.values:
        if column == "unit" or not text or text in entry.name:
            continue
        parts.append(f"{text} {unit}".strip() if column == "value" else f"{column} {text}")
    return "; ".join(parts)


def entries_data(entries: Sequence[StockEntry]) -> list[dict[str, Any]]:
    """Entries as plain data."""
    return [asdict(e) | {"values": dict(e.values)} for e in entries]
