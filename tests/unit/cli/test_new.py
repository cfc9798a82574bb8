"""``route3d new``: templates that pass, and nine questions at a terminal or from a pipe."""

from __future__ import annotations

import builtins
import io
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from route3d.cli.main import main
from route3d.modelfile.read import load, loads
from route3d.modelfile.starter import TEMPLATES, template_text

MEZZANINE = """\
NFPA 70 2023, US
? 500 kcmil
1
4 and a ground
4 and bare ground copper 3/0 AWG 19 strand
PVC-40 5 then RMC 5
lubricated
start pad at 0, 0, -3 heading north
208 fet
208 ft
offset 3 ft left at 30 degrees; 250 ft
back
205 ft
up 90 at 48 in
60 ft in riser; turn to heading north at 48 in
10 ft
end mezzanine

drag 25 ft
?
capstan 8,000 lbf two-speed with polyester double braid 7/8
back
capstan 8,000 lbf two-speed with polyester double braid 1
both ends
"""


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Puts a text where a pipe would."""
    return lambda text: monkeypatch.setattr("sys.stdin", io.StringIO(text))


# --- templates -----------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["US", "SI"])
@pytest.mark.parametrize("name", TEMPLATES)
def test_templates_pass_and_are_marked_all_over(
    name: str, units: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    assert main(["new", str(path), "--template", name, "--units", units]) == 0
    assert f"next: route3d check {path}" in capsys.readouterr().err
    text = path.read_text(encoding="utf-8")
    assert text == template_text(name, units)
    assert len(text.splitlines()) <= 70
    # every header is followed by its mark, and no table is inline
    heads = re.findall(r"(?m)^\[.*\].*\n(.*)\n", text)
    assert heads and all(line.startswith("example = true") for line in heads)
    job = load(path)
    assert job.units == units and len(job.examples) == len(heads)
    assert job.banks or name != "duct-bank"
    for command in ("check", "tension", "plan"):
        assert main([command, str(path)]) == 0, command
        assert "STOP" not in capsys.readouterr().out


def test_a_template_that_is_none_names_those_that_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["new", str(tmp_path / "x.toml"), "--template", "rooof-drop"]) == 2
    assert "did you mean 'roof-drop'?" in capsys.readouterr().err
    for other in (["--rules", "none"], ["--ask"]):
        words = ["new", str(tmp_path / "x.toml"), "--template", "riser", *other]
        assert main(words) == 2
        assert "do not go together" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


# --- nine questions ------------------------------------------------------------------------------


def test_the_mezzanine_job_in_nine_questions(
    typed: Callable[[str], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Everything typed is given; help, a search, mistakes and ways back cost nothing."""
    typed(MEZZANINE)
    path = tmp_path / "job.toml"
    assert main(["new", str(path), "--ask"]) == 0
    out = capsys.readouterr().out
    assert [int(n) for n in re.findall(r"(?m)^(\d) of 9  ", out)] == [
        1,
        2,
        3,
        4,
        5,
        6,
        7,
        8,
        9,
        8,
        9,
    ]
    assert " 1  600 V XHHW-2 copper 500 kcmil" in out
    assert "the ground has no size" in out
    assert re.search(r'leg 2 \("208 fet"\), column 5: "fet" is not understood', out)
    assert "removed: 250 ft" in out
    assert "A class of machine by its pull" in out
    text = path.read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    assert len(lines) <= 28
    job = loads(text)
    (run,) = job.runs
    assert job.examples == () and job.title == "Pad to mezzanine"
    assert [(c.about, n) for c, n in run.cables.items] == [
        ("600 V XHHW-2 copper 500 kcmil", 4),
        ("bare ground copper 3/0 AWG 19 strand", 1),
    ]
    assert [c.name for c in dict.fromkeys(run.route.conduits)] == ["duct", "riser"]
    assert run.route.vertices[-1].name == "mezzanine" and run.rope is not None
    assert run.rope.diameter == pytest.approx(0.0254)
    assert main(["tension", str(path)]) in (0, 1)


def test_defaults_alone_by_nine_times_enter(
    typed: Callable[[str], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed("\n" * 9)
    path = tmp_path / "job.toml"
    assert main(["new", str(path), "--ask", "--units", "SI"]) == 0
    assert load(path).units == "SI" and "run.F1" in load(path).examples
    capsys.readouterr()
    assert main(["tension", str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[1].startswith("EXAMPLE VALUES")


@pytest.mark.parametrize("text", ["", "NFPA 70, US\n", "\n\nback\nback\nback\n\n?\n"])
def test_where_the_answers_end_nothing_is_written(
    text: str, typed: Callable[[str], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(text)
    assert main(["new", str(tmp_path / "job.toml"), "--ask"]) == 2
    assert "nothing was written" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_an_interrupt_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: str) -> str:
        raise KeyboardInterrupt

    monkeypatch.setattr(builtins, "input", interrupted)
    assert main(["new", str(tmp_path / "job.toml"), "--ask"]) == 2
    assert not list(tmp_path.iterdir())


def test_a_file_that_exists_is_refused_before_the_questions(
    typed: Callable[[str], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed("\n" * 9)
    path = tmp_path / "job.toml"
    path.write_text("mine")
    assert main(["new", str(path), "--ask"]) == 2
    assert capsys.readouterr().out == "" and path.read_text() == "mine"
    assert main(["new", str(path), "--ask", "--force"]) == 0
    assert load(path).runs


def test_the_next_command_can_be_pasted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new", "my job.xlsx"]) == 0
    assert capsys.readouterr().err == "wrote my job.xlsx; next: route3d check 'my job.xlsx'\n"
