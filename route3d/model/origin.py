"""Where each figure of a job is from, and what its documents are headed with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from route3d.standards.source import Fact, Source

Figures: TypeAlias = tuple[tuple[str, Fact], ...]
"""Figures of a record that a table gave, by their keys in the model file."""

OriginKind = Literal["given", "example", "table", "history", "default", "assumed"]
"""Typed in the file; typed there but marked as an example; from a built-in table; learned from
one's own past pulls; the documented default of a key that was left out; assumed because nothing
better is known."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where one figure of a job is from.

    Parameters
    ----------
    kind : {"given", "example", "table", "history", "default", "assumed"}
        See ``OriginKind``.
    source : Source, optional
        The publication of a figure from a table, with its status.
    words : str
        What else a reader must know, such as the stock entry that was named.
    """

    kind: OriginKind
    source: Source | None = None
    words: str = ""


FIGURE_NAMES: Mapping[str, str] = {
    "inner_diameter": "inner diameter",
    "outer_diameter": "outer diameter",
    "conductor.area": "conductor",
    "sidewall_limit": "sidewall limit",
    "bend_multiple": "bend radius",
    "rated_load": "rated load",
    "breaking_strength": "breaking strength",
    "gears": "line pull",
}
"""Keys of figures in words, where those are not the same."""


def from_tables(record: Any) -> Figures:
    """The figures of a cable, conduit, rope or machine that are still those of a table.

    A remedy may have changed one since the record was read.
    """
    return tuple((key, fact) for key, fact in record.tables if _held(record, key) == fact.value)


def _held(record: Any, key: str) -> Any:
    if key == "gears":
        return record.line_pull
    for part in key.split("."):
        record = getattr(record, part)
    return record


def says(record: Any, kind: str, key: str) -> str:
    """Who says a figure: "given for rope line", or the stock entry and what its table cites."""
    for named, fact in from_tables(record):
        if named == key:
            return f'{kind} {record.name}, stock "{record.stock}": {fact.source}'
    return f"given for {kind} {record.name}"


def as_shown(key: str, fact: Fact) -> tuple[float, str]:
    """The figure of a key as a Phrase takes it: friction and strain to three decimals."""
    return fact.value, "factor" if key in ("stretch", "friction") else fact.quantity


@dataclass(frozen=True, slots=True)
class Revision:
    """One line of a revision list."""

    mark: str
    date: str = ""
    what: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """What calculations, sheets and drawings of a job are headed and signed with."""

    job: str = ""
    client: str = ""
    number: str = ""
    revision: str = ""
    date: str = ""
    made: str = ""
    checked: str = ""
    approved: str = ""
    revisions: tuple[Revision, ...] = ()
