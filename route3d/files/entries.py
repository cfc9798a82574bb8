"""The shape of the model file: its tables and keys, and the JSON Schema published from them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StrictBool

from route3d.files.fields import (
    BendMultiple,
    BoxSide,
    CableCount,
    ConductorCount,
    Coordinate,
    Cover,
    Diameter,
    DuctCount,
    Force,
    Friction,
    LeastForce,
    Name,
    OneOf,
    Radius,
    ReelTension,
    RestartFactor,
    Sidewall,
    Size,
    SizedArea,
    Spacing,
    Speed,
    Stress,
    Stretch,
    Text,
    TradeSize,
    Voltage,
    Weight,
)
from route3d.model.practice import CHOICES, Practice
from route3d.units import SYSTEMS

METALS = ("copper", "aluminum", "aluminium")
ATTACHMENTS = ("pulling eyes", "basket grip")
ACCESS = ("reel", "machine")


def arrangement_names() -> tuple[str, ...]:
    """What ``arrangement`` may be in the model file."""
    from route3d.mechanics.arrangement import ARRANGEMENTS

    return ("auto", *ARRANGEMENTS, "triplexed")


def stock_types() -> tuple[str, ...]:
    """What ``type`` of a conduit may be in the model file."""
    from route3d.standards.conduits import TYPES

    return TYPES


_OR_PLAIN = "or give inner_diameter and outer_diameter instead of type and trade_size"


class Entry(BaseModel):
    """A table of the model file; keys it does not know are errors."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        model_title_generator=lambda model: model.__name__.removesuffix("Entry"),
    )


class ConductorEntry(Entry):
    """The metal that carries the pull."""

    metal: Annotated[str, OneOf(lambda: METALS)] = Field(
        description="Metal of the conductors: copper or aluminum (aluminium)."
    )
    area: SizedArea = Field(
        description="Cross-section of one conductor: a trade size such as '350 kcmil', '4/0 AWG' "
        "or '185 mm2', or a bare number (US kcmil, SI mm²)."
    )
    count: ConductorCount = Field(1, description="Number of such conductors in one cable.")
    max_stress: Stress | None = Field(
        None,
        description="The maker's own limit of pulling stress on the metal (US psi, SI N/mm²); "
        "the published limit of the metal where left out.",
    )


class CableEntry(Entry):
    """One cable type."""

    diameter: Diameter = Field(description="Outer diameter of one cable (US in, SI mm).")
    weight: Weight = Field(description="Weight of one cable (US lb/ft, SI kg/m).")
    conductor: ConductorEntry = Field(description="Metal, size and number of the conductors.")
    sidewall_limit: Sidewall = Field(
        description="Largest sidewall pressure while pulling (US lbf/ft, SI N/m)."
    )
    bend_multiple: BendMultiple = Field(
        description="Smallest bend radius while pulling, in cable diameters."
    )
    about: Text = Field("", description="What the cable is, in words.")
    max_tension: Force | None = Field(
        None, description="The maker's own limit of tension on one cable (US lbf, SI N)."
    )
    shielded: StrictBool = Field(False, description="Has the cable a metallic shield?")
    voltage: Voltage | None = Field(None, description="Rated voltage (bare number: kV).")


class ConduitEntry(Entry):
    """One conduit type: a stock type with a trade size, or plain dimensions."""

    friction: Friction = Field(
        description="Basic coefficient of friction of cable against this conduit, as lubricated."
    )
    type: Annotated[str, OneOf(stock_types, _OR_PLAIN)] | None = Field(
        None, description="A stock type, such as 'PVC-40'; needs trade_size."
    )
    trade_size: TradeSize | None = Field(
        None, description="Trade size of the stock type, such as '5' or '2-1/2'."
    )
    inner_diameter: Diameter | None = Field(
        None, description="Inner diameter (US in, SI mm); needed where no stock type is given."
    )
    outer_diameter: Diameter | None = Field(
        None,
        description="Outer diameter (US in, SI mm); needed where no stock type is given or the "
        "tables have none for it.",
    )


class RopeEntry(Entry):
    """One pulling rope."""

    diameter: Diameter = Field(description="Diameter of the rope (US in, SI mm).")
    weight: Weight = Field(description="Weight of the rope (US lb/ft, SI kg/m).")
    friction: Friction = Field(description="Coefficient of friction of rope against conduit.")
    rated_load: Force = Field(description="Working load of the rope (US lbf, SI N).")
    stretch: Stretch = Field(description="Strain at rated load: 0.012 is 1.2 %.")
    breaking_strength: Force | None = Field(
        None, description="Breaking strength, where the maker gives it (US lbf, SI N)."
    )


class GearEntry(Entry):
    """One gear of a pulling machine."""

    line_pull: Force = Field(description="Rated line pull in this gear (US lbf, SI N).")
    speed: Speed = Field(description="Line speed in this gear (US ft/min, SI m/min).")


class MachineEntry(Entry):
    """One pulling machine."""

    gears: list[GearEntry] = Field(
        min_length=1, max_length=30, description="Its gears, in any order."
    )
    envelope: tuple[Size, Size, Size] | None = Field(
        None, description="Length, width and height of the room it takes (US ft, SI m)."
    )
    min_load: LeastForce = Field(0.0, description="Least load it can hold steadily (US lbf, SI N).")


class VertexEntry(Entry):
    """One point of a route."""

    at: tuple[Coordinate, Coordinate, Coordinate] = Field(
        description="x, y, z of the point (US ft, SI m); z is up."
    )
    bend: Radius | None = Field(
        None,
        description="Centreline bend radius (US in, SI m); the standard elbow of the trade size "
        "where left out at a turn.",
    )
    name: Name | None = Field(None, description="Name of the point, for reports.")
    access: list[Annotated[str, OneOf(lambda: ACCESS)]] = Field(
        default=[],
        max_length=8,
        description="What can stand here: 'reel', 'machine' or both. Between the ends, a point "
        "with access and no bend is a pull point: the conduit stops and starts there.",
    )
    conduit: Name | None = Field(
        None, description="Conduit from here onward; needed at the first point."
    )
    box: tuple[BoxSide, BoxSide, BoxSide] | None = Field(
        None,
        description="Inside length along the pull, width and height of the pull box or vault here "
        "(US in, SI mm).",
    )


class RunEntry(Entry):
    """One run: cables pulled together along one route."""

    name: Name = Field(description="Name of the run; no two runs share one.")
    cables: dict[Name, CableCount] = Field(
        min_length=1, max_length=100, description="Number of each cable type: { phase = 3 }."
    )
    route: list[VertexEntry] = Field(
        min_length=2, description="The points of the centreline, in order."
    )
    attach: Annotated[str, OneOf(lambda: ATTACHMENTS)] = Field(
        "pulling eyes", description="How the rope holds the cables."
    )
    arrangement: Annotated[str, OneOf(arrangement_names)] = Field(
        "auto", description="How the cables lie in the conduit; auto chooses by D/d."
    )
    reel_tension: ReelTension = Field(
        None,
        description="Tension at the feed end (US lbf, SI N), or auto: the smallest brake that "
        "keeps the cable taut.",
    )
    rope: Name | None = Field(None, description="Key of the pulling rope; not checked if left out.")
    machine: Name | None = Field(
        None, description="Key of the pulling machine; not checked if left out."
    )


class BankEntry(Entry):
    """Parallel ducts about the centreline of one run."""

    run: Name = Field(description="Name of the run the bank is about.")
    rows: DuctCount = Field(description="Rows of ducts, one above the other.")
    columns: DuctCount = Field(description="Ducts in a row.")
    spacing: tuple[Spacing, Spacing] = Field(
        description="Centre to centre: across a row, and between rows (US in, SI mm)."
    )
    cover: Cover = Field(description="Concrete outside the ducts (US in, SI mm).")


class SiteEntry(Entry):
    """What stands around the route."""

    context: list[Text] = Field(
        default=[],
        max_length=200,
        description="Building meshes (glb, stl, obj, ply), relative to the model file.",
    )


USUAL = Practice()


def _words(option: str) -> Callable[[], Iterable[str]]:
    return lambda: CHOICES[option]


def _meanings(option: str) -> str:
    return "; ".join(f"{word!r}: {meaning}" for word, meaning in CHOICES[option].items()) + "."


class PracticeEntry(Entry):
    """Where published practice differs: which convention this job is worked by."""

    weight_factor_in: Annotated[str, OneOf(_words("weight_factor_in"))] = Field(
        default=USUAL.weight_factor_in, description=_meanings("weight_factor_in")
    )
    jam_ratio: Annotated[str, OneOf(_words("jam_ratio"))] = Field(
        default=USUAL.jam_ratio, description=_meanings("jam_ratio")
    )
    sidewall: Annotated[str, OneOf(_words("sidewall"))] = Field(
        default=USUAL.sidewall, description=_meanings("sidewall")
    )
    sidewall_radius: Annotated[str, OneOf(_words("sidewall_radius"))] = Field(
        default=USUAL.sidewall_radius, description=_meanings("sidewall_radius")
    )
    strength_count: Annotated[str, OneOf(_words("strength_count"))] = Field(
        default=USUAL.strength_count, description=_meanings("strength_count")
    )
    bend_form: Annotated[str, OneOf(_words("bend_form"))] = Field(
        default=USUAL.bend_form, description=_meanings("bend_form")
    )
    restart: RestartFactor = Field(
        default=USUAL.restart, description="Friction at a restart over friction while moving."
    )


class ModelEntry(Entry):
    """A route3d model file: one job."""

    title: Text = Field("", description="What the job is; the name of the file where left out.")
    units: Annotated[str, OneOf(lambda: SYSTEMS)] = Field(
        description="Units of bare numbers and of reports: US or SI."
    )
    cable: dict[Name, CableEntry] = Field(min_length=1, description="Cable types, by name.")
    conduit: dict[Name, ConduitEntry] = Field(min_length=1, description="Conduits, by name.")
    rope: dict[Name, RopeEntry] = Field(default={}, description="Pulling ropes, by name.")
    machine: dict[Name, MachineEntry] = Field(default={}, description="Machines, by name.")
    run: list[RunEntry] = Field(min_length=1, description="The runs.")
    bank: list[BankEntry] = Field(default=[], description="Duct banks.")
    site: SiteEntry = Field(default=SiteEntry(), description="Building meshes around the route.")
    practice: PracticeEntry = Field(
        default=PracticeEntry(), description="Conventions this job is worked by."
    )


DRAFT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of the model file.

    It knows every key, type and word; what hangs on units or on other parts of the file (limits,
    names, geometry) only the loader checks.
    """
    schema = _plain(ModelEntry.model_json_schema())
    for table in (schema, *schema["$defs"].values()):
        for key, field in table["properties"].items():
            field.setdefault("title", key.replace("_", " ").title())
    return {"$schema": DRAFT, **schema, "title": "route3d model file"}


def _plain(node: Any) -> Any:
    """The same schema without null, which TOML has not, and without choices of one."""
    if isinstance(node, list):
        return [_plain(item) for item in node]
    if not isinstance(node, dict):
        return node
    result = {k: _plain(v) for k, v in node.items() if not (k == "default" and v is None)}
    if "patternProperties" in result:  # pydantic's form lets other names through unchecked
        ((pattern, value),) = result.pop("patternProperties").items()
        names = {**result.get("propertyNames", {}), "pattern": pattern}
        result |= {"additionalProperties": value, "propertyNames": names}
    shapes = result.get("anyOf")
    if isinstance(shapes, list):
        shapes = [shape for shape in shapes if shape != {"type": "null"}]
        result["anyOf"] = shapes
        if len(shapes) == 1:
            del result["anyOf"]
            result = {**shapes[0], **result}
    return result
