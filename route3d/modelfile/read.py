"""The model file: TOML text or a workbook to a Job, or every problem, each at its line or cell."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from route3d.disk import MEGABYTE, read_bytes, read_text, text_of
from route3d.errors import InputError, Problem
from route3d.model import Job
from route3d.modelfile.build_job import Parts, build_job
from route3d.modelfile.entries import BankEntry, CableEntry, ConduitEntry, RopeEntry, RunEntry
from route3d.modelfile.fields import Entry
from route3d.modelfile.job_entries import SiteEntry
from route3d.modelfile.problems import Collector
from route3d.modelfile.references import check_references
from route3d.modelfile.schema import ModelEntry
from route3d.modelfile.tackle_entries import (
    AnchorEntry,
    MachineEntry,
    ReelEntry,
    RiggingEntry,
    SheaveEntry,
)
from route3d.modelfile.toml_positions import Document, read_toml

LARGEST_FILE = 5 * MEGABYTE
MOST_VERTICES = 20_000
# Programs that write these can write .xlsx as well.
OTHER_WORKBOOKS = (".xls", ".xlsm", ".xlsb", ".xltx", ".xltm", ".ods", ".fods", ".numbers")
NAMED: dict[str, type[Entry]] = {
    "cable": CableEntry,
    "conduit": ConduitEntry,
    "rope": RopeEntry,
    "machine": MachineEntry,
    "sheave": SheaveEntry,
    "anchor": AnchorEntry,
    "rigging": RiggingEntry,
    "reel": ReelEntry,
}


def load(path: str | Path) -> Job:
    """Read a model file.

    Parameters
    ----------
    path : str or pathlib.Path
        The TOML file, or a job workbook (.xlsx); meshes are found relative to it.

    Returns
    -------
    Job
        In SI; ``units`` is that of the file.

    Raises
    ------
    InputError
        With every problem found, each with file, line and column or sheet and cell, key path and
        fix.

    References
    ----------
    docs/model_file.md.
    """
    return job_of(model_document(path), str(path), Path(path).parent, Path(path))


def model_document(path: str | Path, data: bytes | None = None) -> Document:
    """The data of a model file, TOML or a workbook, before it is checked; InputError as ``load``.

    Of a workbook each value has its cell. ``data`` is the content of the file where it was read.
    """
    kind = Path(path).suffix.lower()
    if kind in OTHER_WORKBOOKS:
        said = f"is a workbook of the kind {kind}, which is not read"
        raise InputError(Problem(said, fix="save it as .xlsx", file=str(path)))
    data = read_bytes(path, limit=LARGEST_FILE) if data is None else data
    if kind == ".xlsx":
        from route3d.modelfile.workbook.cells import cells_of
        from route3d.modelfile.workbook.reading import document_of

        return document_of(cells_of(data, Path(path)), str(path))
    return read_toml(text_of(data, path), str(path))


def model_text(path: str | Path) -> str:
    """The TOML text of a model file; of a workbook that which holds the same."""
    if Path(path).suffix.lower() == ".xlsx":
        from route3d.modelfile.toml_text import toml_text

        return toml_text(model_document(path).data, f"From {Path(path).name}.")
    return read_text(path, limit=LARGEST_FILE)


def loads(text: str, name: str = "model", folder: str | Path = ".") -> Job:
    """Read the text of a model file; ``name`` is used in messages, ``folder`` to find meshes.

    Raises InputError as ``load`` does.
    """
    return job_of(read_toml(text, name), name, Path(folder))


def job_of(document: Document, name: str, folder: Path, path: Path | None = None) -> Job:
    """The job of the data of a model file; InputError as ``load`` does."""
    report = Collector(document, name)
    _refuse_too_many_vertices(report)
    parts = _read_parts(report)
    check_references(report)
    job = build_job(parts, report, Path(name).stem, folder, path)
    if report.problems or job is None:
        raise InputError(report.in_order())
    return replace(job, notes=document.notes) if document.notes else job


def _refuse_too_many_vertices(report: Collector) -> None:
    """Before anything slow is done with them."""
    runs = report.document.data.get("run")
    tables = [r for r in runs if isinstance(r, dict)] if isinstance(runs, list) else []
    routes = [table.get(key) for table in tables for key in ("route", "legs")]
    count = sum(len(route) for route in routes if isinstance(route, list))
    if count > MOST_VERTICES:
        report.add(
            ("run",),
            f"the file is too large: {count} route points, the maximum is {MOST_VERTICES}",
            "reduce the points, or split the job",
        )
        raise InputError(report.problems)


# --- the parts that could be read --------------------------------------------------------------


def _read_parts(report: Collector) -> Parts:
    """The whole file where it is well formed, else whatever part of it is."""
    data, system = report.document.data, report.system
    try:
        model = ModelEntry.model_validate(data, context={"system": system})
    except ValidationError as error:
        report.add_all(error, ModelEntry)
        # Without units no number means anything, and checks of them would only mislead.
        return _salvage(data, system) if data.get("units") == system else Parts()
    return Parts(
        model.title,
        {kind: getattr(model, kind) for kind in NAMED},
        dict(enumerate(model.run)),
        dict(enumerate(model.bank)),
        model.site,
        model.practice,
        model.plan,
        model.cable_reel,
        model.document,
    )


def _salvage(data: dict[str, Any], system: str) -> Parts:
    def table(kind: type[_E], key: str) -> dict[str, _E]:
        raw = data.get(key)
        return _good(kind, raw.items(), system) if isinstance(raw, dict) else {}

    def entries(kind: type[_E], key: str) -> dict[int, _E]:
        raw = data.get(key)
        return _good(kind, enumerate(raw), system) if isinstance(raw, list) else {}

    return Parts(
        named={kind: table(entry, kind) for kind, entry in NAMED.items()},
        run=entries(RunEntry, "run"),
        bank=entries(BankEntry, "bank"),
        site=_good(SiteEntry, [("site", data.get("site", {}))], system).get("site", SiteEntry()),
    )


_E = TypeVar("_E", bound=BaseModel)


def _good(kind: type[_E], raw: Any, system: str) -> dict[Any, _E]:
    """Those of ``(key, plain table)`` that are well formed by themselves."""
    found = {}
    for key, value in raw:
        try:
            found[key] = kind.model_validate(value, context={"system": system})
        except ValidationError:  # reported already, with the whole file
            continue
    return found
