"""What each bend is made of: a factory elbow of standard or of special radius, or a field bend."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import Literal

from route3d.model.conduit import Conduit
from route3d.standards.conduits import sweep_radii
from route3d.standards.source import Fact
from route3d.standards.tables import INCH, NotInTable

Elbow = Literal["standard", "sweep", "field"]

# Turns factory elbows are made in (from memory; makers' lists differ in the small ones).
FACTORY_ANGLES = tuple(math.radians(a) for a in (11.25, 15.0, 22.5, 30.0, 45.0, 60.0, 90.0))
# What the couplings at both ends of an elbow give between them (common practice, no source).
_GIVE = math.radians(1.0)
# Radii this close are the same one, rounded: 30 in is 762 mm, often written 760 or 0.76 m.
_SAME_RADIUS = 0.005


def elbow_kind(conduit: Conduit, radius: float, angle: float) -> Elbow:
    """How a bend of ``radius`` m and ``angle`` rad is made in this conduit.

    A factory elbow has both a radius of the tables for its type and size, and a turn that elbows
    are made in; anything else is bent in the field, also where no table covers the conduit.

    Parameters
    ----------
    conduit : Conduit
        The conduit.
    radius : float
        Centerline, m.
    angle : float
        rad

    Returns
    -------
    Elbow
        How it is made.
    """
    if min(abs(angle - a) for a in FACTORY_ANGLES) > _GIVE:
        return "field"
    if conduit.elbow_radius is not None and _same(radius, conduit.elbow_radius):
        return "standard"
    return "sweep" if any(_same(radius, r) for r in _sweeps(conduit)) else "field"


def has_elbow_table(conduit: Conduit) -> bool:
    """True where a table of factory elbows covers the conduit.

    Parameters
    ----------
    conduit : Conduit
        The conduit.

    Returns
    -------
    bool
    """
    return conduit.elbow_radius is not None or bool(_sweeps(conduit))


def factory_elbow(
    conduit: Conduit, kind: Literal["elbow", "sweep"], angle: float, radius: float | None = None
) -> tuple[float, str]:
    """The radius of a factory elbow asked for by name, m, and which one it is.

    Parameters
    ----------
    conduit : Conduit
        The conduit.
    kind : {"elbow", "sweep"}
        The standard elbow, or one of special radius.
    angle : float
        rad
    radius : float, optional
        Centerline, m, where it was said.

    Returns
    -------
    tuple of float and str
        Radius of the table, m, and its source.

    Raises
    ------
    NotInTable
        Where no such elbow is made, with the nearest ones.
    """
    if min(abs(angle - a) for a in FACTORY_ANGLES) > _GIVE:
        near = sorted(FACTORY_ANGLES, key=lambda a: abs(a - angle))[:2]
        said = " and ".join(f"{math.degrees(a):g}°" for a in sorted(near))
        turn = f"{math.degrees(angle):.4g}°"
        raise NotInTable(f"no factory {kind} is made for a bend of {turn}; nearest: {said}")
    if kind == "elbow":
        return _standard_elbow(conduit, radius)
    sweeps = _sweep_facts(conduit.stock_type, conduit.trade_size) if conduit.stock_type else ()
    if not sweeps:
        raise NotInTable(f"the tables have no sweep of {conduit.label}")
    if radius is None:
        if len(sweeps) == 1:
            return sweeps[0].value, f"{sweeps[0].label} ({sweeps[0].source.title})"
        raise NotInTable(f"a sweep of {conduit.label} has no radius; made: {_inches(sweeps)}")
    for fact in sweeps:
        if _same(radius, fact.value):
            return fact.value, f"{fact.label} ({fact.source.title})"
    nearest = sorted(sorted(sweeps, key=lambda f: abs(f.value - radius))[:2], key=lambda f: f.value)
    raise NotInTable(
        f"no sweep of {conduit.label} has a radius of {radius / INCH:.4g} in "
        f"({radius:.3f} m); nearest: {_inches(nearest)}"
    )


def _standard_elbow(conduit: Conduit, radius: float | None) -> tuple[float, str]:
    if conduit.elbow_radius is None:
        raise NotInTable(f"the tables have no standard elbow of {conduit.label}")
    if radius is None or _same(radius, conduit.elbow_radius):
        return conduit.elbow_radius, conduit.elbow_source
    inches = f"{conduit.elbow_radius / INCH:.4g} in ({conduit.elbow_radius:.3f} m)"
    raise NotInTable(f"the standard elbow of {conduit.label} has a radius of {inches}")


def _inches(facts: Sequence[Fact]) -> str:
    return ", ".join(f"{fact.value / INCH:g} in" for fact in facts)


def _same(radius: float, table: float) -> bool:
    return abs(radius - table) <= _SAME_RADIUS * table


def _sweeps(conduit: Conduit) -> tuple[float, ...]:
    """Radii of the special elbows made for a conduit, m; none where no table covers it."""
    facts = _sweep_facts(conduit.stock_type, conduit.trade_size) if conduit.stock_type else ()
    return tuple(fact.value for fact in facts)


@cache
def _sweep_facts(stock_type: str, trade_size: str) -> tuple[Fact, ...]:
    try:
        return sweep_radii(stock_type, trade_size)
    except NotInTable:
        return ()
