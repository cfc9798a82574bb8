"""What route3d writes of demos and of larger jobs, read by programs that know nothing of it."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from xml.etree import ElementTree

import ezdxf
import ifcopenshell
import ifcopenshell.validate
import numpy as np
import pytest
import pyvista

from route3d.cli.main import main
from route3d.formats.exchange import ExchangeRoute, routes_of
from route3d.model import Job
from route3d.model.site import Frame
from route3d.modelfile.read import load
from route3d.modelfile.write import write_model
from tests.support.drawn_jobs import terminal_feeder
from tests.support.landxml_parser import NS, in_space, unit_of
from tests.support.rigging import MODELS
from tests.support.routes import Vector
from tests.support.wild_routes import wild_route

DEMOS = (*sorted(MODELS.glob("*.toml")), MODELS / "berths.xlsx")
ORIGIN = (512345.25, 6110987.5, 12.75)
LARGER = ("a feeder of 1.1 km", "forty runs on a grid", "nine wild runs")
JOBS = (*(file.name for file in DEMOS), *LARGER)
KINDS = ("dxf", "ifc", "xml", "geojson", "glb", "stl")


@cache
def model_of(name: str) -> Path:
    """The model file of a demo or of a larger job."""
    if name not in LARGER:
        return MODELS / name
    file = Path(mkdtemp()) / "job.toml"
    if name == LARGER[0]:
        file.write_text(terminal_feeder(), encoding="utf-8")
    elif name == LARGER[1]:
        write_model(
            [_beside(i) for i in range(40)],
            file,
            like=MODELS / "yard_run.toml",
            frame=Frame(ORIGIN, "EPSG:25832"),
        )
    else:
        wild = [wild_route(seed, name=f"W{seed}") for seed in range(9)]
        middle = wild[0].points.mean(axis=0)
        near = [
            ExchangeRoute(r.name, r.points - middle, r.radii, outer_diameter=0.14) for r in wild
        ]
        write_model(near, file, like=MODELS / "yard_run.toml")
    return file


def _beside(number: int) -> ExchangeRoute:
    """Twelve bends, left and right, up and down by turns."""
    rows = [(0.0, 0.5 * number, -2.0)]
    for i in range(1, 13):
        x, y, z = rows[-1]
        rows.append((x + 12, y + (9.0 if i % 2 else 0.0), z + (1.5 if i % 4 == 2 else 0.0)))
    points = np.array([*rows, (170.0, rows[-1][1], rows[-1][2])])
    radii = np.array([0.0, *[1.2] * 12, 0.0])
    return ExchangeRoute(f"B{number + 1}", points, radii, outer_diameter=0.14)


@cache
def job_of(name: str) -> Job:
    return load(model_of(name))


def read(name: str, kind: str, folder: Path) -> tuple[Path, tuple[ExchangeRoute, ...]]:
    """The file that a person gets, and the routes that must be in it, on the grid."""
    file = folder / f"routes.{kind}"
    assert main(["convert", str(model_of(name)), str(file), "--out-units", "SI"]) == 0
    job = job_of(name)
    assert file.exists()
    return file, routes_of(job)


@pytest.mark.parametrize("name", JOBS)
@pytest.mark.parametrize("kind", KINDS)
def test_it_is_read_as_written(name: str, kind: str, tmp_path: Path) -> None:
    file, routes = read(name, kind, tmp_path)
    READERS[kind](file, routes, np.array(job_of(name).site.frame.shift))


def _dxf(file: Path, routes: tuple[ExchangeRoute, ...], shift: Vector) -> None:
    """Ezdxf's audit finds nothing; lines and arcs of each run add up to its length."""
    drawing = ezdxf.readfile(file)
    audit = drawing.audit()
    assert not audit.errors and not audit.fixes
    total = 0.0
    for entity in drawing.modelspace().query("LINE ARC"):
        if entity.dxftype() == "LINE":
            total += entity.dxf.start.distance(entity.dxf.end)
        else:
            turn = (entity.dxf.end_angle - entity.dxf.start_angle) % 360
            total += np.radians(turn) * entity.dxf.radius
    assert total == pytest.approx(sum(r.path().length for r in routes), rel=1e-9)


def _ifc(file: Path, routes: tuple[ExchangeRoute, ...], shift: Vector) -> None:
    """The validator of ifcopenshell finds nothing; there is a system for each run."""
    log = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(file), log)
    assert log.statements == []
    model = ifcopenshell.open(file)
    systems = {s.Name for s in model.by_type("IfcDistributionSystem")}
    assert systems == {r.name for r in routes}
    for conversion in model.by_type("IfcMapConversion"):
        found = conversion.Eastings, conversion.Northings, conversion.OrthogonalHeight
        assert found == pytest.approx(tuple(shift), abs=1e-9)
    assert bool(model.by_type("IfcMapConversion")) == bool(shift.any())


def _landxml(file: Path, routes: tuple[ExchangeRoute, ...], shift: Vector) -> None:
    """The second parser of the tests finds each run where it is: ends and length in space."""
    root = ElementTree.parse(file).getroot()
    held = {
        e.attrib["name"]: e for tag in ("Alignment", "PlanFeature") for e in root.iter(NS + tag)
    }
    assert set(held) == {r.name for r in routes}
    for route in routes:
        places = np.array([place for _, place in in_space(held[route.name], unit_of(root))])
        assert places[0] == pytest.approx(route.points[0] + shift, abs=1e-5)
        assert places[-1] == pytest.approx(route.points[-1] + shift, abs=1e-5)
        chords = np.linalg.norm(np.diff(places, axis=0), axis=1).sum()
        assert chords == pytest.approx(route.path().length, rel=2e-3)


def _geojson(file: Path, routes: tuple[ExchangeRoute, ...], shift: Vector) -> None:
    """Json alone: a LineString for each run, its points those of the route on the grid."""
    held = json.loads(file.read_text(encoding="utf-8"))
    assert held["type"] == "FeatureCollection"
    for feature, route in zip(held["features"], routes, strict=True):
        assert feature["type"] == "Feature" and feature["properties"]["name"] == route.name
        assert feature["geometry"]["type"] == "LineString"
        np.testing.assert_allclose(
            feature["geometry"]["coordinates"], route.points + shift, rtol=0, atol=1e-6
        )


def _mesh(file: Path, routes: tuple[ExchangeRoute, ...], shift: Vector) -> None:
    """VTK's readers find the box that the routes fill with their conduits."""
    found = pyvista.read(file)
    low, high = np.array(found.bounds).reshape(3, 2).T
    if file.suffix == ".glb":  # y is up
        low, high = np.array([low[0], -high[2], low[1]]), np.array([high[0], -low[2], high[1]])
    inside = np.concatenate([r.path().point(np.linspace(0, r.path().length, 4000)) for r in routes])
    widest = max(d for r in routes for d in r.leg_diameters if d) / 2
    assert (low <= inside.min(axis=0) + 1e-3).all() and (high >= inside.max(axis=0) - 1e-3).all()
    assert (low >= inside.min(axis=0) - widest - 2e-3).all()
    assert (high <= inside.max(axis=0) + widest + 2e-3).all()


READERS = {
    "dxf": _dxf,
    "ifc": _ifc,
    "xml": _landxml,
    "geojson": _geojson,
    "glb": _mesh,
    "stl": _mesh,
}
