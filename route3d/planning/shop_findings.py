"""Is each bend made so that it fits: dog-legs, and straights for the bender and the couplings."""

from __future__ import annotations

import math

from route3d.checks.finding import Finding, at_least, at_most, worst_first
from route3d.geometry.figures import DOG_LEG
from route3d.geometry.route_path import route_schedule
from route3d.geometry.schedule import ScheduledBend, leg_rooms
from route3d.model.route import Route
from route3d.phrase import say
from route3d.planning.result import RunResult
from route3d.planning.shop import ShopBend, shop_sheet

_PRACTICE = "common practice, no source"


def all_findings(run: RunResult) -> tuple[Finding, ...]:
    """The findings of a run with what the shop asks of its bends, worst first."""
    route, rooms = run.run.route, leg_rooms(run.path)
    shop = shop_sheet(route, run.path, run.practice)
    asked = [
        finding
        for bend, made in zip(route_schedule(route, run.path), shop.bends, strict=True)
        for finding in shop_findings(
            route, bend, made, float(min(rooms[bend.vertex - 1], rooms[bend.vertex]))
        )
    ]
    return worst_first((*run.findings, *asked))


def shop_findings(
    route: Route, bend: ScheduledBend, made: ShopBend, room: float
) -> tuple[Finding, ...]:
    """What the shop asks of one bend; broken it is a caution, for it can be dressed on site.

    ``room`` m is the straight on the shorter of its two legs.
    """
    where = route.bend_label(bend.number, bend.vertex)
    return (
        *_dog_leg(where, bend, made),
        *_coupling(route, where, bend, made, room),
        *_bender(route, where, bend, made),
    )


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
    route: Route, where: str, bend: ScheduledBend, made: ShopBend, room: float
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
            room,
            least,
            "radius",
            fix,
            _PRACTICE,
            station=bend.station,
            broken="caution",
        )
    ]


def _bender(route: Route, where: str, bend: ScheduledBend, made: ShopBend) -> list[Finding]:
    """A field bend is held by a straight at both ends of its stick, and lies in one stick."""
    if made.marks is None:
        return []
    least = route.conduits[bend.leg].outer_diameter
    held = min(made.marks.start, made.marks.rest)
    if made.marks.over:
        fix = say("bend it from longer sticks (--stick), or make it of factory elbows")
        found = Finding(
            "field bend over a joint",
            "caution",
            where,
            bend.arc_length,
            math.nan,
            "radius",
            fix,
            _PRACTICE,
            bend.station,
        )
        return [found]
    fix = say(
        "a bend at the end of a stick cannot be made: leave at least {} of straight of the same "
        "conduit there, or bend it from a longer stick and cut that off",
        (least, "radius+"),
    )
    return [
        at_least(
            "straight for the bender",
            where,
            held if held > 1e-6 else 0.0,
            least * (1 - 1e-6),  # where joints are set just so far off
            "radius",
            fix,
            _PRACTICE,
            station=bend.station,
            broken="caution",
        )
    ]
