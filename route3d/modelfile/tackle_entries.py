"""The tables of the model file for what pulls, holds, leads and feeds."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, StrictBool

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
    Speed,
    Text,
    TradeSize,
)
from route3d.units import show

ANCHORS = ("conduit brace", "floor bolts", "vehicle", "work platform")


class GearEntry(Entry):
    """One gear of a pulling machine."""

    line_pull: Force = Field(description="Rated line pull in this gear (US lbf, SI N).")
    speed: Speed | None = Field(
        None, description="Line speed in this gear (US ft/min, SI m/min); or give speeds."
    )
    speeds: list[tuple[LeastForce, Speed]] | None = Field(
        None,
        min_length=2,
        max_length=50,
        description="Points [load, speed] in order of increasing load, if the speed falls with "
        "load.",
    )
    name: Name | None = Field(None, description="Name of the gear, such as low.")
    gauge: StrictBool = Field(
        True, description="true if the machine's gauge is accurate in this gear."
    )


class MachineEntry(Entry):
    """One pulling machine."""

    gears: list[GearEntry] = Field(min_length=1, max_length=30, description="Gears, in any order.")
    envelope: tuple[Size, Size, Size] | None = Field(
        None, description="Length, width and height of the machine (US ft, SI m)."
    )
    min_load: LeastForce = Field(
        0.0, description="Minimum load it can hold steadily (US lbf, SI N)."
    )
    weight: Mass | None = Field(None, description="Weight of the machine (US lb, SI kg).")
    efficiency: Efficiency = Field(
        1.0, description="Share of the rated line pull that reaches the rope."
    )
    boom_rating: Force | None = Field(
        None, description="Rated load of the boom or head (US lbf, SI N)."
    )
    line_height: Size | None = Field(
        None, description="Height of the rope line above the machine base (US ft, SI m)."
    )
    clearance: LeastSpan | None = Field(
        None, description="Working clearance required around it (US ft, SI m)."
    )


class SheaveEntry(Entry):
    """One sheave that leads the rope off to the machine."""

    radius: Radius = Field(description="Radius of the groove (US in, SI m).")
    rating: Force = Field(description="Rated load of its fastening (US lbf, SI N).")
    efficiency: Efficiency = Field(
        1.0, description="Efficiency: tension in divided by tension out; 1 without friction."
    )
    held_by: Text = Field("", description="What the sheave is fastened to.")


class LeadOffEntry(Entry):
    """One turn of the rope between the conduit end and the machine."""

    turn: Angle = Field(description="Change of direction of the rope (degrees).")
    sheave: Name | None = Field(
        None, description="Name of the sheave; without one the rope turns over the conduit end."
    )
    distance: LeastSpan = Field(
        0.0,
        description="Rope length from the conduit end to this turn (US ft, SI m); cable pulled "
        "out that far runs over the sheave.",
    )


class AdapterEntry(Entry):
    """What couples a brace to the conduit end, for a range of trade sizes."""

    trade_sizes: tuple[TradeSize, TradeSize] = Field(
        description="Smallest and largest trade size it fits."
    )
    light_rating: Force | None = Field(
        None, description="Rating of the light clamp-on adapter (US lbf, SI N)."
    )
    locked_rating: Force | None = Field(
        None, description="Rating of the positively locked adapter (US lbf, SI N)."
    )


class AnchorEntry(Entry):
    """What holds the machine; which keys it takes hangs on its kind."""

    kind: Annotated[str, OneOf(lambda: ANCHORS)] = Field(
        description="'conduit brace', 'floor bolts', 'vehicle' or 'work platform'."
    )
    rating: Force | None = Field(None, description="Conduit brace: rated load (US lbf, SI N).")
    adapters: list[AdapterEntry] | None = Field(
        None, max_length=30, description="Conduit brace: its adapters, by trade size."
    )
    bolts: list[tuple[PlanPoint, PlanPoint]] | None = Field(
        None,
        min_length=1,
        max_length=100,
        description="Floor bolts: [x, y] of each bolt, x toward the conduit and y across from "
        "the rope line (US ft, SI m).",
    )
    bolt_tension: Force | None = Field(
        None, description="Floor bolts: allowable tension per bolt (US lbf, SI N)."
    )
    bolt_shear: Force | None = Field(
        None, description="Floor bolts: allowable shear per bolt (US lbf, SI N)."
    )
    weight: Mass | None = Field(None, description="Vehicle: its weight (US lb, SI kg).")
    friction: Friction | None = Field(
        None, description="Vehicle: friction coefficient of the wheels on the ground, brakes set."
    )
    drawbar_rating: Force | None = Field(
        None, description="Vehicle: drawbar rating (US lbf, SI N)."
    )
    length: Size | None = Field(None, description="Vehicle: its length (US ft, SI m).")
    width: Size | None = Field(None, description="Vehicle: its width (US ft, SI m).")
    drawbar: LeastSpan | None = Field(
        None,
        description="Vehicle: length of the drawbar between vehicle and machine (US ft, SI m). "
        "Default: 0.",
    )
    brace: Name | None = Field(
        None, description="Work platform: name of the conduit brace that takes the pull."
    )


class RiggingEntry(Entry):
    """Ratings of the fittings at the cable head."""

    swivel_rating: Force | None = Field(
        None, description="Rated load of the swivel (US lbf, SI N)."
    )
    grip_rating: Force | None = Field(
        None, description="Rated load of the basket grip (US lbf, SI N)."
    )
    eye_rating: Force | None = Field(
        None, description="Rated load of the pulling eyes (US lbf, SI N)."
    )
    head_length: Size | None = Field(
        None,
        description="Length of eyes or grip, swivel and links ahead of the cable (US ft, SI m). "
        f"Default: {show(HEAD_LENGTH, 'length', 'US')} or {show(HEAD_LENGTH, 'length', 'SI')}, "
        "assumed.",
    )


class ReelEntry(Entry):
    """One cable reel and how it feeds the conduit."""

    weight: Mass | None = Field(None, description="Weight of the full reel (US lb, SI kg).")
    diameter: BoxSide | None = Field(None, description="Over the flanges (US in, SI mm).")
    width: BoxSide | None = Field(None, description="Over the flanges (US in, SI mm).")
    drum_diameter: BoxSide | None = Field(
        None, description="Diameter of the drum under the last layer of cable (US in, SI mm)."
    )
    reels: Annotated[int, Counts(40)] | None = Field(
        None, description="Number of reels that feed together. Default: one for each cable."
    )
    drag: Drag | None = Field(
        None,
        description="Drag of one reel: a force (US lbf, SI N), or the length of cable with the "
        'same weight, such as "25 ft". Default: 25 ft, assumed.',
    )
    brake_rating: BrakeRating | None = Field(
        None,
        description="Brake rating of one reel: a force at the full reel (US lbf, SI N) or a "
        'torque, such as "400 lbf ft".',
    )
    sheave_radius: Radius | None = Field(
        None, description="Radius of the sheave or guide at the conduit mouth (US in, SI m)."
    )
    feed_turn: Angle | None = Field(
        None, description="Turn of the cables on the feed sheave or guide (degrees)."
    )
    feed_efficiency: Efficiency | None = Field(
        None, description="Efficiency of the feed sheave: tension in divided by tension out."
    )
    feed_friction: Friction | None = Field(
        None, description="Coefficient of friction of the cables on a feed guide."
    )
