"""``route3d view``: what goes together, what each output is given, and what is written."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from route3d.cli.main import main
from route3d.planning.pull_plan.plan import make_plan
from viewer import gauge
from viewer.verdict import Planned

MODELS = Path(__file__).parents[3] / "models"
BANK, YARD = str(MODELS / "riser_duct_bank.toml"), str(MODELS / "yard_run.toml")

WRITERS = {
    "--png": ("viewer.still.picture", "write_png"),
    "--svg": ("viewer.print_charts", "write_svg"),
    "--movie": ("viewer.film", "write_movie"),
    "--html": ("viewer.web.handover", "write_html"),
    "window": ("viewer.window.desktop", "open_window"),
}
Seen = dict[str, list[tuple[tuple[Any, ...], dict[str, Any]]]]


@pytest.fixture
def seen(monkeypatch: pytest.MonkeyPatch) -> Seen:
    """What each writer was called with; nothing is drawn."""
    calls: Seen = {}

    def stand_in(output: str) -> Callable[..., None]:
        def write(*args: Any, ready: Planned | None = None, **more: Any) -> None:
            assert (ready is None) == (output in ("--html", "window"))
            assert ready is None or ready.candidate in args[0].candidates
            calls.setdefault(output, []).append((args, more))

        return write

    for output, (module, function) in WRITERS.items():
        fake = ModuleType(module)
        setattr(fake, function, stand_in(output))
        monkeypatch.setitem(sys.modules, module, fake)
    return calls


def run(*arguments: str) -> int:
    return main(["view", *arguments])


@pytest.mark.parametrize("output", ["--png", "--svg", "--movie", "--html"])
def test_each_output_alone(output: str, seen: Seen) -> None:
    file = "out.gif" if output == "--movie" else f"out.{output[2:]}"
    assert run(BANK, output, file) == 0
    assert list(seen) == [output]
    ((args, more),) = seen[output]
    assert args[2] == Path(file)
    assert more["units"] == "US"


def test_several_outputs_in_one_go(seen: Seen, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(YARD, "--png", "a.png", "--svg", "b.svg", "--html", "c.html") == 1
    assert set(seen) == {"--png", "--svg", "--html"}
    assert capsys.readouterr().err == "wrote a.png\nwrote b.svg\nwrote c.html\n"


def test_a_run_is_planned_once_whatever_is_written(
    seen: Seen, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []

    def counted(*args: Any, **more: Any) -> Any:
        made.append(args)
        return make_plan(*args, **more)

    monkeypatch.setattr(gauge, "make_plan", counted)
    assert run(BANK, "--png", "a.png", "--svg", "b.svg", "--movie", "c.gif") == 0
    assert len(made) == 1


def test_no_output_is_the_window(seen: Seen) -> None:
    assert run(BANK, "--theme", "dark", "--view", "plan") == 0
    ((_, more),) = seen["window"]
    assert more == {"units": "US", "theme": "dark", "view": "plan"}


def test_every_option_reaches_the_picture(seen: Seen) -> None:
    options = "--view side --color-by conduit --theme dark --size 800x600 --exaggerate 3"
    assert run(BANK, "--png", "a.png", *options.split(), "--feed", "vault V1", "--units", "SI") == 0
    ((_, more),) = seen["--png"]
    assert more == {
        "view": "side",
        "color_by": "conduit",
        "theme": "dark",
        "size": (800, 600),
        "exaggeration": 3.0,
        "feed": "vault V1",
        "units": "SI",
    }


@pytest.mark.parametrize("option", [("--feed", "best"), ("--exaggerate", "auto")])
def test_the_automatic_choice_by_name_is_that_of_nothing(
    option: tuple[str, str], seen: Seen
) -> None:
    assert run(BANK, "--png", "a.png", *option) == 0
    ((_, more),) = seen["--png"]
    assert more == {"units": "US"}


def test_a_film_takes_its_length(seen: Seen) -> None:
    assert run(BANK, "--movie", "a.gif", "--seconds", "3") == 0
    ((_, more),) = seen["--movie"]
    assert more == {
        "units": "US",
        "seconds": 3.0,
        "told": None,
    }  # no bar where there is no terminal


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--png", "a.png", "--seconds", "3"], "--seconds has no effect on --png"),
        (["--svg", "a.svg", "--view", "plan"], "--view has no effect on --svg"),
        (["--svg", "a.svg", "--color-by", "tension"], "--color-by has no effect"),
        (["--html", "a.html", "--feed", "vault V1"], "--feed has no effect on --html"),
        (["--html", "a.html", "--size", "800x600"], "--size has no effect"),
        (["--seconds", "3"], "--seconds has no effect on a window"),
        (["--movie", "a.gif", "--view", "profile"], "unrolled profile"),
        (["--movie", "a.gif", "--seconds", "0"], "no length for a film"),
        (["--movie", "a.gif", "--seconds", "nan"], "not a number"),
        (["--movie", "a.gif", "--size", "400x300"], "use at least 640x400"),
        (["--svg", "a.svg", "--size", "600x699"], "use at least 600x700"),
        (["--png", "a.png", "--size", "359x300"], "from 360x300"),
        (["--png", "a.png", "--size", "5000x300"], "4000x4000"),
        (["--png", "a.png", "--exaggerate", "0.5"], "must be between 1 and 10,000"),
        (["--png", "a.png", "--exaggerate", "much"], "'much'"),
        (["--png", "a.png", "--exaggerate", "nan"], "'nan'"),
        (["--png", "a.png", "--feed", "nowhere"], "'vault V1' or 'roof switchroom'"),
        (["--png", "a.png", "--view", "top"], "isometric"),
        (["--png", "a.png", "--theme", "pink"], "light"),
    ],
)
def test_what_does_not_go_together_is_bad_input(
    arguments: list[str], said: str, seen: Seen, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(BANK, *arguments) == 2
    assert said in " ".join(capsys.readouterr().err.split())
    assert not seen


def test_all_mistakes_are_told_at_once(seen: Seen, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(BANK, "--svg", "a.svg", "--view", "plan", "--seconds", "3") == 2
    told = capsys.readouterr().err
    assert "--view" in told and "--seconds" in told


def test_two_runs_need_a_name_but_for_window_and_page(
    seen: Seen, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(BANK).read_text()
    second = text[text.index("[[run]]") : text.index("[[bank]]")].replace('"F1"', '"F2"')
    model = tmp_path / "two.toml"
    model.write_text(text + "\n" + second)
    assert run(str(model), "--png", "a.png") == 2
    assert "name one of F1, F2" in capsys.readouterr().err
    assert run(str(model), "--html", "a.html") == 0
    ((args, _),) = seen["--html"]
    assert [r.run.name for r in args[0].runs] == ["F1", "F2"]
    assert run(str(model)) == 0
    ((args, _),) = seen["window"]
    assert [r.run.name for r in args[0]] == ["F1", "F2"]
    assert run(str(model), "--png", "a.png", "--run", "F2") == 0
    ((args, _),) = seen["--png"]
    assert args[0].run.name == "F2"


def test_a_feed_end_of_no_name_is_its_number(seen: Seen, tmp_path: Path) -> None:
    model = tmp_path / "unnamed.toml"
    model.write_text(Path(BANK).read_text().replace('name = "vault V1", ', ""))
    assert run(str(model), "--png", "a.png", "--feed", "point 1") == 0


def test_a_picture_of_what_only_the_plan_stops_ends_with_1(seen: Seen, tmp_path: Path) -> None:
    """The boom of the machine holds less than the planned peak: no check of the cable sees it."""
    text = Path(BANK).read_text(encoding="utf-8")
    assert "boom_rating = 9000" in text
    weak = tmp_path / "weak.toml"
    weak.write_text(text.replace("boom_rating = 9000", "boom_rating = 300"), encoding="utf-8")
    assert main(["tension", str(weak)]) == 0
    assert run(str(weak), "--png", "out.png") == 1
    assert run(str(weak), "--html", "out.html") == 1
    assert "--png" in seen and "--html" in seen


def test_old_spellings_are_accepted_and_named(
    seen: Seen, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(BANK, "--png", "a.png", "--colour-by", "utilisation") == 0
    ((_, options),) = seen["--png"]
    assert options["color_by"] == "utilization"
    said = capsys.readouterr().err
    assert "caution: --colour-by is now spelled --color-by" in said
    assert "caution: utilisation is now spelled utilization" in said


def test_a_color_that_there_is_not_is_told_with_those_there_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(BANK, "--png", "a.png", "--color-by", "x") == 2
    said = capsys.readouterr().err
    assert all(word in said for word in ("tension", "sidewall", "utilization", "conduit"))
