"""A library of past pulls: its list for a terminal, as plain data, and its friction as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from rich.console import Group, RenderableType

from route3d.report.layout import heading, paragraph, table
from route3d.spreadsheet import harmless
from route3d.units import show

_PULL = ("number", "added", "title", "run", "feed", "pull", "day", "bank")
_FRICTION = ("kind", "name", "jacket", "conduit", "value", "low", "high", "known", "why")
_Records = Sequence[Mapping[str, Any]]


def library_report(name: str, records: _Records, system: str) -> RenderableType:
    """One line for each record, oldest first."""
    if not records:
        return Group(heading(f"Library of past pulls, {name}"), paragraph("No record yet."))
    rows = [
        (
            str(record["number"]),
            record["day"] or "-",
            record["title"],
            record["run"],
            record["feed"],
            record["lubricant"]["product"] or "-",
            show(record["peak"]["load_N"], "force", system) if record["peak"] else "-",
            "yes" if record["stop_passed"] else "no",
            ", ".join(
                f"{f['name']} {f['value']:.2f}"
                for f in record["friction"]
                if f["kind"] == "friction" and f["known"]
            )
            or "-",
        )
        for record in records
    ]
    heads = (
        "no.", "date", "job", "run", "fed from", "lubricant", "peak", "above Stop",
        "friction found",
    )  # fmt: skip
    body = table(heads, rows, numbers={0, 6})
    return Group(heading(f"Library of past pulls, {name}"), body)


def library_data(records: _Records) -> dict[str, Any]:
    """The list as plain data; ``--export FILE.json`` has the whole records."""
    kept = (*_PULL, "lubricant", "temperature_K", "peak", "stop_passed", "friction", "sha256")
    return {"records": [{key: record[key] for key in kept} for record in records]}


def friction_csv(records: _Records) -> str:
    """One line for each figure that a pull told, SI."""
    out = io.StringIO()
    lines = csv.writer(out, lineterminator="\n")
    lines.writerow((*_PULL, "lubricant", "temperature_K", *_FRICTION))
    for record in records:
        pull = [record[key] for key in _PULL]
        pull += [record["lubricant"]["product"], record["temperature_K"]]
        for found in record["friction"]:
            row = [*pull, *(found[key] for key in _FRICTION)]
            lines.writerow([harmless(x) if isinstance(x, str) else x for x in row])
    return out.getvalue()
