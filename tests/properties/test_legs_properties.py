"""Any route written as legs reads back to the same points, and is written the same again."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from route3d.geometry.legs import legs_of, read_legs
from route3d.model import Conduit, Route, Sheave
from route3d.model.route import Vertex

drawn = settings(derandomize=True, max_examples=150, deadline=None, database=None)
numbers = st.floats
NAMES = ("", "V1", "pad 2", 'a "b" \\ c', "for reel", "Süd, 1", "5'-3\"", "'x'", "end")
CONDUITS = tuple(Conduit(name, 0.1, 0.12, 0.3) for name in ("duct", "PVC 4 in", "in"))
SHEAVES = (None, Sheave("corner", 0.6, None, 0.95), Sheave("at 5 ft", 0.6, None, 0.95))


@st.composite
def directions(draw: st.DrawFn) -> tuple[float, float, float]:
    """Along an axis, at a usual angle, nearly vertical, or any way at all."""
    kind = draw(st.sampled_from(["usual", "usual", "steep", "any"]))
    if kind == "any":
        return draw(st.tuples(numbers(-1, 1), numbers(-1, 1), numbers(-1, 1)))
    if kind == "steep":
        size = 10 ** draw(numbers(-12, -1))
        x, y = draw(numbers(-1, 1)), draw(numbers(-1, 1))
        return x * size, y * size, draw(st.sampled_from([1.0, -1.0]))
    around = math.radians(draw(st.sampled_from([0, 90, 180, 270, 45, 30, 22.5, 10.1])))
    climb = math.radians(draw(st.sampled_from([0, 0, 0, 90, -90, 45, -30, 10, -0.5])))
    level = math.cos(climb)
    return math.sin(around) * level, math.cos(around) * level, math.sin(climb)


@st.composite
def routes(draw: st.DrawFn) -> Route:
    count = draw(st.integers(2, 7))
    far = draw(st.sampled_from([0.0, 100.0, 9e4]))
    places = [np.round(np.array([draw(numbers(-far, far)) for _ in range(3)]), 3)]
    for _ in range(count - 1):
        way = np.array(draw(directions()))
        assume(np.linalg.norm(way) > 0.01)
        length = draw(st.one_of(st.integers(1, 400).map(float), numbers(1e-3, 3000.0)))
        step = way / np.linalg.norm(way) * length
        point = places[-1] + step
        if (digits := draw(st.sampled_from([None, 2, 6, 9]))) is not None:
            point = np.round(point, digits)
        assume(np.linalg.norm(point - places[-1]) > 1e-5)
        places.append(point)
    legs = [b - a for a, b in pairwise(places)]
    legs = [leg / np.linalg.norm(leg) for leg in legs]
    assume(all(np.linalg.norm(a + b) > 0.01 for a, b in pairwise(legs)))
    vertices = []
    for i, place in enumerate(places):
        inside = 0 < i < count - 1
        bend = draw(st.sampled_from([0.0, 0.9144, 1.2, 7.65432109876])) if inside else 0.0
        access = draw(st.frozensets(st.sampled_from(["reel", "machine"])))
        box = draw(st.sampled_from([None, (1.2, 0.6, 2.1336), (1 / 3, 1 / 7, 1.0)]))
        sheave = draw(st.sampled_from(SHEAVES)) if inside else None
        name = draw(st.sampled_from(NAMES))
        x, y, z = place.tolist()
        vertices.append(Vertex((x, y, z), name, bend, "given", access, box, None, sheave))
    conduits = tuple(draw(st.sampled_from(CONDUITS)) for _ in range(count - 1))
    return Route(tuple(vertices), conduits)


@drawn
@given(routes(), st.sampled_from(["US", "SI"]), st.sampled_from([0.0, 0.0, -10.5, 123.456]))
def test_points_to_legs_to_points(route: Route, system: str, declination: float) -> None:
    legs = legs_of(route, system, declination=declination)
    read = read_legs(legs, system, declination=declination)
    assert len(read.points) == len(route.vertices), legs
    off = read.points - np.array([v.point for v in route.vertices])
    assert np.linalg.norm(off, axis=1).max() < 1e-9, legs
    held = "duct"
    vertices = []
    for i, was in enumerate(route.vertices):
        assert read.names[i] == was.name and read.access[i] == was.access, legs
        assert abs((read.radii[i] or 0.0) - was.bend) < 1e-9, legs
        assert read.sheaves[i] == (was.sheave.name if was.sheave else ""), legs
        assert np.allclose(read.boxes[i] or 0.0, was.box or 0.0, rtol=0, atol=1e-9), legs
        held = read.conduits[i] or held
        assert i == len(route.vertices) - 1 or held == route.conduits[i].name, legs
        x, y, z = read.points[i].tolist()
        now = replace(was, point=(x, y, z), bend=read.radii[i] or 0.0, box=read.boxes[i])
        vertices.append(now)
    again = legs_of(Route(tuple(vertices), route.conduits), system, declination=declination)
    assert again == legs


@settings(drawn, max_examples=40)
@given(routes(), st.sampled_from(["US", "SI"]))
def test_the_echo_adds_up(route: Route, system: str) -> None:
    """Heading, slope and length of every row lead from its start to its end."""
    for row in read_legs(legs_of(route, system), system).echo:
        bearing, pitch = math.radians(row.bearing or 0.0), math.radians(row.pitch)
        level = row.length * math.cos(pitch) if row.bearing is not None else 0.0
        ways = level * math.sin(bearing), level * math.cos(bearing), row.length * math.sin(pitch)
        ends = [a + way for a, way in zip(row.start, ways, strict=True)]
        assert np.allclose(ends, row.end, rtol=0, atol=2e-9)
