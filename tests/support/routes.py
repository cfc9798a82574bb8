"""Routes built from what a person would read off a sketch: straights, bends, and how they lie."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.geometry import Path, fillet

Vector = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])


class Go(NamedTuple):
    """A straight of ``length``."""

    length: float


class Turn(NamedTuple):
    """A bend of ``degrees`` at ``radius``; ``side`` is the way to its center.

    ``side`` is "left", "right" (in plan), "up", "down" (in the vertical plane of the tangent), or
    any vector that is not along the tangent.
    """

    degrees: float
    radius: float
    side: str | ArrayLike = "left"


def vertices(
    pieces: list[Go | Turn], heading: ArrayLike = (1.0, 0.0, 0.0)
) -> tuple[Vector, Vector]:
    """Points and bend radii of the polyline that has the pieces as its straights and fillets."""
    t = np.asarray(heading, dtype=float)
    t = t / np.linalg.norm(t)
    points, radii = [np.zeros(3)], [0.0]
    run = 0.0
    for piece in pieces:
        if isinstance(piece, Go):
            run += piece.length
            continue
        angle = np.radians(piece.degrees)
        setback = piece.radius * np.tan(angle / 2)
        points.append(points[-1] + (run + setback) * t)
        radii.append(piece.radius)
        t = np.cos(angle) * t + np.sin(angle) * centerward(t, piece.side)
        t = t / np.linalg.norm(t)
        run = setback
    points.append(points[-1] + run * t)
    radii.append(0.0)
    return np.array(points), np.array(radii)


def route(*pieces: Go | Turn, heading: ArrayLike = (1.0, 0.0, 0.0)) -> Path:
    """The Path of ``pieces``, in pulling order, that sets off along ``heading``."""
    return fillet(*vertices(list(pieces), heading))


def centerward(t: Vector, side: str | ArrayLike) -> Vector:
    """Unit normal on the given side of the tangent ``t``."""
    left = np.cross(UP, t)
    if isinstance(side, str):
        side = {"left": left, "right": -left, "up": UP, "down": -UP}[side]
    n = np.asarray(side, dtype=float)
    n = n - (n @ t) * t
    return n / np.linalg.norm(n)


def slope(degrees: float) -> Vector:
    """A heading that climbs at ``degrees`` above the horizontal."""
    return np.array([np.cos(np.radians(degrees)), 0.0, np.sin(np.radians(degrees))])


class Case(NamedTuple):
    """A random route and what is pulled through it."""

    path: Path
    weight: float
    friction: float
    start: float
    reverse: bool


def random_case(rng: np.random.Generator) -> Case:
    """A route of two to six bends of any kind the trade or an accident could produce.

    Radii 0.1 to 300 m, turns 0.02 to 170 degrees, straights 0 to 300 m, every slope; arcs that
    are vertical up to 1e-14 .. 1e-2; start tension zero, small or large; effective friction 0 to 1.
    """
    pieces: list[Go | Turn] = []
    for _ in range(rng.integers(2, 7)):
        pieces += [Go(_straight(rng)), _turn(rng)]
    pieces.append(Go(_straight(rng)))
    weight = 10.0 ** rng.uniform(0.0, 2.5)
    start = rng.choice(
        [0.0, weight * 10.0 ** rng.uniform(-2, 1), weight * 10.0 ** rng.uniform(1, 4)]
    )
    friction = rng.choice([0.0, rng.uniform(0.02, 1.0)], p=[0.05, 0.95])
    path = route(*pieces, heading=_heading(rng))
    return Case(path, weight, float(friction), float(start), bool(rng.integers(2)))


def _straight(rng: np.random.Generator) -> float:
    return 0.0 if rng.random() < 0.2 else 10.0 ** rng.uniform(-1, 2.5)


def _heading(rng: np.random.Generator) -> Vector:
    heading = rng.normal(size=3)
    heading[2] *= rng.choice([0.0, 0.3, 1.0])
    return heading


def _turn(rng: np.random.Generator) -> Turn:
    usual = (11.25, 22.5, 30.0, 45.0, 60.0, 90.0)
    degrees = rng.choice([*usual, 0.02, 170.0, rng.uniform(0.02, 170.0)])
    radius = rng.choice([0.6, 1.2, 10.0, 10.0 ** rng.uniform(-1, np.log10(300.0))])
    side: str | Vector = rng.choice(["left", "right", "up", "down", "any", "near"])
    if side == "any":
        side = rng.normal(size=3)
    elif side == "near":  # nearly vertical: the cable may change walls in a very short length
        side = rng.choice([-1, 1]) * UP + 10.0 ** rng.uniform(-14, -2) * rng.normal(size=3)
    return Turn(float(degrees), float(radius), side)
