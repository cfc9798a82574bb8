"""One served run: as the file gives it, the edits on top, and the last result that was good.

Records and functions only; nothing here knows a browser.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from route3d.errors import InputError, Problem
from route3d.geometry.route_path import route_path
from route3d.mechanics.pull import Pull, solve_pull
from route3d.model.job import Job
from route3d.model.machine import Machine
from route3d.model.run import Run
from route3d.planning.direction import Candidate
from route3d.planning.evaluate import RunResult, evaluate_run
from viewer.page.edits import Edits, Value, apply_edits, read_value


@dataclass(frozen=True, slots=True)
class Stamp:
    """What tells one state of a file from another: time, size, and a hash of its bytes."""

    time: int = -1
    size: int = -1
    digest: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Session:
    """``given`` is the run of the file, ``run`` the one with the edits, ``result`` its answer.

    ``problems`` are those of the file on disk where it cannot be read: then everything else is
    still that of the last good one. ``message`` says what was wrong with the last edit.
    """

    path: Path
    job: Job
    given: Run
    run: Run
    result: RunResult
    stamp: Stamp
    edits: Edits = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    message: str = ""

    @property
    def machines(self) -> Mapping[str, Machine]:
        """The machines that runs of this job name."""
        return {r.machine.name: r.machine for r in self.job.runs if r.machine is not None}

    @property
    def feed(self) -> int | None:
        """The feed end asked for, None for the one decided upon."""
        asked = self.edits.get("feed")
        return asked if isinstance(asked, int) else None

    @property
    def shown(self) -> Candidate:
        """The direction on show."""
        if self.feed is None:
            return self.result.best
        return next(c for c in self.result.candidates if c.pull.feed == self.feed)


def open_session(path: Path, run_name: str | None = None) -> Session:
    """Read and solve; InputError where the file or the name of the run is wrong."""
    stamp = stamp_of(path)
    job = _load(path)
    run = _pick(job, run_name, path)
    return Session(path, job, run, run, solve(run, job), stamp)


def solve(run: Run, job: Job) -> RunResult:
    """Both directions and the decision; changes that would help are asked for apart."""
    return evaluate_run(run, job.practice, with_changes=False)


def _load(path: Path) -> Job:
    from route3d.files.model_file import load

    return load(path)


def _pick(job: Job, name: str | None, path: Path) -> Run:
    names = ", ".join(r.name for r in job.runs)
    if name is None and len(job.runs) > 1:
        message = f"the job has {len(job.runs)} runs and a page shows one"
        raise InputError(Problem(message, "--run", f"name one of {names}", str(path)))
    try:
        return job.runs[0] if name is None else job.run(name)
    except KeyError:
        raise InputError(
            Problem(f"no run is named {name!r}", "--run", f"name one of {names}", str(path))
        ) from None


# --- edits -------------------------------------------------------------------------------------


def edited(session: Session, key: str, text: str, system: str) -> Session:
    """With one more edit, not solved yet; one that brings back the file's value is dropped.

    Raises InputError for text that cannot be read and for a bend that does not fit.
    """
    return with_edits(session, {**session.edits, key: read_value(key, text, system)})


def with_edits(session: Session, edits: Mapping[str, Value]) -> Session:
    """With other edits, not solved yet; InputError where the route has no path with them."""
    run = apply_edits(session.given, session.machines, edits)
    kept = {k: v for k, v in edits.items() if _differs(session, edits, k)}
    _refuse_no_path(run)
    return replace(session, edits=kept, run=run, message="")


def _differs(session: Session, edits: Mapping[str, Value], key: str) -> bool:
    if key == "feed":
        return edits[key] is not None
    without = {k: v for k, v in edits.items() if k != key}
    with_it = {**without, key: edits[key]}
    return apply_edits(session.given, session.machines, without) != apply_edits(
        session.given, session.machines, with_it
    )


def _refuse_no_path(run: Run) -> None:
    route_path(run.route)


def solved(session: Session) -> Session:
    """With the answer to its run; FitError and the like pass through as InputError."""
    return replace(session, result=solve(session.run, session.job))


def preview(session: Session) -> Pull:
    """The pull on show without its rope: what colours need, in a fraction of the time."""
    run, shown = replace(session.run, rope=None), session.shown.pull
    return solve_pull(run, session.job.practice, reverse=shown.reverse, fits=shown.fits)


# --- the file on disk --------------------------------------------------------------------------


def stamp_of(path: Path) -> Stamp:
    """The stamp of a file; an empty one where it cannot be read."""
    try:
        state = path.stat()
        return Stamp(state.st_mtime_ns, state.st_size, _digest(path))
    except OSError:
        return Stamp()


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def changed_stamp(path: Path, known: Stamp) -> Stamp | None:
    """The new stamp of a file whose bytes have changed, else None; cheap while nothing has."""
    try:
        state = path.stat()
        if (state.st_mtime_ns, state.st_size) == (known.time, known.size):
            return None
    except OSError:
        return Stamp() if known != Stamp() else None
    now = stamp_of(path)
    return None if now.digest == known.digest else now


def reloaded(session: Session, stamp: Stamp) -> Session:
    """The file read again, edits kept where they still fit; not solved yet.

    Where the file cannot be read, the last good session with the file's problems.
    """
    try:
        job = _load(session.path)
        given = _pick(job, session.given.name, session.path)
    except InputError as error:
        return replace(session, stamp=stamp, problems=error.problems)
    fresh = replace(
        session, job=job, given=given, run=given, edits={}, stamp=stamp, problems=(), message=""
    )
    try:
        return with_edits(fresh, session.edits)
    except InputError as error:
        dropped = "the file has changed and the edits no longer fit: they are dropped"
        return replace(fresh, message=f"{dropped} ({error.problems[0]})")
