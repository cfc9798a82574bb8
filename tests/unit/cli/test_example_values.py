"""EXAMPLE VALUES on every output: each file and report that a command makes names the tables.

The commands and their files are found in the program itself, so that a new one fails here until it
says how its text is read.
"""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from inspect import signature
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import route3d
from route3d.cli.main import all_commands, function_of, main
from route3d.drawing.marks import Text
from route3d.modelfile.read import load, loads
from route3d.modelfile.starter import starter, template_text

TABLES = ["cable.phase", "run.F1"]
BANNER = "EXAMPLE VALUES"
MARK = "example = true\n"

# Input files, and outputs that are models: those keep the marks themselves.
_INPUTS = {"model", "models", "source", "like", "into", "log_file", "logs", "crews"}


def _plain(path: Path) -> str:
    return path.read_bytes().decode("utf-8", "replace")


def _pdf(path: Path) -> str:
    from pypdf import PdfReader

    pages = [page.extract_text() for page in PdfReader(path).pages]
    assert all(BANNER in page for page in pages), path
    return " ".join(pages)


def _workbook(path: Path) -> str:
    with zipfile.ZipFile(BytesIO(path.read_bytes())) as book:
        return " ".join(book.read(name).decode() for name in book.namelist())


def _page(path: Path) -> str:
    return re.sub("<[^>]+>", " ", _plain(path)) if path.suffix == ".svg" else _plain(path)


_RADIUS = ["--input", "radius"]
_REELS = ["--reel-length", "1500 ft"]
# How each file of each command is asked for, and how its words are read. None: see its own test.
FILES: dict[tuple[str, str], tuple[list[str], Callable[[Path], str]] | None] = {
    ("check", "section"): (["--section", "x.svg"], _page),
    ("tension", "apply"): None,  # a model file: it keeps the marks
    ("bends", "csv"): (["--csv", "x.csv"], _plain),
    ("bends", "xlsx"): (["--xlsx", "x.xlsx"], _workbook),
    ("bends", "strips"): (["--strips", "x.pdf"], _pdf),
    ("bends", "labels"): (["--labels", "x.pdf"], _pdf),
    ("bank", "csv"): (["--csv", "x.csv"], _plain),
    ("bank", "pieces"): (["--pieces", "x.csv"], _plain),
    ("bank", "xlsx"): (["--xlsx", "x.xlsx"], _workbook),
    ("bank", "section"): (["--section", "x.svg", "--at", "20 ft"], _page),
    ("bank", "out"): (["-o", "x.ifc"], _plain),
    ("bank", "solid"): (["--solid", "x.stl"], _plain),
    ("clearance", "csv"): (["--csv", "x.csv"], _plain),
    ("clearance", "bcf"): None,  # of clashes alone: test_clearance_issues.py
    ("clearance", "pictures"): None,
    ("plan", "sheet"): (["--draft", "--sheet", "x.pdf"], _pdf),
    ("plan", "cards"): (["--draft", "--cards", "x.pdf"], _pdf),
    ("plan", "html"): (["--draft", "--html", "x.html"], _page),
    ("view", "png"): None,
    ("view", "movie"): None,
    ("view", "svg"): (["--svg", "x.svg"], _page),
    ("view", "html"): (["--draft", "--html", "x.html"], _plain),
    ("drawing", "file"): (["x.pdf"], _pdf),
    ("convert", "target"): None,  # a route alone; its report says so
    ("convert", "elements"): None,  # what was wrong in a file of others
    ("new", "file"): None,
    ("new", "workbook"): None,
    ("jobs", "html"): (["--html", "x.html"], _page),
    ("jobs", "out"): None,  # lines of JSON: test_many_jobs.py
    ("jobs", "csv"): (["--csv", "x.csv"], _plain),
    ("jobs", "xlsx"): (["--xlsx", "x.xlsx"], _workbook),
    ("reels", "csv"): ([*_REELS, "--csv", "x.csv"], _plain),
    ("reels", "xlsx"): ([*_REELS, "--xlsx", "x.xlsx"], _workbook),
    ("compare", "svg"): (["MODEL", "--svg", "x.svg"], _page),
    ("compare", "pdf"): (["MODEL", "--pdf", "x.pdf"], _pdf),
    ("compare", "png"): None,  # the same drawing
    ("study spread", "svg"): (["--svg", "x.svg"], _page),
    ("study spread", "png"): None,  # the same drawing
    ("study limits", "svg"): ([*_RADIUS, "--svg", "x.svg"], _page),
    ("study limits", "png"): None,  # the same drawing
    ("study options", "svg"): (["--vaults", "1", "--svg", "x.svg"], _page),
    ("study options", "png"): None,  # the same drawing
    ("study limits", "csv"): ([*_RADIUS, "--csv", "x.csv"], _plain),
    ("study limits", "xlsx"): ([*_RADIUS, "--xlsx", "x.xlsx"], _workbook),
    ("study options", "options_file"): None,  # read, not written
    ("study options", "csv"): (["--vaults", "1", "--csv", "x.csv"], _plain),
    ("study options", "xlsx"): (["--vaults", "1", "--xlsx", "x.xlsx"], _workbook),
    ("study days", "csv"): (["CREWS", "--csv", "x.csv"], _plain),
    ("study days", "xlsx"): (["CREWS", "--xlsx", "x.xlsx"], _workbook),
    ("study days", "svg"): (["CREWS", "--svg", "x.svg"], _page),
    ("study days", "png"): None,  # the same drawing
    ("report", "pdf"): (["--draft", "--pdf", "x.pdf"], _pdf),
    ("report", "html"): (["--draft", "--html", "x.html"], _page),
    ("issued", "file"): None,  # read, not written
    ("study spread", "csv"): (["--csv", "x.csv"], _plain),
    ("field compare", "svg"): (["LOG", "--svg", "x.svg"], _page),
    ("field compare", "png"): None,  # the same drawing
    ("field form", "file"): (["--draft", "x.csv"], _plain),
    ("field log", "csv"): (["LOG", "--csv", "x.csv"], _plain),
    ("field fit", "svg"): (["LOG", "--svg", "x.svg"], _page),
    ("field record", "pdf"): (["LOG", "--no-fit", "--draft", "--pdf", "x.pdf"], _pdf),
    ("field record", "details"): None,  # read, not written
    ("field record", "details_template"): None,  # an empty form
    ("field record", "append"): None,  # refused of example values: test_field_record.py
    ("field library", "library"): None,  # nothing of example values is in it
    ("field library", "export"): None,
    ("field history", "library"): None,
    ("field watch", "state"): None,  # read again by the same command only
}


def _commands() -> Iterator[tuple[str, str, str]]:
    """Command, parameter and annotation of everything that is a file."""
    for command in all_commands():
        run = function_of(command)
        for name, parameter in signature(run).parameters.items():
            yield command, name, str(parameter.annotation)


PARAMETERS = list(_commands())
OF_MODELS = [c for c, name, _ in PARAMETERS if name in ("model", "models")]
RECIPES = {key: FILES.get(key) for key in ((c, n) for c, n, _ in PARAMETERS)}
MORE = {
    "reels": _REELS,
    "study limits": _RADIUS,
    "compare": ["MODEL"],
    "study options": ["--vaults", "1"],
    "study days": ["CREWS"],
    "field log": ["LOG"],
    "field fit": ["LOG"],
    "field compare": ["LOG"],
    "field record": ["LOG", "--no-fit"],
}
# Nothing but their files, a page whose data are looked at below, or an answer about formulas.
_QUIET = {"view", "drawing", "serve", "report", "explain", "issued", "field form", "field watch"}


@pytest.fixture(scope="module")
def model(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A template, confirmed but for its cable and its run."""
    text = re.sub(r"(?m)^example = true.*\n", "", template_text("duct-bank", "US"))
    for head in ("[cable.phase]\n", "[[run]]\n"):
        text = text.replace(head, head + MARK)
    text = text.replace("rows = 2", "rows = 1").replace("columns = 3", "columns = 2")
    path = tmp_path_factory.mktemp("examples") / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _names_them(text: str) -> bool:
    return BANNER in text and all(table in text for table in TABLES)


def test_every_file_of_every_command_is_known() -> None:
    files = {(c, n) for c, n, kind in PARAMETERS if re.search(r"\bPath\b", kind)}
    assert {f for f in files if f[1] not in _INPUTS} <= set(FILES)


@pytest.mark.parametrize("command", [c for c in OF_MODELS if c not in _QUIET])
def test_reports_begin_with_the_banner(
    command: str, model: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [*command.split(), str(model), *_words(MORE.get(command, []), model)]
    assert main(words) == 0
    assert _names_them("".join(capsys.readouterr().out.splitlines(keepends=True)[:3]))
    assert main([*words, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    # of one job at the top, of several jobs beside each
    assert TABLES in ([data["examples"]] if "examples" in data else _examples_of(data))


def _examples_of(data: Any) -> list[Any]:
    if isinstance(data, list):
        return [found for entry in data for found in _examples_of(entry)]
    if not isinstance(data, dict):
        return []
    own = [data["examples"]] if "examples" in data else []
    return own + [found for entry in data.values() for found in _examples_of(entry)]


def _words(asked: list[str], model: Path) -> list[str]:
    """The words of a command; LOG is a log of a pull of the model, CREWS a crews file for it."""
    crews = model.with_name("crews.txt")
    machine = load(model).machines[0].name
    hours = 'hours = "07:00-15:30"'
    text = f'start = 2026-06-01\n[crew.A]\nmachines = ["{machine}"]\n{hours}\n'
    crews.write_text(text, encoding="utf-8")
    log = model.with_name("pull.csv")
    rows = "".join(f"{50 + 10 * i},{800 + 10 * i}\n" for i in range(10))
    log.write_text(f"cable in (ft),reading (lbf)\n{rows}", encoding="utf-8")
    given = {"MODEL": str(model), "LOG": str(log), "CREWS": str(crews)}
    return [given.get(word, word) for word in asked]


@pytest.mark.parametrize(("command", "name"), [k for k, v in RECIPES.items() if v])
def test_files_carry_it(
    command: str, name: str, model: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    asked, read = FILES[command, name] or ([], _plain)
    assert main([*command.split(), str(model), *_words(asked, model)]) == 0
    (made,) = tmp_path.iterdir()
    assert BANNER in read(made)
    # 80 bytes of a solid hold no list; nothing is near the run, so its clearances have no rows
    if (command, name) not in (("bank", "solid"), ("clearance", "csv")):
        assert _names_them(read(made))


@pytest.mark.parametrize("kind", [".svg", ".dxf"])
def test_drawings_of_every_kind_carry_it(kind: str, model: Path, tmp_path: Path) -> None:
    assert main(["drawing", str(model), str(tmp_path / f"x{kind}")]) == 0
    files = sorted(tmp_path.glob(f"x*{kind}"))  # of several sheets, one SVG each
    assert files and all(_names_them(_page(file)) for file in files)


@pytest.mark.parametrize("kind", [".pdf", ".svg", ".dxf"])
def test_rigging_drawings_are_drafts_that_carry_it(
    kind: str, model: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / f"x{kind}"
    asked = ["drawing", str(model), str(file), "--rigging"]
    assert main(asked) == 2
    assert "no rigging drawing is made from example values" in capsys.readouterr().err
    assert not file.exists()
    assert main([*asked, "--draft"]) == 0
    made = sorted(tmp_path.iterdir())
    assert len(made) == (2 if kind == ".svg" else 1)
    for each in made:
        text = _pdf(each) if kind == ".pdf" else _page(each)
        assert _names_them(text)
        assert "DRAFT" in text


@pytest.mark.parametrize(
    ("option", "file", "look"),
    [
        ("--png", "x.png", "isometric"),
        ("--png", "x.png", "profile"),
        ("--movie", "x.gif", "isometric"),
    ],
)
def test_pictures_show_it(
    option: str,
    file: str,
    look: str,
    model: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What is written over the picture; the renderer itself is not needed for that."""
    from viewer import film, renderer
    from viewer.still import picture

    words: list[str] = []

    def painted(image: Any, overlay: Any, times: int) -> Any:
        words.extend(mark.text for mark in overlay if isinstance(mark, Text))
        return image.resize((8, 8))

    @contextmanager
    def off_screen(*_: Any) -> Iterator[Callable[[], Any]]:
        yield lambda: np.zeros((8, 8, 3), dtype=np.uint8)

    for module in (picture, film):
        monkeypatch.setattr(module, "painted", painted)
        monkeypatch.setattr(module, "start_trial", lambda: None)
    monkeypatch.setattr(renderer, "start_trial", lambda: None)
    monkeypatch.setattr(picture, "render_image", lambda *_: _blank())
    monkeypatch.setattr(film, "off_screen", off_screen)
    asked = ["--view", look, option, str(tmp_path / file)]
    asked += ["--seconds", "1"] if option == "--movie" else []
    assert main(["view", str(model), *asked]) == 0
    assert any(_names_them(text) for text in words)


def _blank() -> Any:
    from PIL import Image

    return Image.new("RGB", (8, 8))


def test_the_window_shows_what_pictures_show(model: Path) -> None:
    from route3d.api import evaluate
    from viewer.scene.build import build_scene

    job = load(model)
    assert _names_them(build_scene(evaluate(job).runs[0], job, units="US").banner)


def test_the_live_page_tells_it(model: Path) -> None:
    from viewer.web.page_data import frame_data

    assert _names_them(frame_data(load(model), "US", "auto")["examples"])


def test_answers_in_python_and_notebooks_tell_it(model: Path) -> None:
    answer = route3d.evaluate(load(model), with_remedies=False)
    assert _names_them("".join(answer.text().splitlines(keepends=True)[:2]))
    assert _names_them(answer.html().partition("<table>")[0])


def test_models_that_are_written_keep_the_marks(
    model: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for target in ("x.toml", "x.csv"):
        assert main(["convert", str(model), str(tmp_path / target)]) == 0
        assert _names_them(capsys.readouterr().out.splitlines()[0])
    assert list(load(tmp_path / "x.toml").examples) == TABLES


@pytest.mark.parametrize(
    "words",
    [
        ["plan", "--sheet", "x.pdf"],
        ["plan", "--cards", "x.pdf"],
        ["view", "--html", "x.html"],
    ],
)
def test_what_the_crew_carries_needs_to_be_a_draft(
    words: list[str],
    model: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([words[0], str(model), *words[1:]]) == 2
    assert re.search(r"cable\.phase, run\.F1; .*--draft", capsys.readouterr().err)
    assert not list(tmp_path.iterdir())


# --- which tables are marked, and what check says of them ----------------------------------------


def test_marks_are_found_wherever_a_table_stands() -> None:
    text = re.sub(r"(?m)^example = true.*\n", "", starter("SI"))
    assert loads(text).examples == ()
    assert loads(MARK + text).examples == ("",)
    for old, new, name in (
        ("count = 1 }", "count = 1, example = true }", "cable.phase.conductor"),
        (
            "friction = 0.25 #",
            "friction = { value = 0.25, example = true } #",
            "conduit.duct.friction",
        ),
        ('{ name = "low",', '{ name = "low", example = true,', "machine.puller.gears[1]"),
        ("{ at = [55, 0, -1.8],", "{ at = [55, 0, -1.8], example = true,", "run.F1.route[1]"),
        ('# [run.ends."vault V1"]\n', f'[run.ends."vault V1"]\n{MARK}', "run.F1.ends.vault V1"),
        ("[[site.room]]", f"[site]\n{MARK}[[site.room]]", "site"),
        (
            'name = "switchroom"\noutline',
            f'{MARK}name = "switchroom"\noutline',
            "site.room.switchroom",
        ),
        ("[[bank]]\n", f"[[bank]]\n{MARK}", "bank.F1"),
        ("[anchor.platform]\n", f"[anchor.platform]\n{MARK}", "anchor.platform"),
        ("# [plan]\n", f"[plan]\n{MARK}", "plan"),
    ):
        assert old in text
        assert loads(text.replace(old, new, 1)).examples == (name,)


def test_a_mark_is_true_or_false_and_changes_no_figure() -> None:
    plain = re.sub(r"(?m)^example = true.*\n", "", starter("US"))
    marked, unmarked = (
        loads(starter("US")),
        loads(plain.replace("[[run]]\n", "[[run]]\nexample = false\n")),
    )
    assert unmarked.examples == () and marked.examples
    assert route3d.evaluate(marked).rows() == route3d.evaluate(unmarked).rows()
    with pytest.raises(Exception, match="is not true or false"):
        loads(MARK.replace("true", '"yes"') + plain)


def test_check_names_the_tables_of_each_run(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = re.sub(r"(?m)^example = true.*\n", "", starter("US"))
    head, run = text.split("[[run]]\n")
    run, rest = run.split("# --- Duct bank")
    two = f"{head}[[run]]\n{MARK}{run}[[run]]\n{run.replace('F1', 'F2')}# --- Duct bank{rest}"
    path = tmp_path / "two.toml"
    path.write_text(two.replace("[cable.phase]\n", f"[cable.phase]\n{MARK}"), encoding="utf-8")
    assert main(["check", str(path), "--json"]) == 0
    runs = json.loads(capsys.readouterr().out)["runs"]
    found = [[f for f in run["findings"] if f["rule"] == "example values"] for run in runs]
    assert [[f["severity"] for f in each] for each in found] == [["caution"], ["caution"]]
    assert "confirm cable.phase, run.F1:" in found[0][0]["fix"]
    assert "confirm cable.phase:" in found[1][0]["fix"]
