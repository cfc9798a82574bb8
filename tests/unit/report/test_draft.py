"""Documents of example values: refused, or a draft on every page."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import BytesIO

import pytest
from pypdf import PdfReader

import route3d
from route3d.errors import InputError
from route3d.model.job import Job
from route3d.modelfile.read import loads
from route3d.modelfile.starter import starter
from route3d.planning.pull_plan.plan import Plan
from route3d.report.sheet import phone_page, sheet_pdf

Document = Callable[..., bytes | str]
WHOLE = "example = true\n"


@pytest.fixture(scope="module")
def confirmed() -> str:
    return re.sub(r"(?m)^example = true.*\n", "", starter("SI"))


def _planned(text: str) -> tuple[Job, tuple[Plan, ...]]:
    job = loads(text)
    return job, route3d.plan(job).plans


@pytest.mark.parametrize("document", [sheet_pdf, phone_page])
def test_example_values_make_drafts_only(document: Document, confirmed: str) -> None:
    job, plans = _planned(confirmed.replace("[machine.puller]", "[machine.puller]\nexample = true"))
    with pytest.raises(InputError, match=r"not confirmed: machine\.puller") as refused:
        document(job, plans, "SI")
    assert "--draft" in refused.value.problems[0].fix
    for page in _pages(document(job, plans, "SI", draft=True)):
        assert "DRAFT" in page and "EXAMPLE VALUES, not confirmed: machine.puller" in page


@pytest.mark.parametrize("document", [sheet_pdf, phone_page])
def test_confirmed_values_make_a_draft_where_asked_for(document: Document, confirmed: str) -> None:
    job, plans = _planned(confirmed)
    assert not any(
        "DRAFT" in page or "EXAMPLE" in page for page in _pages(document(job, plans, "SI"))
    )
    assert all("DRAFT" in page for page in _pages(document(job, plans, "SI", draft=True)))


def _pages(made: bytes | str) -> list[str]:
    if isinstance(made, str):
        return [re.sub("<[^>]+>", " ", made)]
    pages = [page.extract_text() for page in PdfReader(BytesIO(made)).pages]
    assert pages
    return pages
