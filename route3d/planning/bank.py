"""A duct bank, answered: every duct solved like any run, and which of them will not do."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

import numpy as np

from route3d.checks.bank import check_bank, least_earth, widest_duct
from route3d.checks.finding import SEVERITIES, Finding, worst_first
from route3d.checks.limits import sidewall_limit
from route3d.geometry.bank import bank_paths, duct_offsets, duct_places
from route3d.geometry.encasement import (
    STEP,
    Section,
    mesh_volume,
    part_of,
    section,
    solid,
    stretches_below,
)
from route3d.geometry.frames import frames, frames_at
from route3d.geometry.path import ARC, Path
from route3d.geometry.route_path import route_path
from route3d.geometry.vectors import Floats
from route3d.model.job import Bank, Job
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.planning.evaluate import RunResult, evaluate_run

if TYPE_CHECKING:
    import trimesh

# What an inner bend can fail.
_SIDEWALL = "sidewall pressure"
BEND_RULES = ("cable bend radius", "conduit bend radius", _SIDEWALL)


@dataclass(frozen=True, eq=False, slots=True)
class DuctResult:
    """One duct: ``row`` from the top and ``column`` from the left, ``offset`` (right, up) m."""

    row: int
    column: int
    offset: tuple[float, float]
    result: RunResult

    @property
    def label(self) -> str:
        """The duct by row and column."""
        return f"row {self.row}, column {self.column}"

    @property
    def breaks(self) -> tuple[Finding, ...]:
        """The limits it breaks, in the direction chosen or the better one, worst first."""
        found = (*self.result.run_findings, *self.result.best.findings)
        return worst_first(tuple(f for f in found if f.severity == "stop"))

    @property
    def strain(self) -> tuple[bool, float, float]:
        """By what ducts are ranked: broken limits, the largest share of any limit, peak tension."""
        best = self.result.best
        shares = (f.ratio for f in self.breaks if math.isfinite(f.ratio))
        peak = max((best.utilisation.peak, *shares))
        return self.result.stops, round(peak, 6), round(best.pull.peak_tension, 3)


@dataclass(frozen=True, slots=True)
class InnerBend:
    """One bend of the bank at its worst duct.

    ``finding`` is the worst of ``BEND_RULES`` over all ducts, met in ``row`` and ``column``, where
    the radius is ``inner`` m; ``radius`` m is that of the centreline. ``needed`` (m) is the
    centreline radius with which every duct would pass, 0 where all do: exact for the two radius
    rules, ``estimated`` for sidewall pressure, for the tension changes with it.
    """

    number: int
    at: str
    segment: int
    radius: float
    inner: float
    row: int
    column: int
    finding: Finding
    needed: float
    estimated: bool

    @property
    def fails(self) -> bool:
        """True where a duct breaks a limit here."""
        return self.finding.severity == "stop"


@dataclass(frozen=True, eq=False, slots=True)
class BankResult:
    """A bank: its ``centre`` (the run's own line), its ``ducts``, its bends and its concrete.

    ``stretches`` are station pairs (m) of the centreline in concrete: what lies below grade, or
    all of it where nothing does. ``concrete`` is its volume without the ducts, m³; ``earth`` the
    least cover below grade with its station, m, None where the bank does not lie below it.
    ``starts`` is the frame of the bank on each segment, from ``frames``.
    """

    bank: Bank
    run: Run
    centre: Path
    starts: Floats
    ducts: tuple[DuctResult, ...]
    bends: tuple[InnerBend, ...]
    findings: tuple[Finding, ...]
    section: Section
    stretches: tuple[tuple[float, float], ...]
    concrete: float
    earth: tuple[float, float] | None

    @property
    def stops(self) -> bool:
        """True where a duct breaks a limit."""
        return any(d.result.stops for d in self.ducts)

    @property
    def encased_length(self) -> float:
        """Length in concrete along the centreline, m."""
        return sum(end - start for start, end in self.stretches)

    @property
    def best(self) -> DuctResult:
        """The duct that takes the least of its limits."""
        return min(self.ducts, key=lambda d: d.strain)

    @property
    def worst(self) -> DuctResult:
        """The duct that takes the most of its limits."""
        return max(self.ducts, key=lambda d: d.strain)


def evaluate_banks(job: Job) -> tuple[BankResult, ...]:
    """Answer every bank of a job whose run it still holds, in the order of the file."""
    runs = {run.name: run for run in job.runs}
    return tuple(evaluate_bank(b, runs[b.run], job.practice) for b in job.banks if b.run in runs)


def evaluate_bank(bank: Bank, run: Run, practice: Practice) -> BankResult:
    """Answer one bank.

    Raises GeometryError where the route has no path, or a duct of the bank none.
    """
    centre = route_path(run.route)
    starts, outer = frames(centre), widest_duct(run)
    ducts = _ducts(bank, run, practice, centre, starts)
    shape, parts = section(bank, outer), _parts(bank, run, centre, starts)
    return BankResult(
        bank=bank,
        run=run,
        centre=centre,
        starts=starts,
        ducts=ducts,
        bends=_bends(run, centre, ducts),
        findings=worst_first(check_bank(bank, run, centre, starts)),
        section=shape,
        stretches=_stretches(centre),
        concrete=sum(s.area * p.length for p, _, s in parts) if bank.cover > 0 else 0.0,
        earth=least_earth(bank, run, centre),
    )


# --- the ducts -----------------------------------------------------------------------------------


def _ducts(
    bank: Bank, run: Run, practice: Practice, centre: Path, starts: Floats
) -> tuple[DuctResult, ...]:
    paths = bank_paths(
        centre, bank, start=starts[0], outer_diameter=widest_duct(run), route=run.route
    )
    places, offsets = duct_places(bank), duct_offsets(bank).tolist()
    return tuple(
        DuctResult(row, column, (x, y), _answer(run, row, column, practice, path))
        for (row, column), (x, y), path in zip(places, offsets, paths, strict=True)
    )


def _answer(run: Run, row: int, column: int, practice: Practice, path: Path) -> RunResult:
    """One duct, answered on its own line."""
    named = replace(run, name=f"{run.name} row {row} column {column}")
    return evaluate_run(named, practice, with_changes=False, path=path)


# --- the bends -----------------------------------------------------------------------------------


def _bends(run: Run, centre: Path, ducts: tuple[DuctResult, ...]) -> tuple[InnerBend, ...]:
    return tuple(
        _bend(run, centre, int(segment), number, ducts)
        for number, segment in enumerate(np.flatnonzero(centre.kind == ARC), start=1)
    )


def _bend(
    run: Run, centre: Path, segment: int, number: int, ducts: tuple[DuctResult, ...]
) -> InnerBend:
    vertex, radius = int(centre.vertex[segment]), float(centre.radii[segment])
    where = run.route.bend_label(number, vertex)
    found = [(f, d) for d in ducts for f in _at_bend(d, where)]
    # The verdict is of the worst duct; where nothing is wrong the innermost one is shown.
    worst, duct = min(found, key=lambda pair: (SEVERITIES.index(pair[0].severity), -pair[0].ratio))
    needed, rule = max((_needed(run, radius, bend_radius(d, number), f), f.rule) for f, d in found)
    return InnerBend(
        number=number,
        at=run.route.label(vertex),
        segment=segment,
        radius=radius,
        inner=bend_radius(duct, number),
        row=duct.row,
        column=duct.column,
        finding=worst,
        needed=needed,
        estimated=rule == _SIDEWALL and needed > 0,
    )


def bend_radius(duct: DuctResult, number: int) -> float:
    """The radius of a duct in a bend, m; a duct has the bends of the centreline."""
    radii = duct.result.path.radii[duct.result.path.kind == ARC]
    return float(radii[number - 1])


def _at_bend(duct: DuctResult, where: str) -> list[Finding]:
    found = (*duct.result.run_findings, *duct.result.best.findings)
    return [f for f in found if f.rule in BEND_RULES and f.where == where]


def _needed(run: Run, centre: float, own: float, finding: Finding) -> float:
    """The centreline radius with which a rule is kept in a duct; that it has where it is kept."""
    if finding.severity != "stop":
        return 0.0
    if finding.rule == _SIDEWALL:  # pressure goes with 1/R, tension hardly changes
        return centre - own + own * finding.demand / sidewall_limit(run).value
    return centre + finding.limit - finding.demand


# --- the concrete --------------------------------------------------------------------------------


def _stretches(centre: Path) -> tuple[tuple[float, float], ...]:
    return stretches_below(centre) or ((0.0, centre.length),)


def _parts(
    bank: Bank, run: Run, centre: Path, starts: Floats
) -> tuple[tuple[Path, Floats, Section], ...]:
    """Path, frame and section of each stretch in concrete, cut where the ducts change width."""
    widest = widest_duct(run)
    outer = np.array([c.outer_diameter for c in run.route.conduits])
    parts = []
    for start, end in _stretches(centre):
        whole = part_of(centre, start, end)
        changes = np.flatnonzero(np.diff(outer[whole.leg])) + 1
        cuts = [start, *(start + float(whole.stations[i]) for i in changes), end]
        for a, b in itertools.pairwise(cuts):
            part = part_of(centre, a, b)
            frame = frames_at(centre, np.array([a]), starts)[0]
            parts.append((part, frame, section(bank, widest, float(outer[part.leg[0]]))))
    return tuple(parts)


@dataclass(frozen=True, eq=False, slots=True)
class BankSolid:
    """The concrete as a mesh, m: ``volume`` m³ is that of the concrete it stands for.

    ``lacking`` is the share of it the flat faces of the mesh leave out in bends.
    """

    mesh: trimesh.Trimesh
    volume: float
    lacking: float


def bank_solid(result: BankResult, *, ducts: bool = True, step: float = STEP) -> BankSolid:
    """The watertight solid of a bank's concrete, with the ``ducts`` left open or filled.

    Bodies lie end to end where the ducts change their diameter. Raises GeometryError where the
    concrete would fold over in a bend.
    """
    import trimesh

    parts = _parts(result.bank, result.run, result.centre, result.starts)
    meshes = [solid(p, s, start=f, ducts=ducts, step=step) for p, f, s in parts]
    areas = [s.area if ducts else s.whole for _, _, s in parts]
    volume = sum(a * p.length for a, (p, _, _) in zip(areas, parts, strict=True))
    meshed = sum(mesh_volume(p, a, step) for a, (p, _, _) in zip(areas, parts, strict=True))
    mesh = (
        meshes[0] if len(meshes) == 1 else cast("trimesh.Trimesh", trimesh.util.concatenate(meshes))
    )
    return BankSolid(mesh, volume, 1.0 - meshed / volume)
