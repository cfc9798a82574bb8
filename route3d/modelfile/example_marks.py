"""The tables of a model file that are marked ``example = true``."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from route3d.model.examples import WHOLE_FILE
from route3d.modelfile.toml_positions import KeyPath

MARK = "example"


def example_tables(data: dict[str, Any]) -> tuple[str, ...]:
    """Dotted names of the marked tables in the order of the file; "" for the file as a whole.

    A run is named as people name it, ``run.F1``, and so is a bank, by its run.
    """
    return tuple(dict.fromkeys(_marked(data, ())))


def _marked(value: object, path: KeyPath) -> Iterator[str]:
    if isinstance(value, dict):
        if value.get(MARK) is True:
            yield _spoken(path)
        for key, entry in value.items():
            yield from _marked(entry, (*path, key))
    elif isinstance(value, list):
        for i, entry in enumerate(value):
            name = _name(path, entry)
            yield from _marked(entry, (*path, i if name is None else name))


def _spoken(path: KeyPath) -> str:
    """The name of a table as people say it, without the quotes of the file."""
    parts = (f"[{part}]" if isinstance(part, int) else f".{part}" for part in path)
    return "".join(parts).removeprefix(".") or WHOLE_FILE


def _name(path: KeyPath, entry: object) -> str | None:
    """The name of a run, of a bank's run or of a room, which says more than its number."""
    key = {"run": "name", "bank": "run", "room": "name"}.get(str(path[-1]) if path else "", "")
    name = entry.get(key) if isinstance(entry, dict) and key else None
    return name if isinstance(name, str) else None
