"""The tables of the model file that describe cables, conduits, routes and runs."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import ConfigDict, StrictBool, model_validator

from route3d.modelfile.fields import (
    BendMultiple,
    BendRadius,
    BoxSide,
    CableCount,
    ConductorCount,
    Coordinate,
    Cover,
    Diameter,
    DuctCount,
    DuctName,
    Entry,
    Force,
    Friction,
    Name,
    OneOf,
    ReelTension,
    Sidewall,
    SizedArea,
    Spacing,
    Span,
    StockedEntry,
    Stress,
    Stretch,
    Temperature,
    Text,
    TradeSize,
    TrenchSlope,
    Voltage,
    Weight,
    brief,
    key,
    refuse,
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

    metal: Annotated[str, OneOf(lambda: METALS, spellings=METAL_SPELLINGS)] = key(
        "Metal of the conductors: copper or aluminum."
    )
    area: SizedArea = key(
        "Cross-section of one conductor: a trade size such as '350 kcmil', '4/0 AWG' "
        "or '185 mm2', or a bare number (US kcmil, SI mm²)."
    )
    count: ConductorCount = key("Number of such conductors in one cable.", 1)
    max_stress: Stress | None = key(
        "The cable maker's limit of pulling stress on the metal (US psi, SI N/mm²). "
        "Default: the published limit of the metal.",
        None,
    )


class CableEntry(StockedEntry):
    """One cable type: a stock entry, and what is given instead of its values."""

    FILLED = ("diameter", "weight", "conductor", "sidewall_limit", "bend_multiple")

    stock: Text | None = key(
        "Name of a cable of the built-in tables, such as '600 V XHHW-2 copper 500 kcmil': fills "
        "every key below that the tables have; a key given replaces it. `route3d stock WORDS` "
        "finds names.",
        None,
    )
    diameter: Diameter | None = key("Outer diameter of one cable (US in, SI mm).")
    weight: Weight | None = key("Weight of one cable (US lb/ft, SI kg/m).")
    conductor: ConductorEntry | None = key("Metal, size and number of the conductors.")
    sidewall_limit: Sidewall | None = key(
        "Maximum sidewall pressure while pulling (US lbf/ft, SI N/m)."
    )
    bend_multiple: BendMultiple | None = key(
        "Minimum bend radius while pulling, in cable diameters."
    )
    about: Text = key("Description of the cable.", "")
    max_tension: Force | None = key(
        "The cable maker's limit of tension on one cable (US lbf, SI N).", None
    )
    max_grip_tension: Force | None = key(
        "The cable maker's limit for a basket grip on this cable; replaces the "
        "published limit (US lbf, SI N).",
        None,
    )
    max_eye_tension: Force | None = key(
        "The cable maker's limit for pulling eyes on this cable; replaces the "
        "published limit (US lbf, SI N).",
        None,
    )
    main: StrictBool | None = key(
        "true: the cable carries the pull; false: it is a riding cable. Default: "
        "false if its conductors have at most a quarter of the metal area of the largest cable "
        "of the run.",
        None,
    )
    bend_to: Annotated[str, OneOf(lambda: BEND_TO)] = key(
        "Where bend_multiple is measured: 'inside' of the bend or 'centerline'.", "inside"
    )
    training_multiple: BendMultiple | None = key(
        "Minimum bend radius for training and racking, in cable diameters; not used for the pull.",
        None,
    )
    shielded: StrictBool = key("true if the cable has a metallic shield.", False)
    voltage: Voltage | None = key("Rated voltage (bare number: kV).", None)
    jacket: Annotated[str, OneOf(jackets)] | None = key(
        "Jacket material: sets the minimum installation temperature by table.", None
    )
    armor: Annotated[str, OneOf(armors)] | None = key("Armor or metal sheath, if any.", None)
    lowest_temperature: Temperature | None = key(
        "The cable maker's minimum installation temperature (US °F, SI °C).", None
    )


def _needed_without_stock_or_history(schema: dict[str, Any]) -> None:
    required = schema.pop("required")
    named = ({"required": [name]} for name in ("stock", "history"))
    schema["anyOf"] = [*named, {"required": required}]


# Without a report constant friction decides, which is safe: what says that there is none must not
# pass for one.
_NO_REPORT = frozenset(
    ("", "-", "?", "n/a", "na", "no", "none", "nil", "not yet", "open", "pending", "tbd", "todo")
)


class FrictionEntry(StockedEntry):
    """A coefficient of friction with its range."""

    FILLED = ("value",)
    model_config = ConfigDict(json_schema_extra=_needed_without_stock_or_history)

    value: Friction | None = key("Coefficient used in the calculation.")
    stock: Text | None = key(
        "Published friction by name: 'PVC jacket, PVC conduit, lubricated' or dry. Fills value, "
        "low and high. Default of the jacket: that of the cables; of the conduit: its type.",
        None,
    )
    history: Text | None = key(
        "Library of one's own past pulls (FILE.sqlite of `route3d field record --append`), "
        "relative to this file. Fills value, low and high: median and 90% interval of the next "
        "pull, from the past pulls pooled with the published range. `stock` may name the jacket "
        "and the conduit, and dry. Default: lubricated.",
        None,
    )
    lubricant: Text | None = key(
        "Only past pulls with this lubricant, as recorded. Default: with any.", None
    )
    temperature: Temperature | None = key(
        "Only past pulls in the class of this temperature: cold below 41 °F (5 °C), warm above "
        "77 °F (25 °C), mild (US °F, SI °C). Default: at any.",
        None,
    )
    low: Friction | None = key("Lowest expected coefficient. Default: half the value.", None)
    high: Friction | None = key("Highest expected coefficient. Default: 1.2 times the value.", None)
    above: Sidewall | None = key(
        "Contact load of the whole set above which friction falls to `then` (US lbf/ft, SI N/m). "
        "No default: enter it only from a publication or test for this cable, conduit, lubricant.",
        None,
    )
    then: Friction | None = key("Coefficient above that load: below the value.", None)
    test_report: Text = key(
        "Test report of this cable, conduit and lubricant: the fall then decides. Without it, "
        "constant friction decides and the fall is shown beside it.",
        "",
    )
    source: Text = key("Source of the value.", "")

    @model_validator(mode="before")
    @classmethod
    def _value_alone(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return {"value": value}
        return {"value": None} | value if "history" in value else value

    @model_validator(mode="after")
    def _of_history(self) -> FrictionEntry:
        alone = [name for name in ("lubricant", "temperature") if getattr(self, name) is not None]
        if alone and self.history is None:
            raise refuse(
                f"{alone[0]} requires history", f'remove {alone[0]}, or add history = "..."'
            )
        return self

    @model_validator(mode="after")
    def _falls(self) -> FrictionEntry:
        if self.above is not None and self.then is None:
            raise refuse("above requires then", "add then, the coefficient above that load")
        if self.then is not None and self.above is None:
            raise refuse("then requires above", "add above, the load above which friction falls")
        if self.test_report and self.test_report.strip().lower().rstrip(".") in _NO_REPORT:
            raise refuse(
                f"test_report {brief(self.test_report)} names no report",
                "cite the report by number and date, or remove test_report: constant friction then "
                "decides",
            )
        if self.test_report and self.then is None:
            raise refuse(
                "test_report requires above and then",
                "remove test_report, or add above and then; a report of the value is its source",
            )
        return self


def _or_value_alone(schema: dict[str, Any]) -> None:
    value = FrictionEntry.model_json_schema()["properties"]["value"]
    shapes = value.get("anyOf", [])
    about = schema.get("description", "")
    table = {k: v for k, v in schema.items() if k != "description"}
    schema.clear()
    schema |= {"description": about, "anyOf": [*shapes, table]}


class ConduitEntry(Entry):
    """One conduit type: a stock type with a trade size, or plain dimensions."""

    stock: Text | None = key(
        "Stock type and trade size by name, such as 'PVC-40 5'; instead of type and trade_size.",
        None,
    )
    friction: FrictionEntry = key(
        "Basic coefficient of friction of the cable in this conduit, as lubricated: a "
        "number, or { value, low, high, source }, or by name { stock }, or learned { history }. "
        "{ above, then } beside the value: friction that falls above a load.",
        json_schema_extra=_or_value_alone,
    )
    type: Annotated[str, OneOf(stock_types, _OR_PLAIN)] | None = key(
        "Stock type, such as 'PVC-40'; requires trade_size.", None
    )
    trade_size: TradeSize | None = key(
        "Trade size of the stock type, such as '5' or '2-1/2'.", None
    )
    material: Annotated[str, OneOf(materials)] | None = key(
        "Material of a conduit with plain dimensions; a stock type defines its own.", None
    )
    inner_diameter: Diameter | None = key(
        "Inner diameter (US in, SI mm); required without a stock type.", None
    )
    outer_diameter: Diameter | None = key(
        "Outer diameter (US in, SI mm); required without a stock type, or if the "
        "tables have none for it.",
        None,
    )


class RopeEntry(StockedEntry):
    """One pulling rope: a stock entry, and what is given instead of its values."""

    FILLED = ("diameter", "weight", "friction", "rated_load", "stretch")

    stock: Text | None = key(
        "Name of a rope of the built-in tables, such as 'polyester double braid 3/4': fills what "
        "is not given.",
        None,
    )
    diameter: Diameter | None = key("Diameter of the rope (US in, SI mm).")
    weight: Weight | None = key("Weight of the rope (US lb/ft, SI kg/m).")
    friction: Friction | None = key("Coefficient of friction of the rope in conduit.")
    rated_load: Force | None = key("Working load of the rope (US lbf, SI N).")
    stretch: Stretch | None = key("Strain at rated load: 0.012 is 1.2%.")
    breaking_strength: Force | None = key(
        "Breaking strength, if the rope maker gives it (US lbf, SI N).", None
    )


class VertexEntry(Entry):
    """One point of a route."""

    at: tuple[Coordinate, Coordinate, Coordinate] = key(
        "x, y, z of the point (US ft, SI m); z is up."
    )
    bend: BendRadius | None = key(
        "Centerline bend radius (US in, SI m). Default at a turn: the standard elbow "
        "of the trade size.",
        None,
    )
    name: Name | None = key("Name of the point, for reports.", None)
    access: list[Annotated[str, OneOf(lambda: ACCESS)]] = key(
        "What can be set up here: 'reel', 'machine' or both. Between the ends, a "
        "point with access and no bend is a pull point: the conduit ends and starts again there.",
        [],
        max_length=8,
    )
    conduit: Name | None = key("Conduit from here onward; required at the first point.", None)
    sheave: Name | None = key(
        "Name of the sheave that guides the cables around a pull point that turns, "
        "when they are pulled straight through.",
        None,
    )
    box: tuple[BoxSide, BoxSide, BoxSide] | None = key(
        "Inside length (along the pull), width and height of the pull box or vault "
        "here (US in, SI mm).",
        None,
    )


class EndEntry(Entry):
    """What differs at one end or pull point of a run. Default: as for the run."""

    machine: Name | None = key("Name of the pulling machine here.", None)
    anchor: Name | None = key("Name of the anchor of the machine here.", None)
    rigging: Name | None = key("Name of the rigging (head fittings) for a pull to here.", None)
    reel: Name | None = key("Name of the cable reel here.", None)
    lead_off: list[LeadOffEntry] | None = key(
        "Turns of the rope between the conduit end and the machine.", None, max_length=8
    )


def _route_or_legs(schema: dict[str, Any]) -> None:
    schema["oneOf"] = [{"required": ["route"]}, {"required": ["legs"]}]


class RunEntry(Entry):
    """One run: cables pulled together along one route."""

    model_config = ConfigDict(json_schema_extra=_route_or_legs)

    name: Name = key("Name of the run; must be unique.")
    cables: dict[Name, CableCount] = key(
        "Number of cables of each type: { phase = 3 }.", min_length=1, max_length=100
    )
    route: list[VertexEntry] | None = key(
        "The points of the centerline, in order; or give legs.", None, min_length=2
    )
    legs: list[Text] | None = key(
        "The route leg by leg, in words: 'start pad at 0, 0, 0 heading north in duct', '120 ft', "
        "'right 90 at 36 in'; instead of route.",
        None,
        min_length=2,
    )
    closes_to: tuple[Coordinate, Coordinate, Coordinate] | None = key(
        "x, y, z of the known end of a route given by legs (US ft, SI m); how the legs miss it "
        "is reported.",
        None,
    )
    attach: Annotated[str, OneOf(lambda: ATTACHMENTS)] = key(
        "How the rope is attached to the cables.", "pulling eyes"
    )
    arrangement: Annotated[str, OneOf(arrangement_names)] = key(
        "Arrangement of the cables in the conduit; auto selects by D/d.", "auto"
    )
    reel_tension: ReelTension = key(
        "Reel tension at the feed end (US lbf, SI N), or auto: the larger of the "
        "required brake and the drag of the reels.",
        None,
    )
    rope: Name | None = key("Name of the pulling rope. Default: none, not checked.", None)
    machine: Name | None = key("Name of the pulling machine. Default: none, not checked.", None)
    anchor: Name | None = key("Name of the anchor of the machine.", None)
    rigging: Name | None = key("Name of the rigging (fittings at the cable head).", None)
    reel: Name | None = key("Name of the cable reel.", None)
    lead_off: list[LeadOffEntry] = key(
        "Turns of the rope between the conduit end and the machine, in that order, for "
        "either pulling end. Default: none, straight lead-off.",
        [],
        max_length=8,
    )
    ends: dict[Name, EndEntry] = key(
        'What differs at one end or pull point, by its name: [run.ends."vault V1"].',
        {},
        max_length=100,
    )
    can_splice: list[Name] = key(
        "Names of the pull points where a splice is allowed.", [], max_length=100
    )


class BankEntry(Entry):
    """Parallel ducts about the centerline of one run."""

    run: Name = key("Name of the run in the center of the bank.")
    rows: DuctCount = key("Rows of ducts, one above the other.")
    columns: DuctCount = key("Ducts in a row.")
    spacing: tuple[Spacing, Spacing] = key(
        "Spacing center to center: across a row, and between rows (US in, SI mm)."
    )
    cover: Cover = key("Concrete cover outside the ducts (US in, SI mm).")
    ducts: list[DuctName] = key(
        "Which run is in which duct: 'row-column: run', such as '1-2: F1'. Rows count from the "
        "top, columns from the left looking along the route.",
        [],
        max_length=400,
    )
    runs: list[Name] = key(
        "Names of other runs that may be pulled through the bank: each duct is checked for them.",
        [],
        max_length=100,
    )
    spacer_interval: Span | None = key(
        "Largest distance between spacers (US ft, SI m). Default: no spacers listed.", None
    )
    trench_side: Cover | None = key(
        "Working space between bank and trench side at the bottom, on each side (US in, SI mm). "
        "Default: no trench volumes.",
        None,
    )
    trench_slope: TrenchSlope | None = key(
        "Slope of the trench sides, horizontal for each vertical. Default: 0, vertical sides.", None
    )
    bedding: Cover | None = key("Bedding under the bank (US in, SI mm). Default: none.", None)
