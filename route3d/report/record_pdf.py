"""The as-pulled record as PDF, by typst."""

from __future__ import annotations

import json

from route3d.drawing.pdf import typeset
from route3d.field.record import PullRecord
from route3d.report.calculation_pdf import PAPERS
from route3d.report.document import document_data
from route3d.report.draft import refuse_unconfirmed
from route3d.report.issue import attachment, issue_of, sealed
from route3d.report.record import record_document, record_json


def record_pdf(record: PullRecord, system: str, *, paper: str, draft: bool = False) -> bytes:
    """The record as PDF on ``paper`` "letter" or "a4", sealed; same record, same bytes.

    The figures of the job go with it, and beside them, under "record", the whole record.
    """
    refuse_unconfirmed(record.job, draft, "record")
    issue = issue_of(record.job, "record", system, draft=draft)
    carried = attachment(issue)
    text = json.dumps(issue.data | {"record": record_json(record)}, ensure_ascii=False, indent=1)
    data = document_data(record_document(record, issue))
    pdf = typeset(
        "route3d.report",
        "calculation.typ",
        data | {"paper": PAPERS[paper], "draft": draft},
        draft=draft,
        attached=carried._replace(text=text),
    )
    return sealed(pdf)
