"""One run as a page shows it: as the file gives it, the edits on top, its answer and its plans.

Records and functions only; nothing here knows a browser.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from route3d.formats.building_meshes import Buildings, read_buildings, site_meshes
from route3d.formats.grade_surfaces import read_grade
from route3d.geometry.fillet import route_path
from route3d.geometry.grade import Grade
from route3d.geometry.vectors import Floats, frozen
from route3d.language import AS_IT_IS, Translation
from route3d.mechanics.pull import Pull, solve_pull
from route3d.model.job import Job
from route3d.model.machine import Machine
from route3d.model.run import Run
from route3d.planning.clearance.near import standing
from route3d.planning.evaluate import with_advice
from route3d.planning.margins import with_auto_brake
from route3d.planning.placement.search import PlacementSearch, place_key
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.remedies.bend_margins import BendMargin, bend_margins
from route3d.planning.result import RunResult, evaluate_run
from viewer.gauge import is_quick, must_not_be_pulled, plan_for_crew
from viewer.scene.build import context_notes, place_of
from viewer.scene.context import context_meshes
from viewer.scene.records import ContextMesh
from viewer.web.edits import Edits, apply_edits, edit_fields

# Bends solved again for the least radius that passes: a tenth of a second or two.
_MOST_SOLVED = 300
_NOTHING_KNOWN = (None, None)


@dataclass(frozen=True, slots=True, eq=False)
class BuildingsShown:
    """The buildings of a job: as ``given``, and ``meshes`` of them light enough to draw.

    ``grade`` is the ground.
    """

    given: Buildings = ()
    meshes: tuple[ContextMesh, ...] = ()
    grade: Grade = field(default_factory=Grade)

    def at(self, origin: Floats) -> tuple[ContextMesh, ...]:
        """The meshes as a scene of that origin has them."""
        return tuple(replace(m, vertices=frozen(m.vertices - origin)) for m in self.meshes)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a picture with them says of them."""
        return context_notes(self.meshes)


def surroundings_of(job: Job) -> BuildingsShown:
    """The buildings and the ground of a job; InputError where one cannot be read."""
    given = read_buildings(job)
    return BuildingsShown(given, context_meshes(given, np.zeros(3)), read_grade(job))


@dataclass(frozen=True, slots=True, eq=False)
class PlanAndPlace:
    """The plan of one direction, and the location of its machine.

    No plan where none can be made, no place for a pull that must not be made.
    """

    plan: Plan | None
    place: PlacementSearch | None


@dataclass(frozen=True, slots=True, eq=False)
class Session:
    """``given`` is the run of the file, ``run`` the one with the ``edits``, ``result`` its answer.

    ``planned`` has what is known of the plan of either direction, None while it is not; so has
    ``margins`` of the bends. ``searches`` are those made for a place of the machine, by what they
    were made for. ``told`` is the language of the crew's tab.
    """

    job: Job
    given: Run
    run: Run
    result: RunResult
    edits: Edits = field(default_factory=dict)
    planned: tuple[PlanAndPlace | None, PlanAndPlace | None] = _NOTHING_KNOWN
    margins: tuple[BendMargin, ...] = ()
    searches: Mapping[object, PlacementSearch | None] = field(default_factory=dict)
    surroundings: BuildingsShown = field(default_factory=BuildingsShown)
    told: Translation = AS_IT_IS

    @property
    def best(self) -> int:
        """The number of the chosen direction, or of the better one."""
        return self.result.candidates.index(self.result.best)

    @property
    def fails(self) -> bool:
        """Whether the run must not be pulled: by the checks, or by the plan of its best end."""
        return self.result.stops or self.halted(self.best)

    @property
    def is_planned(self) -> bool:
        """Whether all is known that is calculated after the answer, but for advice."""
        return None not in self.planned

    def plan(self, n: int) -> Plan | None:
        """The plan of a direction; None too where it is not known yet."""
        known = self.planned[n]
        return None if known is None else known.plan

    def halted(self, n: int) -> bool:
        """Whether a direction must not be pulled, by all that is known."""
        return must_not_be_pulled(self.result, self.result.candidates[n], self.plan(n))

    def place(self, n: int) -> PlacementSearch | None:
        """The machine location of a direction; None where not known, or not to be pulled."""
        known = self.planned[n]
        if known is not None:
            return known.place
        return None if self.halted(n) else self.searches.get(_sought(self, n))


def _sought(session: Session, n: int) -> object:
    """Directions of one file for which it is the same ask for the same place of the machine."""
    return place_key(session.result.candidates[n].pull, session.job.allowances)


def machines_of(job: Job) -> Mapping[str, Machine]:
    """The machines of the file, those that no run names too."""
    return {m.name: m for m in job.machines}


# --- the answer --------------------------------------------------------------------------------


def edited_run(job: Job, given: Run, edits: Edits) -> tuple[Run, Edits]:
    """The run with the edits, and those of them that change it.

    Raises InputError for what fits nothing in the run, and where the route has no path with them.
    """
    run = apply_edits(given, machines_of(job), edits)
    fields = {f.key: f for f in edit_fields(given, run, edits)}
    other = given.machine is None or run.machine is None or given.machine.name != run.machine.name
    kept = {
        key: value
        for key, value in edits.items()
        # a conduit may be gone with its leg
        if (each := fields.get(key)) is not None
        # the gears of another machine have no figures in the run as given
        and (each.edited or (other and each.group == "gear"))
    }
    route_path(run.route)
    return run, kept


def answered(
    job: Job,
    given: Run,
    edits: Edits,
    surroundings: BuildingsShown,
    before: Session | None = None,
    known: Pull | None = None,
    told: Translation = AS_IT_IS,
) -> Session:
    """The answer to a run with edits: both directions and the decision.

    ``before`` is another answer of the same file: places of the machine found there still hold.
    ``known`` is the ``preview`` of the same question, which is then not calculated again.
    """
    run, kept = (known.run, edits) if known is not None else edited_run(job, given, edits)
    result = evaluate_run(run, job.practice, known=known, allowances=job.allowances)
    searches = {} if before is None or before.job is not job else before.searches
    return Session(
        job, given, run, result, kept, searches=searches, surroundings=surroundings, told=told
    )


def preview(job: Job, given: Run, edits: Edits, *, reverse: bool) -> Pull:
    """One direction alone: what colors need, in a fraction of the time of the whole answer."""
    run, _ = edited_run(job, given, edits)
    return with_auto_brake(solve_pull(run, job.practice, reverse=reverse))


def planned(session: Session, n: int, *, patient: bool = False) -> Session:
    """The session with the plan of one direction, where one can be made.

    With ``patient`` a very long run has one too, which takes a few seconds.
    """
    candidate, key = session.result.candidates[n], _sought(session, n)
    searches = session.searches
    if key not in searches:
        # both ends of the last few questions
        last = dict(list(searches.items())[-7:])
        searches = {**last, key: place_of(candidate.pull, session.job, session.surroundings.given)}
    search = searches[key]
    plan = plan_for_crew(session.result, candidate, session.job, placement=search, patient=patient)
    halted = must_not_be_pulled(session.result, candidate, plan)
    both = list(session.planned)
    both[n] = PlanAndPlace(plan, None if halted else search)
    return replace(session, planned=(both[0], both[1]), searches=searches)


def margined(session: Session) -> Session:
    """The session with the margins of each bend."""
    return replace(session, margins=bend_margins(session.result, most=_MOST_SOLVED))


def needs_advice(session: Session) -> bool:
    """Whether to look for remedies: it fails, and is not too large for that."""
    return session.fails and session.result.advice is None and is_quick(session.result.best)


def advised(session: Session) -> Session:
    """The session with the remedies of its run, empty where nothing stops it."""
    meshes = standing(session.job, site_meshes(session.surroundings.given))
    result = with_advice(session.result, session.job, meshes)
    return replace(session, result=result)


def handed_over(
    result: RunResult, job: Job, surroundings: BuildingsShown, told: Translation = AS_IT_IS
) -> Session:
    """All that is known of a run with nobody waiting: plans, margins and advice."""
    session = Session(job, result.run, result.run, result, surroundings=surroundings, told=told)
    for n in (0, 1):
        # of a very long run the one plan that is asked for, not both
        session = planned(session, n, patient=n == session.best)
    session = margined(session)
    if session.fails and result.advice is None:  # not looked for by the checks alone
        session = advised(session)
    return session
