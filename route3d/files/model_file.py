"""The model file: TOML text to a Job, or every problem it has, each at its line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from route3d.errors import InputError
from route3d.files.fields import brief
from route3d.files.parts import build_cable, build_conduit, build_machine, build_rope
from route3d.files.problems import Collector
from route3d.files.reading import MEGABYTE, read_text
from route3d.files.references import check_references
from route3d.files.routes import build_route
from route3d.files.schema import (
    BankEntry,
    CableEntry,
    ConduitEntry,
    MachineEntry,
    ModelEntry,
    PracticeEntry,
    RopeEntry,
    RunEntry,
    SiteEntry,
)
from route3d.files.toml_positions import KeyPath, read_toml
from route3d.model import (
    Bank,
    Cable,
    CableSet,
    Conduit,
    Job,
    Machine,
    Practice,
    Rope,
    Route,
    Run,
    Site,
)
from route3d.units import SYSTEMS, show

LARGEST_FILE = 5 * MEGABYTE
MOST_VERTICES = 20_000
# Settling more cables takes minutes, and no conduit of this trade holds more.
MOST_CABLES = 40
MESH_SUFFIXES = (".glb", ".stl", ".obj", ".ply")


def load(path: str | Path) -> Job:
    """Read a model file.

    Raises InputError with every problem found, each with file, line, column, key path and fix.
    """
    text = read_text(path, limit=LARGEST_FILE)
    return _read(text, str(path), Path(path).parent, Path(path))


def loads(text: str, name: str = "model", folder: str | Path = ".") -> Job:
    """Read the text of a model file; ``name`` is used in messages, ``folder`` to find meshes.

    Raises InputError as ``load`` does.
    """
    return _read(text, name, Path(folder), None)


def _read(text: str, name: str, folder: Path, path: Path | None) -> Job:
    report = Collector(read_toml(text, name), name)
    _refuse_too_many_vertices(report)
    parts = _read_parts(report)
    check_references(report)
    job = _build(parts, report, Path(name).stem, folder, path)
    if report.problems or job is None:
        raise InputError(report.in_order())
    return job


def _refuse_too_many_vertices(report: Collector) -> None:
    """Before anything slow is done with them."""
    runs = report.document.data.get("run")
    routes = [r.get("route") for r in runs if isinstance(r, dict)] if isinstance(runs, list) else []
    count = sum(len(route) for route in routes if isinstance(route, list))
    if count > MOST_VERTICES:
        report.add(
            ("run",),
            f"the file is huge: {count} points of routes, the limit is {MOST_VERTICES}",
            "thin out the points, or split the job",
        )
        raise InputError(report.problems)


# --- the parts that could be read --------------------------------------------------------------


@dataclass(slots=True)
class _Parts:
    """What of a file is well formed; lists keep their index in the file as the key."""

    system: str
    title: str = ""
    cable: Mapping[str, CableEntry] = field(default_factory=dict)
    conduit: Mapping[str, ConduitEntry] = field(default_factory=dict)
    rope: Mapping[str, RopeEntry] = field(default_factory=dict)
    machine: Mapping[str, MachineEntry] = field(default_factory=dict)
    run: Mapping[int, RunEntry] = field(default_factory=dict)
    bank: Mapping[int, BankEntry] = field(default_factory=dict)
    site: SiteEntry = field(default_factory=lambda: SiteEntry())
    practice: PracticeEntry = field(default_factory=lambda: PracticeEntry())


def _read_parts(report: Collector) -> _Parts:
    """The whole file where it is well formed, else whatever part of it is."""
    data = report.document.data
    units = data.get("units")
    system = units if isinstance(units, str) and units in SYSTEMS else "SI"
    try:
        model = ModelEntry.model_validate(data, context={"system": system})
    except ValidationError as error:
        report.add_all(error, ModelEntry)
        # Without units no number means anything, and checks of them would only mislead.
        return _salvage(data, system) if units in SYSTEMS else _Parts(system)
    return _Parts(
        system,
        model.title,
        model.cable,
        model.conduit,
        model.rope,
        model.machine,
        dict(enumerate(model.run)),
        dict(enumerate(model.bank)),
        model.site,
        model.practice,
    )


def _salvage(data: dict[str, Any], system: str) -> _Parts:
    def table(kind: type[_E], key: str) -> dict[str, _E]:
        raw = data.get(key)
        return _good(kind, raw.items(), system) if isinstance(raw, dict) else {}

    def entries(kind: type[_E], key: str) -> dict[int, _E]:
        raw = data.get(key)
        return _good(kind, enumerate(raw), system) if isinstance(raw, list) else {}

    return _Parts(
        system,
        cable=table(CableEntry, "cable"),
        conduit=table(ConduitEntry, "conduit"),
        rope=table(RopeEntry, "rope"),
        machine=table(MachineEntry, "machine"),
        run=entries(RunEntry, "run"),
        bank=entries(BankEntry, "bank"),
        site=_good(SiteEntry, [("site", data.get("site", {}))], system).get("site", SiteEntry()),
    )


_E = TypeVar("_E", bound=BaseModel)


def _good(kind: type[_E], raw: Any, system: str) -> dict[Any, _E]:
    """Those of ``(key, plain table)`` that are well formed by themselves."""
    found = {}
    for key, value in raw:
        try:
            found[key] = kind.model_validate(value, context={"system": system})
        except ValidationError:  # reported already, with the whole file
            continue
    return found


# --- the job -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Stock:
    """The cables, conduits, ropes and machines that runs may name."""

    cables: Mapping[str, Cable]
    conduits: Mapping[str, Conduit]
    ropes: Mapping[str, Rope]
    machines: Mapping[str, Machine]


def _build(
    parts: _Parts, report: Collector, stem: str, folder: Path, path: Path | None
) -> Job | None:
    """The Job, or None where anything of it is missing."""
    system = parts.system
    conduits = {k: build_conduit(k, e, report, system) for k, e in parts.conduit.items()}
    stock = _Stock(
        cables={k: build_cable(k, e, report, system) for k, e in parts.cable.items()},
        conduits={k: c for k, c in conduits.items() if c is not None},
        ropes={k: build_rope(k, e, report, system) for k, e in parts.rope.items()},
        machines={k: build_machine(k, e) for k, e in parts.machine.items()},
    )
    runs = [_build_run(i, entry, stock, report, system) for i, entry in parts.run.items()]
    whole = tuple(run for run in runs if run is not None)
    banks = tuple(_build_bank(i, e, whole, report, system) for i, e in parts.bank.items())
    site = Site(tuple(_mesh(i, m, folder, report) for i, m in enumerate(parts.site.context)))
    if report.problems:
        return None
    practice = Practice(**{f.name: getattr(parts.practice, f.name) for f in fields(Practice)})
    return Job(parts.title or stem, system, whole, banks, site, practice, path)


def _build_run(
    index: int, entry: RunEntry, stock: _Stock, report: Collector, system: str
) -> Run | None:
    base: KeyPath = ("run", index)
    cables = _cable_set(entry, stock, base, report)
    route = build_route(entry.route, stock.conduits, (*base, "route"), report, system)
    if cables is None or route is None:
        return None
    rope = stock.ropes.get(entry.rope or "")
    _check_fit(entry, cables, route, base, report)
    _check_rope(rope, route, base, report, system)
    return Run(
        name=entry.name,
        cables=cables,
        route=route,
        attach=entry.attach,
        arrangement=entry.arrangement,
        reel_tension=entry.reel_tension,
        rope=rope,
        machine=stock.machines.get(entry.machine or ""),
    )


def _cable_set(entry: RunEntry, stock: _Stock, base: KeyPath, report: Collector) -> CableSet | None:
    """The cables of a run; None where one of them could not be read."""
    total = sum(entry.cables.values())
    if total > MOST_CABLES:
        report.add((*base, "cables"), f"{total} cables are beyond the limit of {MOST_CABLES}")
        return None
    if any(name not in stock.cables for name in entry.cables):
        return None
    return CableSet(tuple((stock.cables[name], n) for name, n in entry.cables.items()))


def _check_fit(
    entry: RunEntry, cables: CableSet, route: Route, base: KeyPath, report: Collector
) -> None:
    from route3d.mechanics.arrangement import FitError
    from route3d.mechanics.fit import fit

    for conduit in dict.fromkeys(route.conduits):
        try:
            fit(cables.diameters, conduit.inner_diameter, entry.arrangement)
        except FitError as error:
            problem = error.problems[0]
            message = f"{cables.describe()} in conduit {conduit.name!r}: {problem.message}"
            report.add((*base, "cables"), message, problem.fix)


def _check_rope(
    rope: Rope | None, route: Route, base: KeyPath, report: Collector, system: str
) -> None:
    for conduit in dict.fromkeys(route.conduits):
        if rope is not None and rope.diameter >= conduit.inner_diameter:
            report.add(
                (*base, "rope"),
                f"rope {rope.name!r} of {show(rope.diameter, 'diameter', system)} does not go into "
                f"conduit {conduit.name!r} of {show(conduit.inner_diameter, 'diameter', system)}",
                "check the rope's diameter and its unit",
            )


def _build_bank(
    index: int, entry: BankEntry, runs: tuple[Run, ...], report: Collector, system: str
) -> Bank:
    for run in runs:
        if run.name == entry.run:
            _check_spacing(index, entry, run, report, system)
    return Bank(entry.run, entry.rows, entry.columns, entry.spacing, entry.cover)


def _check_spacing(index: int, entry: BankEntry, run: Run, report: Collector, system: str) -> None:
    widest = max(run.route.conduits, key=lambda c: c.outer_diameter)
    for i, spacing in enumerate(entry.spacing):
        if spacing < widest.outer_diameter:
            report.add(
                ("bank", index, "spacing", i),
                f"{show(spacing, 'diameter', system)} is less than the outer diameter of conduit "
                f"{widest.name!r}, {show(widest.outer_diameter, 'diameter', system)}",
                "spacing is from centre to centre",
            )


def _mesh(index: int, text: str, folder: Path, report: Collector) -> Path:
    """The absolute path of a building mesh."""
    place: KeyPath = ("site", "context", index)
    mesh = folder / text
    if mesh.suffix.lower() not in MESH_SUFFIXES:
        report.add(
            place, f"{brief(text)} is no mesh file", f"known kinds: {', '.join(MESH_SUFFIXES)}"
        )
        return mesh
    try:
        mesh = mesh.resolve()
        found = mesh.is_file()
    except (OSError, RuntimeError):  # a name too long, links in a circle
        found = False
    if not found:
        report.add(
            place, f"there is no file {brief(text)}", "the path is relative to the model file"
        )
    return mesh
