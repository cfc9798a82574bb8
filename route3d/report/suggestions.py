"""What was suggested for each run, for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType

from route3d.planning.suggest import Suggestions
from route3d.planning.suggestion import Subject
from route3d.report.layout import paragraph
from route3d.units import render

_SOLVED = (
    "Each was carried out and solved again: bends, fit and the limits of the pull, as "
    "`route3d check` has them. Gears, load path, anchors and the place for the machine: "
    "`route3d plan`, with the change made."
)


def suggestions_report(
    runs: Sequence[str], found: Sequence[Suggestions], system: str
) -> RenderableType:
    """The suggestions of every run, first choices first."""
    parts: list[RenderableType] = []
    for name, suggestions in zip(runs, found, strict=True):
        parts += _run_report(name, suggestions, system)
    if any(one.subjects for one in found):
        parts.append(paragraph(_SOLVED, style="dim"))
    return Group(*parts)


def _run_report(name: str, found: Suggestions, system: str) -> Iterator[RenderableType]:
    if not found.subjects:
        yield paragraph(f"Run {name}: nothing to change.", style="bold", before=1)
        return
    yield paragraph(f"Run {name}: what to change", style="bold", before=1)
    for subject in found.subjects:
        yield from _subject(subject, system)
    yield paragraph(f"Outcome: {render(found.together, system)}.")


def _subject(subject: Subject, system: str) -> Iterator[RenderableType]:
    yield paragraph(render(subject.what, system))
    for number, suggestion in enumerate(subject.suggestions, start=1):
        yield paragraph(f"{number}. {render(suggestion.text, system)}", indent=2)
    if subject.why_none:
        yield paragraph(render(subject.why_none, system), indent=2, style="yellow")
    for note in subject.notes:
        yield paragraph(render(note, system), indent=2, style="dim")
