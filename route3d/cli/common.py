"""What the commands share: their options, reading the model, printing, and exit codes."""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import IO, TYPE_CHECKING, Annotated, Any

import typer

from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from rich.console import RenderableType

    from route3d.model.job import Job
    from route3d.planning.summary import RunSummary

FINE, STOP, BAD_INPUT = 0, 1, 2
# Threads of this name may be left at their work when the program ends.
WORK_ASIDE = "route3d work aside"
# In a pipe a line is as long as it needs to be, whatever COLUMNS says: nothing wraps or is cut.
PIPE_WIDTH = 10_000


class Units(StrEnum):
    """The systems of units a report can be shown in."""

    US = "US"
    SI = "SI"


class Paper(StrEnum):
    """The size of the pages of a document."""

    LETTER = "letter"
    A4 = "a4"


def paper_size(paper: Paper | None, system: str) -> str:
    """The size asked for; letter for US units, else a4."""
    return (paper or (Paper.LETTER if system == "US" else Paper.A4)).value


def units_named(text: str) -> Units:
    """The system of units of that name, in capitals or not."""
    try:
        return Units(text.strip().upper())
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not a unit system; use US or SI") from None


def number(least: float = -math.inf, most: float = math.inf) -> Callable[[Any], float]:
    """What reads an option that is a number in this range."""

    def read(typed: Any) -> float:
        try:
            value = float(typed)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise typer.BadParameter(f"{typed!r} is not a number; enter one such as 0.5")
        return _in_range(value, typed, least, most)

    return read


def whole_number(least: float = -math.inf, most: float = math.inf) -> Callable[[Any], int]:
    """What reads an option that is a whole number in this range."""

    def read(typed: Any) -> int:
        try:
            value = int(typed)
        except ValueError:
            said = f"{typed!r} is not a whole number; enter one such as {max(least, 1):.0f}"
            raise typer.BadParameter(said) from None
        return int(_in_range(value, typed, least, most))

    return read


def _in_range(value: float, typed: Any, least: float, most: float) -> float:
    if least <= value <= most:
        return value
    span = f"between {least:,} and {most:,}" if most < math.inf else f"{least:,} or more"
    raise typer.BadParameter(f"{typed} must be {span}")


def option(
    metavar: str | None,
    words: str,
    *,
    panel: str | None = None,
    flag: str | None = None,
    **more: Any,
) -> Any:
    """An option whose help says in words what it is without it, for ``Annotated``.

    ``flag`` is its name where that is not the name of the parameter.
    """
    names = () if flag is None else (flag,)
    return typer.Option(
        *names, metavar=metavar, show_default=False, rich_help_panel=panel, help=words, **more
    )


ModelFile = Annotated[
    Path,
    typer.Argument(
        metavar="MODEL",
        help="Model file (.toml, or a job workbook .xlsx); route3d new writes one.",
        show_default=False,
    ),
]
UnitsOption = Annotated[
    Units | None,
    option("US|SI", "Units to show. Default: the model file's units.", parser=units_named),
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print JSON for machines, always in SI units.")
]
DraftOption = Annotated[
    bool,
    typer.Option(
        "--draft", help="Print DRAFT across every page; required while values are examples."
    ),
]
SensitivityOption = Annotated[
    bool,
    typer.Option(
        "--sensitivity", help="Add how sure and how far each run is (studies spread and limits)."
    ),
]


def language_named(text: str) -> str:
    """A language by its code; one without a catalog is refused."""
    from route3d.language import languages

    if (code := text.strip().lower()) in languages():
        return code
    raise typer.BadParameter(f"no language {text!r}; use {' or '.join(languages())}")


LanguageOption = Annotated[
    str,
    option(
        "CODE",
        "Language of sheets, cards and the crew's page: en or es. Default: en.",
        flag="--language",
        parser=language_named,
    ),
]
PaperOption = Annotated[
    Paper | None,
    option(None, "Page size. Default: letter for jobs in US units, else a4.", case_sensitive=False),
]
RunOption = Annotated[str | None, option("NAME", "Only the run of this name.")]

RunsOption = Annotated[
    list[str] | None, option("NAME", "Only the run of this name. Repeatable.", flag="--run")
]


def read_job(model: Path, run: str | Sequence[str] | None = None) -> Job:
    """The job of a model file, with all its runs or those named; InputError otherwise."""
    from route3d.modelfile.read import load

    job = load(model)
    for note in job.notes:
        message(f"note: {model}: {note}")
    return only_runs(job, run, model)


def only_runs(job: Job, run: str | Sequence[str] | None, model: Path) -> Job:
    """The job with the runs named, or all of them; InputError for a name it has not."""
    if run is None or run == []:
        return job
    names, known = [run] if isinstance(run, str) else run, [r.name for r in job.runs]
    if unknown := [name for name in names if name not in known]:
        from route3d.modelfile.fields import nearest

        raise InputError(
            [
                Problem(f"no run is named {name!r}", "--run", nearest(name, known), str(model))
                for name in unknown
            ]
        )
    return replace(job, runs=tuple(r for r in job.runs if r.name in names))


def refuse_suffix(option: str, path: Path | None, *suffixes: str) -> None:
    """InputError where a file to write has another ending than what is written, or no folder."""
    if path is None:
        return
    from route3d.disk import refuse_target

    # A model file under another ending than is written: the ending is what is wrong.
    refuse_target(path, over_model=path.suffix.lower() not in suffixes)
    if path.suffix.lower() == ".xlsx":
        refuse_job_workbook(path)
    if path.suffix.lower() in suffixes or (path.exists() and not path.is_file()):
        return  # a folder or a device is told apart when it is written to
    wanted = " or ".join(suffixes)
    named = " or ".join(str(path.with_suffix(s)) for s in suffixes) if path.name else wanted
    said = f"{str(path)!r} must end in {wanted}"
    raise InputError(Problem(said, where=option, fix=f"name it {named}"))


def detailed(runs: Sequence[RunSummary], asked: Sequence[str] | None, every: bool) -> list[str]:
    """The names of the runs of a summary that a report details.

    Those asked for and ``every`` one on request; else those that must not be pulled. A summary of
    one run, which is not printed, leaves none out.
    """
    whole = every or bool(asked) or len(runs) < 2
    return [run.name for run in runs if whole or run.stops]


def refuse_job_workbook(path: Path) -> None:
    """InputError where a file to write is a job workbook already: it would be lost."""
    from route3d.modelfile.workbook.reading import is_job_workbook

    try:
        lost = path.is_file() and is_job_workbook(path)
    except InputError:  # no workbook, whatever its name
        return
    if lost:
        said = "already exists and is a job workbook. Not overwritten"
        raise InputError(Problem(said, fix="choose another name", file=str(path)))


def system_of(job: Job, units: Units | None) -> str:
    """The system of units to show: the one asked for, else that of the job."""
    return units.value if units is not None else job.units


def show(report: RenderableType) -> None:
    """Print a report: to the width of a terminal, or unwrapped and plain into a pipe."""
    from rich.console import Console

    plain = {"highlight": False, "markup": False, "emoji": False}
    if sys.stdout.isatty():
        colors = None if os.environ.get("NO_COLOR") else "auto"
        Console(color_system=colors, **plain).print(report)  # type: ignore[arg-type]
        return
    console = Console(width=PIPE_WIDTH, color_system=None, **plain)  # type: ignore[arg-type]
    with console.capture() as captured:
        console.print(report)
    write("".join(line.rstrip() + "\n" for line in captured.get().splitlines()))


def write(text: str) -> None:
    """Print text as it is."""
    sys.stdout.write(text)


def write_json(data: Any) -> None:
    """Print data for machines."""
    from route3d.report.json_result import dumps

    write(dumps(data))


def save(path: Path, made: str | bytes) -> None:
    """Write a file, whole or not at all, and say so."""
    from route3d.disk import write_bytes_atomic, write_text_atomic

    if isinstance(made, str):
        write_text_atomic(path, made)
    else:
        write_bytes_atomic(path, made)
    message(f"wrote {path}")


def save_stream(path: Path, put: Callable[[IO[bytes]], object]) -> None:
    """Write a file piece by piece, whole or not at all, and say so."""
    from route3d.disk import write_stream_atomic

    write_stream_atomic(path, put)
    message(f"wrote {path}")


def message(text: str) -> None:
    """Say on standard error what was done, so that standard output stays clean."""
    print(text, file=sys.stderr)


def exit_code(stops: bool) -> typer.Exit:
    """What a command ends with: 1 where something stops the job, else 0."""
    return typer.Exit(STOP if stops else FINE)


@contextmanager
def typed_as(**options: str) -> Iterator[None]:
    """Name parameters of the Python function in its errors as the options they are typed as."""
    try:
        yield
    except InputError as error:
        raise InputError(
            [
                p if p.file else replace(p, where=options.get(p.where, p.where))
                for p in error.problems
            ]
        ) from None


@contextmanager
def progress_bar(words: str) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on the terminal while something long is made; nothing where there is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=None)
        yield lambda done, whole: bar.update(task, completed=done, total=whole)
