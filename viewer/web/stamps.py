"""What tells one state of a file from another."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Stamp:
    """Time and size of a file, and a hash of its bytes."""

    time: int = -1
    size: int = -1
    digest: str = ""


def stamp_of(path: Path) -> Stamp:
    """The stamp of a file; an empty one where it cannot be read."""
    try:
        state = path.stat()
        return Stamp(state.st_mtime_ns, state.st_size, _digest(path))
    except OSError:
        return Stamp()


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def changed_stamp(path: Path, known: Stamp) -> Stamp | None:
    """The new stamp of a file whose bytes have changed, else None; cheap while nothing has."""
    try:
        state = path.stat()
        if (state.st_mtime_ns, state.st_size) == (known.time, known.size):
            return None
    except OSError:
        return Stamp() if known != Stamp() else None
    now = stamp_of(path)
    return None if now.digest == known.digest else now
