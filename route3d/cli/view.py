"""``route3d view``: a picture, charts, a film, a page or a window of a run."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from route3d.cli.common import (
    DraftOption,
    LanguageOption,
    ModelFile,
    RunOption,
    SensitivityOption,
    UnitsOption,
    exit_code,
    message,
    number,
    option,
    progress_bar,
    read_job,
    refuse_suffix,
    system_of,
)
from route3d.errors import InputError, Problem
from route3d.language import ENGLISH

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
_SMALLEST, _LARGEST = (360, 300), 4000
# Below these a film has no room for its chart, and charts cannot be read.
_SMALLEST_OF = {"--movie": ("a film", (640, 400)), "--svg": ("a sheet of charts", (600, 700))}
_SHORTEST, _LONGEST = 1.0, 120.0


class PictureView(StrEnum):
    """From where to look."""

    isometric = "isometric"
    plan = "plan"
    side = "side"
    profile = "profile"


class ColorBy(StrEnum):
    """What the colors of the conduit say."""

    tension = "tension"
    sidewall = "sidewall"
    utilization = "utilization"
    conduit = "conduit"


class Shade(StrEnum):
    """Light for paper and daylight, dark for a dim room."""

    light = "light"
    dark = "dark"


_WRITES, _LOOK, _WHAT = "What to write", "How it looks", "What to show"


def view(
    model: ModelFile,
    png: Annotated[Path | None, option("FILE.png", "Write a still picture.", panel=_WRITES)] = None,
    svg: Annotated[
        Path | None,
        option(
            "FILE.svg",
            "Write charts along the route, and of the machine load as the cable moves.",
            panel=_WRITES,
        ),
    ] = None,
    movie: Annotated[
        Path | None,
        option(
            "FILE.gif",
            "Write a film of the pull: .gif, or .mp4 with route3d\\[movie] installed.",
            panel=_WRITES,
        ),
    ] = None,
    html: Annotated[
        Path | None,
        option(
            "FILE.html",
            "Write a page of all runs to hand over: one file that needs no network.",
            panel=_WRITES,
        ),
    ] = None,
    run: RunOption = None,
    feed: Annotated[
        str | None,
        option("NAME|best", "Feed end. Default: best, the recommended end.", panel=_WHAT),
    ] = None,
    color_by: Annotated[
        ColorBy | None,
        option(
            "QUANTITY",
            "Quantity shown in color: tension, sidewall, utilization or conduit. Default: tension.",
            panel=_WHAT,
        ),
    ] = None,
    language: LanguageOption = "en",
    sensitivity: SensitivityOption = False,
    draft: DraftOption = False,
    units: UnitsOption = None,
    look: Annotated[
        PictureView | None,
        option(
            "VIEW",
            "isometric, plan, side or profile (the route unrolled). Default: isometric.",
            panel=_LOOK,
            flag="--view",
        ),
    ] = None,
    theme: Annotated[
        Shade | None,
        option(
            "THEME", "light (paper, daylight) or dark (a dim room). Default: light.", panel=_LOOK
        ),
    ] = None,
    size: Annotated[
        str | None,
        option(
            "WIDTHxHEIGHT",
            "Size in pixels, minimum 360x300. Default for a picture: 1600x1000.",
            panel=_LOOK,
        ),
    ] = None,
    exaggerate: Annotated[
        str | None,
        option(
            "N|auto",
            "Thickness of conduit, reel and machine over true size; 1 is true "
            "size. Default: enough to see them.",
            panel=_LOOK,
        ),
    ] = None,
    seconds: Annotated[
        float | None,
        option("N", "Length of the film, s. Default: 8.", panel=_LOOK, parser=number()),
    ] = None,
) -> None:
    """Pictures of the route: a window, a still, charts, a film or a page to hand over.

    Opens a window with all runs in 3D; with a file to write, writes that and opens none. If there
    are several runs, a picture, charts or a film show the one named with --run.

    Exit code 1 if the pull exceeds a limit, 2 for bad input or if nothing can be drawn.

    Example: route3d view models/riser_duct_bank.toml --png feeder.png

    The colors show tension; add --color-by sidewall if sidewall pressure governs.
    """
    other = None if language == ENGLISH else language
    asked = Request(
        feed, color_by, look, theme, size, exaggerate, seconds, other, sensitivity or None
    )
    files = {"--png": png, "--svg": svg, "--movie": movie, "--html": html}
    wanted = {name: path for name, path in files.items() if path is not None}
    for name, path in wanted.items():
        refuse_suffix(name, path, *_SUFFIXES[name])
    refuse_idle(asked, tuple(wanted))
    if set(wanted) & {"--png", "--movie"}:
        from viewer.renderer import start_trial

        start_trial()  # it takes a second; the job is read and planned meanwhile
    job = read_job(model, run)
    from route3d.api import evaluate

    if html is not None:
        from route3d.report.draft import refuse_unconfirmed

        refuse_unconfirmed(job, draft, "page")

    result = evaluate(job, with_remedies="--html" in wanted)
    shown = system_of(job, units)
    one = None if tuple(wanted) in ((), ("--html",)) else _the_run(result, model)
    if tuple(wanted) != ("--html",):
        _check_feed(result.runs[0], feed, model)
    made: dict[int, Planned] = {}  # each run is planned once, whatever is written
    for name, path in wanted.items():
        if name == "--html":
            _write_html(result, job, path, asked, shown, draft=draft)
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
    from viewer.verdict import planned

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
    with progress_bar("drawing the film") as step:
        options = drawn.asked.options(units, *names)
        write_movie(drawn.run, drawn.job, path, told=step, ready=ready, **options)


def _write_html(
    result: JobResult, job: Job, path: Path, asked: Request, units: str, *, draft: bool
) -> None:
    from viewer.web.handover import write_html

    left = write_html(
        result, job, path, draft=draft, **asked.options(units, "theme", "language", "sensitivity")
    )
    if left:
        message(f"note: {left}")


_WRITERS: dict[str, Callable[[_Drawn, Path, str, Planned], None]] = {
    "--png": _write_png,
    "--svg": _write_svg,
    "--movie": _write_movie,
}


# --- what was asked for, and what of it does not go together ------------------------------------


@dataclass(frozen=True, slots=True)
class Request:
    """The options as given; None where one was omitted."""

    feed: str | None
    color_by: ColorBy | None
    view: PictureView | None
    theme: Shade | None
    size: str | None
    exaggerate: str | None
    seconds: float | None
    language: str | None = None
    sensitivity: bool | None = None

    def options(self, units: str, *names: str) -> dict[str, Any]:
        """Those of ``names`` that were given, as keyword arguments of a writer or of a window."""
        found = {
            "units": units,
            "feed": None if self.feed == "best" else self.feed,
            "color_by": self.color_by and self.color_by.name,
            "view": self.view,
            "theme": self.theme,
            "size": pixels(self.size),
            "exaggeration": factor(self.exaggerate),
            "seconds": self.seconds,
            "language": self.language,
            "sensitivity": self.sensitivity,
        }
        plain = {k: v.value if isinstance(v, StrEnum) else v for k, v in found.items()}
        return {k: v for k, v in plain.items() if k in ("units", *names) and v is not None}


# Which outputs an option acts on; no output at all is the window.
_ACTS_ON = {
    "--feed": ("--png", "--svg", "--movie", "window"),
    "--color-by": ("--png", "window"),
    "--view": ("--png", "--movie", "window"),
    "--theme": ("--png", "--svg", "--movie", "--html", "window"),
    "--size": ("--png", "--svg", "--movie", "window"),
    "--exaggerate": ("--png", "--movie", "window"),
    "--seconds": ("--movie",),
    "--language": ("--html",),
    "--sensitivity": ("--html",),
}


def refuse_idle(asked: Request, wanted: tuple[str, ...]) -> None:
    """InputError for every option that acts on nothing that was asked for."""
    given = {f"--{n.replace('_', '-')}": getattr(asked, n) for n in Request.__slots__}
    given["--color-by"] = asked.color_by
    outputs = wanted or ("window",)
    problems = []
    for flag, acts_on in _ACTS_ON.items():
        if given[flag] is not None and not set(acts_on) & set(outputs):
            names = " or ".join(n for n in acts_on if n != "window")
            said = f"{flag} has no effect on " + (" and ".join(wanted) or "a window")
            problems.append(Problem(said, flag, f"leave it out, or write a {names} file"))
    if asked.view == PictureView.profile and "--movie" in wanted:
        fix = "choose isometric, plan or side"
        problems.append(Problem("a film cannot show the unrolled profile", "--view", fix))
    if asked.seconds is not None and not _SHORTEST <= asked.seconds <= _LONGEST:
        fix = f"give {_SHORTEST:g} to {_LONGEST:g} seconds"
        problems.append(Problem(f"{asked.seconds:g} is no length for a film", "--seconds", fix))
    if problems:
        raise InputError(problems)
    size = pixels(asked.size)
    factor(asked.exaggerate)
    for flag, (what, least) in _SMALLEST_OF.items():
        if size and flag in wanted and any(s < m for s, m in zip(size, least, strict=True)):
            said = f"{what} of {size[0]}x{size[1]} pixels has no room for what it shows"
            raise InputError(Problem(said, "--size", f"use at least {least[0]}x{least[1]}"))


def pixels(text: str | None) -> tuple[int, int] | None:
    """Width and height of ``1600x1000``."""
    if text is None:
        return None
    match = re.fullmatch(r"(\d{1,5})[x×X](\d{1,5})", text.strip())
    found = (int(match[1]), int(match[2])) if match else (0, 0)
    if not all(low <= p <= _LARGEST for p, low in zip(found, _SMALLEST, strict=True)):
        least = "x".join(map(str, _SMALLEST))
        said = f"{text!r} is not a size from {least} to {_LARGEST}x{_LARGEST} pixels"
        raise InputError(Problem(said, where="--size", fix="enter it as 1600x1000"))
    return found


def factor(text: str | None) -> float | None:
    """The exaggeration, None for the automatic one."""
    if text is None or text.strip().lower() == "auto":
        return None
    try:
        times = float(text)
    except ValueError:
        times = 0.0
    if not 1 <= times <= 1e4:
        said = f"{text!r} must be between 1 and 10,000"
        raise InputError(Problem(said, "--exaggerate", "give 1 for true size, or auto"))
    return times
