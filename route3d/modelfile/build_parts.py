"""Cables, conduits and ropes from their tables in the model file."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from route3d.model import Cable, Conductor, Conduit, Rope
from route3d.modelfile.problems import Collector

if TYPE_CHECKING:
    from route3d.modelfile.entries import CableEntry, ConduitEntry, RopeEntry
    from route3d.standards.conduits import ConduitSize
    from route3d.standards.rules import RuleSet


def build_cable(name: str, entry: CableEntry, report: Collector) -> Cable:
    """A Cable; reports conductors that do not go into it."""
    wire = entry.conductor
    metal_area, whole = wire.count * wire.area.area, math.pi / 4 * entry.diameter**2
    if metal_area >= whole:
        report.add(
            ("cable", name, "conductor", "area"),
            f"{wire.count} x {wire.area.text} exceeds the cable's cross-section, "
            f"{report.show(whole, 'area')}",
            "check the size, the count and the diameter of the cable",
        )
    return Cable(
        name=name,
        diameter=entry.diameter,
        weight=entry.weight,
        conductor=Conductor(
            metal="copper" if wire.metal == "copper" else "aluminium",
            area=wire.area.area,
            count=wire.count,
            max_stress=wire.max_stress,
            size=wire.area.text,
        ),
        sidewall_limit=entry.sidewall_limit,
        bend_multiple=entry.bend_multiple,
        about=entry.about,
        max_tension=entry.max_tension,
        shielded=entry.shielded,
        voltage=entry.voltage,
        main=entry.main,
        bend_to=entry.bend_to,
        training_multiple=entry.training_multiple,
        max_grip_tension=entry.max_grip_tension,
        max_eye_tension=entry.max_eye_tension,
        jacket=entry.jacket or "",
        armor=entry.armor or "",  # type: ignore[arg-type]  # a word of ARMORS
        lowest_temperature=entry.lowest_temperature,
    )


def build_rope(name: str, entry: RopeEntry, report: Collector) -> Rope:
    """A Rope; reports a breaking strength below the working load."""
    breaking = entry.breaking_strength
    if breaking is not None and breaking < entry.rated_load:
        report.add(
            ("rope", name, "breaking_strength"),
            f"{report.show(breaking, 'force')} is less than the rated load, "
            f"{report.show(entry.rated_load, 'force')}",
            "enter the working load as rated_load",
        )
    return Rope(name, **entry.model_dump())


def build_conduit(
    name: str, entry: ConduitEntry, report: Collector, rules: RuleSet
) -> Conduit | None:
    """A Conduit from plain dimensions or the stock tables; None where a problem was reported.

    The least radius of a field bend is that of the ``rules``.
    """
    if entry.type is not None and entry.material is not None:
        fix = f"remove material: type {entry.type} defines it"
        report.add(("conduit", name, "material"), "material is for plain dimensions only", fix)
        return None
    if entry.type is None and entry.trade_size is None:
        return _plain_conduit(name, entry, report)
    if entry.type is None or entry.trade_size is None:
        given, other = ("trade_size", "type") if entry.type is None else ("type", "trade_size")
        report.add(("conduit", name, given), f"{given} requires {other}", f"add {other}")
        return None
    return _stock_conduit(name, entry, report, rules)


def _plain_conduit(name: str, entry: ConduitEntry, report: Collector) -> Conduit | None:
    inner, outer = entry.inner_diameter, entry.outer_diameter
    if inner is None or outer is None:
        missing = "inner_diameter" if inner is None else "outer_diameter"
        fix = "add it, or a stock type with its trade_size (`route3d stock conduit` lists them)"
        report.add(("conduit", name, missing), f"{missing} is missing", fix)
        return None
    if not _is_pipe(name, inner, outer, report):
        return None
    material = entry.material or ""
    return Conduit(name, inner, outer, material=material, **_friction(name, entry, report))


def _friction(name: str, entry: ConduitEntry, report: Collector) -> dict[str, Any]:
    """The friction of a Conduit with its range; reports a value outside the range."""
    given = entry.friction
    for key, wrong in (
        ("low", given.low is not None and given.low > given.value),
        ("high", given.high is not None and given.high < given.value),
    ):
        if wrong:
            side = "above" if key == "low" else "below"
            report.add(
                ("conduit", name, "friction", key),
                f"{key} = {getattr(given, key):g} is {side} the value of {given.value:g}",
                "the value must be between low and high",
            )
    return {
        "friction": given.value,
        "friction_low": given.low,
        "friction_high": given.high,
        "friction_source": given.source,
    }


def _is_pipe(name: str, inner: float, outer: float, report: Collector) -> bool:
    if inner < outer:
        return True
    report.add(
        ("conduit", name, "inner_diameter"),
        f"the inner diameter {report.show(inner, 'diameter')} is not less than the outer "
        f"diameter {report.show(outer, 'diameter')}",
        "check both",
    )
    return False


def _stock_conduit(
    name: str, entry: ConduitEntry, report: Collector, rules: RuleSet
) -> Conduit | None:
    stock = _look_up(name, entry, report)
    if stock is None:
        return None
    inner = entry.inner_diameter or stock.inner_diameter
    outer = entry.outer_diameter or stock.outer_diameter
    label = f"{stock.stock_type} {stock.trade_size}"
    if outer is None:
        report.add(
            ("conduit", name, "outer_diameter"),
            f"the tables have no outer diameter of {label}",
            "enter outer_diameter, from the maker's data sheet",
        )
        return None
    if not _is_pipe(name, inner, outer, report):
        return None
    from route3d.model.conduit import stock_conduit

    friction = _friction(name, entry, report)
    given = entry.inner_diameter
    return stock_conduit(name, stock, rules, outer=outer, inner=given, **friction)


def _look_up(name: str, entry: ConduitEntry, report: Collector) -> ConduitSize | None:
    from route3d.standards.conduits import conduit_size
    from route3d.standards.tables import NotInTable

    try:
        return conduit_size(entry.type or "", entry.trade_size or "")
    except NotInTable as error:
        report.add(("conduit", name, "trade_size"), str(error))
        return None
