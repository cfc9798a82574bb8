"""A whole job from one form of model file to the other, TOML or a workbook, and the same job."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from route3d.disk import refuse_target, write_bytes_atomic, write_text_atomic
from route3d.errors import InputError, Problem
from route3d.model import Job
from route3d.modelfile.read import job_of, load, loads, model_text
from route3d.modelfile.toml_positions import read_toml
from route3d.modelfile.workbook.cells import cells_of
from route3d.modelfile.workbook.reading import document_of
from route3d.modelfile.workbook.writing import workbook_of
from route3d.modelfile.write import rebased


def write_job(source: Path, target: Path) -> tuple[str, ...]:
    """Write the job of a model file in the form that the name of ``target`` asks for.

    Returns in sentences what was left out. Raises InputError where the source cannot be read, and,
    with nothing written, where the target would not be read back as the same job.
    """
    refuse_target(target)
    job, text = load(source), model_text(source)
    moved = rebased(text, source.parent.resolve(), target.parent.resolve())
    if target.suffix.lower() == ".toml":
        _refuse_unlike(job, loads(moved, str(target), target.parent), target)
        write_text_atomic(target, moved)
        return ()
    made = workbook_of(read_toml(moved).data)
    document = document_of(cells_of(made, target), str(target))
    _refuse_unlike(job, job_of(document, str(target), target.parent), target)
    write_bytes_atomic(target, made)
    comments = "#" in re.sub(r""""[^"\n]*"|'[^'\n]*'""", "", text)
    return ("comments (a workbook has no place for them)",) if comments else ()


def without_places(job: Job) -> Job:
    """The job without what tells where it was read: two that are the same are equal then."""
    runs = []
    for run in job.runs:
        vertices = tuple(replace(v, line=None) for v in run.route.vertices)
        runs.append(replace(run, route=replace(run.route, vertices=vertices)))
    return replace(job, runs=tuple(runs), path=None, examples=tuple(sorted(job.examples)))


def _refuse_unlike(job: Job, other: Job, target: Path) -> None:
    # A job without a title bears the name of its file.
    if replace(without_places(job), title="") != replace(without_places(other), title=""):
        said = "the file would not be read back as the same job; not written"
        raise InputError(Problem(said, fix="keep the file you have", file=str(target)))
