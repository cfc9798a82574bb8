"""The tables of the model file for what pulls, holds, leads and feeds."""

from __future__ import annotations

from typing import Annotated

from pydantic import StrictBool

from route3d.model.rigging import HEAD_LENGTH
from route3d.modelfile.fields import (
    Angle,
    BoxSide,
    BrakeRating,
    Counts,
    Drag,
    Efficiency,
    Entry,
    Force,
    Friction,
    LeastForce,
    LeastSpan,
    Mass,
    Name,
    OneOf,
    PlanPoint,
    Radius,
    Size,
    Span,
    Speed,
    StockedEntry,
    Text,
    TradeSize,
    key,
)
from route3d.units import show

ANCHORS = ("conduit brace", "floor bolts", "vehicle", "work platform")


class GearEntry(Entry):
    """One gear of a pulling machine."""

    line_pull: Force = key("Rated line pull in this gear (US lbf, SI N).")
    speed: Speed | None = key(
        "Line speed in this gear (US ft/min, SI m/min); or give speeds.", None
    )
    speeds: list[tuple[LeastForce, Speed]] | None = key(
        "Points [load, speed] in order of increasing load, if the speed falls with load.",
        None,
        min_length=2,
        max_length=50,
    )
    name: Name | None = key("Name of the gear, such as low.", None)
    gauge: StrictBool = key("true if the machine's gauge is accurate in this gear.", True)


class MachineEntry(StockedEntry):
    """One pulling machine."""

    FILLED = ("gears",)

    stock: Text | None = key(
        "Name of a class of machine, such as 'capstan 6,000 lbf two-speed': invented figures, "
        "which replace gears until the nameplate is known.",
        None,
    )
    gears: list[GearEntry] | None = key("Gears, in any order.", min_length=1, max_length=30)
    envelope: tuple[Size, Size, Size] | None = key(
        "Length, width and height of the machine (US ft, SI m).", None
    )
    min_load: LeastForce = key("Minimum load it can hold steadily (US lbf, SI N).", 0.0)
    weight: Mass | None = key("Weight of the machine (US lb, SI kg).", None)
    efficiency: Efficiency = key("Share of the rated line pull that reaches the rope.", 1.0)
    boom_rating: Force | None = key("Rated load of the boom or head (US lbf, SI N).", None)
    line_height: Size | None = key(
        "Height of the rope line above the machine base (US ft, SI m).", None
    )
    clearance: LeastSpan | None = key("Working clearance required around it (US ft, SI m).", None)


class SheaveEntry(Entry):
    """One sheave that leads the rope off to the machine."""

    radius: Radius = key("Radius of the groove (US in, SI m).")
    rating: Force = key("Rated load of its fastening (US lbf, SI N).")
    efficiency: Efficiency = key(
        "Efficiency: tension in divided by tension out; 1 without friction.", 1.0
    )
    held_by: Text = key("What the sheave is fastened to.", "")


class LeadOffEntry(Entry):
    """One turn of the rope between the conduit end and the machine."""

    turn: Angle = key("Change of direction of the rope (degrees).")
    sheave: Name | None = key(
        "Name of the sheave; without one the rope turns over the conduit end.", None
    )
    distance: LeastSpan = key(
        "Rope length from the conduit end to this turn (US ft, SI m); cable pulled "
        "out that far runs over the sheave.",
        0.0,
    )


class AdapterEntry(Entry):
    """What couples a brace to the conduit end, for a range of trade sizes."""

    trade_sizes: tuple[TradeSize, TradeSize] = key("Smallest and largest trade size it fits.")
    light_rating: Force | None = key("Rating of the light clamp-on adapter (US lbf, SI N).", None)
    locked_rating: Force | None = key(
        "Rating of the positively locked adapter (US lbf, SI N).", None
    )


class AnchorEntry(Entry):
    """What holds the machine; its keys depend on its kind."""

    kind: Annotated[str, OneOf(lambda: ANCHORS)] = key(
        "'conduit brace', 'floor bolts', 'vehicle' or 'work platform'."
    )
    rating: Force | None = key("Conduit brace: rated load (US lbf, SI N).", None)
    adapters: list[AdapterEntry] | None = key(
        "Conduit brace: its adapters, by trade size.", None, max_length=30
    )
    bolts: list[tuple[PlanPoint, PlanPoint]] | None = key(
        "Floor bolts: [x, y] of each bolt, x toward the conduit and y across from "
        "the rope line (US ft, SI m).",
        None,
        min_length=1,
        max_length=100,
    )
    bolt_tension: Force | None = key(
        "Floor bolts: allowable tension per bolt (US lbf, SI N).", None
    )
    bolt_shear: Force | None = key("Floor bolts: allowable shear per bolt (US lbf, SI N).", None)
    weight: Mass | None = key("Vehicle: its weight (US lb, SI kg).", None)
    friction: Friction | None = key(
        "Vehicle: friction coefficient of the wheels on the ground, brakes set.", None
    )
    drawbar_rating: Force | None = key("Vehicle: drawbar rating (US lbf, SI N).", None)
    length: Size | None = key("Vehicle: its length (US ft, SI m).", None)
    width: Size | None = key("Vehicle: its width (US ft, SI m).", None)
    drawbar: LeastSpan | None = key(
        "Vehicle: length of the drawbar between vehicle and machine (US ft, SI m). Default: 0.",
        None,
    )
    brace: Name | None = key("Work platform: name of the conduit brace that takes the pull.", None)


class RiggingEntry(Entry):
    """Ratings of the fittings at the cable head."""

    swivel_rating: Force | None = key("Rated load of the swivel (US lbf, SI N).", None)
    grip_rating: Force | None = key("Rated load of the basket grip (US lbf, SI N).", None)
    eye_rating: Force | None = key("Rated load of the pulling eyes (US lbf, SI N).", None)
    head_length: Size | None = key(
        "Length of eyes or grip, swivel and links ahead of the cable (US ft, SI m). "
        f"Default: {show(HEAD_LENGTH, 'length', 'US')} or {show(HEAD_LENGTH, 'length', 'SI')}, "
        "assumed.",
        None,
    )


class CableReelEntry(Entry):
    """Reels of one cable that the runs are cut from, for `route3d reels`."""

    cable: Name = key("Name of the cable on the reels.")
    length: Span = key("Length of cable on one reel (US ft, SI m).")
    count: Annotated[int, Counts(10_000)] | None = key(
        "Number of such reels on hand. Default: as many as needed, to be ordered.", None
    )
    name: Text = key("Mark on the reels, for the cut list. Default: the name of the cable.", "")


class ReelEntry(Entry):
    """One cable reel and how it feeds the conduit."""

    weight: Mass | None = key("Weight of the full reel (US lb, SI kg).", None)
    diameter: BoxSide | None = key("Over the flanges (US in, SI mm).", None)
    width: BoxSide | None = key("Over the flanges (US in, SI mm).", None)
    drum_diameter: BoxSide | None = key(
        "Diameter of the drum under the last layer of cable (US in, SI mm).", None
    )
    reels: Annotated[int, Counts(40)] | None = key(
        "Number of reels that feed together. Default: one for each cable.", None
    )
    drag: Drag | None = key(
        "Drag of one reel: a force (US lbf, SI N), or the length of cable with the "
        'same weight, such as "25 ft". Default: 25 ft, assumed.',
        None,
    )
    brake_rating: BrakeRating | None = key(
        "Brake rating of one reel: a force at the full reel (US lbf, SI N) or a "
        'torque, such as "400 lbf ft".',
        None,
    )
    sheave_radius: Radius | None = key(
        "Radius of the sheave or guide at the conduit mouth (US in, SI m).", None
    )
    feed_turn: Angle | None = key("Turn of the cables on the feed sheave or guide (degrees).", None)
    feed_efficiency: Efficiency | None = key(
        "Efficiency of the feed sheave: tension in divided by tension out.", None
    )
    feed_friction: Friction | None = key(
        "Coefficient of friction of the cables on a feed guide.", None
    )
