"""``route3d field form``: the empty form for a crew's written readings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    DraftOption,
    ModelFile,
    RunOption,
    UnitsOption,
    option,
    read_job,
    refuse_suffix,
    save,
    system_of,
)
from route3d.errors import InputError, Problem


def form(
    model: ModelFile,
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="Form to write (.csv or .xlsx).", show_default=False),
    ],
    run: RunOption = None,
    feed: Annotated[
        str | None, option("END", "Feed from the end of this name. Default: the better end.")
    ] = None,
    draft: DraftOption = False,
    units: UnitsOption = None,
) -> None:
    """Empty form for the readings of a pull.

    The rows of the gauge table (cable in, place, gear, expected reading) with empty columns for
    reading, time and note. Print it, or type the numbers in afterwards; route3d field log reads it
    back. A run that must not be pulled has no form.

    Example: route3d field form models/riser_duct_bank.toml F1.xlsx
    """
    from route3d.api import plan as plans_of
    from route3d.report.draft import refuse_unconfirmed
    from route3d.report.field_form import form_csv, form_xlsx

    refuse_suffix("FILE", file, ".csv", ".xlsx")
    job = read_job(model, run)
    refuse_unconfirmed(job, draft, "form")
    if len(job.runs) > 1:
        names = ", ".join(r.name for r in job.runs[:20])
        said = "the model has more than one run"
        raise InputError(Problem(said, "--run", f"name one: {names}", str(model)))
    system = system_of(job, units)
    (plan,) = plans_of(job, feed=feed, units=system).plans
    if plan.stops:
        said = f"run {plan.pull.run.name!r} must not be pulled as modeled, so it has no form"
        fix = "see route3d plan for what stops it"
        raise InputError(Problem(said, "", fix, str(model)))
    xlsx = file.suffix.lower() == ".xlsx"
    save(file, form_xlsx(plan, job, system) if xlsx else form_csv(plan, job, system))
