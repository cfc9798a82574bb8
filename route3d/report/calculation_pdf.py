"""The calculation report as PDF, by typst."""

from __future__ import annotations

import json

from route3d.drawing.pdf import Attached, typeset
from route3d.report.document import Document, document_data
from route3d.report.issue import ATTACHMENT, Issue, sealed

PAPERS = {"letter": "us-letter", "a4": "a4"}


def calculation_pdf(document: Document, issue: Issue, *, paper: str) -> bytes:
    """The report as PDF with its record attached; the same report gives the same bytes."""
    data = document_data(document) | {"paper": PAPERS[paper]}
    attached = attachment(issue)
    pdf = typeset("route3d.report", "calculation.typ", data, draft=issue.draft, attached=attached)
    return sealed(pdf)


def attachment(issue: Issue) -> Attached:
    """The record of an issue as a PDF carries it."""
    text = json.dumps(issue.data, ensure_ascii=False, indent=1)
    return Attached(ATTACHMENT, text, issue.keywords)
