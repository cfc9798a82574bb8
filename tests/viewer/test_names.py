"""Names in letters that the usual font lacks: another font of the machine, or another name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.cli.main import main
from route3d.drawing import pixels as fonts
from route3d.model import Bank, EndSetup, Job
from route3d.planning.result import RunResult
from viewer.still.names import drawable

MODELS = Path(__file__).parents[2] / "models"
Answered = tuple[RunResult, Job]
# A private-use letter: no font may be expected to have it.
ODD = "\ue83a"


@pytest.fixture
def only(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Path]]:
    """The fonts of the machine, as the test lists them."""
    found: list[Path] = []
    fonts._font_with.cache_clear()
    monkeypatch.setattr(fonts, "system_fonts", lambda: tuple(found))
    yield found
    fonts._font_with.cache_clear()


@pytest.fixture
def odd_font(tmp_path: Path) -> Path:
    """A font whose every letter, the odd one among them, is a filled square."""
    from fontTools.fontBuilder import FontBuilder
    from fontTools.pens.ttGlyphPen import TTGlyphPen

    pen = TTGlyphPen(None)
    for i, corner in enumerate([(0, 0), (0, 700), (700, 700), (700, 0)]):
        (pen.lineTo if i else pen.moveTo)(corner)
    pen.closePath()
    square = pen.glyph()
    characters = {ord(c): f"g{ord(c)}" for c in (*fonts._AROUND, ODD)}
    names = [".notdef", *characters.values()]
    build = FontBuilder(1000, isTTF=True)
    build.setupGlyphOrder(names)
    build.setupCharacterMap(characters)
    build.setupGlyf(dict.fromkeys(names, square))
    build.setupHorizontalMetrics(dict.fromkeys(names, (800, 0)))
    build.setupHorizontalHeader(ascent=800, descent=-200)
    build.setupNameTable({"familyName": "Odd", "styleName": "Regular"})
    build.setupOS2()
    build.setupPost()
    file = tmp_path / "odd.ttf"
    build.save(str(file))
    return file


def named(job: Job, name: str) -> Job:
    """The job with one name for everything that has one."""
    run = job.runs[0]
    vertices = tuple(replace(v, name=name) if v.name else v for v in run.route.vertices)
    cables = type(run.cables)(tuple((replace(c, name=name), n) for c, n in run.cables.items))
    assert run.rope is not None and run.machine is not None
    run = replace(
        run,
        name=name,
        cables=cables,
        route=replace(run.route, vertices=vertices),
        rope=replace(run.rope, name=name + "r"),
        machine=replace(run.machine, name=name + "m"),
    )
    bank = Bank(name, 1, 1, (0.2, 0.2), 0.1)
    return replace(job, title=name, runs=(run,), banks=(bank,))


def test_the_usual_font_has_the_letters_of_europe(only: list[Path]) -> None:
    assert [fonts.undrawable(t) for t in ("vault V1", "Brücke Ø 2 °", "Ωμέγα", "причал")] == [
        ""
    ] * 4
    assert fonts.undrawable(f"a{ODD}b{ODD}") == ODD


def test_a_font_of_the_machine_that_has_the_letters_is_taken(
    only: list[Path], odd_font: Path
) -> None:
    only += [fonts.font_file(True), odd_font]
    assert fonts.undrawable(f"vault {ODD}") == ""
    assert fonts.font(20, True, f"vault {ODD}").path == str(odd_font)
    assert fonts.font(20, True, "vault").path == str(fonts.font_file(True))
    assert fonts.measure(ODD * 3, 20, False)[0] == pytest.approx(3 * 16, abs=1)  # 0.8 of 20 each


def test_a_font_that_cannot_be_read_is_passed_over(only: list[Path], tmp_path: Path) -> None:
    broken = tmp_path / "broken.ttf"
    broken.write_bytes(b"no font")
    only += [broken, tmp_path / "gone.ttf"]
    assert fonts.undrawable(ODD) == ODD


def test_names_no_font_has_become_numbers(only: list[Path], yard: Answered) -> None:
    job, given = drawable(named(yard[1], ODD))
    (run,) = job.runs
    assert [run.route.label(i) for i in (0, 2, 6)] == ["point 1", "point 3", "point 7"]
    assert not any(
        fonts.undrawable(text)
        for text in (
            job.title,
            run.name,
            run.cables.describe(),
            run.rope.name,  # type: ignore[union-attr]
            run.machine.name,  # type: ignore[union-attr]
            *(v.name for v in run.route.vertices),
        )
    )
    assert job.banks[0].run == run.name
    assert ODD in given


def test_other_names_stay(only: list[Path], yard: Answered) -> None:
    assert drawable(yard[1]) == (yard[1], {})


def yard_with(name: str, folder: Path) -> Path:
    file = folder / "odd.toml"
    text = (MODELS / "yard_run.toml").read_text(encoding="utf-8")
    file.write_text(text.replace('"substation"', f'"{name}"'), encoding="utf-8")
    return file


@pytest.mark.renderer
def test_a_picture_shows_no_box_and_says_what_it_shows(
    only: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from PIL import Image

    seen = []
    for name in (ODD, "point 1"):
        out = tmp_path / f"{len(seen)}.png"
        options = ["--png", str(out), "--size", "640x480", "--feed", name]
        assert main(["view", str(yard_with(name, tmp_path)), *options]) == 1
        seen.append((np.asarray(Image.open(out)), capsys.readouterr().err))
    (odd, said), (plain, silence) = seen
    assert np.array_equal(odd, plain)
    assert "no font" in said and f"{ODD} is shown as point 1" in said
    assert "no font" not in silence


def test_an_end_whose_name_no_font_has_keeps_what_differs_there(
    only: list[Path], yard: Answered
) -> None:
    job = yard[1]
    run = job.runs[0]
    assert run.machine is not None
    odd = replace(run.machine, name=ODD + "m", mass=1234.0)
    vertices = (replace(run.route.vertices[0], name=ODD), *run.route.vertices[1:])
    run = replace(
        run,
        route=replace(run.route, vertices=vertices),
        ends=(EndSetup(ODD, machine=odd),),
    )
    drawn, _ = drawable(replace(job, runs=(run,)))
    last = len(vertices) - 1
    there = drawn.runs[0].pulled(last, 0)
    assert there.machine is not None and there.machine.mass == 1234.0
    assert not fonts.undrawable(there.machine.name)
    assert drawn.runs[0].pulled(0, last).machine == drawn.runs[0].machine
    assert drawn.runs[0].route.label(0) == "point 1"
