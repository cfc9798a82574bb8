"""An explanation for a terminal: its text, formulas and symbols, then each run with its figures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Group, RenderableType

from route3d.report.explanations import EXPLANATIONS
from route3d.report.layout import paragraph, table


def explain_report(told: Sequence[dict[str, Any]], banner: str = "") -> RenderableType:
    """What ``worked.explanation`` gave, for one run or for several; ``banner`` over it."""
    first = told[0]
    parts: list[RenderableType] = [paragraph(banner, style="bold")] if banner else []
    parts += [paragraph(first["title"], style="bold"), paragraph(first["text"])]
    if first["formulas"]:
        parts.append(paragraph("Formulas", style="bold", before=1))
        parts += [paragraph(formula["plain"], indent=4) for formula in first["formulas"]]
    if first["symbols"]:
        rows = [[symbol["plain"], symbol["meaning"]] for symbol in first["symbols"]]
        parts += [paragraph(""), table(["symbol", "meaning"], rows)]
    if first["validity"]:
        parts.append(paragraph(f"Valid: {first['validity']}", before=1))
    section = f" Theory, section {first['section']}." if first["section"] else ""
    parts.append(paragraph(f"Source: {first['source']}.{section}", before=1))
    for each in told:
        parts += _figures(each)
    return Group(*parts)


def _figures(each: dict[str, Any]) -> list[RenderableType]:
    """One run with its figures; nothing without a model file."""
    if each["run"] is None:
        return []
    parts: list[RenderableType] = [paragraph(f"Run {each['run']}", style="bold", before=1)]
    for found in each["worked"]:
        parts.append(paragraph(found["where"]))
        parts += [paragraph(formula["plain"], indent=4) for formula in found["formulas"]]
        if found["words"]:
            parts.append(paragraph(found["words"], indent=4))
    if each["findings"]:
        heads = ["severity", "rule", "where", "measured", "limit"]
        rows = [[f[key] for key in heads] for f in each["findings"]]
        parts.append(table(heads, rows))
    if not each["worked"] and not each["findings"]:
        parts.append(paragraph("no such figure in this run"))
    return parts


def list_report() -> RenderableType:
    """Everything that can be explained."""
    rows = [[entry.key, entry.title] for entry in EXPLANATIONS]
    return Group(table(["route3d explain ...", ""], rows))
