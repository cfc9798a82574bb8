"""Stops found by the plan, and the words of a picture with them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from route3d.checks.finding import Finding, worst_first
from route3d.formats.building_meshes import Buildings, read_buildings
from route3d.formats.grade_surfaces import read_grade
from route3d.geometry.grade import Grade
from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import RunResult
from route3d.units import render
from viewer.gauge import must_not_be_pulled, plan_for_crew, why_none
from viewer.scene.build import (
    BRAKE,
    MOVING_PEAK,
    PEAK,
    PLACE_DRAWN,
    against,
    brake_figure,
    build_scene,
    candidate_of,
    once_mended,
    place_of,
    reason,
)
from viewer.scene.labels import labels
from viewer.scene.records import Scene
from viewer.scene.solids import end_solids


@dataclass(frozen=True, slots=True, eq=False)
class Planned:
    """A direction of a run with the data of its pictures, each made once.

    ``given`` are the building meshes and ``grade`` the ground; ``place`` is where the machine may
    stand.
    """

    candidate: Candidate
    given: Buildings
    grade: Grade
    place: PlacementSearch | None
    plan: Plan | None


def planned(
    result: RunResult, job: Job, feed: int | str | None = None, *, patient: bool = False
) -> Planned:
    """The direction fed from a vertex or name, or the chosen one, with its plan."""
    candidate = candidate_of(result, feed)
    given = read_buildings(job)
    place = place_of(candidate.planned, job, given)
    plan = plan_for_crew(result, candidate, job, placement=place, patient=patient)
    return Planned(candidate, given, read_grade(job), place, plan)


def planned_scene(result: RunResult, job: Job, ready: Planned, **look: Any) -> Scene:
    """The scene of a direction with the findings of its plan; ``look`` as in ``build_scene``."""
    scene = build_scene(
        result, job, given=ready.given, place=ready.place, ground=ready.grade, **look
    )
    return with_plan(scene, result, ready.candidate, ready.plan)


def may_be_pulled(result: RunResult, candidate: Candidate, plan: Plan | None) -> bool:
    """Whether a direction is the chosen one and neither check nor plan stops it."""
    chosen = result.decision.choice is candidate and not result.stops
    return chosen and not must_not_be_pulled(result, candidate, plan)


def findings_of(result: RunResult, candidate: Candidate, plan: Plan | None) -> tuple[Finding, ...]:
    """All findings of a direction and of its plan, worst first."""
    if plan is None:
        return worst_first(result.findings_of(candidate))
    return worst_first((*(f for f in result.findings if f.rule == "access"), *plan.all_findings))


def stop_words(findings: tuple[Finding, ...], units: str) -> tuple[str, ...]:
    """Each stop in one line: rule, place, measured value and limit."""
    return tuple(dict.fromkeys(_line(f, units) for f in findings if f.severity == "stop"))


def with_plan(scene: Scene, result: RunResult, candidate: Candidate, plan: Plan | None) -> Scene:
    """The scene with the plan's peak, and a flag at each of its stops.

    The headline is an alarm even where the checks alone pass. A machine that must not pull is not
    drawn at the location of the plan.
    """
    if plan is None:
        return scene
    stops = stops_of(plan)
    scene = _without_place(scene, candidate) if plan.stops else scene
    flagged = labels(
        candidate,
        scene.solids,
        scene.origin,
        scene.units,
        pressures=scene.scale.name in ("sidewall", "utilization"),
        findings=(*result.run_findings, *stops),
        peak=plan.peak,
        brake=plan.brake,
        made=not plan.stops,
    )
    rated = plan.machine.available_pull
    peak = against(PEAK, plan.peak, rated, "force", scene.units)
    known = {MOVING_PEAK: peak, BRAKE: brake_figure(plan.brake, scene.units)}
    facts = tuple(known.get(fact.name, fact) for fact in scene.facts)
    why = reason(result, plan.why, scene.units)
    scene = replace(scene, labels=flagged, facts=facts, sentence=why)
    choice = result.decision.choice
    if scene.alarm or not stops or choice is None:
        return scene
    rules = ", ".join(dict.fromkeys(f.rule for f in stops))
    told = "; ".join(stop_words(stops, scene.units))
    return replace(
        scene,
        headline=f"Do not pull yet: {rules}",
        sentence=f"{told[:1].upper()}{told[1:]}. {once_mended(choice.pull, scene.sentence)}",
        alarm=True,
    )


def _without_place(scene: Scene, candidate: Candidate) -> Scene:
    """The scene with the machine in line with the conduit, as where no place is known."""
    ends = end_solids(candidate.pull, scene.exaggeration, scene.origin)
    boxes = [solid for solid in scene.solids if solid.kind == "box"]
    first, *others = scene.notes
    words = [w for w in first.split("; ") if not w.startswith(PLACE_DRAWN)]
    return replace(scene, solids=(*ends, *boxes), notes=("; ".join(words), *others))


def plan_stops(result: RunResult, job: Job, ready: Planned | None = None) -> bool:
    """Whether the plan stops the chosen pull; False where none is, or no plan is made.

    ``ready`` is what a picture of the run was made with, if there is one.
    """
    candidate = result.decision.choice
    if candidate is None or why_none(candidate):
        return False
    if ready is None or ready.candidate is not candidate:
        ready = planned(result, job)
    return bool(stops_of(ready.plan))


def stops_of(plan: Plan | None) -> tuple[Finding, ...]:
    """Stops found by the plan alone."""
    return () if plan is None else tuple(f for f in plan.findings if f.severity == "stop")


def _line(finding: Finding, units: str) -> str:
    place = render(finding.place, units)
    if not math.isfinite(finding.ratio):
        return f"{finding.rule}, {place}"
    if not math.isfinite(finding.demand):
        return f"{finding.rule}, {place}: exceeded"
    return f"{finding.rule}, {place}: {render(finding.compared, units)}"
