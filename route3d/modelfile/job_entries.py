"""The tables of the model file for the site, the conventions and the plan."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable
from typing import Annotated, Any

from pydantic import (
    BeforeValidator,
    Field,
    GetJsonSchemaHandler,
    StrictBool,
    model_validator,
)
from pydantic_core import CoreSchema

from route3d.model.allowances import Allowances
from route3d.model.practice import CHOICES, Practice
from route3d.model.site import Placing, Site
from route3d.model.spread import INPUTS, SHAPES
from route3d.modelfile.fields import (
    Angle,
    Coordinate,
    Entry,
    Force,
    JsonSchema,
    LeastDuration,
    LeastSpan,
    Name,
    OneOf,
    Reads,
    ReadsPlain,
    RemedyMargin,
    RestartFactor,
    Rules,
    Share,
    Sidewall,
    Span,
    Temperature,
    Text,
    brief,
    key,
    refuse,
)
from route3d.units import FARTHEST, METERS, SYSTEMS, show

Clear = Annotated[float, Reads("diameter", least=0, most=100.0)]
Declination = Annotated[float, Reads("angle", least=-math.pi, most=math.pi)]
FreeEnd = Annotated[float, Reads("length", least=0, most=100.0)]
GridCoordinate = Annotated[
    float, Reads("length", least=-FARTHEST, most=FARTHEST, outside="no grid of the Earth is so far")
]
LengthUnit = Annotated[str, OneOf(lambda: METERS)]
UpAxis = Annotated[str, OneOf(lambda: ("y", "z"))]


class RoomEntry(Entry):
    """A room the machine may stand in, on the plan grid."""

    name: Name = key("Name of the room, for reports.")
    outline: list[tuple[Coordinate, Coordinate]] = key(
        "Corners [x, y] of its floor (US ft, SI m).", min_length=3, max_length=500
    )
    floor: Coordinate = key("Floor elevation z (US ft, SI m).")
    ceiling: Coordinate | None = key(
        "Ceiling elevation z (US ft, SI m). Default: open above.", None
    )
    obstacles: list[Annotated[list[tuple[Coordinate, Coordinate]], Field(min_length=3)]] = key(
        "Corners of each obstacle, floor to ceiling.", [], max_length=500
    )


class PlacedEntry(Entry):
    """A file whose coordinates must be brought to those of the model."""

    units: LengthUnit | None = key(
        "Unit of length of the file: m, mm, cm, km, ft, us-ft, in or yd. Needed for stl, obj and "
        "ply, which have none. Default: what the file says.",
        None,
    )
    offset: tuple[GridCoordinate, GridCoordinate, GridCoordinate] = key(
        "[x, y, z] added to its coordinates (US ft, SI m).", (0.0, 0.0, 0.0)
    )
    up: UpAxis | None = key(
        "Which axis of the file is up: y or z. Default: y for glb, z for the others.", None
    )
    on_grid: StrictBool = key(
        "true: its coordinates are those of the grid, and the origin of the site is subtracted.",
        False,
    )

    def placing(self) -> Placing:
        """How its coordinates are meant."""
        return Placing(self.units or "", self.offset, self.up or "", self.on_grid)


class GradeEntry(PlacedEntry):
    """The ground surface: a level, points, or a surface in a file."""

    level: Coordinate | None = key("Elevation z of level ground (US ft, SI m).", None)
    points: list[tuple[Coordinate, Coordinate, Coordinate]] = key(
        "Points [x, y, z] of the ground (US ft, SI m), joined by triangles.",
        [],
        min_length=3,
        max_length=10_000,
    )
    file: Text | None = key(
        "Surface as a mesh (glb, stl, obj, ply) or LandXML (xml), relative to the model file.", None
    )
    surface: Name | None = key("Name of the surface, where a LandXML file has several.", None)

    @model_validator(mode="before")
    @classmethod
    def _shortly(cls, value: Any) -> Any:
        if isinstance(value, list | tuple):
            return {"points": value}
        if not isinstance(value, dict):
            return {"level": value}
        given = [name for name in ("level", "points", "file") if name in value]
        if len(given) != 1:
            said = f"has {' and '.join(given) or 'no level, points or file'}"
            raise refuse(said, "give one of level, points and file")
        return value


def _or_level_or_points(schema: dict[str, Any]) -> None:
    table = GradeEntry.model_json_schema()["properties"]
    level = table["level"]["anyOf"][0]
    whole = {name: schema.pop(name) for name in ("anyOf", "$ref", "allOf") if name in schema}
    points = {name: part for name, part in table["points"].items() if name != "default"}
    schema["anyOf"] = [level, points, whole]


class MeshEntry(PlacedEntry):
    """A building mesh, and the clearance a conduit keeps from it."""

    file: Text = key("The mesh (glb, stl, obj, ply) or IFC model, relative to the model file.")
    kind: Name | None = key(
        "Class of the mesh, such as hot pipe; groups it in reports.", None, alias="class"
    )
    clearance: Clear | None = key(
        "Minimum clearance from the conduit surface (US in, SI mm). Default: the "
        "value of another mesh of the class; none for a mesh without class.",
        None,
    )
    solid: StrictBool | None = key(
        "What its closed surfaces enclose: true for material (a conduit inside is a "
        "clash), false for the air of a room. Default: a conduit inside is a caution.",
        None,
    )

    @model_validator(mode="before")
    @classmethod
    def _file_alone(cls, value: Any) -> Any:
        if isinstance(value, str):
            return {"file": value}
        if not isinstance(value, dict):
            raise refuse(
                f"{brief(value)} is not a mesh", 'enter the file name, or { file = "..." }'
            )
        return value


def _or_file_alone(schema: dict[str, Any]) -> None:
    text = MeshEntry.model_json_schema()["properties"]["file"]
    plain = {name: text[name] for name in ("type", "maxLength", "pattern")}
    schema["items"] = {"anyOf": [plain, schema["items"]]}


class ClearanceEntry(Entry):
    """A clearance between two kinds of things."""

    between: tuple[Name, Name] = key(
        "The two kinds: conduit, concrete (of a bank), box (pull box), machine, vehicle, reel, or "
        "the class of a mesh (building for meshes without one). At least one is not a mesh."
    )
    least: Clear = key("Minimum clearance, surface to surface (US in, SI mm).")
    severity: Annotated[str, OneOf(lambda: ("stop", "caution"))] = key(
        "Of the finding where less is kept: stop (exit code 1) or caution. A clash is always a "
        "stop. Default: stop.",
        "stop",
    )


class LevelEntry(Entry):
    """A storey, for reports by zone."""

    name: Name = key("Name of the storey.")
    floor: Coordinate = key("Floor elevation z (US ft, SI m); it reaches up to the next floor.")


class SiteEntry(Entry):
    """The frame of the site, the grade, and what stands around the route."""

    origin: tuple[GridCoordinate, GridCoordinate, GridCoordinate] | None = key(
        "Grid coordinates [x, y, z] of the point (0, 0, 0) of this file (US ft, SI m): importers "
        "subtract it, exporters add it. Default: none; the coordinates are the grid's.",
        None,
    )
    crs: Name | None = key(
        "Name of the grid, such as EPSG:32633, for exports; of a site given in degrees the plane "
        "and its anchor (east, north): WGS 84 tangent plane at -122.34, 47.6.",
        None,
    )
    north: Declination = key(
        "Direction of north on the plan, degrees clockwise from +y; headings of legs and drawings "
        "follow it. Default: 0.",
        0.0,
    )
    grade: GradeEntry | None = key(
        "The ground: an elevation z, points [[x, y, z], ...] joined by triangles, or "
        '{ file = "grade.xml" }. Cover, grade lines, concrete and pictures follow it. Default: '
        "z = 0, reported as assumed.",
        None,
        json_schema_extra=_or_level_or_points,
    )
    context: list[MeshEntry] = key(
        "Building meshes: the file name, or a table with its clearance.",
        [],
        max_length=200,
        json_schema_extra=_or_file_alone,
    )
    clearance_between_runs: Clear = key(
        "Minimum clearance between the conduits of two runs (US in, SI mm).", Site().between_runs
    )
    support_room: Clear = key(
        "Room around a conduit for its supports, kept clear of other runs, of concrete and boxes "
        "of others, and of meshes with a class (US in, SI mm). Default: none.",
        Site().support_room,
    )
    clearance_free_ends: FreeEnd = key(
        "Length at ends and pull points where a conduit may touch what it ends at, "
        "and run beside others that end there (US ft, SI m). Default: 1 m.",
        Site().free_ends,
    )
    clearance: list[ClearanceEntry] = key(
        "Minimum clearances between kinds of things.", [], max_length=200
    )
    level: list[LevelEntry] = key("Storeys, for reports by zone.", [], max_length=100)
    declination: Declination = key(
        "What is added to every heading of the legs to have it from the north of the plan, "
        "degrees, east positive. Default: 0.",
        0.0,
    )
    room: list[RoomEntry] = key("Rooms where a machine can be set up.", [], max_length=100)


USUAL = Practice()


def _words(option: str) -> Callable[[], Iterable[str]]:
    return lambda: CHOICES[option]


def _meanings(option: str) -> str:
    return "; ".join(f"{word!r}: {meaning}" for word, meaning in CHOICES[option].items()) + "."


class PracticeEntry(Entry):
    """The rules a job is judged by, and the conventions it is worked by where practice differs."""

    rules: Rules | None = key(
        "National rules: 'NFPA 70', 'CENELEC' or 'none' (physics and makers' limits "
        "only). Default: NFPA 70 for US units, none for SI, reported as assumed. Utility work "
        "(NESC) and Canada (C22.1) are not covered.",
        None,
    )
    edition: Name | None = key(
        "Edition of the rules: NFPA 70 '2023', '2020' or '2017'; for CENELEC the "
        "national practice, 'DIN VDE', 'BS' or 'CEI'. Default: the first of each.",
        None,
    )
    laying_temperature: Temperature | None = key(
        "Cable temperature during the pull (US °F, SI °C), checked against "
        "lowest_temperature of each cable or the value for its jacket.",
        None,
    )
    rope_wear: Sidewall = key(
        "Rope load on the inside of a plastic bend above which a caution is given (US "
        "lbf/ft, SI N/m); common practice, no source.",
        USUAL.rope_wear,
    )
    weight_factor_in: Annotated[str, OneOf(_words("weight_factor_in"))] = key(
        _meanings("weight_factor_in"), USUAL.weight_factor_in
    )
    jam_ratio: Annotated[str, OneOf(_words("jam_ratio"))] = key(
        _meanings("jam_ratio"), USUAL.jam_ratio
    )
    sidewall: Annotated[str, OneOf(_words("sidewall"))] = key(_meanings("sidewall"), USUAL.sidewall)
    sidewall_radius: Annotated[
        str, OneOf(_words("sidewall_radius"), spellings=(("centreline", "centerline"),))
    ] = key(_meanings("sidewall_radius"), USUAL.sidewall_radius)
    strength_count: Annotated[str, OneOf(_words("strength_count"))] = key(
        _meanings("strength_count"), USUAL.strength_count
    )
    tension_sharing: Annotated[str, OneOf(_words("tension_sharing"))] = key(
        _meanings("tension_sharing"), USUAL.tension_sharing
    )
    bend_form: Annotated[str, OneOf(_words("bend_form"))] = key(
        _meanings("bend_form"), USUAL.bend_form
    )
    restart: RestartFactor = key(
        "Friction at a restart divided by friction while moving.", USUAL.restart
    )
    margin: RemedyMargin = key(
        f"Target of remedies: fraction of each load limit, 0.5 to 1. Default: {USUAL.margin}.",
        USUAL.margin,
    )
    may_lean: StrictBool = key(
        "true: a remedy may move a point so that a vertical leg leans or a level leg "
        "slopes. Default: false.",
        USUAL.may_lean,
    )


def _allowed(name: str, quantity: str, text: str) -> Any:
    """A field of the plan, left out by default; the description says what is taken then."""
    usual = getattr(Allowances(), name)
    both = (show(usual, quantity, system) for system in SYSTEMS)
    taken = " or ".join(dict.fromkeys(both))
    return key(f"{text}. Default: {taken}.", None)


class VariantEntry(Entry):
    """A variant of the job, for `route3d compare`."""

    name: Name = key("Name of the variant; must be unique.")
    about: Text = key("Description of the variant.", "")
    changes: dict[str, Any] = key(
        "What differs, by the keys of this file: { cable.phase.diameter = 1.4, "
        "run.F1.reel_tension = 200 }. A key replaces the whole value of that key; `run` and `bank` "
        "are addressed by the name of the run.",
        min_length=1,
    )


class PlanEntry(Entry):
    """Margins, times and lengths the pull plan allows for."""

    gear_margin: Share | None = _allowed(
        "gear_margin", "ratio", "Fraction of a gear's rated pull kept in reserve"
    )
    time_tolerance: Share | None = _allowed(
        "time_tolerance",
        "ratio",
        "Fraction of the minimum pulling time accepted for fewer gear changes",
    )
    friction_band: Share | None = _allowed(
        "friction_band",
        "ratio",
        "Fraction by which friction may exceed the plan before the gauge reads Caution",
    )
    setup_time: LeastDuration | None = _allowed(
        "setup_time", "time", "Set-up time for one pull (bare number: min)"
    )
    gear_change_time: LeastDuration | None = _allowed(
        "gear_change_time", "time", "Time for one gear change, machine stopped (bare number: min)"
    )
    lubricant_interval: Span | None = key(
        "Cable length between lubricant stops (US ft, SI m). Default: no stops.", None
    )
    lubricant_stop: LeastDuration | None = _allowed(
        "lubricant_stop", "time", "Time for one lubricant stop (bare number: min)"
    )
    figure_eight_time: LeastDuration | None = _allowed(
        "figure_eight_time",
        "time",
        "Time to lay the cable in figure eights at a pull point and set up the feed (bare "
        "number: min)",
    )
    splice_time: LeastDuration | None = _allowed(
        "splice_time", "time", "Time for one splice of the cable set (bare number: min)"
    )
    feed_slack: LeastSpan | None = _allowed(
        "feed_slack", "length", "Cable length past the conduit at the feed end, make-up included"
    )
    pull_slack: LeastSpan | None = _allowed(
        "pull_slack", "length", "Cable length past the conduit at the pulling end, make-up included"
    )
    rope_tail: LeastSpan | None = _allowed(
        "rope_tail", "length", "Rope length past the conduit end, to the machine and on it"
    )
    lead_angle: Angle | None = _allowed(
        "lead_angle", "angle", "Maximum angle of the rope from the machine's pulling line"
    )
    gauge_step: Force | None = key(
        "Force between two marks of the machine's dial: cards and sheet round to it, Stop down. "
        "Default: 50 lbf, or 200 N in SI files.",
        None,
    )


class ReadsSpreadAmount(ReadsPlain):
    """Annotation of a number of a spread: a number or text with its unit or percent.

    Which quantity it is hangs on the input beside it: it is read when that is known.
    """

    def read(self, value: Any) -> float | str:
        """The value as it stands, where it may be one."""
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise refuse(f"{brief(value)} is not a number", 'enter such as 0.2, "0.2" or "80%"')
        return value

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        text = {"type": "string", "pattern": "[0-9]", "maxLength": 60}
        return {"anyOf": [{"type": "number"}, text], "examples": ["80%", 0.2, "1.9 lb/ft"]}


SpreadAmountText = Annotated[Any, ReadsSpreadAmount()]
Correlation = Annotated[float, Reads("ratio", least=-1, most=1, outside="use -1 to 1")]


class SpreadInputEntry(Entry):
    """One uncertain input."""

    input: Annotated[str, OneOf(lambda: INPUTS)] = key(
        "What is uncertain: " + ", ".join(INPUTS) + "."
    )
    of: Name | None = key(
        "Which: name of the conduit (friction, ovality), of the cable (weight, diameter), or of "
        "the point of the bend (radius, angle). Default: each conduit or cable by itself; all "
        "bends alike.",
        None,
    )
    shape: Annotated[str, OneOf(lambda: SHAPES)] = key(
        "Distribution: normal, lognormal, uniform, triangular, or history (friction of a conduit "
        "that is learned from past pulls). Default: lognormal.",
        "lognormal",
    )
    low: SpreadAmountText | None = key(
        "5th percentile: a number in units of the file, a text with its unit, or a percentage of "
        "the planned value (of ovality: the ovality). Of a bend angle: as built minus planned.",
        None,
    )
    high: SpreadAmountText | None = key("95th percentile, as low.", None)
    middle: SpreadAmountText | None = key(
        "50th percentile of normal and lognormal. Default: halfway between low and high.", None
    )
    peak: SpreadAmountText | None = key(
        "Most likely value of triangular. Default: halfway between low and high.", None
    )
    mean: SpreadAmountText | None = key(
        "Mean, with deviation instead of low and high. Default: as planned.", None
    )
    deviation: SpreadAmountText | None = key("Standard deviation, instead of low and high.", None)


class CorrelationEntry(Entry):
    """How two uncertain inputs go together."""

    inputs: tuple[Name, Name] = key(
        "The two inputs, such as 'friction of duct' and 'cable weight of phase'."
    )
    value: Correlation = key(
        "Correlation of their normal scores, -1 to 1: 0 for none, near 1 where a high value of one "
        "comes with a high value of the other."
    )


class SpreadEntry(Entry):
    """Which inputs are uncertain, for `route3d study spread`."""

    input: list[SpreadInputEntry] = key(
        "The uncertain inputs. Default: the friction of each conduit, by its low and high.",
        [],
        max_length=100,
    )
    correlation: list[CorrelationEntry] = key(
        "Which inputs go together. Default: none.", [], max_length=200
    )
    friction_correlation: Correlation = key(
        "Correlation of the friction of every two conduits: near 1 where one crew and one "
        "lubricant make all of it high or low together. Default: 0.",
        0.0,
    )


def _as_text(value: Any) -> Any:
    """A date or a whole number as its text: ``date = 2026-05-04``, ``revision = 2``."""
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value.isoformat()
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


Label = Annotated[Text, BeforeValidator(_as_text)]


class RevisionEntry(Entry):
    """One line of the revision list."""

    mark: Label = key("Revision, such as A or 2.", min_length=1)
    date: Label = key("Date, as it is to be printed.", "")
    what: Text = key("What changed.", "")
    by: Text = key("Who made it.", "")


class DocumentEntry(Entry):
    """The title block of reports and sheets. Nothing of it is filled in from the clock."""

    job: Text = key("Name of the job. Default: the title of the file.", "")
    client: Text = key("Client.", "")
    number: Label = key("Document number.", "")
    revision: Label = key("Revision. Default: the last of revisions.", "")
    date: Label = key("Date, as it is to be printed. Default: that of the last of revisions.", "")
    made: Text = key("Made by.", "")
    checked: Text = key("Checked by.", "")
    approved: Text = key("Approved by.", "")
    revisions: list[RevisionEntry] = key("The revision list, oldest first.", [], max_length=100)
