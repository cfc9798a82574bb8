"""What would make a run pass, in words, the same on every surface, and as plain data."""

from __future__ import annotations

import math
import shlex
from collections.abc import Iterator
from dataclasses import dataclass, fields
from itertools import groupby
from typing import Any

from rich.console import RenderableType

from route3d.model.conduit import Conduit
from route3d.planning.remedies.edits import Edit, SplitInStages, Tackle
from route3d.planning.remedies.remedy import Advice, Remedy
from route3d.planning.result import RunResult
from route3d.quantities import QUANTITIES
from route3d.report.layout import paragraph
from route3d.report.words import sentence, where_of
from route3d.units import render, show

HELP = "What would help"
"""The heading that the list of a run has on a sheet and on the pages."""


@dataclass(frozen=True, slots=True)
class RemedyLine:
    """One remedy in words: its ``number``, what it takes, ``what`` to do, and what comes of it.

    ``left`` names what still stops the run, empty where nothing does.
    """

    number: int
    cost_class: str
    what: str
    comes_of_it: str
    left: str


def remedy_heading(advice: Advice) -> str:
    """What the list is, and what it aims at."""
    aim = f"{show(advice.margin, 'percent', 'SI')} of each load limit"
    what = "What would make it pass, least effort first"
    if not any(r.passes for r in advice.remedies):
        what = "What comes closest"
    return f"{what} (aims at {aim} and a friction margin of {advice.friction_margin:g}):"


def remedy_lines(advice: Advice, system: str) -> tuple[RemedyLine, ...]:
    """Every remedy in its order."""
    return tuple(
        RemedyLine(
            number,
            remedy.cost_class,
            sentence(render(remedy.what, system)),
            _comes_of_it(remedy, system),
            _left(remedy, system),
        )
        for number, remedy in enumerate(advice.remedies, 1)
    )


def apply_command(run: str) -> str:
    """The command that writes the model with a remedy of the run of that name carried out."""
    return f"route3d tension MODEL --run {shlex.quote(run)} --apply N OUT.toml"


def remedy_foot(result: RunResult, *, edited: bool = False) -> str:
    """What was solved again, and how a remedy is carried out; no way where the run is ``edited``.

    The model file then holds another run, whose remedies are others.
    """
    advice = result.advice
    if not advice or not advice.remedies:
        return ""
    solved = "all checks and the plan"
    if not all(r.planned for r in advice.remedies):
        solved = "all checks (no plan: the run names no machine or no rope)"
    write = f"To write remedy N into a model file: {apply_command(result.run.name)}."
    if edited:
        write = "They are for the run as edited here, not as the model file has it."
    more = f"{advice.left_out} more are not listed. " if advice.left_out else ""
    return (
        f"{more}Each was solved again with {solved}. {write} Ranked by what must be done and "
        "bought; prices are not included."
    )


def _comes_of_it(remedy: Remedy, system: str) -> str:
    factor = remedy.friction_margin
    margin = "no friction reaches a limit"
    if factor is None:
        margin = "a limit is exceeded without any friction"
    elif math.isfinite(factor):
        margin = f"friction margin {factor:.2f} x"
    text = f"Then {render(remedy.outcome, system)}; {margin}"
    if remedy.restart > 1.0 + 1e-9 and remedy.utilization <= 1.0 + 1e-9:
        text += (
            f"; stop only where the plan says: elsewhere a restart takes {remedy.restart_limit} "
            f"to {show(remedy.restart, 'percent', system)}"
        )
    return text + "."


def _left(remedy: Remedy, system: str) -> str:
    """What still stops the run, each rule once with its first place."""
    first = {f.rule: f for f in reversed(remedy.still_stops)}
    ordered = dict.fromkeys(f.rule for f in remedy.still_stops)
    named = [f"{rule} ({where_of(first[rule], system)})" for rule in ordered]
    return f"Still stops: {', '.join(named)}." if named else ""


# --- terminal -------------------------------------------------------------------------------------


def advice_report(run: RunResult, system: str) -> list[RenderableType]:
    """The list of a run for a terminal; nothing where nothing stops it."""
    advice = run.advice
    if not advice:
        return []
    parts: list[RenderableType] = []
    if advice.remedies:
        parts.append(paragraph(remedy_heading(advice), style="bold", before=1))
    if advice.why_none:
        parts.append(paragraph(render(advice.why_none, system), style="yellow"))
    lines = remedy_lines(advice, system)
    for cost_class, group in groupby(lines, lambda line: line.cost_class):
        parts.append(paragraph(f"{cost_class}:", style="dim", indent=2))
        for line in group:
            parts.append(paragraph(f"{line.number}. {line.what}", indent=4))
            parts.append(paragraph(line.comes_of_it, style="dim", indent=7))
            if line.left:
                parts.append(paragraph(line.left, style="bold red", indent=7))
    foot = remedy_foot(run)
    return [*parts, paragraph(foot, style="dim", indent=2)] if foot else parts


def advice_words(result: RunResult, system: str, *, edited: bool = False) -> Iterator[str]:
    """The list of a run as paragraphs, for a sheet or a page; ``edited`` as in the foot."""
    advice = result.advice
    if not advice:
        return
    if advice.remedies:
        yield remedy_heading(advice)
    if advice.why_none:
        yield render(advice.why_none, system)
    for line in remedy_lines(advice, system):
        left = f" {line.left}" if line.left else ""
        yield f"{line.number}. {line.what} {line.comes_of_it}{left} ({line.cost_class})"
    if foot := remedy_foot(result, edited=edited):
        yield foot


# --- data -----------------------------------------------------------------------------------------


def remedies_data(advice: Advice | None) -> list[dict[str, Any]]:
    """The list for machines: text in SI, SI figures; empty where nothing stops the run."""
    return [
        {
            "number": number,
            "kind": remedy.kind,
            "what": render(remedy.what, "SI"),
            "outcome": render(remedy.outcome, "SI"),
            "change": [_edit_data(edit) for edit in remedy.edits],
            "utilization": remedy.utilization,
            "governing": remedy.governing,
            "restart_utilization": remedy.restart,
            "friction_margin": remedy.friction_margin,
            "cost_class": remedy.cost_class,
            "reaches_margin": remedy.reaches,
            "planned": remedy.planned,
            "still_stops": [
                {"rule": f.rule, "where": where_of(f, "SI")} for f in remedy.still_stops
            ],
        }
        for number, remedy in enumerate(advice.remedies if advice else (), 1)
    ]


_KINDS = {
    "BendRadius": "bend radius",
    "MovedPoint": "moved point",
    "NewPullPoint": "new pull point",
    "Opened": "access",
    "OtherFriction": "friction",
    "OtherConduit": "conduit",
    "OtherElbows": "elbows",
    "Tackle": "tackle",
    "Attachment": "attachment",
    "ReelTension": "reel tension",
    "PulledApart": "pulled apart",
    "SplitInStages": "stages",
}


_UNITS = {
    "radius": "m",
    "to": "m",
    "point": "m",
    "ends": "m",
    "force": "N",
    "reel_tension": "N",
    "cable_length": "m",
    "laid": "m",
}


def _edit_data(edit: Edit) -> dict[str, Any]:
    """One edit by its kind and its figures, SI; vertices are counted from 0."""
    data: dict[str, Any] = {"edit": _KINDS[type(edit).__name__]}
    if isinstance(edit, SplitInStages):
        keys = ("feed", "pull", "reel", "reel_tension", "cable_length", "laid")
        stages = [{_key(k): getattr(s, k) for k in keys} for s in edit.stages]
        return data | {"stages": stages}
    if isinstance(edit, Tackle):
        unit = QUANTITIES[edit.quantity].si
        where = {"table": edit.kind, "name": edit.name, "key": edit.key}
        return data | where | {f"value_{unit}" if unit else "value": edit.value}
    for field in fields(edit):
        value = getattr(edit, field.name)
        if isinstance(value, frozenset):
            value = sorted(value)
        elif isinstance(value, Conduit):
            value = {
                "name": value.name,
                "type": value.stock_type or None,
                "trade_size": value.trade_size or None,
                "inner_diameter_m": value.inner_diameter,
                "friction": value.friction,
            }
        data[_key(field.name)] = value
    return data


def _key(name: str) -> str:
    """The key of a figure, with its unit."""
    return f"{name}_{_UNITS[name]}" if name in _UNITS else name
