"""Look through all the data files at once, for people: what is tabulated, and on whose word."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from route3d.standards.tables import Row, Table, load, table_names

__all__ = ["StockEntry", "cited", "entries", "notes", "ranked", "table_names"]


@dataclass(frozen=True, slots=True)
class StockEntry:
    """One row of one data file as printed: ``values`` are (column, text) pairs."""

    table: str
    name: str
    values: tuple[tuple[str, str], ...]
    status: str
    source: str


def entries(text: str = "", table: str = "") -> tuple[StockEntry, ...]:
    """Rows that hold every word of ``text`` (any case), in one table or in all of them.

    Raises NotInTable for an unknown table name.
    """
    names = (table,) if table else table_names()
    words = text.lower().split()
    return tuple(
        entry
        for name in names
        for entry in _entries(load(name))
        if all(word in _haystack(entry) for word in words)
    )


def ranked(found: Iterable[StockEntry], text: str) -> tuple[StockEntry, ...]:
    """The entries that hold the words of ``text`` best come first, as they came where equal.

    A word counts most as a word of the entry's name, then of its table, then of its values, and
    least inside another word or in the source; the list of sources itself comes last.
    """
    words = text.lower().split()
    return tuple(sorted(found, key=lambda e: (e.table == _SOURCES, -_score(e, words))))


_SOURCES = "sources"
# What a word counts as a whole word, at the start of one, and elsewhere inside: in the name of the
# entry, in the name and title of its table, in its values.
_WORTH = ((8.0, 6.0, 2.0), (5.0, 4.0, 1.0), (3.0, 2.0, 0.5))


def _score(entry: StockEntry, words: Iterable[str]) -> float:
    values = " ".join(value for _, value in entry.values)
    places = (entry.name, f"{entry.table.replace('_', ' ')} {load(entry.table).title}", values)
    return sum(
        max(_worth(word, place.lower(), worth) for place, worth in zip(places, _WORTH, strict=True))
        for word in words
    )


def _worth(word: str, place: str, worth: tuple[float, float, float]) -> float:
    whole, start, inside = worth
    if word not in place:
        return 0.0
    more = r"[a-z.,/-]?(?!\d)" if word[-1].isdigit() else r"[\w.,/-]?"  # 5 does not begin 50
    heads = re.finditer(rf"(?<![\w.,/-]){re.escape(word)}(?P<more>{more})", place)
    return max((start if head["more"] else whole for head in heads), default=inside)


def cited(text: str) -> tuple[tuple[str, str], ...]:
    """Each source id that a recorded status names, with the publication it stands for."""
    known = load(_SOURCES).facts
    found = dict.fromkeys(w for w in re.findall(r"[A-Z0-9]+", text) if w in known)
    return tuple((w, ", ".join(filter(None, map(known[w].get, ("what", "url"))))) for w in found)


def notes(table: str) -> tuple[str, ...]:
    """Remarks of one data file: misprints, disagreements, how to read it."""
    return load(table).notes


_NAME_COLUMNS = (
    "id", "type", "system", "wall_type", "region", "metal", "practice", "jacket", "conduit",
    "lubrication", "family", "ratio", "risk", "product", "cable", "cable_class", "trade",
    "nominal", "size_mm", "material", "sheath", "insulation", "size", "size_from", "size_to",
    "trade_from", "trade_to", "deg", "run_m", "n", "what",
)  # fmt: skip
_SOURCE_COLUMNS = ("status", "source", "cite")


def _entries(table: Table) -> Iterator[StockEntry]:
    for row in (*table.rows, *table.checks):
        yield _entry(table, _name(row), row)
    for key, value in table.facts.items():
        yield _entry(table, key, value if isinstance(value, dict) else {"value": value})


def _name(row: Row) -> str:
    parts = (_text(row[column]) for column in _NAME_COLUMNS if column in row)
    return " ".join(part for part in parts if part)


def _entry(table: Table, name: str, row: Row) -> StockEntry:
    values = tuple(
        (column, _text(value)) for column, value in row.items() if column not in _SOURCE_COLUMNS
    )
    status = str(row.get("status", table.status))
    return StockEntry(table.name, name, values, status, _source(table, row))


def _source(table: Table, row: Row) -> str:
    origin = table.sources.get(row.get("source", ""), {})
    place = origin.get("what", table.standard), row.get("cite", ""), origin.get("url", "")
    return ", ".join(part for part in place if part)


def _text(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(_text(item) for item in value)
    return str(value)


def _haystack(entry: StockEntry) -> str:
    columns = " ".join(f"{column} {value}" for column, value in entry.values)
    title = load(entry.table).title
    parts = (entry.table, title, entry.name, columns, entry.status, entry.source)
    return " ".join(parts).lower()
