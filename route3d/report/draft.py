"""Drafts: documents of a job with values that nobody has confirmed are made as nothing else.

A document to build or pull by (the crew's sheet, the calculation report, a page to hand over) calls
``refuse_unconfirmed`` before it is made. A draft has DRAFT across every page: ``draft=True`` of
``drawing.pdf.typeset`` for a PDF, ``DRAFT_STYLE`` and ``DRAFT_MARK`` for HTML.
"""

from __future__ import annotations

from route3d.errors import InputError, Problem
from route3d.model.examples import example_names
from route3d.model.job import Job

DRAFT_STYLE = """
.draft-mark { position: fixed; inset: 0; display: grid; place-items: center; overflow: hidden;
  pointer-events: none; z-index: 1000; color: #8883; font: bold 24vmin/1 system-ui, sans-serif; }
.draft-mark span { transform: rotate(-35deg); }
"""
"""Style of the word across an HTML page; what is fixed is printed on every page."""

DRAFT_MARK = '<div class="draft-mark" aria-hidden="true"><span>DRAFT</span></div>'


def refuse_unconfirmed(job: Job, draft: bool, what: str = "sheet") -> None:
    """InputError where a document is asked for that may only be a draft, and is not one.

    Parameters
    ----------
    job : Job
        Whose ``examples`` count.
    draft : bool
        Whether ``--draft`` was given.
    what : str
        The document, in a word: "sheet", "report", "page".

    Raises
    ------
    InputError
        Naming the tables to confirm.
    """
    if draft or not job.examples:
        return
    said = f"no {what} is made from example values; not confirmed: {example_names(job.examples)}"
    mark = "clear the column example" if job.in_workbook else "delete each example = true"
    fix = f"confirm them and {mark}, or add --draft to print DRAFT across it"
    raise InputError(Problem(said, "--draft", fix, str(job.path) if job.path else ""))
