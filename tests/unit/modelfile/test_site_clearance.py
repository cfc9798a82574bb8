"""The clearances a model file asks for, and what is wrong with them at its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.model import Site, Surround
from route3d.modelfile.read import loads
from tests.support.clearance_jobs import HEAD, run_text

TEXT = HEAD + run_text("A", [(0, 0, 0), (40, 0, 0)])
LINE = TEXT.count("\n") + 2  # of what follows [site]


def site(tmp_path: Path, text: str) -> Site:
    for name in ("a.glb", "b.glb", "c.glb"):
        (tmp_path / name).touch()
    return loads(f"{TEXT}[site]\n{text}", folder=tmp_path).site


def test_nothing_is_asked_for_by_default(tmp_path: Path) -> None:
    found = site(tmp_path, 'context = ["a.glb"]')
    assert found.surrounds == (Surround("", 0.0),)
    assert (found.between_runs, found.free_ends) == (0.0, 1.0)


def test_a_class_has_one_clearance_for_all_its_meshes(tmp_path: Path) -> None:
    found = site(
        tmp_path,
        'context = ["a.glb", { file = "b.glb", class = "hot" },'
        ' { file = "c.glb", class = "hot", clearance = "6 in" }]\n'
        'clearance_between_runs = 50\nclearance_free_ends = "2 ft"',
    )
    hot = Surround("hot", pytest.approx(0.1524))  # type: ignore[arg-type]
    assert found.surrounds == (Surround(), hot, hot)
    assert [p.name for p in found.context] == ["a.glb", "b.glb", "c.glb"]
    assert (found.between_runs, found.free_ends) == pytest.approx((0.05, 0.6096))


def test_a_clearance_without_a_class_is_that_of_one_mesh(tmp_path: Path) -> None:
    found = site(tmp_path, 'context = [{ file = "a.glb", clearance = 20 }, { file = "b.glb" }]')
    assert found.surrounds == (Surround("", 0.02), Surround())


def test_a_mesh_may_say_what_its_surfaces_hold(tmp_path: Path) -> None:
    found = site(tmp_path, 'context = ["a.glb", { file = "b.glb", solid = true }]')
    assert [s.solid for s in found.surrounds] == [None, True]


@pytest.mark.parametrize(
    ("text", "where", "words"),
    [
        ('[{ file = "a.glb", class = "hot" }]', "context[0].class", "'hot' has no clearance"),
        (
            '[{ file = "a.glb", class = "hot", clearance = 1 },'
            ' { file = "b.glb", class = "hot", clearance = 2 }]',
            "context[1].clearance",
            "has clearance 2.0 mm here and 1.0 mm earlier",
        ),
        ('[{ class = "hot", clearance = 1 }]', "context[0].file", "file is missing"),
        ('[{ file = "a.glb", clas = "hot" }]', "context[0].clas", "did you mean 'class'?"),
        ('[{ file = "a.glb", clearance = -1 }]', "context[0].clearance", "below the minimum of 0"),
        ('[{ file = "a.glb", clearance = "6" }]', "context[0].clearance", "unit"),
        ('[{ file = "d.glb" }]', "context[0]", "there is no file 'd.glb'"),
        ("[5]", "context[0]", "5 is not a mesh"),
        ('[]\nclearance_between_runs = "x"', "clearance_between_runs", "number with a unit"),
        ("[]\nclearance_free_ends = 101", "clearance_free_ends", "exceeds the maximum of 100"),
    ],
)
def test_what_is_wrong_stands_at_its_line(
    tmp_path: Path, text: str, where: str, words: str
) -> None:
    with pytest.raises(InputError) as caught:
        site(tmp_path, f"context = {text}")
    (problem,) = caught.value.problems
    assert problem.where == f"site.{where}"
    assert words in f"{problem.message}; {problem.fix}"
    assert problem.line == LINE + text.count("\n")
