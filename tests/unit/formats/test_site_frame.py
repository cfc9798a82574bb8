"""Files of one site land together, and every export is on the grid again or says its origin."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from route3d.cli.main import main
from route3d.formats.catalog import LOCAL, WRITABLE, read_routes
from route3d.formats.exchange import ReadOptions
from route3d.modelfile.read import load
from tests.support.big import MODELS

ORIGIN = (512000.0, 6110000.0, 0.0)
GRID_FILES = sorted(set(WRITABLE) - set(LOCAL) - {".toml"})


def survey(file: Path, north: float, header: str = "x (m),y (m),z (m)") -> Path:
    file.write_text(f"{header}\n512000.5,{north},2\n512040.25,{north},2\n")
    return file


def test_two_surveys_half_a_meter_apart_stay_so(tmp_path: Path) -> None:
    """On both sides of a round thousand, where each file alone would have taken off its own."""
    west, east = survey(tmp_path / "a.csv", 6110999.75), survey(tmp_path / "b.csv", 6111000.25)
    assert main(["convert", str(west), str(tmp_path / "a.toml")]) == 0
    like = ["--like", str(tmp_path / "a.toml")]
    assert main(["convert", str(east), str(tmp_path / "b.toml"), *like]) == 0
    jobs = [load(tmp_path / name) for name in ("a.toml", "b.toml")]
    assert [job.site.frame.origin for job in jobs] == [ORIGIN, ORIGIN]
    a, b = (job.runs[0].route.vertices[0].point for job in jobs)
    assert a == (0.5, 999.75, 2.0) and b == (0.5, 1000.25, 2.0)


@pytest.mark.parametrize("kind", GRID_FILES)
@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_origin_is_put_back(kind: str, system: str, tmp_path: Path) -> None:
    model, out = tmp_path / "a.toml", tmp_path / f"a{kind}"
    assert main(["convert", str(survey(tmp_path / "a.csv", 6110999.75)), str(model)]) == 0
    assert main(["convert", str(model), str(out), "--out-units", system]) == 0
    (route,) = read_routes(out, ReadOptions(near=False)).routes
    expected = [[512000.5, 6110999.75, 2.0], [512040.25, 6110999.75, 2.0]]
    np.testing.assert_allclose(route.points, expected, rtol=0, atol=1e-6)
    (route,) = read_routes(out, ReadOptions(shift=ORIGIN)).routes
    np.testing.assert_allclose(route.points, np.subtract(expected, ORIGIN), rtol=0, atol=1e-6)


def test_meshes_stay_local_and_hold_the_origin(tmp_path: Path) -> None:
    model = tmp_path / "yard.toml"
    text = (MODELS / "yard_run.toml").read_text(encoding="utf-8")
    model.write_text(text + '\n[site]\norigin = ["512000 m", "6110000 m", 0]\ncrs = "EPSG:25832"\n')
    local = load(MODELS / "yard_run.toml").runs[0].route.vertices[0].point
    for kind in (".glb", ".stl"):
        assert main(["convert", str(model), str(tmp_path / f"y{kind}")]) == 0
    scene = trimesh.load_scene(tmp_path / "y.glb")
    assert scene.metadata["origin_m"] == list(ORIGIN) and scene.metadata["crs"] == "EPSG:25832"
    reach = np.abs(scene.bounds).max()
    assert reach < 1000 and np.isfinite(local).all()
    beside = json.loads((tmp_path / "y.stl.frame.json").read_text())
    assert beside["origin_m"] == list(ORIGIN)


def test_a_file_of_the_grid_updates_a_job_with_an_origin(tmp_path: Path) -> None:
    model = tmp_path / "a.toml"
    assert main(["convert", str(survey(tmp_path / "a.csv", 6110999.75)), str(model)]) == 0
    moved = survey(tmp_path / "a_new.csv", 6111000.75)
    assert main(["convert", str(moved), "--into", str(model)]) == 0
    assert load(model).runs[0].route.vertices[0].point == (0.5, 1000.75, 2.0)


def test_a_job_brought_into_the_frame_of_another(tmp_path: Path) -> None:
    first, second = tmp_path / "a.toml", tmp_path / "b.toml"
    assert main(["convert", str(survey(tmp_path / "a.csv", 6110999.75)), str(first)]) == 0
    text = first.read_text().replace('"6110000 m"', '"6109000 m"').replace("999.75", "1999.75")
    second.write_text(text)
    assert main(["convert", str(second), str(tmp_path / "c.toml"), "--like", str(first)]) == 0
    assert load(tmp_path / "c.toml").runs[0].route.vertices[0].point == (0.5, 999.75, 2.0)


def test_a_file_of_another_place_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = tmp_path / "a.toml"
    assert main(["convert", str(survey(tmp_path / "a.csv", 6110999.75)), str(model)]) == 0
    local = tmp_path / "local.csv"
    local.write_text("x (m),y (m),z (m)\n0.5,10,2\n40.25,10,2\n")
    out = [str(tmp_path / "b.toml"), "--like", str(model)]
    assert main(["convert", str(local), *out]) == 2
    said = capsys.readouterr().err
    assert "6,110 km from the origin of the site" in said and "--origin 0,0,0" in said
    assert main(["convert", str(local), *out, "--origin", "0,0,0"]) == 0
    assert load(tmp_path / "b.toml").runs[0].route.vertices[0].point == (0.5, 10.0, 2.0)


def test_survey_feet_are_their_own(tmp_path: Path) -> None:
    """1200/3937 m (definition of 1893): 2 ppm are 4 feet on a state grid of 2,000,000 ft."""
    file = survey(tmp_path / "s.csv", 2000000.0, "x (us-ft),y (us-ft),z (us-ft)")
    model = tmp_path / "s.toml"
    assert main(["convert", str(file), str(model)]) == 0
    x, y, _ = load(model).site.frame.origin or ()
    assert x == pytest.approx(512000 * 1200 / 3937, abs=1e-8)
    assert y == pytest.approx(2000000 * 1200 / 3937, abs=1e-8)


def test_a_workbook_keeps_the_site(tmp_path: Path) -> None:
    model = tmp_path / "yard.toml"
    text = (MODELS / "yard_run.toml").read_text(encoding="utf-8")
    (tmp_path / "hall.stl").write_bytes(b"solid")
    model.write_text(
        text
        + '\n[site]\norigin = ["512000 m", "1000 us-ft", 3]\ncrs = "EPSG:25832"\nnorth = 4\n'
        + "grade = [[0, 0, 1], [10, 0, 2], [0, 10, 3]]\n"
        + 'context = [{ file = "hall.stl", units = "mm", up = "y", offset = [1, 2, 3] }]\n'
    )
    book, back = tmp_path / "job.xlsx", tmp_path / "back.toml"
    assert main(["convert", str(model), str(book), "--workbook"]) == 0
    assert main(["convert", str(book), str(back)]) == 0
    assert load(back).site == load(model).site
