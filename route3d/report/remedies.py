"""What would make a run pass, in words, the same on every surface, and as plain data."""

from __future__ import annotations

import math
import shlex
from dataclasses import asdict, dataclass, fields
from itertools import groupby
from typing import TYPE_CHECKING, Any

from rich.console import RenderableType

from route3d.model.conduit import Conduit
from route3d.planning.result import RunResult
from route3d.quantities import QUANTITIES
from route3d.report.layout import paragraph
from route3d.report.words import sentence
from route3d.units import render, show

if TYPE_CHECKING:
    from route3d.planning.remedies.edits import Edit
    from route3d.planning.remedies.remedy import Advice, Remedy


@dataclass(frozen=True, slots=True)
class RemedyLine:
    """One remedy in words: its ``number``, what it takes, ``what`` to do, and what comes of it.

    ``caution`` forbids a stop that a restart would not pass, ``left`` names what still stops the
    run; both are empty where there is nothing to say.
    """

    number: int
    cost_class: str
    what: str
    comes_of_it: str
    caution: str
    left: str


@dataclass(frozen=True, slots=True)
class RemedyGroup:
    """Remedies of one cost class that follow each other; ``rank`` 0 is the cheapest class."""

    rank: int
    cost_class: str
    lines: tuple[RemedyLine, ...]


@dataclass(frozen=True, slots=True)
class RemedyList:
    """The list of a run in words, for whatever sets it out; all empty where nothing stops the run.

    ``title`` says what the list is and ``aim`` what it aims at, both empty where nothing is listed;
    ``why_none`` says what was not reached. ``foot`` says what was solved and ends with what the
    ``command`` is for; there is none where the model file holds another run.
    """

    title: str = ""
    aim: str = ""
    why_none: str = ""
    groups: tuple[RemedyGroup, ...] = ()
    foot: str = ""
    command: str = ""

    @property
    def lines(self) -> tuple[RemedyLine, ...]:
        """Every remedy in its order."""
        return tuple(line for group in self.groups for line in group.lines)


def remedy_list(result: RunResult, system: str, *, edited: bool = False) -> RemedyList:
    """The list of a run; ``edited`` where the model file holds another run than this one."""
    advice = result.advice
    if not advice:
        return RemedyList()
    from route3d.planning.remedies.remedy import COST_CLASSES

    why_none = render(advice.why_none, system)
    if not advice.remedies:
        return RemedyList(why_none=why_none)
    groups = groupby(_lines(advice, system), lambda line: line.cost_class)
    passes = any(remedy.passes for remedy in advice.remedies)
    return RemedyList(
        "Remedies, least effort first" if passes else "Closest remedies",
        f"target: {show(advice.margin, 'percent', 'SI')} of each load limit, friction margin "
        f"{advice.friction_margin:g}",
        why_none,
        tuple(RemedyGroup(COST_CLASSES.index(name), name, tuple(each)) for name, each in groups),
        _foot(advice, edited=edited),
        "" if edited else apply_command(result.run.name),
    )


def _lines(advice: Advice, system: str) -> tuple[RemedyLine, ...]:
    return tuple(
        RemedyLine(
            number,
            remedy.cost_class,
            sentence(render(remedy.what, system)),
            _comes_of_it(remedy, system),
            _caution(remedy, system),
            _left(remedy, system),
        )
        for number, remedy in enumerate(advice.remedies, 1)
    )


def apply_command(run: str) -> str:
    """The command that writes the model with a remedy of the run of that name carried out."""
    return f"route3d tension MODEL --run {shlex.quote(run)} --apply N OUT.toml"


def _foot(advice: Advice, *, edited: bool) -> str:
    """What was solved again, how the list is ranked, and how a remedy is carried out."""
    solved = "all checks and the plan"
    if not all(r.planned for r in advice.remedies):
        solved = "all checks (no plan: the run has no machine or no rope)"
    write = "To write remedy N to a model file:"
    if edited:  # the file holds another run, whose remedies are others
        write = "They apply to the run as edited here, not to the run in the model file."
    more = f"{advice.left_out} more not listed. " if advice.left_out else ""
    return (
        f"{more}Each was recalculated with {solved}. Ranked by work and purchases; prices not "
        f"included. {write}"
    )


def _comes_of_it(remedy: Remedy, system: str) -> str:
    factor = remedy.friction_margin
    margin = "no limit reached at any friction"
    if factor is None:
        margin = "a limit is exceeded even without friction"
    elif math.isfinite(factor):
        margin = f"friction margin {factor:.2f} x"
    return f"Then {render(remedy.outcome, system)}; {margin}."


def _caution(remedy: Remedy, system: str) -> str:
    """Where stops are allowed, where a restart elsewhere exceeds a limit and the pull does not."""
    if remedy.restart <= 1.0 + 1e-9 or remedy.utilization > 1.0 + 1e-9:
        return ""
    restart = show(remedy.restart, "percent", system)
    return (
        f"Stop only where the plan allows: elsewhere a restart raises {remedy.restart_limit} "
        f"to {restart}."
    )


def _left(remedy: Remedy, system: str) -> str:
    """What still stops the run, each rule once with its first place."""
    first = {f.rule: f for f in reversed(remedy.still_stops)}
    ordered = dict.fromkeys(f.rule for f in remedy.still_stops)
    named = [f"{rule} ({render(first[rule].place, system)})" for rule in ordered]
    return f"Still stops: {', '.join(named)}." if named else ""


# --- terminal -------------------------------------------------------------------------------------


def advice_report(run: RunResult, system: str) -> list[RenderableType]:
    """The list of a run for a terminal; nothing where nothing stops it."""
    return list_report(remedy_list(run, system))


def list_report(told: RemedyList) -> list[RenderableType]:
    """A list for a terminal."""
    parts: list[RenderableType] = []
    if told.title:
        parts.append(paragraph(f"{told.title} ({told.aim}):", style="bold", before=1))
    if told.why_none:
        parts.append(paragraph(told.why_none, style="yellow"))
    for group in told.groups:
        parts.append(paragraph(f"{group.cost_class}:", style="dim", indent=2))
        for line in group.lines:
            parts.append(paragraph(f"{line.number}. {line.what}", indent=4))
            parts.append(paragraph(line.comes_of_it, style="dim", indent=7))
            if line.caution:
                parts.append(paragraph(line.caution, style="yellow", indent=7))
            if line.left:
                parts.append(paragraph(line.left, style="bold red", indent=7))
    if told.foot:
        parts.append(paragraph(f"{told.foot} {told.command}".strip(), style="dim", indent=2))
    return parts


# --- data -----------------------------------------------------------------------------------------


def list_data(told: RemedyList) -> dict[str, Any]:
    """A list as plain data, for a page or a sheet: the words of it, none of them markup."""
    return {**asdict(told), "aim": sentence(told.aim) if told.aim else ""}


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
                {"rule": f.rule, "where": render(f.place, "SI")} for f in remedy.still_stops
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
    from route3d.planning.remedies.edits import SplitInStages, Tackle

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
