"""``tension --apply N OUT.toml``: the model with a remedy carried out."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import route3d
from route3d.cli.main import main
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.units import render

MODELS = Path(route3d.__file__).parents[1] / "models"
YARD, ROOF = MODELS / "yard_run.toml", MODELS / "roof_drop.toml"


def ended(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    done = capsys.readouterr()
    return code, done.out, done.err


def test_it_writes_the_model_and_prints_the_usual_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "better.toml"
    usual = ended(capsys, "tension", YARD)
    code, report, said = ended(capsys, "tension", YARD, "--apply", 4, out)
    assert (code, report) == usual[:2] and code == 1
    assert said == (f"wrote {out}: remedy 4 of run Y1; check it with: route3d check {out}\n")
    advice = evaluate(load(YARD)).runs[0].advice
    assert advice is not None
    remedy = advice.remedies[3]
    (run,) = remedy.runs
    assert f"# Remedy: {render(remedy.what, 'US')}" in out.read_text().splitlines()
    assert load(out).runs[0].route.conduits == run.route.conduits
    assert ended(capsys, "tension", out)[0] == 0


def test_it_takes_the_first_run_that_does_not_pass_or_the_one_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two like it, and before them a short one that passes."""
    text = YARD.read_text()
    start, end = text.index("[[run]]"), text.index("[[site.room]]")
    block = text[start:end]
    rows = block.index("route = [")
    short = block[:rows].replace('can_splice = ["pull vault V2"]\n', "") + (
        'route = [\n  { at = [0, 50, -4], access = ["reel", "machine"], conduit = "duct" },\n'
        '  { at = [90, 50, -4], access = ["reel", "machine"] },\n]\n\n'
    )
    model = tmp_path / "three.toml"
    runs = [short.replace('"Y1"', '"Y0"'), block, block.replace('"Y1"', '"Y2"')]
    model.write_text(text[:start] + "".join(runs) + text[end:])
    for words, name in (([], "Y1"), (["--run", "Y2"], "Y2")):
        out = tmp_path / f"{name}.toml"
        code, _, said = ended(capsys, "tension", model, *words, "--apply", 1, out)
        assert code == 1 and f"remedy 1 of run {name};" in said
        names = [r.name for r in load(out).runs]
        assert f"{name} stage 1" in names and name not in names and len(names) == 4
    code, _, said = ended(
        capsys, "tension", model, "--run", "Y0", "--apply", 1, tmp_path / "no.toml"
    )
    assert code == 2 and "--apply: no remedy to carry out: nothing stops run Y0" in said
    assert not (tmp_path / "no.toml").exists()


@pytest.mark.parametrize(
    ("model", "number", "out", "said"),
    [
        (YARD, 99, "out.toml", "--apply: run Y1 has no remedy 99; choose one from 1 to "),
        (YARD, -1, "out.toml", "has no remedy -1"),
        (ROOF, 1, "out.toml", "no remedy to carry out: nothing stops run N1"),
        (YARD, 1, "out.txt", "must end in .toml"),
        (YARD, 1, "missing/out.toml", "does not exist"),
        (YARD, 1, "there.toml", "already exists and may be a model file"),
        (YARD, 1, "", "is a folder, not a file"),
    ],
)
def test_bad_input_writes_nothing(
    model: Path,
    number: int,
    out: str,
    said: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "there.toml").write_text("mine")
    code, report, told = ended(capsys, "tension", model, "--apply", number, tmp_path / out)
    assert (code, report) == (2, "") and said in told
    assert [f.name for f in tmp_path.iterdir()] == ["there.toml"]
    assert (tmp_path / "there.toml").read_text() == "mine"


def test_the_model_itself_is_not_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = tmp_path / "mine.toml"
    shutil.copy(YARD, model)
    code, _, said = ended(capsys, "tension", model, "--apply", 1, model)
    assert code == 2 and "already exists and may be a model file" in said
    assert model.read_bytes() == YARD.read_bytes()


def test_a_number_that_is_none_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, said = ended(capsys, "tension", YARD, "--apply", "two", tmp_path / "out.toml")
    assert code == 2 and "--apply" in said
    assert not list(tmp_path.iterdir())
