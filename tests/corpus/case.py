"""One file of the corpus: who writes it, and what an independent reading of it says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from route3d.formats.exchange import ImportedRoutes, ReadOptions


@dataclass(frozen=True, slots=True)
class Case:
    """A file that ``write`` makes, and a ``check`` of what ``read_routes`` makes of it.

    ``name`` is one line; ``suffix`` the ending of the file. ``options`` are those of the reading.
    """

    name: str
    suffix: str
    write: Callable[[Path], None]
    check: Callable[[ImportedRoutes], None]
    options: ReadOptions = field(default_factory=ReadOptions)
