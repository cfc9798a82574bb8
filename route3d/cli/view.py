"""``route3d view``: a picture, charts, a film, a page or a window of a run."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
    message,
    read_job,
    refuse_suffix,
    system_of,
)
from route3d.cli.view_request import ColorBy, PictureView, Request, Shade, refuse_idle
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.planning.result import JobResult, RunResult
    from viewer.verdict import Planned

_SUFFIXES = {
    "--png": (".png",),
    "--svg": (".svg",),
    "--movie": (".gif", ".mp4"),
    "--html": (".html", ".htm"),
}
_WRITES, _LOOK, _WHAT = "What to write", "How it looks", "What to show"


def view(
    model: ModelFile,
    png: Annotated[
        Path | None,
        typer.Option(
            "--png",
            metavar="FILE.png",
            show_default=False,
            rich_help_panel=_WRITES,
            help="Write a still picture.",
        ),
    ] = None,
    svg: Annotated[
        Path | None,
        typer.Option(
            "--svg",
            metavar="FILE.svg",
            show_default=False,
            rich_help_panel=_WRITES,
            help="Write charts along the route, and of the machine load as the cable moves.",
        ),
    ] = None,
    movie: Annotated[
        Path | None,
        typer.Option(
            "--movie",
            metavar="FILE.gif",
            show_default=False,
            rich_help_panel=_WRITES,
            help="Write a film of the pull: .gif, or .mp4 with route3d\\[movie] installed.",
        ),
    ] = None,
    html: Annotated[
        Path | None,
        typer.Option(
            "--html",
            metavar="FILE.html",
            show_default=False,
            rich_help_panel=_WRITES,
            help="Write a page of all runs to hand over: one file that needs no network.",
        ),
    ] = None,
    run: RunOption = None,
    feed: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|best",
            show_default=False,
            rich_help_panel=_WHAT,
            help="Feed end. Default: best, the recommended end.",
        ),
    ] = None,
    color_by: Annotated[
        ColorBy | None,
        typer.Option(
            "--color-by",
            metavar="QUANTITY",
            show_default=False,
            rich_help_panel=_WHAT,
            help="Quantity shown in color: tension, sidewall, utilization or conduit. Default: "
            "tension.",
        ),
    ] = None,
    units: UnitsOption = None,
    look: Annotated[
        PictureView | None,
        typer.Option(
            "--view",
            metavar="VIEW",
            show_default=False,
            rich_help_panel=_LOOK,
            help="isometric, plan, side or profile (the route unrolled). Default: isometric.",
        ),
    ] = None,
    theme: Annotated[
        Shade | None,
        typer.Option(
            metavar="THEME",
            show_default=False,
            rich_help_panel=_LOOK,
            help="light (paper, daylight) or dark (a dim room). Default: light.",
        ),
    ] = None,
    size: Annotated[
        str | None,
        typer.Option(
            metavar="WIDTHxHEIGHT",
            show_default=False,
            rich_help_panel=_LOOK,
            help="Size in pixels, minimum 360x300. Default for a picture: 1600x1000.",
        ),
    ] = None,
    exaggerate: Annotated[
        str | None,
        typer.Option(
            metavar="N|auto",
            show_default=False,
            rich_help_panel=_LOOK,
            help="Thickness of conduit, reel and machine over true size; 1 is true "
            "size. Default: enough to see them.",
        ),
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option(
            metavar="N",
            show_default=False,
            rich_help_panel=_LOOK,
            help="Length of the film. Default: 8.",
        ),
    ] = None,
) -> None:
    """Pictures of the route: a window, a still, charts, a film or a page to hand over.

    Opens a window with all runs in 3D; with a file to write, writes that and opens none. If there
    are several runs, a picture, charts or a film show the one named with --run.

    Exit code 1 if the pull exceeds a limit, 2 for bad input or if nothing can be drawn.

    Example: route3d view models/riser_duct_bank.toml --png feeder.png

    The colors show tension; add --color-by sidewall if sidewall pressure governs.
    """
    asked = Request(feed, color_by, look, theme, size, exaggerate, seconds)
    files = {"--png": png, "--svg": svg, "--movie": movie, "--html": html}
    wanted = {name: path for name, path in files.items() if path is not None}
    for name, path in wanted.items():
        refuse_suffix(name, path, *_SUFFIXES[name])
    refuse_idle(asked, tuple(wanted))
    job = read_job(model, run)
    from route3d.api import evaluate

    result = evaluate(job, with_remedies="--html" in wanted)
    shown = system_of(job, units)
    one = None if tuple(wanted) in ((), ("--html",)) else _the_run(result, model)
    if tuple(wanted) != ("--html",):
        _check_feed(result.runs[0], feed, model)
    made: dict[int, Planned] = {}  # each run is planned once, whatever is written
    for name, path in wanted.items():
        if name == "--html":
            _write_html(result, job, path, asked, shown)
        elif one is not None:
            drawn = _Drawn(one, job, asked) if name == "--svg" else _drawn(one, job, asked)
            ready = made.get(id(drawn.run)) or _planned(drawn, shown, wanted)
            made[id(drawn.run)] = ready
            _WRITERS[name](drawn, path, shown, ready)
        message(f"wrote {path}")
    if not wanted:
        from viewer.window.desktop import open_window

        drawn = _drawn(result.runs[0], job, asked)
        runs = result.runs if drawn.job is job else evaluate(drawn.job, with_remedies=False).runs
        open_window(runs, drawn.job, **drawn.asked.options(shown, *_STILL))
        raise exit_code(result.stops)
    from viewer.verdict import plan_stops

    stopped = (plan_stops(each, job, made.get(id(each))) for each in result.runs)
    raise exit_code(result.stops or any(stopped))


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """What goes into one picture."""

    run: RunResult
    job: Job
    asked: Request


def _drawn(run: RunResult, job: Job, asked: Request) -> _Drawn:
    """The same with names that the fonts of this machine can draw, said so where any changes."""
    from route3d.planning.result import evaluate_run
    from viewer.still.names import drawable

    other, given = drawable(job)
    if not given:
        return _Drawn(run, job, asked)
    names = ", ".join(f"{old} is shown as {new}" for old, new in given.items())
    message(
        f"caution: no font on this machine has all letters of these names: {names}; install one"
    )
    index = [r.name for r in job.runs].index(run.run.name)
    again = evaluate_run(other.runs[index], other.practice)
    return _Drawn(again, other, replace(asked, feed=given.get(asked.feed or "", asked.feed)))


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
        said = f"run {run.run.name} has no end named {feed!r}"
        raise InputError(Problem(said, "--feed", fix, str(model)))


# --- writing -----------------------------------------------------------------------------------

_STILL = ("feed", "color_by", "view", "theme", "size", "exaggeration")


def _planned(drawn: _Drawn, units: str, wanted: Collection[str]) -> Planned:
    """The direction to draw with its plan; a film waits for that of a very long run too."""
    from viewer.renderer import start_trial
    from viewer.verdict import planned

    if set(wanted) & {"--png", "--movie"}:
        start_trial()  # it takes a second; the plan is made meanwhile
    feed = drawn.asked.options(units, "feed").get("feed")
    return planned(drawn.run, drawn.job, feed, patient="--movie" in wanted)


def _write_png(drawn: _Drawn, path: Path, units: str, ready: Planned) -> None:
    from viewer.still.picture import write_png

    options = drawn.asked.options(units, *_STILL)
    write_png(drawn.run, drawn.job, path, ready=ready, **options)


def _write_svg(drawn: _Drawn, path: Path, units: str, ready: Planned) -> None:
    from viewer.print_charts import write_svg

    options = drawn.asked.options(units, "feed", "theme", "size")
    write_svg(drawn.run, drawn.job, path, ready=ready, **options)


def _write_movie(drawn: _Drawn, path: Path, units: str, ready: Planned) -> None:
    from viewer.film import write_movie

    names = ("feed", "view", "theme", "size", "exaggeration", "seconds")
    with _progress("drawing the film") as step:
        options = drawn.asked.options(units, *names)
        write_movie(drawn.run, drawn.job, path, told=step, ready=ready, **options)


def _write_html(result: JobResult, job: Job, path: Path, asked: Request, units: str) -> None:
    from viewer.web.handover import write_html

    write_html(result, job, path, **asked.options(units, "theme"))


_WRITERS: dict[str, Callable[[_Drawn, Path, str, Planned], None]] = {
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
