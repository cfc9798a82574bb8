"""``route3d report``: the calculation report."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    DraftOption,
    ModelFile,
    PaperOption,
    SensitivityOption,
    UnitsOption,
    exit_code,
    option,
    paper_size,
    progress_bar,
    read_job,
    refuse_suffix,
    save,
    system_of,
)
from route3d.errors import InputError, Problem


def report(
    model: ModelFile,
    pdf: Annotated[Path | None, option("FILE.pdf", "Write the report as PDF.")] = None,
    html: Annotated[
        Path | None, option("FILE.html", "Write the report as one HTML file, to read or print.")
    ] = None,
    run: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Only this run. Repeatable.")
    ] = None,
    sensitivity: SensitivityOption = False,
    paper: PaperOption = None,
    draft: DraftOption = False,
    units: UnitsOption = None,
) -> None:
    """Calculation report to check and sign.

    For every run: verdict, route and section, results from both ends, every limit with demand,
    limit, percent and clause, the calculation line by line with every figure put in, and the fit in
    numbers. Appendix: inputs and their origin, method, the other direction, exact against hand
    calculation, load path, remedies, assumptions, sources, revisions, plan and profile.

    With --sensitivity a chapter for each run: how likely each limit is reached from each end, which
    input matters most, and how far each input may go.

    The title block comes from [document] in the model file. The PDF carries the figures it was made
    from: "route3d issued FILE.pdf MODEL" tells whether it is current.

    Exit code 1 if a run must not be pulled.

    Example: route3d report models/riser_duct_bank.toml --pdf F1-calculation.pdf
    """
    from route3d.api import calculations, sensitivities
    from route3d.report.calculation import calculation_report
    from route3d.report.draft import refuse_unconfirmed
    from route3d.report.issue import issue_of

    if pdf is None and html is None:
        said = "no file to write"
        raise InputError(Problem(said, "report", "add --pdf FILE.pdf or --html FILE.html"))
    refuse_suffix("--pdf", pdf, ".pdf")
    refuse_suffix("--html", html, ".html", ".htm")
    job = read_job(model, run)
    refuse_unconfirmed(job, draft, "report")
    system = system_of(job, units)
    size = paper_size(paper, system)
    runs = calculations(job, system)
    issue = issue_of(job, "report", system, draft=draft)
    with progress_bar("spread and limits") as progress:
        studied = sensitivities(job, progress) if sensitivity else ()
    document = calculation_report(job, runs, issue, paper=size, sensitivity=studied)
    if pdf is not None:
        from route3d.report.calculation_pdf import calculation_pdf

        save(pdf, calculation_pdf(document, issue, paper=size))
    if html is not None:
        from route3d.report.calculation_html import calculation_html

        save(html, calculation_html(document, issue))
    raise exit_code(any(each.stops for each in runs))
