"""Variants of a job inside its model file: each the job with a few keys changed."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from route3d.errors import InputError
from route3d.model import Job
from route3d.modelfile.fields import brief, nearest
from route3d.modelfile.problems import Collector
from route3d.modelfile.read import NAMED, job_of, model_document
from route3d.modelfile.toml_positions import Document, KeyPath

# Lists of tables whose entries have a name: a change finds its entry by it.
_BY_NAME = {"run": "name", "bank": "run"}
_TABLES = ("site", "practice", "plan", "spread")
# A run is given by one of these: a change to the one takes the other away.
_EITHER = {"route": "legs", "legs": "route"}


@dataclass(frozen=True, slots=True)
class JobVariant:
    """A variant of a job: its name, what it is about, and the whole job with its changes."""

    name: str
    about: str
    job: Job


def load_variants(path: str | Path) -> tuple[JobVariant, ...]:
    """The variants of a model file, in its order; none where it has no ``[[variant]]``.

    A key that a variant gives replaces the whole value of that key in the job. Raises InputError
    for every problem of every variant, each at its line.
    """
    document = model_document(path)
    found, problems = [], []
    for i, entry in enumerate(document.data.get("variant", [])):
        try:
            changed = _changed(document, i, str(path))
            job = job_of(changed, str(path), Path(path).parent, Path(path))
        except InputError as error:
            of = f" (variant {entry['name']})"
            problems += [replace(p, where=p.where + of) for p in error.problems]
            continue
        found.append(JobVariant(entry["name"], entry.get("about", ""), job))
    if problems:
        raise InputError(problems)
    return tuple(found)


def _changed(document: Document, index: int, name: str) -> Document:
    """The document with the changes of one variant, whose places are where the variant has them."""
    report = Collector(document, name)
    base: KeyPath = ("variant", index, "changes")
    edit = _Changes(document, base, report)
    changes = document.data["variant"][index]["changes"]
    for kind, tables in changes.items():
        if kind in (*NAMED, *_BY_NAME):
            edit.named(kind, tables)
        elif kind in _TABLES:
            edit.table((kind,), (kind,), tables)
        else:
            known = [*NAMED, *_BY_NAME, *_TABLES]
            fix = nearest(kind, known)
            if "." in kind:
                fix = "write the key without quotes, such as cable.phase.diameter = 1.4"
            report.add((*base, kind), f"unknown key {brief(kind)}", fix, at_key=True)
    if report.problems:
        raise InputError(report.in_order())
    return Document(edit.data, edit.values, edit.keys)


class _Changes:
    """The data and the places of a document while changes are made to copies of them."""

    def __init__(self, document: Document, base: KeyPath, report: Collector) -> None:
        self.data: dict[str, Any] = deepcopy(document.data)
        self.values, self.keys = dict(document.values), dict(document.keys)
        self._document, self._base, self._report = document, base, report

    def named(self, kind: str, tables: Any) -> None:
        """Changes to tables that have names, such as ``cable.phase`` or ``run.F1``."""
        if not isinstance(tables, Mapping):
            fix = f"name the table it is for, such as {kind}.NAME"
            self._report.add((*self._base, kind), f"{brief(tables)} is not a table", fix)
            return
        for name, table in tables.items():
            place = self._place(kind, name)
            if place is not None:
                self.table((kind, name), place, table)

    def table(self, given: KeyPath, place: KeyPath, table: Any) -> None:
        """Each key that stands at ``given`` in the changes put into the table at ``place``."""
        if not isinstance(table, Mapping):
            self._report.add((*self._base, *given), f"{brief(table)} is not a table")
            return
        there: Any = self.data
        for part in place:
            there = there[part] if isinstance(part, int) else there.setdefault(part, {})
        for key, value in table.items():
            if key in _EITHER and place[0] == "run":
                there.pop(_EITHER[key], None)
                self._forget((*place, _EITHER[key]))
            there[key] = deepcopy(value)
            self._forget((*place, key))
            self._moved((*self._base, *given, key), (*place, key))

    def _place(self, kind: str, name: str) -> KeyPath | None:
        """Where the table of that name stands; None, and a problem, where there is none."""
        here = self.data.get(kind)
        if kind in _BY_NAME:
            entries = here if isinstance(here, list) else []
            names = [e.get(_BY_NAME[kind]) if isinstance(e, dict) else None for e in entries]
        else:
            names = list(here) if isinstance(here, dict) else []
        if name in names:
            return (kind, names.index(name)) if kind in _BY_NAME else (kind, name)
        said = f"the job has no {kind} named {brief(name)}"
        near = nearest(name, [n for n in names if isinstance(n, str)])
        self._report.add((*self._base, kind, name), said, near, at_key=True)
        return None

    def _forget(self, path: KeyPath) -> None:
        for places in (self.values, self.keys):
            for old in [p for p in places if p[: len(path)] == path]:
                del places[old]

    def _moved(self, source: KeyPath, target: KeyPath) -> None:
        for old, places in ((self._document.values, self.values), (self._document.keys, self.keys)):
            size = len(source)
            places |= {(*target, *p[size:]): v for p, v in old.items() if p[:size] == source}
        place = self._document.value_place(source)  # a cell of a workbook holds all changes
        if place is not None:
            self.values.setdefault(target, place)
