"""The pull plan of every run for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from route3d.model.job import Job
from route3d.planning.clearance.near import MeshExtents
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import CAUTIONS
from route3d.report.block import Block
from route3d.report.findings import findings_table, not_judged_parts
from route3d.report.layout import heading, paragraph, severity_style, table
from route3d.report.plan_blocks import place_heading, plan_blocks
from route3d.report.plan_steps import NO_STEPS, allowance_words, steps
from route3d.report.remedies import list_report
from route3d.report.table_values import table_values


def plan_report(
    job: Job,
    plans: Sequence[Plan],
    system: str,
    above: Sequence[RenderableType] = (),
    site: Sequence[MeshExtents] = (),
) -> RenderableType:
    """The plans of a job, one after another; ``above`` comes between the title and them.

    Of the ``site`` the meshes are named among which no machine could be placed.
    """
    parts: list[RenderableType] = [heading(job), *above, *not_judged_parts(site, system)]
    for plan in plans:
        parts += _plan(plan, system)
    parts += table_values((plan.pull.run for plan in plans), system)
    parts += [paragraph(text, style="dim") for text in CAUTIONS]
    return Group(*parts)


def _plan(plan: Plan, system: str) -> list[RenderableType]:
    parts: list[RenderableType] = [paragraph(place_heading(plan), style="bold", before=1)]
    for block in plan_blocks(plan, system):
        parts += _block(block, plan.stops)
    serious = [f for f in plan.all_findings if f.severity in ("stop", "caution")]
    if serious:
        parts.append(paragraph("Findings", style="bold", before=1))
        parts += findings_table(serious, system, sources=False)
    parts.append(paragraph("Steps", style="bold", before=1))
    if plan.stops:
        parts.append(paragraph(NO_STEPS, style="bold red"))
    for number, (text, hold) in enumerate(steps(plan, system), 1):
        parts.append(paragraph(f"{number:>2}. {'HOLD ' if hold else ''}{text}", indent=2))
    parts.append(paragraph(f"Allowances: {allowance_words(plan, system)}.", before=1))
    parts.append(paragraph(f"Basis: {plan.pull.practice.basis_words}."))
    return parts


def _block(block: Block, stops: bool) -> list[RenderableType]:
    if block.remedies:
        return list_report(block.remedies)
    parts: list[RenderableType] = [paragraph(block.title, style="bold", before=1)]
    alarm = "bold red" if stops and block.title == "Decision" else ""
    parts += [
        paragraph(words, style=alarm if i == 0 else "") for i, words in enumerate(block.words)
    ]
    if block.rows:
        stop = severity_style("stop")
        rows = [
            [Text(cell, style=stop) for cell in row] if i in block.heavy else list(row)
            for i, row in enumerate(block.rows)
        ]
        parts.append(table(block.heads, rows, numbers=block.numbers))
    parts += [paragraph(note, style="dim") for note in block.notes]
    return parts
