"""The summary of several runs: one line each, worst first, as table, CSV, workbook and JSON."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import IO

from rich.console import RenderableType
from rich.text import Text

from route3d.model.examples import BANNER, example_banner, example_names
from route3d.planning.summary import RunSummary, worst_first
from route3d.report.columns import Column, Row, Value, column_table, filled, rows_csv
from route3d.report.columns_xlsx import write_rows_xlsx
from route3d.report.json_result import Data
from route3d.report.layout import paragraph
from route3d.study.many_jobs.answer import JobLine, summary_data
from route3d.units import show


@dataclass(frozen=True, slots=True)
class Counts:
    """The runs of many files: how many there are, and how many must not be pulled.

    ``failed`` files have errors and no run. ``crew_time`` s is that of the ``timed`` runs together.
    """

    runs: int
    stopped: int
    failed: int = 0
    crew_time: float = 0.0
    timed: int = 0


def _margin(run: RunSummary) -> float | str:
    if run.margin is None:
        return "none"
    return "no limit" if math.isinf(run.margin) else run.margin


NOT_CHECKED = "rope and machine not checked"
_MARK = " *"
_PULL_AT: Column[RunSummary] = Column("pull at", lambda r: r.pull)
_FULL: Column[RunSummary] = Column("verdict", lambda r: _verdict(r, f" ({NOT_CHECKED})"))
COLUMNS: tuple[Column[RunSummary], ...] = (
    Column("run", lambda r: r.name),
    Column("cables", lambda r: r.cables),
    Column("length", lambda r: r.length, "length"),
    Column("total\nbend", lambda r: r.turn, "angle"),
    Column("feed from", lambda r: r.feed),
    _PULL_AT,
    Column("governing", lambda r: r.governing),
    Column("of\nlimit", lambda r: r.utilization, "percent"),
    Column("friction\nmargin", _margin, "ratio"),
    Column("crew\ntime", lambda r: r.crew_time, "crew time"),
    Column("verdict", lambda r: _verdict(r, _MARK)),
)


def _verdict(run: RunSummary, mark: str) -> str:
    """The verdict, with a mark where it is one without rope and machine."""
    return run.verdict + ("" if run.planned or run.stops else mark)


def _with_room(columns: Sequence[Column[Row]], *, spare: bool) -> tuple[Column[Row], ...]:
    """The columns a terminal has room for: both ends only beside no file and no reasons."""
    return tuple(c for c in columns if spare or c.title != _PULL_AT.title)


def _footnote(runs: Iterable[RunSummary]) -> list[RenderableType]:
    """What the mark in a table of these runs stands for."""
    if all(run.planned or run.stops for run in runs):
        return []
    return [paragraph(f"{_MARK.strip()} {NOT_CHECKED}: the run names no rope or no machine.")]


def _of_line(
    column: Column[RunSummary], without: Callable[[JobLine], str] = lambda _: ""
) -> Column[JobLine]:
    """The column over several files; ``without`` is its text for a file with errors."""

    def value(line: JobLine) -> Value:
        return without(line) if line.run is None else column.value(line.run)

    return Column(column.title, value, column.quantity)


def error_words(errors: Sequence[str]) -> str:
    """The verdict of a file that could not be answered: its first error, and how many more."""
    more = f" and {len(errors) - 1} more" if len(errors) > 1 else ""
    return f"error: {errors[0] if errors else 'not answered'}{more}"


_TITLE: Column[JobLine] = Column("job", lambda line: line.title)
LINE_COLUMNS: tuple[Column[JobLine], ...] = (
    Column("file", lambda line: line.file),
    *map(_of_line, COLUMNS),
)
_FILE_COLUMNS = (
    *LINE_COLUMNS[:-1],
    _of_line(_FULL, lambda line: error_words(line.errors)),
)


_EXAMPLES: Column[JobLine] = Column(BANNER, lambda line: example_names(line.examples))


def columns_of_files(examples: bool) -> tuple[Column[JobLine], ...]:
    """The columns of a file of the table; where values are examples the last one says so."""
    return (_TITLE, *_FILE_COLUMNS, *((_EXAMPLES,) if examples else ()))


# --- one job --------------------------------------------------------------------------------------


def summary_parts(
    runs: Sequence[RunSummary], system: str, details: Sequence[str]
) -> list[RenderableType]:
    """The table of one job with its totals, for the head of a report; nothing for a single run.

    ``details`` are the names of the runs that the report goes on with.
    """
    if len(runs) < 2:
        return []
    shown = worst_first(runs)
    columns = _with_room(COLUMNS, spare=not any(run.stops for run in runs))
    table = column_table(shown, filled(shown, columns), system, _severity)
    left = _left_out([run.name for run in shown if run.name not in details])
    totals = paragraph(counted(counts_of(runs), system), before=1)
    return [Text(), table, *_footnote(runs), totals, *left]


def _severity(text: str) -> str:
    return "stop" if text.startswith("do not pull") else ""


def counts_of(runs: Iterable[RunSummary], failed: int = 0) -> Counts:
    """How many runs there are, and how many of them must not be pulled."""
    number = stopped = timed = 0
    crew_time = 0.0
    for run in runs:
        number, stopped = number + 1, stopped + run.stops
        if run.crew_time is not None:
            crew_time, timed = crew_time + run.crew_time, timed + 1
    return Counts(number, stopped, failed, crew_time, timed)


def counted(counts: Counts, system: str) -> str:
    """How many runs pull and do not pull, and the crew time of those that have one."""
    said = f"{counts.runs:,} run{'s' if counts.runs > 1 else ''}: "
    said += f"{counts.runs - counts.stopped:,} pull, {counts.stopped:,} do not pull."
    if not counts.timed:
        return said
    of_runs = "" if counts.timed == counts.runs else f" for {counts.timed:,} of the runs"
    total = show(counts.crew_time, "crew time", system)
    return f"{said} Crew time, one after another: {total}{of_runs}."


def _left_out(names: Sequence[str]) -> list[RenderableType]:
    """How many runs are not detailed, and how to see them."""
    if not names:
        return []
    example = f'"{names[0]}"' if " " in names[0] else names[0]
    are = "1 run is" if len(names) == 1 else f"{len(names)} runs are"
    text = f"{are} not detailed below. Show one: --run {example} (repeatable). Show all: --all."
    return [paragraph(text)]


# --- several files --------------------------------------------------------------------------------


def jobs_table(
    lines: Sequence[JobLine], files: int, system: str, counts: Counts
) -> list[RenderableType]:
    """The table over the runs of so many files, worst first, with the totals of all of them.

    ``lines`` are all of them, or the worst of very many.
    """
    shown = [line for line in lines if line.run is not None]
    names = {PurePath(line.file).name for line in shown}
    if len(names) == len({line.file for line in shown}):  # told apart without their folders
        shown = [replace(line, file=PurePath(line.file).name) for line in shown]
    runs = [line.run for line in shown if line.run is not None]
    columns = LINE_COLUMNS if files > 1 else LINE_COLUMNS[1:]
    columns = _with_room(columns, spare=files == 1 and not any(run.stops for run in runs))
    table = column_table(shown, filled(shown, columns), system, _severity)
    left = counts.runs - len(shown)
    more = f"The {len(shown)} worst runs of {counts.runs:,}. All: --csv, --xlsx or --html."
    return [
        Text(),
        table,
        *_footnote(runs),
        *([paragraph(more)] if left else []),
        paragraph(counted(counts, system), before=1),
    ]


def jobs_banners(lines: Sequence[JobLine]) -> list[str]:
    """The banner of each file with values that nobody has confirmed."""
    marked = dict.fromkeys((line.file, line.examples) for line in lines if line.examples)
    return [f"{example_banner(examples)} ({PurePath(file).name})" for file, examples in marked]


def jobs_csv(lines: Iterable[JobLine], system: str, *, examples: bool) -> Iterator[str]:
    """The table as lines of CSV, numbers in the units of the heading."""
    return rows_csv(lines, columns_of_files(examples), system)


def write_jobs_xlsx(
    file: IO[bytes], lines: Iterable[JobLine], title: str, system: str, *, examples: bool
) -> None:
    """The table as a workbook; the same jobs give the same bytes."""
    write_rows_xlsx(file, title, "runs", lines, columns_of_files(examples), system)


def line_data(line: JobLine) -> Data:
    """One line of a run for machines, in SI."""
    assert line.run is not None
    return {"file": line.file, "title": line.title, **summary_data(line.run)}
