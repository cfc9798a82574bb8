"""``route3d convert`` on grids: US survey feet, sites in degrees, origins of one site.

1 us-ft is 1200/3937 m: at x = 6,012,345.678 the international foot would be 12.02 ft off.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import ezdxf
import ifcopenshell
import ifcopenshell.util.placement
import ifcopenshell.util.unit
import openpyxl
import pytest

import route3d
from route3d.modelfile.read import load

YARD = Path(route3d.__file__).parents[1] / "models" / "yard_run.toml"
X, Y, Z = 6012345.678, 2114321.123, 31.25
SURVEY = f"run,x (us-ft),y (us-ft),z (us-ft)\nF1,{X},{Y},{Z}\nF1,{X + 250},{Y},{Z}\n"
Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def survey(tmp_path: Path) -> Path:
    file = tmp_path / "survey.csv"
    file.write_text(SURVEY)
    return file


def of_csv(file: Path) -> tuple[str, list[float]]:
    head, first = (line.split(",") for line in file.read_text().splitlines()[:2])
    return head[2], [float(c) for c in first[2:5]]


def of_xlsx(file: Path) -> tuple[str, list[float]]:
    head, first = list(openpyxl.load_workbook(file).active.values)[:2]
    return head[2], list(first[2:5])


def of_geojson(file: Path) -> tuple[str, list[float]]:
    data = json.loads(file.read_text())
    return data["units"], data["features"][0]["geometry"]["coordinates"][0]


def of_landxml(file: Path) -> tuple[str, list[float]]:
    root = ElementTree.parse(file).getroot()
    name = "{http://www.landxml.org/schema/LandXML-1.2}"
    (start,) = root.iter(f"{name}Start")
    level = next(root.iter(f"{name}PVI"))
    north, east = (float(c) for c in str(start.text).split())
    unit = next(root.iter(f"{name}Imperial")).attrib["linearUnit"]
    return unit, [east, north, float(str(level.text).split()[1])]


def of_dxf(file: Path) -> tuple[str, list[float]]:
    doc = ezdxf.readfile(file)
    (line,) = doc.modelspace().query("LINE")
    return str(doc.header["$INSUNITS"]), list(line.dxf.start)


def of_ifc(file: Path) -> tuple[str, list[float]]:
    model: Any = ifcopenshell.open(file)
    assert ifcopenshell.util.unit.calculate_unit_scale(model) == pytest.approx(
        1200 / 3937, rel=1e-12
    )
    (unit,) = model.by_type("IfcConversionBasedUnit")
    (grid,) = model.by_type("IfcMapConversion")
    (disk,) = model.by_type("IfcCableCarrierSegment")
    axis = next(
        r for r in disk.Representation.Representations if r.RepresentationIdentifier == "Axis"
    )
    place = ifcopenshell.util.placement.get_local_placement(disk.ObjectPlacement)
    first = [*axis.Items[0].Points.CoordList[0], 1.0]
    at = (place @ first)[:3]
    origin = (grid.Eastings, grid.Northings, grid.OrthogonalHeight)
    return unit.Name, [a + o for a, o in zip(at, origin, strict=True)]


READERS = {
    "csv": ("x (us-ft)", of_csv),
    "xlsx": ("x (us-ft)", of_xlsx),
    "geojson": ("us-ft", of_geojson),
    "xml": ("USSurveyFoot", of_landxml),
    "dxf": ("21", of_dxf),  # DXF reference: US survey feet
    "ifc": ("US survey foot", of_ifc),
}


@pytest.mark.parametrize("kind", READERS)
def test_survey_feet_stay_survey_feet(call: Call, survey: Path, tmp_path: Path, kind: str) -> None:
    file = tmp_path / f"o.{kind}"
    said, read = READERS[kind]
    assert call(survey, file)[0] == 0
    unit, first = read(file)
    assert unit == said
    assert first == pytest.approx([X, Y, Z], abs=1e-6, rel=0)
    assert call(file, tmp_path / "back.csv")[0] == 0  # and from each format
    assert of_csv(tmp_path / "back.csv")[0] == "x (us-ft)"
    assert of_csv(tmp_path / "back.csv")[1] == pytest.approx([X, Y, Z], abs=1e-6, rel=0)


def test_out_units_choose_feet_meters_or_survey_feet(
    call: Call, survey: Path, tmp_path: Path
) -> None:
    out = tmp_path / "o.csv"
    for asked, unit, meters in (
        ("us", "ft", 0.3048),
        ("SI", "m", 1.0),
        ("US-FT", "us-ft", 1200 / 3937),
    ):
        call(survey, out, "--out-units", asked)
        assert of_csv(out)[0] == f"x ({unit})"
        assert of_csv(out)[1] == pytest.approx(
            [c * 1200 / 3937 / meters for c in (X, Y, Z)], rel=1e-13
        )
    assert X * (1200 / 3937) / 0.3048 - X == pytest.approx(12.02, abs=0.01)
    model = tmp_path / "m.toml"
    assert "in US (ft) or SI" in call(survey, model, "--out-units", "us-ft")[2]
    call(survey, model)
    call(model, out, "--out-units", "us-ft")
    assert of_csv(out)[1] == pytest.approx([X, Y, Z], abs=1e-6, rel=0)
    code, _, err = call(survey, out, "--out-units", "yd")
    assert code == 2
    assert "'yd' is not known" in err


def test_geojson_keeps_the_unit_of_the_grid_it_names(call: Call, tmp_path: Path) -> None:
    file, out = tmp_path / "a.geojson", tmp_path / "o.geojson"
    crs = {"type": "name", "properties": {"name": "EPSG:2285"}}
    line = {"type": "LineString", "coordinates": [[1270000, 230000, 5], [1270100, 230000, 5]]}
    file.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": [
        {"type": "Feature", "properties": {}, "geometry": line}]}))  # fmt: skip
    _, told, _ = call(file, out, "--units", "us-ft")
    assert "GeoJSON in us-ft on EPSG:2285" in told
    unit, first = of_geojson(out)
    assert unit == "us-ft"
    assert first == pytest.approx([1270000, 230000, 5], abs=1e-8, rel=0)
    code, _, err = call(file, out, "--units", "us-ft", "--out-units", "US")
    assert code == 2
    assert "US requested, but EPSG:2285 is in us-ft in IN" in err


def degrees(file: Path, *places: list[float]) -> Path:
    line = {"type": "LineString", "coordinates": places}
    file.write_text(
        json.dumps({"type": "Feature", "properties": {"id": file.stem}, "geometry": line})
    )
    return file


def test_files_in_degrees_land_together_and_come_back(call: Call, tmp_path: Path) -> None:
    """The second starts 6.65e-6 degrees east: 0.5 m at 47.6 north.

    6,378,137 cos φ / sqrt(1 - e² sin² φ) * 6.65e-6 π/180 = 0.5001 m.
    """
    start, end = [-122.33999335, 47.6, 5.0], [-122.339, 47.6012345, 7.5]
    first = degrees(tmp_path / "one.geojson", [-122.34, 47.6, 5], [-122.339, 47.6, 5])
    second = degrees(tmp_path / "two.geojson", start, end)
    one, two, out = tmp_path / "one.toml", tmp_path / "two.toml", tmp_path / "o.geojson"
    call(first, one)
    assert load(one).site.frame.crs == "WGS 84 tangent plane at -122.34, 47.6"
    _, told, _ = call(second, two, "--like", one)
    assert "guessed" in told
    phi = math.radians(47.6)
    step = 6378137 * math.cos(phi) / math.sqrt(1 - 0.00669437999014 * math.sin(phi) ** 2)
    (run,) = load(two).runs
    east = step * math.radians(6.65e-6)
    assert run.route.vertices[0].point == pytest.approx([east, 0, 5], abs=1e-5)
    _, told, _ = call(two, out)
    assert "GeoJSON in degrees" in told
    data = json.loads(out.read_text())
    assert data.keys() == {"type", "features"}  # RFC 7946: no crs, no units
    back = data["features"][0]["geometry"]["coordinates"]
    assert back[0] == pytest.approx(start, abs=1e-9)
    assert back[1] == pytest.approx(end, abs=1e-9)
    _, told, _ = call(second, "--into", two, "--preview")
    assert "0 moved" in told
    _, told, _ = call(two, tmp_path / "o.dxf")
    assert "tangent plane at -122.34, 47.6, which DXF does not name" in told
    _, _, err = call(second, two, "--like", one, "--origin", "-122,47,0")
    assert "omit --origin" in err
    far = degrees(tmp_path / "far.geojson", [-120.0, 47.6, 5], [-120.001, 47.6, 5])
    assert "km from the anchor" in call(far, tmp_path / "f.toml", "--like", one)[2]
    two.write_text(two.read_text().replace("at -122.34, 47.6", "at 47.6, -122.34"))
    assert "has no longitude and latitude" in call(two, out)[2]


def test_the_next_file_of_a_site_is_told_its_command(
    call: Call, survey: Path, tmp_path: Path
) -> None:
    one, two, out = tmp_path / "one.toml", tmp_path / "two.toml", tmp_path / "o.csv"
    _, told, _ = call(survey, one)
    assert f"for the other files of this site: route3d convert FILE OUT.toml --like {one}" in told
    call(survey, two, "--like", one)
    assert load(two).site.frame.origin == load(one).site.frame.origin
    call(two, out)
    assert of_csv(out)[1] == pytest.approx([c * 1200 / 3937 / 0.3048 for c in (X, Y, Z)], abs=1e-6)
