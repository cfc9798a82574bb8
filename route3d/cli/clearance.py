"""``route3d clearance``: clashes, and the clearance of every meter of every run."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
    message,
    option,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    write_json,
)
from route3d.errors import InputError, Problem, UnitError

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.planning.clearance.close_up import CloseUp, Surroundings
    from route3d.planning.clearance.issues import Issue
    from route3d.planning.clearance.job import ClearanceResult

_LEAST_STEP, _MOST_ROWS = 0.01, 200_000


class Order(StrEnum):
    """How the report is laid out."""

    run = "run"
    zone = "zone"


def clearance(
    model: ModelFile,
    run: RunOption = None,
    step: Annotated[
        str | None, option("LENGTH", 'Length of one row, such as "0.1 m". Default: 3 ft or 1 m.')
    ] = None,
    all_rows: Annotated[
        bool,
        typer.Option("--all", help="Show every row, not only the ten tightest."),
    ] = False,
    by: Annotated[
        Order,
        option("run|zone", "run: tables for each run. zone: one list of clashes. Default: run."),
    ] = Order.run,
    csv: Annotated[
        Path | None,
        option("FILE.csv", "Write all rows as CSV; with --by zone, the list of clashes."),
    ] = None,
    bcf: Annotated[
        Path | None,
        option("FILE.bcf", "Write every clash as a topic of a BCF 2.1 file (.bcf or .bcfzip)."),
    ] = None,
    pictures: Annotated[
        Path | None,
        option("FOLDER", "Write a picture of every clash into this folder, by its number."),
    ] = None,
    equipment: Annotated[
        bool,
        typer.Option(
            "--equipment/--no-equipment",
            help="Measure machine, vehicle and reels where the plan places them. Default: yes.",
        ),
    ] = True,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Clash and clearance check.

    From the outside of the conduit to the meshes and IFC models of the site and to the other runs:
    every clash with its station and depth, every place below the required clearance, and the
    minimum clearance of every meter. Nothing between steps is missed. The concrete of banks, pull
    boxes, machines, vehicles and reels are measured too.

    Where each mesh lies is printed first; one in other units or another frame is not judged. The
    verdict on everything is the last line.

    Exit code 1 if there is a stop: a clash, too little clearance, or something that is not judged.
    A caution alone ends with 0, such as a clash of equipment whose place is not given.

    Example: route3d clearance models/roof_drop.toml --by zone --bcf clashes.bcf
    """
    from route3d.api import measured_clearance

    refuse_suffix("--csv", csv, ".csv")
    refuse_suffix("--bcf", bcf, ".bcf", ".bcfzip")
    if pictures is not None:
        _make_folder(pictures)
    job = read_job(model)
    names = _named(job, model, run)
    system = system_of(job, units)
    every = _every(step, job, "SI" if json else system, names)  # JSON is the same in all units
    result = measured_clearance(job, every, names, equipment=equipment)
    if csv is not None:
        save(csv, _csv(result, by, system))
    if bcf is not None or pictures is not None:
        _write_issues(result, system, bcf, pictures)
    if json:
        from route3d.report.clearance import clearance_data

        write_json(clearance_data(result))
    elif by == Order.zone:
        from route3d.planning.clearance.issues import issues
        from route3d.report.clearance_issues import issues_report

        show(issues_report(result, issues(result), system))
    else:
        from route3d.report.clearance import clearance_report

        show(clearance_report(result, system, all_rows=all_rows))
    raise exit_code(result.stops)


def _csv(result: ClearanceResult, by: Order, system: str) -> str:
    if by == Order.zone:
        from route3d.planning.clearance.issues import issues
        from route3d.report.clearance_issues import issues_csv

        return issues_csv(result, issues(result), system)
    from route3d.report.clearance import clearance_csv

    return clearance_csv(result, system)


def _make_folder(folder: Path) -> None:
    """The folder of the pictures, before anything is measured; its parent must exist."""
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        said = f"{folder} cannot be a folder: {error.strerror}"
        raise InputError(Problem(said, where="--pictures", fix="name another folder")) from None


def _write_issues(
    result: ClearanceResult, system: str, bcf: Path | None, pictures: Path | None
) -> None:
    """The pictures of all clashes, and the BCF file with them in it."""
    from route3d.planning.clearance.close_up import Surroundings, close_up
    from route3d.planning.clearance.issues import issues

    found, site = issues(result), Surroundings(result)
    views = [close_up(issue, site) for issue in found]
    drawn = _drawn(found, views, site, system, needed=pictures is not None)
    if pictures is not None:
        for number, data in drawn.items():
            save(pictures / f"{number:03d}.png", data)
        if not drawn:
            message(f"nothing clashes or is too close: nothing written into {pictures}")
    if bcf is not None:
        from route3d.disk import write_bytes_atomic
        from route3d.formats.bcf import bcf_bytes

        data = bcf_bytes(found, views, result.job, system, drawn, result.not_judged)
        write_bytes_atomic(bcf, data)
        message(f"wrote {bcf}")


def _drawn(
    found: Sequence[Issue],
    views: Sequence[CloseUp],
    site: Surroundings,
    system: str,
    *,
    needed: bool,
) -> dict[int, bytes]:
    """The picture of each issue by its number; none where they are not needed nor to be had."""
    from route3d.errors import RendererError
    from viewer.renderer import start_trial

    try:
        start_trial().window_class()
    except RendererError:
        if needed:
            raise
        message("no pictures in the BCF file: this machine has no renderer")
        return {}
    from viewer.still.close_up import close_up_png

    return {
        issue.number: close_up_png(issue, view, site, system)
        for issue, view in zip(found, views, strict=True)
    }


def _named(job: Job, model: Path, run: str | None) -> frozenset[str]:
    """The names of the runs to answer; all others are still measured against."""
    names = frozenset(r.name for r in job.runs)
    if run is None:
        return names
    if run not in names:
        read_job(model, run)  # says so, and which there are
    return frozenset((run,))


def _every(step: str | None, job: Job, system: str, names: frozenset[str]) -> float:
    """The length of a row, m; InputError where the step is none, or makes too many of them."""
    from route3d.api import CLEARANCE_ROW
    from route3d.geometry.fillet import route_path
    from route3d.units import parse

    if step is None:
        return CLEARANCE_ROW[system]
    try:
        length = parse(step, "length", job.units)
    except UnitError as error:
        raise InputError(Problem(str(error), where="--step")) from None
    if length < _LEAST_STEP:
        said, fix = f"{step!r} is below the minimum row length", "enter at least 10 mm"
        raise InputError(Problem(said, where="--step", fix=fix))
    rows = sum(route_path(r.route).length for r in job.runs if r.name in names) / length
    if rows > _MOST_ROWS:
        said = f"{step!r} makes {rows:.0f} rows, and the limit is {_MOST_ROWS}"
        raise InputError(Problem(said, where="--step", fix="give a longer one, or name a --run"))
    return length
