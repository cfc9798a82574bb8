"""LandXML alignments with known geometry: a duct bank along the berths of a ferry terminal."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.special import fresnel

from route3d.errors import InputError
from route3d.formats.catalog import read_routes
from route3d.formats.exchange import ReadOptions
from route3d.formats.landxml.plan import clothoid
from route3d.formats.landxml.profile import AlignmentProfile
from route3d.formats.landxml.reading import read_landxml
from route3d.geometry.vectors import norm
from tests.support.readings import Read, reading_of

QUARTER = 2.5 * math.pi  # the arc of a quarter turn at 5 m
# East 30 m, left by a quarter turn at 5 m, north 35 m; LandXML writes north before east.
PLAN = """<Line><Start>0 0</Start><End>0 30</End></Line>
<Curve rot="ccw" radius="5"><Start>0 30</Start><Center>5 30</Center><End>5 35</End></Curve>
<Line><Start>5 35</Start><End>40 35</End></Line>"""


def document(plan: str = PLAN, profile: str = "", units: str = "meter", more: str = "") -> str:
    levels = f"<Profile><ProfAlign name='invert'>{profile}</ProfAlign></Profile>" if profile else ""
    return f"""<?xml version="1.0"?>
<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">
<Units><Metric linearUnit="{units}"/></Units>{more}
<Alignments><Alignment name="bank B3" staStart="100"><CoordGeom>{plan}</CoordGeom>{levels}
</Alignment></Alignments></LandXML>"""


@pytest.fixture
def read(tmp_path: Path) -> Read:
    return reading_of(tmp_path / "bank.xml", read_routes)


# --- plan --------------------------------------------------------------------------------------


def test_lines_and_a_curve_are_the_bend_they_draw(read: Read) -> None:
    reading = read(document())
    route = reading.routes[0]
    assert route.name == "bank B3"
    assert route.points == pytest.approx(np.array([[0, 0, 0], [35, 0, 0], [35, 40, 0]]), abs=1e-8)
    assert route.radii == pytest.approx([0, 5, 0], abs=1e-8)
    assert route.path().length == pytest.approx(65 + QUARTER, abs=1e-8)
    assert reading.used[0] == "bank B3: 2 Line, 1 Curve"
    assert reading.guessed == ("bank B3: no profile and no elevations: z set to 0",)


def test_a_curve_to_the_right(read: Read) -> None:
    plan = PLAN.replace("ccw", "cw").replace(">5 ", ">-5 ").replace("40 35", "-40 35")
    assert read(document(plan)).routes[0].points[-1] == pytest.approx([35, -40, 0], abs=1e-8)


@pytest.mark.parametrize(
    ("unit", "meters"),
    [("foot", 0.3048), ("USSurveyFoot", 1200 / 3937), ("inch", 0.0254), ("centimeter", 1e-2)],
)
def test_units_of_the_file_count(read: Read, unit: str, meters: float) -> None:
    route = read(document(units=unit), arc_tolerance=5e-3 * meters).routes[0]
    assert route.points[-1] == pytest.approx([35 * meters, 40 * meters, 0], rel=1e-9)


def test_levels_of_the_points_are_used_without_a_profile(read: Read) -> None:
    plan = "<Line><Start>0 0 -1</Start><End>0 30 -2</End></Line>"
    assert read(document(plan)).routes[0].points[:, 2].tolist() == [-1, -2]


def test_irregular_lines_and_points_by_reference(read: Read) -> None:
    plan = "<Line><Start pntRef='V1'/><End>0 30</End></Line>"
    plan += "<IrregularLine><Start>0 30</Start><End>4 60</End>"
    plan += "<PntList2D>0 30 2 44 4 60</PntList2D></IrregularLine>"
    named = "<CgPoints><CgPoint name='V1'>0 0</CgPoint></CgPoints>"
    route = read(document(plan, more=named)).routes[0]
    assert route.points[:, :2].tolist() == [[0, 0], [30, 0], [44, 2], [60, 4]]


def test_a_clothoid_is_that_of_fresnel() -> None:
    """The integral of exp(iθ), θ = s²/(2 R L): Fresnel's integrals, by scipy."""
    length, radius = 20.0, 15.0
    scale = math.sqrt(math.pi * radius * length)
    points = clothoid(np.zeros(2), 0.0, 0.0, 1 / radius, length, 16)
    s, c = fresnel(np.linspace(0, length, 17) / scale)
    assert points == pytest.approx(scale * np.column_stack((c, s)), abs=1e-10)


def test_a_spiral_becomes_arcs_within_the_tolerance(read: Read) -> None:
    end = clothoid(np.zeros(2), 0.0, 0.0, 1 / 15, 20.0, 32)[-1]
    plan = f"""<Line><Start>0 -10</Start><End>0 0</End></Line>
    <Spiral length="20" radiusStart="INF" radiusEnd="15" rot="ccw" spiType="clothoid">
    <Start>0 0</Start><PI>0 13.5</PI><End>{end[1]} {end[0]}</End></Spiral>"""
    reading = read(document(plan))
    path = reading.routes[0].path()
    assert path.length == pytest.approx(30, abs=5e-3)
    assert path.point(path.length)[:2] == pytest.approx(end, abs=1e-6)
    assert "bends as 3D arcs" in reading.guessed[-1]
    true = clothoid(np.zeros(2), 0.0, 0.0, 1 / 15, 20.0, 500)
    away = [norm(path.point(np.linspace(9.9, 30, 4000))[:, :2] - p).min() for p in true[::25]]
    assert max(away) < 6e-3  # 5 mm asked for; the points compared are 5 mm apart


def test_other_spirals_that_miss_their_end_are_refused(read: Read) -> None:
    plan = """<Spiral length="20" radiusStart="INF" radiusEnd="15" rot="ccw" spiType="bloss">
    <Start>0 0</Start><PI>0 13.5</PI><End>4 18</End></Spiral>"""
    with pytest.raises(InputError, match=r"Spiral \(bloss\), read as a clothoid, misses its end"):
        read(document(plan))


# --- profile -----------------------------------------------------------------------------------


def test_a_straight_plan_with_a_circular_curve_is_a_vertical_bend(read: Read) -> None:
    plan = "<Line><Start>0 0</Start><End>0 60</End></Line>"
    profile = "<PVI>100 0</PVI><CircCurve radius='8'>130 0</CircCurve><PVI>160 10</PVI>"
    route = read(document(plan, profile)).routes[0]
    assert route.points == pytest.approx(np.array([[0, 0, 0], [30, 0, 0], [60, 0, 10]]), abs=1e-7)
    assert route.radii == pytest.approx([0, 8, 0], abs=1e-6)


def test_a_parabola_is_near_an_arc_and_the_distance_is_told(read: Read) -> None:
    """A parabola of length L and grades ±g/2 has the radius L/g at its vertex."""
    plan = "<Line><Start>0 0</Start><End>0 60</End></Line>"
    profile = "<PVI>100 1.5</PVI><ParaCurve length='10'>130 0</ParaCurve><PVI>160 1.5</PVI>"
    reading = read(document(plan, profile))
    assert reading.routes[0].radii[1] == pytest.approx(100, rel=2e-3)
    assert "bends as 3D arcs" in reading.guessed[-1]
    assert "1 vertical curve" in reading.used[0]


def test_the_unsymmetrical_parabola_meets_itself_and_its_grades() -> None:
    profile = AlignmentProfile(*(np.array(a, float) for a in (
        [0, 50, 100], [0, 2, -3], [0, 10, 0], [0, 20, 0], [0, 0, 0]
    )))  # fmt: skip
    near = np.array([39.9999, 40.0001, 49.9999, 50.0001, 69.9999, 70.0001])
    level = profile.level(near)
    assert np.diff(level)[[0, 2, 4]] == pytest.approx(
        np.array([0.04, (0.04 * 10 - 0.1 * 20) / 30, -0.1]) * 2e-4, abs=1e-8
    )  # at the point itself it runs along the chord of its ends: slope (g1 L1 + g2 L2)/(L1 + L2)
    ends = profile.level(np.array([40.0, 70.0]))
    assert ends == pytest.approx([1.6, 0.0], abs=1e-12)


def test_plan_and_profile_together_stay_near_both(read: Read) -> None:
    profile = "<PVI>100 -1.5</PVI><PVI>130 -1.5</PVI><PVI>137.853981634 -1.6</PVI>"
    reading = read(document(PLAN, profile + "<PVI>172.853981634 -3</PVI>"), recognize=False)
    points = reading.routes[0].points
    away = norm(points[:, :2] - [30, 5])
    on_curve = (points[:, 0] > 30) & (points[:, 1] < 5)
    assert away[on_curve] == pytest.approx(5, abs=1e-9)
    assert points[-1] == pytest.approx([35, 40, -3], abs=1e-6)


def test_what_lies_beyond_the_profile_is_left_out_and_told(read: Read) -> None:
    plan = "<Line><Start>0 0</Start><End>0 60</End></Line>"
    reading = read(document(plan, "<PVI>90 1</PVI><PVI>150 2</PVI>"))
    assert reading.routes[0].points[-1, 0] == pytest.approx(50)
    assert reading.guessed == ("bank B3: 10.000 m of the alignment beyond its profile omitted",)


# --- the file ----------------------------------------------------------------------------------


def test_what_is_beside_the_alignment_is_counted(read: Read) -> None:
    more = "<Surfaces/><Parcels/><Parcels/>"
    assert read(document(more=more)).ignored == ("2 elements Parcels", "1 element Surfaces")


def test_alignments_are_chosen_by_name(read: Read) -> None:
    text = document().replace(
        "</Alignments>",
        "<Alignment name='quay'><CoordGeom><Line><Start>0 0</Start><End>0 9</End></Line>"
        "</CoordGeom></Alignment></Alignments>",
    )
    reading = read(text, layers=("quay",))
    assert [r.name for r in reading.routes] == ["quay"]
    assert reading.ignored == ("alignment 'bank B3', not requested",)
    with pytest.raises(InputError, match="pipe network 'quai'; did you mean 'quay'"):
        read(text, layers=("quai",))


_LINE = "<Line><Start>0 0</Start><End>0 60</End></Line>"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is not XML"),
        (document()[:400], "is not XML"),
        ("<LandXML></Landxml>", "is not XML: mismatched tag"),
        ("<svg/>", "is XML, but <svg>"),
        ("<!DOCTYPE a [<!ENTITY b 'c'>]><LandXML/>", "declares entities"),
        ("<LandXML/>", "does not say its unit"),
        (document(units="cubit"), "does not say its unit"),
        (document(plan=""), "which has no geometry"),
        (document(PLAN.replace("35</Start>", "36</Start>")), "starts 1 m from the end"),
        (document(PLAN.replace("0 30</Start>", "nan 30</Start>")), "Curve/Start is 'nan'"),
        (document(PLAN.replace("<Center>5 30", "<Center>6 30")), "starts 6.0000 m and ends"),
        (document(PLAN.replace('rot="ccw"', 'rot="up"')), "turns 'up'"),
        (document("<Chain/>"), "which has a Chain"),
        (document(_LINE, "<PVI>100 1</PVI>"), "which has 1 points"),
        (document(_LINE, "<PVI>100 1</PVI><PVI>90 1</PVI>"), "do not increase"),
        (document(_LINE, "<PVI>100 1</PVI><PVI>160 inf</PVI>"), "PVI is 'inf'"),
        (
            document(_LINE, "<PVI>100 0</PVI><ParaCurve length='90'>130 0</ParaCurve>"
                     "<PVI>160 2</PVI>"),
            "vertical curves overlap",
        ),
        (document(_LINE, "<ParaCurve length='9'>100 0</ParaCurve><PVI>160 2</PVI>"), "at its end"),
        (document(_LINE, "<PVI>500 0</PVI><PVI>560 2</PVI>"), "profile has none of its stations"),
        (document("<Line><Start>0 0</Start><End>0 0</End></Line>"), "with zero length"),
    ],
)  # fmt: skip
def test_what_is_no_route_is_refused(read: Read, text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text)
    assert said in str(caught.value)


def test_facets_are_left_where_they_are_asked_for(tmp_path: Path) -> None:
    file = tmp_path / "a.xml"
    file.write_text(document())
    assert len(read_landxml(file, ReadOptions(recognize=False)).routes[0].points) > 20
    assert len(read_landxml(file, ReadOptions()).routes[0].points) == 3
