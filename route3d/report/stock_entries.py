"""Stock entries by name for people: what each fills, how well it is known, and lines to paste."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rich.console import Group, RenderableType

from route3d.model.origin import FIGURE_NAMES, as_shown
from route3d.phrase import say
from route3d.report.layout import paragraph, table
from route3d.standards.source import Fact
from route3d.standards.stock import (
    Kind,
    cable_named,
    conduit_named,
    machine_named,
    rope_named,
)
from route3d.units import render

MOST_NAMED = 10
"""Entries shown before the rows of the tables; more are counted."""
_TABLES = {"cable": "cable.phase", "conduit": "conduit.duct", "rope": "rope.line"}


def stock_report(
    text: str,
    named: Sequence[tuple[Kind, str]],
    nearest: Sequence[str],
    *,
    everything: bool = False,
) -> RenderableType:
    """Entries that hold the words ``text``, best known first, or that there is none."""
    if not named:
        listed = "; ".join(f'"{name}"' for name in nearest)
        return Group(
            paragraph(f'No stock entry for "{text}"; nearest: {listed}.', style="bold"),
            paragraph(""),
        )
    shown = named if everything else named[:MOST_NAMED]
    kind, name = named[0]
    parts: list[RenderableType] = [
        paragraph("Stock entries, best known first", style="bold"),
        *(_one_kind(k, [n for kind, n in shown if kind == k]) for k in dict(shown)),
    ]
    if more := len(named) - len(shown):
        parts.append(paragraph(f"{more} more stock entries: --all shows them, more words narrow."))
    parts.append(paragraph("Paste into the model file, for the first of them:"))
    parts += [paragraph(line, indent=2) for line in lines_to_paste(kind, name)]
    return Group(*parts, paragraph(""))


def _one_kind(kind: Kind, names: Sequence[str]) -> RenderableType:
    """Entries of one kind, a row for each; what the tables do not have is a dash."""
    every = [facts_of(kind, name) for name in names]
    keys = list(dict.fromkeys(key for facts in every for key in facts if key != "conductor.area"))
    if kind == "cable":  # in the order of the model file, missing ones too
        keys = ["diameter", "weight", "sidewall_limit", "bend_multiple"]
    rows = [
        (name, *(_shown(kind, name, key, facts.get(key)) for key in keys), _known(facts))
        for name, facts in zip(names, every, strict=True)
    ]
    heads = (kind, *(FIGURE_NAMES.get(key, key) for key in keys), "confidence")
    return table(heads, rows, numbers=range(1, len(keys) + 1))


def _shown(kind: Kind, name: str, key: str, fact: Fact | None) -> str:
    """A figure in the units of its table."""
    if fact is None:
        return "-"
    if key == "bend_multiple":
        return f"{fact.value:g} x"
    metric = "mm²" in name or " kN" in name or _metric_conduit(kind, name)
    return render(say("{}", as_shown(key, fact)), "SI" if metric else "US")


def lines_to_paste(kind: Kind, name: str) -> tuple[str, ...]:
    """The table of a model file that names the entry."""
    return (f"[{_TABLES.get(kind, 'machine.puller')}]", f'stock = "{name}"')


def facts_of(kind: Kind, name: str) -> Mapping[str, Fact]:
    """What an entry fills, by the keys of the model file."""
    if kind == "cable":
        return cable_named(name).facts
    if kind == "rope":
        return rope_named(name).facts
    if kind == "machine":
        return {"gears": machine_named(name).line_pull}
    size = conduit_named(name)
    found = {"inner_diameter": Fact(size.inner_diameter, "diameter", size.source, "bore")}
    if size.outer_diameter is not None and size.outer_source is not None:
        outer = Fact(size.outer_diameter, "diameter", size.outer_source, "outside")
        found["outer_diameter"] = outer
    return found


def _metric_conduit(kind: Kind, name: str) -> bool:
    if kind != "conduit":
        return False
    from route3d.standards.conduits import EUROPEAN_DUCTS

    type_ = name.split(" ")[0]
    return type_.startswith("EN-") or type_ in EUROPEAN_DUCTS


def _known(facts: Mapping[str, Fact]) -> str:
    """How well the figures are known: "read", or what is not, the area of a conductor aside."""
    weak: dict[str, list[str]] = {}
    for key, fact in facts.items():
        if fact.source.words and key != "conductor.area":
            weak.setdefault(fact.source.words, []).append(FIGURE_NAMES.get(key, key))
    return "; ".join(f"{', '.join(keys)} {words}" for words, keys in weak.items()) or "read"


def stock_data(named: Sequence[tuple[Kind, str]]) -> list[dict[str, Any]]:
    """Entries as plain data, in SI: figures with their sources, and the lines to paste."""
    return [
        {
            "kind": kind,
            "name": name,
            "values": {
                key: {
                    "value": fact.value,
                    "quantity": fact.quantity,
                    "source": str(fact.source),
                    "status": fact.source.status.value,
                }
                for key, fact in facts_of(kind, name).items()
            },
            "to_type": "\n".join(lines_to_paste(kind, name)),
        }
        for kind, name in named
    ]
