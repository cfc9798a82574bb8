"""A Job from the well-formed tables of a model file."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from route3d.geometry.tangent_plane import names_plane, plane_of
from route3d.model import (
    Allowances,
    AssignedDuct,
    Bank,
    CableReel,
    CableSet,
    EndSetup,
    Frame,
    GivenGrade,
    Job,
    Practice,
    Rope,
    Route,
    Run,
    Site,
    Surround,
)
from route3d.model.allowances import GAUGE_STEPS
from route3d.model.origin import Revision, TitleBlock
from route3d.model.site import BUILDING, OWN_KINDS, AskedClearance, Level
from route3d.modelfile.build_parts import build_cable, build_conduit, build_rope
from route3d.modelfile.build_route import build_legs, build_route
from route3d.modelfile.build_spread import build_spread
from route3d.modelfile.build_tackle import (
    build_anchors,
    build_lead_off,
    build_machine,
    build_reel,
    build_rigging,
    build_room,
    build_sheave,
)
from route3d.modelfile.entries import BankEntry, RunEntry
from route3d.modelfile.example_marks import example_tables
from route3d.modelfile.fields import brief, duct_and_run, nearest
from route3d.modelfile.job_entries import (
    DocumentEntry,
    GradeEntry,
    PlanEntry,
    PracticeEntry,
    SiteEntry,
    SpreadEntry,
)
from route3d.modelfile.origins import origins_of
from route3d.modelfile.problems import Collector
from route3d.modelfile.tackle_entries import CableReelEntry
from route3d.modelfile.toml_positions import KeyPath
from route3d.units import render

# Settling more cables takes minutes, and no conduit of this trade holds more.
MOST_CABLES = 40
MESH_SUFFIXES = (".glb", ".stl", ".obj", ".ply", ".ifc")
WITHOUT_UNITS = (".stl", ".obj", ".ply")
GRADE_SUFFIXES = (".glb", ".stl", ".obj", ".ply", ".xml", ".landxml")


@dataclass(slots=True)
class Parts:
    """What of a file is well formed.

    ``named`` holds the tables of each kind by name; runs and banks keep their index in the file
    as the key.
    """

    title: str = ""
    named: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    run: Mapping[int, RunEntry] = field(default_factory=dict)
    bank: Mapping[int, BankEntry] = field(default_factory=dict)
    site: SiteEntry = field(default_factory=lambda: SiteEntry())
    practice: PracticeEntry = field(default_factory=lambda: PracticeEntry())
    plan: PlanEntry = field(default_factory=lambda: PlanEntry())
    cable_reel: Sequence[CableReelEntry] = ()
    document: DocumentEntry = field(default_factory=lambda: DocumentEntry())
    spread: SpreadEntry = field(default_factory=lambda: SpreadEntry())


# What runs may name, by kind and name: cables, conduits, ropes, machines and the rest.
_Stock = dict[str, dict[str, Any]]


def build_job(
    parts: Parts, report: Collector, stem: str, folder: Path, path: Path | None
) -> Job | None:
    """The Job, or None where anything of it is missing."""
    practice = _build_practice(parts.practice, report)
    if practice is None:
        return None
    stock = _build_stock(parts, report, practice, folder)
    north = math.degrees(parts.site.declination + parts.site.north)
    runs = [_build_run(i, entry, stock, north, report) for i, entry in parts.run.items()]
    whole = tuple(run for run in runs if run is not None)
    banks = tuple(_build_bank(i, e, whole, report) for i, e in parts.bank.items())
    site = _build_site(parts.site, folder, report)
    spread = build_spread(parts.spread, whole, stock["conduit"], stock["cable"], report)
    if report.problems:
        return None
    usual = {"gauge_step": GAUGE_STEPS[report.system]}
    allowances = Allowances(**usual | parts.plan.model_dump(exclude_none=True))
    machines = tuple(stock["machine"].values())
    job = Job(
        parts.title or stem,
        report.system,
        whole,
        banks,
        site,
        practice,
        allowances,
        path,
        machines,
        document=_title_block(parts.document),
        examples=example_tables(report.document.data),
        origins=origins_of(
            report.document.data,
            parts.named,
            stock,
            parts.run,
            parts.practice,
            parts.plan,
            report.system,
            parts.site,
            parts.bank,
        ),
    )
    reels = tuple(CableReel(r.cable, r.length, r.count, r.name) for r in parts.cable_reel)
    return replace(job, cable_reels=reels, spread=spread)


def _title_block(entry: DocumentEntry) -> TitleBlock:
    """The title block; revision and date are by default those of the last revision."""
    revisions = tuple(Revision(**line.model_dump()) for line in entry.revisions)
    last = revisions[-1] if revisions else Revision("")
    given = entry.model_dump(exclude={"revisions"})
    given["revision"] = given["revision"] or last.mark
    given["date"] = given["date"] or last.date
    return TitleBlock(**given, revisions=revisions)


def _build_practice(entry: PracticeEntry, report: Collector) -> Practice | None:
    """The conventions and the rules; None where the edition is not known."""
    from route3d.standards.rules import rule_set, usual
    from route3d.standards.tables import NotInTable

    given = entry.model_dump()
    rules, edition = given.pop("rules") or usual(report.system), given.pop("edition") or ""
    try:
        rule_set(rules, edition)
    except NotInTable as error:
        report.add(("practice", "edition"), str(error), "omit it to use the first of them")
        return None
    return Practice(**given, rules=rules, edition=edition, rules_assumed=entry.rules is None)


def _build_stock(parts: Parts, report: Collector, practice: Practice, folder: Path) -> _Stock:
    named = parts.named

    def each(kind: str, build: Any) -> dict[str, Any]:
        built = {k: build(k, e, report) for k, e in named.get(kind, {}).items()}
        return {k: b for k, b in built.items() if b is not None}

    cables = each("cable", build_cable)
    jackets = tuple(dict.fromkeys(c.jacket for c in cables.values() if c.jacket))
    conduit = partial(build_conduit, rules=practice.rule_set, jackets=jackets, folder=folder)
    return {
        "cable": cables,
        "conduit": each("conduit", conduit),
        "rope": each("rope", build_rope),
        "machine": each("machine", build_machine),
        "sheave": each("sheave", build_sheave),
        "rigging": each("rigging", build_rigging),
        "reel": each("reel", build_reel),
        "anchor": build_anchors(named.get("anchor", {}), report),
    }


def _build_run(
    index: int, entry: RunEntry, stock: _Stock, declination: float, report: Collector
) -> Run | None:
    base: KeyPath = ("run", index)
    cables = _cable_set(entry, stock, base, report)
    conduits, sheaves = stock["conduit"], stock["sheave"]
    if entry.legs is not None:
        route = build_legs(entry, conduits, sheaves, declination, base, report)
    elif entry.route is not None:
        route = build_route(entry.route, conduits, sheaves, (*base, "route"), report)
    else:  # reported already, by route3d.modelfile.references
        return None
    if cables is None or route is None:
        return None
    rope = stock["rope"].get(entry.rope or "")
    _check_fit(entry, cables, route, base, report)
    _check_rope(rope, route, base, report)
    return Run(
        name=entry.name,
        cables=cables,
        route=route,
        attach=entry.attach,
        arrangement=entry.arrangement,
        reel_tension=entry.reel_tension,
        rope=rope,
        machine=stock["machine"].get(entry.machine or ""),
        anchor=stock["anchor"].get(entry.anchor or ""),
        rigging=stock["rigging"].get(entry.rigging or ""),
        reel=stock["reel"].get(entry.reel or ""),
        lead_off=build_lead_off(entry.lead_off, stock["sheave"]),
        splices=_splices(entry, route, base, report),
        ends=_ends(entry, route, stock, base, report),
    )


def _ends(
    entry: RunEntry, route: Route, stock: _Stock, base: KeyPath, report: Collector
) -> tuple[EndSetup, ...]:
    """What differs at single ends and pull points."""
    last = len(route.vertices) - 1
    names = (route.vertices[i].name for i in (0, *route.pull_points, last))
    points = [name for name in names if name]  # without a name nothing can be given for it
    for name in entry.ends:
        if name not in points:
            report.add(
                (*base, "ends", name),
                f"run {brief(entry.name)} has no end or pull point named {brief(name)}",
                nearest(name, points) or "name the point: name = ...",
                at_key=True,
            )
    return tuple(
        EndSetup(
            name=name,
            machine=stock["machine"].get(end.machine or ""),
            anchor=stock["anchor"].get(end.anchor or ""),
            rigging=stock["rigging"].get(end.rigging or ""),
            lead_off=None
            if end.lead_off is None
            else build_lead_off(end.lead_off, stock["sheave"]),
            reel=stock["reel"].get(end.reel or ""),
        )
        for name, end in entry.ends.items()
    )


def _splices(entry: RunEntry, route: Route, base: KeyPath, report: Collector) -> frozenset[int]:
    """Vertex numbers of the pull points where a splice is allowed."""
    points = {route.label(i): i for i in route.pull_points}
    for i, name in enumerate(entry.can_splice):
        if name not in points:
            near = nearest(name, points) or "this run has no pull point between its ends"
            report.add(
                (*base, "can_splice", i), f"there is no pull point {brief(name)} in the run", near
            )
    return frozenset(points[name] for name in entry.can_splice if name in points)


def _cable_set(entry: RunEntry, stock: _Stock, base: KeyPath, report: Collector) -> CableSet | None:
    """The cables of a run; None where one of them could not be read."""
    total = sum(entry.cables.values())
    if total > MOST_CABLES:
        report.add((*base, "cables"), f"{total} cables: the maximum is {MOST_CABLES}")
        return None
    if any(name not in stock["cable"] for name in entry.cables):
        return None
    cables = CableSet(tuple((stock["cable"][name], n) for name, n in entry.cables.items()))
    if not cables.mains:
        report.add(
            (*base, "cables"),
            "every cable of the run has main = false: no cable carries the pull",
            "remove main, or set main = true for the cables that carry the pull",
        )
        return None
    return cables


def _check_fit(
    entry: RunEntry, cables: CableSet, route: Route, base: KeyPath, report: Collector
) -> None:
    from route3d.mechanics.arrangement import FitError
    from route3d.mechanics.fit import fit

    for conduit in dict.fromkeys(route.conduits):
        try:
            fit(
                cables.main_diameters,
                conduit.inner_diameter,
                entry.arrangement,
                riders=cables.rider_diameters,
            )
        except FitError as error:
            said = render(error.said, report.system)
            message = f"{cables.describe()} in conduit {conduit.name!r}: {said}"
            blamed = "cables" if entry.arrangement == "auto" else "arrangement"
            report.add((*base, blamed), message, render(error.cure, report.system))


def _check_rope(rope: Rope | None, route: Route, base: KeyPath, report: Collector) -> None:
    for conduit in dict.fromkeys(route.conduits):
        if rope is not None and rope.diameter >= conduit.inner_diameter:
            report.add(
                (*base, "rope"),
                f"rope {rope.name!r} ({report.show(rope.diameter, 'diameter')}) does not fit "
                f"in conduit {conduit.name!r} "
                f"({report.show(conduit.inner_diameter, 'diameter')})",
                "check the rope's diameter and its unit",
            )


def _build_bank(index: int, entry: BankEntry, runs: tuple[Run, ...], report: Collector) -> Bank:
    for run in runs:
        if run.name == entry.run:
            _check_spacing(index, entry, run, report)
    return Bank(
        entry.run,
        entry.rows,
        entry.columns,
        entry.spacing,
        entry.cover,
        _ducts(index, entry, report),
        tuple(dict.fromkeys(entry.runs)),
        entry.spacer_interval,
        entry.trench_side,
        entry.trench_slope,
        entry.bedding,
    )


def _ducts(index: int, entry: BankEntry, report: Collector) -> tuple[AssignedDuct, ...]:
    """The ducts that have a run, each with one."""
    found: dict[tuple[int, int], str] = {}
    for i, text in enumerate(entry.ducts):
        row, column, name = duct_and_run(text)
        place = ("bank", index, "ducts", i)
        if row > entry.rows or column > entry.columns:
            said = f"duct {row}-{column} is not in a bank of {entry.rows} by {entry.columns}"
            report.add(place, said, "rows count from the top, columns from the left, from 1")
        elif (row, column) in found:
            said = f"duct {row}-{column} already has run {brief(found[row, column])}"
            report.add(place, said, "name another duct")
        found.setdefault((row, column), name)
    return tuple(AssignedDuct(row, column, name) for (row, column), name in found.items())


def _check_spacing(index: int, entry: BankEntry, run: Run, report: Collector) -> None:
    widest = max(run.route.conduits, key=lambda c: c.outer_diameter)
    for i, spacing in enumerate(entry.spacing):
        if spacing < widest.outer_diameter:
            report.add(
                ("bank", index, "spacing", i),
                f"{report.show(spacing, 'diameter')} is less than the outer diameter of conduit "
                f"{widest.name!r}, {report.show(widest.outer_diameter, 'diameter')}",
                "spacing is from center to center",
            )


def _build_site(entry: SiteEntry, folder: Path, report: Collector) -> Site:
    for i, mesh in enumerate(entry.context):
        _check_units(("site", "context", i), mesh.file, mesh.units, report)
    if names_plane(entry.crs or "") and plane_of(entry.crs or "") is None:
        said = f"{brief(entry.crs)} has no longitude and latitude"
        fix = 'write degrees east and north: "WGS 84 tangent plane at -122.34, 47.6"'
        report.add(("site", "crs"), said, fix)
    return Site(
        context=tuple(
            _file(("site", "context", i), m.file, MESH_SUFFIXES, "mesh", folder, report)
            for i, m in enumerate(entry.context)
        ),
        rooms=tuple(build_room(i, e, report) for i, e in enumerate(entry.room)),
        surrounds=_surrounds(entry, report),
        between_runs=entry.clearance_between_runs,
        support_room=entry.support_room,
        free_ends=entry.clearance_free_ends,
        placings=tuple(mesh.placing() for mesh in entry.context),
        frame=Frame(entry.origin, entry.crs or "", entry.north),
        grade=_build_grade(entry.grade, folder, report),
        clearances=_build_clearances(entry, report),
        levels=_build_levels(entry, report),
    )


def _build_clearances(entry: SiteEntry, report: Collector) -> tuple[AskedClearance, ...]:
    """Clearances between kinds, each pair once and of kinds that there are."""
    classes = {mesh.kind for mesh in entry.context if mesh.kind is not None}
    known = (*OWN_KINDS, *sorted(classes), BUILDING)
    before: dict[frozenset[str], int] = {}
    for i, asked in enumerate(entry.clearance):
        place: KeyPath = ("site", "clearance", i, "between")
        for k, kind in enumerate(asked.between):
            if kind not in known:
                said = f"{brief(kind)} is not a kind of thing here"
                report.add((*place, k), said, nearest(kind, known) or "known: " + ", ".join(known))
        if all(kind in known[len(OWN_KINDS) :] for kind in asked.between):
            report.add(place, "are both meshes", f"name one of: {', '.join(OWN_KINDS)}")
        pair = frozenset(asked.between)
        if pair in before:
            said = f"{' and '.join(asked.between)} are given in entry {before[pair] + 1} already"
            report.add(place, said, "give each pair once")
        before.setdefault(pair, i)
    for i, mesh in enumerate(entry.context):
        if entry.clearance and mesh.kind in OWN_KINDS:
            said = f"class {brief(mesh.kind)} is also a kind of thing in site.clearance"
            report.add(("site", "context", i, "class"), said, "give the mesh another class")
    return tuple(AskedClearance(e.between, e.least, e.severity) for e in entry.clearance)


def _build_levels(entry: SiteEntry, report: Collector) -> tuple[Level, ...]:
    """Storeys from the lowest up."""
    names: dict[str, int] = {}
    floors: dict[float, int] = {}
    for i, level in enumerate(entry.level):
        if level.name in names:
            said = f"{brief(level.name)} is the name of another storey"
            report.add(("site", "level", i, "name"), said, "give each storey its own name")
        if level.floor in floors:
            said = "is the floor of another storey"
            report.add(("site", "level", i, "floor"), said, "give each storey its own floor")
        names[level.name] = floors[level.floor] = i
    levels = (Level(level.name, level.floor) for level in entry.level)
    return tuple(sorted(levels, key=lambda level: level.floor))


def _build_grade(entry: GradeEntry | None, folder: Path, report: Collector) -> GivenGrade:
    if entry is None:
        return GivenGrade()
    place: KeyPath = ("site", "grade")
    file = None
    if entry.file is not None:
        file = _file(place, entry.file, GRADE_SUFFIXES, "surface", folder, report)
        _check_units(place, entry.file, entry.units, report)
    if entry.points:
        plan = np.array(entry.points)[:, :2]
        if np.linalg.matrix_rank(plan - plan[0], tol=1e-6) < 2:
            report.add((*place, "points"), "lie on one line", "add points beside it")
    return GivenGrade(
        entry.level or 0.0,
        tuple(entry.points),
        file,
        entry.surface or "",
        entry.placing(),
        given=True,
    )


def _check_units(place: KeyPath, file: str, units: str | None, report: Collector) -> None:
    """A format without a unit of length needs one: a guess would scale the whole site."""
    kind = Path(file).suffix.lower()
    if units is None and kind in WITHOUT_UNITS:
        said = f"{brief(file)} has no unit of length ({kind[1:]} files name none)"
        fix = 'give it: { file = "...", units = "mm" }, or m, cm, ft, us-ft or in'
        report.add(place, said, fix)


def _surrounds(entry: SiteEntry, report: Collector) -> tuple[Surround, ...]:
    """The class and the clearance of each mesh; one clearance for all of a class."""
    first: dict[str, int] = {}
    for i, mesh in enumerate(entry.context):
        if mesh.kind is None or mesh.clearance is None:
            continue
        given = entry.context[first.setdefault(mesh.kind, i)].clearance
        if given is not None and mesh.clearance != given:
            asked, before = (report.show(c, "diameter") for c in (mesh.clearance, given))
            said = f"class {brief(mesh.kind)} has clearance {asked} here and {before} earlier"
            fix = "give each class one clearance, or give this mesh its own class"
            report.add(("site", "context", i, "clearance"), said, fix)
    found = []
    for i, mesh in enumerate(entry.context):
        clearance = mesh.clearance
        if clearance is None and mesh.kind in first:
            clearance = entry.context[first[mesh.kind]].clearance
        if clearance is None and mesh.kind is not None:
            said = f"class {brief(mesh.kind)} has no clearance"
            fix = 'add clearance = "..." to one mesh of the class; 0 for no required clearance'
            report.add(("site", "context", i, "class"), said, fix)
        found.append(Surround(mesh.kind or "", clearance or 0.0, mesh.solid))
    return tuple(found)


def _file(
    place: KeyPath,
    text: str,
    known: tuple[str, ...],
    what: str,
    folder: Path,
    report: Collector,
) -> Path:
    """The absolute path of a file around the route."""
    file = folder / text
    if file.suffix.lower() not in known:
        report.add(place, f"{brief(text)} is not a {what} file", f"known kinds: {', '.join(known)}")
        return file
    try:
        file = file.resolve()
        found = file.is_file()
    except (OSError, RuntimeError):  # a name too long, links in a circle
        found = False
    if not found:
        report.add(
            place, f"there is no file {brief(text)}", "the path is relative to the model file"
        )
    return file
