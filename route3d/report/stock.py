"""The built-in tables for people: what is tabulated, how well it is known, and its source."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from rich.console import Group, RenderableType

from route3d.report.layout import paragraph, table
from route3d.standards.search import NAME_COLUMNS, StockEntry, cited, notes, words_to_type
from route3d.standards.source import Status
from route3d.standards.tables import load, read_status, table_names

_STATUS = re.compile(r"\b(?:READ|XCHECK|DERIVED|MEMORY|ESTIMATE)\b(?:\([hml]\))?")
# How a figure is known, in a word for the table and as the legend explains it.
_KNOWN = {
    Status.READ: ("read in the source", "read in the publication named"),
    Status.XCHECK: ("cross-checked", "from memory, matches a stored copy"),
    Status.DERIVED: ("calculated", "calculated from other values"),
    Status.MEMORY: ("from memory", "from memory, not verified in print"),
    Status.ESTIMATE: ("estimate", "an engineering estimate, verify before use"),
}
_GRADES = {"h": ", high confidence", "m": ", medium confidence", "l": ", low confidence"}
_SECOND_HAND = "read second-hand"
LEGEND = (
    "Confidence, by the weakest part: "
    + "; ".join(
        (
            *(f"{word} = {meaning}" for word, meaning in _KNOWN.values()),
            f"{_SECOND_HAND} = read in a copy or excerpt, verify against the original",
        )
    )
    + "."
)
TO_TYPE = "enter in the model file"
# So many rows are read at one go; more are counted.
MOST_ROWS = 20


def tables_report() -> RenderableType:
    """The list of all tables."""
    rows = [[name, load(name).title, str(_count(name))] for name in table_names()]
    return Group(
        table(("table", "contents", "entries"), rows, numbers=(2,)),
        paragraph("route3d stock WORDS searches all tables; --table NAME shows one.", before=1),
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


def entries_report(
    entries: Sequence[StockEntry], *, whole: bool = False, more: int = 0
) -> RenderableType:
    """Entries by table; ``whole`` adds the remarks of each table, ``more`` were omitted."""
    parts: list[RenderableType] = []
    for name in dict.fromkeys(e.table for e in entries):
        parts.append(paragraph(f"{name}: {load(name).title}", style="bold", before=bool(parts)))
        parts += _one_table([e for e in entries if e.table == name])
        parts += [paragraph(f"Note: {note}") for note in notes(name) if whole]
    if more:
        said = f"{more} more rows match less closely: --all shows them, more words narrow"
        parts.append(paragraph(f"{said} the search.", before=1))
    recorded = " ".join(e.status for e in entries)
    ids = [paragraph(f"{word} is {what}", style="dim") for word, what in cited(recorded)]
    legend = [paragraph(LEGEND, style="dim", before=1)] if recorded.strip() else []
    return Group(*parts, *([paragraph("", before=0)] if ids else []), *ids, *legend)


def _one_table(entries: Sequence[StockEntry]) -> list[RenderableType]:
    """The entries of one table; their sources, which repeat and are long, numbered below it."""
    if not any(e.status or e.source for e in entries):  # the list of sources has none itself
        return [table(("entry", "value"), [[e.name, _values(e)] for e in entries])]
    sources = list(dict.fromkeys(_source(e) for e in entries))
    rows = [
        [
            *(e.name, _values(e), words_to_type(e), known_words(e.status)),
            f"({sources.index(_source(e)) + 1})",
        ]
        for e in entries
    ]
    heads: tuple[str, ...] = ("entry", "value", TO_TYPE, "confidence", "source")
    if not any(row[2] for row in rows):
        heads = tuple(h for h in heads if h != TO_TYPE)
        rows = [[*row[:2], *row[3:]] for row in rows]
    below = [paragraph(f"({i}) {text}", style="dim") for i, text in enumerate(sources, start=1)]
    return [table(heads, rows), *below]


def known_words(recorded: str) -> str:
    """How a figure is known, in words; by its weakest part where the record names several."""
    if not recorded:
        return ""
    status, grade = read_status(recorded)
    if status is Status.READ and grade == "l":
        return _SECOND_HAND
    return _KNOWN[status][0] + _GRADES.get(grade, "")


def _source(entry: StockEntry) -> str:
    """The source; behind it the record where that says more than one word for all."""
    plain = re.fullmatch(rf"{_STATUS.pattern}|", entry.status)
    record = "" if plain else entry.status
    return _in_words("; ".join(part for part in (entry.source, record) if part))


def _in_words(text: str) -> str:
    """Text with the status words of the records in it as people say them."""
    return _STATUS.sub(lambda m: known_words(m[0]).removesuffix(" in the source"), text).replace(
        "from from memory", "from memory"
    )


def _values(entry: StockEntry) -> str:
    """The figures as printed, each that has the row's unit with it; without what is the name."""
    unit = dict(entry.values).get("unit", "")
    parts = []
    for column, text in entry.values:
        if column in ("unit", *NAME_COLUMNS) or not text:
            continue
        shown = f"{text} {unit}".strip() if column in _IN_UNIT else text
        parts.append(shown if column == "value" else f"{column} {shown}")
    return _in_words("; ".join(parts))


_IN_UNIT = ("value", "low", "high", "least", "most", "min", "max")


def entries_data(entries: Sequence[StockEntry]) -> list[dict[str, Any]]:
    """Entries as plain data."""
    return [
        asdict(e) | {"values": dict(e.values), "to_type": words_to_type(e) or None} for e in entries
    ]
