"""A bend radius of the spread that does not fit its legs, as the user reads it."""

from __future__ import annotations

from route3d.errors import InputError, Problem
from route3d.model import Job
from route3d.modelfile.build_route import TightBends
from route3d.modelfile.problems import Collector
from route3d.modelfile.read import model_document
from route3d.modelfile.toml_positions import KeyPath, dotted
from route3d.study.spread.loads import UnfitBendError


def unfit_bend(job: Job, error: UnfitBendError) -> InputError:
    """A bend of a scenario that does not fit, in the units of the job and at its line of the file.

    Parameters
    ----------
    job : Job
        Whose spread it is.
    error : UnfitBendError
        What the study said, in SI.

    Returns
    -------
    InputError
        To be raised in its place.
    """
    tight = TightBends.of(error.route, error.vertices)
    if tight is None:
        return error
    message, most = tight.words(job.units)
    said = f"a bend radius of the spread does not fit run {error.run}: {message}"
    fix = f"{error.FIX}; {most}"
    inputs = () if job.spread is None else job.spread.inputs
    i = next(i for i, x in enumerate(inputs) if x.input == "bend radius")
    path: KeyPath = ("spread", "input", i)
    if job.path is None:
        return InputError(Problem(said, dotted(path), fix))
    report = Collector(model_document(job.path), str(job.path))
    report.add(path, said, fix)
    return InputError(report.problems)
