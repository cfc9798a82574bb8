"""``route3d field record``: the as-pulled record."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    DraftOption,
    JsonOption,
    ModelFile,
    PaperOption,
    RunOption,
    Units,
    UnitsOption,
    exit_code,
    message,
    option,
    paper_size,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    write_json,
)
from route3d.cli.field.log_options import (
    DecimalOption,
    FeedOption,
    MapOption,
    SheetOption,
    TareOption,
    log_asked,
)
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.field.compare import Comparison
    from route3d.field.estimate import Estimate
    from route3d.field.readings import PullLog
    from route3d.field.record import PullRecord
    from route3d.model.job import Job
    from route3d.planning.pull_plan.plan import Plan


def record(
    model: ModelFile,
    log_file: Annotated[
        Path | None,
        typer.Argument(
            metavar="LOG",
            help="Log of the pull: of the page, a data recorder, or a filled-in form.",
            show_default=False,
        ),
    ] = None,
    details: Annotated[
        Path | None,
        option("FILE.toml", "What the crew wrote down: reels, lubricant, tests, names."),
    ] = None,
    details_template: Annotated[
        Path | None,
        option("FILE.toml", "Write an empty details file to fill in, and nothing else."),
    ] = None,
    pdf: Annotated[Path | None, option("FILE.pdf", "Write the record as PDF, to sign.")] = None,
    append: Annotated[
        Path | None,
        option("FILE.sqlite", "Add the record to a library of past pulls, made if missing."),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a record of the same readings in the library.")
    ] = False,
    run: RunOption = None,
    feed: FeedOption = None,
    column: MapOption = None,
    decimal: DecimalOption = None,
    tare: TareOption = None,
    sheet: SheetOption = None,
    fit: Annotated[
        bool, typer.Option("--fit/--no-fit", help="Fit friction to the readings.")
    ] = True,
    paper: PaperOption = None,
    draft: DraftOption = False,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """As-pulled record: readings against plan, stops, tests, friction found, lines to sign.

    What the log does not know comes from a details file (--details-template writes an empty one);
    what is not given is printed as a blank to fill in. The PDF carries the figures of the job and
    the whole record: "route3d issued FILE.pdf MODEL" tells whether the model is still the same.

    --append adds the record to a library of past pulls, from which "route3d field history" and
    friction = { history = "FILE.sqlite" } in a model learn.

    Exit code 1 if Stop was passed during the pull, or may have been by a doubtful reading.

    Example: route3d field record feeder.toml F1.csv --details F1-details.toml --pdf F1-record.pdf
    """
    from route3d.report.draft import refuse_unconfirmed

    refuse_suffix("--pdf", pdf, ".pdf")
    refuse_suffix("--append", append, ".sqlite", ".db")
    if details_template is not None:
        _write_template(read_job(model, run), details_template, units)
        return
    job = read_job(model)
    if log_file is None:
        fix = "name the log, or --details-template FILE.toml for an empty details file"
        raise InputError(Problem("no log of the pull is named", "LOG", fix))
    if pdf is not None:
        refuse_unconfirmed(job, draft, "record")
    if append is not None:
        refuse_unconfirmed(job, False, "library entry")
    system = system_of(job, units)
    read = log_asked(
        log_file,
        job,
        run=run,
        feed=feed,
        column=column,
        decimal=decimal,
        tare=tare,
        sheet=sheet,
        units=units,
        standard_input=False,
    )
    made = _record(job, model, log_file, read, details, fit=fit)
    if json:
        from route3d.report.record import record_json

        write_json(record_json(made))
    else:
        from route3d.report.record import record_report

        show(record_report(made, system))
    if pdf is not None:
        from route3d.report.record_pdf import record_pdf

        save(pdf, record_pdf(made, system, paper=paper_size(paper, system), draft=draft))
    if append is not None:
        from route3d.field.library import append as append_to
        from route3d.field.record import record_data

        number = append_to(append, record_data(made), replace=force)
        message(f"added to {append} as no. {number}")
    raise exit_code(made.stop_passed or made.stop_doubtful)


def _write_template(job: Job, path: Path, units: Units | None) -> None:
    from route3d.modelfile.pull_details import details_template

    refuse_suffix("--details-template", path, ".toml")
    if len(job.runs) > 1:
        names = ", ".join(run.name for run in job.runs[:20])
        said = "the model has more than one run"
        raise InputError(Problem(said, "--run", f"name one: {names}"))
    save(path, details_template(job.runs[0], system_of(job, units)))


def _record(
    job: Job, model: Path, log: Path, read: PullLog, details: Path | None, *, fit: bool
) -> PullRecord:
    """The record of the files named; InputError for what is wrong in them."""
    from dataclasses import replace

    from route3d.api import plan
    from route3d.field.details import Details
    from route3d.field.record import record_of
    from route3d.modelfile.pull_details import details_of_log, read_details
    from route3d.report.issue import issue_of

    own = replace(job, runs=(job.run(read.run),))
    made = plan(own, feed=read.feed or None).plans[0]
    told = details_of_log(dict(read.details).get("details"), str(log), job.units)
    noted = Details() if details is None else read_details(details, job.units)
    noted = noted.over(told)
    friction: tuple[Estimate, ...] = ()
    why = "No fit was asked for (--no-fit)."
    if fit:
        friction, why = _fitted(own, noted.brake_in(read))
    hashes = (_sha256(model), issue_of(job, "sheet", job.units).mark, _sha256(log))
    return record_of(
        own,
        made,
        read,
        noted,
        hashes=(*hashes, "" if details is None else _sha256(details)),
        friction=friction,
        friction_note=why,
        comparison=_compared(own, made, read),
    )


def _compared(job: Job, plan: Plan, log: PullLog) -> Comparison | None:
    """The log against the plan; None where too few readings can be compared."""
    from route3d.field.compare import compare_log

    try:
        return compare_log(plan, job, log)
    except InputError:
        return None


def _fitted(job: Job, log: PullLog) -> tuple[tuple[Estimate, ...], str]:
    """What a fit of the log finds; without one why there is none."""
    from route3d.field.fit import fit_logs

    try:
        return fit_logs(job, [log]).estimates, ""
    except ModuleNotFoundError as error:
        if error.name is None or not error.name.startswith("scipy"):
            raise
        return (), "No friction was fitted: this needs scipy (pip install 'route3d[field]')."
    except InputError as error:
        return (), f"No friction was fitted: {error.problems[0].message}."


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
