"""``route3d clearance``: clashes, and the clearance of every meter of every run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
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

_LEAST_STEP, _MOST_ROWS = 0.01, 200_000


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
    csv: Annotated[Path | None, option("FILE.csv", "Write all rows as CSV.")] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Clash and clearance check.

    From the outside of the conduit to the meshes and IFC models of the site and to the other runs:
    every clash with its station and depth, every place below the required clearance, and the
    minimum clearance of every meter. Nothing between steps is missed.

    Where each mesh lies is printed first; one in other units or another frame is not judged.

    Exit code 1 if there is a clash, too little clearance, or a mesh that is not judged.

    Example: route3d clearance models/roof_drop.toml --csv clearance.csv
    """
    from route3d.api import building_meshes
    from route3d.planning.clearance.job import evaluate_clearance

    refuse_suffix("--csv", csv, ".csv")
    job = read_job(model)
    names = _named(job, model, run)
    system = system_of(job, units)
    every = _every(step, job, "SI" if json else system, names)  # JSON is the same in all units
    result = evaluate_clearance(job, building_meshes(job, suffixes=True), every, names)
    if csv is not None:
        from route3d.report.clearance import clearance_csv

        save(csv, clearance_csv(result, system))
    if json:
        from route3d.report.clearance import clearance_data

        write_json(clearance_data(result))
    else:
        from route3d.report.clearance import clearance_report

        show(clearance_report(result, system, all_rows=all_rows))
    raise exit_code(result.stops)


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
