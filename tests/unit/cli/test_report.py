"""``report``: files, pages, runs, drafts, exit codes."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from route3d.cli.main import main
from tests.support.report_model import MODEL

# The short run alone, without machine and rope: quick to answer.
SHORT = MODEL[: MODEL.index("[[run]]")] + MODEL[MODEL.rindex("[[run]]") :]


def written(folder: Path, text: str = SHORT) -> Path:
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return folder / "job.toml"


def test_it_writes_what_is_asked_for(tmp_path: Path) -> None:
    model, pdf, page = written(tmp_path), tmp_path / "r.pdf", tmp_path / "r.html"
    assert main(["report", str(model), "--pdf", str(pdf), "--html", str(page)]) == 0
    first = PdfReader(pdf).pages[0]
    assert [round(float(x)) for x in first.mediabox[2:]] == [595, 842]  # a job in SI: A4
    assert "<h1>Cable pulling calculation</h1>" in page.read_text(encoding="utf-8")
    assert (
        main(["report", str(model), "--pdf", str(pdf), "--paper", "LETTER", "--units", "US"]) == 0
    )
    first = PdfReader(pdf).pages[0]
    assert [round(float(x)) for x in first.mediabox[2:]] == [612, 792]
    assert "T in, lbf" in "".join(p.extract_text() for p in PdfReader(pdf).pages[:2])
    assert main(["issued", str(pdf), str(model)]) == 0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "add --pdf FILE.pdf or --html FILE.html"),
        (["--pdf", "r.txt"], "must end in .pdf"),
        (["--pdf", "r.pdf", "--run", "A9"], "no run is named 'A9'"),
    ],
)
def test_bad_input(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    message: str,
) -> None:
    model = written(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert main(["report", str(model), *arguments]) == 2
    assert message in capsys.readouterr().err
    assert [f.name for f in tmp_path.iterdir()] == ["job.toml"]


def test_example_values_make_a_draft_only(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = written(tmp_path, SHORT.replace("[cable.phase]", "[cable.phase]\nexample = true"))
    pdf = tmp_path / "r.pdf"
    assert main(["report", str(model), "--pdf", str(pdf)]) == 2
    assert "not confirmed: cable.phase" in capsys.readouterr().err and not pdf.exists()
    assert main(["report", str(model), "--pdf", str(pdf), "--draft"]) == 0
    pages = [page.extract_text() for page in PdfReader(BytesIO(pdf.read_bytes())).pages]
    assert all("DRAFT" in page for page in pages)
    assert all("EXAMPLE VALUES" in page for page in pages)


def test_a_run_that_stops_is_reported_with_exit_code_1(tmp_path: Path) -> None:
    text = SHORT.replace("sidewall_limit = 40000", "sidewall_limit = 40", 1)
    model = written(
        tmp_path, text.replace('rules = "none"', 'rules = "none"\nbend_form = "capstan"')
    )
    page = tmp_path / "r.html"
    assert main(["report", str(model), "--html", str(page)]) == 1
    text = page.read_text(encoding="utf-8")
    assert "STOP. Do not pull: " in text and "emedies" in text
    assert "handbook method" in text
