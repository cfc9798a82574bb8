"""Bends in words, against hand cases in all octants and a walker that knows the words alone."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from route3d.geometry import fillet
from route3d.geometry.bend_schedule import bend_schedule
from route3d.geometry.turns import Turn, compass, middle_ways, roll_sense, turns

Points = NDArray[np.float64]
POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def way(bearing: float, climb: float) -> Points:
    """Unit vector of a bearing clockwise from +y and a climb, degrees."""
    b, c = math.radians(bearing), math.radians(climb)
    level = 0.0 if abs(climb) == 90 else math.cos(c)
    return np.array([level * math.sin(b), level * math.cos(b), math.sin(c)])


def bent(ways: Sequence[Points], length: float = 10.0) -> Points:
    """The points of legs of one length in these ways."""
    return np.vstack([np.zeros(3), np.cumsum([length * w for w in ways], axis=0)])


def words_of(points: Points, north: float = 0.0, radius: float = 0.3) -> tuple[Turn, ...]:
    path = fillet(points, [0.0, *[radius] * (len(points) - 2), 0.0])
    return turns(path, bend_schedule(path), north)


@pytest.mark.parametrize("k", range(8))
def test_hand_cases_in_all_octants(k: int) -> None:
    here, right, left, back = (POINTS[(k + j) % 8] for j in (0, 2, 6, 4))
    b = 45.0 * k
    for after, said, heading in [
        (way(b + 90, 0), "right 90", f"{here} to {right}"),
        (way(b - 90, 0), "left 90", f"{here} to {left}"),
        (way(b, 90), "up 90", f"{here} to up"),
        (way(b, -90), "down 90", f"{here} to down"),
        (way(b + 90, 30), "right 90 and up 30", f"{here} to {right} rising 30°"),
        (way(b - 45, -22.5), "left 45 and down 22.5", f"{here} to {POINTS[k - 1]} falling 22.5°"),
        (way(b + 180, 60), "up 120 past plumb", f"{here} to {back} rising 60°"),
        (way(b + 180, -40), "down 140 past plumb", f"{here} to {back} falling 40°"),
    ]:
        (turn,) = words_of(bent([way(b, 0), after]))
        assert (turn.words, turn.heading) == (said, heading)
    for climb, leg in ((90, "up"), (-90, "down")):
        (turn,) = words_of(bent([way(0, climb), way(b, 0)]))
        assert (turn.words, turn.heading) == (f"turn to {here}", f"{leg} to {here}")
        (turn,) = words_of(bent([way(0, climb), way(b, -15)]))
        assert turn.words == f"turn to {here} falling 15°"


@pytest.mark.parametrize(
    ("degrees", "said"),
    [
        (0, "N"), (359.96, "N"), (30, "N30°E"), (30.5, "N30.5°E"), (89.9, "N89.9°E"), (91, "S89°E"),
        (150, "S30°E"), (210, "S30°W"), (269.5, "S89.5°W"), (300, "N60°W"), (315, "NW"),
    ],
)  # fmt: skip
def test_compass(degrees: float, said: str) -> None:
    assert compass(math.radians(degrees)) == said


def test_a_slope_for_drainage_is_in_the_turn_and_not_in_the_heading() -> None:
    fall = math.degrees(math.atan(0.01))
    first, second = words_of(bent([way(0, 0), way(90, -fall), way(180, -fall)]))
    assert (first.words, first.heading) == ("right 90 and down 0.6", "N to E")
    assert (second.words, second.heading) == ("right 90", "E to S")


def test_a_riser_that_leans_a_little_is_plumb() -> None:
    plumb, leaning = (words_of(bent([way(0, 0), way(37, c)]))[0].heading for c in (89.6, 89.4))
    assert (plumb, leaning) == ("N to up", "N to N37°E rising 89.4°")


@pytest.mark.parametrize(
    ("degrees", "said"),
    [
        (0, "same side"), (180, "opposite side"), (-180, "opposite side"), (math.nan, ""),
        (33, "clockwise"), (-33, "counterclockwise"),
    ],
)  # fmt: skip
def test_sense_of_roll(degrees: float, said: str) -> None:
    assert roll_sense(math.radians(degrees)) == said


# --- the walker ----------------------------------------------------------------------------------


def bearing_of(text: str) -> float:
    """Degrees of NE or N30.5°E, by a table and by quadrant."""
    if text in POINTS:
        return 45.0 * POINTS.index(text)
    match = re.fullmatch(r"([NS])([\d.]+)°([EW])", text)
    assert match, text
    angle = float(match[2])
    angle = angle if match[1] == "N" else 180 - angle
    return angle if match[3] == "E" else 360 - angle


def going(text: str) -> tuple[float, float]:
    """Bearing and climb of such as ``up``, ``SW``, ``N30°E rising 15°``."""
    if text in ("up", "down"):
        return 0.0, 90.0 if text == "up" else -90.0
    name, _, slope = text.partition(" ")
    word, _, angle = slope.partition(" ")
    climb = float(angle.rstrip("°")) if angle else 0.0
    return bearing_of(name), -climb if word == "falling" else climb


def walked(start: str, said: Sequence[str]) -> list[Points]:
    """The ways of the legs, by the heading at the start and the words of each bend alone."""
    bearing, climb = going(start)
    ways = [way(bearing, climb)]
    for words in said:
        if words.startswith("turn to "):
            bearing, climb = going(words.removeprefix("turn to "))
        else:
            for part in words.removesuffix(" past plumb").split(" and "):
                side, angle = part.split()
                sign = {"right": 1, "left": -1, "up": 1, "down": -1}[side]
                if side in ("right", "left"):
                    bearing += sign * float(angle)
                else:
                    climb += sign * float(angle)
            if abs(climb) > 90:  # over the head
                climb, bearing = math.copysign(180, climb) - climb, bearing + 180
        ways.append(way(bearing, climb))
    return ways


def random_points(rng: np.random.Generator) -> Points:
    """Legs in half degrees, a third of them level or plumb, some straight back over the head."""
    ways = [way(90.0 * rng.integers(4), float(rng.choice([0.0, 45.0])))]
    bearing = 0.0
    while len(ways) < 8:
        back = rng.random() < 0.2
        bearing = bearing + 180 if back else 0.5 * float(rng.integers(720))
        climb = float(rng.choice([0.0, 0.0, 90.0, -90.0, 0.5 * rng.integers(-178, 179)]))
        new = way(bearing, climb)
        if 5 < math.degrees(math.acos(np.clip(new @ ways[-1], -1, 1))) < 150:
            ways.append(new)
    return bent(ways)


@pytest.mark.parametrize("seed", range(40))
def test_the_words_rebuild_the_route_both_ways_and_in_a_mirror(seed: int) -> None:
    points = random_points(np.random.default_rng(seed))
    for route in (points, points[::-1] - points[-1], points * [-1, 1, 1]):
        found = words_of(route)
        start = found[0].heading.split(" to ")[0]
        again = bent(walked(start, [t.words for t in found]))
        assert again == pytest.approx(route, abs=1e-9)


def test_a_run_walked_back_and_a_mirrored_one() -> None:
    points = bent([way(0, 0), way(90, 0), way(90, 90), way(0, 0)])
    assert [t.words for t in words_of(points)] == ["right 90", "up 90", "turn to N"]
    back = words_of(points[::-1])
    assert [t.words for t in back] == ["down 90", "turn to W", "left 90"]
    assert [t.heading for t in back] == ["S to down", "down to W", "W to S"]
    mirrored = words_of(points * [-1, 1, 1])
    assert [t.words for t in mirrored] == ["left 90", "up 90", "turn to N"]


def test_headings_are_from_north_wherever_it_is() -> None:
    """The plan and its north turned by 25° clockwise: nobody on the site sees a difference."""
    points, turned = random_points(np.random.default_rng(7)), math.radians(25)
    c, s = math.cos(turned), math.sin(turned)
    around = points @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    same = [(t.words, t.heading) for t in words_of(points)]
    assert [(t.words, t.heading) for t in words_of(around, turned)] == same
    assert [t.heading for t in words_of(around)] != [heading for _, heading in same]


def test_the_inside_of_a_bend_is_where_its_legs_go() -> None:
    """Half way between the leg out and the leg back, by their sum."""
    points = random_points(np.random.default_rng(3))
    path = fillet(points, [0.0, *[0.3] * (len(points) - 2), 0.0])
    ways = np.diff(points, axis=0) / 10
    inside = ways[1:] - ways[:-1]
    inside /= np.linalg.norm(inside, axis=1)[:, None]
    assert middle_ways(path, bend_schedule(path)) == pytest.approx(inside, abs=1e-9)
