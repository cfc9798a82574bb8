"""The data files: read one table, turn its printed figures into SI, say where they come from."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, TypeAlias, cast

from route3d.errors import Route3dError
from route3d.standards.source import Confidence, Fact, Quantity, Source, Status
from route3d.units import GRAVITY

_DATA = Path(__file__).with_name("data")
Row: TypeAlias = Mapping[str, Any]

INCH = 0.0254
FOOT = 0.3048
POUND_FORCE = 4.4482216152605
CIRCULAR_MIL = math.pi / 4 * (0.001 * INCH) ** 2  # 5.067075e-10 m2
GALLON = 3.785411784e-3  # US liquid gallon, 231 cubic inches
ZERO_CELSIUS = 273.15

_FACTORS: Mapping[str, float] = {
    "": 1.0,
    "in": INCH,
    "ft": FOOT,
    "mm": 1e-3,
    "m": 1.0,
    "mm2": 1e-6,
    "in2": INCH**2,
    "cmil": CIRCULAR_MIL,
    "kcmil": 1000 * CIRCULAR_MIL,
    "deg": math.pi / 180,
    "lbf": POUND_FORCE,
    "kN": 1000.0,
    "N/m": 1.0,
    "kN/m": 1000.0,
    "lbf/ft": POUND_FORCE / FOOT,
    "psi": POUND_FORCE / INCH**2,
    "MPa": 1e6,
    "N/mm2": 1e6,
    "kgf/mm2": GRAVITY * 1e6,
    "lb/cmil": POUND_FORCE / CIRCULAR_MIL,
    "ft/min": FOOT / 60,
    # Volume of lubricant per length and bore is itself a length: film thickness times pi.
    "gal/(ft in)": GALLON / (FOOT * INCH),
    "l/(m mm)": 1.0,
}


class NotInTable(Route3dError, LookupError):
    """A published table has no such entry; ``suggestion`` is the nearest one it has, or empty."""

    def __init__(self, message: str, suggestion: str = "") -> None:
        self.suggestion = suggestion
        super().__init__(message)


def unknown(what: str, given: str, known: Iterable[str]) -> NotInTable:
    """NotInTable naming the nearest known entry and listing all of them."""
    import difflib  # only ever needed on the way to an error

    names = tuple(known)
    lowered = {name.lower(): name for name in reversed(names)}
    near = difflib.get_close_matches(given.lower(), lowered, n=1, cutoff=0.4)
    suggestion = lowered[near[0]] if near else ""
    hint = f'did you mean "{suggestion}"? ' if suggestion else ""
    return NotInTable(f'no {what} "{given}"; {hint}known: {", ".join(names)}', suggestion)


@dataclass(frozen=True, slots=True)
class Table:
    """One data file: its ``rows`` or rules, loose ``facts``, ``checks``, ``sources`` and notes.

    ``publications`` says what the source ids of its header are, without who published it.
    """

    name: str
    title: str
    standard: str
    status: str
    rows: tuple[Row, ...]
    facts: Row
    checks: tuple[Row, ...]
    sources: Mapping[str, Row]
    notes: tuple[str, ...] = field(default=())
    publications: Mapping[str, str] = field(default_factory=dict)

    def where(self, **wanted: object) -> Iterator[Row]:
        """The rows whose columns equal ``wanted``, in the order of the file."""
        return (
            row for row in self.rows if all(row.get(key) == value for key, value in wanted.items())
        )

    def rule(self, identity: str) -> Row:
        """The row with this ``id``; raises NotInTable with the nearest id."""
        for row in self.where(id=identity):
            return row
        ids = (row["id"] for row in self.rows if "id" in row)
        raise unknown(f"rule in {self.name}", identity, ids)


@cache
def load(name: str) -> Table:
    """The table of ``data/<name>.toml``; raises NotInTable for an unknown one."""
    try:
        kept = json.loads(_prepared()[name])
    except KeyError:
        raise unknown("table", name, table_names()) from None
    data = kept["data"]
    return Table(
        name=name,
        title=data.get("title", "Source ids: what was read, and where"),
        standard=data.get("standard", ""),
        status=data.get("status", ""),
        rows=(*data.get("rule", ()), *data.get("row", ())),
        facts={key: value for key, value in data.items() if key not in _FIXED_KEYS},
        checks=tuple(data.get("check", ())),
        sources=data.get("source", {}),
        notes=tuple(kept["notes"]),
        publications=kept["publications"],
    )


@cache
def table_names() -> tuple[str, ...]:
    """The names of all tables, sorted."""
    return tuple(sorted(_prepared()))


@cache
def _prepared() -> dict[str, str]:
    """Each table's line of the one file of all of them, still JSON: only what is asked is read."""
    text = (_DATA / "tables.json").read_text(encoding="utf-8")
    found = {}
    for line in text.strip().split("\n")[1:-1]:
        name, _, table = line.partition(": ")
        found[json.loads(name)] = table.rstrip(",")
    return found


_FIXED_KEYS = ("title", "standard", "status", "row", "rule", "check", "source")


# "# source ID: what it is | who published it, and where": the crew's sheet names no maker.
_PUBLICATION = re.compile(r"^# source ([A-Z][A-Z0-9]+): (.*?)(?: \| .*)?$", re.MULTILINE)


def prepared_tables() -> dict[str, Any]:
    """The contents of ``data/tables.json``: every TOML file, with the notes in its comments."""
    import tomllib

    tables = {}
    for file in sorted(_DATA.glob("*.toml")):
        text = file.read_text(encoding="utf-8")
        tables[file.stem] = {
            "data": tomllib.loads(text),
            "notes": re.findall(r"^# NOTE: (.*)$", text, re.MULTILINE),
            "publications": dict(_PUBLICATION.findall(text)),
        }
    return tables


def si(value: float, unit: str) -> float:
    """A printed figure in SI by the exact factor of its unit (degC to kelvin)."""
    if unit == "degC":
        return value + ZERO_CELSIUS
    return value * _FACTORS[unit]


_STATUS_WORD = re.compile(r"\b(READ|XCHECK|DERIVED|MEMORY|ESTIMATE)\b(?:\(([hml])\))?")
_ASIDE = re.compile(r"\((?![hml]\))[^()]*\)")


@lru_cache(maxsize=512)  # the same few texts, read again for every value asked of a table
def read_status(text: str, column: str = "") -> tuple[Status, Confidence]:
    """The weakest status a recorded status text gives, for one ``column`` where it names it.

    ``"OD READ BL235; wall MEMORY"`` is READ for column OD, MEMORY for the whole row.
    """
    clauses = _ASIDE.sub("", text).split(";")
    named = [clause for clause in clauses if column and _speaks_of(column, clause)]
    found = _STATUS_WORD.findall(" ".join(named)) or _STATUS_WORD.findall(" ".join(clauses))
    if not found:
        raise ValueError(f"no status word in {text!r}")
    word, grade = max(found, key=lambda pair: (Status(pair[0]).rank, "hml".find(pair[1])))
    return Status(word), cast("Confidence", grade)


# Question-and-answer, forum and scraped pages: what was READ there is not the code itself.
_LOW_AUTHORITY = re.compile(
    r"\b(WRA|FIX|HOME|POLE|TAKE2?|BEND[123]|INSP|EHOW|SITE|VAULT9?|MH[1-5])\b"
)


def _speaks_of(column: str, clause: str) -> bool:
    """True where the clause names the column before its status, as its subject."""
    subject = _STATUS_WORD.split(clause, maxsplit=1)[0]
    return re.search(rf"\b{re.escape(column)}\b", subject) is not None


def source_of(
    table: Table,
    row: Row,
    *,
    column: str = "",
    title: str = "",
    cite: str = "",
    status: Status | None = None,
    note: str = "",
) -> Source:
    """The Source of one row; ``title``, ``cite`` and ``status`` override what the file gives."""
    recorded = str(row.get("status", table.status))
    read, confidence = read_status(recorded, column)
    if read is Status.MEMORY and "low confidence" in table.status + recorded:
        confidence = "l"
    origin = table.sources.get(row.get("source", ""), {}).get("what", "")
    if _LOW_AUTHORITY.search(recorded):
        note = "; ".join(part for part in (note, "check against the printed code") if part)
    return Source(
        title=title or origin or table.standard.split(" (")[0],
        cite=cite or str(row.get("cite", table.title)),
        status=status or read,
        note="; ".join(part for part in (recorded, str(row.get("note", "")), note) if part),
        confidence=confidence,
    )


def publication(table: Table, row: Row) -> str:
    """The publication the status of a row names, by the ids spelled out in the table's header."""
    words = re.findall(r"[A-Z0-9]+", str(row["status"]))
    named = (table.publications.get(word, "") for word in words if word != "MEMORY")
    return next(filter(None, named), "")


def rule_fact(
    table: Table, row: Row, quantity: Quantity, label: str, *, key: str = "value"
) -> Fact:
    """The Fact of a row that prints ``key`` in its own ``unit``."""
    value = si(float(row[key]), str(row.get("unit", "")))
    return Fact(value, quantity, source_of(table, row), label)


def trade_inches(trade_size: str) -> float:
    """The number a trade size stands for: ``"1-1/2"`` is 1.5; NotInTable when it is none."""
    match = re.fullmatch(r"(?:(\d+)[- ])?(\d+)/([1-9]\d*)|(\d+)", trade_size.strip(), re.ASCII)
    if match is None:
        raise NotInTable(f'"{trade_size}" is not a trade size such as 4 or 1-1/2')
    whole, over, under, plain = match.groups()
    return float(plain) if plain else int(whole or 0) + int(over) / int(under)
