"""LandXML out: read back by our reader and by a parser of the test's own, to 1e-6 m."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

import route3d
from route3d.formats.catalog import read_routes, write_routes
from route3d.formats.exchange import ExchangeRoute, ReadOptions, routes_of
from route3d.formats.landxml.writing import chords_said, write_landxml
from route3d.model.site import Frame
from tests.support.landxml_parser import NS, in_space, unit_of
from tests.support.routes import Vector
from tests.support.wild_routes import wild_route

DEMOS = sorted((Path(route3d.__file__).parents[1] / "models").glob("*.toml"))


# --- routes -------------------------------------------------------------------------------------


def route(*rows: tuple[float, float, float, float], **more: object) -> ExchangeRoute:
    table = np.array(rows)
    return ExchangeRoute("F1", table[:, :3], table[:, 3], **more)  # type: ignore[arg-type]


REACH = frozenset({"reel", "machine"})
PLAIN = route(
    (0, 0, -1.5, 0), (30, 0, -1.5, 4), (30, 40, -1.5, 0), (30, 60, -1.5, 6), (30, 80, 4, 3),
    (30, 95, 4, 2.5), (10, 95, 4, 0),
    names=("vault V1", "", "", "V2", "", "", "", "switchroom")[:2]
    + ("V2", "", "", "", "switchroom"),
    access=(REACH, frozenset(), REACH, frozenset(), frozenset(), frozenset(), REACH),
    boxes=(None, None, (1.2, 0.9, 0.6), None, None, None, None),
    conduit="duct", changes=("", "", "riser", "", "", "", ""), outer_diameter=0.141,
)  # fmt: skip
SLOPED = route((0, 0, 0, 0), (50, 0, -0.5, 3), (50, 40, -0.9, 0))
RISER = route((0, 0, -1.5, 0), (30, 0, -1.5, 1.2), (30, 25, -1.5, 1.2), (30, 25, 12, 0))


def measured(path: route3d.Path, points: Vector) -> tuple[Vector, Vector]:
    """The distance (m) of points from a path, and the station in plan of the place nearest.

    Of a straight by its foot, of an arc by the angle about its center; the plan of a vertical arc
    is as long as it reaches, that of a horizontal one as the arc.
    """
    least, stations = np.full(len(points), np.inf), np.zeros(len(points))
    before = 0.0
    for i in range(len(path)):
        t, n, radius = path.tangents[i], path.normals[i], float(path.radii[i])
        from_start = points - path.starts[i]
        x, y = from_start @ t, from_start @ n
        if path.kind[i] == 1:
            angle = np.clip(np.arctan2(x, radius - y), 0, float(path.angles[i]))[:, None]
            foot = radius * (np.sin(angle) * t + (1 - np.cos(angle)) * n)
            far = radius * float(path.angles[i])
        else:
            foot = np.clip(x, 0, float(path.lengths[i]))[:, None] * t
            far = float(np.hypot(*(path.ends[i] - path.starts[i])[:2]))
        level = path.kind[i] == 1 and abs(np.cross(t, n)[2]) > 0.5
        along = radius * angle[:, 0] if level else np.hypot(*foot.T[:2])
        far = far if level else float(np.hypot(*(path.ends[i] - path.starts[i])[:2]))
        away = np.linalg.norm(from_start - foot, axis=1)
        nearer = away < least
        least = np.where(nearer, away, least)
        stations = np.where(nearer, before + along, stations)
        before += far
    return least, stations


@pytest.mark.parametrize("unit", ["ft", "m"])
def test_an_alignment_is_the_route_at_every_station(unit: str, tmp_path: Path) -> None:
    """Horizontal and vertical bends exactly: plan, profile and stations by a second parser."""
    file = tmp_path / "a.xml"
    write_landxml([PLAIN], file, unit)
    assert list(chords_said([PLAIN])) == []
    root = ElementTree.parse(file).getroot()
    (alignment,) = root.iter(NS + "Alignment")
    found = in_space(alignment, unit_of(root))
    away, stations = measured(PLAIN.path(), np.array([at for _, at in found]))
    assert away.max() < 1e-6
    assert stations == pytest.approx([station for station, _ in found], abs=1e-6)
    assert found[0][1] == pytest.approx(PLAIN.points[0], abs=1e-9)
    assert found[-1][1] == pytest.approx(PLAIN.points[-1], abs=1e-9)


def near(path: route3d.Path, points: list[Vector]) -> float:
    """The largest distance of points from a path, m."""
    return float(measured(path, np.array(points))[0].max())


@pytest.mark.parametrize(
    ("before", "kind", "within", "said"),
    [
        (PLAIN, "Alignment", 1e-6, ""),
        (SLOPED, "Alignment", 1e-3, "F1: 1 oblique bend written by chords within 1 mm"),
        (RISER, "PlanFeature", 1e-3, "F1 has vertical legs: written as a plan feature in space"),
    ],
    ids=["plain", "sloped", "riser"],
)
def test_both_readers_find_the_route(
    before: ExchangeRoute, kind: str, within: float, said: str, tmp_path: Path
) -> None:
    file = tmp_path / "a.xml"
    write_landxml([before], file, "m")
    root = ElementTree.parse(file).getroot()
    (held,) = root.iter(NS + kind)
    assert near(before.path(), [at for _, at in in_space(held, 1.0)]) < within
    assert " ".join(chords_said([before])).startswith(said)
    (after,) = read_routes(file, ReadOptions()).routes
    assert after.points == pytest.approx(before.points, abs=1e-6)
    assert after.radii == pytest.approx(before.radii, abs=1e-5)
    assert (after.names, after.access, after.boxes) == (before.names, before.access, before.boxes)
    assert (after.conduits, after.outer_diameter) == (before.conduits, before.outer_diameter)


@pytest.mark.parametrize("unit", ["ft", "m"])
@pytest.mark.parametrize("model", DEMOS, ids=lambda p: p.stem)
def test_a_demo_comes_back(model: Path, unit: str, tmp_path: Path) -> None:
    file = tmp_path / "a.landxml"
    routes = routes_of(route3d.load(model))
    write_routes(routes, file, unit)
    root = ElementTree.parse(file).getroot()
    held = [*root.iter(NS + "Alignment"), *root.iter(NS + "PlanFeature")]
    by_name = {e.attrib["name"]: e for e in held}
    for before, after in zip(routes, read_routes(file, ReadOptions()).routes, strict=True):
        drawn = [at for _, at in in_space(by_name[before.name], unit_of(root))]
        assert near(before.path(), drawn) < 1e-3
        assert after.points == pytest.approx(before.points, abs=1e-6)
        assert after.radii == pytest.approx(before.radii, abs=1e-5)
        assert (after.names, after.access) == (before.names, before.access)
        assert (after.conduits, after.boxes) == (before.conduits, before.boxes)


@pytest.mark.parametrize("seed", range(3))
def test_a_wild_route_in_survey_coordinates_is_within_a_millimeter(
    seed: int, tmp_path: Path
) -> None:
    before = wild_route(seed, survey=True)
    file = tmp_path / "a.xml"
    write_landxml([before], file, "ft" if seed % 2 else "m")
    root = ElementTree.parse(file).getroot()
    (held,) = [*root.iter(NS + "Alignment"), *root.iter(NS + "PlanFeature")]
    assert near(before.path(), [at for _, at in in_space(held, unit_of(root))]) < 1.001e-3
    (after,) = read_routes(file, ReadOptions(near=False, recognize=False)).routes
    assert near(before.path(), list(after.points)) < 1e-6


def test_the_grid_is_named_and_the_bytes_are_the_same(tmp_path: Path) -> None:
    files = [tmp_path / f"{n}.xml" for n in "ab"]
    for file in files:
        write_landxml([PLAIN], file, "m", Frame(crs="EPSG:32610"))
    assert files[0].read_bytes() == files[1].read_bytes()
    system = ElementTree.parse(files[0]).getroot().find(NS + "CoordinateSystem")
    assert system is not None
    assert system.attrib == {"name": "EPSG:32610", "epsgCode": "32610"}
    assert read_routes(files[0], ReadOptions()).crs == "EPSG:32610"


def test_points_told_by_another_program_do_no_harm(tmp_path: Path) -> None:
    file = tmp_path / "a.xml"
    write_landxml([PLAIN], file, "m")
    root = ElementTree.parse(file).getroot()
    for n, told in enumerate(root.iter(NS + "Property")):
        bad = ["[1]", "{", json.dumps({"at": [1, 2], "box_m": None}), "-1"]
        told.set("value", bad[n % 4])
    ElementTree.ElementTree(root).write(file)
    (after,) = read_routes(file, ReadOptions()).routes
    assert after.path().length == pytest.approx(PLAIN.path().length, abs=1e-6)
    assert not any(after.access)
