"""The commands from outside: what they print, where, and how they end."""

from __future__ import annotations

import inspect
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Annotated, Any, NamedTuple

import pytest
import typer
from typer.testing import CliRunner

import route3d
from route3d.cli.main import GROUPS, _Command, _even, all_commands, app, function_of, main
from route3d.cli.problems import report_problems, snippet
from route3d.errors import InputError, Problem, RendererError

MODELS = Path(route3d.__file__).parents[1] / "models"
YARD, ROOF, BANK = (
    str(MODELS / f"{name}.toml") for name in ("yard_run", "roof_drop", "riser_duct_bank")
)
COMMANDS = ("check", "tension", "bends", "view", "stock", "schema", "new")


class Ended(NamedTuple):
    code: int
    out: str
    err: str


@pytest.fixture
def route3d_(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ended]:
    def call(*arguments: object) -> Ended:
        code = main([str(a) for a in arguments])
        captured = capsys.readouterr()
        return Ended(code, captured.out, captured.err)

    return call


Call = Callable[..., Ended]


# --- help --------------------------------------------------------------------------------------


def test_the_overview_groups_all_commands(route3d_: Call) -> None:
    code, out, _ = route3d_("--help")
    assert code == 0
    assert all(f" {command} " in out for command in COMMANDS)
    groups = [out.index(f"─ {group} ─") for group in ("Start", "Answers", "Reference")]
    assert groups == sorted(groups)
    assert groups[0] < out.index("│ new ") < groups[1] < out.index("│ tension ") < groups[2]


def test_the_overview_leads_a_newcomer_from_a_model_to_an_answer(route3d_: Call) -> None:
    text = " ".join(route3d_("--help").out.split())
    steps = [text.index(f"route3d {c} feeder.toml") for c in ("new", "check", "tension", "view")]
    assert steps == sorted(steps)


@pytest.mark.parametrize("command", [*COMMANDS, "serve"])
def test_help_shows_an_example(route3d_: Call, command: str) -> None:
    code, out, _ = route3d_(command, "--help")
    assert code == 0
    assert f"Example: route3d {command}" in out


@pytest.mark.parametrize("command", all_commands())
def test_help_prints_every_word_it_was_given(route3d_: Call, command: str) -> None:
    """No name of a table in brackets is taken for markup: of the text, and of each option."""

    def plain(text: str) -> str:
        return re.sub(r"[\s│]+", "", text)

    run, words = function_of(command), command.split()
    printed = plain(route3d_(*words, "--help").out)
    for paragraph in inspect.cleandoc(run.__doc__).split("\n\n"):
        assert plain(paragraph) in printed
    program: Any = typer.main.get_command(app(words[:1], words[-1]))
    for word in words if len(words) > 1 else ():
        program = program.commands[word]
    for param in program.params:
        for name in re.findall(r"\[+[\w.]+\]+", getattr(param, "help", None) or ""):
            assert name in printed


@pytest.mark.parametrize("group", GROUPS)
def test_help_shows_no_type_of_the_parser(route3d_: Call, group: str) -> None:
    for words in ((group,), *((group, part) for part in GROUPS[group])):
        out = route3d_(*words, "--help").out
        assert "<bool>" not in out and "<=" not in out


def test_help_of_an_option_may_name_a_table() -> None:
    def command(sheet: Annotated[str, typer.Option(help="As [document] says.")] = "") -> None:
        """From [document] and [[bank]]."""

    program = typer.Typer(rich_markup_mode="rich")
    program.command(cls=_Command, help=_even(command))(command)
    told = CliRunner().invoke(program, ["--help"]).output
    assert "As [document] says." in told and "From [document] and [[bank]]." in told


@pytest.mark.parametrize("command", COMMANDS)
def test_the_example_of_the_help_works(
    route3d_: Call, command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if command == "view":
        _fake_renderer(monkeypatch, lambda *args, **more: None)
    _, out, _ = route3d_(command, "--help")
    line = next(line for line in out.splitlines() if "Example: route3d" in line)
    words = line.split("Example: route3d ")[1].split(" > ")[0].split()
    monkeypatch.chdir(tmp_path)
    (tmp_path / "models").symlink_to(MODELS)
    code, _, err = route3d_(*words)
    assert code == (1 if "models/yard_run.toml" in words else 0), err


def test_version(route3d_: Call) -> None:
    assert route3d_("--version") == (0, f"route3d {route3d.__version__}\n", "")


# --- exit codes --------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["tension", "check", "bends"])
@pytest.mark.parametrize(("model", "code"), [(YARD, 1), (ROOF, 0), (BANK, 0)])
def test_exit_code_says_whether_something_stops(
    route3d_: Call, command: str, model: str, code: int
) -> None:
    ended = route3d_(command, model)
    assert ended.code == code and ended.out and not ended.err
    as_json = route3d_(command, model, "--json")
    assert as_json.code == code
    assert json.loads(as_json.out)["runs"]


def _bad_calls(folder: Path) -> list[tuple[list[str], str]]:
    broken = folder / "broken.toml"
    broken.write_text(Path(YARD).read_text().replace("friction   = 0.25", 'frction = "a"'))
    (folder / "latin.toml").write_bytes(b'title = "\xe9"')
    (folder / "empty.toml").write_text("")
    for suffix in (".svg", ".csv"):
        (folder / f"link{suffix}").symlink_to(YARD)
    return [
        (["tension", str(folder / "none.toml")], "no such file"),
        (["tension", str(folder)], "is a folder"),
        (["tension", str(broken)], "did you mean 'friction'?"),
        (["check", str(folder / "latin.toml")], "not UTF-8"),
        (["check", str(folder / "empty.toml")], "units is missing"),
        (["tension", YARD, "--run", "Y"], "did you mean 'Y1'?"),
        (["tension", YARD, "--run", ""], "valid names: Y1"),
        (["tension", YARD, "--units", "metric"], "'metric' is not a unit system; use US or SI"),
        (["new", str(folder / "n.toml"), "--units", "uk"], "use US or SI"),
        (["tension", YARD, "--method", "guess"], "--method"),
        (["tension"], "MODEL"),
        (["bends", YARD, "--csv", str(folder / "no" / "x.csv")], "create the folder first"),
        (["bends", YARD, "--csv", str(folder)], "is a folder"),
        (["check", YARD, "--section", str(folder)], "is a folder"),
        (["check", YARD, "--section", "/dev/null"], "not a regular file"),
        (
            ["check", YARD, "--section", str(folder / "link.svg")],
            "already exists and may be a model file",
        ),
        (
            ["bends", YARD, "--csv", str(folder / "link.csv")],
            "already exists and may be a model file",
        ),
        (["check", YARD, "--section", YARD], "must end in .svg"),
        (["check", YARD, "--section", "x.png"], "name it x.svg"),
        (["bends", YARD, "--csv", "x.xlsx"], "name it x.csv"),
        (["view", YARD, "--png", "x.jpg"], "name it x.png"),
        (["view", YARD, "--png", "x"], "name it x.png"),
        (["view", YARD, "--svg", "x.png"], "name it x.svg"),
        (["view", YARD, "--movie", "x.avi"], "name it x.gif or x.mp4"),
        (["view", YARD, "--html", "x.pdf"], "name it x.html or x.htm"),
        (["view", YARD], "--png FILE"),
        (["view", YARD, "--png", "x.png", "--size", "big"], "1600x1000"),
        (["view", YARD, "--png", "x.png", "--size", "0x0"], "1600x1000"),
        (["view", YARD, "--png", "x.png", "--size", "99999x10"], "1600x1000"),
        (["stock", "no", "such", "thing"], "no such thing"),
        (["stock", "--table", "frictoin"], 'did you mean "friction"?'),
        (["new", str(broken)], "already exists"),
        (["new", str(folder)], "is a folder"),
        (["new", str(folder / "no" / "x.toml")], "create the folder first"),
        (["study", "days", ROOF, "crews.toml", "--seconds", "-1"], "-1 must be between 0.1 and"),
        (["jobs", ROOF, "--workers", "-2"], "-2 must be between 1 and 512"),
        (["study", "spread", ROOF, "--to", "abc"], "'abc' is not a number"),
        (["study", "spread", ROOF, "--most", "1.5"], "'1.5' is not a whole number"),
        (["bends", ROOF, "--csv", "a.csv", "--csv", "b.csv"], "--csv: is given more than once"),
        (["frobnicate"], "frobnicate"),
        (["tension", YARD, "--frob"], "--frob"),
    ]


def test_bad_input_ends_with_2_and_says_what_to_do(route3d_: Call, tmp_path: Path) -> None:
    for arguments, wanted in _bad_calls(tmp_path):
        code, out, err = route3d_(*arguments)
        assert code == 2, (arguments, out, err)
        assert wanted in err, (arguments, err)
        assert not out and "Traceback" not in err


def test_problems_stand_one_a_line_with_file_and_line(route3d_: Call, tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    text = Path(YARD).read_text().replace("= 0.25", "= 2500").replace('"line"', '"lime"')
    bad.write_text(text)
    lines = route3d_("tension", bad).err.splitlines()
    assert len(lines) == 2
    at = [text[: text.index(word)].count("\n") + 1 for word in ("2500", '"lime"')]
    assert [line.split(": ")[0] for line in lines] == [f"{bad}:{line}" for line in sorted(at)]


def test_a_snippet_points_at_the_column(tmp_path: Path) -> None:
    file = tmp_path / "m.toml"
    file.write_text("a = 1\nlength = 12, 5\n")
    source, caret = snippet(Problem("bad", file=str(file), line=2, column=10))
    assert source.endswith("length = 12, 5")
    assert source[caret.index("^")] == "1"
    assert not list(snippet(Problem("bad", file=str(file), line=9, column=1)))
    assert not list(snippet(Problem("bad", file=str(tmp_path / "no"), line=1, column=1)))
    file.write_text("x" * 500 + "?" + "y" * 500)
    source, caret = snippet(Problem("bad", file=str(file), line=1, column=501))
    assert source[caret.index("^")] == "?" and len(source) < 120


def test_very_many_problems_are_counted_by_kind(capsys: pytest.CaptureFixture[str]) -> None:
    many = [Problem(f"point {i} does not turn", f"run[0].route[{i}]", line=i) for i in range(3000)]
    report_problems(InputError([*many, Problem("friction is missing", "conduit.duct")]))
    lines = capsys.readouterr().err.splitlines()
    assert lines[:20] == [str(p) for p in many[:20]]
    assert lines[20:] == [
        "and 2,981 more problems:",
        f"2,980 such as: {many[20]}",
        "conduit.duct: friction is missing",
    ]
    report_problems(InputError(many[:20]))
    assert len(capsys.readouterr().err.splitlines()) == 20


def test_so_are_problems_of_very_many_kinds(capsys: pytest.CaptureFixture[str]) -> None:
    letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
    report_problems(InputError([Problem(f"key {c} is missing") for c in letters]))
    lines = capsys.readouterr().err.splitlines()
    assert lines[20] == "and 32 more problems:"
    assert lines[-1] == "22 of 22 other kinds" and len(lines) == 20 + 1 + 10 + 1


def test_nothing_is_written_to_a_file_of_the_wrong_suffix(route3d_: Call, tmp_path: Path) -> None:
    wrong, right = tmp_path / "duct.png", tmp_path / "DUCT.SVG"
    assert route3d_("check", ROOF, "--section", wrong).code == 2 and not wrong.exists()
    assert route3d_("check", ROOF, "--section", right).code == 0 and right.exists()


# --- options -----------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["US", "us", "SI", "si"])
def test_units_are_those_asked_for(route3d_: Call, units: str) -> None:
    out = route3d_("tension", ROOF, "--units", units).out
    assert ("lbf" in out) == (units.upper() == "US")
    assert ("kN" in out) == (units.upper() == "SI")


def test_json_is_the_same_whatever_the_units(route3d_: Call) -> None:
    assert route3d_("check", ROOF, "--json", "--units", "US") == route3d_("check", ROOF, "--json")


def test_one_run_of_several(route3d_: Call, tmp_path: Path) -> None:
    text = Path(YARD).read_text()
    more = tmp_path / "two.toml"
    again = text[text.index("[[run]]") : text.index("[[site.room]]")].replace('"Y1"', '"Y2"')
    more.write_text(text.replace("[[site.room]]", again + "[[site.room]]"))
    assert len(json.loads(route3d_("tension", more, "--json").out)["runs"]) == 2
    (only,) = json.loads(route3d_("tension", more, "--run", "Y2", "--json").out)["runs"]
    assert only["name"] == "Y2"
    assert "--run" in route3d_("view", more, "--png", tmp_path / "x.png").err


def test_methods(route3d_: Call) -> None:
    def peaks(*options: str) -> dict[str, float]:
        (run,) = json.loads(route3d_("tension", BANK, "--json", *options).out)["runs"]
        found = {run["method"]: run["pulls"][0]["peak_tension_N"]}
        if "handbook" in run:
            found["both"] = run["handbook"]["pulls"][0]["peak_tension_N"]
        return found

    exact, handbook = peaks("--method", "exact"), peaks("--method", "handbook")
    assert set(exact) == {"exact"} and set(handbook) == {"handbook"}
    assert exact["exact"] != handbook["handbook"]
    assert peaks() == exact
    assert peaks("--method", "both") == exact | {"both": handbook["handbook"]}


def test_files_are_written_over_and_told_on_standard_error(route3d_: Call, tmp_path: Path) -> None:
    svg, table = tmp_path / "s.svg", tmp_path / "b.csv"
    svg.write_text("old")
    ended = route3d_("check", ROOF, "--section", svg, "--json")
    assert ended.err == f"wrote {svg}\n"
    assert json.loads(ended.out) and svg.read_text().startswith("<svg")
    assert route3d_("bends", ROOF, "--csv", table).code == 0
    assert table.read_text().startswith("run,bend,at,station (mm)")


def test_new_writes_a_model_that_passes(route3d_: Call, tmp_path: Path) -> None:
    for units in ("US", "SI"):
        file = tmp_path / f"{units}.toml"
        assert route3d_("new", file, "--units", units).code == 0
        assert route3d_("check", file).code == 0
        assert f'units = "{units}"' in file.read_text()
    file.write_text("old")
    assert route3d_("new", file).code == 2 and file.read_text() == "old"
    assert route3d_("new", file, "--force").code == 0 and file.read_text() != "old"


def test_stock_shows_the_best_rows_and_how_to_see_all(route3d_: Call) -> None:
    few, everything = route3d_("stock", "pvc", "5").out, route3d_("stock", "pvc", "5", "--all").out
    found = json.loads(route3d_("stock", "pvc", "5", "--json").out)
    found = [row for row in found if "table" in row]  # the stock entries come before the rows
    assert f"{len(found) - 20} more rows" in few and "--all" in few
    assert len(few.splitlines()) < 100 < len(everything.splitlines())
    assert "more rows" not in everything
    table = route3d_("stock", "--table", "sources").out  # a table asked for is shown whole
    assert "more rows" not in table and table.count("\n") > 60


def test_stock_and_schema_in_json(route3d_: Call) -> None:
    assert json.loads(route3d_("schema").out)["title"] == "route3d model file"
    found = json.loads(route3d_("stock", "sidewall", "shielded", "--json").out)
    assert found and all(entry["source"] for entry in found)
    assert len(json.loads(route3d_("stock", "--json").out)) > 30


# --- view --------------------------------------------------------------------------------------


def _fake_renderer(monkeypatch: pytest.MonkeyPatch, draw: Callable[..., None]) -> None:
    module = ModuleType("viewer.still.picture")
    module.write_png = draw  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "viewer.still.picture", module)


def test_view_hands_the_run_to_the_renderer(
    route3d_: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = []
    _fake_renderer(monkeypatch, lambda *args, **more: seen.append((args, more)))
    assert route3d_("view", BANK, "--png", "x.png", "--size", "800x600", "--units", "SI").code == 0
    ((result, job, path), more) = seen[0]
    assert (result.run.name, job.title, path) == ("F1", route3d.load(BANK).title, Path("x.png"))
    ready = more.pop("ready")  # the direction, planned once for all that is written
    assert ready.candidate.pull.feed_name == result.best.pull.feed_name
    assert more == {"size": (800, 600), "units": "SI"}


def test_view_without_a_renderer_says_how_to_get_one(
    route3d_: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*args: object, **more: object) -> None:
        raise RendererError("no renderer here; install one")

    _fake_renderer(monkeypatch, refuse)
    assert route3d_("view", BANK, "--png", "x.png") == (2, "", "no renderer here; install one\n")


# --- as a process ------------------------------------------------------------------------------


def process(*arguments: str, **more: object) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "route3d", *arguments], capture_output=True, **more
    )  # type: ignore[call-overload, no-any-return]


def test_a_pipe_gets_plain_text_that_is_not_cut() -> None:
    out = process("check", YARD, "--all").stdout.decode()
    assert "\x1b" not in out and "…" not in out
    assert all(line == line.rstrip() for line in out.splitlines())
    assert max(map(len, out.splitlines())) > 100


def test_output_that_cannot_hold_symbols_does_not_fail() -> None:
    ended = process("bends", ROOF, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert ended.returncode == 0 and not ended.stderr
    assert b"90.0?" in ended.stdout


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_is_told() -> None:
    with open("/dev/full", "wb") as full:  # noqa: PTH123 - a device, not a file of ours
        ended = subprocess.run(
            [sys.executable, "-m", "route3d", "stock"], stdout=full, stderr=subprocess.PIPE
        )
    assert ended.returncode == 2
    assert ended.stderr.decode() == "output: no space left on device; write elsewhere\n"


def test_a_reader_that_leaves_early_is_no_error() -> None:
    stock = f"{sys.executable} -m route3d stock conduit --json"
    script = f"{stock} | head -1; echo ${{PIPESTATUS[0]}}"
    ended = subprocess.run(["bash", "-c", script], capture_output=True, text=True)
    assert ended.stdout.splitlines()[-1] == "0" and not ended.stderr


@pytest.mark.parametrize("way", [">&-", "| true", "| head -1 >/dev/null"])
@pytest.mark.parametrize(
    ("command", "code"),
    [("stock", 0), ("--help", 0), (f"tension {YARD} --json", 1), ("tension nosuch.toml", 2)],
)
def test_without_a_reader_the_code_is_that_of_the_command(
    way: str, command: str, code: int
) -> None:
    """1 is a pull that breaks a limit, as that of the yard does: a closed pipe must not say so."""
    script = f"{sys.executable} -m route3d {command} {way}; echo ${{PIPESTATUS[0]}} >&2"
    ended = subprocess.run(["bash", "-c", script], capture_output=True, text=True)
    assert ended.stderr.splitlines()[-1] == str(code)
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize("command", ["plan", "tension", "check", "bends"])
def test_json_knows_no_infinity(route3d_: Call, command: str) -> None:
    def refuse(word: str) -> None:
        raise AssertionError(word)

    for model in (YARD, BANK, ROOF):
        _, out, _ = route3d_(command, model, "--json")
        assert json.loads(out, parse_constant=refuse)
        assert not re.search(r"\b(inf|nan|infinity)\b", out, re.IGNORECASE)


def test_tension_loads_no_heavy_library() -> None:
    code = (
        "import sys; from route3d.cli.main import main; main(['tension', sys.argv[1]]);"
        "print(*sys.modules, sep='\\n', file=sys.stderr)"
    )

    def loaded(*command: str) -> set[str]:
        run = subprocess.run([sys.executable, "-c", *command], capture_output=True, check=True)
        return set(run.stderr.decode().split())

    packages = {name.split(".")[0] for name in loaded(code, BANK)}
    assert "route3d" in packages
    assert not packages & {
        "pint",  # the factors of everyday units stand ready
        "pyvista",
        "vtkmodules",
        "trimesh",
        "scipy",
        "shapely",
        "matplotlib",
        "viewer",
    }
