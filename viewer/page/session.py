"""One served run: as the file gives it, the edits on top, and the last result that was good.

Records and functions only; nothing here knows a browser.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from route3d.errors import InputError, Problem
from route3d.formats.building_meshes import read_buildings, site_meshes
from route3d.geometry.fillet import route_path
from route3d.mechanics.pull import Pull, solve_pull
from route3d.model.job import Job
from route3d.model.machine import Machine
from route3d.model.run import Run
from route3d.planning.direction import Candidate
from route3d.planning.evaluate import with_advice
from route3d.planning.margins import with_auto_brake
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.pull_plan.plan import Plan, place_key
from route3d.planning.result import RunResult, evaluate_run
from viewer.gauge import must_not_be_pulled, plan_for_crew
from viewer.page.edits import Edits, Value, apply_edits, read_value
from viewer.scene import place_of


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
    ``search`` is the last one for a place of the machine, made for what ``sought`` stands for.
    ``halted`` is the direction that a plan found must not be pulled, None where it may.
    """

    path: Path
    job: Job
    given: Run
    run: Run
    result: RunResult
    stamp: Stamp
    edits: Edits = field(default_factory=dict)
    search: PlacementSearch | None = None
    halted: Candidate | None = None
    sought: object = None
    problems: tuple[Problem, ...] = ()
    message: str = ""

    @property
    def machines(self) -> Mapping[str, Machine]:
        """The machines of the file, those that no run names too."""
        return {m.name: m for m in self.job.machines}

    @property
    def feed(self) -> int | None:
        """The feed end asked for, None for the one decided upon."""
        asked = self.edits.get("feed")
        return asked if isinstance(asked, int) else None

    @property
    def place(self) -> PlacementSearch | None:
        """Where the machine of the direction on show stands; None where not searched yet.

        None too for a pull that must not be made.
        """
        if self.halted is self.shown or must_not_be_pulled(self.result, self.shown, None):
            return None
        return self.search if self.sought == sought_for(self) else None

    @property
    def fails(self) -> bool:
        """Whether the run must not be pulled: by the checks, or by the plan of its best end."""
        return self.result.stops or self.halted is self.result.best

    @property
    def shown(self) -> Candidate:
        """The direction on show."""
        if self.feed is None:
            return self.result.best
        return next(c for c in self.result.candidates if c.pull.feed == self.feed)


def sought_for(session: Session) -> object:
    """Two sessions for which it is the same ask for the same place of the machine."""
    return session.job.site, place_key(session.shown.pull, session.job.allowances)


def planned(session: Session) -> tuple[Session, Plan | None]:
    """The session with the place of the machine, and the plan of the direction on show.

    None where no plan can be made. The buildings are read only where the place is not known yet.
    """
    result = session.result
    if session.sought != sought_for(session):
        found = place_of(session.shown.pull, session.job, read_buildings(session.job))
        session = replace(session, search=found, sought=sought_for(session))
    plan = plan_for_crew(result, session.shown, session.job, placement=session.search)
    halted = must_not_be_pulled(result, session.shown, plan)
    return replace(session, halted=session.shown if halted else None), plan


def open_session(path: Path, run_name: str | None = None) -> Session:
    """Read and solve a run, the first where none is named.

    Raises InputError where the file or the name of the run is wrong.
    """
    stamp = stamp_of(path)
    job = _load(path)
    run = _pick(job, run_name, path)
    return Session(path, job, run, run, solve(run, job), stamp)


def another(session: Session, run_name: str) -> Session:
    """Another run of the same state of the file, solved and without edits."""
    run = _pick(session.job, run_name, session.path)
    return replace(
        session, given=run, run=run, result=solve(run, session.job), edits={}, message=""
    )


def solve(run: Run, job: Job) -> RunResult:
    """Both directions and the decision; what would make it pass is asked for apart."""
    return evaluate_run(run, job.practice, allowances=job.allowances)


def _load(path: Path) -> Job:
    from route3d.modelfile.read import load

    return load(path)


def _pick(job: Job, name: str | None, path: Path) -> Run:
    try:
        return job.runs[0] if name is None else job.run(name)
    except KeyError:
        names = ", ".join(r.name for r in job.runs)
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


def solved(session: Session, known: Pull | None = None) -> Session:
    """With the answer to its run; FitError and the like pass through as InputError.

    ``known`` is the ``preview`` of the same session, which is then not worked out again.
    """
    job = session.job
    result = evaluate_run(session.run, job.practice, known=known, allowances=job.allowances)
    return replace(session, result=result)


def advised(session: Session) -> Session:
    """The session with what would make its run pass, empty where neither check nor plan stops it.

    InputError where a building cannot be read.
    """
    meshes = site_meshes(read_buildings(session.job))
    return replace(session, result=with_advice(session.result, session.job, meshes))


def preview(session: Session) -> Pull:
    """The pull on show: what colors need, in a fraction of the time of the whole answer."""
    reverse = session.shown.pull.reverse
    return with_auto_brake(solve_pull(session.run, session.job.practice, reverse=reverse))


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


def reloaded(session: Session, stamp: Stamp) -> tuple[Job | None, Session]:
    """The file read again, None where it cannot be; and the run, not solved yet.

    Edits are kept where they still fit. Where the run cannot be had from the file, it is the last
    good session with what is wrong.
    """
    job = None
    try:
        job = _load(session.path)
        given = _pick(job, session.given.name, session.path)
    except InputError as error:
        return job, replace(session, stamp=stamp, problems=error.problems)
    fresh = replace(
        session, job=job, given=given, run=given, edits={}, stamp=stamp, problems=(), message=""
    )
    try:
        return job, with_edits(fresh, session.edits)
    except InputError as error:
        dropped = "the file has changed and the edits no longer fit: they are dropped"
        return job, replace(fresh, message=f"{dropped} ({error.problems[0]})")
