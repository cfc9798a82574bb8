"""A duct bank, answered: every duct solved like any run, which of them fail, and its concrete."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, cast

import numpy as np

from route3d.checks.bank import check_bank, least_earth, widest_duct
from route3d.checks.bends import least_radius
from route3d.checks.finding import SEVERITIES, Finding, worst_first
from route3d.checks.limits import sidewall_limit
from route3d.geometry.bank import (
    NoRoom,
    Shortage,
    duct_offsets,
    duct_places,
    no_room,
    offset_paths,
    room,
    shortages,
    turn_name,
)
from route3d.geometry.bank_slices import slices_at, stretches_below
from route3d.geometry.duct_pieces import BoxInLine, boxes_in_line
from route3d.geometry.encasement import (
    STEP,
    ConcreteSection,
    folded,
    mesh_volume,
    part_of,
    section,
    solid,
    stretches_outside,
)
from route3d.geometry.fillet import route_path
from route3d.geometry.grade import Grade
from route3d.geometry.path import ARC, Path
from route3d.geometry.rmf_frames import frames, frames_at
from route3d.geometry.vectors import Floats
from route3d.model.conduit import Conduit
from route3d.model.job import Bank, Job
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import say
from route3d.planning.result import RunResult, evaluate_run

if TYPE_CHECKING:
    import trimesh


# Shorter than this, m, nothing is a stretch.
_SHORTEST = 1e-6
# Stations this close, m, are the same place on the edge of a surface.
_RIM = 1e-3

# --- the concrete of a duct bank: where it lies, what it takes, and its solid ---------------


def buried(
    bank: Bank, run: Run, center: Path, starts: Floats, grade: Grade
) -> tuple[tuple[float, float], ...]:
    """Station pairs (m) where any part of the bank lies below grade."""
    return stretches_below(center, grade, section(bank, widest_duct(run)), starts)


def stretches(
    bank: Bank, run: Run, center: Path, grade: Grade, *, unknown: bool = False
) -> tuple[tuple[float, float], ...]:
    """Station pairs (m) in concrete: what lies below grade, or all of it where nothing does.

    Outside the surface of the grade it is as if the ground went on level from its edge; with
    ``unknown`` all of it counts there. A bank ends square at the walls of a box that it fits into,
    as a vault is one.
    """
    below = buried(bank, run, center, starts := frames(center), grade)
    shape = section(bank, widest_duct(run))
    found = [(0.0, center.length)]
    if below:
        outside = stretches_outside(center, grade) if unknown else ()
        found = _joined((*below, *_beyond(shape, center, starts, grade), *outside))
    for box in boxes_in_line(run.route, center):
        if not _takes(box, shape):
            continue
        parts = [((a, min(b, box.start)), (max(a, box.end), b)) for a, b in found]
        found = [(a, b) for pair in parts for a, b in pair if b - a > _SHORTEST]
    return tuple(found)


def _partly(
    bank: Bank, run: Run, center: Path, starts: Floats, grade: Grade
) -> tuple[tuple[float, float], ...]:
    """Station pairs (m) where a part of the section lies below grade, and a part above."""
    shape = section(bank, widest_duct(run))
    whole = stretches_below(center, grade, shape, starts, whole=True)
    found = list(stretches_below(center, grade, shape, starts))
    for first, last in whole:
        found = [
            (a, b)
            for start, end in found
            for a, b in ((start, min(end, first)), (max(start, last), end))
            if b - a > _SHORTEST
        ]
    return tuple(found)


def common(
    one: Sequence[tuple[float, float]], other: Sequence[tuple[float, float]]
) -> tuple[tuple[float, float], ...]:
    """Station pairs (m) in both of two lists."""
    pairs = ((max(a, c), min(b, d)) for a, b in one for c, d in other)
    return tuple((a, b) for a, b in pairs if b - a > _SHORTEST)


def _beyond(
    shape: ConcreteSection, center: Path, starts: Floats, grade: Grade
) -> Iterator[tuple[float, float]]:
    """Station pairs (m) outside the surface that would lie below it if it went on level.

    At the elevation of its edge on the line, at both ends of the stretch the higher.
    """
    for start, end in stretches_outside(center, grade):
        edges = np.array([start - _RIM, end + _RIM])
        edges = edges[(edges >= 0) & (edges <= center.length)]
        heights = grade.at(center.point(edges))
        heights = heights[np.isfinite(heights)]
        if len(heights):
            part = part_of(center, start, end)
            frame = frames_at(center, np.array([start]), starts)[0]
            level = Grade(float(heights.max()))
            for a, b in stretches_below(part, level, shape, frames(part, frame)):
                yield start + a, start + b


def _joined(spans: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Station pairs in order, those that meet as one."""
    found: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if found and start - found[-1][1] <= _RIM:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


def _takes(box: BoxInLine, shape: ConcreteSection) -> bool:
    """Whether the whole section of a bank fits into a box."""
    return box.size[1] >= shape.width - _SHORTEST and box.size[2] >= shape.height - _SHORTEST


def _small_boxes(run: Run, center: Path, parts: Sequence[EncasedPart]) -> float:
    """The concrete that boxes smaller than the section of the bank take the place of, m³."""
    import shapely

    taken = 0.0
    for box in boxes_in_line(run.route, center):
        middle = (box.start + box.end) / 2
        for part in parts:
            if part.start < middle < part.start + part.path.length and not _takes(
                box, part.section
            ):
                inside = shapely.box(*(-np.array(box.size[1:]) / 2), *(np.array(box.size[1:]) / 2))
                area = shapely.intersection(part.section.polygon(sides=128), inside).area
                taken += area * (box.end - box.start)
    return taken


@dataclass(frozen=True, eq=False, slots=True)
class EncasedPart:
    """A stretch in concrete with ducts of one size.

    ``start`` m is its station on the center, ``path`` its line, ``frame`` (2, 3) right and up at
    its start.
    """

    start: float
    path: Path
    frame: Floats
    section: ConcreteSection


def parts_of(
    bank: Bank,
    run: Run,
    center: Path,
    starts: Floats,
    grade: Grade,
    within: Sequence[tuple[float, float]] | None = None,
    *,
    unknown: bool = False,
) -> tuple[EncasedPart, ...]:
    """Every stretch in concrete, cut where the ducts change width; only what is ``within``.

    ``unknown`` as in `stretches`.
    """
    widest = widest_duct(run)
    outer = np.array([c.outer_diameter for c in run.route.conduits])
    parts = []
    found = stretches(bank, run, center, grade, unknown=unknown)
    for start, end in found if within is None else common(found, within):
        whole = part_of(center, start, end)
        changes = np.flatnonzero(np.diff(outer[whole.leg])) + 1
        cuts = [start, *(start + float(whole.stations[i]) for i in changes), end]
        for a, b in itertools.pairwise(cuts):
            part = part_of(center, a, b)
            frame = frames_at(center, np.array([a]), starts)[0]
            shape = section(bank, widest, float(outer[part.leg[0]]))
            parts.append(EncasedPart(a, part, frame, shape))
    return tuple(parts)


def volume_of(bank: Bank, run: Run, center: Path, parts: Sequence[EncasedPart]) -> float | None:
    """Concrete without the ducts, m³: section times centerline, by Pappus' theorem.

    Ends are square. What lies within a pull box is left out. None where the section reaches over
    the center of a bend: there the theorem does not hold.
    """
    if bank.cover == 0:
        return 0.0
    if any(folded(p.path, p.section, frames(p.path, p.frame)) for p in parts):
        return None
    whole = sum(p.section.area * p.path.length for p in parts)
    return whole - _small_boxes(run, center, parts)


@dataclass(frozen=True, eq=False, slots=True)
class BankSolid:
    """The concrete as a mesh, m: ``volume`` m³ is that of the concrete it stands for.

    ``lacking`` is the share of it the flat faces of the mesh leave out in bends.
    """

    mesh: trimesh.Trimesh
    volume: float
    lacking: float


def bank_solid(result: BankResult, *, ducts: bool = True) -> BankSolid:
    """The watertight solid of a bank's concrete, with the ``ducts`` left open or filled.

    Bodies lie end to end where the ducts change their diameter. Raises GeometryError where the
    concrete would fold over in a bend.
    """
    import trimesh

    parts = parts_of(result.bank, result.run, result.center, result.starts, result.grade)
    meshes = [solid(p.path, p.section, start=p.frame, ducts=ducts) for p in parts]
    areas = [p.section.area if ducts else p.section.whole for p in parts]
    volume = sum(a * p.path.length for a, p in zip(areas, parts, strict=True))
    meshed = sum(mesh_volume(p.path, a, STEP) for a, p in zip(areas, parts, strict=True))
    mesh = (
        meshes[0] if len(meshes) == 1 else cast("trimesh.Trimesh", trimesh.util.concatenate(meshes))
    )
    return BankSolid(mesh, volume, 1.0 - meshed / volume)


# --- a duct bank, answered: every duct solved like any run, and which of them will not do ---

# What an inner bend can fail.
_SIDEWALL, _NO_RADIUS = "sidewall pressure", "no path: no radius left in the bend"
BEND_RULES = ("cable bend radius", "conduit bend radius", _SIDEWALL, _NO_RADIUS)
_NO_STRAIGHT = "no path: no straight left at the turn"


@dataclass(frozen=True, eq=False, slots=True)
class DuctResult:
    """One duct: ``row`` from the top and ``column`` from the left, ``offset`` (right, up) m.

    Where a bend leaves it no path there is no ``result``, and ``blocked`` says where, worst first.
    """

    row: int
    column: int
    offset: tuple[float, float]
    result: RunResult | None
    blocked: tuple[Finding, ...] = ()

    @property
    def stops(self) -> bool:
        """True where it breaks a limit, or has no path."""
        return self.result is None or self.result.stops

    @property
    def label(self) -> str:
        """The duct by row and column."""
        return f"row {self.row}, column {self.column}"

    @property
    def breaks(self) -> tuple[Finding, ...]:
        """The limits it breaks, in the direction chosen or the better one, worst first."""
        return worst_first(tuple(f for f in self.checked if f.severity == "stop"))

    @property
    def checked(self) -> tuple[Finding, ...]:
        """What was found, in the direction chosen or the better one; without a path: why."""
        if self.result is None:
            return self.blocked
        return (*self.result.run_findings, *self.result.best.findings)

    @property
    def strain(self) -> tuple[bool, float, float]:
        """By what ducts are ranked: broken limits, the largest share of any limit, peak tension.

        Without a path: what the worst bend lacks, m.
        """
        if self.result is None:
            return True, math.inf, max(f.limit - f.demand for f in self.blocked)
        best = self.result.best
        shares = (f.ratio for f in self.breaks if math.isfinite(f.ratio))
        peak = max((best.utilization.peak, *shares))
        return self.result.stops, round(peak, 6), round(best.pull.peak_tension, 3)


@dataclass(frozen=True, eq=False, slots=True)
class OtherRun:
    """Another run that the bank names, with its cables and equipment, in each of the ``ducts``.

    ``ducts`` is empty where the job does not hold the run.
    """

    name: str
    ducts: tuple[DuctResult, ...]


@dataclass(frozen=True, slots=True)
class InnerBend:
    """One bend of the bank at its worst duct.

    ``finding`` is the worst of ``BEND_RULES`` over all ducts, met in ``row`` and ``column``, where
    the radius is ``inner`` m; ``radius`` m is that of the centerline. ``needed`` (m) is the
    centerline radius with which every duct would pass, 0 where all do: exact for the two radius
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
    """A bank: its ``center`` (the run's own line), its ``ducts``, its bends and its concrete.

    ``stretches`` are station pairs (m) of the centerline in concrete: what lies below ``grade``, or
    all of it where nothing does, outside of vaults. ``concrete`` is its volume without the ducts,
    m³, None where it would reach over the center of a bend; ``earth`` the least cover below grade
    with its station, m, less than nothing where the bank is partly buried, None where it does not
    lie below grade. ``below`` are the stretches of which any part lies below grade, ``partly``
    those of them of which a part lies above, ``outside`` those outside its surface: how deep these
    lie is not known.
    ``others`` are the other runs that the bank names. ``starts`` is the frame of the bank on
    each segment, from ``frames``. ``no_room`` is the worst of what leaves a duct no path, with what
    would help.
    """

    bank: Bank
    run: Run
    center: Path
    starts: Floats
    ducts: tuple[DuctResult, ...]
    bends: tuple[InnerBend, ...]
    findings: tuple[Finding, ...]
    section: ConcreteSection
    stretches: tuple[tuple[float, float], ...]
    concrete: float | None
    earth: tuple[float, float] | None
    no_room: NoRoom | None = None
    grade: Grade = field(default_factory=Grade)
    below: tuple[tuple[float, float], ...] = ()
    partly: tuple[tuple[float, float], ...] = ()
    outside: tuple[tuple[float, float], ...] = ()
    others: tuple[OtherRun, ...] = ()

    @property
    def stops(self) -> bool:
        """True where a duct breaks a limit or has no path, or will not do for a run put in it.

        And where no duct will do for another run that is to be pulled through the bank.
        """
        return any(d.stops for d in self.ducts) or any(map(self._bars, self.others))

    def _bars(self, other: OtherRun) -> bool:
        """Whether another run cannot be pulled as the bank has it."""
        own = [d for d in other.ducts if self.bank.run_in(d.row, d.column) == other.name]
        if own:
            return any(d.stops for d in own)
        return bool(other.ducts) and all(d.stops for d in other.ducts)

    @property
    def all_encased(self) -> bool:
        """True where no part is known to be below grade, so that all of it is taken as encased."""
        return not self.below

    @property
    def unknown(self) -> bool:
        """True where no ground is known over any part."""
        return sum(b - a for a, b in self.outside) >= self.center.length - _SHORTEST

    def upright_at(self, station: float) -> float:
        """Height of the bank measured upright at a station, m."""
        cut = slices_at(self.center, self.starts, self.section, np.array([station]))
        return 2 * float(cut.half_height[0]) / float(cut.upright[0, 2])

    @property
    def incomplete(self) -> bool:
        """True where a rule requires earth cover and the ground over a part is not known."""
        return any(f.rule == "earth cover" and math.isnan(f.demand) for f in self.findings)

    @property
    def encased_length(self) -> float:
        """Length in concrete along the centerline, m."""
        return sum(end - start for start, end in self.stretches)

    @property
    def best(self) -> DuctResult:
        """The duct that takes the least of its limits."""
        return min(self.ducts, key=lambda d: d.strain)

    @property
    def worst(self) -> DuctResult:
        """The duct that takes the most of its limits."""
        return max(self.ducts, key=lambda d: d.strain)


def evaluate_banks(
    job: Job, grade: Grade, others: Sequence[Run] | None = None
) -> tuple[BankResult, ...]:
    """Answer every bank of a job whose run it still holds, in the order of the file.

    ``others`` are the runs that a bank may name besides its own; by default those of the job.
    """
    runs = {run.name: run for run in job.runs}
    return tuple(
        evaluate_bank(b, runs[b.run], job.practice, grade, job.runs if others is None else others)
        for b in job.banks
        if b.run in runs
    )


def evaluate_bank(
    bank: Bank, run: Run, practice: Practice, grade: Grade, runs: Sequence[Run] = ()
) -> BankResult:
    """Answer one bank; GeometryError where the route has no path.

    ``runs`` are those of the job: the ducts are answered for those of them that the bank names.
    """
    center = route_path(run.route)
    starts, outer = frames(center), widest_duct(run)
    space = room(center, starts)
    short = shortages(space, bank, outer)
    ducts = _ducts(bank, run, practice, center, starts, short)
    named = dict.fromkeys((*bank.runs, *(d.run for d in bank.ducts)))
    named.pop(run.name, None)
    shape, parts = section(bank, outer), parts_of(bank, run, center, starts, grade)
    return BankResult(
        bank=bank,
        run=run,
        center=center,
        starts=starts,
        ducts=ducts,
        bends=_bends(run, center, ducts),
        findings=worst_first(check_bank(bank, run, practice, center, starts, grade)),
        section=shape,
        stretches=stretches(bank, run, center, grade),
        concrete=volume_of(bank, run, center, parts),
        earth=least_earth(bank, run, center, starts, grade),
        others=tuple(
            _other(name, bank, run, runs, practice, center, starts, short) for name in named
        ),
        no_room=no_room(
            short[0],
            space,
            center,
            bank,
            outer,
            run.route,
            least_radius(run, practice, _conduit(run, center, short[0].segment)),
        )
        if short
        else None,
        grade=grade,
        below=buried(bank, run, center, starts, grade),
        partly=_partly(bank, run, center, starts, grade),
        outside=stretches_outside(center, grade),
    )


# --- the ducts -----------------------------------------------------------------------------------


def _ducts(
    bank: Bank,
    run: Run,
    practice: Practice,
    center: Path,
    starts: Floats,
    short: tuple[Shortage, ...],
) -> tuple[DuctResult, ...]:
    offsets = duct_offsets(bank)
    blocked: dict[int, list[Finding]] = {}
    for one in short:
        least = least_radius(run, practice, _conduit(run, center, one.segment))
        blocked.setdefault(one.duct, []).append(_no_path(run, center, one, least))
    free = [k for k in range(len(offsets)) if k not in blocked]
    paths = dict(zip(free, offset_paths(center, offsets[free], starts), strict=True))
    ducts = []
    for k, ((row, column), (x, y)) in enumerate(
        zip(duct_places(bank), offsets.tolist(), strict=True)
    ):
        path = paths.get(k)
        result = None if path is None else _answer(run, row, column, practice, path)
        ducts.append(DuctResult(row, column, (x, y), result, tuple(blocked.get(k, ()))))
    return tuple(ducts)


def _other(
    name: str,
    bank: Bank,
    run: Run,
    runs: Sequence[Run],
    practice: Practice,
    center: Path,
    starts: Floats,
    short: tuple[Shortage, ...],
) -> OtherRun:
    """Another run in every duct: its cables and equipment on the route of the bank."""
    for other in runs:
        if other.name == name:
            along = replace(other, route=run.route, ends=run.ends, splices=run.splices)
            return OtherRun(name, _ducts(bank, along, practice, center, starts, short))
    return OtherRun(name, ())


def _conduit(run: Run, center: Path, segment: int) -> Conduit:
    return run.route.conduits[int(center.leg[segment])]


def _no_path(run: Run, center: Path, short: Shortage, least: float) -> Finding:
    """One place where a duct has no path, as a stop; ``least`` m is what its radius must be."""
    segment, need = short.segment, max(short.need, least) if short.arc else short.need
    lacks = need - short.left
    if short.arc:
        number = int(np.count_nonzero(center.kind[: segment + 1] == ARC))
        rule, where = _NO_RADIUS, run.route.bend_label(number, int(center.vertex[segment]))
        radius = float(center.radii[segment])
        fix = say(
            "increase the centerline radius to at least {} (by {}), or reduce the duct spacing",
            (radius + lacks, "radius+"),
            (lacks, "radius+"),
        )
    else:
        rule, where = _NO_STRAIGHT, turn_name(center, segment, run.route)
        fix = say("make the adjacent straight {} longer", (lacks, "radius+"))
    return Finding(
        rule,
        "stop",
        where,
        short.left,
        need,
        "radius",
        fix,
        "geometry; minimum radius of cable and conduit" if short.arc else "geometry",
        float(center.stations[segment]),
        math.inf,
    )


def _answer(run: Run, row: int, column: int, practice: Practice, path: Path) -> RunResult:
    """One duct, answered on its own line."""
    named = replace(run, name=f"{run.name} row {row} column {column}")
    return evaluate_run(named, practice, path=path)


# --- the bends -----------------------------------------------------------------------------------


def _bends(run: Run, center: Path, ducts: tuple[DuctResult, ...]) -> tuple[InnerBend, ...]:
    """The bends that a duct is judged in: none where no duct has a path past its trouble."""
    bends = (
        _bend(run, center, int(segment), number, ducts)
        for number, segment in enumerate(np.flatnonzero(center.kind == ARC), start=1)
    )
    return tuple(bend for bend in bends if bend is not None)


def _bend(
    run: Run, center: Path, segment: int, number: int, ducts: tuple[DuctResult, ...]
) -> InnerBend | None:
    vertex, radius = int(center.vertex[segment]), float(center.radii[segment])
    where = run.route.bend_label(number, vertex)
    found = [(f, d) for d in ducts for f in _at_bend(d, where)]
    if not found:
        return None
    # The verdict is of the worst duct; where nothing is wrong the innermost one is shown.
    worst, duct = min(
        found,
        key=lambda pair: (SEVERITIES.index(pair[0].severity), -pair[0].ratio, pair[0].demand),
    )
    own = {id(d): (f.demand if d.result is None else bend_radius(d, number)) for f, d in found}
    needed, rule = max((_needed(run, radius, own[id(d)], f), f.rule) for f, d in found)
    return InnerBend(
        number=number,
        at=run.route.label(vertex),
        segment=segment,
        radius=radius,
        inner=own[id(duct)],
        row=duct.row,
        column=duct.column,
        finding=worst,
        needed=needed,
        estimated=rule == _SIDEWALL and needed > 0,
    )


def bend_radius(duct: DuctResult, number: int) -> float:
    """The radius of a duct in a bend, m; a duct has the bends of the centerline.

    ValueError where it has no path.
    """
    if duct.result is None:
        raise ValueError(f"the duct in {duct.label} has no path")
    radii = duct.result.path.radii[duct.result.path.kind == ARC]
    return float(radii[number - 1])


def _at_bend(duct: DuctResult, where: str) -> list[Finding]:
    return [f for f in duct.checked if f.rule in BEND_RULES and f.where == where]


def _needed(run: Run, center: float, own: float, finding: Finding) -> float:
    """The centerline radius with which a rule is kept in a duct; that it has where it is kept."""
    if finding.severity != "stop":
        return 0.0
    if finding.rule == _SIDEWALL:  # pressure goes with 1/R, tension hardly changes
        return center - own + own * finding.demand / sidewall_limit(run).value
    return center + finding.limit - finding.demand
