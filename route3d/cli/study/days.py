"""``route3d study days``: which pull on which day, by which crew, with which machine."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunsOption,
    UnitsOption,
    exit_code,
    number,
    only_runs,
    option,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    write_json,
)


def days(
    model: ModelFile,
    crews: Annotated[
        Path,
        typer.Argument(
            metavar="CREWS",
            help="Crews file (.toml): crews, machines, outages, deliveries.",
            show_default=False,
        ),
    ],
    run: RunsOption = None,
    seconds: Annotated[
        float,
        option(
            "S",
            "About how long the solver may take, s, from 0.1 to 86400. Default: 20.",
            parser=number(0.1, 86400),
        ),
    ] = 20.0,
    csv: Annotated[Path | None, option("FILE.csv", "Write the pulls as CSV.")] = None,
    xlsx: Annotated[Path | None, option("FILE.xlsx", "Write the plan as a workbook.")] = None,
    svg: Annotated[Path | None, option("FILE.svg", "Draw the day chart as SVG.")] = None,
    png: Annotated[Path | None, option("FILE.png", "Draw the day chart as a picture.")] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Day plan: order of the pulls over days, by crew and machine.

    Every run that may be pulled gets a day, a time, a crew and a machine. The hours are those of
    its pull plan. A machine that stands at the place already saves its set-up; moves, shifts,
    outage windows and deliveries are those of the crews file. The finish is as early as possible,
    then set-ups and moves are fewest; the report says how far from the best possible the plan can
    be at most. The same files give the same plan.

    Exit code 1 if a run has no place in the plan, 2 for bad input.

    Example: route3d study days models/berths.xlsx models/crews/berths.toml --svg days.svg
    """
    from route3d.api import standing_meshes
    from route3d.drawing.day_chart import day_chart_png, day_chart_svg
    from route3d.modelfile.crews_file import load_schedule
    from route3d.planning.evaluate import evaluate
    from route3d.report.study_days import days_csv, days_data, days_report, days_xlsx
    from route3d.study.day_plan.days import day_plan

    for name, file in (("--csv", csv), ("--xlsx", xlsx), ("--svg", svg), ("--png", png)):
        refuse_suffix(name, file, f".{name[2:]}")
    job = read_job(model)
    schedule = load_schedule(crews, job)
    system = system_of(job, units)
    job = only_runs(job, run, model)
    with _said() as told:
        told("the pull plans")
        result, meshes = evaluate(job, with_remedies=False), standing_meshes(job)
        plan = day_plan(result, schedule, seconds=seconds, meshes=meshes, told=told)
    if json:
        write_json(days_data(job, plan, schedule))
    else:
        show(days_report(job, plan, schedule, system))
    if csv is not None:
        save(csv, days_csv(job, plan, schedule, system))
    if xlsx is not None:
        save(xlsx, days_xlsx(job, plan, schedule, system))
    if svg is not None:
        save(svg, day_chart_svg(job, plan, schedule))
    if png is not None:
        save(png, day_chart_png(job, plan, schedule))
    raise exit_code(plan.stops)


@contextmanager
def _said() -> Iterator[Callable[[str], None]]:
    """A way to say on a terminal what is being done."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console

    with Console(stderr=True).status("...") as status:
        yield lambda words: status.update(f"looking for {words} ...")
