"""Names in one part of a model file that must stand for something in another.

These look at the plain data, so that a wrong name is reported even where its table has other
problems too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from route3d.modelfile.fields import brief, nearest
from route3d.modelfile.places import Cell, told
from route3d.modelfile.problems import Collector
from route3d.modelfile.toml_positions import KeyPath


def check_references(report: Collector) -> None:
    """Report names that stand for nothing: of cables, conduits, machines, runs and the rest."""
    data = report.document.data
    for path, anchor in _tables(data, "anchor"):
        _known(anchor.get("brace"), _names(data, "anchor"), "anchor", (*path, "brace"), report)
    for path, reel in _items(data, "cable_reel"):
        _known(reel.get("cable"), _names(data, "cable"), "cable", (*path, "cable"), report)
    seen: set[str] = set()
    for path, run in _items(data, "run"):
        # The rows of a sheet that belong to a run of this name went to the first.
        repeated = str(run.get("name")) in seen
        in_sheet = isinstance(report.document.value_place(path), Cell)
        _check_run(path, run, data, report, has_rows=not (repeated and in_sheet))
        seen.add(str(run.get("name")))
    names = [run.get("name") for _, run in _items(data, "run")]
    _check_same_names("run", names, report)
    _check_same_names("variant", [v.get("name") for _, v in _items(data, "variant")], report)
    banked: set[str] = set()
    for path, bank in _items(data, "bank"):
        name = bank.get("run")
        _known(name, [n for n in names if isinstance(n, str)], "run", (*path, "run"), report)
        if isinstance(name, str) and name in banked:
            report.add((*path, "run"), f"run {brief(name)} has two banks", "remove one")
        if isinstance(name, str):
            banked.add(name)
        _check_bank_names(path, bank, [n for n in names if isinstance(n, str)], report)


def _check_bank_names(
    path: KeyPath, bank: dict[str, Any], names: list[str], report: Collector
) -> None:
    """The other runs that a bank names, and those in its ducts."""
    for i, name in enumerate(_listed(bank, "runs")):
        _known(name, names, "run", (*path, "runs", i), report)
    for i, text in enumerate(_listed(bank, "ducts")):
        _, colon, name = str(text).partition(":")
        if colon:
            _known(name.strip(), names, "run", (*path, "ducts", i), report)


def _listed(table: dict[str, Any], key: str) -> list[Any]:
    given = table.get(key)
    return given if isinstance(given, list) else []


def _items(data: dict[str, Any], key: str) -> Iterator[tuple[KeyPath, dict[str, Any]]]:
    entries = data.get(key)
    for i, entry in enumerate(entries if isinstance(entries, list) else []):
        if isinstance(entry, dict):
            yield (key, i), entry


def _tables(data: dict[str, Any], key: str) -> Iterator[tuple[KeyPath, dict[str, Any]]]:
    tables = data.get(key)
    for name, table in tables.items() if isinstance(tables, dict) else ():
        if isinstance(table, dict):
            yield (key, name), table


def _names(data: dict[str, Any], key: str) -> list[str]:
    table = data.get(key)
    return list(table) if isinstance(table, dict) else []


def _check_run(
    path: KeyPath, run: dict[str, Any], data: dict[str, Any], report: Collector, *, has_rows: bool
) -> None:
    for name in _names(run, "cables"):
        _known(name, _names(data, "cable"), "cable", (*path, "cables", name), report)
    _known(run.get("rope"), _names(data, "rope"), "rope", (*path, "rope"), report)
    _check_equipment(path, run, data, report)
    for place, end in _tables(run, "ends"):
        _check_equipment((*path, *place), end, data, report)
    if has_rows:
        _check_route_or_legs(run, path, report)
    conduits = set(_names(data, "conduit"))
    route = run.get("route")
    _check_point_names(route, (*path, "route"), report)
    for i, vertex in enumerate(route if isinstance(route, list) else []):
        wanted = vertex.get("conduit") if isinstance(vertex, dict) else None
        _known(wanted, conduits, "conduit", (*path, "route", i, "conduit"), report)
        sheave = vertex.get("sheave") if isinstance(vertex, dict) else None
        place = (*path, "route", i, "sheave")
        _known(sheave, _names(data, "sheave"), "sheave", place, report)


def _check_route_or_legs(run: dict[str, Any], path: KeyPath, report: Collector) -> None:
    """Report a run with both a route and legs, or with neither."""
    if "route" in run and "legs" in run:
        said = "the run has route and legs: each gives the whole route"
        report.add((*path, "legs"), said, "remove one of them", at_key=True)
    if "route" not in run and "legs" not in run:
        fix = (
            "enter the points of the centerline: { at = [x, y, z] }, ...; or legs = "
            '["start pad at 0, 0, 0 heading north in duct", "120 ft", ...]'
        )
        if isinstance(report.document.value_place(path), Cell):
            fix = "enter its points on the sheet Points, or its legs on the sheet Legs"
        report.add((*path, "route"), "route is missing, or legs", fix, at_key=True)
    if "closes_to" in run and "legs" not in run:
        report.add((*path, "closes_to"), "closes_to is for a route given by legs", "remove it")


def _check_equipment(
    path: KeyPath, given: dict[str, Any], data: dict[str, Any], report: Collector
) -> None:
    """What a run or one of its ends names: machine, anchor, rigging, reel and sheaves."""
    for key in ("machine", "anchor", "rigging", "reel"):
        _known(given.get(key), _names(data, key), key, (*path, key), report)
    lead_off = given.get("lead_off")
    for i, turn in enumerate(lead_off if isinstance(lead_off, list) else []):
        wanted = turn.get("sheave") if isinstance(turn, dict) else None
        _known(wanted, _names(data, "sheave"), "sheave", (*path, "lead_off", i, "sheave"), report)


def _known(name: Any, known: Iterable[str], kind: str, path: KeyPath, report: Collector) -> None:
    """Report a name that stands for nothing; a name that is no text is pydantic's to report."""
    if not isinstance(name, str) or name in known:
        return
    names = sorted(set(known))
    what = "row" if isinstance(report.document.value_place(path), Cell) else "table"
    fix = nearest(name, names) or f"add a {what} for it: this file has no {kind}"
    report.add(path, f"there is no {kind} {brief(name)}", fix, at_key=path[-1] == name)


def _check_point_names(route: Any, path: KeyPath, report: Collector) -> None:
    """Report points of one route that share a name: nobody could tell the ends apart."""
    first: dict[str, int] = {}
    for i, vertex in enumerate(route if isinstance(route, list) else []):
        name = vertex.get("name") if isinstance(vertex, dict) else None
        if not isinstance(name, str) or first.setdefault(name, i) == i:
            continue
        place = report.document.value_place((*path, first[name], "name"))
        line = told(place)
        report.add(
            (*path, i, "name"),
            f"two points of the route are named {brief(name)}, the first{line}",
            "give each point a unique name, or none",
        )


def _check_same_names(kind: str, names: list[Any], report: Collector) -> None:
    first: dict[str, int] = {}
    for i, name in enumerate(names):
        if isinstance(name, str) and first.setdefault(name, i) != i:
            place = report.document.value_place((kind, first[name], "name"))
            line = told(place)
            report.add(
                (kind, i, "name"),
                f"two {kind}s are named {brief(name)}, the first{line}",
                f"give each {kind} a unique name",
            )
