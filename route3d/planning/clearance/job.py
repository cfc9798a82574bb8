"""The clearance of every run and body of a job, from building meshes and from each other."""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from route3d.checks.clearance import Met, check_met
from route3d.checks.finding import Finding, worst_first
from route3d.geometry.clearance import Tubes, tubes_of
from route3d.geometry.encasement import stretches_outside
from route3d.geometry.fillet import route_path
from route3d.geometry.grade import Grade
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.model.site import CONCRETE, Surround
from route3d.phrase import Phrase, literal, say
from route3d.planning.clearance.bodies import (
    EQUIPMENT,
    Built,
    Equipment,
    Group,
    Place,
    against_bodies,
    against_conduit,
    body_and_bodies,
    body_in_meshes,
    boxes_of,
    concrete_of,
    group,
    grouped,
    meet_at_a_place,
    turned_round,
)
from route3d.planning.clearance.conduits import (
    Ducts,
    against_ducts,
    against_run,
    bank_ducts,
    from_itself,
    only_near,
    outer_radii,
    places,
    shared_zones,
)
from route3d.planning.clearance.measured import Measured, in_zones, limits
from route3d.planning.clearance.meshes import Meshes, against_meshes, gather
from route3d.planning.clearance.near import MeshExtents, mesh_extents
from route3d.planning.placement.site import SiteMesh

_ASSUMED, _NO_EQUIPMENT = Grade(), Equipment()
_SAME = 1e-6  # bounds of rows nearer than this are one, m


@dataclass(frozen=True, slots=True)
class ClearanceRow:
    """One length of a run: what it is nearest to, measured by what that asks for.

    Stations ``start`` to ``end``, the least clearance ``distance`` m at ``station``, from ``what``
    of ``against``, which asks for ``required`` m. ``verdict`` is "ok", "close", "clash", "inside?"
    within a closed surface that may be solid or a room, or "end" where it is not judged: at an end
    or pull point. ``why`` is that of a row of what was "not judged" in a table.
    """

    start: float
    end: float
    station: float
    distance: float
    against: str
    what: str
    required: float
    verdict: str
    why: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class RunClearance:
    """A run against everything: ``met`` by thing, ``rows`` along the run, findings worst first.

    Or a ``duct`` of the bank about it; the line of the run is then held against nothing.
    """

    run: Run
    path: Path
    met: tuple[Met, ...]
    rows: tuple[ClearanceRow, ...]
    findings: tuple[Finding, ...]
    duct: str = ""

    @property
    def stops(self) -> bool:
        """True where the run clashes, or is nearer to something than that asks for."""
        return any(f.severity == "stop" for f in self.findings)


@dataclass(frozen=True, slots=True, eq=False)
class BodyClearance:
    """A body against everything: ``met`` by thing, findings worst first."""

    body: Built
    met: tuple[Met, ...]
    findings: tuple[Finding, ...]

    @property
    def stops(self) -> bool:
        """True where it clashes, or is nearer to something than that asks for."""
        return any(f.severity == "stop" for f in self.findings)


@dataclass(frozen=True, slots=True)
class NotJudged:
    """What nothing was measured against, or what was not measured, and ``why``.

    ``run`` is the run that it belongs to, empty for a mesh.
    """

    name: str
    why: Phrase
    run: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class ClearanceResult:
    """The answer for a job: ``every`` m one row; ``open_meshes`` by name have no inside.

    ``triangles`` is how many there are in all; ``ducts`` are those of the banks about the runs, in
    a bank of more than one. The ducts of ``blocked_banks``, by their run, have no path and are not
    measured; neither is the concrete of ``folded_banks``. ``bodies`` are those of the runs that are
    asked for, of all that is ``built``; ``classes`` are the meshes that all was measured against.
    ``site`` says where each mesh lies, and which cannot; ``unplaced`` why the equipment of a run
    stands nowhere. ``unknown`` are the stations (m) of each bank where the ground is not known: its
    concrete is measured there all the same.
    """

    job: Job
    runs: tuple[RunClearance, ...]
    every: float
    triangles: int
    open_meshes: tuple[str, ...]
    blocked_banks: tuple[str, ...] = ()
    ducts: tuple[RunClearance, ...] = ()
    site: tuple[MeshExtents, ...] = ()
    bodies: tuple[BodyClearance, ...] = ()
    folded_banks: tuple[str, ...] = ()
    classes: tuple[Meshes, ...] = ()
    unplaced: tuple[tuple[str, str], ...] = ()
    built: tuple[Built, ...] = ()
    unknown: tuple[tuple[str, tuple[tuple[float, float], ...]], ...] = ()

    @property
    def all(self) -> tuple[RunClearance | BodyClearance, ...]:
        """Runs, ducts and bodies."""
        return (*self.runs, *self.ducts, *self.bodies)

    @property
    def not_judged(self) -> tuple[NotJudged, ...]:
        """All that a clash could hide in: meshes, ducts, concrete and equipment not measured."""
        if self.nothing:
            return ()
        found = [
            NotJudged(f"mesh {mesh.name}", mesh.finding.fix)
            for mesh in self.site
            if mesh.finding is not None
        ]
        asked = {run.run.name for run in self.runs}
        for names, what, why in (
            (self.blocked_banks, "ducts", "they have no path (see route3d bank)"),
            (self.folded_banks, "concrete", "it is too wide for a bend (see route3d bank)"),
        ):
            found += [NotJudged(f"{what} of bank {n}", say(why), n) for n in names]
        found += [
            NotJudged(f"equipment of run {n}", say(f"not placed: {literal(why)}"), n)
            for n, why in self.unplaced
        ]
        return tuple(one for one in found if not one.run or one.run in asked)

    @property
    def stops(self) -> bool:
        """True where something clashes or is too near, or could not be judged."""
        return bool(self.not_judged) or any(one.stops for one in self.all)

    @property
    def nothing(self) -> bool:
        """True where there is nothing to measure against."""
        return all(mesh.judged for mesh in self.site) and not any(one.met for one in self.all)


def evaluate_clearance(
    job: Job,
    meshes: Sequence[SiteMesh],
    every: float = 1.0,
    names: Container[str] | None = None,
    equipment: Equipment = _NO_EQUIPMENT,
    grade: Grade = _ASSUMED,
) -> ClearanceResult:
    """Measure every run, or those of the ``names``, in rows of ``every`` m, and their bodies.

    ``meshes`` are those of ``job.site.context`` in its order, ``equipment`` is what stands at the
    ends of pulls, and concrete lies below the ``grade``. Raises GeometryError where a route has no
    path.
    """
    paths = tuple(route_path(run.route) for run in job.runs)
    tubes = tuple(tubes_of(p, outer_radii(r)) for p, r in zip(paths, job.runs, strict=True))
    banks, blocked = bank_ducts(job, paths)
    site = mesh_extents(job, meshes)
    asked_of = job.site.surrounds or (Surround(),) * len(meshes)
    judged = [
        (surround, mesh)
        for surround, mesh, where in zip(asked_of, meshes, site, strict=True)
        if where.judged
    ]
    classes = gather([s for s, _ in judged], [m for _, m in judged])
    concrete, folds = _concrete(job, paths, grade)
    boxes = [b for run, p in zip(job.runs, paths, strict=True) for b in _boxes(job, run, p)]
    built = (*concrete, *boxes, *equipment.bodies)
    around = _Around(job, classes, paths, tubes, {b.run: b for b in banks}, built)
    asked = [i for i, run in enumerate(job.runs) if names is None or run.name in names]
    runs = tuple(_run(around, i, every) for i in asked)
    ducts = tuple(duct for i in asked for duct in _ducts(around, i, every))
    bodies = _bodies(around, {job.runs[i].name for i in asked})
    loose = [m.names[k] for m in classes for k in np.unique(m.owner[~m.closed])]
    triangles = sum(len(m.faces) for m in meshes)
    unknown = _unknown(job, paths, grade)
    return ClearanceResult(
        job=job,
        runs=runs,
        every=every,
        triangles=triangles,
        open_meshes=tuple(loose),
        blocked_banks=blocked,
        ducts=ducts,
        site=site,
        bodies=bodies,
        folded_banks=folds,
        classes=classes,
        unplaced=equipment.unplaced,
        built=built,
        unknown=unknown,
    )


def _unknown(
    job: Job, paths: Sequence[Path], grade: Grade
) -> tuple[tuple[str, tuple[tuple[float, float], ...]], ...]:
    """The stretches of every bank in concrete outside the surface of the grade."""
    lines = {run.name: path for run, path in zip(job.runs, paths, strict=True)}
    found = ((b.run, stretches_outside(lines[b.run], grade)) for b in job.banks if b.cover)
    return tuple((name, spans) for name, spans in found if spans)


def _concrete(job: Job, paths: Sequence[Path], grade: Grade) -> tuple[list[Built], tuple[str, ...]]:
    """The concrete of every bank, and the runs of those where it would fold over in a bend."""
    found, folds = [], []
    for bank in job.banks:
        index = next(i for i, run in enumerate(job.runs) if run.name == bank.run)
        body = concrete_of(bank, job.runs[index], paths[index], job.site, grade)
        if body is not None:
            found.append(body)
        elif bank.cover:
            folds.append(bank.run)
    return found, tuple(folds)


def _boxes(job: Job, run: Run, path: Path) -> tuple[Built, ...]:
    return boxes_of(run, path, job.site)


# --- one run -------------------------------------------------------------------------------------


Zones: TypeAlias = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True, eq=False)
class _Around:
    """What conduits are measured against: by class, and by the number of each run.

    A run with a bank about it that could be laid out is there by its ducts, in everything: on the
    line of the run itself there may be none.
    """

    job: Job
    meshes: tuple[Meshes, ...]
    paths: tuple[Path, ...]
    tubes: tuple[Tubes, ...]
    banks: dict[str, Ducts]
    built: tuple[Built, ...]

    def bodies_for(self, run: str) -> list[Built]:
        """What a run is held against: bodies of others, and its own machine, vehicle and reel."""
        return [b for b in self.built if b.run != run or b.kind in EQUIPMENT]


def _run(around: _Around, index: int, every: float) -> RunClearance:
    run, path = around.job.runs[index], around.paths[index]
    if run.name in around.banks:
        return RunClearance(run, path, (), (), ())
    return _measured(around, index, path, every)


def _ducts(around: _Around, index: int, every: float) -> Iterator[RunClearance]:
    """Each duct of the bank about a run, against everything; stations are its own."""
    bank = around.banks.get(around.job.runs[index].name)
    if bank is None:
        return
    for path, tubes, label in zip(bank.paths, bank.tubes, bank.labels, strict=True):
        found = _measured(around, index, path, every, tubes)
        named = tuple(replace(f, where=f"{label}, {f.where}") for f in found.findings)
        if found.met:
            yield replace(found, findings=named, duct=label)


def _measured(
    around: _Around, index: int, path: Path, every: float, own_tubes: Tubes | None = None
) -> RunClearance:
    """The line of a run, or a duct about it by its ``own_tubes``, against everything."""
    job = around.job
    run, radii = job.runs[index], outer_radii(job.runs[index])
    own = places(run, path, job.site)
    ends = [(s - reach, s + reach) for _, s, reach in own]
    shared = {
        i: shared_zones(own, places(other, around.paths[i], job.site))
        for i, other in enumerate(job.runs)
        if i != index
    }
    bodies = _by_place(around.bodies_for(run.name), own, run.name)
    every_zone = (ends, *shared.values(), *(zone for _, zone in bodies))
    edges = [edge for zone in every_zone for pair in zone for edge in pair]
    bounds = _bounds(path.length, every, edges)
    at_end = in_zones(bounds, ends)
    measured = [against_meshes(path, radii, job.site, m, bounds, at_end) for m in around.meshes]
    for i, zones in shared.items():
        free = in_zones(bounds, zones)
        ducts = around.banks.get(job.runs[i].name)
        measured.append(
            against_run(path, radii, job, i, around.tubes[i], bounds, free)
            if ducts is None
            else against_ducts(path, radii, job, ducts, bounds, free)
        )
    for together, zone in bodies:
        free = in_zones(bounds, zone)
        made = against_bodies(path, radii, job, together, bounds, free)
        if together.bodies[0].run != run.name:
            measured.append(made)
        elif made.met.clashes or made.met.short:  # its own machine is always near
            measured.append(only_near(made))
    tubes = around.tubes[index] if own_tubes is None else own_tubes
    own_way = from_itself(path, radii, job, tubes, bounds, at_end)
    measured += [own_way] if own_way is not None else []
    met = tuple(m.met for m in measured)
    findings = worst_first(tuple(f for m in met for f in check_met(m)))
    return RunClearance(run, path, met, _rows(bounds, measured), findings)


def _by_place(bodies: Sequence[Built], own: list[Place], run: str) -> list[tuple[Group, Zones]]:
    """Bodies together that meet a run at the same places: with the stations where they may."""
    together: dict[tuple[str, tuple[tuple[float, float], ...]], list[Built]] = {}
    for body in bodies:
        zone = shared_zones(own, list(body.places))
        apart = body.run if body.kind in EQUIPMENT and body.run == run else ""
        together.setdefault((apart, tuple(zone)), []).append(body)
    return [(found, zone) for (_, zone), some in together.items() for found in grouped(some)]


# --- bodies --------------------------------------------------------------------------------------


def _bodies(around: _Around, names: Container[str]) -> tuple[BodyClearance, ...]:
    """Every body of the runs asked for, each pair of bodies once."""
    found = []
    for i, body in enumerate(around.built):
        if body.run not in names:
            continue
        met = [body_in_meshes(body, meshes, around.job) for meshes in around.meshes]
        others = [
            other
            for k, other in enumerate(around.built)
            if k != i and (k > i or other.run not in names) and _held_apart(body, other)
        ]
        met += _with_others(body, others, around.job)
        met += _with_conduits(body, around, names)
        findings = tuple(
            replace(f, where=f"{literal(body.name)}, {f.where}") for m in met for f in check_met(m)
        )
        found.append(BodyClearance(body, tuple(met), worst_first(findings)))
    return tuple(found)


def _held_apart(one: Built, other: Built) -> bool:
    """Whether two bodies are held against each other."""
    if one.run == other.run or (one.kind in EQUIPMENT and other.kind in EQUIPMENT):
        return False
    return CONCRETE in (one.kind, other.kind) or not meet_at_a_place(one, other)


def _with_others(body: Built, others: Sequence[Built], job: Job) -> list[Met]:
    """A body against others: one by one where they have a place in common."""
    together: list[Built] = []
    met = []
    for other in others:
        zone = shared_zones(list(body.places), list(other.places))
        if not zone:
            together.append(other)
        elif body.kind == CONCRETE:
            met.append(body_and_bodies(body, group((other,)), job, zone))
        else:  # the stations of the concrete say where both may meet
            back = shared_zones(list(other.places), list(body.places))
            met.append(turned_round(body_and_bodies(other, group((body,)), job, back), body, other))
    return [*met, *(body_and_bodies(body, found, job, []) for found in grouped(together))]


def _with_conduits(body: Built, around: _Around, names: Container[str]) -> list[Met]:
    """A body against the conduits of the runs that are not asked for, which do not say it."""
    found = []
    for i, run in enumerate(around.job.runs):
        if run.name in names or run.name == body.run:
            continue
        own = places(run, around.paths[i], around.job.site)
        zone = shared_zones(own, list(body.places))
        ducts = around.banks.get(run.name)
        lines = (around.paths[i],) if ducts is None else ducts.paths
        for path in lines:
            radii = outer_radii(run)
            found.append(against_conduit(body, path, radii, around.job, run, zone))
    return found


# --- rows of a run -------------------------------------------------------------------------------


def _bounds(length: float, every: float, edges: Sequence[float]) -> Floats:
    """Stations between rows: every ``every`` m, and at the ``edges`` that lie on the run."""
    count = max(1, int(np.ceil(length / every - 1e-9)))
    even = np.append(np.arange(count) * every, length)
    inner = np.array([e for e in edges if 0 < e < length])
    extra = inner[np.abs(inner[:, None] - even).min(axis=1, initial=np.inf) > _SAME]
    bounds = np.unique(np.concatenate((even, extra)))
    return bounds[np.concatenate(([True], np.diff(bounds) > _SAME))]


# --- rows ----------------------------------------------------------------------------------------


def _rows(bounds: Floats, measured: Sequence[Measured]) -> tuple[ClearanceRow, ...]:
    """For each row the thing with the least margin, of those that count there."""
    if not measured:
        return ()
    margins = np.array([m.found.distance - m.met.required for m in measured])
    free = np.array([m.free for m in measured])
    judged = np.where(free, margins, np.inf)
    choice = np.where(free.any(axis=0), judged.argmin(axis=0), margins.argmin(axis=0))
    pairs = enumerate(choice.tolist())
    # a run that only comes back to itself has no clearance elsewhere
    near = ((i, k) for i, k in pairs if math.isfinite(margins[k, i]))
    return tuple(_row(bounds, i, measured[k]) for i, k in near)


def _row(bounds: Floats, i: int, measured: Measured) -> ClearanceRow:
    met, found = measured.met, measured.found
    distance = float(found.distance[i])
    return ClearanceRow(
        start=float(bounds[i]),
        end=float(bounds[i + 1]),
        station=float(found.station[i]),
        distance=distance,
        against=met.name,
        what=measured.what[i],
        required=met.required,
        verdict=_verdict(met, distance, float(found.station[i])) if measured.free[i] else "end",
    )


def _verdict(met: Met, distance: float, station: float) -> str:
    touch, enough = limits(met.required)
    if distance < touch:
        return "clash"
    if met.required and distance < enough:
        return "close"
    unsure = met.solid is None and any(p.start <= station <= p.end for p in met.inside)
    return "inside?" if unsure else "ok"
