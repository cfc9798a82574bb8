"""The calculation report as PDF, by typst."""

from __future__ import annotations

from route3d.drawing.pdf import typeset
from route3d.report.document import Document, document_data
from route3d.report.issue import Issue, attachment, sealed

PAPERS = {"letter": "us-letter", "a4": "a4"}


def calculation_pdf(document: Document, issue: Issue, *, paper: str) -> bytes:
    """The report as PDF with its record attached; the same report gives the same bytes."""
    data = document_data(document) | {"paper": PAPERS[paper], "draft": issue.draft}
    pdf = typeset(
        "route3d.report",
        "calculation.typ",
        data,
        draft=issue.draft,
        attached=attachment(issue),
    )
    return sealed(pdf)
