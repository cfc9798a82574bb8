"""``route3d view``: a picture of a run."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

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
from route3d.errors import InputError, Problem

_SMALLEST, _LARGEST = 100, 8000


def view(
    model: ModelFile,
    png: Annotated[
        Path | None,
        typer.Option("--png", metavar="FILE", show_default=False, help="Write a picture here."),
    ] = None,
    size: Annotated[
        str, typer.Option(metavar="WIDTHxHEIGHT", help="Size of the picture in pixels.")
    ] = "1600x1000",
    run: RunOption = None,
    units: UnitsOption = None,
) -> None:
    """What does the route look like, and where is the cable loaded most?

    Draws a run in 3D, coloured by tension, with its bends and pull points. A job of several runs
    needs --run.

    Exit code 1 where something stops the pull, 2 where there is no renderer.

    Example: route3d view models/riser_duct_bank.toml --png feeder.png
    """
    pixels = _pixels(size)
    job = read_job(model, run)
    if png is None:
        raise InputError(
            Problem("view needs a file to draw to", where="--png", fix="give --png FILE.png")
        )
    if len(job.runs) > 1:
        names = ", ".join(r.name for r in job.runs)
        raise InputError(
            Problem(
                f"the job has {len(job.runs)} runs and a picture shows one",
                where="--run",
                fix=f"name one of {names}",
                file=str(model),
            )
        )
    from route3d.planning import evaluate

    result = evaluate(job, with_changes=False)
    from viewer.still import write_png

    write_png(result.runs[0], job, png, size=pixels, units=system_of(job, units))
    told(f"wrote {png}")
    raise exit_code(result.stops)


def _pixels(text: str) -> tuple[int, int]:
    """Width and height of ``1600x1000``."""
    match = re.fullmatch(r"(\d{1,5})[x×X](\d{1,5})", text.strip())
    pixels = (int(match[1]), int(match[2])) if match else (0, 0)
    if not all(_SMALLEST <= p <= _LARGEST for p in pixels):
        raise InputError(
            Problem(
                f"{text!r} is not a size from {_SMALLEST} to {_LARGEST} pixels",
                where="--size",
                fix="give it as 1600x1000",
            )
        )
    return pixels
