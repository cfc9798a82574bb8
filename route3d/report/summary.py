"""The summary of several runs: one line each, worst first, as table, CSV, workbook and JSON."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from route3d.model.examples import BANNER, example_banner, example_names
from route3d.planning.summary import RunSummary, rank, worst_first
from route3d.report.columns import Column, Row, column_table, filled, rows_csv
from route3d.report.columns_xlsx import rows_xlsx
from route3d.report.json_result import Data
from route3d.report.layout import paragraph
from route3d.units import show


@dataclass(frozen=True, slots=True)
class JobLine:
    """One line of a summary over several model files: the ``file`` and ``title`` of its job.

    ``examples`` are the tables of the file whose values nobody has confirmed.
    """

    file: str
    title: str
    run: RunSummary
    examples: tuple[str, ...] = ()


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


def _of_line(column: Column[RunSummary]) -> Column[JobLine]:
    return Column(column.title, lambda line: column.value(line.run), column.quantity)


_TITLE: Column[JobLine] = Column("job", lambda line: line.title)
LINE_COLUMNS: tuple[Column[JobLine], ...] = (
    Column("file", lambda line: line.file),
    *map(_of_line, COLUMNS),
)
_FILE_COLUMNS = (*LINE_COLUMNS[:-1], _of_line(_FULL))


_EXAMPLES: Column[JobLine] = Column(BANNER, lambda line: example_names(line.examples))


def _columns_of_files(lines: Sequence[JobLine]) -> tuple[Column[JobLine], ...]:
    """The columns of a file of the table; where values are examples the last one says so."""
    marked = any(line.examples for line in lines)
    return (_TITLE, *_FILE_COLUMNS, *((_EXAMPLES,) if marked else ()))


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
    totals = paragraph(_totals(runs, system), before=1)
    return [Text(), table, *_footnote(runs), totals, *left]


def _severity(text: str) -> str:
    return "stop" if text.startswith("do not pull") else ""


def _totals(runs: Sequence[RunSummary], system: str) -> str:
    stopped = sum(run.stops for run in runs)
    times = [run.crew_time for run in runs if run.crew_time is not None]
    counted = f"{len(runs)} run{'s' if len(runs) > 1 else ''}: "
    counted += f"{len(runs) - stopped} pull, {stopped} do not pull."
    if not times:
        return counted
    of_runs = "" if len(times) == len(runs) else f" for {len(times)} of the runs"
    total = show(sum(times), "crew time", system)
    return f"{counted} Crew time, one after another: {total}{of_runs}."


def _left_out(names: Sequence[str]) -> list[RenderableType]:
    """How many runs are not detailed, and how to see them."""
    if not names:
        return []
    example = f'"{names[0]}"' if " " in names[0] else names[0]
    are = "1 run is" if len(names) == 1 else f"{len(names)} runs are"
    text = f"{are} not detailed below. Show one: --run {example} (repeatable). Show all: --all."
    return [paragraph(text)]


# --- several files --------------------------------------------------------------------------------


def jobs_table(lines: Sequence[JobLine], system: str) -> list[RenderableType]:
    """The table over the runs of several files, worst first, with its totals."""
    shown = in_order(lines)
    files = {line.file for line in lines}
    names = {PurePath(file).name for file in files}
    if len(names) == len(files):  # without their folders they are told apart
        shown = [replace(line, file=PurePath(line.file).name) for line in shown]
    runs = [line.run for line in lines]
    columns = LINE_COLUMNS if len(files) > 1 else LINE_COLUMNS[1:]
    columns = _with_room(columns, spare=len(files) == 1 and not any(run.stops for run in runs))
    table = column_table(shown, filled(shown, columns), system, _severity)
    return [Text(), table, *_footnote(runs), paragraph(_totals(runs, system), before=1)]


def jobs_banners(lines: Sequence[JobLine]) -> list[str]:
    """The banner of each file with values that nobody has confirmed."""
    marked = dict.fromkeys((line.file, line.examples) for line in lines if line.examples)
    return [f"{example_banner(examples)} ({PurePath(file).name})" for file, examples in marked]


def in_order(lines: Sequence[JobLine]) -> list[JobLine]:
    """Lines with the worst first; equal ones keep their order."""
    return sorted(lines, key=lambda line: rank(line.run))


def jobs_csv(lines: Sequence[JobLine], system: str) -> str:
    """The table as CSV, numbers in the units of the heading."""
    return rows_csv(in_order(lines), _columns_of_files(lines), system)


def jobs_xlsx(lines: Sequence[JobLine], title: str, system: str) -> bytes:
    """The table as a workbook; the same jobs give the same bytes."""
    return rows_xlsx(title, [("runs", in_order(lines), _columns_of_files(lines))], system)


def line_data(line: JobLine) -> Data:
    """One line for machines, in SI."""
    return {"file": line.file, "title": line.title, **summary_data(line.run)}


def summary_data(run: RunSummary) -> Data:
    """The line of one run for machines, in SI; null where there is no such number."""
    data: dict[str, Any] = {
        "name": run.name,
        "cables": run.cables,
        "length_m": run.length,
        "turn_deg": math.degrees(run.turn),
        "feed": run.feed,
        "pull": run.pull,
        "governing": run.governing,
        "utilization": run.utilization,
        "friction_margin": run.margin,
        "crew_time_s": run.crew_time,
        "must_not_be_pulled": run.stops,
        "reasons": list(run.reasons),
        "planned": run.planned,
    }
    return data
