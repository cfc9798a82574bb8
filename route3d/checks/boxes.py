"""Is each pull box long enough for the cables that pass it, where the rules say how long."""

from __future__ import annotations

import math

from route3d.checks.finding import Finding, at_least
from route3d.geometry.vectors import angle_between, frozen, unit
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import say
from route3d.standards.conduits import EUROPEAN_DUCTS
from route3d.standards.rules import RuleSet
from route3d.standards.source import Fact
from route3d.standards.tables import NotInTable, trade_inches

_INCH = 0.0254
# Raceways entering opposite walls are a straight pull; a turn beyond this enters another wall.
_ANGLE_PULL = math.radians(30)
_MEDIUM_VOLTAGE = 1000.0  # NFPA 70 314.70: above 1000 V


def check_boxes(run: Run, practice: Practice) -> tuple[Finding, ...]:
    """The box of every vertex that gives one.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    tuple of Finding
        In the order of the route.
    """
    boxed = (i for i, v in enumerate(run.route.vertices) if v.box is not None)
    return tuple(f for i in boxed for f in _box(run, practice.rule_set, i))


def _box(run: Run, rules: RuleSet, index: int) -> tuple[Finding, ...]:
    vertex = run.route.vertices[index]
    assert vertex.box is not None
    length, width, _ = vertex.box
    angle = _turn(run, index) > _ANGLE_PULL
    fact = _needed(run, rules, index, angle)
    if fact is None:
        return ()
    kind = "angle pull" if angle else "straight pull"
    sides = "length and width" if angle else "length"
    found = at_least(
        f"pull box, {kind}",
        run.route.label(index),
        min(length, width) if angle else length,
        fact.value,
        "diameter",
        say(
            f"use a box with a {sides} of at least {{}} (for one run alone)",
            (fact.value, "diameter+"),
        ),
        str(fact.source),
    )
    return (found,)


def _needed(run: Run, rules: RuleSet, index: int, angle: bool) -> Fact | None:
    """Least box dimension: by cable diameter above 1000 V, else by trade size."""
    cable = run.cables.largest
    if cable.voltage is not None and cable.voltage > _MEDIUM_VOLTAGE:
        others = run.cables.diameters[1:]
        return rules.mv_box(cable.diameter, others, cable.shielded, angle)
    conduits = run.route.conduits[max(index - 1, 0) : index + 1]
    size = max(_trade_inches(c) for c in conduits)
    return rules.box(size, angle)


def _trade_inches(conduit: Conduit) -> float:
    """Trade size in inches; the bore where the conduit is metric or given by dimensions."""
    kind = conduit.stock_type
    if kind.startswith("EN-") or kind in EUROPEAN_DUCTS:  # sizes there are outside diameters in mm
        return conduit.inner_diameter / _INCH
    try:
        return trade_inches(conduit.trade_size)
    except (NotInTable, ValueError):
        return conduit.inner_diameter / _INCH


def _turn(run: Run, index: int) -> float:
    vertices = run.route.vertices
    if index in (0, len(vertices) - 1):
        return 0.0
    a, b, c = (frozen(vertices[i].point) for i in (index - 1, index, index + 1))
    return float(angle_between(unit(b - a), unit(c - b)))
