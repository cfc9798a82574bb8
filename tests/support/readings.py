"""Route files read from text, as tests give it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from route3d.files.exchange import Reading, ReadOptions

Read = Callable[..., Reading]


def reading_of(file: Path, reader: Callable[[Path, ReadOptions], Reading]) -> Read:
    """A call that writes its text to ``file`` and reads that, with the options of a reading."""

    def read(text: str | bytes, **options: object) -> Reading:
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return reader(file, ReadOptions(**options))  # type: ignore[arg-type]

    return read
