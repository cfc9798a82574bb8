"""Where each figure of a job is from, and what its documents are headed with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from route3d.standards.source import Fact, Source

Figures: TypeAlias = tuple[tuple[str, Fact], ...]
"""Figures of a record that a table gave, by their keys in the model file."""

OriginKind = Literal["given", "example", "table", "default", "assumed"]
"""Typed in the file; typed there but marked as an example; from a built-in table; the documented
default of a key that was left out; assumed because nothing better is known."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where one figure of a job is from.

    Parameters
    ----------
    kind : {"given", "example", "table", "default", "assumed"}
        See ``OriginKind``.
    source : Source, optional
        The publication of a figure from a table, with its status.
    words : str
        What else a reader must know, such as the stock entry that was named.
    """

    kind: OriginKind
    source: Source | None = None
    words: str = ""


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
