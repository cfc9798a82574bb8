"""GeoJSON: degrees onto a plane, projected grids, and files that are neither."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import jsonschema
import mpmath
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import route3d
from route3d.cli.main import main
from route3d.errors import InputError
from route3d.formats.catalog import read_routes, write_routes
from route3d.formats.exchange import ExchangeRoute, ImportedRoutes, ReadOptions, routes_of
from route3d.formats.geojson import departure, read_geojson, write_geojson
from route3d.geometry.tangent_plane import TangentPlane, plane_of, to_degrees, to_plane
from route3d.geometry.utm import Zone, to_grid, zone_at, zone_of
from route3d.model.site import Frame
from route3d.modelfile.read import loads
from route3d.modelfile.starter import starter
from route3d.modelfile.write import model_text

PIER = [-122.34, 47.6]
DEMOS = sorted((Path(route3d.__file__).parents[1] / "models").glob("*.toml"))


def read(tmp_path: Path, data: object, **options: object) -> ImportedRoutes:
    file = tmp_path / "pier.geojson"
    file.write_text(data if isinstance(data, str) else json.dumps(data))
    return read_geojson(file, ReadOptions(**options))  # type: ignore[arg-type]


def line(*points: list[float], **more: Any) -> dict[str, Any]:
    geometry = {"type": "LineString", "coordinates": list(points)}
    return {"type": "Feature", "properties": {"name": "F1"}, "geometry": geometry, **more}


# --- degrees -----------------------------------------------------------------------------------


def test_a_step_north_is_the_arc_of_the_meridian() -> None:
    """Radius of curvature in the meridian a(1-e²)/(1-e² sin²φ)^1.5, integrated by mpmath."""
    a, f = mpmath.mpf(6378137), 1 / mpmath.mpf("298.257223563")
    e2 = f * (2 - f)
    low, high = (mpmath.radians(d) for d in (47.6, 47.609))
    arc = mpmath.quad(lambda p: a * (1 - e2) / (1 - e2 * mpmath.sin(p) ** 2) ** 1.5, [low, high])
    there = to_plane(np.array([[*PIER, 3.0], [PIER[0], 47.609, 3.0]]), TangentPlane(*PIER))
    # 1 km on a sphere of 6,378 km: the plane shortens the arc by s³/6R² = 4 µm, and 3 m of height
    # lengthen it by 3/6378137 of itself, 0.47 mm.
    assert there[1, 1] == pytest.approx(float(arc) * (1 + 3 / 6378137), abs=2e-5)
    assert there[1, 0] == pytest.approx(0, abs=1e-9)


def test_a_step_east_is_the_arc_of_the_parallel() -> None:
    radius = 6378137 / math.sqrt(1 - 0.00669437999014 * math.sin(math.radians(47.6)) ** 2)
    arc = radius * math.cos(math.radians(47.6)) * math.radians(0.001)
    there = to_plane(np.array([[*PIER, 0.0], [-122.339, 47.6, 0.0]]), TangentPlane(*PIER))
    assert there[1, 0] == pytest.approx(arc, abs=1e-6)


def test_degrees_become_meters_from_the_first_point(tmp_path: Path) -> None:
    reading = read(tmp_path, line([*PIER, 2.5], [-122.339, 47.6, -1.0]))
    route = reading.routes[0]
    assert route.points[0] == pytest.approx([0, 0, 2.5], abs=1e-6)
    assert route.points[1] == pytest.approx([75.2, 0, -1.0], abs=0.01)
    assert "the WGS 84 tangent plane at -122.34, 47.6" in reading.guessed[0]
    assert "within 0.1 mm" in reading.guessed[0]


def test_lines_without_altitude_lie_at_0_and_it_is_told(tmp_path: Path) -> None:
    reading = read(tmp_path, line(PIER, [-122.339, 47.6]))
    assert reading.routes[0].points[:, 2].tolist() == [0, 0]
    assert "z is 0 for 1 line" in reading.guessed[-1]


def test_local_numbers_are_not_taken_for_degrees(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"spans 50 by 0 degrees.*use --units"):
        read(tmp_path, line([0, 0], [50, 0]))
    with pytest.raises(InputError, match="not degrees"):
        read(tmp_path, line([512000, 4651000], [512050, 4651000]))


# --- grids -------------------------------------------------------------------------------------


def test_units_asked_for_make_it_a_grid(tmp_path: Path) -> None:
    route = read(tmp_path, line([0, 0, 1], [50, 0, 1]), units="ft").routes[0]
    assert route.points[1] == pytest.approx([15.24, 0, 0.3048])


@pytest.mark.parametrize(
    ("crs", "x"),
    [
        ("urn:ogc:def:crs:EPSG::32610", 0.01),
        ("EPSG:32710", 0.01),
        ("urn:ogc:def:crs:OGC:1.3:CRS84", 752.0),
        ("urn:ogc:def:crs:EPSG::4326", 752.0),
    ],
)
def test_the_crs_says_whether_it_is_a_grid(tmp_path: Path, crs: str, x: float) -> None:
    member = {"type": "name", "properties": {"name": crs}}
    data = {"type": "FeatureCollection", "crs": member, "features": [line(PIER, [-122.33, 47.6])]}
    points = read(tmp_path, data).routes[0].points
    assert points[1, 0] - points[0, 0] == pytest.approx(x, abs=0.05)


def test_a_grid_of_unknown_unit_is_refused(tmp_path: Path) -> None:
    member = {"type": "name", "properties": {"name": "EPSG:2926"}}
    data = {"type": "FeatureCollection", "crs": member, "features": [line([0, 0], [9, 0])]}
    with pytest.raises(InputError, match="whose unit is not known; use --units"):
        read(tmp_path, data)


@pytest.mark.parametrize(("zone", "place"), [(10, (-122.34, 47.6)), (60, (174.2, -41.3))])
def test_degrees_on_a_utm_grid_are_the_conformal_map_of_its_meridian(
    zone: int, place: tuple[float, float]
) -> None:
    """Transverse Mercator is the one conformal map that is 0.9996 of the arc on its meridian.

    So it is the arc of the meridian continued to the complex latitude whose isometric latitude is
    q + iλ, which mpmath finds and integrates.
    """
    f = 1 / mpmath.mpf("298.257223563")
    e = mpmath.sqrt(f * (2 - f))

    def isometric(p: Any) -> Any:
        return mpmath.atanh(mpmath.sin(p)) - e * mpmath.atanh(e * mpmath.sin(p))

    east, north = (mpmath.radians(mpmath.mpf(str(d))) for d in place)
    wanted = isometric(north) + 1j * (east - mpmath.radians(6 * zone - 183))
    latitude = mpmath.findroot(lambda p: isometric(p) - wanted, mpmath.mpc(north, 0.01))
    a, e2 = mpmath.mpf(6378137), e**2
    arc = mpmath.quad(
        lambda p: a * (1 - e2) / (1 - e2 * mpmath.sin(p) ** 2) ** mpmath.mpf(1.5), [0, latitude]
    )
    south = place[1] < 0
    found = to_grid(np.array([[*place, 3.0]]), Zone(zone, south))[0]
    k = 0.9996
    assert found[0] == pytest.approx(500_000 + k * float(arc.imag), rel=0, abs=1e-6)
    assert found[1] == pytest.approx(south * 1e7 + k * float(arc.real), rel=0, abs=1e-6)
    assert found[2] == 3.0
    grid = zone_of(zone_at(np.array(place)))
    assert grid == Zone(zone, south)


def test_degrees_land_on_the_grid_of_the_job(tmp_path: Path) -> None:
    feature = line([*PIER, 2.5], [-122.339, 47.6, -1.0])
    shift = (549_000.0, 5_272_000.0, 2.0)
    reading = read(tmp_path, feature, shift=shift, crs="EPSG:32610")
    raw = to_grid(np.array([[*PIER, 2.5], [-122.339, 47.6, -1.0]]), Zone(10, False))
    assert reading.routes[0].points == pytest.approx(raw - np.array(shift), abs=1e-9)
    assert "degrees projected to EPSG:32610 (UTM): lengths there are 37" in reading.guessed[0]
    for crs in ("", "EPSG:2926"):
        with pytest.raises(InputError, match=r"project the file.* EPSG:32610 in site.crs"):
            read(tmp_path, feature, shift=shift, crs=crs)


def test_an_origin_in_degrees_lets_two_files_land_together(tmp_path: Path) -> None:
    origin = (*PIER, 1.0)
    first = read(tmp_path, line([*PIER, 2.5], [-122.339, 47.6, 2.5]), origin=origin).routes[0]
    second = read(tmp_path, line([-122.339, 47.6, 2.5], [-122.339, 47.601, 2.5]), origin=origin)
    assert second.routes[0].points[0] == pytest.approx(first.points[1], abs=1e-9)
    assert first.points[0] == pytest.approx([0, 0, 1.5], abs=1e-6)


# --- what is in the file -----------------------------------------------------------------------


def test_other_geometries_are_counted(tmp_path: Path) -> None:
    point = {
        "type": "Feature",
        "properties": {},
        "geometry": {"type": "Point", "coordinates": PIER},
    }
    apart = [[-122.338, 47.6], [-122.337, 47.6]]
    many = {"type": "MultiLineString", "coordinates": [[PIER, [-122.339, 47.6]], apart]}
    both = {"type": "GeometryCollection", "geometries": [many, point["geometry"]]}
    data = {"type": "FeatureCollection", "features": [point, both, {"type": "Feature"}]}
    reading = read(tmp_path, data)
    assert len(reading.routes) == 2
    assert reading.ignored == ("2 Points", "1 feature without geometry")


def test_a_faceted_bend_is_an_arc_again(tmp_path: Path) -> None:
    t = np.linspace(0, np.pi / 2, 12)
    bow = np.column_stack((9 + 2 * np.sin(t), 2 - 2 * np.cos(t), 0 * t))
    points = np.vstack(([[0, 0, 0]], bow, [[11, 9, 0]])).tolist()
    file = tmp_path / "a.geojson"
    file.write_text(json.dumps(line(*points)))
    reading = read_routes(file, ReadOptions(units="m"))
    assert reading.routes[0].radii == pytest.approx([0, 2, 0], abs=1e-6)
    assert "1 bend recognized in 14 points" in reading.used[-1]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is not JSON"),
        ('{"type": "LineString", "coordinates": [[0, 0], [1', "is not JSON"),
        ("[1, 2]", "not a GeoJSON object"),
        ("[" * 100_000, "nested too deeply"),
        ('{"type": "LineString", "coordinates": [[0, 0], [NaN, 1]]}', "contains NaN"),
        ('{"type": "LineString", "coordinates": [[0, 0], [1e999, 1]]}', "not finite"),
        ('{"type": "LineString", "coordinates": [[0, 0], ["1", 1]]}', "has the position ['1', 1]"),
        ('{"type": "LineString", "coordinates": [[0, 0], [true, 1]]}', "has the position"),
        ('{"type": "LineString", "coordinates": [[0, 0]]}', "a line requires two points"),
        ('{"type": "LineString", "coordinates": 7}', "a line requires two points"),
        ('{"type": "LineString", "coordinates": [[0, 0, 1e300], [0, 0, 1]]}', "an altitude"),
        ('{"type": "LineString"}', "a line requires two points"),
        ('{"type": "MultiLineString"}', "no coordinates"),
        ('{"type": "FeatureCollection", "features": 3}', "without features"),
        ('{"type": "FeatureCollection", "features": [3]}', "3 is no feature"),
        ('{"type": "FeatureCollection", "features": []}', "has no line"),
        ('{"type": "LineString", "coordinates": [[0, 0], [' + "9" * 5000 + ", 0]]}", "thousands"),
        ('{"type": "LineString", "coordinates": [[0, 0], [' + "9" * 400 + ", 0]]}", "out of range"),
        ('{"type": "LineString", "coordinates": [[0.1, 0.1], [0.1, 0.1]]}', "one position only"),
    ],
)
def test_what_is_no_route_is_refused(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert said in str(caught.value)


# --- parts, names and notes --------------------------------------------------------------------


def parts(*lines: Any, **properties: Any) -> dict[str, Any]:
    geometry = {"type": "MultiLineString", "coordinates": list(lines)}
    return {"type": "Feature", "id": "W-7", "properties": properties, "geometry": geometry}


def test_parts_that_meet_are_one_route(tmp_path: Path) -> None:
    """In any order and direction; most of the length runs east."""
    lines = ([[60, 9, 0], [60, 0, 0]], [[0, 0, 0], [40, 0, 0]], [[60, 0, 0], [40, 0.0004, 0]])
    reading = read(tmp_path, parts(*lines), units="m")
    (route,) = reading.routes
    assert route.name == "W-7"
    expected = [[0, 0, 0], [40, 0.0002, 0], [60, 0, 0], [60, 9, 0]]
    assert route.points == pytest.approx(np.array(expected))
    assert "W-7: 3 parts joined, gaps up to 0.4 mm closed" in reading.used
    assert reading.elements == ()


def test_parts_that_do_not_meet_are_a_broken_element_with_the_gap(tmp_path: Path) -> None:
    lines = ([[0, 0, 0], [40, 0, 0]], [[40, 0.0012, 0], [60, 0, 0]])
    reading = read(tmp_path, parts(*lines, name="F1"), units="m")
    assert [r.name for r in reading.routes] == ["F1 1", "F1 2"]
    (element,) = reading.elements
    assert (element.handle, element.state, element.run) == ("W-7", "broken", "F1")
    assert "in 2 parts: smallest gap 1.2 mm" in element.said
    assert element.at == pytest.approx((40, 0.0006, 0))
    assert len(read(tmp_path, parts(*lines), units="m", tolerance=0.002).routes) == 1
    spur = [[40, 0, 0], [40, 9, 0]]
    (element,) = read(tmp_path, parts(lines[0], [[40, 0, 0], [60, 0, 0]], spur), units="m").elements
    assert "in 3 parts: more than two meet at (40.00, 0.00, 0.00) m" in element.said


def test_a_property_names_the_features_and_the_others_are_notes(tmp_path: Path) -> None:
    feature = line([0, 0, 0], [9, 0, 0])
    feature["properties"] = {
        "Tag": "EV-12", "id": 7, "owner": "the port", "depth": 3, "rev": "3", "note": "a\nb",
        "gone": None, "tags": ["x", 1], "spare\u202e": "7.5",
    }  # fmt: skip
    (route,) = read(tmp_path, feature, units="m").routes
    assert route.name == "7"
    reading = read(tmp_path, feature, units="m", columns={"name": "Tag"})
    (route,) = reading.routes
    assert route.name == "EV-12"
    notes = ["id: 7", "owner: the port", "depth: 3", 'rev: "3"', 'note: "a\\nb"', 'tags: ["x", 1]']
    assert route.notes == (*notes, '"spare\\u202e": "7.5"')
    assert any(s.startswith("properties kept as notes: 'id', 'owner'") for s in reading.used)
    write_geojson([route], tmp_path / "b.geojson", "m")
    data = json.loads((tmp_path / "b.geojson").read_text(encoding="utf-8"))
    back = data["features"][0]["properties"]
    kept = {k: v for k, v in feature["properties"].items() if k in ("id", "owner", "depth", "tags")}
    assert {k: back[k] for k in kept} == kept
    assert (back["rev"], back["note"]) == ("3", "a\nb")
    assert read_geojson(tmp_path / "b.geojson", ReadOptions()).routes[0].notes == route.notes
    made = model_text([route], starter("SI")).text
    assert "[[run]]\n# id: 7\n# owner: the port\n" in made
    loads(made)


def test_a_property_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no feature with the property 'Nam' for name"):
        read(tmp_path, line([0, 0], [9, 0]), units="m", columns={"name": "Nam"})
    with pytest.raises(InputError, match="no column for x"):
        read(tmp_path, line([0, 0], [9, 0]), units="m", columns={"x": "E"})


# --- out ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("asked", ["ft", "m"])
def test_a_route_reads_back_as_it_was(tmp_path: Path, asked: str) -> None:
    reach = (frozenset({"reel", "machine"}), frozenset[str](), frozenset[str]())
    route = ExchangeRoute(
        "F1",
        np.array([[0, 0, -1.5], [10 / 3, 0, -1.5], [10 / 3, 7, -1.5]]),
        np.array([0, 1.2192, 0]),
        ("vault V1", "", "Ω"),
        "duct",
        None,
        reach,
    )
    file = tmp_path / "a.geojson"
    write_geojson([route], file, asked)
    assert json.loads(file.read_text(encoding="utf-8"))["crs"] is None
    back = read_routes(file, ReadOptions()).routes[0]
    assert back.points == pytest.approx(route.points, abs=1e-12)
    assert back.radii.tolist() == route.radii.tolist()
    assert (back.names, back.access, back.conduit) == (route.names, route.access, route.conduit)


@pytest.mark.parametrize(
    ("crs", "asked", "unit"), [("EPSG:32610", "ft", "m"), ("EPSG:2926", "ft", "ft")]
)
def test_a_projected_grid_is_named_and_its_departure_is_told(
    tmp_path: Path, crs: str, asked: str, unit: str
) -> None:
    """UTM is in m, whatever the job is in; the unit of others is not known and is told."""
    points = np.array([[549_000.5, 5_272_000.25, 3.0], [549_040.5, 5_272_000.25, 3.0]])
    route = ExchangeRoute("F1", points, np.zeros(2))
    file, frame = tmp_path / "a.geojson", Frame(crs=crs)
    write_geojson([route], file, asked, frame)
    data = json.loads(file.read_text(encoding="utf-8"))
    assert data["crs"] == {"type": "name", "properties": {"name": crs}}
    assert (data["units"], data["note"]) == (unit, departure(frame, asked))
    assert "RFC 7946 has degrees only" in data["note"]
    assert ("Check that ft is the unit of EPSG:2926" in data["note"]) == (crs == "EPSG:2926")
    reading = read_geojson(file, ReadOptions())
    assert reading.crs == crs
    assert reading.routes[0].points == pytest.approx(points, rel=0, abs=1e-8)


@pytest.mark.parametrize("model", DEMOS, ids=lambda p: p.stem)
def test_shapely_reads_every_demo_on_the_grid(model: Path, tmp_path: Path) -> None:
    """With the origin of a site put back, each line is its route on that grid, in m."""
    routes = routes_of(route3d.load(model))
    frame = Frame((549_000.0, 5_272_000.0, 2.0), "EPSG:32610")
    write_routes(routes, tmp_path / "a.geojson", "ft", frame)
    data = json.loads((tmp_path / "a.geojson").read_text(encoding="utf-8"))
    for feature, route in zip(data["features"], routes, strict=True):
        found = shapely.geometry.shape(feature["geometry"])
        expected = route.points + np.array(frame.shift)
        assert np.array(found.coords) == pytest.approx(expected, rel=0, abs=1e-9)


def test_degrees_come_into_a_job_on_its_utm_grid(tmp_path: Path) -> None:
    job, file, out = tmp_path / "job.toml", tmp_path / "a.geojson", tmp_path / "new.toml"
    text = starter("SI").split("[site]")[0]
    job.write_text(text + '\n[site]\norigin = [549000, 5272000, 2]\ncrs = "EPSG:32610"\n')
    feature = line([*PIER, 2.5], [-122.339, 47.6, -1.0])
    feature["properties"]["owner"] = "port"
    file.write_text(json.dumps(feature))
    assert main(["convert", str(file), str(out), "--like", str(job)]) == 0
    raw = to_grid(np.array([[*PIER, 2.5]]), Zone(10, False))[0]
    made = loads(out.read_text(encoding="utf-8"))
    first = made.runs[0].route.vertices[0].point
    assert first == pytest.approx(raw - [549_000, 5_272_000, 2], abs=1e-6)
    assert made.site.frame == Frame((549_000.0, 5_272_000.0, 2.0), "EPSG:32610")
    assert "# owner: port" in out.read_text(encoding="utf-8")


def test_a_file_on_another_grid_than_the_job_is_refused(tmp_path: Path) -> None:
    route = ExchangeRoute("F1", np.array([[0.0, 0, 0], [9, 0, 0]]), np.zeros(2))
    for kind in ("geojson", "xml"):
        write_routes([route], tmp_path / f"a.{kind}", "m", Frame(crs="EPSG:32610"))
        with pytest.raises(InputError, match="on the grid EPSG:32610, and the job is on EPSG:32"):
            read_routes(tmp_path / f"a.{kind}", ReadOptions(crs="EPSG:32611"))
        assert read_routes(tmp_path / f"a.{kind}", ReadOptions(crs="EPSG:32610")).routes


def test_latitude_before_longitude_is_suspected(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="longitude first: check the order"):
        read(tmp_path, line([47.6, -122.34], [47.601, -122.34]))
    with pytest.raises(InputError, match="use --units for a projected grid"):
        read(tmp_path, line([512000.0, 4651000.0], [512010.0, 4651000.0]))


@pytest.mark.parametrize("asked", ["ft", "m"])
def test_shapely_reads_the_lines_and_a_schema_finds_no_fault(tmp_path: Path, asked: str) -> None:
    """Members as RFC 7946, sections 3.1.4, 3.2 and 3.3 ask for (from memory)."""
    points = np.array([[0, 0, -1.5], [40, 0, -1.5], [40, 30, -1.5]])
    route = ExchangeRoute("F1", points, np.array([0, 1.2, 0]))
    write_geojson([route, route], tmp_path / "a.geojson", asked)
    data = json.loads((tmp_path / "a.geojson").read_text(encoding="utf-8"))
    position = {"type": "array", "minItems": 2, "items": {"type": "number"}}
    coordinates = {"type": "array", "minItems": 2, "items": position}
    geometry = {
        "type": "object",
        "required": ["type", "coordinates"],
        "properties": {"type": {"const": "LineString"}, "coordinates": coordinates},
    }
    feature = {
        "type": "object",
        "required": ["type", "properties", "geometry"],
        "properties": {"type": {"const": "Feature"}, "geometry": geometry},
    }
    whole = {
        "type": "object",
        "required": ["type", "features"],
        "properties": {
            "type": {"const": "FeatureCollection"},
            "features": {"type": "array", "minItems": 2, "items": feature},
        },
    }
    jsonschema.validate(data, whole)
    unit = 0.3048 if asked == "ft" else 1.0  # exact by definition
    for each in data["features"]:
        found = shapely.geometry.shape(each["geometry"])
        assert found.has_z and found.length * unit == pytest.approx(70.0)
        assert np.array(found.coords) * unit == pytest.approx(points)


def test_one_bad_feature_costs_no_other(tmp_path: Path) -> None:
    def feature(name: str, geometry: object) -> dict[str, object]:
        return {"type": "Feature", "properties": {"id": name}, "geometry": geometry}

    def drawn(*places: object) -> dict[str, object]:
        return {"type": "LineString", "coordinates": list(places)}

    ring = [[[0, 0, 3], [9, 0, 3], [9, 9, 3], [0, 0, 3]]]
    features = [
        feature("good", drawn([0, 0, 1], [30, 0, 1])),
        feature("flat", drawn([0, 5], [30, 5])),
        feature("one", drawn([0, 9, 1])),
        feature("same", drawn([0, 9, 1], [0, 9, 1])),
        feature("word", drawn(["x", 9, 1], [5, 9, 1])),
        feature("far", drawn([0, 1e12, 1], [5, 9, 1])),
        feature("area", {"type": "Polygon", "coordinates": ring}),
        feature("none", None),
        feature("pit", {"type": "Point", "coordinates": [0, 0]}),
        "text",
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    reading = read(tmp_path, text, units="m")
    assert [r.name for r in reading.routes] == ["good", "flat"]
    told = {e.handle: (e.state, e.kind, e.said) for e in reading.elements}
    assert told.pop("flat") == ("guessed", "LineString", "no altitude: z is 0")
    assert {state for state, _, _ in told.values()} == {"missing"}
    reasons = {
        "one": "points [[0, 9, 1]]",
        "same": "one position only",
        "word": "['x', 9, 1]",
        "far": "1e+12",
        "area": "an area",
        "none": "no line",
        "feature 10": "'text' is no feature",
    }
    assert told.keys() == reasons.keys()
    assert all(reason in told[handle][2] for handle, reason in reasons.items())
    assert "1 Point" in reading.ignored


@given(
    st.floats(-180, 180),
    st.floats(-85, 85),
    st.lists(st.tuples(*[st.floats(-2e4, 2e4)] * 2, st.floats(-50, 500)), min_size=1),
)
@settings(max_examples=60, deadline=None)
def test_a_plane_comes_back_by_its_name_and_its_places_by_degrees(
    longitude: float, latitude: float, places: list[tuple[float, float, float]]
) -> None:
    plane = plane_of(TangentPlane(longitude, latitude).name)
    assert plane == TangentPlane(longitude, latitude)
    points = np.array(places)
    # 0.1 mm is 1e-9 degrees
    assert to_plane(to_degrees(points, plane), plane) == pytest.approx(points, abs=1e-7)


def test_names_that_are_no_plane() -> None:
    for name in ("EPSG:32610", "WGS 84 tangent plane at 181, 0", "WGS 84 tangent plane at 1",
                 "WGS 84 tangent plane at 0, 91"):  # fmt: skip
        assert plane_of(name) is None
