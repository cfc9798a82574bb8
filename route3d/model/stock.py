"""A conduit of the stock tables: its dimensions, its factory elbow and its least field bend."""

from __future__ import annotations

from typing import Any

from route3d.model.conduit import Conduit
from route3d.standards.conduits import ConduitSize, standard_elbow_radius
from route3d.standards.rules import RuleSet
from route3d.standards.source import Fact
from route3d.standards.tables import NotInTable


def stock_conduit(
    name: str,
    size: ConduitSize,
    rules: RuleSet,
    *,
    outer: float,
    inner: float | None = None,
    **friction: Any,
) -> Conduit:
    """The Conduit of a stock size, with ``friction`` and its range as fields of the record.

    ``inner`` m replaces the bore of the table; the least radius of a field bend is that of the
    ``rules``.
    """
    elbow, least = _elbow(size), rules.conduit_bend_radius(size.stock_type, size.trade_size)
    field = (None, "") if least is None else _cited(least)
    return Conduit(
        name=name,
        inner_diameter=size.inner_diameter if inner is None else inner,
        outer_diameter=outer,
        **friction,
        stock_type=size.stock_type,
        trade_size=size.trade_size,
        source=str(size.source) if inner is None else "given",
        doubtful=size.estimate and inner is None,
        elbow_radius=elbow[0],
        elbow_source=elbow[1],
        min_bend_radius=field[0],
        min_bend_source=field[1],
    )


def _elbow(size: ConduitSize) -> tuple[float | None, str]:
    """Radius (m) and source of the factory elbow, with None where not tabulated."""
    try:
        return _cited(standard_elbow_radius(size.stock_type, size.trade_size))
    except NotInTable:
        return None, ""


def _cited(fact: Fact) -> tuple[float, str]:
    return fact.value, f"{fact.label} ({fact.source.words or fact.source.title})"
