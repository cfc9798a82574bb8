"""``route3d convert``: routes from survey and drawing files into models, and out of models."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import Units, message, option, refuse_job_workbook, units_named, write
from route3d.errors import InputError, Problem, UnitError

if TYPE_CHECKING:
    from route3d.formats.exchange import ExchangeRoute, ImportedRoutes, ReadOptions
    from route3d.model.job import Job

_COLUMNS = ("x", "y", "z", "radius", "name", "run", "access", "conduit", "box")


class Length(StrEnum):
    """The units of length a file may be in."""

    M = "m"
    FT = "ft"
    MM = "mm"
    IN = "in"
    CM = "cm"
    YD = "yd"
    KM = "km"
    US_FT = "us-ft"


def convert(
    source: Annotated[Path, typer.Argument(metavar="IN", help="File to read.", show_default=False)],
    target: Annotated[
        Path, typer.Argument(metavar="OUT", help="File to write.", show_default=False)
    ],
    units: Annotated[
        Length | None,
        option(
            "UNIT",
            "Unit of length of IN, if the file does not give it: m, ft, us-ft, in, yd, mm, "
            "cm or km.",
            case_sensitive=False,
        ),
    ] = None,
    columns: Annotated[
        str | None,
        option(
            "x=Easting,...",
            "Column headers of x, y, z, radius, name, run, access, conduit, box.",
            flag="--map",
        ),
    ] = None,
    origin: Annotated[
        str | None, option("X,Y,Z", "Subtract this from all coordinates, in the units of IN.")
    ] = None,
    layer: Annotated[
        list[str] | None, option("NAME", "Only this layer, sheet or alignment of IN. Repeatable.")
    ] = None,
    run: Annotated[
        list[str] | None, option("NAME", "Only the run of this name. Repeatable.")
    ] = None,
    like: Annotated[
        Path | None,
        option(
            "MODEL",
            "Model file that supplies cables, conduits and the rest to OUT.toml. Default: IN, "
            "if it is one.",
        ),
    ] = None,
    bend: Annotated[
        str | None,
        option("RADIUS", 'Bend radius for turns without one, with its unit: "48 in", "1.2 m".'),
    ] = None,
    tolerance: Annotated[
        str | None,
        option(
            "LENGTH",
            'Maximum distance of an arc from its points, such as "5 mm"; also the maximum '
            "gap at which lines are joined.",
        ),
    ] = None,
    keep_facets: Annotated[
        bool, typer.Option("--keep-facets", help="Keep bends of short chords as they are.")
    ] = False,
    workbook: Annotated[
        bool,
        typer.Option(
            "--workbook",
            help="Write OUT.xlsx as a job workbook (the whole job), not as a table of routes.",
        ),
    ] = False,
    out_units: Annotated[
        Units | None,
        option("US|SI", "Units of the numbers in OUT. Default: those of IN.", parser=units_named),
    ] = None,
) -> None:
    """Import and export routes and whole jobs.

    Reads CSV, XLSX, GeoJSON, LandXML, DXF, IFC and model files; writes CSV, XLSX, GeoJSON, DXF,
    IFC, GLB, STL and model files (.toml); the file extension selects the format. A bend drawn as
    many short chords becomes an arc again. A report lists what was used, ignored and assumed: read
    it before you rely on the route.

    A table has one row per point: columns x, y, z with a unit in the header, such as "Easting (m)",
    and optionally the bend radius at the point, the name of the run, the conduit from there on and
    the pull box. Cells separated by semicolons or tabs may have decimal commas; --map names the
    columns in any language.

    Example: route3d convert survey.csv feeder.toml --map z=Level --like models/yard_run.toml

    Example: route3d convert survey.csv feeder.toml --map x=Easting,y=Northing,z=Elev --units ft

    A job workbook holds a whole job, one sheet for each kind of table: it is read as the model file
    it is, and job.xlsx to job.toml or back with --workbook keeps the job as it is.

    Example: route3d convert models/yard_run.toml yard.dxf

    Example: route3d convert models/yard_run.toml yard.xlsx --workbook
    """
    from route3d.formats.catalog import (
        READABLE,
        SHARP,
        WRITABLE,
        left_behind,
        not_held,
        read_routes,
        write_routes,
    )

    _refuse_kind(source, READABLE, "read")
    _refuse_kind(target, WRITABLE, "written")
    if workbook and ".xlsx" not in (source.suffix.lower(), target.suffix.lower()):
        raise InputError(Problem("is for .xlsx files", "--workbook", "write to OUT.xlsx"))
    to_model = target.suffix.lower() == ".toml" or (workbook and target.suffix.lower() == ".xlsx")
    if like is not None and not to_model:
        raise InputError(Problem("is for writing model files", "--like", "write to OUT.toml"))
    if target.suffix.lower() == ".xlsx":
        refuse_job_workbook(target)
    if workbook and source.suffix.lower() == ".xlsx":
        _model(source)  # says why it is no job
    if to_model and _is_model(source) and source.suffix.lower() != target.suffix.lower():
        chosen = {"--run": run, "--like": like, "--bend": bend, "--origin": origin}
        if not any(chosen.values()):
            _whole_job(source, target, out_units)
            return
    options = _options(units, columns, origin, layer, tolerance, keep_facets)
    reading = _only(read_routes(source, options), run, source)
    if bend is not None:
        reading = _with_bends(reading, _length(bend, "--bend", "radius"))
    routes, guessed, ignored = reading.routes, reading.guessed, reading.ignored
    if to_model:
        from route3d.modelfile.write import write_model

        like = source if like is None and _is_model(source) else like
        system = _system_of_model(like, out_units) if like else _system(reading, out_units)
        title = "" if like is not None else f"Routes of {source.name}"
        note = f"{reading.moved} from all coordinates of {source.name}" if reading.moved else ""
        made = write_model(routes, target, like=like, system=system, title=title, note=note)
        elbows = "take the standard elbow of their conduit; --bend gives them another"
        guessed = tuple(g.replace(SHARP, elbows) for g in guessed)
        guessed, ignored = (*guessed, *made.guessed), (*ignored, *made.ignored)
        routes = made.routes
    else:
        model = _model(source) if _is_model(source) else None
        system = model.units if model and not out_units else _system(reading, out_units)
        write_routes(routes, target, system)
        ignored = (*ignored, *not_held(routes, target), *(left_behind(model) if model else ()))
    write(_report(routes, reading.used, ignored, guessed, system))
    message(f"wrote {target}")


# --- options -----------------------------------------------------------------------------------


def _refuse_kind(path: Path, known: Sequence[str], done: str) -> None:
    if path.suffix.lower() not in known:
        said = f"{str(path)!r} has an ending that is not {done}"
        raise InputError(Problem(said, fix=f"known are {', '.join(known)}"))


def _options(
    units: Length | None,
    columns: str | None,
    origin: str | None,
    layers: list[str] | None,
    tolerance: str | None,
    keep_facets: bool,
) -> ReadOptions:
    from route3d.formats.exchange import ReadOptions

    options = ReadOptions(
        units=units.value if units else None,
        layers=tuple(layers or ()),
        columns=_columns(columns) if columns else {},
        origin=_origin(origin) if origin else (0.0, 0.0, 0.0),
        near=not origin,
        recognize=not keep_facets,
    )
    if tolerance is None:
        return options
    length = _length(tolerance, "--tolerance", "length")
    return replace(options, tolerance=length, arc_tolerance=length)


def _columns(text: str) -> dict[str, str]:
    """``x=Easting,y=Northing`` as a mapping; InputError for anything else."""
    found = {}
    for part in text.split(","):
        kind, equals, header = (p.strip() for p in part.partition("="))
        if kind not in _COLUMNS or not equals or not header:
            fix = f"write KIND=HEADER, KIND one of {', '.join(_COLUMNS)}"
            raise InputError(Problem(f"{part!r} maps no column", where="--map", fix=fix))
        if kind in found:
            raise InputError(Problem(f"{kind} is mapped twice", where="--map", fix="keep one"))
        found[kind] = header
    return found


def _origin(text: str) -> tuple[float, float, float]:
    import math

    try:
        x, y, z = (float(p) for p in text.split(","))
    except ValueError:
        x = y = z = math.nan
    if not all(map(math.isfinite, (x, y, z))):
        fix = "write three numbers, such as 512000,4651000,0"
        raise InputError(Problem(f"{text!r} is no origin", where="--origin", fix=fix))
    return x, y, z


def _length(text: str, option: str, quantity: str) -> float:
    from route3d.units import parse

    try:
        value = parse(text, quantity, "SI")
    except UnitError as error:
        raise InputError(Problem(str(error), where=option)) from None
    if not 0 < value <= 1000:
        raise InputError(Problem(f"{text!r} is not a valid length", option, "enter one above 0"))
    return value


def _is_model(path: Path) -> bool:
    from route3d.formats.catalog import is_model

    return is_model(path)


def _whole_job(source: Path, target: Path, out_units: Units | None) -> None:
    """A job from TOML to a workbook or back, which must be read as the same job."""
    from route3d.formats.exchange import counted, routes_of
    from route3d.modelfile.whole_job import write_job

    system = _system_of_model(source, out_units)
    job = _model(source)
    ignored = write_job(source, target)
    used = (f"the whole job, {counted(len(job.runs), 'run')}", *job.notes)
    write(_report(routes_of(job), used, ignored, (), system))
    message(f"wrote {target}")


def _model(path: Path) -> Job:
    from route3d.modelfile.read import load

    return load(path)


def _system(reading: ImportedRoutes, asked: Units | None) -> str:
    """The system of OUT: that asked for, else the one IN has its lengths in; SI for degrees."""
    from route3d.formats.exchange import unit_name

    if asked:
        return asked.value
    return "US" if unit_name(reading.meters) in ("ft", "in", "yd", "us-ft") else "SI"


def _system_of_model(like: Path, asked: Units | None) -> str:
    """That of the model which OUT is like; InputError where another is asked for."""
    system = _model(like).units
    if asked and asked.value != system:
        said = f"{asked.value} requested, but OUT has the units of {like}: {system}"
        raise InputError(
            Problem(said, "--out-units", "omit --out-units; any number may carry its unit")
        )
    return system


# --- what is done to the routes ------------------------------------------------------------------


def _only(reading: ImportedRoutes, names: list[str] | None, source: Path) -> ImportedRoutes:
    if not names:
        return reading
    from route3d.modelfile.fields import nearest

    known = [r.name for r in reading.routes]
    for name in names:
        if name not in known:
            said = f"no run is named {name!r}"
            raise InputError(Problem(said, "--run", nearest(name, known), str(source)))
    left = [n for n in known if n not in names]
    ignored = (*reading.ignored, *(f"run {n!r}, not asked for" for n in left[:25]))
    return replace(
        reading, routes=tuple(r for r in reading.routes if r.name in names), ignored=ignored
    )


def _with_bends(reading: ImportedRoutes, radius: float) -> ImportedRoutes:
    """Turns without a radius given one."""
    from route3d.formats.catalog import SHARP, refuse_no_path, sharp_corners

    routes = []
    for route in reading.routes:
        radii = route.radii.copy()
        radii[sharp_corners(route)] = radius
        routes.append(replace(route, radii=radii))
        refuse_no_path(routes[-1], Path("--bend"))
    guessed = tuple(g for g in reading.guessed if not g.endswith(SHARP))
    return replace(reading, routes=tuple(routes), guessed=guessed)


# --- the report --------------------------------------------------------------------------------


def _report(
    routes: Sequence[ExchangeRoute],
    used: Sequence[str],
    ignored: Sequence[str],
    guessed: Sequence[str],
    system: str,
) -> str:
    from route3d.units import show

    lines = []
    for route in routes:
        path = route.path()
        bends = int((path.radii[path.kind == 1] > 0).sum())
        said = f"{len(route.points):,} points, {bends} bend{'' if bends == 1 else 's'}"
        lines.append(f"{route.name}: {show(path.length, 'length', system)}, {said}")
    for title, sentences in (("used", used), ("ignored", ignored), ("guessed", guessed)):
        lines.append(f"{title}:" + ("" if sentences else " nothing"))
        lines += [f"  {s}" for s in sentences]
    return "".join(_one_line(line) + "\n" for line in lines)


def _one_line(text: str) -> str:
    """Names in files may hold anything: control characters would run on the terminal."""
    return "".join(c if c.isprintable() else "?" for c in text)
