"""A comparison of jobs as a report, as plain data and as a picture.

Other surfaces take :func:`compare_data`: everything in it is plain (dicts, lists, texts, numbers).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from route3d.mechanics.pull import Pull
from route3d.planning.comparison import (
    ComparedFigure,
    ComparedRun,
    Comparison,
    FigureValue,
)
from route3d.planning.inputs import Input, InputDifference
from route3d.planning.result import CAUTIONS
from route3d.report.json_result import Data, finding_data
from route3d.report.layout import paragraph, severity_style, table, titled
from route3d.report.words import limit_of, measured
from route3d.units import convert, render, show, show_marked, unit_label

# So many differences of input are listed for one table of a job; the rest are counted.
_MOST_KEYS = 12


def compare_report(comparison: Comparison, system: str) -> RenderableType:
    """The comparison for a terminal: input, then each run with its findings gained and lost."""
    labels = comparison.labels
    parts: list[RenderableType] = [titled(f"Comparison: {', '.join(labels)}", *comparison.banners)]
    parts.append(paragraph("Input that differs", style="bold", before=1))
    rows = list(_input_rows(comparison.inputs, system))
    parts.append(table(["key", *labels], rows) if rows else paragraph("none"))
    if len(comparison.runs) > 1:
        parts.append(paragraph("Runs", style="bold", before=1))
        parts.append(table(["run", *labels], [_run_row(run, system) for run in comparison.runs]))
    if not any(run.matched for run in comparison.runs):
        parts.append(paragraph("No run has the same name in two of the jobs.", before=1))
    same = []
    for run in comparison.runs:
        if run.differs and run.matched:
            parts += _run_report(run, labels, system)
        elif run.matched:
            same.append(run.name)
    if same:
        runs = f"run {same[0]}" if len(same) == 1 else f"runs {', '.join(same)}"
        parts.append(paragraph(f"No difference in the results of {runs}.", before=1))
    changes = f"In parentheses: change against {labels[0]}."
    return Group(
        *parts, paragraph(changes, before=1), *(paragraph(c, style="dim") for c in CAUTIONS)
    )


# --- input ----------------------------------------------------------------------------------------


def _input_rows(found: Sequence[InputDifference], system: str) -> Iterator[list[str]]:
    """A row for each key; of very many in one table the first, and how many more."""
    groups: dict[str, list[InputDifference]] = {}
    for difference in found:
        groups.setdefault(".".join(difference.key.split(".")[:3]), []).append(difference)
    for group in groups.values():
        for difference in group[:_MOST_KEYS]:
            cells = (input_words(value, system) for value in difference.inputs)
            yield [difference.key, *cells]
        if (left := len(group) - _MOST_KEYS) > 0:
            yield [f"and {left} more of this table", *("" for _ in group[0].inputs)]


def input_words(found: Input | None, system: str) -> str:
    """One input with its unit; "-" where the job has no such key."""
    if found is None or found.value is None or found.value == "":
        return "-"
    value, quantity = found.value, found.quantity
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        if not quantity:
            return ", ".join(f"{n:g}" for n in value)
        unit = unit_label(quantity, system)
        return f"{', '.join(f'{convert(n, quantity, system):.6g}' for n in value)} {unit}".strip()
    return show(value, quantity, system) if quantity else f"{value:g}"


# --- results --------------------------------------------------------------------------------------


def _run_row(run: ComparedRun, system: str) -> list[Text]:
    """The verdict of a run and its highest utilization in each job."""
    cells = [Text(run.name)]
    for answer in run.answers:
        if answer is None:
            cells.append(Text("-"))
            continue
        found = answer.summary
        words = "do not pull" if found.stops else "pull"
        share = show(found.utilization, "percent", system)
        style = "bold red" if found.stops else ""
        cells.append(Text(f"{words}, {found.governing} {share}", style=style))
    return cells


def _run_report(run: ComparedRun, labels: Sequence[str], system: str) -> Iterator[RenderableType]:
    yield paragraph(f"Run {run.name}", style="bold", before=1)
    rows = [[Text(f.figure.words), *_cells(f, system)] for f in run.figures]
    yield table(["", *labels], rows)
    for index, label in enumerate(labels):
        if index == 0:
            continue
        for word, found in (("gained", run.gained(index)), ("lost", run.lost(index))):
            if not found:
                continue
            yield paragraph(f"Findings {word} by {label}", before=1)
            heads = ("severity", "rule", "where", "measured", "limit")
            yield table(
                heads,
                [
                    [
                        Text(f.severity, style=severity_style(f.severity)),
                        f.rule,
                        render(f.place, system),
                        measured(f, system),
                        limit_of(f, system),
                    ]
                    for f in found
                ],
            )


def _cells(found: ComparedFigure, system: str) -> Iterator[Text]:
    """The value of each job, with the change against the first."""
    for index, value in enumerate(found.values):
        text = figure_words(found, value, system)
        if change := change_words(found, index):
            text += f" ({change})"
        stop = found.figure.key == "verdict" and text.startswith("do not pull")
        over = found.figure.quantity == "percent" and _over(found, value)
        yield Text(text, style="bold red" if stop or over else "")


def _over(found: ComparedFigure, value: FigureValue) -> bool:
    limit = found.figure.key.startswith("utilization")
    return limit and isinstance(value, float) and value > 1 + 1e-9


def change_words(found: ComparedFigure, index: int) -> str:
    """How a figure changed against the first job: ``+16%``; of a percentage ``+3 points``."""
    change, first, value = found.change(index), found.values[0], found.values[index]
    if change is None:
        return ""
    if found.figure.quantity != "percent":
        return f"{change:+.0%}" if abs(change) >= 0.005 else f"{change:+.1%}"
    assert isinstance(first, float) and isinstance(value, float)  # else there is no change
    points = 100 * (value - first)
    return f"{points:+.0f} points" if abs(points) >= 2 else f"{points:+.1f} points"


def figure_words(found: ComparedFigure, value: FigureValue, system: str) -> str:
    """One figure with its unit; "-" where there is none."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return "-"
    return value if isinstance(value, str) else show_marked(value, found.figure.quantity, system)


# --- plain data -----------------------------------------------------------------------------------


def compare_data(comparison: Comparison, system: str = "SI") -> Data:
    """The comparison as plain data, for ``--json`` and for the browser page.

    ``jobs`` holds ``label``, ``title``, ``file``, ``examples`` (tables whose values nobody has
    confirmed) and ``must_not_be_pulled`` of each job, in the
    order of every list below; the first is what the others are compared with.

    ``inputs``: one ``key`` of the model file each, with ``shown`` (texts in the units of
    ``system``; "-" for none) and ``values`` (SI).

    ``runs``, by ``name``: ``in`` (true where the job has the run), ``differs``; ``figures`` with
    ``key``, ``words``, ``shown`` texts in ``system``, ``values`` in SI (the key ends in the unit),
    ``change`` (share of the first job's value, or null), ``change_words`` (``+16%``, of a
    percentage ``+3 points``; empty for none) and ``differs``; ``gained`` and ``lost``,
    for each job the findings it has and the first has not, and the reverse, as ``check --json`` has
    findings; ``profiles``, for each job ``feed``, ``pull`` and along its route ``station_m``,
    ``tension_N``, ``sidewall_N_per_m``, in pulling order (null where the job has no such run).
    """
    return {
        "jobs": [
            {
                "label": label,
                "title": job.title,
                "file": None if job.path is None else str(job.path),
                "examples": list(job.examples),
                "must_not_be_pulled": any(
                    answer.summary.stops
                    for run in comparison.runs
                    if (answer := run.answers[number]) is not None
                ),
            }
            for number, (label, job) in enumerate(
                zip(comparison.labels, comparison.jobs, strict=True)
            )
        ],
        "inputs": [
            {
                "key": found.key,
                "shown": [input_words(value, system) for value in found.inputs],
                "values": [None if value is None else value.value for value in found.inputs],
            }
            for found in comparison.inputs
        ],
        "runs": [_run_data(run, system) for run in comparison.runs],
    }


def _run_data(run: ComparedRun, system: str) -> Data:
    count = range(len(run.answers))
    return {
        "name": run.name,
        "in": [answer is not None for answer in run.answers],
        "differs": run.differs,
        "figures": [
            {
                "key": found.figure.key,
                "words": found.figure.words.strip(),
                "shown": [figure_words(found, value, system) for value in found.values],
                "values": list(found.values),
                "change": [found.change(i) for i in count],
                "change_words": [change_words(found, i) for i in count],
                "differs": found.differs,
            }
            for found in run.figures
        ],
        "gained": [[finding_data(f) for f in run.gained(i)] for i in count],
        "lost": [[finding_data(f) for f in run.lost(i)] for i in count],
        "profiles": [None if a is None else _profile(a.candidate.pull) for a in run.answers],
    }


def _profile(pull: Pull) -> Data:
    along = pull.profile
    return {
        "feed": pull.feed_name,
        "pull": pull.pull_name,
        "station_m": along.station.tolist(),
        "tension_N": along.tension.tolist(),
        "sidewall_N_per_m": along.sidewall.tolist(),
    }
