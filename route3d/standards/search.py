"""Look through all the data files at once, for people: what is tabulated, and its source."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from route3d.standards.conduits import stock_of_row
from route3d.standards.tables import Row, Table, load, read_status, table_names

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
    """The entries that hold the words of ``text`` best come first.

    A word counts most as a word of the entry's name, then of its table, then of its values, and
    least inside another word or in the source; the list of sources itself comes last, and of equals
    those that are less well known.
    """
    words = text.lower().split()
    return tuple(sorted(found, key=lambda e: (e.table == _SOURCES, -_score(e, words), _rank(e))))


def _rank(entry: StockEntry) -> int:
    """Of rows that fit equally well, what is remembered or estimated comes last."""
    return read_status(entry.status)[0].rank if entry.status else 0


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
    return tuple((w, _with_place(known[w]["what"], known[w])) for w in found)


_NOT_IN_CONDUIT = (
    *("rollers", "capstan", "borehole", "borehole slurry", "ground", "ground on rollers"),
)
_NO_CABLE = ("rope", "pipe", "drill string")


def words_to_type(entry: StockEntry) -> str:
    """What to write in a model file to use this row; empty where no key of a model takes it."""
    row = dict(entry.values)
    unit, value = row.get("unit", ""), row.get("value", "")
    if stock := stock_of_row(entry.table, row):
        return f'type = "{stock[0]}", trade_size = "{stock[1]}"'
    if entry.table == "nec_ch9_t8_conductors" and "cmil" in row:
        gauge = row["size"].endswith("/0") or int(row["size"]) < 100
        return f'conductor area = "{row["size"]} {"AWG" if gauge else "kcmil"}"'
    if entry.table.startswith("cable_") and {"od_in", "lb_per_kft"} <= row.keys():
        return f'diameter = "{row["od_in"]} in", weight = "{row["lb_per_kft"]} lb/kft"'
    if entry.table == "conductor_stress" and "stress_N_mm2" in row:
        return f'max_stress = "{row["stress_N_mm2"]} N/mm2"'
    if entry.table.startswith("cable_bend_radius") and "factor" in row:
        return f"bend_multiple = {row['factor']}"
    if entry.table == "sidewall_limits" and value and unit in ("lbf/ft", "N/m", "kN/m"):
        return f'sidewall_limit = "{value} {unit}"'
    in_conduit = row.get("conduit") not in _NOT_IN_CONDUIT and row.get("jacket") not in _NO_CABLE
    if entry.table == "friction" and in_conduit and (most := value or row.get("high", "")):
        return f"friction = {most}"
    return ""


def notes(table: str) -> tuple[str, ...]:
    """Remarks of one data file: misprints, disagreements, how to read it."""
    return load(table).notes


NAME_COLUMNS = (
    "id", "kv", "volt_kv", "level", "type", "system", "sdr", "wall_type", "region", "metal",
    "practice", "jacket", "conduit",
    "lubrication", "family", "ratio", "risk", "product", "cable", "cable_class", "trade",
    "nominal", "size_mm", "material", "surface", "sheath", "insulation", "kind", "cores", "size",
    "neutral", "dia", "flange_in", "size_from", "size_to",
    "trade_from", "trade_to", "deg", "run_m", "n", "what",
)  # fmt: skip
_SOURCE_COLUMNS = ("status", "source", "cite")


def _entries(table: Table) -> Iterator[StockEntry]:
    for row in (*table.rows, *table.checks):
        yield _entry(table, _name(row), row)
    for key, value in table.facts.items():
        yield _entry(table, key, value if isinstance(value, dict) else {"value": value})


def _name(row: Row) -> str:
    parts = (_text(row[column]) for column in NAME_COLUMNS if column in row)
    return " ".join(part for part in parts if part)


def _entry(table: Table, name: str, row: Row) -> StockEntry:
    values = tuple(
        (column, _text(value)) for column, value in row.items() if column not in _SOURCE_COLUMNS
    )
    status = str(row.get("status", table.status))
    return StockEntry(table.name, name, values, status, _source(table, row))


def _source(table: Table, row: Row) -> str:
    origin = table.sources.get(row.get("source", ""), {})
    cited = origin.get("what", table.standard), row.get("cite", "")
    return _with_place(", ".join(part for part in cited if part), origin)


def _with_place(citation: str, origin: Row) -> str:
    """Standard, edition and clause first; who published it and where it was read behind it."""
    by, url = origin.get("by", ""), origin.get("url", "")
    published = f"{citation}; published by {by}" if by else citation
    return f"{published}; read at {url}" if url else published


def _text(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(_text(item) for item in value)
    return str(value)


def _haystack(entry: StockEntry) -> str:
    columns = " ".join(f"{column} {value}" for column, value in entry.values)
    title = load(entry.table).title
    parts = (entry.table, title, entry.name, columns, entry.status, entry.source)
    return " ".join(parts).lower()
