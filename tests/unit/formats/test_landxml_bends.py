"""Plan and profile of an alignment together: no curve is lost, whatever the grade does in it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from route3d.errors import InputError
from route3d.formats.catalog import read_routes
from route3d.formats.exchange import ExchangeRoute, ImportedRoutes, ReadOptions
from route3d.geometry.biarcs import ParametricCurve, bends_along
from route3d.geometry.clearance import tubes_of
from route3d.geometry.vectors import Floats

LEAD, TAIL = 30.0, 35.0  # m of straight before and after the curve


def alignment(folder: Path, radius: float, profile: str) -> Path:
    """East 30 m, a quarter turn to the left, north 35 m; with the elements of a profile."""
    file = folder / "bank.xml"
    file.write_text(f"""<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">
<Units><Metric linearUnit="meter"/></Units><Alignments><Alignment name="bank" staStart="0">
<CoordGeom><Line><Start>0 0</Start><End>0 {LEAD}</End></Line>
<Curve rot="ccw" radius="{radius}"><Start>0 {LEAD}</Start><Center>{radius} {LEAD}</Center>
<End>{radius} {LEAD + radius}</End></Curve>
<Line><Start>{radius} {LEAD + radius}</Start><End>{radius + TAIL} {LEAD + radius}</End></Line>
</CoordGeom><Profile><ProfAlign name="invert">{profile}</ProfAlign></Profile>
</Alignment></Alignments></LandXML>""")
    return file


def as_designed(radius: float, first: float, second: float, at: float) -> Floats:
    """Points every few mm of that plan, with the grades ``first`` and ``second`` meeting at a
    station: elementary geometry.
    """
    arc = radius * math.pi / 2
    s = np.linspace(0.0, LEAD + arc + TAIL, 20_001)
    turn = np.clip((s - LEAD) / radius, 0.0, math.pi / 2)
    east = np.where(s < LEAD, s, LEAD + radius * np.sin(turn))
    north = radius * (1 - np.cos(turn)) + np.maximum(s - LEAD - arc, 0.0)
    level = first * np.minimum(s, at) + second * np.maximum(s - at, 0.0)
    return np.column_stack((east, north, level))


def broken(
    folder: Path, radius: float, first: float, second: float, share: float, **options: float
) -> tuple[ImportedRoutes, float]:
    """The reading of an alignment whose grade breaks at a share of its curve; and that station."""
    at, end = LEAD + share * radius * math.pi / 2, LEAD + radius * math.pi / 2 + TAIL
    last = first * at + second * (end - at)
    profile = f"<PVI>0 0</PVI><PVI>{at!r} {first * at!r}</PVI><PVI>{end!r} {last!r}</PVI>"
    file = alignment(folder, radius, profile)
    return read_routes(file, ReadOptions(**options)), at  # type: ignore[arg-type]


def off(points: Floats, route: ExchangeRoute) -> float:
    path = route.path()
    away, _ = tubes_of(path, np.zeros(len(route.points))).nearest(points)
    return float(away.max())


GRADES = [(0.0, 0.005), (0.0, -0.02), (-0.02, 0.03), (0.01, 0.1)]


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.97, 1.0])
@pytest.mark.parametrize("grades", GRADES)
@pytest.mark.parametrize("radius", [1.0, 5.0, 60.0])
def test_a_grade_break_within_a_curve_keeps_the_curve(
    tmp_path: Path, radius: float, grades: tuple[float, float], share: float
) -> None:
    reading, at = broken(tmp_path, radius, *grades, share)
    (route,) = reading.routes
    assert off(as_designed(radius, *grades, at), route) <= 5e-3  # the tolerance of convert
    path = route.path()
    bends = path.radii[path.kind == 1]
    assert len(bends) and not (path.kind == 2).any()  # no sharp corner is left
    assert path.angles.sum() == pytest.approx(math.pi / 2, abs=0.15)  # and a few degrees of grade
    # but for the rounding of the break, 8 x 2.5 mm over the change long, it has the plan's radius
    change = abs(grades[1] - grades[0])
    tight = math.hypot(1 / radius, change**2 / 0.02) * radius > 1.05
    spared = 0.02 / change / radius if tight else 0.0
    alike = np.abs(bends / radius - 1) < 0.06
    assert path.angles[path.kind == 1][alike].sum() > math.radians(86) - spared
    said = next(s for s in reading.guessed if "grade break" in s)
    assert f"at station {at:.3f} m" in said
    assert not any("without a radius" in s for s in reading.guessed)


def test_the_tolerance_asked_for_is_kept(tmp_path: Path) -> None:
    wanted = 2e-4
    reading, at = broken(tmp_path, 5.0, 0.0, 0.05, 0.4, arc_tolerance=wanted)
    assert off(as_designed(5.0, 0.0, 0.05, at), reading.routes[0]) <= wanted


def test_a_level_curve_is_one_bend_to_the_last_digit(tmp_path: Path) -> None:
    (route,) = read_routes(
        alignment(tmp_path, 5.0, "<PVI>0 -1.5</PVI><PVI>72.85 -1.5</PVI>"), ReadOptions()
    ).routes
    assert route.radii == pytest.approx([0, 5, 0], abs=1e-9)


def test_a_curve_on_an_even_grade_is_near_its_helix(tmp_path: Path) -> None:
    """A helix of radius R and slope g has the curvature 1/(R (1 + g²)): elementary geometry."""
    reading, at = broken(tmp_path, 5.0, -0.03, -0.03, 0.5)
    (route,) = reading.routes
    assert off(as_designed(5.0, -0.03, -0.03, at), route) <= 5e-3
    assert route.radii[route.radii > 0] == pytest.approx(5 * (1 + 0.03**2), rel=2e-3)
    assert not any("grade break" in s for s in reading.guessed)


def test_a_grade_break_on_a_straight_stays_a_corner(tmp_path: Path) -> None:
    file = alignment(tmp_path, 5.0, "<PVI>0 0</PVI><PVI>20 0</PVI><PVI>72.85 -2</PVI>")
    reading = read_routes(file, ReadOptions())
    assert any("1 turn without a radius" in s for s in reading.guessed)


def test_a_vertical_curve_within_a_curve_is_followed(tmp_path: Path) -> None:
    middle = LEAD + 5 * math.pi / 4
    profile = f"<PVI>0 0</PVI><ParaCurve length='4'>{middle} 0</ParaCurve><PVI>72.85 -2</PVI>"
    (route,) = read_routes(alignment(tmp_path, 5.0, profile), ReadOptions()).routes
    assert route.radii[route.radii > 0] == pytest.approx(5.0, rel=0.01)


def test_a_break_without_room_to_round_it_is_rounded_less(tmp_path: Path) -> None:
    """Two breaks 10 cm apart: each takes 4 cm of the grade between them."""
    profile = "<PVI>0 0</PVI><PVI>33 0</PVI><PVI>33.1 0.001</PVI><PVI>72.85 2</PVI>"
    reading = read_routes(alignment(tmp_path, 5.0, profile), ReadOptions())
    assert sum("rounded over 0.08 m" in s for s in reading.guessed) == 2
    assert len(reading.routes[0].radii[reading.routes[0].radii > 0]) >= 3


# --- arcs along a curve --------------------------------------------------------------------------


def test_bends_along_a_helix_stay_within_the_tolerance_and_its_directions() -> None:
    radius, slope = 2.0, 0.4

    def points(s: Floats) -> Floats:
        return np.column_stack((radius * np.cos(s), radius * np.sin(s), radius * slope * s))

    def direction(s: float, _: float) -> Floats:
        raw = np.array([-math.sin(s), math.cos(s), slope])
        return raw / np.linalg.norm(raw)

    for tolerance in (1e-2, 1e-4):
        made = bends_along(ParametricCurve(points, direction), 0.0, 4.0, tolerance)
        ends = points(np.array([0.0, 4.0]))
        whole = np.vstack((ends[0], made.vertices, ends[1]))
        route = ExchangeRoute("h", whole, np.array([0.0, *made.radii, 0.0]))
        path = route.path()
        assert off(points(np.linspace(0, 4, 500)), route) <= tolerance
        assert path.tangent(0.0) == pytest.approx(direction(0.0, 1), abs=1e-9)
        assert path.tangent(path.length) == pytest.approx(direction(4.0, 1), abs=1e-9)


def test_a_half_turn_and_more_is_made_of_several_bends(tmp_path: Path) -> None:
    file = tmp_path / "loop.xml"
    file.write_text("""<LandXML><Units><Metric linearUnit="meter"/></Units><Alignments>
<Alignment name="loop"><CoordGeom><Line><Start>0 0</Start><End>0 9</End></Line>
<Curve rot="ccw"><Start>0 9</Start><Center>4 9</Center><End>8 9</End></Curve>
<Line><Start>8 9</Start><End>8 0</End></Line></CoordGeom></Alignment></Alignments></LandXML>""")
    (route,) = read_routes(file, ReadOptions()).routes
    path = route.path()
    assert path.length == pytest.approx(18 + 4 * math.pi, abs=1e-8)
    assert path.radii[path.kind == 1] == pytest.approx(4.0, abs=1e-8)


def test_more_elements_than_can_be_waited_for_are_refused(tmp_path: Path) -> None:
    many = "".join(f"<PVI>{i / 100} {i % 2 / 1e3}</PVI>" for i in range(4_000))
    file = alignment(tmp_path, 5.0, many)
    with pytest.raises(InputError, match=r"4,003 elements.*maximum is 3,000.*--keep-facets"):
        read_routes(file, ReadOptions())
    assert len(read_routes(file, ReadOptions(recognize=False)).routes[0].points) > 3_000


def test_no_numbers_end_in_anything_but_an_error_in_words(tmp_path: Path) -> None:
    file = alignment(tmp_path, 5.0, "<PVI>0 0</PVI><PVI>33 1e308</PVI><PVI>72.85 0</PVI>")
    with pytest.raises(InputError):
        read_routes(file, ReadOptions())
