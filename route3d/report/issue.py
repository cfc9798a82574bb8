"""What an issued document carries of the job it was made from, and what has changed since.

The record is the job as read, figure by figure, with the version of route3d. Its SHA-256 is the
mark of the issue: the first digits are printed on every page, the whole stands in the PDF's
keywords. The record itself is attached to the PDF, which ends with a seal over all of its bytes.
The seal shows that nothing was changed by accident or by an editor; it is not a signature.
"""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from route3d.disk import MEGABYTE, read_bytes
from route3d.drawing.pdf import Attached
from route3d.errors import InputError, Problem
from route3d.model.job import Job
from route3d.report.inputs import InputFigure, document_figures, input_figures

ATTACHMENT = "route3d.json"
"""Name of the record among the attachments of a PDF."""
_LARGEST_PDF = 200 * MEGABYTE
_SEAL = b"%route3d seal sha256 "
_STREAM = re.compile(rb"/Type\s*/EmbeddedFile\b.*?stream\r?\n", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Issue:
    """The record of one document.

    Parameters
    ----------
    kind : str
        "report" or "sheet".
    version : str
        Of route3d.
    system : {"US", "SI"}
        Units it is printed in.
    runs : tuple of str
        Names of the runs in it.
    figures : tuple of InputFigure
        Everything it is worked from, and its title block.
    draft : bool
        Whether DRAFT is printed across it.
    """

    kind: str
    version: str
    system: str
    runs: tuple[str, ...]
    figures: tuple[InputFigure, ...]
    draft: bool = False

    @property
    def mark(self) -> str:
        """SHA-256 of the figures and the version, the same for every document of the same job."""
        figures = {f.key: f.plain for f in self.figures}
        text = json.dumps([self.version, figures], sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(text.encode()).hexdigest()

    @property
    def short(self) -> str:
        """The mark as printed."""
        return self.mark[:12]

    def said(self, key: str) -> str:
        """A text of the title block, such as ``document.revision``; empty where not given."""
        return next((str(f.value) for f in self.figures if f.key == key), "")

    @property
    def words(self) -> str:
        """Revision, date and mark as every page carries them."""
        parts = [
            f"no. {self.said('document.number')}" if self.said("document.number") else "",
            f"rev. {self.said('document.revision')}" if self.said("document.revision") else "",
            self.said("document.date"),
            f"mark {self.short}",
            f"route3d {self.version}",
        ]
        return ", ".join(part for part in parts if part)

    @property
    def keywords(self) -> list[str]:
        """What the PDF's own list of keywords holds."""
        named = {"revision": "document.revision", "date": "document.date"}
        told = [f"{name} {text}" for name, key in named.items() if (text := self.said(key))]
        return [f"route3d {self.version}", self.kind, *told, f"sha256 {self.mark}"]

    @property
    def data(self) -> dict[str, Any]:
        """The record as plain data, as it is attached."""
        return {
            "route3d": self.version,
            "kind": self.kind,
            "draft": self.draft,
            "units": self.system,
            "runs": list(self.runs),
            "sha256": self.mark,
            "figures": {f.key: f.plain for f in self.figures},
        }


def issue_of(job: Job, kind: str, system: str, *, draft: bool = False) -> Issue:
    """The record of a document of the runs of a job."""
    from route3d import __version__

    figures = (*document_figures(job), *input_figures(job))
    return Issue(kind, __version__, system, tuple(r.name for r in job.runs), figures, draft)


def attachment(issue: Issue) -> Attached:
    """The record of an issue as a PDF carries it."""
    text = json.dumps(issue.data, ensure_ascii=False, indent=1)
    return Attached(ATTACHMENT, text, issue.keywords)


def sealed(pdf: bytes) -> bytes:
    """A PDF with the seal over all of its bytes behind its end, where readers pass it over."""
    pdf = pdf.rstrip(b"\r\n") + b"\n"
    return pdf + _SEAL + hashlib.sha256(pdf).hexdigest().encode() + b"\n"


# --- reading ---------------------------------------------------------------------------------


def read_issue(path: Path) -> Issue:
    """The record of a PDF that route3d made and nobody changed; InputError otherwise."""
    pdf = read_bytes(path, limit=_LARGEST_PDF)
    if not pdf.startswith(b"%PDF-"):
        raise _refused(path, "is not a PDF", "name the PDF that was issued")
    body, seal, said = pdf.rpartition(_SEAL)
    if not seal:
        raise _refused(
            path,
            "was not issued by route3d, or was saved again by another program",
            "use the file as route3d wrote it",
        )
    if hashlib.sha256(body).hexdigest().encode() + b"\n" != said:
        raise _refused(path, "was changed after it was issued", "use the file as route3d wrote it")
    for found in _STREAM.finditer(body):
        if (record := _record(body[found.end() :])) is not None:
            return record
    raise _refused(path, "holds no record of the job it was made from", "issue it again")


def _refused(path: Path, message: str, fix: str) -> InputError:
    return InputError(Problem(message, fix=fix, file=str(path)))


def _record(stream: bytes) -> Issue | None:
    """The record at the start of a stream of a PDF, compressed or not; None where it is none."""
    try:
        text = zlib.decompressobj().decompress(stream)
    except zlib.error:
        text = stream.partition(b"endstream")[0]
    try:
        data = json.loads(text.strip())
        figures = tuple(
            InputFigure(key, tuple(value) if isinstance(value, list) else value, quantity)
            for key, (value, quantity) in data["figures"].items()
        )
        issue = Issue(
            data["kind"],
            data["route3d"],
            data["units"],
            tuple(data["runs"]),
            figures,
            bool(data["draft"]),
        )
    except (ValueError, KeyError, TypeError):
        return None
    return issue if issue.mark == data["sha256"] else None


# --- what has changed ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Change:
    """One figure that differs: as issued, and now; None where it is not there."""

    key: str
    old: InputFigure | None
    new: InputFigure | None

    def words(self, system: str) -> tuple[str, str, str]:
        """Key, figure as issued, figure now."""
        old, new = (
            "not there" if one is None else one.shown(system) for one in (self.old, self.new)
        )
        return self.key, old, new


def changes(issue: Issue, job: Job) -> tuple[Change, ...]:
    """The figures that differ between what was issued and a job, in the order of the job's file."""
    kept = [run for run in job.runs if run.name in issue.runs]
    now = replace(job, runs=tuple(kept))
    new = {f.key: f for f in (*document_figures(now), *input_figures(now))}
    old = {f.key: f for f in issue.figures}
    keys = dict.fromkeys((*new, *old))
    return tuple(
        Change(key, old.get(key), new.get(key))
        for key in keys
        if key not in old or key not in new or old[key].plain != new[key].plain
    )


def missing_runs(issue: Issue, job: Job) -> Sequence[str]:
    """Runs of the document that the job no longer has."""
    names = {run.name for run in job.runs}
    return [name for name in issue.runs if name not in names]
