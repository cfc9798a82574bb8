"""Is each bend made so that it fits: dog-legs between field bends, straights for the couplings."""

from __future__ import annotations

import math

from route3d.checks.finding import Finding, at_least, at_most
from route3d.geometry.figures import DOG_LEG
from route3d.geometry.schedule import ScheduledBend
from route3d.model.route import Route
from route3d.phrase import say
from route3d.planning.bend_margins import BendMargin
from route3d.planning.shop import ShopBend

_PRACTICE = "common practice, no source"


def shop_findings(
    route: Route, bend: ScheduledBend, made: ShopBend, margin: BendMargin
) -> tuple[Finding, ...]:
    """What the shop asks of one bend; broken it is a caution, for it can be dressed on site."""
    where = route.bend_label(bend.number, bend.vertex)
    return (*_dog_leg(where, bend, made), *_coupling(route, where, bend, made, margin))


def _dog_leg(where: str, bend: ScheduledBend, made: ShopBend) -> list[Finding]:
    if math.isnan(made.dog_leg):
        return []
    fix = say("turn the stick by {} between the two bends", (abs(bend.roll), "angle"))
    return [
        at_most(
            "dog-leg",
            where,
            made.dog_leg,
            DOG_LEG,
            "angle",
            fix,
            _PRACTICE,
            station=bend.station,
            broken="caution",
            close=False,
        )
    ]


def _coupling(
    route: Route, where: str, bend: ScheduledBend, made: ShopBend, margin: BendMargin
) -> list[Finding]:
    """A factory elbow needs a straight at both ends to be coupled: one diameter at least."""
    if made.elbow == "field":
        return []
    least = route.conduits[bend.leg].outer_diameter
    fix = say("leave at least {} of straight at both ends", (least, "radius+"))
    return [
        at_least(
            "straight for the coupling",
            where,
            margin.room,
            least,
            "radius",
            fix,
            _PRACTICE,
            station=bend.station,
            broken="caution",
        )
    ]
