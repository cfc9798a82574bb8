"""What each bend is made of: a factory elbow of standard or of special radius, or a field bend."""

from __future__ import annotations

import math
from functools import cache
from typing import Literal

from route3d.model.conduit import Conduit
from route3d.standards.conduits import sweep_radii
from route3d.standards.tables import NotInTable

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


def _same(radius: float, table: float) -> bool:
    return abs(radius - table) <= _SAME_RADIUS * table


def _sweeps(conduit: Conduit) -> tuple[float, ...]:
    """Radii of the special elbows made for a conduit, m; none where no table covers it."""
    return _sweeps_of(conduit.stock_type, conduit.trade_size) if conduit.stock_type else ()


@cache
def _sweeps_of(stock_type: str, trade_size: str) -> tuple[float, ...]:
    try:
        return tuple(fact.value for fact in sweep_radii(stock_type, trade_size))
    except NotInTable:
        return ()
