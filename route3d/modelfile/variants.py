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
from route3d.modelfile.places import Elsewhere, Place
from route3d.modelfile.problems import Collector
from route3d.modelfile.read import NAMED, job_of, model_document
from route3d.modelfile.toml_positions import Document, KeyPath, dotted

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
    edit = Changes(document, document, report)
    edit.all_of(("variant", index, "changes"), document.data["variant"][index]["changes"])
    return edit.made()


class Changes:
    """The data and the places of a document while changes are made to copies of them.

    What is put into it stands in the document ``source``, which may be that of another file; what
    is wrong with it goes to the ``report`` of that one.
    """

    def __init__(self, document: Document, source: Document, report: Collector) -> None:
        self.data: dict[str, Any] = deepcopy(document.data)
        self.values, self.keys = dict(document.values), dict(document.keys)
        self._source, self._report = source, report
        self._elsewhere = source is not document

    def made(self) -> Document:
        """The document with all changes; InputError with what is wrong with them."""
        if self._report.problems:
            raise InputError(self._report.in_order())
        return Document(self.data, self.values, self.keys)

    def all_of(self, given: KeyPath, changes: Mapping[str, Any]) -> None:
        """The changes that stand at ``given``, by the keys of a model file."""
        for kind, tables in changes.items():
            path = (*given, kind)
            if kind in (*NAMED, *_BY_NAME):
                self._named(path, kind, tables)
            elif kind in _TABLES:
                self._table(path, (kind,), tables)
            else:
                fix = nearest(kind, [*NAMED, *_BY_NAME, *_TABLES])
                if "." in kind:
                    fix = "write the key without quotes, such as cable.phase.diameter = 1.4"
                self._report.add(path, f"unknown key {brief(kind)}", fix, at_key=True)

    def _named(self, given: KeyPath, kind: str, tables: Any) -> None:
        """Changes to tables that have names, such as ``cable.phase`` or ``run.F1``."""
        if not isinstance(tables, Mapping):
            fix = f"name the table it is for, such as {kind}.NAME"
            self._report.add(given, f"{brief(tables)} is not a table", fix)
            return
        for name, table in tables.items():
            place = self.place((*given, name), kind, name)
            if place is not None:
                self._table((*given, name), place, table)

    def _table(self, given: KeyPath, place: KeyPath, table: Any) -> None:
        """Each key that stands at ``given`` put into the table at ``place``."""
        if not isinstance(table, Mapping):
            self._report.add(given, f"{brief(table)} is not a table")
            return
        for key, value in table.items():
            self.put((*given, key), (*place, key), value)

    def put(self, given: KeyPath, place: KeyPath, value: Any) -> None:
        """The value that stands at ``given`` put in at ``place``, whole."""
        *table, key = place
        there: Any = self.data
        for part in table:
            there = there[part] if isinstance(part, int) else there.setdefault(part, {})
        if key in _EITHER and place[0] == "run":
            there.pop(_EITHER[key], None)
            self._forget((*table, _EITHER[key]))
        there[key] = deepcopy(value)
        self._forget(place)
        self._moved(given, place)

    def copy(self, place: KeyPath, other: KeyPath) -> None:
        """What stands at ``other`` put in at ``place`` too, with its places in the files."""
        value: Any = self.data
        for part in other:
            value = value[part]
        there: Any = self.data
        for part in place[:-1]:
            there = there[part]
        there[place[-1]] = deepcopy(value)
        self._forget(place)
        size = len(other)
        for places in (self.values, self.keys):
            places |= {
                (*place, *p[size:]): at for p, at in list(places.items()) if p[:size] == other
            }

    def place(self, given: KeyPath, kind: str, name: str) -> KeyPath | None:
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
        self._report.add(given, said, near, at_key=True)
        return None

    def _forget(self, path: KeyPath) -> None:
        for places in (self.values, self.keys):
            for old in [p for p in places if p[: len(path)] == path]:
                del places[old]

    def _moved(self, source: KeyPath, target: KeyPath) -> None:
        size = len(source)
        for old, places in ((self._source.values, self.values), (self._source.keys, self.keys)):
            places |= {
                (*target, *p[size:]): self._told(v, p) for p, v in old.items() if p[:size] == source
            }
        place = self._source.value_place(source)  # a cell of a workbook holds all changes
        if place is not None:
            self.values.setdefault(target, self._told(place, source))

    def _told(self, place: Place, path: KeyPath) -> Place:
        """A place of the source, of what has this path there, as one of the document."""
        return Elsewhere(*place, self._report.name, dotted(path)) if self._elsewhere else place
