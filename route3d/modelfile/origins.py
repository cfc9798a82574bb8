"""Where each figure of a job is from: the file, a table, a documented default, or assumed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from route3d.model import Allowances, Origin
from route3d.model.allowances import GAUGE_STEPS
from route3d.model.examples import is_example
from route3d.model.rigging import HEAD_LENGTH
from route3d.modelfile.example_marks import MARK, example_tables
from route3d.standards.practice import reel_back_length
from route3d.units import show

_Origins = Iterator[tuple[str, Origin]]


def origins_of(
    data: Mapping[str, Any],
    named: Mapping[str, Mapping[str, BaseModel]],
    records: Mapping[str, Mapping[str, Any]],
    runs: Mapping[int, BaseModel],
    practice: BaseModel,
    plan: BaseModel,
    system: str,
    site: BaseModel,
    banks: Mapping[int, BaseModel],
) -> dict[str, Origin]:
    """The origin of every figure, by its key in the file, such as ``"cable.phase.diameter"``.

    ``data`` is the plain file, ``named`` its tables by kind and name as they were read and
    ``records`` what was built of them. A run goes by its name: ``"run.F1.reel_tension"``. What has
    no value is left out.
    """
    found: dict[str, Origin] = {}
    for kind, entries in named.items():
        for name, entry in entries.items():
            record = records.get(kind, {}).get(name)
            place = f"{kind}.{name}"
            found |= dict(_of_table(place, entry, data[kind][name], record))
            found |= dict(_of_kind(kind, place, entry, record, system))
    for i, run in runs.items():
        place = f"run.{getattr(run, 'name', i)}"
        found |= dict(_of_table(place, run, data["run"][i], None))
        if getattr(run, "reel", None) is None:
            found[f"{place}.reel.drag"] = _assumed_drag(system)
    found |= dict(_of_table("practice", practice, data.get("practice", {}), None))
    found |= dict(_of_rules(practice, system))
    found |= dict(_of_table("site", site, data.get("site", {}), None))
    found.setdefault("site.grade", Origin("assumed", words="at z = 0"))
    for i, bank in banks.items():
        found |= dict(_of_table(f"bank[{i}]", bank, data["bank"][i], None))
    found |= dict(_of_table("plan", plan, data.get("plan", {}), None))
    usual = asdict(Allowances(gauge_step=GAUGE_STEPS[system]))
    for key in usual:
        taken = usual[key]
        if getattr(plan, key) is None and taken is not None:
            found[f"plan.{key}"] = Origin("default", words=f"{taken:g} in SI units")
    examples = example_tables(data)
    return {
        key: replace(origin, kind="example")
        if origin.kind == "given" and is_example(key, examples)
        else origin
        for key, origin in found.items()
    }


def _of_table(place: str, entry: BaseModel, raw: Any, record: Any) -> _Origins:
    """What one table gives, what its stock entry fills, and the defaults of the keys left out."""
    tables = dict(getattr(record, "tables", ()))
    words = f'stock entry "{record.stock}"' if getattr(record, "stock", "") else ""
    for name, field in type(entry).model_fields.items():
        key = field.alias or name
        if key == MARK:  # says something of the others
            continue
        value = getattr(entry, name)
        if isinstance(raw, dict) and key in raw:
            inner = raw[key]
            if isinstance(value, BaseModel) and isinstance(inner, dict):
                yield from _of_table(f"{place}.{key}", value, inner, None)
            else:
                yield f"{place}.{key}", Origin("given")
        elif key in tables:
            yield f"{place}.{key}", Origin("table", tables[key].source, words)
        elif _has_default(field):
            yield f"{place}.{key}", Origin("default", words=f"{field.default}".lower())


def _has_default(field: FieldInfo) -> bool:
    return field.default not in (None, "", [], {}) and not field.is_required()


def _of_kind(kind: str, place: str, entry: Any, record: Any, system: str) -> _Origins:
    """What is particular to a kind of table."""
    if record is None:
        return
    if kind == "cable" and record.stock:
        yield from _of_stock_cable(place, entry, record)
    elif kind == "conduit":
        if entry.stock:
            for key in ("type", "trade_size"):
                yield f"{place}.{key}", Origin("given", words=f'by stock = "{entry.stock}"')
        yield from _of_friction(place, entry, record)
    elif kind == "reel" and entry.drag is None:
        yield f"{place}.drag", _assumed_drag(system)
    elif kind == "rigging" and entry.head_length is None:
        yield f"{place}.head_length", Origin("assumed", words=show(HEAD_LENGTH, "length", system))


def _assumed_drag(system: str) -> Origin:
    drag = reel_back_length()
    words = f"the weight of {show(drag.value, 'length', system)} of cable for each reel"
    return Origin("assumed", drag.source, words)


def _of_stock_cable(place: str, entry: Any, record: Any) -> _Origins:
    """Its conductor, and the words of its construction."""
    from route3d.standards.stock import cable_named

    stock = cable_named(record.stock)
    taken = Origin("table", stock.row, f'stock entry "{stock.name}"')
    if entry.conductor is None:
        area = dict(record.tables)["conductor.area"].source
        yield f"{place}.conductor.area", Origin("table", area, taken.words)
        yield f"{place}.conductor.metal", taken
        yield f"{place}.conductor.count", taken
    for key in ("shielded", "voltage", "jacket", "armor"):
        if key not in entry.model_fields_set and getattr(stock, key):
            yield f"{place}.{key}", taken


def _of_friction(place: str, entry: Any, record: Any) -> _Origins:
    """The coefficient by name or learned, with its range, or the range of a coefficient alone."""
    given = entry.friction
    taken: Origin | None = None
    if given.history:
        taken = Origin("history", words=f"{record.friction_source}; library {given.history}")
    elif given.stock:
        taken = Origin("table", dict(record.tables)["friction"].source, f'"{given.stock}"')
    if taken is not None and given.value is None:
        for key in ("value", "source"):
            if key != "source" or not given.source:
                yield f"{place}.friction.{key}", taken
    for key, end, said in (
        ("low", record.friction_low, "half the value"),
        ("high", record.friction_high, "1.2 times the value"),
    ):
        if getattr(given, key) is None:
            by_name = taken is not None and end is not None
            origin = taken if by_name and taken else Origin("default", words=said)
            yield f"{place}.friction.{key}", origin


def _of_rules(practice: Any, system: str) -> _Origins:
    if practice.rules is None:
        yield "practice.rules", Origin("assumed", words=f"by the units of the file, {system}")
    if practice.edition is None:
        yield "practice.edition", Origin("default", words="the first edition of the rules")
