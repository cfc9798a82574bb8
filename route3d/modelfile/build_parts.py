"""Cables, conduits and ropes from their tables in the model file."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from route3d.errors import InputError
from route3d.model import Cable, Conductor, Conduit, Rope
from route3d.model.origin import Figures
from route3d.modelfile.fields import brief
from route3d.modelfile.problems import Collector
from route3d.modelfile.toml_positions import KeyPath
from route3d.standards.friction import DRY
from route3d.standards.source import Fact

if TYPE_CHECKING:
    from route3d.field.history import LearnedFriction
    from route3d.modelfile.entries import CableEntry, ConduitEntry, FrictionEntry, RopeEntry
    from route3d.standards.conduits import ConduitSize
    from route3d.standards.rules import RuleSet
    from route3d.standards.stock import CableStock, FrictionStock


def build_cable(name: str, entry: CableEntry, report: Collector) -> Cable | None:
    """A Cable; reports conductors that do not go into it. None where a figure is missing."""
    place: KeyPath = ("cable", name)
    stock = None
    if entry.stock is not None:
        from route3d.standards.stock import cable_named

        stock = named(cable_named, entry.stock, place, report)
        if stock is None:
            return None
    figures = _Figures(entry, {} if stock is None else stock.facts, place, report)
    diameter, weight = figures.of("diameter"), figures.of("weight")
    wire = _conductor(entry, stock, figures)
    sidewall, bend = figures.of("sidewall_limit"), figures.of("bend_multiple")
    if figures.short or wire is None:
        return None
    metal_area, whole = wire.count * wire.area, math.pi / 4 * diameter**2
    if metal_area >= whole:
        report.add(
            (*place, "conductor", "area") if entry.conductor else (*place, "diameter"),
            f"{wire.count} x {wire.size} exceeds the cable's cross-section, "
            f"{report.show(whole, 'area')}",
            "check the size, the count and the diameter of the cable",
        )
    given = entry.model_fields_set
    shielded = stock.shielded if stock is not None and "shielded" not in given else entry.shielded
    voltage = stock.voltage if stock is not None and entry.voltage is None else entry.voltage
    return Cable(
        name=name,
        diameter=diameter,
        weight=weight,
        conductor=wire,
        sidewall_limit=sidewall,
        bend_multiple=bend,
        about=entry.about or ("" if stock is None else stock.name),
        max_tension=entry.max_tension,
        shielded=shielded,
        voltage=voltage,
        main=entry.main,
        bend_to=entry.bend_to,
        training_multiple=entry.training_multiple,
        max_grip_tension=entry.max_grip_tension,
        max_eye_tension=entry.max_eye_tension,
        jacket=entry.jacket or ("" if stock is None else stock.jacket),
        armor=entry.armor or ("" if stock is None else stock.armor),  # type: ignore[arg-type]
        lowest_temperature=entry.lowest_temperature,
        stock="" if stock is None else stock.name,
        tables=tuple(figures.taken.items()),
    )


def _conductor(entry: CableEntry, stock: CableStock | None, figures: _Figures) -> Conductor | None:
    wire = entry.conductor
    if wire is None:
        if stock is None:
            return None
        figures.taken["conductor.area"] = stock.area
        metal = "copper" if stock.metal == "copper" else "aluminium"
        return Conductor(
            metal, stock.area.value, stock.count, size=stock.size.replace("mm2", "mm²")
        )
    return Conductor(
        metal="copper" if wire.metal == "copper" else "aluminium",
        area=wire.area.area,
        count=wire.count,
        max_stress=wire.max_stress,
        size=wire.area.text,
    )


def build_rope(name: str, entry: RopeEntry, report: Collector) -> Rope | None:
    """A Rope, or None where a figure is missing; reports a strength below the working load."""
    place: KeyPath = ("rope", name)
    facts: Mapping[str, Fact] = {}
    called = ""
    if entry.stock is not None:
        from route3d.standards.stock import rope_named

        stock = named(rope_named, entry.stock, place, report)
        if stock is None:
            return None
        facts, called = stock.facts, stock.name
    figures = _Figures(entry, facts, place, report)
    needed = {k: figures.of(k) for k in ("diameter", "weight", "friction", "rated_load", "stretch")}
    breaking = entry.breaking_strength
    if breaking is None and "breaking_strength" in facts:
        breaking = figures.of("breaking_strength")
    if figures.short:
        return None
    if breaking is not None and breaking < needed["rated_load"]:
        report.add(
            ("rope", name, "breaking_strength"),
            f"{report.show(breaking, 'force')} is less than the rated load, "
            f"{report.show(needed['rated_load'], 'force')}",
            "enter the working load as rated_load",
        )
    tables = tuple(figures.taken.items())
    return Rope(name, **needed, breaking_strength=breaking, stock=called, tables=tables)


# --- figures of a stock entry ---------------------------------------------------------------------

_Stock = TypeVar("_Stock")
# Names like a wrong one are looked for among all: a tenth of a second for each in a whole file.
_MOST_MISSES = 50


def named(
    look_up: Callable[[str], _Stock], text: str, place: KeyPath, report: Collector
) -> _Stock | None:
    """The stock entry of this name; None where there is no such one, which is reported."""
    from route3d.standards.stock import StockMiss

    if len(report.problems) >= _MOST_MISSES:
        report.add((*place, "stock"), f"{brief(text)} was not looked up", "fix the others first")
        return None
    try:
        return look_up(text)
    except StockMiss as miss:
        report.add((*place, "stock"), str(miss), miss.fix)
        return None


@dataclass(slots=True)
class _Figures:
    """The figures of one table of the file: given there, else from its stock entry.

    ``taken`` are those that came from the entry, ``short`` whether one is in neither; that is
    reported.
    """

    entry: Any
    facts: Mapping[str, Fact]
    place: KeyPath
    report: Collector
    taken: dict[str, Fact] = field(default_factory=dict)
    short: bool = False

    def of(self, key: str) -> float:
        """The figure of a key in SI; NaN where it is missing."""
        given = getattr(self.entry, key)
        if given is not None:
            return float(given)
        fact = self.facts.get(key)
        if fact is None:
            self.short = True
            self.report.missing(
                (*self.place, key), "the tables have none for this stock entry: add it"
            )
            return math.nan
        self.taken[key] = fact
        return fact.value


@dataclass(frozen=True, slots=True)
class _FrictionSought:
    """What friction is looked up with: ``jackets`` of the cables, ``folder`` of the file."""

    jackets: tuple[str, ...]
    folder: Path


def build_conduit(
    name: str,
    entry: ConduitEntry,
    report: Collector,
    rules: RuleSet,
    jackets: Iterable[str] = (),
    folder: Path = Path(),
) -> Conduit | None:
    """A Conduit from plain dimensions or the stock tables; None where a problem was reported.

    The least radius of a field bend is that of the ``rules``. ``jackets`` are those of the cables,
    and ``folder`` is where a library of past pulls is looked for.
    """
    sought = _FrictionSought(tuple(jackets), folder)
    if entry.stock is not None:
        return _conduit_by_name(name, entry, report, rules, sought)
    if entry.type is not None and entry.material is not None:
        fix = f"remove material: type {entry.type} defines it"
        report.add(("conduit", name, "material"), "material is for plain dimensions only", fix)
        return None
    if entry.type is None and entry.trade_size is None:
        return _plain_conduit(name, entry, report, sought)
    if entry.type is None or entry.trade_size is None:
        given, other = ("trade_size", "type") if entry.type is None else ("type", "trade_size")
        report.add(("conduit", name, given), f"{given} requires {other}", f"add {other}")
        return None
    size = _look_up(name, entry, report)
    return None if size is None else _stock_conduit(name, entry, size, report, rules, sought)


def _conduit_by_name(
    name: str, entry: ConduitEntry, report: Collector, rules: RuleSet, sought: _FrictionSought
) -> Conduit | None:
    from route3d.standards.stock import conduit_named

    for key in ("type", "trade_size", "material"):
        if getattr(entry, key) is not None:
            report.add(("conduit", name, key), f"stock defines {key}", f"remove {key}, or stock")
            return None
    size = named(conduit_named, entry.stock or "", ("conduit", name), report)
    return None if size is None else _stock_conduit(name, entry, size, report, rules, sought)


def _plain_conduit(
    name: str, entry: ConduitEntry, report: Collector, sought: _FrictionSought
) -> Conduit | None:
    inner, outer = entry.inner_diameter, entry.outer_diameter
    if inner is None or outer is None:
        missing = "inner_diameter" if inner is None else "outer_diameter"
        fix = "add it, or a stock type with its trade_size (`route3d stock conduit` lists them)"
        report.add(("conduit", name, missing), f"{missing} is missing", fix)
        return None
    if not _is_pipe(name, inner, outer, report):
        return None
    material = entry.material or ""
    friction = _friction(name, entry, report, material, sought)
    if friction is None:
        return None
    return Conduit(name, inner, outer, material=material, **friction)


def _friction(
    name: str, entry: ConduitEntry, report: Collector, conduit: str, sought: _FrictionSought
) -> dict[str, Any] | None:
    """The friction of a Conduit with its range; reports a value outside the range.

    None where friction by name or the past pulls are not found; that is reported too.
    """
    given = entry.friction
    value, low, high, source = given.value, given.low, given.high, given.source
    tables: Figures = ()
    pulls: int | None = None
    mixture: tuple[tuple[float, float, float], ...] = ()
    if given.stock is not None or given.history is not None:
        from route3d.standards.stock import friction_named

        place: KeyPath = ("conduit", name, "friction")
        if given.history is not None and given.stock is None:
            kinds = {jacket for jacket in sought.jackets if jacket}
            said, fix = "", ""
            if len(kinds) != 1:
                said = "past pulls are known by their jacket, and "
                said += "the cables have several" if kinds else "no cable names one"
                fix = 'name one: stock = "PVC jacket, lubricated"'
                fix = fix if kinds else 'add the jacket to the cable, such as jacket = "PVC"'
            elif not conduit:
                said = "past pulls are known by the material of their conduit, and none is named"
                fix = 'add the material to the conduit, such as material = "PVC"'
            if said:
                report.add((*place, "history"), said, fix)
                return None
        look_up = partial(friction_named, jackets=sought.jackets, conduit=conduit)
        state = "dry" if (given.lubricant or "").strip().casefold() in DRY else "lubricated"
        stock = named(look_up, given.stock or state, place, report)
        learned = None if stock is None else _learned(given, stock, place, report, sought)
        if stock is None or (learned is None and given.history is not None):
            return None
        found = (stock.fact.value, stock.low, stock.high)
        if learned is not None:
            found, pulls = (learned.value, learned.low, learned.high), learned.count
            source = source or learned.words
            own = (given.value, given.low, given.high)
            mixture = learned.mixture if own == (None, None, None) else ()
        else:
            tables = (("friction", stock.fact),)
            source = source or str(stock.fact.source)
        value, low, high = (
            figure if own is None else own
            for own, figure in zip((value, low, high), found, strict=True)
        )
    assert value is not None  # the entry requires it without stock
    for key, end, wrong in (
        ("low", low, low is not None and low > value),
        ("high", high, high is not None and high < value),
    ):
        if wrong:
            side = "above" if key == "low" else "below"
            report.add(
                ("conduit", name, "friction", key),
                f"{key} = {end:g} is {side} the value of {value:g}",
                "the value must be between low and high",
            )
    return {
        "friction": value,
        "friction_low": low,
        "friction_high": high,
        "friction_source": source,
        "friction_pulls": pulls,
        "friction_learned": mixture,
        "tables": tables,
    }


def _learned(
    given: FrictionEntry,
    stock: FrictionStock,
    place: KeyPath,
    report: Collector,
    sought: _FrictionSought,
) -> LearnedFriction | None:
    """What a library of past pulls says of the next one; None without one, or where reported."""
    if given.history is None:
        return None
    from route3d.field.history import learned_friction

    try:
        return learned_friction(
            sought.folder / given.history,
            jacket=stock.jacket,
            conduit=stock.conduit,
            lubricated=stock.lubricated,
            published=(stock.fact.value, stock.low, stock.high),
            lubricant=given.lubricant or "",
            temperature=given.temperature,
        )
    except InputError as error:
        for problem in error.problems:
            said = f"{given.history}: {problem.message}" if problem.file else problem.message
            report.add((*place, "history"), said, problem.fix)
        return None


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
    name: str,
    entry: ConduitEntry,
    stock: ConduitSize,
    report: Collector,
    rules: RuleSet,
    sought: _FrictionSought,
) -> Conduit | None:
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
    friction = _friction(name, entry, report, stock.stock_type, sought)
    if not _is_pipe(name, inner, outer, report) or friction is None:
        return None
    from route3d.model.conduit import stock_conduit

    given = entry.inner_diameter
    called = label if entry.stock is not None else ""
    made = stock_conduit(name, stock, rules, outer=outer, inner=given, **friction)
    return replace(made, stock=called)


def _look_up(name: str, entry: ConduitEntry, report: Collector) -> ConduitSize | None:
    from route3d.standards.conduits import conduit_size
    from route3d.standards.tables import NotInTable

    try:
        return conduit_size(entry.type or "", entry.trade_size or "")
    except NotInTable as error:
        report.add(("conduit", name, "trade_size"), str(error))
        return None
