"""``route3d field record``, ``library`` and ``history``, as they are typed."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from route3d.cli.main import main
from route3d.field.library import append, records
from route3d.report.issue import read_issue
from tests.support.past_pulls import past_pull

MODEL = "models/riser_duct_bank.toml"
Captured = pytest.CaptureFixture[str]


def _log(folder: Path, factor: float = 1.0, name: str = "F1.csv") -> Path:
    """Readings every 10 ft by a straight line near the plan of feeding from the roof."""
    path = folder / name
    rows = [f"{x},{round((300 + 1.9 * x) * factor / 50) * 50}" for x in range(10, 333, 10)]
    head = "started,2026-11-24T07:00:00\nfeed,roof switchroom\n"
    path.write_text(head + "cable in (ft),reading (lbf)\n" + "\n".join(rows), encoding="utf-8")
    return path


def _run(capsys: Captured, *words: object) -> tuple[int, str, str]:
    code = main(["field", *map(str, words)])
    return code, *capsys.readouterr()


def test_blanks_stand_for_what_nobody_gave(tmp_path: Path, capsys: Captured) -> None:
    code, out, _ = _run(capsys, "record", MODEL, _log(tmp_path), "--no-fit")
    assert code == 0
    assert "Stop was not passed." in out and "No fit was asked for" in out
    for label in ("foreman", "machine operator", "quantity", "cable temperature"):
        assert re.search(rf"{label} +_+", out), label
    assert out.count("jacket integrity") == 2


def test_stop_passed_is_exit_code_1(tmp_path: Path, capsys: Captured) -> None:
    code, out, _ = _run(capsys, "record", MODEL, _log(tmp_path, 5.0), "--no-fit", "--json")
    assert code == 1
    data = json.loads(out)
    assert data["stop_passed"] is True and data["peak"]["above"] == "stop"
    assert len(data["readings"]) == 33 and data["sha256"]["log"]
    assert any("Stop was passed: " in words for words in data["departures"])


def test_template_details_and_pdf(tmp_path: Path, capsys: Captured) -> None:
    from pypdf import PdfReader

    details, pdf, log = tmp_path / "details.toml", tmp_path / "F1.pdf", _log(tmp_path)
    assert _run(capsys, "record", MODEL, "--details-template", details)[0] == 0
    text = details.read_text(encoding="utf-8")
    details.write_text(
        text.replace('foreman = ""', 'foreman = "#Ortiz *bold*"').replace('lot = ""', 'lot = "B7"')
    )
    words = ("record", MODEL, log, "--no-fit", "--details", details, "--pdf", pdf)
    code, out, err = _run(capsys, *words)
    assert code == 0 and "#Ortiz *bold*" in out and f"wrote {pdf}" in err
    first = pdf.read_bytes()
    assert _run(capsys, *words)[0] == 0
    assert pdf.read_bytes() == first
    read = PdfReader(pdf)
    shown = " ".join(page.extract_text() for page in read.pages)
    for part in ("As-pulled record", "#Ortiz *bold*", "B7", "Foreman", "Made from (SHA-256)"):
        assert part in shown
    carried = json.loads(read.attachments["route3d.json"][0])
    assert carried["record"]["details"]["foreman"] == "#Ortiz *bold*"
    assert read_issue(pdf).kind == "record"
    assert main(["issued", str(pdf), MODEL]) == 0
    assert main(["field", "record", MODEL, "--details-template", str(details)]) == 2


def test_a_library_grows_is_checked_and_exported(tmp_path: Path, capsys: Captured) -> None:
    library, log = tmp_path / "pulls.sqlite", _log(tmp_path)
    words = ("record", MODEL, log, "--append", library, "--no-fit")
    assert "as no. 1" in _run(capsys, *words)[2]
    code, _, err = _run(capsys, *words)
    assert code == 2 and "already holds these readings: no. 1" in err
    assert "as no. 1" in _run(capsys, *words, "--force")[2]
    assert [len(record["readings"]) for record in records(library)] == [33]
    append(library, past_pull(2, lines=[past_pull(2)["friction"][0] | {"jacket": ""}]))
    assert "Sound: 2 records." in _run(capsys, "library", library, "--check")[1]
    csv, whole = tmp_path / "x.csv", tmp_path / "x.json"
    assert _run(capsys, "library", library, "--export", csv)[0] == 0
    assert _run(capsys, "library", library, "--export", whole)[0] == 0
    lines = csv.read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("number,added,title,run,") and len(lines) == 2
    assert [r["number"] for r in json.loads(whole.read_text(encoding="utf-8"))] == [1, 2]
    code, out, _ = _run(capsys, "history", library)
    assert code == 0 and "Not pooled" in out  # without a jacket
    code, out, _ = _run(capsys, "history", library, "--json")
    found = json.loads(out)["friction"]
    assert [(row["conduit"], row["count"], row["next_pull"]) for row in found] == [("PVC", 1, None)]
    assert _run(capsys, "history", tmp_path / "none.sqlite")[0] == 2


def test_example_values_never_come_into_a_library(tmp_path: Path, capsys: Captured) -> None:
    text = Path(MODEL).read_text(encoding="utf-8")
    model = tmp_path / "job.toml"
    model.write_text(text.replace("[conduit.duct]\n", "[conduit.duct]\nexample = true\n"))
    library, log = tmp_path / "pulls.sqlite", _log(tmp_path)
    for draft in ((), ("--draft",)):
        code, _, err = _run(capsys, "record", model, log, "--no-fit", "--append", library, *draft)
        assert code == 2 and "conduit.duct" in err and not library.exists()
    code, _, err = _run(capsys, "record", model, log, "--no-fit", "--pdf", tmp_path / "x.pdf")
    assert code == 2 and "no record is made from example values" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("record", MODEL), "no log of the pull is named"),
        (("record", MODEL, "none.csv"), "no such file"),
        (("record", MODEL, "LOG", "--feed", "nowhere"), "has no end named 'nowhere'"),
        (("record", MODEL, "LOG", "--append", "x.toml"), "must end in .sqlite or .db"),
        (("record", MODEL, "LOG", "--tare", "3 ft"), "is a length"),
        (("library", MODEL, "--check"), "is not a library of past pulls"),
    ],
)
def test_what_cannot_be_done_is_said(
    words: tuple[str, ...], said: str, tmp_path: Path, capsys: Captured
) -> None:
    log = str(_log(tmp_path))
    code, _, err = _run(capsys, *(log if word == "LOG" else word for word in words))
    assert code == 2 and said in err
