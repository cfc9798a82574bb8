"""Errors of a model file: collected with their place in the file, worded for its author."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel

from route3d.errors import Problem
from route3d.modelfile.example_marks import MARK
from route3d.modelfile.fields import brief, nearest
from route3d.modelfile.places import Cell, Place, problem_at, shifted
from route3d.modelfile.toml_positions import Document, KeyPath, dotted
from route3d.units import SYSTEMS, show

if TYPE_CHECKING:
    from pydantic import ValidationError
    from pydantic_core import ErrorDetails

_SHEET = "get it from the cable maker's data sheet"
_LUBRICANT = (
    "get it from the lubricant maker, for this jacket and conduit; `route3d stock friction` "
    "lists published values"
)
_WHERE_FROM: dict[tuple[str, str], str] = {
    ("cable", "diameter"): _SHEET,
    ("cable", "weight"): _SHEET,
    ("cable", "bend_multiple"): f"{_SHEET} (minimum bend radius while pulling, in cable diameters)",
    ("cable", "sidewall_limit"): f"{_SHEET}; `route3d stock sidewall` lists published values",
    ("cable", "conductor"): f'{_SHEET}, for example {{ metal = "copper", area = "350 kcmil" }}',
    ("cable", "metal"): 'enter metal = "copper" or "aluminum"',
    ("cable", "area"): f'{_SHEET}, for example "350 kcmil" or "185 mm2"',
    ("conduit", "friction"): _LUBRICANT,
    ("conduit", "value"): _LUBRICANT,  # of a friction with its range
    ("rope", "diameter"): "get it from the rope maker's data sheet",
    ("rope", "weight"): "get it from the rope maker's data sheet",
    ("rope", "friction"): "`route3d stock friction` lists published values",
    ("rope", "rated_load"): "get the working load from the rope maker's data sheet",
    ("rope", "stretch"): "get the strain at rated load from the rope maker's data sheet",
    (
        "machine",
        "gears",
    ): "enter { line_pull = ..., speed = ... } for each gear, from the nameplate",
    ("run", "cables"): "enter the number of each cable type, for example { phase = 3 }",
    ("run", "route"): "enter the points of the centerline: { at = [x, y, z] }, ...",
    ("run", "legs"): "enter the legs of the route: 'start pad at 0, 0, 0 heading north', ...",
    ("run", "at"): "enter x, y, z of the point: at = [x, y, z]",
    ("run", "name"): "give each run a unique name",
    ("bank", "cover"): "enter the concrete cover outside the ducts; 0 for none",
    ("bank", "spacing"): "enter the center-to-center spacing: [across a row, between rows]",
    ("", "units"): 'enter units = "US" or units = "SI": bare numbers are in these units',
    ("", "cable"): "add a table [cable.name] for each cable type",
    ("", "conduit"): "add a table [conduit.name] for each conduit",
    ("", "run"): "add a table [[run]]",
    ("", "start"): "enter the first day of the plan, such as start = 2026-06-01",
    ("", "crew"): "add a table [crew.NAME] for each crew, with machines and hours",
    ("crew", "machines"): 'enter machines of the model file, such as machines = ["puller"]',
    ("crew", "hours"): 'enter start and end of the shift, such as hours = "07:00-15:30"',
    ("machine", "count"): "enter the number of these machines on site, such as count = 2",
    ("outage", "name"): "give each window a name, for reports",
    ("outage", "runs"): 'enter names of runs, such as runs = ["F1"]',
    ("outage", "start"): "enter date and time, such as start = 2026-06-01 07:00",
    ("outage", "end"): "enter date and time, such as end = 2026-06-01 15:00",
    ("delivery", "name"): "give each delivery a name, for reports",
    ("delivery", "at"): "enter date and time, such as at = 2026-06-01 07:00",
    ("option", "name"): "give each option a unique name",
    ("no_vault", "from"): "enter where it begins: a station, or a point by name",
    ("no_vault", "to"): "enter where it ends: a station, or a point by name",
    ("costs", "currency"): 'enter it, such as currency = "USD"',
}


@dataclass(slots=True)
class Collector:
    """The problems of one file, each put at its line and column, or at its cell."""

    document: Document
    name: str
    problems: list[Problem] = field(default_factory=list)
    places: dict[Problem, Place] = field(default_factory=dict)

    @property
    def system(self) -> str:
        """The units the file chooses; SI where it does not say."""
        units = self.document.data.get("units")
        return units if isinstance(units, str) and units in SYSTEMS else "SI"

    def show(self, value: float, quantity: str) -> str:
        """An SI value as text in the units of the file."""
        return show(value, quantity, self.system)

    def add(
        self, path: KeyPath, message: str, fix: str = "", *, at_key: bool = False, inside: int = 0
    ) -> None:
        """One problem with what stands at ``path``, so many characters ``inside`` of it."""
        find = self.document.key_place if at_key else self.document.value_place
        start = (1, 1) if self.document.values else None
        place = find(path) or start
        if place is not None:
            place = shifted(place, inside)
        where = self._where(path)
        problem = problem_at(place, message, where, fix, self.name)
        self.problems.append(problem)
        if place is not None:
            self.places[problem] = place

    def _where(self, path: KeyPath) -> str:
        """The key path, with the name of its run; a leg by its number as people count legs."""
        run = self._run_name(path)
        if run and len(path) == 4 and path[2] == "legs" and isinstance(path[3], int):
            return f"{run[2:-1]}, leg {path[3] + 1}"
        return dotted(path) + run

    def _run_name(self, path: KeyPath) -> str:
        if len(path) < 2 or path[0] != "run":
            return ""
        entry = at_path(self.document.data, path[:2])
        name = entry.get("name") if isinstance(entry, dict) else None
        return f" (run {name[:60]})" if isinstance(name, str) and name.isprintable() else ""

    def missing(self, path: KeyPath, fix: str = "") -> None:
        """A key that must be given and is not, worded as where the file alone shows it."""
        message, usual, _ = _missing(path)
        self.add(path, message, fix or usual, at_key=True)

    def add_all(
        self, error: ValidationError, model: type[BaseModel], of: KeyPath | None = None
    ) -> None:
        """Every problem pydantic found in the whole file, or in what stands at the path ``of``."""
        details = error.errors(include_url=False)
        if of is not None:
            details = [d for d in details if d["loc"][: len(of)] == of]
        suggested = set()
        for detail in details:
            if detail["type"] == "extra_forbidden":
                suggested.add(self._unknown_key(tuple(detail["loc"]), model))
        for detail in details:
            path = tuple(detail["loc"])
            if detail["type"] == "extra_forbidden":
                continue
            if detail["type"] == "missing" and path in suggested:
                continue  # the misspelt key is the same mistake
            self._add_detail(path, detail)

    def _unknown_key(self, path: KeyPath, model: type[BaseModel]) -> KeyPath:
        """Report an unknown key; the path of the key it was probably meant to be."""
        known = _known_keys(model, path[:-1])
        near = nearest(path[-1], known)
        self.add(path, f"unknown key {brief(path[-1])}", near, at_key=True)
        meant = re.fullmatch(r"did you mean '(.*)'\?", near)
        return (*path[:-1], meant[1]) if meant else ()

    def _add_detail(self, path: KeyPath, detail: ErrorDetails) -> None:
        message, fix, path = _worded(path, detail)
        if detail["type"] == "missing" and isinstance(self.document.value_place(path), Cell):
            fix = fix if fix and not set("[{=") & set(fix) else "fill it in"
            fix = "fill in its sheet" if len(path) == 1 and path != ("units",) else fix
        at_key = detail["type"] == "missing" or path[-1:] == ("[key]",)
        path = path[:-1] if path[-1:] == ("[key]",) else path
        # A value alone may stand for a table: the key of that table is not in the file.
        while path and not self._may_hold(path[:-1], path[-1]):
            path = path[:-1]
        self.add(path, message, fix, at_key=at_key)

    def _may_hold(self, path: KeyPath, key: str | int) -> bool:
        """Whether a key or an index may stand in what the file has at ``path``."""
        kind = list if isinstance(key, int) else dict
        return isinstance(at_path(self.document.data, path), kind)

    def in_order(self) -> list[Problem]:
        """The problems by line, or by sheet and cell, without repeats."""

        def order(problem: Problem) -> tuple[int, int, int]:
            place = self.places.get(problem, (0, 0))
            return (place.number if isinstance(place, Cell) else 0, *place)

        return sorted(dict.fromkeys(self.problems), key=order)


def at_path(data: Any, path: Iterable[str | int]) -> Any:
    """What stands at a key path of plain data, or None."""
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _known_keys(model: type[BaseModel], path: Sequence[str | int]) -> list[str]:
    """The keys of the table at ``path``, found by walking down the annotations."""
    kind: Any = model
    for part in path:
        if _is_entry(kind):
            kind = kind.model_fields[part].annotation if part in kind.model_fields else None
        else:
            kind = next((a for a in get_args(kind) if _is_entry(a)), None)
        while kind is not None and not _is_entry(kind) and type(None) in get_args(kind):
            kind = next(a for a in get_args(kind) if a is not type(None))
    if not _is_entry(kind):
        return []
    keys = [field.alias or name for name, field in kind.model_fields.items()]
    return sorted(keys, key=MARK.__eq__)  # its own keys before the one that every table may have


def _is_entry(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


_SHAPES = {
    "string_type": "is not text in quotes",
    "bool_type": "is not true or false",
    "list_type": "is not a list [ ... ]",
    "tuple_type": "is not a list [ ... ]",
    "dict_type": "is not a table",
    "model_type": "is not a table",
    "model_attributes_type": "is not a table",
    "string_pattern_mismatch": "contains control characters",
}


def _worded(path: KeyPath, detail: ErrorDetails) -> tuple[str, str, KeyPath]:
    """Message, fix and path of one pydantic error that is not an unknown key."""
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind == "route3d":
        return context["message"], context["fix"], path
    if kind == "missing":
        return _missing(path)
    if kind in _SHAPES:
        return f"{brief(value)} {_SHAPES[kind]}", "", path
    if kind in ("too_short", "too_long"):
        side, limit = (
            ("minimum", "min_length") if kind == "too_short" else ("maximum", "max_length")
        )
        count = context["actual_length"]
        entries = "1 entry" if count == 1 else f"{count} entries"
        return f"has {entries}; {side} {context[limit]}", "", path
    if kind in ("string_too_short", "string_too_long"):
        side, length = ("least", "min") if kind == "string_too_short" else ("most", "max")
        wanted = context[f"{length}_length"]
        return f"{brief(value)} must have {side} {wanted} characters", "", path
    return f"{brief(value)}: {detail['msg'].lower()}", "", path


def _missing(path: KeyPath) -> tuple[str, str, KeyPath]:
    key = path[-1]
    if isinstance(key, int):
        needed = "two" if path[-2] == "spacing" else "three"
        return f"has too few numbers; {needed} required", "", path[:-1]
    top = str(path[0]) if len(path) > 1 else ""
    return f"{key} is missing", _WHERE_FROM.get((top, key), ""), path
