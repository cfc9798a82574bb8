"""A log of a pull, whatever wrote it, as readings with every decision listed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from route3d.errors import InputError, Problem
from route3d.field.log.clean_record import clean_record, is_clean_record
from route3d.field.log.cleaning import Cleaner
from route3d.field.log.decisions import Decisions
from route3d.field.log.header import table_start
from route3d.field.log.mapping import Asked, asked_mapping
from route3d.field.log.numbers import Decimal
from route3d.field.log.order import counts_down, in_order, out_of_line
from route3d.field.log.page_log import page_log
from route3d.field.log.pulled_run import PulledRun, pulled_run
from route3d.field.log.rows import BAD_TIME, LogRow, row_reader
from route3d.field.log.tables import (
    LINE_END,
    LogLine,
    is_workbook,
    log_bytes,
    log_text,
    refuse_binary,
    separator_of,
    sheet_lines,
    text_lines,
)
from route3d.field.readings import Event, PullLog, Reading
from route3d.model.job import Job
from route3d.planning.pull_plan.plan import Plan

# A log of which more cells are no numbers is read by the wrong columns.
_MOST_BAD = 0.3
_FEW = 3


@dataclass(frozen=True, slots=True)
class _Source:
    """What a file holds before it is judged: rows, and what it says of the pull."""

    rows: list[LogRow]
    run: str = ""
    feed: str = ""
    started: str = ""
    step: float | None = None
    details: tuple[tuple[str, Any], ...] = ()


def read_log(
    path: str | Path,
    job: Job,
    *,
    run: str | None = None,
    feed: str | None = None,
    mapping: Sequence[str] = (),
    units: str | None = None,
    decimal: str | None = None,
    tare: float | None = None,
    sheet: str | None = None,
    plan: Plan | PulledRun | None = None,
    data: bytes | None = None,
) -> PullLog:
    """The log of one pull of a job.

    Parameters
    ----------
    path : str or Path
        CSV of any separator, XLSX, the JSON or CSV of the page, a filled-in form, or a clean
        record.
    job : Job
        The job; its plan says where the route ends, in which gear the gauge reads true, and what
        change of the reading to expect.
    run, feed : str, optional
        The run and its feed end. Default: as written in the log; else the only run, and the end
        of the plan.
    mapping : sequence of str
        Such as "load=Channel 2 [kN]", where headers do not tell.
    units : {"US", "SI"}, optional
        Units of numbers that have none in the file.
    decimal : {"point", "comma"}, optional
        The decimal mark, where the numbers do not tell.
    tare : float, optional
        What the gauge reads without a load, N. Default: as read at rest before the start.
    sheet : str, optional
        Sheet of a workbook. Default: the first.
    plan : Plan or PulledRun, optional
        The plan of the pull where it is made already; run and feed end are then its own. One
        ``pulled_run`` saves time where several logs of one pull are read.
    data : bytes, optional
        What the file holds, where it is not on disk: ``path`` then only names it.

    Returns
    -------
    PullLog

    Raises
    ------
    InputError
        For what cannot be read, with file, row, column, value and fix.
    """
    file = Path("standard input" if data is not None and str(path) == "-" else path)
    decisions = Decisions()
    data = log_bytes(file, data)
    asked = asked_mapping(mapping)
    if is_workbook(data):
        lines, title = sheet_lines(data, file, sheet)
        details: tuple[tuple[str, Any], ...] = (("format", "XLSX"), ("sheet", title))
    else:
        if sheet is not None:
            said = "has no sheets: it is not a workbook"
            raise InputError(Problem(said, "--sheet", "leave out --sheet", str(file)))
        refuse_binary(data, str(file))
        text = log_text(data, decisions)
        if text.lstrip().startswith(("{", "[{")):
            page = page_log(text, file, decisions)
            details = (("format", "page, JSON"), *page.details)
            source = _Source(list(page.rows), page.run, page.feed, page.started, page.step, details)
            return _cleaned(source, job, run, feed, tare, plan, decisions, file)
        if "\x00" in text:
            text = text.replace("\x00", "")
            decisions.note("null characters", "Null characters in the text were left out.")
        separator = separator_of(LINE_END.split(text[:100_000]))
        lines = list(text_lines(text, separator))
        details = (("format", {"\t": "TSV", ",": "CSV"}.get(separator, f"CSV, {separator!r}")),)
    if is_clean_record(lines):
        found = clean_record(lines, file)
        of = named_pull(job, found.run, found.feed, decisions, asked=(run, feed), file=str(file))
        return replace(found, run=of[0], feed=of[1])
    source = _of_table(lines, asked, units, decimal, job.units, decisions, file)
    source = replace(source, details=(*details, *source.details))
    return _cleaned(source, job, run, feed, tare, plan, decisions, file)


def _of_table(
    lines: list[LogLine],
    asked: Sequence[Asked],
    units: str | None,
    decimal: str | None,
    system: str,
    decisions: Decisions,
    file: Path,
) -> _Source:
    """The rows of a table and what stands above them."""
    full = []
    for line in lines:
        if line.empty:
            decisions.note("empty rows", "Empty rows were skipped.", line.line)
        else:
            full.append(line)
        if line.last:
            said = "A quoted note over several lines was read as one row."
            decisions.note("several lines", said, line.line, line.last)
    start = table_start(full, asked, units, str(file))
    columns = start.columns
    for line in full[: start.above]:
        decisions.note("above the header", "Rows above the header hold no readings.", line.line)
    for line in full[start.above : start.rows]:
        decisions.note("header", "Header, and units below it.", line.line)
    table = []
    header = full[start.above].cells if start.rows else ()
    for line in full[start.rows :]:
        if line.cells == header:
            decisions.note("header again", "The header stands again between the rows.", line.line)
        else:
            table.append(line)
    if not table:
        said = "has a header and no readings"
        raise InputError(Problem(said, fix="check that this is the right file", file=str(file)))
    mark: Decimal = {"point": ".", "comma": ","}.get(decimal or "", "")  # type: ignore[assignment]
    reader, said_of = row_reader(
        table, columns, str(file), decimal=mark, month_first=system == "US"
    )
    for words in said_of:
        decisions.note("how numbers are written", words)
    rows = _one_clock([reader.read(line) for line in table])
    _refuse_bad(rows, table, columns.headers, file)
    texts = start.texts
    shown = tuple((kind, columns.header(kind)) for kind in columns.at)
    started = next((row.iso for row in rows if row.iso), texts.get("started", ""))
    return _Source(
        rows,
        texts.get("run", ""),
        texts.get("feed", texts.get("feed end", "")),
        started,
        None,
        (("columns", shown),),
    )


def _one_clock(rows: list[LogRow]) -> list[LogRow]:
    """The rows with the times of the clock that most are on; the others cannot be compared."""
    counts: dict[str, int] = {}
    for row in rows:
        if row.family:
            counts[row.family] = counts.get(row.family, 0) + 1
    if len(counts) < 2:
        return rows
    most = max(counts, key=lambda family: counts[family])
    return [
        row
        if row.family in ("", most)
        else replace(row, time=math.nan, family="", troubles=(*row.troubles, BAD_TIME))
        for row in rows
    ]


def _refuse_bad(
    rows: Sequence[LogRow], table: Sequence[LogLine], headers: Sequence[str], file: Path
) -> None:
    """InputError where so many cells are no numbers that the columns are likely wrong."""
    for what in ("reading not a number", "cable in not a number", "speed not a number"):
        bad = [i for i, row in enumerate(rows) if what in row.troubles]
        if len(bad) < _FEW or len(bad) <= _MOST_BAD * len(rows):
            continue
        line = table[bad[0]]
        cells = ", ".join(
            f"{head}: {str(cell)[:30]!r}" for head, cell in zip(headers, line.cells, strict=False)
        )
        said = f"{len(bad)} of {len(rows)} rows: {what}. Row {line.line} has {cells}"
        fix = 'check the columns; name the right ones, such as --map "load=HEADER [lbf]"'
        raise InputError(Problem(said, fix=fix, file=str(file), line=line.line))


def _cleaned(
    source: _Source,
    job: Job,
    run: str | None,
    feed: str | None,
    tare: float | None,
    plan: Plan | PulledRun | None,
    decisions: Decisions,
    file: Path,
) -> PullLog:
    """The readings of the rows, judged one after another."""
    named = (source.run, source.feed)
    pulled = run_of(job, *named, plan, decisions, asked=(run, feed), file=str(file))
    rows, sound = in_order(source.rows, decisions)
    down = counts_down(rows)
    cleaner = Cleaner(
        pulled,
        decisions,
        tare=tare,
        step=source.step,
        in_order=sound,
        doubted=out_of_line(rows, down),
        counts_down=down,
    )
    made = [item for row in rows for item in cleaner.add(row)]
    readings = [item for item in made if isinstance(item, Reading)]
    if not made:
        fix = "check that this is the right file"
        raise InputError(Problem("holds no readings", fix=fix, file=str(file)))
    flags = [cleaner.amended.get(r.row, r.flags) for r in readings]
    used = [r.used and r.row not in cleaner.amended for r in readings]
    if tare is not None:
        decisions.note("tare", "The tare is as given.")
    return PullLog(
        file.name,
        np.array([r.pulled for r in readings]),
        np.array([r.load for r in readings]),
        np.array([r.time for r in readings]),
        tuple(r.gear for r in readings),
        np.array(used, dtype=bool),
        tuple(flags),
        np.array([r.row for r in readings], dtype=np.int64),
        tuple(_by_time([item for item in made if isinstance(item, Event)])),
        decisions.listed(),
        cleaner.tare,
        pulled.run.name,
        pulled.pull.feed_name,
        source.started,
        (("file", file.name), *source.details),
    )


def _by_time(events: list[Event]) -> list[Event]:
    """Events in order of time, for a stop is seen late; as read where times are not known."""
    known = all(event.time == event.time for event in events)
    return sorted(events, key=lambda event: event.time) if known else events


def run_of(
    job: Job,
    run: str,
    feed: str,
    plan: Plan | PulledRun | None,
    decisions: Decisions,
    *,
    asked: tuple[str | None, str | None] = (None, None),
    file: str = "",
) -> PulledRun:
    """The run of a log and its direction: what was asked for, else what is written in it."""
    if plan is not None:
        known = pulled_run(job, None, None, plan)
        own = (known.run.name, known.pull.feed_name)
        named_pull(job, run, feed, decisions, asked=own, file=file)
        return known
    run, feed = named_pull(job, run, feed, decisions, asked=asked, file=file)
    return pulled_run(job, run or None, feed or None)


def named_pull(
    job: Job,
    run: str,
    feed: str,
    decisions: Decisions,
    *,
    asked: tuple[str | None, str | None],
    file: str,
) -> tuple[str, str]:
    """Run and feed end, "" where none is named: as ``asked``, else as written in the log.

    InputError where the log names what the job does not have and nothing else was asked for.
    """
    names = [r.name for r in job.runs]
    written = _known(run, names)
    if asked[0] and run and written != asked[0]:
        decisions.note(
            "run", f"The log names run {run!r}; it was read as of {asked[0]!r}, as asked."
        )
    elif not asked[0] and run and written is None:
        said = f"is a log of run {run!r}, which the model does not have"
        fix = f'add --run "{names[0]}" to read it as a log of {names[0]!r}'
        fix += f"; runs: {', '.join(names[:20])}" if len(names) > 1 else ""
        raise InputError(Problem(said, "run", fix, file))
    chosen = asked[0] or written or ""
    if chosen not in names and (chosen or len(names) != 1):
        return chosen, asked[1] or feed  # pulled_run refuses it
    route = job.run(chosen or names[0]).route
    ends = [route.label(0), route.label(len(route.vertices) - 1)]
    end = _known(feed, ends)
    if asked[1] and feed and end != asked[1]:
        decisions.note(
            "feed", f"The log names feed {feed!r}; it was read as {asked[1]!r}, as asked."
        )
    elif not asked[1] and feed and end is None:
        said = f"is a log of a pull fed from {feed!r}; run {chosen or names[0]!r} has no such end"
        fix = f'add --feed "{ends[0]}" or --feed "{ends[1]}"'
        raise InputError(Problem(said, "feed", fix, file))
    return chosen, asked[1] or end or ""


def _known(text: str, names: Sequence[str]) -> str | None:
    """The one of the names that a log means, written in any case; None for none."""
    word = " ".join(text.split()).casefold()
    return next((name for name in names if name == text or name.casefold() == word), None)
