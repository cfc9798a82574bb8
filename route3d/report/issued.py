"""Whether an issued document is current, and what changed since, in words and as plain data."""

from __future__ import annotations

from typing import Any

from rich.console import Group, RenderableType

from route3d.model.job import Job
from route3d.report.issue import Issue, changes, missing_runs
from route3d.report.layout import paragraph, table


def issued_data(issue: Issue, job: Job, system: str) -> dict[str, Any]:
    """The state of a document as plain data; texts in the units of ``system``."""
    from route3d import __version__

    found = changes(issue, job)
    version = issue.version != __version__
    return {
        "current": not found and not version,
        "kind": issue.kind,
        "draft": issue.draft,
        "number": issue.said("document.number"),
        "revision": issue.said("document.revision"),
        "date": issue.said("document.date"),
        "sha256": issue.mark,
        "runs": list(issue.runs),
        "missing_runs": list(missing_runs(issue, job)),
        "version": {"issued": issue.version, "now": __version__},
        "changes": [
            dict(zip(("key", "issued", "now"), change.words(system), strict=True))
            for change in found
        ],
    }


def issued_report(name: str, told: dict[str, Any]) -> RenderableType:
    """The state of a document for a terminal."""
    parts = [f"{told['kind']} {name}"]
    parts += [f"{key} {told[key]}" for key in ("number", "revision", "date") if told[key]]
    what = ", ".join([*parts, f"mark {told['sha256'][:12]}", f"runs {', '.join(told['runs'])}"])
    if told["draft"]:
        what += ", DRAFT"
    if told["current"]:
        return Group(paragraph("Current.", style="bold green"), paragraph(what))
    lines: list[RenderableType] = [paragraph("Superseded.", style="bold red"), paragraph(what)]
    version = told["version"]
    if version["issued"] != version["now"]:
        lines.append(
            paragraph(f"Issued with route3d {version['issued']}; this is {version['now']}.")
        )
    if told["missing_runs"]:
        lines.append(paragraph(f"No longer in the model: run {', '.join(told['missing_runs'])}."))
    if told["changes"]:
        rows = [[c["key"], c["issued"], c["now"]] for c in told["changes"]]
        lines.append(table(["changed", "as issued", "now"], rows))
    return Group(*lines)
