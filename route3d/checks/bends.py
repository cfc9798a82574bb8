"""Are the bends legal: for the cable, for the conduit, and between pull points."""

from __future__ import annotations

import math

import numpy as np

from route3d.checks.finding import Finding, at_least, at_most
from route3d.checks.sections import sections
from route3d.geometry.bend_schedule import largest_radius, leg_rooms
from route3d.geometry.path import ARC, Path
from route3d.model.cable import Cable
from route3d.model.conduit import Conduit
from route3d.model.origin import from_tables
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say

# A radius up to so many times that of the standard elbow is one, rounded.
_AN_ELBOW = 1.02
# Coordinates make four right angles a hair more than that: what is printed as the limit is it.
_SAME_TURN = math.radians(0.05)


def check_bends(run: Run, practice: Practice, path: Path) -> tuple[Finding, ...]:
    """Every bend against the cable's and the conduit's least radius, then the degrees.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    path : Path
        The centerline, n segments.

    Returns
    -------
    tuple of Finding
        Bend by bend, then the turn between pull points.
    """
    findings: list[Finding] = []
    rooms = leg_rooms(path)
    for number, segment in enumerate(np.flatnonzero(path.kind == ARC), start=1):
        vertex = run.route.vertices[int(path.vertex[segment])]
        where = run.route.bend_label(number, int(path.vertex[segment]))
        radius, station = float(path.radii[segment]), float(path.stations[segment])
        conduit = run.route.conduits[int(path.leg[segment])]
        fits = largest_radius(path, int(segment), rooms)
        findings.append(_cable_radius(run, conduit, where, radius, station, fits))
        findings += _conduit_radius(conduit, where, radius, station, vertex.bend_source, fits)
        findings += _duct_radius(practice, conduit, where, radius, station)
    return (*findings, *_degrees(run, practice, path))


def least_radius(run: Run, practice: Practice, conduit: Conduit) -> float:
    """The least radius (m) of a bend in ``conduit`` that the rules of this module do not stop.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    conduit : Conduit
        The conduit.

    Returns
    -------
    float
        m
    """
    cable = max(_needed(c, conduit) for c, _ in run.cables.items)
    given = [r for r in (conduit.min_bend_radius, conduit.elbow_radius) if r is not None]
    return max(cable, min(given, default=0.0))


def special_below(conduit: Conduit) -> float | None:
    """The radius (m) below which a bend takes a special bender or elbow: a caution, not a stop.

    Parameters
    ----------
    conduit : Conduit
        The conduit.

    Returns
    -------
    float or None
        m; None where no radius that may be built needs either.
    """
    least, elbow = conduit.min_bend_radius, conduit.elbow_radius
    if least is None or elbow is None or elbow * _AN_ELBOW >= least:
        return None
    return least


def _needed(cable: Cable, conduit: Conduit) -> float:
    """Centerline radius a cable asks for in a conduit, m.

    The cable lies on the inner wall of the bend, so its multiple counts from there, unless its
    source measures to the centerline (``bend_to``).
    """
    return cable.min_bend_radius + _inset(cable, conduit)


def _inset(cable: Cable, conduit: Conduit) -> float:
    return conduit.inner_diameter / 2 if cable.bend_to == "inside" else 0.0


def _wider(least: float, fits: float, smaller: str) -> Phrase:
    """What to do for a centerline radius of at least ``least`` m where ``fits`` m has room."""
    if least <= fits:
        return say("increase the centerline bend radius to at least {}", (least, "radius+"))
    return say(
        f"move the route points apart, or use a {smaller} with a smaller minimum bend radius: "
        "this one requires {} on the centerline; the maximum that fits between the "
        "adjacent bends is {}",
        (least, "radius+"),
        (fits, "radius-"),
    )


def _cable_radius(
    run: Run, conduit: Conduit, where: str, radius: float, station: float, fits: float
) -> Finding:
    """Least radius while pulling: at the inner wall, or on the centerline where so given."""
    cable = max((c for c, _ in run.cables.items), key=lambda c: _needed(c, conduit))
    fix = _wider(_needed(cable, conduit), fits, "cable")
    measured = "at the inner wall, R - ID/2" if cable.bend_to == "inside" else "on the centerline"
    by = dict(from_tables(cable)).get("bend_multiple")
    who = "given" if by is None else str(by.source)
    source = (
        f"{who}: {cable.bend_multiple:g} x the diameter of {cable.name} while pulling, {measured}"
    )
    return at_least(
        "cable bend radius",
        where,
        radius - _inset(cable, conduit),
        cable.min_bend_radius,
        "radius",
        fix,
        source,
        station=station,
    )


def _conduit_radius(
    conduit: Conduit, where: str, radius: float, station: float, bend_source: str, fits: float
) -> list[Finding]:
    """Least radius of the conduit: field bend, or the factory elbow of its trade size.

    Between the two it takes a bender that makes a bend in one shot, or a special elbow.
    """
    least, source = conduit.min_bend_radius, conduit.min_bend_source
    if least is None:
        return []
    elbow = conduit.elbow_radius
    if elbow is not None and elbow * _AN_ELBOW < radius < least:
        between = say(
            "requires a one-shot or full-shoe bender (metal conduit), or a special elbow of "
            f"this radius; the standard elbow is {{}} ({literal(conduit.elbow_source)})",
            (elbow, "radius"),
        )
        return [
            Finding(
                "conduit bend radius",
                "caution",
                where,
                radius,
                least,
                "radius",
                between,
                source,
                station,
                least / radius,
            )
        ]
    if elbow is not None and elbow * (1 - 1e-6) <= radius < least:
        factory = say(
            "standard elbow: judged by the elbow table; a field bend would require {} "
            f"({literal(source)})",
            (least, "radius"),
        )
        return [
            Finding(
                "conduit bend radius",
                "note" if bend_source == "given" else "ok",
                where,
                radius,
                elbow,
                "radius",
                factory,
                conduit.elbow_source,
                station,
                elbow / radius,
            )
        ]
    fix = _wider(least, fits, "conduit")
    if elbow is not None and elbow < least:
        fix = _wider(elbow, fits, "conduit")
        if elbow <= fits:
            fix = say("use a standard elbow, radius {}", (elbow, "radius+"))
            if least <= fits:
                fix += say(", or a field bend of at least {} on the centerline", (least, "radius+"))
    return [
        at_least(
            "conduit bend radius", where, radius, least, "radius", fix, source, station=station
        )
    ]


def _duct_radius(
    practice: Practice, conduit: Conduit, where: str, radius: float, station: float
) -> list[Finding]:
    """Least radius of a duct bend by the rules, whatever the duct itself can be bent to."""
    ruling = practice.rule_set.duct_bend_radius(conduit.stock_type)
    if ruling is None:
        return []
    least, source = ruling.fact.value, str(ruling.fact.source)
    return [
        at_least(
            "duct bend radius",
            where,
            radius,
            least,
            "radius",
            say("increase the centerline bend radius to at least {}", (least, "radius+")),
            source,
            station=station,
            broken=ruling.broken,
        )
    ]


def check_conduits(run: Run) -> tuple[Finding, ...]:
    """The conduits for which no table gives a minimum bend radius, each reported once.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    tuple of Finding
        One for each such conduit.
    """
    unknown = say("get the minimum bend radius from the conduit maker's data sheet")
    nan, why = float("nan"), "no table value for this conduit"
    return tuple(
        Finding(
            "conduit bend radius", "note", f"conduit {c.name}", nan, nan, "radius", unknown, why
        )
        for c in dict.fromkeys(run.route.conduits)
        if c.min_bend_radius is None
    )


def turn_as_judged(turn: float, limit: float) -> float:
    """A sum of bends (rad), or the limit of it where it is printed as that.

    Parameters
    ----------
    turn, limit : float
        rad

    Returns
    -------
    float
        rad
    """
    return limit if abs(turn - limit) < _SAME_TURN else turn


def _degrees(run: Run, practice: Practice, path: Path) -> list[Finding]:
    """Sum of bends between neighboring pull points, where the rules limit it."""
    findings = []
    for section in sections(run, path):
        ruling = practice.rule_set.turn(section.conduits[0].stock_type)
        if ruling is None:
            continue
        limit = ruling.fact
        findings.append(
            at_most(
                "degrees between pull points",
                section.where,
                turn_as_judged(section.turn, limit.value),
                limit.value,
                "angle",
                say("add a pull point between them"),
                str(limit.source),
                broken=ruling.broken,
                close=False,  # four quarter bends are legal and usual
            )
        )
    return findings
