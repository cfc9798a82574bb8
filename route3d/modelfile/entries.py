"""The tables of the model file that describe cables, conduits, routes and runs."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, StrictBool, model_validator

from route3d.modelfile.fields import (
    BendMultiple,
    BoxSide,
    CableCount,
    ConductorCount,
    Coordinate,
    Cover,
    Diameter,
    DuctCount,
    Entry,
    Force,
    Friction,
    Name,
    OneOf,
    Radius,
    ReelTension,
    Sidewall,
    SizedArea,
    Spacing,
    Stress,
    Stretch,
    Temperature,
    Text,
    TradeSize,
    Voltage,
    Weight,
)
from route3d.modelfile.tackle_entries import LeadOffEntry

METALS = ("copper", "aluminum")
METAL_SPELLINGS = (("aluminium", "aluminum"),)
ATTACHMENTS = ("pulling eyes", "basket grip")
ACCESS = ("reel", "machine")
BEND_TO = ("inside", "centerline")


def arrangement_names() -> tuple[str, ...]:
    """What ``arrangement`` may be in the model file."""
    from route3d.mechanics.arrangement import ARRANGEMENTS

    return ("auto", *ARRANGEMENTS, "triplexed")


def materials() -> tuple[str, ...]:
    """What ``material`` of a conduit may be in the model file."""
    from route3d.standards.conduits import MATERIALS

    return tuple(MATERIALS)


def jackets() -> tuple[str, ...]:
    """What ``jacket`` of a cable may be in the model file."""
    from route3d.standards.classes import JACKETS

    return JACKETS


def armors() -> tuple[str, ...]:
    """What ``armor`` of a cable may be in the model file."""
    from route3d.standards.classes import ARMORS

    return ARMORS


def stock_types() -> tuple[str, ...]:
    """What ``type`` of a conduit may be in the model file."""
    from route3d.standards.conduits import TYPES

    return TYPES


_OR_PLAIN = "or enter inner_diameter and outer_diameter instead of type and trade_size"


class ConductorEntry(Entry):
    """The metal that carries the pull."""

    metal: Annotated[str, OneOf(lambda: METALS, spellings=METAL_SPELLINGS)] = Field(
        description="Metal of the conductors: copper or aluminum."
    )
    area: SizedArea = Field(
        description="Cross-section of one conductor: a trade size such as '350 kcmil', '4/0 AWG' "
        "or '185 mm2', or a bare number (US kcmil, SI mm²)."
    )
    count: ConductorCount = Field(1, description="Number of such conductors in one cable.")
    max_stress: Stress | None = Field(
        None,
        description="The cable maker's limit of pulling stress on the metal (US psi, SI N/mm²). "
        "Default: the published limit of the metal.",
    )


class CableEntry(Entry):
    """One cable type."""

    diameter: Diameter = Field(description="Outer diameter of one cable (US in, SI mm).")
    weight: Weight = Field(description="Weight of one cable (US lb/ft, SI kg/m).")
    conductor: ConductorEntry = Field(description="Metal, size and number of the conductors.")
    sidewall_limit: Sidewall = Field(
        description="Maximum sidewall pressure while pulling (US lbf/ft, SI N/m)."
    )
    bend_multiple: BendMultiple = Field(
        description="Minimum bend radius while pulling, in cable diameters."
    )
    about: Text = Field("", description="Description of the cable.")
    max_tension: Force | None = Field(
        None, description="The cable maker's limit of tension on one cable (US lbf, SI N)."
    )
    max_grip_tension: Force | None = Field(
        None,
        description="The cable maker's limit for a basket grip on this cable; replaces the "
        "published limit (US lbf, SI N).",
    )
    max_eye_tension: Force | None = Field(
        None,
        description="The cable maker's limit for pulling eyes on this cable; replaces the "
        "published limit (US lbf, SI N).",
    )
    main: StrictBool | None = Field(
        None,
        description="true: the cable carries the pull; false: it is a riding cable. Default: "
        "false if its conductors have at most a quarter of the metal area of the largest cable "
        "of the run.",
    )
    bend_to: Annotated[str, OneOf(lambda: BEND_TO)] = Field(
        "inside",
        description="Where bend_multiple is measured: 'inside' of the bend or 'centerline'.",
    )
    training_multiple: BendMultiple | None = Field(
        None,
        description="Minimum bend radius for training and racking, in cable diameters; not used "
        "for the pull.",
    )
    shielded: StrictBool = Field(False, description="true if the cable has a metallic shield.")
    voltage: Voltage | None = Field(None, description="Rated voltage (bare number: kV).")
    jacket: Annotated[str, OneOf(jackets)] | None = Field(
        None, description="Jacket material: sets the minimum installation temperature by table."
    )
    armor: Annotated[str, OneOf(armors)] | None = Field(
        None, description="Armor or metal sheath, if any."
    )
    lowest_temperature: Temperature | None = Field(
        None,
        description="The cable maker's minimum installation temperature (US °F, SI °C).",
    )


class FrictionEntry(Entry):
    """A coefficient of friction with its range."""

    value: Friction = Field(description="Coefficient used in the calculation.")
    low: Friction | None = Field(
        None, description="Lowest expected coefficient. Default: half the value."
    )
    high: Friction | None = Field(
        None, description="Highest expected coefficient. Default: 1.2 times the value."
    )
    source: Text = Field("", description="Source of the value.")

    @model_validator(mode="before")
    @classmethod
    def _value_alone(cls, value: Any) -> Any:
        return value if isinstance(value, dict) else {"value": value}


def _or_value_alone(schema: dict[str, Any]) -> None:
    value = FrictionEntry.model_json_schema()["properties"]["value"]
    shapes = value.get("anyOf", [])
    about = schema.get("description", "")
    table = {k: v for k, v in schema.items() if k != "description"}
    schema.clear()
    schema |= {"description": about, "anyOf": [*shapes, table]}


class ConduitEntry(Entry):
    """One conduit type: a stock type with a trade size, or plain dimensions."""

    friction: FrictionEntry = Field(
        description="Basic coefficient of friction of the cable in this conduit, as lubricated: a "
        "number, or { value, low, high, source }.",
        json_schema_extra=_or_value_alone,
    )
    type: Annotated[str, OneOf(stock_types, _OR_PLAIN)] | None = Field(
        None, description="Stock type, such as 'PVC-40'; requires trade_size."
    )
    trade_size: TradeSize | None = Field(
        None, description="Trade size of the stock type, such as '5' or '2-1/2'."
    )
    material: Annotated[str, OneOf(materials)] | None = Field(
        None,
        description="Material of a conduit with plain dimensions; a stock type defines its own.",
    )
    inner_diameter: Diameter | None = Field(
        None, description="Inner diameter (US in, SI mm); required without a stock type."
    )
    outer_diameter: Diameter | None = Field(
        None,
        description="Outer diameter (US in, SI mm); required without a stock type, or if the "
        "tables have none for it.",
    )


class RopeEntry(Entry):
    """One pulling rope."""

    diameter: Diameter = Field(description="Diameter of the rope (US in, SI mm).")
    weight: Weight = Field(description="Weight of the rope (US lb/ft, SI kg/m).")
    friction: Friction = Field(description="Coefficient of friction of the rope in conduit.")
    rated_load: Force = Field(description="Working load of the rope (US lbf, SI N).")
    stretch: Stretch = Field(description="Strain at rated load: 0.012 is 1.2%.")
    breaking_strength: Force | None = Field(
        None, description="Breaking strength, if the rope maker gives it (US lbf, SI N)."
    )


class VertexEntry(Entry):
    """One point of a route."""

    at: tuple[Coordinate, Coordinate, Coordinate] = Field(
        description="x, y, z of the point (US ft, SI m); z is up."
    )
    bend: Radius | None = Field(
        None,
        description="Centerline bend radius (US in, SI m). Default at a turn: the standard elbow "
        "of the trade size.",
    )
    name: Name | None = Field(None, description="Name of the point, for reports.")
    access: list[Annotated[str, OneOf(lambda: ACCESS)]] = Field(
        default=[],
        max_length=8,
        description="What can be set up here: 'reel', 'machine' or both. Between the ends, a "
        "point with access and no bend is a pull point: the conduit ends and starts again there.",
    )
    conduit: Name | None = Field(
        None, description="Conduit from here onward; required at the first point."
    )
    sheave: Name | None = Field(
        None,
        description="Name of the sheave that guides the cables around a pull point that turns, "
        "when they are pulled straight through.",
    )
    box: tuple[BoxSide, BoxSide, BoxSide] | None = Field(
        None,
        description="Inside length (along the pull), width and height of the pull box or vault "
        "here (US in, SI mm).",
    )


class EndEntry(Entry):
    """What differs at one end or pull point of a run. Default: as for the run."""

    machine: Name | None = Field(None, description="Name of the pulling machine here.")
    anchor: Name | None = Field(None, description="Name of the anchor of the machine here.")
    rigging: Name | None = Field(
        None, description="Name of the rigging (head fittings) for a pull to here."
    )
    reel: Name | None = Field(None, description="Name of the cable reel here.")
    lead_off: list[LeadOffEntry] | None = Field(
        None, max_length=8, description="Turns of the rope between the conduit end and the machine."
    )


class RunEntry(Entry):
    """One run: cables pulled together along one route."""

    name: Name = Field(description="Name of the run; must be unique.")
    cables: dict[Name, CableCount] = Field(
        min_length=1, max_length=100, description="Number of cables of each type: { phase = 3 }."
    )
    route: list[VertexEntry] = Field(
        min_length=2, description="The points of the centerline, in order."
    )
    attach: Annotated[str, OneOf(lambda: ATTACHMENTS)] = Field(
        "pulling eyes", description="How the rope is attached to the cables."
    )
    arrangement: Annotated[str, OneOf(arrangement_names)] = Field(
        "auto", description="Arrangement of the cables in the conduit; auto selects by D/d."
    )
    reel_tension: ReelTension = Field(
        None,
        description="Reel tension at the feed end (US lbf, SI N), or auto: the larger of the "
        "required brake and the drag of the reels.",
    )
    rope: Name | None = Field(
        None, description="Name of the pulling rope. Default: none, not checked."
    )
    machine: Name | None = Field(
        None, description="Name of the pulling machine. Default: none, not checked."
    )
    anchor: Name | None = Field(None, description="Name of the anchor of the machine.")
    rigging: Name | None = Field(
        None, description="Name of the rigging (fittings at the cable head)."
    )
    reel: Name | None = Field(None, description="Name of the cable reel.")
    lead_off: list[LeadOffEntry] = Field(
        default=[],
        max_length=8,
        description="Turns of the rope between the conduit end and the machine, in that order, for "
        "either pulling end. Default: none, straight lead-off.",
    )
    ends: dict[Name, EndEntry] = Field(
        default={},
        max_length=100,
        description='What differs at one end or pull point, by its name: [run.ends."vault V1"].',
    )
    can_splice: list[Name] = Field(
        default=[],
        max_length=100,
        description="Names of the pull points where a splice is allowed.",
    )


class BankEntry(Entry):
    """Parallel ducts about the centerline of one run."""

    run: Name = Field(description="Name of the run in the center of the bank.")
    rows: DuctCount = Field(description="Rows of ducts, one above the other.")
    columns: DuctCount = Field(description="Ducts in a row.")
    spacing: tuple[Spacing, Spacing] = Field(
        description="Spacing center to center: across a row, and between rows (US in, SI mm)."
    )
    cover: Cover = Field(description="Concrete cover outside the ducts (US in, SI mm).")
