"""``route3d view``: a picture, charts, a film, a page or a window of a run."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
    read_job,
    system_of,
    told,
)
from route3d.cli.view_request import ColourBy, Request, Theme, View, refuse_idle
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.planning.evaluate import JobResult, RunResult

_WRITES, _LOOK, _WHAT = "What to write", "How it looks", "What to show"


def view(
    model: ModelFile,
    png: Annotated[
        Path | None,
        typer.Option(
            "--png",
            metavar="FILE",
            show_default=False,
            rich_help_panel=_WRITES,
            help="A still picture.",
        ),
    ] = None,
    svg: Annotated[
        Path | None,
        typer.Option(
            "--svg",
            metavar="FILE",
            show_default=False,
            rich_help_panel=_WRITES,
            help="Charts along the route, and of the machine load as the cable moves.",
        ),
    ] = None,
    movie: Annotated[
        Path | None,
        typer.Option(
            "--movie",
            metavar="FILE",
            show_default=False,
            rich_help_panel=_WRITES,
            help="A film of the pull: .gif, or .mp4 with route3d\\[movie] installed.",
        ),
    ] = None,
    html: Annotated[
        Path | None,
        typer.Option(
            "--html",
            metavar="FILE",
            show_default=False,
            rich_help_panel=_WRITES,
            help="A page to hand over, of all runs: one file that needs no network.",
        ),
    ] = None,
    run: RunOption = None,
    feed: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|best",
            show_default=False,
            rich_help_panel=_WHAT,
            help="The end that feeds; best is the one decided upon, as where left out.",
        ),
    ] = None,
    colour_by: Annotated[
        ColourBy | None,
        typer.Option(
            "--colour-by",
            "--color-by",
            show_default=False,
            rich_help_panel=_WHAT,
            help="What the colours say; tension where left out.",
        ),
    ] = None,
    units: UnitsOption = None,
    look: Annotated[
        View | None,
        typer.Option(
            "--view",
            show_default=False,
            rich_help_panel=_LOOK,
            help="From where to look; profile unrolls the route. Isometric where left out.",
        ),
    ] = None,
    theme: Annotated[
        Theme | None,
        typer.Option(show_default=False, rich_help_panel=_LOOK, help="Light where left out."),
    ] = None,
    size: Annotated[
        str | None,
        typer.Option(
            metavar="WIDTHxHEIGHT",
            show_default=False,
            rich_help_panel=_LOOK,
            help="Size in pixels, from 400x300; 1600x1000 for a picture where left out.",
        ),
    ] = None,
    exaggerate: Annotated[
        str | None,
        typer.Option(
            metavar="N|auto",
            show_default=False,
            rich_help_panel=_LOOK,
            help="How many times thicker than true conduit, reel and machine are drawn; 1 is true "
            "size. What can be seen where left out.",
        ),
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option(
            metavar="N",
            show_default=False,
            rich_help_panel=_LOOK,
            help="How long a film lasts; 8 where left out.",
        ),
    ] = None,
) -> None:
    """What does the route look like, and where is the cable loaded most?

    Opens a window with the run in 3D; with a file to write, writes that and opens none. A job of
    several runs needs --run, but for --html.

    Exit code 1 where something stops the pull, 2 where the input is wrong or nothing can be drawn.

    Example: route3d view models/riser_duct_bank.toml --png feeder.png
    """
    asked = Request(feed, colour_by, look, theme, size, exaggerate, seconds)
    files = {"--png": png, "--svg": svg, "--movie": movie, "--html": html}
    wanted = {name: path for name, path in files.items() if path is not None}
    refuse_idle(asked, tuple(wanted))
    job = read_job(model, run)
    from route3d.planning import evaluate

    result = evaluate(job, with_changes="--html" in wanted)
    shown = system_of(job, units)
    one = None if tuple(wanted) == ("--html",) else _the_run(result, model)
    if one is not None:
        _check_feed(one, feed, model)
    for name, path in wanted.items():
        if name == "--html":
            _write_html(result, job, path, asked, shown)
        elif one is not None:
            _WRITERS[name](one, job, path, asked, shown)
        told(f"wrote {path}")
    if not wanted and one is not None:
        from viewer.window import open_window

        open_window(one, job, **asked.options(shown, *_STILL))
    raise exit_code(result.stops)


def _the_run(result: JobResult, model: Path) -> RunResult:
    if len(result.runs) == 1:
        return result.runs[0]
    said = f"the job has {len(result.runs)} runs and a picture shows one"
    names = ", ".join(r.run.name for r in result.runs)
    raise InputError(Problem(said, where="--run", fix=f"name one of {names}", file=str(model)))


def _check_feed(run: RunResult, feed: str | None, model: Path) -> None:
    if feed is None or feed == "best":
        return
    names = [c.pull.feed_name for c in run.candidates]
    if feed not in names:
        fix = "name " + " or ".join(repr(n) for n in names) + ", or best"
        raise InputError(Problem(f"{feed!r} is no end of the run", "--feed", fix, str(model)))


# --- writing -----------------------------------------------------------------------------------

_STILL = ("feed", "colour_by", "view", "theme", "size", "exaggeration")


def _write_png(run: RunResult, job: Job, path: Path, asked: Request, units: str) -> None:
    from viewer.still import write_png

    write_png(run, job, path, **asked.options(units, *_STILL))


def _write_svg(run: RunResult, job: Job, path: Path, asked: Request, units: str) -> None:
    from viewer.sheet import write_svg

    write_svg(run, job, path, **asked.options(units, "feed", "theme", "size"))


def _write_movie(run: RunResult, job: Job, path: Path, asked: Request, units: str) -> None:
    from viewer.movie import write_movie

    names = ("feed", "view", "theme", "size", "exaggeration", "seconds")
    with _progress("drawing the film") as step:
        write_movie(run, job, path, told=step, **asked.options(units, *names))


def _write_html(result: JobResult, job: Job, path: Path, asked: Request, units: str) -> None:
    from viewer.handover import write_html

    write_html(result, job, path, **asked.options(units, "theme"))


_WRITERS: dict[str, Callable[[RunResult, Job, Path, Request, str], None]] = {
    "--png": _write_png,
    "--svg": _write_svg,
    "--movie": _write_movie,
}


@contextmanager
def _progress(words: str) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on the terminal while something long is made; nothing where there is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=None)
        yield lambda done, whole: bar.update(task, completed=done, total=whole)
