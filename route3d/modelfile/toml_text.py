"""The data of a model file as TOML text, laid out as people write it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from route3d.modelfile.schema import ModelEntry
from route3d.modelfile.toml_edits import toml_key, toml_value


def toml_text(data: Mapping[str, Any], note: str = "") -> str:
    """The text of a model file with this data: a table for each part, a line for each point.

    ``note`` is a comment above it. All top keys must be of a model file.
    """
    lines = [f"# {note}", ""] if note else []
    single = {k: v for k, v in data.items() if not _is_table(v)}
    order = list(ModelEntry.model_fields)
    lines += _keys({k: single[k] for k in sorted(single, key=order.index)})
    for key, value in sorted(data.items(), key=lambda item: order.index(item[0])):
        for header, table in _tables(key, value):
            lines += ["", header, *_keys(table)]
    return "\n".join(lines) + "\n"


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or _is_rows(value)


def _is_rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)


def _tables(key: str, value: Any) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Each table of one key with its header."""
    if _is_rows(value):
        yield from ((f"[[{toml_key(key)}]]", entry) for entry in value)
    elif isinstance(value, dict):
        if value and all(isinstance(v, dict) for v in value.values()):
            yield from ((f"[{toml_key(key)}.{toml_key(n)}]", entry) for n, entry in value.items())
        else:
            yield f"[{toml_key(key)}]", value


def _keys(table: Mapping[str, Any]) -> Iterator[str]:
    """A line for each key; of a list of tables or texts a line for each of them."""
    for key, value in table.items():
        if _is_rows(value) or (isinstance(value, list) and key == "legs"):
            yield f"{toml_key(key)} = ["
            yield from (f"  {toml_value(entry)}," for entry in value)
            yield "]"
        else:
            yield f"{toml_key(key)} = {toml_value(value)}"
