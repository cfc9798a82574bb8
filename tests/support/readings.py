"""Route files read from text, as tests give it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from route3d.formats.exchange import ImportedRoutes, ReadOptions

Read = Callable[..., ImportedRoutes]


def reading_of(file: Path, reader: Callable[[Path, ReadOptions], ImportedRoutes]) -> Read:
    """A call that writes its text to ``file`` and reads that, with the options of a reading."""

    def read(text: str | bytes, **options: object) -> ImportedRoutes:
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return reader(file, ReadOptions(**options))  # type: ignore[arg-type]

    return read
