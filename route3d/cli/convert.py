"""``route3d convert``: routes from survey and drawing files into models, and out of models."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    exit_code,
    message,
    option,
    refuse_job_workbook,
    refuse_suffix,
    save,
    write,
)
from route3d.errors import InputError, Problem, UnitError
from route3d.model.examples import example_banner
from route3d.model.site import GRID, Frame

if TYPE_CHECKING:
    from route3d.formats.exchange import Element, ExchangeRoute, ImportedRoutes, ReadOptions
    from route3d.model.job import Job
    from route3d.modelfile.revise import RevisedRun

_COLUMNS = ("x", "y", "z", "radius", "name", "run", "access", "conduit", "box")


class OutUnits(StrEnum):
    """What the numbers of OUT may be in."""

    US = "US"
    SI = "SI"
    US_FT = "us-ft"

    @property
    def system(self) -> str:
        """The system that goes with it."""
        return "SI" if self is OutUnits.SI else "US"


def out_units_named(text: str) -> OutUnits:
    """The units of that name, in capitals or not."""
    for unit in OutUnits:
        if unit.value.casefold() == text.strip().casefold():
            return unit
    raise typer.BadParameter(f"{text!r} is not known; use US (ft), SI (m) or us-ft")


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
        Path | None,
        typer.Argument(
            metavar="[OUT]", help="File to write; none with --into.", show_default=False
        ),
    ] = None,
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
            "Column headers, or numbers in a file without header, of x, y, z, radius, name, run, "
            "access, conduit, box. In GeoJSON, properties: name=PROPERTY, conduit=PROPERTY.",
            flag="--map",
        ),
    ] = None,
    order: Annotated[
        str | None,
        option(
            "PNEZD",
            "Columns of a file without header, a letter each: P point number (not read), N "
            "northing, E easting, Z elevation, D description (the name of the point), X and Y for "
            "E and N. Common: PNEZD, PENZD, NEZ, ENZ, XYZ.",
        ),
    ] = None,
    origin: Annotated[
        str | None,
        option(
            "X,Y,Z",
            "Subtract this from all coordinates, in the units of IN, and keep it as the origin of "
            "the site. Default: the origin of the job (--like, --into); 0,0,0 where the "
            "coordinates are the model's already.",
        ),
    ] = None,
    layer: Annotated[
        list[str] | None,
        option(
            "NAME", "Only this layer, sheet, system, alignment or pipe network of IN. Repeatable."
        ),
    ] = None,
    classes: Annotated[
        list[str] | None,
        option(
            "NAME",
            "Only elements of this entity or predefined type of an IFC model, such as "
            "IfcPipeSegment or CONDUITSEGMENT, with the fittings on them. Repeatable.",
            flag="--class",
        ),
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
    into: Annotated[
        Path | None,
        option(
            "MODEL.toml",
            "Update the runs of the same names in this model file, instead of writing OUT; a copy "
            "of the old file is kept as MODEL.toml.bak.",
        ),
    ] = None,
    preview: Annotated[
        bool, typer.Option("--preview", help="With --into: show what would change; write nothing.")
    ] = False,
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
    all_layers: Annotated[
        bool,
        typer.Option(
            "--all-layers",
            help="Read the layers of a drawing that are off or frozen too, and what is invisible.",
        ),
    ] = False,
    elements: Annotated[
        Path | None,
        option(
            "FILE.csv",
            "Write all elements that are missing, broken, sharp or guessed, with their places.",
        ),
    ] = None,
    workbook: Annotated[
        bool,
        typer.Option(
            "--workbook",
            help="Write OUT.xlsx as a job workbook (the whole job), not as a table of routes.",
        ),
    ] = False,
    out_units: Annotated[
        OutUnits | None,
        option(
            "US|SI|us-ft",
            "Units of the numbers in OUT: US has ft, SI has m, us-ft is the US survey foot. "
            "Default: those of IN. A model file is in US or SI.",
            parser=out_units_named,
        ),
    ] = None,
) -> None:
    """Import and export routes and whole jobs.

    Reads CSV, TXT, XLSX, GeoJSON, LandXML, DXF, IFC and model files; writes CSV, XLSX, GeoJSON,
    LandXML, DXF, IFC, GLB, STL and model files (.toml); the file extension selects the format. A
    bend drawn as many short chords becomes an arc again. A report lists what was used, ignored and
    assumed: read it before you rely on the route.

    Elements that are missing, broken, sharp or guessed are listed one by one. What can be written
    is written; exit code 1 if a run is in parts or a corner has no radius.

    A table has one row per point: columns x, y, z with a unit in the header, such as "Easting (m)",
    and optionally the bend radius at the point, the name of the run, the conduit from there on and
    the pull box. Cells separated by semicolons or tabs may have decimal commas; --map names the
    columns in any language.

    Example: route3d convert survey.csv feeder.toml --map z=Level --like models/yard_run.toml

    Example: route3d convert survey.csv feeder.toml --map x=Easting,y=Northing,z=Elev --units ft

    Example: route3d convert points.txt feeder.toml --order PNEZD --units us-ft

    --into updates the routes of a model file and shows what moved; everything else in it stays.

    Example: route3d convert as_built.csv --into feeder.toml --preview

    A job workbook holds a whole job, one sheet for each kind of table. It is read as a model file;
    job.xlsx to job.toml, and back with --workbook, gives the same job.

    Example: route3d convert models/yard_run.toml yard.dxf

    Example: route3d convert models/yard_run.toml yard.xlsx --workbook
    """
    from route3d.formats.catalog import (
        FAR_NOTE,
        READABLE,
        SHARP,
        WRITABLE,
        frame_said,
        left_behind,
        levels_of,
        not_held,
        read_routes,
        write_routes,
        written_said,
    )
    from route3d.formats.sound_routes import with_implied_radii
    from route3d.units import system_of, unit_label

    _refuse_kind(source, READABLE, "read")
    if target is not None:
        _refuse_kind(target, WRITABLE, "written")
    if preview and into is None:
        raise InputError(Problem("is for --into", "--preview", "add --into MODEL.toml"))
    mapped = _columns(columns) if columns else _ordered(order) if order else {}
    if columns and order:
        raise InputError(Problem("is given beside --map", "--order", "omit one of them"))
    beside = into or like
    job = None if beside is None else _model(beside)
    frame = GRID if job is None else job.site.frame
    options = _options(units, mapped, origin, layer, tolerance, keep_facets, frame)
    options = replace(options, all_layers=all_layers, classes=tuple(classes or ()))
    refuse_suffix("--elements", elements, ".csv")
    if into is not None and job is not None:
        if target is not None or like is not None or workbook:
            said = "is given beside OUT, --like or --workbook"
            raise InputError(Problem(said, "--into", "omit the others"))
        _into(source, into, job, options, run, bend, out_units, preview, elements)
        return
    if target is None:
        raise InputError(Problem("no file to write", "OUT", "name it, or use --into MODEL.toml"))
    if workbook and ".xlsx" not in (source.suffix.lower(), target.suffix.lower()):
        raise InputError(Problem("is for .xlsx files", "--workbook", "write to OUT.xlsx"))
    to_model = target.suffix.lower() == ".toml" or (workbook and target.suffix.lower() == ".xlsx")
    if like is not None and not to_model:
        raise InputError(Problem("is for writing model files", "--like", "write to OUT.toml"))
    if target.suffix.lower() == ".xlsx":
        refuse_job_workbook(target)
    if workbook and target.suffix.lower() != ".xlsx":
        _model(source)  # says why it is no job
    if to_model and _is_model(source) and source.suffix.lower() != target.suffix.lower():
        chosen = {"--run": run, "--like": like, "--bend": bend, "--origin": origin}
        if not any(chosen.values()):
            _whole_job(source, target, out_units)
            return
    reading = _only(read_routes(source, options), run, source)
    if bend is not None:
        reading = _with_bends(reading, _length(bend, "--bend", "radius"))
    routes, used, told = reading.routes, reading.used, reading.elements
    guessed, ignored = reading.guessed, reading.ignored
    if to_model:
        from route3d.modelfile.write import write_model

        if like is None and _is_model(source):
            like, job = source, _model(source)
        system = _system_of_model(job, like, out_units) if job else _system(reading, out_units)
        unit = unit_label("length", system)
        title = "" if like is not None else f"Routes of {source.name}"
        note = f"{reading.moved} from all coordinates of {source.name}" if reading.moved else ""
        made = write_model(
            [with_implied_radii(route) for route in routes],
            target,
            like=like,
            system=system,
            title=title,
            note=note,
            frame=Frame(reading.origin, reading.crs),
        )
        elbows = "take the standard elbow of their conduit; --bend gives them another"
        guessed = tuple(g.replace(SHARP, elbows) for g in guessed)
        if reading.moved:
            command = f"route3d convert FILE OUT.toml --like {shlex.quote(str(target))}"
            said = f"; for the other files of this site: {command}"
            guessed = tuple(g + said if g.startswith(FAR_NOTE) else g for g in guessed)
        guessed, ignored = (*guessed, *made.guessed), (*ignored, *made.ignored)
        told = (*map(_with_elbow, told), *made.elements)
        told = _told_once(told)
        routes, banner = made.routes, example_banner(made.examples)
    else:
        model = _model(source) if _is_model(source) else None
        banner = example_banner(model.examples) if model else ""
        north = model.site.frame.north if model else 0.0
        held = reading.origin if any(reading.origin) else None
        site = Frame(held, reading.crs, north)
        unit = _unit_of_out(reading, model, target, site, out_units)
        system = system_of(unit)
        levels, floors = (levels_of(model), model.site.floors) if model else (None, None)
        write_routes(routes, target, unit, site, levels, floors)
        guessed = tuple(g for g in guessed if not g.startswith(FAR_NOTE))
        used = (*reading.used, *frame_said(target, site))
        used = (*used, *written_said(routes, target, unit, site))
        ignored = (*ignored, *not_held(routes, target), *(left_behind(model) if model else ()))
    write(_report(routes, used, ignored, guessed, system, banner))
    message(f"wrote {target}")
    _end(told, unit, elements)


# --- options -----------------------------------------------------------------------------------


def _refuse_kind(path: Path, known: Sequence[str], done: str) -> None:
    if path.suffix.lower() not in known:
        said = f"{str(path)!r} has an ending that is not {done}"
        raise InputError(Problem(said, fix=f"known are {', '.join(known)}"))


def _options(
    units: Length | None,
    columns: dict[str, str],
    origin: str | None,
    layers: list[str] | None,
    tolerance: str | None,
    keep_facets: bool,
    frame: Frame,
) -> ReadOptions:
    from route3d.formats.exchange import ReadOptions
    from route3d.geometry.tangent_plane import plane_of

    known = frame.origin is not None and not origin

    options = ReadOptions(
        units=units.value if units else None,
        layers=tuple(layers or ()),
        columns=columns,
        origin=_origin(origin) if origin else (0.0, 0.0, 0.0),
        shift=frame.shift if known else (0.0, 0.0, 0.0),
        crs="" if origin and not plane_of(frame.crs) else frame.crs,
        near=not origin and not known,
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


_LETTERS = {"P": "", "N": "y", "E": "x", "Z": "z", "D": "name", "X": "x", "Y": "y"}


def _ordered(text: str) -> dict[str, str]:
    """``PNEZD`` as numbers of columns; InputError for anything else."""
    letters = text.strip().upper()
    kinds = [_LETTERS.get(letter) for letter in letters]
    given = [kind for kind in kinds if kind]
    if None in kinds or len(set(given)) < len(given) or not {"x", "y", "z"} <= set(given):
        fix = "use P, N, E, Z, D (or X, Y) once each, such as PNEZD, PENZD, ENZ or XYZ"
        raise InputError(Problem(f"{text!r} is no order of columns", "--order", fix))
    return {kind: str(number) for number, kind in enumerate(kinds, 1) if kind}


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


def _whole_job(source: Path, target: Path, out_units: OutUnits | None) -> None:
    """A job from TOML to a workbook or back, which must be read as the same job."""
    from route3d.formats.exchange import counted, routes_of
    from route3d.model.examples import example_banner
    from route3d.modelfile.whole_job import write_job

    job = _model(source)
    system = _system_of_model(job, source, out_units)
    ignored = write_job(source, target)
    used = (f"the whole job, {counted(len(job.runs), 'run')}", *job.notes)
    write(_report(routes_of(job), used, ignored, (), system, example_banner(job.examples)))
    message(f"wrote {target}")


def _model(path: Path) -> Job:
    from route3d.modelfile.read import load

    return load(path)


def _into(
    source: Path,
    model: Path,
    job: Job,
    options: ReadOptions,
    names: list[str] | None,
    bend: str | None,
    units: OutUnits | None,
    preview: bool,
    elements: Path | None,
) -> None:
    """Bring the routes of a model file up to those of another file, and show what moved."""
    from route3d.disk import write_bytes_atomic, write_text_atomic
    from route3d.formats.catalog import SCATTER, SHARP, read_routes
    from route3d.formats.exchange import counted
    from route3d.modelfile.read import model_text
    from route3d.modelfile.revise import revised
    from route3d.units import unit_label

    if model.suffix.lower() != ".toml":
        fix = f"convert it first: route3d convert {model} {model.with_suffix('.toml')}"
        raise InputError(Problem("updates .toml model files only", "--into", fix, str(model)))
    text = model_text(model)
    reading = _named_in(read_routes(source, options), names, job, source, model)
    if reading.moved:
        said = f"its coordinates are far from 0 and those of {model.name} are not"
        fix = f"give {model.name} the origin of its site: [site] origin = [X, Y, Z]"
        raise InputError(Problem(said, "--origin", fix, str(source)))
    radius = None if bend is None else _length(bend, "--bend", "radius")
    made, runs = revised(text, job, reading.routes, model, bend=radius)
    system = units.system if units else job.units
    told = [g for g in reading.guessed if not g.endswith(SHARP)]  # points that stay keep theirs
    write("".join(_one_line(line) + "\n" for run in runs for line in _revision(run, system)))
    notes = sum(len(route.notes) for route in reading.routes)
    left = [f"{counted(notes, 'note')}: the comments of the model stay"] if notes else []
    lines = [("used", reading.used), ("ignored", (*reading.ignored, *left)), ("guessed", told)]
    for title, sentences in lines:
        write(f"{title}:" + ("" if sentences else " nothing") + "\n")
        write("".join(f"  {_one_line(s)}\n" for s in sentences))
    doubts = [f"{run.name} {run.doubt}" for run in runs if run.doubt]
    for doubt in doubts:
        write(_one_line(f"caution: {doubt}: wrong grid, origin or units?") + "\n")
    # corners keep what they have
    lost = [e for e in reading.elements if e.state != "sharp" or e.kind == SCATTER]
    if preview:
        message(f"{model} not changed (--preview)")
        _end(lost, unit_label("length", system), elements)
        return
    if doubts:
        fix = "correct --units, or bring the file to the grid of the model with --origin X,Y,Z"
        problems = [Problem(f"not updated: {d}", "--into", fix, str(source)) for d in doubts]
        raise InputError(problems)
    if made == text:
        message(f"{model} needs no change")
        _end(lost, unit_label("length", system), elements)
        return
    backup = model.with_name(model.name + ".bak")
    write_bytes_atomic(backup, model.read_bytes())
    write_text_atomic(model, made, over_model=True)
    message(f"wrote {model}; the old file is {backup}")
    _end(lost, unit_label("length", system), elements)


def _named_in(
    reading: ImportedRoutes, names: list[str] | None, job: Job, source: Path, model: Path
) -> ImportedRoutes:
    """The routes asked for; a single one of another name is the run asked for with --run.

    Where its file names no run, it is the only run of the model without that.
    """
    from route3d.formats.catalog import renamed

    known, read = [run.name for run in job.runs], [route.name for route in reading.routes]
    strange = len(read) == 1 and read[0] not in known
    if strange and reading.named and not names:
        said = f"the run {read[0]!r} of the file is not in {model.name}: {', '.join(known)}"
        fix = f"check that this is the right file; --run {shlex.quote(known[0])} takes it for that"
        raise InputError(Problem(said, "--into", f"{fix} run", str(source)))
    wanted = names or (known if strange and len(known) == 1 else [])
    if strange and len(wanted) == 1 and wanted[0] in known:
        said = f"the route {read[0]!r} taken for run {wanted[0]!r}"
        said += "" if names else ", the only one of the model"
        routes = (replace(reading.routes[0], name=wanted[0]),)
        guessed = tuple(g.replace(f"{read[0]}:", f"{wanted[0]}:") for g in reading.guessed)
        return replace(renamed(reading, routes), guessed=(*guessed, said))
    return _only(reading, names, source)


_MOST_CHANGES = 40


def _revision(run: RevisedRun, system: str) -> list[str]:
    """What changes in one run: a line for each point that moved, came or went."""
    from route3d.units import show

    count = {w: sum(c.what == w for c in run.changes) for w in ("moved", "added", "removed")}
    said = ", ".join(f"{n:,} {what}" for what, n in count.items())
    lengths = f"{show(run.old_length, 'length', system)} to {show(run.length, 'length', system)}"
    lines = [f"{run.name}: {lengths}; points: {said}, {run.unmoved:,} unmoved"]
    for change in run.changes[:_MOST_CHANGES]:
        line = f"  {change.label}: {change.what}"
        if change.what == "moved":
            parts = [
                f"{axis} {d:+.3f}"
                for axis, d in zip("xyz", _in(change.shift, system), strict=True)
                if abs(d) >= 0.0005
            ]
            distance = show(change.distance, "length", system, decimals=3)
            line += f" {distance}" + (f" ({', '.join(parts)})" if parts else "")
        lines.append(line + (f" (it had {change.held})" if change.held else ""))
    if left := len(run.changes) - _MOST_CHANGES:
        lines += [f"  and {left:,} more points"] if left > 0 else []
    return [*lines, *(f"  note: {note}" for note in run.notes)]


def _in(shift: Sequence[float], system: str) -> list[float]:
    from route3d.units import convert as converted

    return [converted(d, "length", system) for d in shift]


def _system(reading: ImportedRoutes, asked: OutUnits | None) -> str:
    """The system of a model file OUT: that asked for, else that of IN; SI for degrees."""
    from route3d.formats.exchange import unit_name
    from route3d.units import system_of

    if asked is OutUnits.US_FT:
        said = "us-ft requested for a model file, whose numbers are in US (ft) or SI (m)"
        fix = "use --out-units US; --out-units us-ft is for the files written of the model"
        raise InputError(Problem(said, "--out-units", fix))
    if asked:
        return asked.value
    return system_of(unit_name(reading.meters) or "m")


def _unit_of_out(
    reading: ImportedRoutes,
    model: Job | None,
    target: Path,
    site: Frame,
    asked: OutUnits | None,
) -> str:
    """The unit of the coordinates of OUT: that asked for, else that of IN; m for degrees.

    Raises InputError where GeoJSON would have another unit than the grid that IN names.
    """
    from route3d.formats.exchange import unit_name
    from route3d.units import system_of, unit_label

    own = unit_name(reading.meters)
    if model is not None:
        given = unit_label("length", model.units)
    elif own == "us-ft":
        given = own
    else:
        given = unit_label("length", system_of(own or "m"))
    if asked is None:
        return given
    unit = "us-ft" if asked is OutUnits.US_FT else unit_label("length", asked.system)
    if target.suffix.lower() == ".geojson" and model is None and own and site.crs:
        from route3d.formats.geojson import grid_unit

        if grid_unit(site, unit) != grid_unit(site, given):
            said = f"{asked} requested, but {site.crs} is in {given} in IN, and OUT is on that grid"
            raise InputError(Problem(said, "--out-units", "omit --out-units"))
    return unit


def _system_of_model(job: Job, like: Path | None, asked: OutUnits | None) -> str:
    """That of the job which OUT is like; InputError where another is asked for."""
    system = job.units
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
        reading,
        routes=tuple(r for r in reading.routes if r.name in names),
        ignored=ignored,
        elements=tuple(e for e in reading.elements if e.run in ("", *names)),
    )


def _with_bends(reading: ImportedRoutes, radius: float) -> ImportedRoutes:
    """Turns without a radius given one; where it does not fit they stay sharp."""
    from route3d.formats.catalog import SCATTER, SHARP, with_corners_told
    from route3d.formats.sound_routes import sharp_corners, with_fitting_bends

    noise = [e for e in reading.elements if e.kind == SCATTER]
    routes, told = [], [*noise, *(e for e in reading.elements if e.state != "sharp")]
    for route in reading.routes:
        radii, open_ = route.radii.copy(), sharp_corners(route)
        radii[open_] = radius
        made, lost = with_fitting_bends(replace(route, radii=radii), open_)
        routes.append(made)
        told += lost
    guessed = tuple(g for g in reading.guessed if not g.endswith(SHARP))
    made_of = replace(reading, routes=tuple(routes), guessed=guessed, elements=tuple(told))
    return with_corners_told(made_of)


def _with_elbow(element: Element) -> Element:
    """A corner without a radius as a model file has it."""
    from route3d.formats.catalog import SCATTER
    from route3d.formats.sound_routes import TURNS

    if element.state != "sharp" or element.kind == SCATTER:
        return element

    said = "takes the standard elbow of its conduit"
    if not element.said.startswith(TURNS):  # the radius given does not fit
        return replace(element, said=f"{element.said}; {said}")
    turn = element.said.removeprefix(TURNS).strip(" ()")
    return replace(element, state="guessed", said=f"turns {turn}; {said}" if turn else said)


def _told_once(elements: Sequence[Element]) -> tuple[Element, ...]:
    """Elements without those of places that a later one tells more of."""
    from route3d.formats.sound_routes import whole_name

    held: dict[object, Element] = {}
    for number, one in enumerate(elements):
        corner = (whole_name(one.run), one.name, one.at)
        before = held.get(corner)
        if before is not None and one.kind == "corner":
            held[corner] = replace(one, handle=before.handle, kind=before.kind)
        else:
            held[number if before is not None else corner] = one
    return tuple(held.values())


# --- the report --------------------------------------------------------------------------------


def _report(
    routes: Sequence[ExchangeRoute],
    used: Sequence[str],
    ignored: Sequence[str],
    guessed: Sequence[str],
    system: str,
    banner: str,
) -> str:
    from route3d.units import show

    lines = [banner] if banner else []
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


# --- element by element --------------------------------------------------------------------------

_MOST_ELEMENTS = 40
_STATES = ("broken", "sharp", "missing", "guessed")  # the worst first


def _end(elements: Sequence[Element], unit: str, file: Path | None) -> None:
    """Print the elements, all of them into ``file``; exit code 1 where a run is not whole."""
    ordered = sorted(elements, key=lambda e: _STATES.index(e.state))
    if file is not None:
        save(file, _element_cells(ordered, unit))
    if not ordered:
        return
    counts = [(sum(e.state == state for e in ordered), state) for state in _STATES]
    write("elements: " + ", ".join(f"{n:,} {state}" for n, state in counts if n) + "\n")
    rows = [_element_row(element, unit) for element in ordered[:_MOST_ELEMENTS]]
    head = ("state", "handle", "kind", "name", "run", f"place ({unit})", "reason")
    widths = [max(map(len, column)) for column in zip(head, *rows, strict=True)]
    for row in (head, *rows):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        write("  " + "  ".join(cells).rstrip() + "\n")
    if left := len(ordered) - _MOST_ELEMENTS:
        more = "" if file is not None else "; --elements FILE.csv writes all"
        write(f"  and {left:,} more{more}\n" if left > 0 else "")
    if any(e.state in ("broken", "sharp") for e in ordered):
        raise exit_code(True)


def _in_unit(place: Sequence[float], unit: str) -> list[float]:
    from route3d.units import METERS

    return [c / METERS[unit] for c in place]


def _element_row(element: Element, unit: str) -> tuple[str, ...]:
    place = "" if element.at is None else ", ".join(f"{c:.3f}" for c in _in_unit(element.at, unit))
    cells = (element.state, element.handle, element.kind, element.name, element.run, place)
    return (*(_one_line(cell) for cell in cells), _one_line(element.said))


def _element_cells(elements: Sequence[Element], unit: str) -> str:
    """The elements as CSV, a row each."""
    import csv
    import io

    from route3d.spreadsheet import harmless

    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    place = [f"{axis} ({unit})" for axis in "xyz"]
    rows.writerow(["state", "handle", "kind", "name", "run", *place, "reason"])
    for e in elements:
        at = ["", "", ""] if e.at is None else [f"{c:.4f}" for c in _in_unit(e.at, unit)]
        words = [harmless(_one_line(text)) for text in (e.state, e.handle, e.kind, e.name, e.run)]
        rows.writerow([*words, *at, harmless(_one_line(e.said))])
    return out.getvalue()
