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
        description="Points [load, speed], load rising, where the speed falls with load.",
    )
    name: Name | None = Field(None, description="What the crew calls it, such as low.")
    gauge: StrictBool = Field(True, description="Does the machine's gauge read true in this gear?")


class MachineEntry(Entry):
    """One pulling machine."""

    gears: list[GearEntry] = Field(
        min_length=1, max_length=30, description="Its gears, in any order."
    )
    envelope: tuple[Size, Size, Size] | None = Field(
        None, description="Length, width and height of the room it takes (US ft, SI m)."
    )
    min_load: LeastForce = Field(0.0, description="Least load it can hold steadily (US lbf, SI N).")
    weight: Mass | None = Field(None, description="Weight of the machine (US lb, SI kg).")
    efficiency: Efficiency = Field(
        1.0, description="Share of the rated line pull that reaches the rope."
    )
    boom_rating: Force | None = Field(
        None, description="Load its boom or head may carry (US lbf, SI N)."
    )
    line_height: Size | None = Field(
        None, description="Height of the rope line above its feet (US ft, SI m)."
    )
    clearance: LeastSpan | None = Field(
        None, description="Room people need around it (US ft, SI m)."
    )


class SheaveEntry(Entry):
    """One sheave that leads the rope off to the machine."""

    radius: Radius = Field(description="Radius of the groove (US in, SI m).")
    rating: Force = Field(description="Load its fastening may carry (US lbf, SI N).")
    efficiency: Efficiency = Field(
        1.0, description="Tension going in over that coming out; 1 without friction."
    )
    held_by: Text = Field("", description="What the sheave is fastened to, in words.")


class LeadOffEntry(Entry):
    """One turn of the rope between the conduit end and the machine."""

    turn: Angle = Field(description="Change of direction of the rope (degrees).")
    sheave: Name | None = Field(
        None, description="Key of the sheave; without one the rope turns over the conduit end."
    )
    distance: LeastSpan = Field(
        0.0,
        description="Rope from the conduit end to this turn (US ft, SI m); cable drawn out that "
        "far runs over the sheave.",
    )


class AdapterEntry(Entry):
    """What couples a brace to the conduit end, for a range of trade sizes."""

    trade_sizes: tuple[TradeSize, TradeSize] = Field(
        description="Smallest and largest trade size it takes."
    )
    light_rating: Force | None = Field(
        None, description="Load the light clamp-on adapter is good for (US lbf, SI N)."
    )
    locked_rating: Force | None = Field(
        None, description="Load the positively locked adapter is good for (US lbf, SI N)."
    )


class AnchorEntry(Entry):
    """What holds the machine; which keys it takes hangs on its kind."""

    kind: Annotated[str, OneOf(lambda: ANCHORS)] = Field(
        description="'conduit brace', 'floor bolts', 'vehicle' or 'work platform'."
    )
    rating: Force | None = Field(
        None, description="Conduit brace: load the brace may carry (US lbf, SI N)."
    )
    adapters: list[AdapterEntry] | None = Field(
        None, max_length=30, description="Conduit brace: its adapters, by trade size."
    )
    bolts: list[tuple[PlanPoint, PlanPoint]] | None = Field(
        None,
        min_length=1,
        max_length=100,
        description="Floor bolts: x toward the conduit and y across from the rope line, of each "
        "(US ft, SI m).",
    )
    bolt_tension: Force | None = Field(
        None, description="Floor bolts: allowable tension of one (US lbf, SI N)."
    )
    bolt_shear: Force | None = Field(
        None, description="Floor bolts: allowable shear of one (US lbf, SI N)."
    )
    weight: Mass | None = Field(None, description="Vehicle: its weight (US lb, SI kg).")
    friction: Friction | None = Field(
        None, description="Vehicle: friction of its wheels on the ground, brakes on."
    )
    drawbar_rating: Force | None = Field(
        None, description="Vehicle: load its drawbar may carry (US lbf, SI N)."
    )
    length: Size | None = Field(None, description="Vehicle: its length (US ft, SI m).")
    width: Size | None = Field(None, description="Vehicle: its width (US ft, SI m).")
    drawbar: LeastSpan | None = Field(
        None, description="Vehicle: drawbar between it and the machine (US ft, SI m). Default: 0."
    )
    brace: Name | None = Field(
        None, description="Work platform: key of the conduit brace that takes the pull."
    )


class RiggingEntry(Entry):
    """Ratings of the fittings at the cable head."""

    swivel_rating: Force | None = Field(None, description="Of the swivel (US lbf, SI N).")
    grip_rating: Force | None = Field(None, description="Of the basket grip (US lbf, SI N).")
    eye_rating: Force | None = Field(None, description="Of the pulling eyes (US lbf, SI N).")
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
        None, description="Of the drum the last cable lies on (US in, SI mm)."
    )
    reels: Annotated[int, Counts(40)] | None = Field(
        None, description="Number of reels that feed together. Default: one for each cable."
    )
    drag: Drag | None = Field(
        None,
        description="What one reel takes to turn, a force (US lbf, SI N), or the length of cable "
        'whose weight it equals, such as "25 ft". Default: 25 ft, assumed.',
    )
    brake_rating: BrakeRating | None = Field(
        None,
        description="What the brake of one reel can hold: a force at the full drum (US lbf, SI N) "
        'or a torque, such as "400 lbf ft".',
    )
    sheave_radius: Radius | None = Field(
        None, description="Radius of the sheave or guide at the conduit mouth (US in, SI m)."
    )
    feed_turn: Angle | None = Field(
        None, description="Turn of the cables on that sheave or guide (degrees)."
    )
    feed_efficiency: Efficiency | None = Field(
        None, description="Of the feed sheave: tension going in over that coming out."
    )
    feed_friction: Friction | None = Field(
        None, description="Coefficient of friction of the cables on a feed guide."
    )
