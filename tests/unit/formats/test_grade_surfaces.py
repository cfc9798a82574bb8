"""The grade of a job from every way to give it, by hand values."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from route3d.errors import InputError
from route3d.formats.grade_surfaces import read_grade
from route3d.model.job import Job
from route3d.model.site import Frame, GivenGrade, Placing, Site
from route3d.units import render

US_FOOT = 1200 / 3937  # the US survey foot, of 1893 (NIST Handbook 44, appendix C; from memory)
ORIGIN = (512_000.0, 6_110_000.0, 10.0)
# A square of 100 in two triangles and a third that is not seen: northing, easting, elevation.
TIN = """<Surface name="{name}"><Definition surfType="TIN"><Pnts>
<P id="1">{n0} {e0} 20</P><P id="2">{n0} {e1} 30</P><P id="3">{n1} {e0} 20</P>
<P id="9">{n1} {e1} 30</P><P id="10">{n0} {e2} 90</P></Pnts>
<Faces><F>1 2 3</F><F n="0 1 2">2 9 3</F><F i="1">2 10 9</F></Faces></Definition></Surface>"""


def tin(name: str, meters: float) -> str:
    east, north = (c / meters for c in ORIGIN[:2])
    return TIN.format(name=name, e0=east, e1=east + 100, e2=east + 200, n0=north, n1=north + 100)


def landxml(folder: Path, units: str, *surfaces: str) -> Path:
    path = folder / "grade.xml"
    path.write_text(
        '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2"><Units>'
        f"{units}</Units><Surfaces>{''.join(surfaces)}</Surfaces></LandXML>"
    )
    return path


def job(grade: GivenGrade, origin: tuple[float, float, float] | None = None) -> Job:
    return Job("job", site=Site(grade=replace(grade, given=True), frame=Frame(origin)))


def test_without_a_word_it_is_assumed_at_zero() -> None:
    grade = read_grade(Job("job"))
    assert grade.is_level and not grade.given and grade.level == 0.0
    assert render(grade.said, "SI") == "grade assumed at z = 0"
    level = read_grade(job(GivenGrade(1.5)))
    assert (level.level, render(level.said, "SI")) == (1.5, "grade at z = 1.50 m")


def test_points_make_a_slope() -> None:
    points = ((0.0, 0.0, 0.0), (10.0, 0.0, 1.0), (0.0, 10.0, 0.0), (10.0, 10.0, 1.0))
    grade = read_grade(job(GivenGrade(points=points)))
    assert grade.at(np.array([(3, 7), (11, 1)])) == pytest.approx([0.3, np.nan], nan_ok=True)
    assert render(grade.said, "SI") == "the grade surface through 4 points"
    with pytest.raises(InputError, match=r"site\.grade\.points: make no surface: two elevations"):
        read_grade(job(GivenGrade(points=(*points, (0.0, 0.0, 4.0)))))


@pytest.mark.parametrize(
    ("units", "meters"),
    [
        ('<Metric linearUnit="meter"/>', 1.0),
        ('<Imperial linearUnit="foot"/>', 0.3048),
        ('<Imperial linearUnit="USSurveyFoot"/>', US_FOOT),
    ],
)
def test_a_tin_lies_on_the_grid_in_its_own_units(units: str, meters: float, tmp_path: Path) -> None:
    """40 units east and 70 north of the origin the ground has risen by 4 of 10 units."""
    path = landxml(tmp_path, units, tin("existing", meters))
    place = np.array([(40, 70), (150, 50)]) * meters
    grade = read_grade(job(GivenGrade(file=path), ORIGIN))
    wanted = [24 * meters - ORIGIN[2], np.nan]  # where the third triangle is, nothing is seen
    assert grade.at(place) == pytest.approx(wanted, abs=1e-6, nan_ok=True)
    on_grid = read_grade(job(GivenGrade(file=path)))
    assert on_grid.at(place + ORIGIN[:2]) == pytest.approx([24 * meters, np.nan], nan_ok=True)


def test_one_of_several_surfaces_is_chosen_by_name(tmp_path: Path) -> None:
    unit = '<Metric linearUnit="meter"/>'
    path = landxml(tmp_path, unit, tin("existing", 1.0), tin("design", 1.0).replace(" 20<", " 50<"))
    given = GivenGrade(file=path, surface="design")
    grade = read_grade(job(given, ORIGIN))
    assert grade.at(np.array([(0, 50)])) == pytest.approx([40.0])
    assert grade.name == "grade.xml, design"
    for bad, said in (
        ("", "2 surfaces; give surface in site.grade: 'existing', 'design'"),
        ("desing", "did you mean 'design'"),
    ):
        with pytest.raises(InputError, match=said):
            read_grade(job(replace(given, surface=bad)))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<F>1 2 99</F>", "with a face"),
        ("<P id='7'>1 2</P>", "point 7"),
        ("<P id='1'>1 2 3</P>", "two points 1"),
    ],
)
def test_a_broken_tin_is_refused(text: str, said: str, tmp_path: Path) -> None:
    broken = tin("existing", 1.0)
    where = "</Faces>" if "<F>" in text else "</Pnts>"
    path = landxml(tmp_path, '<Metric linearUnit="m"/>', broken.replace(where, text + where))
    with pytest.raises(InputError, match=said):
        read_grade(job(GivenGrade(file=path, placing=Placing("m"))))


def test_a_mesh_is_placed_like_a_building(tmp_path: Path) -> None:
    path = tmp_path / "quay.stl"
    trimesh.creation.box((10_000, 10_000, 500)).export(path)  # its top at 250 mm
    placing = Placing("mm", (1.0, 2.0, 3.0))
    grade = read_grade(job(GivenGrade(file=path, placing=placing), ORIGIN))
    assert grade.at(np.array([(1, 2), (5.9, 2), (6.1, 2)])) == pytest.approx(
        [3.25, 3.25, np.nan], nan_ok=True
    )
    with pytest.raises(InputError, match="holds one mesh"):
        read_grade(job(GivenGrade(file=path, placing=placing, surface="x")))
