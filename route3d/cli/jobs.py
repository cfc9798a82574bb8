"""``route3d jobs``: one summary table over the runs of one or more model files."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    BAD_INPUT,
    JsonOption,
    UnitsOption,
    exit_code,
    option,
    read_job,
    refuse_suffix,
    save,
    show,
    write_json,
)
from route3d.cli.problems import report_problems
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.report.summary import JobLine


@dataclass(frozen=True, slots=True)
class _Answer:
    """One file, answered: its lines and the units of its job, or what is wrong with it."""

    file: str
    lines: tuple[JobLine, ...] = ()
    units: str = ""
    error: InputError | None = None
    examples: tuple[str, ...] = ()


def jobs(
    models: Annotated[
        list[Path],
        typer.Argument(
            metavar="MODEL",
            help="Model files, or folders with model files.",
            show_default=False,
        ),
    ],
    csv: Annotated[Path | None, option("FILE.csv", "Write the table as CSV.")] = None,
    xlsx: Annotated[Path | None, option("FILE.xlsx", "Write the table as a workbook.")] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Summary of all runs, worst first.

    One line for every run: cables, length, total bend, feed end, the limit that governs and its
    utilization, friction margin, crew time, and the verdict: pull or do not pull. Several model
    files, or a folder of them, give one table. A run with a rope and a machine is planned, and the
    verdict includes its plan. A file with an error is reported and the others are answered.

    Exit code 1 if any run must not be pulled, 2 if any file has an error.

    Example: route3d jobs models --csv summary.csv
    """
    refuse_suffix("--csv", csv, ".csv")
    refuse_suffix("--xlsx", xlsx, ".xlsx")
    answers = [_answer(file) for file in _files(models)]
    for answer in answers:
        if answer.error is not None:
            report_problems(answer.error)
    good = [a for a in answers if a.error is None]
    lines = [line for answer in good for line in answer.lines]
    system = units.value if units else good[0].units if good else "SI"
    title = good[0].lines[0].title if len(answers) == 1 and good else "Summary of all runs"
    if csv is not None and lines:
        from route3d.report.summary import jobs_csv

        save(csv, jobs_csv(lines, system))
    if xlsx is not None and lines:
        from route3d.report.summary import jobs_xlsx

        save(xlsx, jobs_xlsx(lines, title, system))
    if json:
        write_json(_data(answers, lines))
    elif lines:
        _print(title, lines, len(answers) - len(good), system)
    if len(good) < len(answers):
        raise typer.Exit(BAD_INPUT)
    raise exit_code(any(line.run.stops for line in lines))


def _files(models: Sequence[Path]) -> list[Path]:
    """The model files named, and those of the folders named, each once."""
    files: list[Path] = []
    for model in models:
        if not model.is_dir():
            files.append(model)
            continue
        inside = [file for file in sorted(model.iterdir()) if _is_model(file)]
        if not inside:
            fix = "name a folder with .toml files or job workbooks, or the files"
            raise InputError(Problem("has no model files", fix=fix, file=str(model)))
        files += inside
    return list({os.path.realpath(file): file for file in files}.values())


def _is_model(file: Path) -> bool:
    """Whether a file of a folder is a model file; a workbook may be anything else."""
    from route3d.modelfile.workbook.reading import is_job_workbook

    kind = file.suffix.lower()
    if kind != ".xlsx" or file.name.startswith("~$"):  # the mark of a workbook that is open
        return kind == ".toml" and file.is_file()
    try:
        return is_job_workbook(file)
    except InputError:  # no workbook, whatever its name
        return False


def _answer(file: Path) -> _Answer:
    from route3d.api import evaluate, summarized
    from route3d.report.summary import JobLine

    try:
        job = read_job(file)
        found = summarized(evaluate(job, with_remedies=False))
    except InputError as error:
        return _Answer(str(file), error=error)
    lines = tuple(JobLine(str(file), job.title, run, job.examples) for run in found)
    return _Answer(str(file), lines, job.units, examples=job.examples)


def _print(title: str, lines: Sequence[JobLine], unread: int, system: str) -> None:
    from rich.console import Group
    from rich.text import Text

    from route3d.planning.result import CAUTIONS
    from route3d.report.layout import paragraph, titled
    from route3d.report.summary import jobs_banners, jobs_table

    left = []
    if unread:
        files = "1 file has" if unread == 1 else f"{unread} files have"
        left = [paragraph(f"{files} errors and no line in this table.", style="bold red")]
    cautions = [paragraph(text, style="dim") for text in CAUTIONS]
    head = titled(title, *jobs_banners(lines))
    show(Group(head, *jobs_table(lines, system), *left, Text(), *cautions))


def _data(answers: Sequence[_Answer], lines: Sequence[JobLine]) -> dict[str, object]:
    from route3d.report.summary import in_order, line_data

    return {
        "files": [
            {
                "file": answer.file,
                "runs": len(answer.lines),
                "examples": list(answer.examples),
                "errors": [] if answer.error is None else [str(p) for p in answer.error.problems],
            }
            for answer in answers
        ],
        "runs": [line_data(line) for line in in_order(lines)],
    }
