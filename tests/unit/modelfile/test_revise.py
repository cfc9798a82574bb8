"""A revised survey brought into a model file: what moved is told, all the rest stays."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.cli.main import main
from route3d.formats.catalog import write_routes
from route3d.formats.exchange import ExchangeRoute, routes_of
from route3d.modelfile.read import load, loads
from route3d.modelfile.revise import matched, revised
from tests.support.broken_jobs import MODELS

DEMOS = sorted(MODELS.glob("*.toml"))
BY_POINTS = [m for m in DEMOS if "\nlegs " not in m.read_text(encoding="utf-8")]
FT = 0.3048
LEGS = """units = "US"
[cable.phase]
stock = "600 V XHHW-2 copper 500 kcmil"
[conduit.duct]
type = "PVC-40"
trade_size = "5"
friction = 0.3
[[run]]
name = "G1"   # by legs
cables = { phase = 3 }
closes_to = [95, 120, 60]
legs = [
  "start pad at 0, 0, 0 heading north in duct",
  "120 ft", # measured
  "right 90 at 48 in",
  "95 ft",
  "up 90 at 48 in",
  "60 ft",
]
# after it
[practice]
rules = "none"
"""


def moved(route: ExchangeRoute, shifts: dict[int, tuple[float, float, float]]) -> ExchangeRoute:
    points = np.array(route.points)
    for i, shift in shifts.items():
        points[i] += shift
    return ExchangeRoute(route.name, points, np.zeros(len(points)), route.names)


@pytest.mark.parametrize("model", DEMOS, ids=lambda p: p.stem)
def test_the_same_routes_change_no_byte(model: Path) -> None:
    text, job = model.read_text(encoding="utf-8"), load(model)
    made, runs = revised(text, job, routes_of(job), model)
    assert made == text
    assert all(not run.changes for run in runs)


@pytest.mark.parametrize("model", BY_POINTS, ids=lambda p: p.stem)
def test_only_the_coordinates_of_what_moved_change(model: Path) -> None:
    text, job = model.read_text(encoding="utf-8"), load(model)
    route = routes_of(job)[0]
    shifts = {1: (0.0, 0.0, -0.15), len(route.points) - 1: (0.3, 0.0, 0.0)}
    changed = moved(route, shifts)
    made, (run,) = revised(text, job, [changed], model)
    assert [(c.what, pytest.approx(c.distance)) for c in run.changes] == [
        ("moved", 0.15),
        ("moved", 0.3),
    ]
    after = loads(made, str(model), model.parent)
    points = [v.point for v in after.runs[0].route.vertices]
    assert np.array(points) == pytest.approx(
        changed.points, abs=1e-7
    )  # a tenth of a micron, as written
    assert [v.bend for v in after.runs[0].route.vertices] == [
        v.bend for v in job.runs[0].route.vertices
    ]
    lines, new = text.splitlines(), made.splitlines()
    assert len(lines) == len(new)
    assert sum(a != b for a, b in zip(lines, new, strict=True)) == 2


@pytest.mark.parametrize("kind", ["csv", "xlsx", "geojson", "dxf"])
def test_a_file_of_the_same_routes_needs_no_change(
    tmp_path: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    model, drawn = tmp_path / "yard.toml", tmp_path / f"yard.{kind}"
    shutil.copy(MODELS / "yard_run.toml", model)
    assert main(["convert", str(model), str(drawn)]) == 0
    assert main(["convert", str(drawn), "--into", str(model)]) == 0
    assert "needs no change" in capsys.readouterr().err


def test_a_route_drawn_the_other_way_is_turned_and_told() -> None:
    model = MODELS / "yard_run.toml"
    text, job = model.read_text(encoding="utf-8"), load(model)
    route = routes_of(job)[0]
    back = ExchangeRoute("Y1", route.points[::-1], route.radii[::-1], route.names[::-1])
    made, (run,) = revised(text, job, [back], model)
    assert made == text
    assert run.notes == ("it is drawn the other way; read in the direction of the model",)


def test_points_that_came_and_went(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    model, survey = tmp_path / "yard.toml", tmp_path / "survey.csv"
    shutil.copy(MODELS / "yard_run.toml", model)
    route = routes_of(load(model))[0]
    points = np.vstack([route.points[:1], [[FT * 150, FT * 1.5, FT * -4.5]], route.points[1:]])
    names = (route.names[0], "", *route.names[1:])
    write_routes([ExchangeRoute("Y1", points, np.zeros(len(points)), names)], survey, "ft")
    before = model.read_bytes()
    command = ["convert", str(survey), "--into", str(model), "--bend", "60 in"]
    assert main([*command, "--preview"]) == 0
    shown = capsys.readouterr()
    assert "point 2: added" in shown.out and "not changed" in shown.err
    assert model.read_bytes() == before and not (tmp_path / "yard.toml.bak").exists()
    assert main(command) == 0
    assert (tmp_path / "yard.toml.bak").read_bytes() == before
    vertices = load(model).runs[0].route.vertices
    assert [v.bend for v in vertices][:3] == [0, pytest.approx(60 * 0.0254), pytest.approx(1.2192)]
    kept = [line for line in before.decode().splitlines() if "#" in line]
    assert [line for line in model.read_text().splitlines() if "#" in line] == kept
    shutil.copy(MODELS / "yard_run.toml", tmp_path / "old.toml")  # and back again
    assert main(["convert", str(tmp_path / "old.toml"), str(survey)]) == 0
    assert main(["convert", str(survey), "--into", str(model)]) == 0
    assert "point 2: removed" in capsys.readouterr().out
    assert model.read_bytes() == before


def test_a_run_by_legs_is_given_by_points_then(tmp_path: Path) -> None:
    job = loads(LEGS)
    route = routes_of(job)[0]
    made, (run,) = revised(LEGS, job, [moved(route, {1: (0.0, 0.2, 0.0)})], Path("legs.toml"))
    assert run.notes == ("the run was given by legs; it is now given by points",)
    after = loads(made).runs[0].route
    assert after.legs is None
    assert after.vertices[1].point[1] == pytest.approx(job.runs[0].route.vertices[1].point[1] + 0.2)
    assert [v.bend for v in after.vertices] == pytest.approx(
        [v.bend for v in job.runs[0].route.vertices]
    )
    assert "closes_to" not in made and "# after it" in made and "# by legs" in made


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('"Y1"', '"Y9"'), "has no run named 'Y1'"),
        (("Y1", "Y1"), "nothing"),
    ],
)
def test_a_run_that_is_not_in_the_model_is_refused(
    tmp_path: Path, change: tuple[str, str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    model, survey = tmp_path / "yard.toml", tmp_path / "survey.csv"
    text = (MODELS / "yard_run.toml").read_text(encoding="utf-8")
    model.write_text(text.replace(*change))
    assert main(["convert", str(MODELS / "yard_run.toml"), str(survey)]) == 0
    capsys.readouterr()
    if words == "nothing":
        assert main(["convert", str(survey), "--into", str(model)]) == 0
        assert "needs no change" in capsys.readouterr().err
        return
    before = model.read_bytes()
    assert main(["convert", str(survey), "--into", str(model)]) == 2
    said = capsys.readouterr().err
    assert "the run 'Y1' of the file is not in yard.toml: Y9" in said and "--run Y9" in said
    assert model.read_bytes() == before
    # Asked for by name, or a file that names no run for the only run of a model: taken, and told.
    unnamed = tmp_path / "unnamed.csv"
    rows = survey.read_text().splitlines()
    unnamed.write_text("".join(row.partition(",")[2] + "\n" for row in rows))
    for given, said in [
        ([str(survey), "--run", "Y9"], "the route 'Y1' taken for run 'Y9'\n"),
        ([str(unnamed)], "the route 'unnamed' taken for run 'Y9', the only one of the model"),
    ]:
        file, *more = given
        assert main(["convert", file, "--into", str(model), *more]) == 0
        assert said in capsys.readouterr().out
    assert main(["convert", str(survey), "--into", str(model), "--run", "Y2"]) == 2
    assert "no run is named 'Y2'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("scale", "shift", "said"),
    [
        (1, 900, ""),
        (1, 4000, "Y1 moved as a whole by"),
        (0.3048, 0, ""),  # in doubt at most, and seen in the lengths
        (25, 0, "Y1 is 25 times its old size"),
        (1 / 12, 0, "Y1 is 0.08333 times its old size"),
    ],
)
def test_a_route_of_another_place_or_size_is_refused(
    tmp_path: Path,
    scale: float,
    shift: float,
    said: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    model, survey = tmp_path / "yard.toml", tmp_path / "survey.csv"
    shutil.copy(MODELS / "yard_run.toml", model)
    before = model.read_bytes()
    route = routes_of(load(model))[0]
    far = replace(
        route, points=route.points * scale + shift * FT, radii=route.radii * min(scale, 1)
    )
    write_routes([far], survey, "ft")
    into = ["convert", str(survey), "--into", str(model)]
    assert main([*into, "--preview"]) == 0
    assert ("caution" in capsys.readouterr().out) == bool(said)
    assert main(into) == (2 if said else 0)
    told = capsys.readouterr()
    if said:
        assert f"caution: {said}" in told.out and "wrong grid, origin or units?" in told.out
        assert "--units" in told.err and "--origin" in told.err
        assert model.read_bytes() == before and not list(tmp_path.glob("*.bak"))


def test_what_would_not_load_is_not_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model, survey = tmp_path / "yard.toml", tmp_path / "survey.csv"
    shutil.copy(MODELS / "yard_run.toml", model)
    before = model.read_bytes()
    route = routes_of(load(model))[0]
    close = moved(route, {6: (0.0, FT * -219, 0.0)})  # no room for the bend before it
    write_routes([close], survey, "ft")
    assert main(["convert", str(survey), "--into", str(model)]) == 2
    assert "not updated: with these points" in capsys.readouterr().err
    assert model.read_bytes() == before
    book = tmp_path / "job.xlsx"
    assert main(["convert", str(model), str(book), "--workbook"]) == 0
    assert main(["convert", str(survey), "--into", str(book)]) == 2
    assert "convert it first" in capsys.readouterr().err


def test_matching_is_the_best_of_all_orders() -> None:
    """Held against every way to pair short routes in order (brute force)."""
    from itertools import combinations

    draw = np.random.default_rng(7)
    for _ in range(20):
        n, m = draw.integers(3, 7, 2)
        old, new = draw.uniform(0, 12, (n, 3)), draw.uniform(0, 12, (m, 3))
        best = np.inf
        for size in range(min(n, m) - 1):
            for a in combinations(range(1, n - 1), size):
                for b in combinations(range(1, m - 1), size):
                    cost = 5.0 * (n - 2 + m - 2 - 2 * size)
                    cost += sum(np.linalg.norm(old[i] - new[j]) for i, j in zip(a, b, strict=True))
                    best = min(best, cost)
        pairs = matched(old, [""] * n, new, [""] * m)
        inner = pairs[1:-1]
        assert pairs[0] == (0, 0) and pairs[-1] == (n - 1, m - 1)
        found = 5.0 * (n + m - 4 - 2 * len(inner))
        found += sum(np.linalg.norm(old[i] - new[j]) for i, j in inner)
        assert found == pytest.approx(best)
