"""The sheets and columns of a job workbook, made from the tables of the model file.

A table with a name, such as ``[cable.phase]``, is a row of a sheet. A table inside it gives columns
of the same row, a list of tables a sheet of its own, whose first columns say what a row belongs to.
So a key that is added to the model file is a column without another line here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from route3d.modelfile.fields import (
    Counts,
    OneOf,
    Reads,
    ReadsConductorSize,
    ReadsEither,
    ReadsRules,
)
from route3d.modelfile.schema import ModelEntry
from route3d.modelfile.toml_positions import KeyPath
from route3d.quantities import QUANTITIES
from route3d.units import unit_label

JOB = "Job"
LISTS = "Lists"
# Each table of a model file that is a sheet, by its last key, in the order of the sheets.
SHEETS = {
    "cable": "Cables",
    "conduit": "Conduits",
    "run": "Runs",
    "legs": "Legs",
    "route": "Points",
    "bank": "Banks",
    "rope": "Ropes",
    "machine": "Machines",
    "gears": "Gears",
    "reel": "Reels",
    "cable_reel": "Cable reels",
    "rigging": "Rigging",
    "anchor": "Anchors",
    "adapters": "Adapters",
    "sheave": "Sheaves",
    "lead_off": "Lead-off",
    "ends": "Ends",
    "context": "Meshes",
    "clearance": "Clearances",
    "level": "Levels",
    "room": "Rooms",
    "revisions": "Revisions",
    "input": "Spread",
    "correlation": "Correlations",
    "variant": "Variants",
}
# What the numbers of a short list are called, by its key.
PARTS = {
    "at": ("x", "y", "z"),
    "envelope": ("length", "width", "height"),
    "box": ("box length", "box width", "box height"),
    "closes_to": ("known end x", "known end y", "known end z"),
    "spacing": ("spacing across", "spacing between rows"),
    "between": ("first kind", "second kind"),
    "inputs": ("first input", "second input"),
    "trade_sizes": ("smallest trade size", "largest trade size"),
}
# Keys of a run, an end or a point that name something of another sheet, by that sheet's key.
NAMES_OF = {"cables": "cable", "brace": "anchor"}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet, or one item of the sheet Job.

    ``path`` is the key path in the table of a row. ``kind`` is "quantity", "word", "text", "count",
    "yes", "words" (a list of them), "cable" and "number" (a pair of columns for each cable), "any"
    (a value as a model file has it, such as a list in brackets). ``quantity`` is that of a bare
    number, ``other_quantity`` another that may stand there with its unit. ``words`` gives the words
    that may stand there; ``names`` is the key of the tables whose names may.
    """

    header: str
    path: KeyPath
    kind: str
    about: str = ""
    required: bool = False
    quantity: str = ""
    other_quantity: str = ""
    words: Callable[[], Iterable[str]] | None = None
    names: str = ""

    def titled(self, system: str) -> str:
        """The header with the unit of bare numbers in it; without it where two kinds may stand."""
        unit = "" if self.other_quantity else self.unit(system)
        return f"{self.header} ({unit})" if unit else self.header

    def unit(self, system: str) -> str:
        """The unit of bare numbers; "" where they have none."""
        if not self.quantity or not QUANTITIES[self.quantity].si:
            return ""
        return _UNITS.get((self.quantity, system)) or unit_label(self.quantity, system)


# Bare forces of a model file are in N, reports show kN; the degree sign alone is easily overlooked.
_UNITS = {("force", "SI"): "N", ("angle", "SI"): "deg", ("angle", "US"): "deg"}


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: a row for each table found at ``path``.

    In ``path`` ``NAME`` stands for the name of a table and ``ITEM`` for a number in a list; items
    inside of which there is more go by their name. ``owners`` are the headers of the columns that
    say which of them a row belongs to; ``named`` says whether the last of these is the own name.
    """

    name: str
    path: KeyPath
    owners: tuple[str, ...]
    named: bool
    columns: tuple[Column, ...]
    about: str = ""
    text: bool = False
    """Whether an item is a text and no table: it has one column."""

    @property
    def key(self) -> str:
        """The last key of the path."""
        return str([part for part in self.path if part not in (NAME, ITEM)][-1])


NAME, ITEM = "*", "#"


@cache
def sheets() -> tuple[Sheet, ...]:
    """The sheets of a workbook but the sheet Job, in their order."""
    found = list(_sheets(ModelEntry, (), ()))
    order = list(SHEETS.values())
    found.sort(key=lambda s: order.index(s.name) if s.name in order else len(order))
    return tuple(found)


@cache
def job_items() -> tuple[Column, ...]:
    """The items of the sheet Job: what a model file holds only once."""
    return tuple(_items(ModelEntry, (), ""))


def _items(model: type[BaseModel], path: KeyPath, group: str) -> Iterator[Column]:
    for key, field in _fields(model):
        kind, metadata = _kind(field)
        table = _table(kind)
        if get_origin(kind) in (dict, list) and _table(_plain(get_args(kind)[-1])[0]) is not None:
            continue
        if table is not None:
            yield from _items(table, (*path, key), f"{group}{_spoken(key)}: ")
            continue
        yield from _columns_of(field, (*path, key), group + _spoken(key), False, kind, metadata)


def _sheets(model: type[BaseModel], path: KeyPath, owners: tuple[str, ...]) -> Iterator[Sheet]:
    """The sheets of the tables inside one, and inside of those."""
    for key, field in _fields(model):
        kind, _ = _kind(field)
        inner = _table(kind)
        about = field.description or ""
        if inner is not None:
            yield from _sheets(inner, (*path, key), owners)
            continue
        if get_origin(kind) not in (dict, list):
            continue
        entry = get_args(kind)[-1]
        table = _table(_plain(entry)[0])
        ends = NAME in path or ITEM in path
        name = SHEETS.get(key) or _spoken(key).capitalize()
        if path[-2:-1] == ("ends",):
            name = f"{name} at ends"
        if key == "legs":
            column = Column("leg", (), "text", about, True)
            yield Sheet(name, (*path, key, ITEM), owners, False, (column,), about, text=True)
        if table is None:
            continue
        within = (*path, key, NAME if get_origin(kind) is dict else ITEM)
        named = get_origin(kind) is dict
        # What holds other tables is told apart by name in the sheets of those.
        own = {"ends": "end"}.get(key, _spoken(key))
        mine = (*owners, "name" if not ends else own) if named else owners
        columns = tuple(_with_stock(key, c) for c in _in_order(list(_columns(table)), not ends))
        yield Sheet(name, within, mine, named, columns, about)
        yield from _sheets(table, within, (*owners, own))


def _in_order(columns: list[Column], top: bool) -> list[Column]:
    """Name, stock name and the mark of an example first; the marks of tables inside it last."""

    def order(column: Column) -> int:
        if column.path in (("name",), ("stock",)) and top:
            return 0
        if column.path[-1:] == ("example",):
            return 1 if top and len(column.path) == 1 else 3
        return 2

    return sorted(columns, key=order)


def _with_stock(key: str, column: Column) -> Column:
    """The column of the stock name of a table with the names to choose from."""
    if column.path != ("stock",):
        return column

    def words() -> Iterable[str]:
        from route3d.standards.stock import names

        return names(key)  # type: ignore[arg-type]

    return replace(column, words=words)


def _columns(
    model: type[BaseModel], path: KeyPath = (), words: str = "", needed: bool = True
) -> Iterator[Column]:
    """The columns of a table, with those of the tables inside it."""
    for key, field in _fields(model):
        kind, metadata = _kind(field)
        spoken = f"{words} {_spoken(key)}".strip()
        stocked = key in getattr(model, "FILLED", ())  # where the stock entry does not give it
        must = needed and field.is_required() and not stocked
        if (table := _table(kind)) is not None:
            yield from _columns(table, (*path, key), spoken, must)
            continue
        if key == "value" and words:
            spoken = words
        yield from _columns_of(field, (*path, key), spoken, must, kind, metadata)


def _columns_of(
    field: FieldInfo, path: KeyPath, header: str, needed: bool, kind: Any, metadata: list[Any]
) -> Iterator[Column]:
    """The columns of one value."""
    key, about = str(path[-1]), field.description or ""
    if get_origin(kind) in (dict, list) and _table(_plain(get_args(kind)[-1])[0]) is not None:
        return  # a sheet of its own
    if key == "legs":
        return
    if key == "cables":
        yield Column("cable", path, "cable", about, needed, names=NAMES_OF.get(key, ""))
        yield Column("number", path, "number", "Number of these cables.", needed)
        return
    if get_origin(kind) is list:
        entry, inside = _plain(get_args(kind)[0])
        if entry is str:
            words = next((m.words for m in inside if isinstance(m, OneOf)), None)
            about += " Separate several with commas."
            yield Column(header, path, "words", about, needed, words=words)
            return
        about += " Written as in a model file, such as [[0, 14], [500, 12]]."
        yield Column(header, path, "any", about, needed)
        return
    parts = PARTS.get(key)
    if get_origin(kind) is tuple and parts is not None and len(parts) == len(get_args(kind)):
        for i, (name, part) in enumerate(zip(parts, get_args(kind), strict=True)):
            base, inside = _plain(part)
            yield _column(name, (*path, i), about, needed, base, inside)
        return
    yield _column(header, path, about, needed, kind, metadata)


def _column(
    header: str, path: KeyPath, about: str, needed: bool, kind: Any, metadata: list[Any]
) -> Column:
    """The column of a value that is no list; of a list that has no names for its parts too."""
    keys = [part for part in path if isinstance(part, str)]
    for mark in metadata:
        if isinstance(mark, Reads):
            return Column(header, path, "quantity", about, needed, mark.quantity)
        if isinstance(mark, ReadsEither):
            first, second = mark.first.quantity, mark.second.quantity
            return Column(header, path, "quantity", about, needed, first, second)
        if isinstance(mark, ReadsConductorSize):
            return Column(header, path, "quantity", about, needed, "conductor_area")
        if isinstance(mark, OneOf):
            return Column(header, path, "word", about, needed, words=mark.words)
        if isinstance(mark, ReadsRules):
            return Column(header, path, "word", about, needed, words=_rules)
        if isinstance(mark, Counts):
            return Column(header, path, "count", about, needed)
    if kind is bool:
        return Column(header, path, "yes", about, needed)
    if kind is str:
        names = NAMES_OF.get(keys[-1], keys[-1])
        holder = ModelEntry.model_fields.get(names)
        named = holder is not None and get_origin(_kind(holder)[0]) in (dict, list)
        return Column(header, path, "text", about, needed, names=names if named else "")
    return Column(header, path, "any", about, needed)


def _rules() -> Iterable[str]:
    from route3d.standards.rules import NAMES

    return NAMES


# --- what pydantic knows of a field -------------------------------------------------------------


def _fields(model: type[BaseModel]) -> Iterator[tuple[str, FieldInfo]]:
    for name, field in model.model_fields.items():
        yield field.alias or name, field


def _kind(field: FieldInfo) -> tuple[Any, list[Any]]:
    """The type of a field that is given, and what annotates it."""
    kind, inside = _plain(field.annotation)
    return kind, [*field.metadata, *inside]


def _plain(kind: Any) -> tuple[Any, list[Any]]:
    """A type without None and without annotations, and these."""
    metadata: list[Any] = []
    while True:
        if get_origin(kind) is Annotated:
            kind, *marks = get_args(kind)
            metadata += marks
        elif type(None) in get_args(kind):
            kind = next(a for a in get_args(kind) if a is not type(None))
        else:
            return kind, metadata


def _table(kind: Any) -> type[BaseModel] | None:
    return kind if isinstance(kind, type) and issubclass(kind, BaseModel) else None


def _spoken(key: str) -> str:
    return key.replace("_", " ")


def folded(header: str) -> str:
    """A header as headers are compared: lower case, one space between words."""
    return " ".join(header.replace("_", " ").split()).lower()


_HEADER = re.compile(r"(.*?)\s*[(\[]([^()\[\]]*)[)\]]\s*")


def header_and_unit(text: str) -> tuple[str, str]:
    """A header without its unit, as it is compared, and the unit.

    >>> header_and_unit("Diameter (in)")
    ('diameter', 'in')
    """
    found = _HEADER.fullmatch(" ".join(text.split()))
    return (folded(found[1]), found[2].strip()) if found else (folded(text), "")
