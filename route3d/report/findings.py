"""The findings of a job as text: worst first, each with its action and its source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest

from rich.cells import cell_len, set_cell_size
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.text import Text

from route3d.checks.finding import Finding
from route3d.planning.clearance.near import MeshExtents
from route3d.planning.result import CAUTIONS, JobResult, RunResult
from route3d.planning.shop import all_findings
from route3d.report.layout import WIDEST, heading, paragraph, severity_style, shrunk, table
from route3d.report.remedies import advice_report
from route3d.report.table_values import table_values
from route3d.report.words import NOT_HERE, limit_of, measured, sentence
from route3d.units import render, show

_HEADINGS = ("severity", "rule", "where", "measured", "limit")
# Fix and source stand below each finding, this far in: under the rule, clear of the severity.
_INDENT = 10
# Rule and place are not made narrower than this; the longest of their usual words fits.
_NARROW = 14

_NO_CLASHES = "Read for size and place only. Run route3d clearance for clashes with them."


def check_report(
    result: JobResult,
    system: str,
    *,
    passed: bool = False,
    above: Sequence[RenderableType] = (),
) -> RenderableType:
    """All findings of a job for a terminal; with ``passed`` those that passed as well.

    ``above`` comes between the title and the runs.
    """
    site = site_parts(result.site, system, after=_NO_CLASHES)
    parts: list[RenderableType] = [heading(result.job), *above, *site]
    for run in result.runs:
        parts += _run_report(run, system, passed)
    parts += table_values((r.run for r in result.runs), system)
    parts.append(paragraph("Basis: " + result.job.practice.basis_words + ".", before=1))
    parts.append(paragraph(NOT_HERE))
    parts += [paragraph(text, style="dim") for text in CAUTIONS]
    return Group(*parts)


def site_parts(
    site: Sequence[MeshExtents], system: str, *, after: str = ""
) -> list[RenderableType]:
    """Where the building meshes lie, what of their files is left out, and which are not judged.

    ``after`` is a sentence below the table.
    """
    if not site:
        return []
    heads = ("mesh", "units", "x", "y", "z", "from the\nroutes", "size and\nplace")
    rows = [_mesh_row(mesh, system) for mesh in site]
    parts: list[RenderableType] = [
        paragraph("Building meshes, as read:", style="bold", before=1),
        table(heads, rows, numbers=(5,)),
    ]
    if after:
        parts.append(paragraph(after))
    for mesh in site:
        if mesh.left_out:
            left = ", ".join(mesh.left_out)
            parts.append(paragraph(Text(f"{mesh.name}, left out: {left}."), style="dim"))
    return [*parts, *not_judged_parts(site, system)]


def not_judged_parts(site: Sequence[MeshExtents], system: str) -> list[RenderableType]:
    """The findings of the meshes that are not judged; nothing where all are."""
    stops = [mesh.finding for mesh in site if mesh.finding is not None]
    if not stops:
        return []
    said = "Building meshes not judged, and left out when machines are placed:"
    return [paragraph(said, style="bold red", before=1), *findings_table(stops, system)]


def _mesh_row(mesh: MeshExtents, system: str) -> list[str | Text]:
    spans = [
        f"{show(low, 'length', system).split()[0]} to {show(high, 'length', system)}"
        for low, high in zip(mesh.low.tolist(), mesh.high.tolist(), strict=True)
    ]
    away = show(mesh.distance, "length", system)
    word, severity = "plausible", "ok"
    if mesh.small:
        word, severity = "small: verify units", "caution"
    if not mesh.judged:
        word, severity = "not judged", "stop"
    verdict = Text(word, style="" if severity == "ok" else severity_style(severity))
    return [mesh.name, mesh.units, *spans, away, verdict]


def _run_report(run: RunResult, system: str, passed: bool) -> list[RenderableType]:
    findings = all_findings(run)
    shown = [f for f in findings if passed or f.severity != "ok"]
    count = sum(f.severity == "ok" for f in findings)
    parts: list[RenderableType] = [
        paragraph(f"Run {run.run.name}: {run.run.cables.describe()}", style="bold", before=1),
        paragraph(
            sentence(render(run.decision.why, system)),
            style="" if run.decision.choice else "bold red",
        ),
    ]
    if shown:
        parts += findings_table(shown, system)
    counted = paragraph(_count(findings, count, passed), before=1)
    return [*parts, counted, *advice_report(run, system)]


def _count(findings: Sequence[Finding], count: int, passed: bool) -> str:
    words = [
        f"{n} {severity}{'s' if n != 1 else ''}"
        for severity in ("stop", "caution", "note")
        if (n := sum(f.severity == severity for f in findings))
    ]
    text = ", ".join([*words, f"{count} of {len(findings)} checks passed"])
    return text + ("." if passed or not count else " (--all lists them).")


def findings_table(
    findings: Sequence[Finding], system: str, *, sources: bool = True
) -> list[RenderableType]:
    """A line for each finding in aligned columns; what to do, and its source, below it."""
    rows = [_cells(finding, system) for finding in findings]
    widths = [max(cell_len(row[i]) for row in (_HEADINGS, *rows)) for i in range(len(_HEADINGS))]
    widths[0] = _INDENT - 2
    parts: list[RenderableType] = [Text(), _FindingLine(_HEADINGS, widths, "bold")]
    for finding, row in zip(findings, rows, strict=True):
        parts.append(_FindingLine(row, widths, severity_style(finding.severity)))
        if finding.severity != "ok":
            parts.append(_below("do", render(finding.fix, system), ""))
        if sources:
            parts.append(_below("source", finding.source, "dim"))
    return parts


def _cells(finding: Finding, system: str) -> tuple[str, ...]:
    return (
        finding.severity,
        finding.rule,
        render(finding.place, system),
        measured(finding, system),
        limit_of(finding, system),
    )


@dataclass(frozen=True, slots=True)
class _FindingLine:
    """One row; where it is too wide for the terminal its rule and place wrap in their columns."""

    cells: Sequence[str]
    widths: Sequence[int]
    style: str

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        room = min(options.max_width, WIDEST) - 2 * (len(self.widths) - 1)
        widths = shrunk(self.widths, self._least(), room)
        blocks = [
            [line.plain.rstrip() for line in Text(cell, overflow="fold").wrap(console, width)]
            for cell, width in zip(self.cells, widths, strict=True)
        ]
        for cells in zip_longest(*blocks, fillvalue=""):
            yield self._line(cells, widths)

    def _least(self) -> list[int]:
        """Only rule and place, columns 1 and 2, give way."""
        return [min(w, _NARROW) if i in (1, 2) else w for i, w in enumerate(self.widths)]

    def _line(self, cells: Sequence[str], widths: Sequence[int]) -> Text:
        line = Text()
        for i, (cell, width) in enumerate(zip(cells, widths, strict=True)):
            padded = set_cell_size(cell, width) if i < 3 else " " * (width - cell_len(cell)) + cell
            line.append(padded + "  ", style=self.style if i == 0 or self.style == "bold" else "")
        line.rstrip()
        return line


def _below(label: str, text: str, style: str) -> RenderableType:
    return paragraph(Text(f"{label}: {text}", style=style), indent=_INDENT)
