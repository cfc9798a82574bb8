"""``route3d jobs``: one summary over the runs of one, several or thousands of model files."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, islice
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    BAD_INPUT,
    JsonOption,
    UnitsOption,
    exit_code,
    message,
    option,
    refuse_suffix,
    save_stream,
    show,
    whole_number,
    write,
)
from route3d.cli.problems import report_problems
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.report.summary import Counts
    from route3d.study.many_jobs.answer import FileAnswer, JobLine
    from route3d.study.many_jobs.feed import Runner
    from route3d.study.many_jobs.ledger import Ledger
    from route3d.study.many_jobs.pace import Pace

# Ended from the keyboard, as a shell tells it.
INTERRUPTED = 130
# A table on the screen has so many runs at most; files and page have all.
_MOST_SHOWN = 200
# Files whose errors are printed; all have a line in every file of results.
_MOST_TOLD = 20
# Less than this is answered before other processes have started.
_FEW_FILES, _FEW_BYTES = 24, 60_000
_EVERY = 10.0  # s, from one line of progress to the next where there is no terminal


def jobs(
    models: Annotated[
        list[Path],
        typer.Argument(
            metavar="MODEL",
            help="Model files, or folders with model files.",
            show_default=False,
        ),
    ],
    recursive: Annotated[
        bool, typer.Option("--recursive", "-r", help="Folders within the folders too.")
    ] = False,
    csv: Annotated[Path | None, option("FILE.csv", "Write the table as CSV.")] = None,
    xlsx: Annotated[Path | None, option("FILE.xlsx", "Write the table as a workbook.")] = None,
    html: Annotated[
        Path | None,
        option("FILE.html", "Write the table as a page to sort, search and filter, offline."),
    ] = None,
    out: Annotated[
        Path | None,
        option(
            "FILE.jsonl",
            "Write each result at once, as a line of JSON, and resume from this file.",
        ),
    ] = None,
    workers: Annotated[
        int | None,
        option(
            "N",
            "Processes on this machine, 512 at most. Default: one for each processor.",
            parser=whole_number(1, 512),
        ),
    ] = None,
    scheduler: Annotated[
        str | None,
        option("ADDRESS", "Answer on the workers of this Dask scheduler, as tcp://host:8786."),
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Summary of all runs, worst first.

    One line for every run: cables, length, total bend, feed end, the limit that governs and its
    utilization, friction margin, crew time, and the verdict: pull or do not pull. Several model
    files, or a folder of them, give one table. A run with a rope and a machine is planned, and the
    verdict includes its plan. A file with an error is reported and the others are answered. TOML
    files and workbooks of a folder that are no model files are named and left out.

    Thousands of files are answered by all processors. With --out each result is written as it
    comes: run the same command again after an interruption, and it goes on where it ended. Files
    that did not change are not answered again.

    --scheduler uses the workers of a Dask cluster. Whoever reaches a Dask scheduler can run code on
    its workers: use one in a trusted network only.

    Exit code 1 if any run must not be pulled, 2 if any file has an error.

    Example: route3d jobs models --csv summary.csv
    """
    for name, path, suffix in (
        ("--csv", csv, ".csv"),
        ("--xlsx", xlsx, ".xlsx"),
        ("--html", html, ".html"),
        ("--out", out, ".jsonl"),
    ):
        refuse_suffix(name, path, suffix)
    if scheduler is not None and workers is not None:
        said = "--workers and --scheduler do not go together"
        raise InputError(Problem(said, fix="the workers of a cluster are started beside it"))
    from route3d.study.many_jobs.ledger import Ledger
    from route3d.study.many_jobs.program import program

    files, others = _files(models, recursive=recursive)
    _tell_others(others)
    runner = _runner(files, workers, scheduler)
    with Ledger(files, program() if out else "this", out) as ledger:
        if out is not None:
            _tell_resumed(ledger, out)
        _answer(ledger, runner)
        counts = _counts(ledger)
        system = units.value if units else _units(ledger)
        title = _title(ledger)
        examples = ledger.examples
        if csv is not None:
            from route3d.report.summary import jobs_csv

            texts = jobs_csv(ledger.worst_first(), system, examples=examples)
            save_stream(csv, lambda file: file.writelines(text.encode() for text in texts))
        if xlsx is not None:
            from route3d.report.summary import write_jobs_xlsx

            lines = ledger.worst_first()
            save_stream(
                xlsx, lambda file: write_jobs_xlsx(file, lines, title, system, examples=examples)
            )
        if html is not None:
            from route3d.report.jobs_page import write_jobs_page

            rows = ledger.worst_first()
            save_stream(
                html,
                lambda file: write_jobs_page(file, rows, counts, title, system, examples=examples),
            )
        if out is not None:
            message(f"wrote {out}")
        if json:
            _write_data(ledger, others)
        elif counts.runs:
            _print(ledger, title, counts, system)
        if ledger.bad:
            raise typer.Exit(BAD_INPUT)
        raise exit_code(ledger.stops)


# --- the files ------------------------------------------------------------------------------------


def _files(models: Sequence[Path], *, recursive: bool) -> tuple[list[str], dict[str, str]]:
    """The model files named, and those of the folders named, each once; and what is none, why.

    A file named is asked whatever it is. What a folder holds of TOML files and workbooks is either
    asked or among those that are none.
    """
    from route3d.modelfile.other_files import is_model_kind, why_no_model

    files: dict[str, str] = {}
    others: dict[str, str] = {}
    for model in models:
        if not model.is_dir():
            files[os.path.realpath(model)] = str(model)
            continue
        before = len(files)
        root = os.path.realpath(model)
        for entry, below in _entries(str(model), root, recursive=recursive):
            path = Path(entry.path)
            if is_model_kind(path):
                _refuse_name(entry.path)
            real = os.path.realpath(path) if entry.is_symlink() else below
            if real in files or (is_model_kind(path) and not entry.is_dir()):
                why = "" if real in files else why_no_model(path)
                (others if why else files)[entry.path if why else real] = why or entry.path
        if len(files) == before:
            _tell_others(others)
            fix = "name a folder with .toml files or job workbooks, or the files"
            fix += "" if recursive else "; folders within it: --recursive"
            raise InputError(Problem("has no model files", fix=fix, file=str(model)))
    return list(files.values()), others


def _refuse_name(name: str) -> None:
    """InputError for a file whose name no file of results can hold."""
    try:
        name.encode()
    except UnicodeEncodeError:
        told = name.encode("utf-8", "backslashreplace").decode()
        raise InputError(Problem("has a name that is not UTF-8", "", "rename it", told)) from None


def _tell_others(others: dict[str, str]) -> None:
    """What a folder holds beside model files: nothing is left out without a word."""
    for file, why in islice(others.items(), _MOST_TOLD):
        message(f"note: {file}: {why}; left out")
    if len(others) > _MOST_TOLD:
        message(f"note: {len(others) - _MOST_TOLD:,} more files are no model files and left out")


def _entries(folder: str, real: str, *, recursive: bool) -> Iterator[tuple[os.DirEntry[str], str]]:
    """What a folder holds, by name, and where it really is; hidden folders are left out."""
    try:
        with os.scandir(folder) as found:
            entries = sorted(found, key=lambda entry: entry.name)
    except OSError as error:
        said = f"cannot be read: {(error.strerror or str(error)).lower()}"
        raise InputError(Problem(said, fix="check its permissions", file=folder)) from None
    for entry in entries:
        below = f"{real.rstrip(os.sep)}{os.sep}{entry.name}"
        if not entry.is_dir(follow_symlinks=False):
            yield entry, below
        elif recursive and not entry.name.startswith("."):
            yield from _entries(entry.path, below, recursive=True)


# --- answering ------------------------------------------------------------------------------------


def _runner(files: Sequence[str], workers: int | None, scheduler: str | None) -> Runner:
    """Where the files are answered: on a cluster, in this process, or in several."""
    from route3d.api import answered_file
    from route3d.study.many_jobs.feed import one_by_one

    if scheduler is not None:
        from route3d.study.many_jobs.cluster import on_cluster

        return on_cluster(answered_file, scheduler)
    from route3d.study.many_jobs.processes import in_processes, processors

    count = workers or (1 if _few(files) else processors())
    return one_by_one(answered_file) if count == 1 else in_processes(answered_file, count)


def _few(files: Sequence[str]) -> bool:
    """Whether the files are answered before other processes have started."""
    if len(files) >= _FEW_FILES:
        return False
    sizes = (path.stat().st_size for path in map(Path, files) if path.is_file())
    return sum(sizes) < _FEW_BYTES


def _tell_resumed(ledger: Ledger, out: Path) -> None:
    resumed = ledger.resumed
    if resumed.cut:
        message(f"note: {out}: the last line was half written and is answered again")
    if resumed.kept or resumed.again:
        said = f"{resumed.kept:,} of {ledger.whole:,} files are done and unchanged"
        again = f"; {resumed.again:,} changed or had errors and are answered again"
        message(f"note: {out}: {said}{again if resumed.again else ''}")
    if resumed.foreign:
        lines = "1 line is" if resumed.foreign == 1 else f"{resumed.foreign:,} lines are"
        message(f"note: {out}: {lines} of files not named now; kept there, not in this summary")


def _answer(ledger: Ledger, runner: Runner) -> None:
    """Answer what is left; what is wrong with the files is printed at the end."""
    from route3d.study.many_jobs.run import answer_all

    told: list[FileAnswer] = []
    progress = _Progress()

    def one(answer: FileAnswer, pace: Pace) -> None:
        for note in answer.notes:
            progress.clear()
            message(f"note: {answer.asked.file}: {note}")
        if answer.problems and len(told) < _MOST_TOLD:
            told.append(answer)
        progress.show(pace)

    try:
        answer_all(ledger, runner, one)
    except KeyboardInterrupt:
        progress.clear()
        said = f"stopped: {ledger.done:,} of {ledger.whole:,} files are answered"
        if ledger.path is None:
            message(f"{said} and lost; with --out FILE.jsonl they are kept")
        else:
            message(f"{said}, in {ledger.path}. To go on, run the same command again")
        raise typer.Exit(INTERRUPTED) from None
    finally:
        progress.clear()
    for answer in sorted(told, key=lambda answer: answer.asked.number):
        report_problems(InputError(answer.problems))
    if len(ledger.bad) > len(told):
        message(f"and {len(ledger.bad) - len(told):,} more files have errors")


class _Progress:
    """One line that is written over on a terminal; elsewhere a line every ten seconds."""

    def __init__(self) -> None:
        self._live, self._width = sys.stderr.isatty(), 0
        self._next = time.monotonic() + (1.0 if self._live else _EVERY)

    def show(self, pace: Pace) -> None:
        now = time.monotonic()
        if now < self._next or pace.done == pace.whole:
            return
        if self._live:
            text = str(pace)
            sys.stderr.write("\r" + text.ljust(self._width))
            sys.stderr.flush()
            self._width = len(text)
        else:
            message(str(pace))
        self._next = now + (0.2 if self._live else _EVERY)

    def clear(self) -> None:
        """Take the line off the terminal."""
        if self._width:
            sys.stderr.write("\r" + " " * self._width + "\r")
            self._width = 0


# --- the answer -----------------------------------------------------------------------------------


def _counts(ledger: Ledger) -> Counts:
    from route3d.report.summary import counts_of

    runs = (line.run for line in ledger.by_file() if line.run is not None)
    return counts_of(runs, failed=len(ledger.bad))


def _good(ledger: Ledger) -> JobLine | None:
    return next((line for line in ledger.by_file() if line.run is not None), None)


def _units(ledger: Ledger) -> str:
    first = _good(ledger)
    return first.units if first else "SI"


def _title(ledger: Ledger) -> str:
    first = _good(ledger) if ledger.whole == 1 else None
    return first.title if first else "Summary of all runs"


def _print(ledger: Ledger, title: str, counts: Counts, system: str) -> None:
    from rich.console import Group
    from rich.text import Text

    from route3d.planning.result import CAUTIONS
    from route3d.report.layout import paragraph, titled
    from route3d.report.summary import jobs_banners, jobs_table

    lines = list(islice((line for line in ledger.worst_first() if line.run), _MOST_SHOWN))
    left = []
    if ledger.bad:
        files = "1 file has" if len(ledger.bad) == 1 else f"{len(ledger.bad):,} files have"
        left = [paragraph(f"{files} errors and no line in this table.", style="bold red")]
    cautions = [paragraph(text, style="dim") for text in CAUTIONS]
    head = titled(title, *jobs_banners(lines))
    table = jobs_table(lines, ledger.whole - len(ledger.bad), system, counts)
    show(Group(head, *table, *left, Text(), *cautions))


def _write_data(ledger: Ledger, others: dict[str, str]) -> None:
    """The answers for machines, written as they are read: there may be any number of them."""
    from route3d.report.summary import line_data

    write('{\n  "files": [')
    _write_list(_file_data(lines) for lines in _by_file(ledger))
    write('],\n  "runs": [')
    _write_list(line_data(line) for line in ledger.worst_first() if line.run is not None)
    write('],\n  "left_out": [')
    _write_list({"file": file, "why": why} for file, why in others.items())
    write("]\n}\n")


def _by_file(ledger: Ledger) -> Iterator[list[JobLine]]:
    for _, lines in groupby(ledger.by_file(), key=lambda line: line.file):
        yield list(lines)


def _file_data(lines: Sequence[JobLine]) -> dict[str, object]:
    return {
        "file": lines[0].file,
        "runs": sum(line.run is not None for line in lines),
        "examples": list(lines[0].examples),
        "errors": [error for line in lines for error in line.errors],
    }


def _write_list(items: Iterable[dict[str, object]]) -> None:
    """Items of a list in the layout of ``write_json``."""
    from route3d.report.json_result import dumps

    between = "\n"
    for item in items:
        body = dumps(item).rstrip("\n").replace("\n", "\n    ")
        write(f"{between}    {body}")
        between = ",\n"
    if between != "\n":
        write("\n  ")
