"""What of a job came from the built-in tables by name, and how well it is known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from rich.console import RenderableType

from route3d.model.conduit import Conduit
from route3d.model.origin import FIGURE_NAMES, Figures, Origin, as_shown, from_tables
from route3d.model.run import Run
from route3d.phrase import say
from route3d.report.layout import paragraph, table
from route3d.standards.source import Fact
from route3d.units import render, show


def table_values(runs: Iterable[Run], system: str) -> list[RenderableType]:
    """The figures of stock entries, of friction by name and of past pulls; nothing without any."""
    rows: list[tuple[str, str, str]] = []
    entries = []
    for kind, record in _records(runs):
        figures = _by_name(record)
        if record.stock:
            entries.append(f'{kind} {record.name} is stock "{record.stock}".')
        for key, fact in figures:
            value = _shown(record, key, fact, system)
            label = f"{kind} {record.name}: {FIGURE_NAMES.get(key, key)}"
            known = fact.source.words
            source = ", ".join(dict.fromkeys(p for p in (fact.source.title, fact.source.cite) if p))
            rows.append((label, value, f"{source}; {known or 'read'}"))
        if isinstance(record, Conduit) and record.friction_pulls is not None:
            label = f"conduit {record.name}: {FIGURE_NAMES.get('friction', 'friction')}"
            rows.append((label, show(record.friction, "ratio", system), record.friction_source))
    if not rows:
        return []
    pulls = any(words.startswith("history: ") for _, _, words in rows)
    return [
        paragraph(
            "Figures from tables and past pulls" if pulls else "Figures from tables",
            style="bold",
            before=1,
        ),
        *(paragraph(line) for line in entries),
        table(("value", "used", "source; how it is known"), rows, numbers=(1,)),
    ]


def _shown(record: Any, key: str, fact: Fact, system: str) -> str:
    """The figure as it is used: a conductor by its size, a bend radius by its multiple."""
    if key == "conductor.area":
        return str(record.conductor.size)
    if key == "bend_multiple":
        return f"{fact.value:g} x diameter"
    return render(say("{}", as_shown(key, fact)), system)


def _records(runs: Iterable[Run]) -> Iterator[tuple[str, Any]]:
    """Cables, conduits, ropes and machines of the runs, each once."""
    every: dict[tuple[str, str], Any] = {}
    for run in runs:
        machines = (run.machine, *(end.machine for end in run.ends))
        for kind, records in (
            ("cable", [cable for cable, _ in run.cables.items]),
            ("conduit", run.route.conduits),
            ("rope", [run.rope]),
            ("machine", machines),
        ):
            every |= {(kind, r.name): r for r in records if r is not None}
    yield from ((kind, record) for (kind, _), record in every.items())


def _by_name(record: Any) -> Figures:
    """Its figures from tables, but for dimensions of a conduit that gives type and trade size."""
    return tuple(
        (key, fact) for key, fact in from_tables(record) if record.stock or key == "friction"
    )


def origins_data(origins: Mapping[str, Origin]) -> dict[str, dict[str, str | None]]:
    """Where each figure of a job is from, as plain data by its key in the file."""
    return {
        key: {
            "kind": origin.kind,
            "source": None if origin.source is None else str(origin.source),
            "status": None if origin.source is None else origin.source.status.value,
            "words": origin.words or None,
        }
        for key, origin in origins.items()
    }
