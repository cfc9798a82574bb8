"""What a browser asks for beside the run on show: an explanation, a comparison, a document."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from route3d.errors import InputError, Problem
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.modelfile.read import load
from route3d.units import SYSTEMS
from viewer.web.messages import MODEL_NAME
from viewer.web.session import Session

Data = dict[str, Any]
Document = Literal["report", "sheet"]

DOCUMENTS: Mapping[Document, str] = {"report": "calculation", "sheet": "crew-sheet"}
"""What can be downloaded, and how its file is called after the job."""

_MOST_FILES = 40


def explanation_data(session: Session, rule: str, units: str) -> Data:
    """A rule or a figure of the run on show: formulas, symbols, worked numbers, source.

    Raises InputError with the nearest name where there is no such rule.
    """
    from route3d.report.worked import explanation

    found = explanation(rule, session.result, units)
    # the page sets formulas as MathML
    for each in (*found["formulas"], *found["symbols"], *_formulas(found["worked"])):
        each.pop("typst", None)
    return found


def _formulas(worked: Sequence[Mapping[str, Any]]) -> list[Data]:
    return [formula for place in worked for formula in place["formulas"]]


# --- comparison --------------------------------------------------------------------------------


def model_files(path: Path) -> list[str]:
    """Other model files beside the one that is served, by name."""
    found = sorted(p.name for p in path.parent.glob("*.toml") if p.name != path.name)
    return [name for name in found if MODEL_NAME.fullmatch(name)][:_MOST_FILES]


def other_job(path: Path, name: str) -> Job:
    """A model file of that name beside the one that is served; InputError where it is none."""
    if not MODEL_NAME.fullmatch(name):
        raise InputError(Problem(f"{name!r} is not a model file name"))
    return load(path.parent / name)


def comparison_data(job: Job, given: Run, other: tuple[str, Job], units: str) -> Data:
    """One run of the file against that of another job: input, every result, and a picture."""
    from route3d.api import standing_meshes
    from route3d.drawing.comparison import comparison_svg
    from route3d.planning.comparison import compare
    from route3d.report.compare import compare_data

    label, second = other
    theirs = tuple(run for run in second.runs if run.name == given.name)
    if not theirs:
        known = ", ".join(run.name for run in second.runs)
        raise InputError(Problem(f"{label} has no run {given.name!r}; its runs: {known}"))
    jobs = [("model file", replace(job, runs=(given,))), (label, replace(second, runs=theirs))]
    found = compare(jobs, [standing_meshes(job), standing_meshes(second)])
    told = compare_data(found, units)
    for run in told["runs"]:
        run.pop("profiles", None)  # they are in the picture
    svg = comparison_svg(found, units).encode()
    picture = f"data:image/svg+xml;base64,{base64.b64encode(svg).decode('ascii')}"
    return {"labels": list(found.labels), "units": units, "picture": picture, **told}


# --- documents ---------------------------------------------------------------------------------


def document_pdf(job: Job, kind: Document, units: str, *, draft: bool) -> bytes:
    """The calculation report or the crew's sheet of all runs, as the model file gives them.

    Raises InputError for example values without ``draft``, and for a run that cannot be planned.
    """
    from route3d.report.draft import refuse_unconfirmed

    refuse_unconfirmed(job, draft, kind)
    paper = "letter" if units == "US" else "a4"
    if kind == "sheet":
        from route3d.api import plan
        from route3d.report.sheet import sheet_pdf

        plans = list(plan(job, units=units).plans)
        return sheet_pdf(job, plans, units, paper=paper, draft=draft)
    from route3d.api import calculations
    from route3d.report.calculation import calculation_report
    from route3d.report.calculation_pdf import calculation_pdf
    from route3d.report.issue import issue_of

    issue = issue_of(job, "report", units, draft=draft)
    document = calculation_report(job, calculations(job, units), issue, paper=paper)
    return calculation_pdf(document, issue, paper=paper)


# --- sensitivity -------------------------------------------------------------------------------


def sensitivity_data(job: Job) -> list[Data]:
    """Spread and limits of each run in parts, in both systems of units, with no edit of the run.

    Raises InputError for a run whose inputs have no spread.
    """
    from route3d.api import sensitivities
    from route3d.drawing.study_charts.sheet import NARROW
    from route3d.report.document import part_data
    from route3d.report.sensitivity import Sensitivity, sensitivity_parts

    def parts(found: Sensitivity, units: str) -> list[Data]:
        return [*map(part_data, sensitivity_parts(found, units, NARROW))]

    return [
        {"parts": {u: parts(f, u) for u in SYSTEMS}, "edits": {u: [] for u in SYSTEMS}}
        for f in sensitivities(job)
    ]
