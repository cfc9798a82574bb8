"""Routes in every plane, for formats that must carry them: drawn by a fixed seed."""

from __future__ import annotations

import numpy as np

from route3d.formats.exchange import ExchangeRoute
from tests.support.routes import Go, Turn, vertices

EAST, NORTH = 512_345.0, 4_567_890.0  # survey coordinates, m


def wild_route(seed: int, *, name: str = "wild", survey: bool = False) -> ExchangeRoute:
    """Straights and bends of 5° to 150° in random planes, radii of 0.4 m to 30 m."""
    draw = np.random.default_rng(seed)
    pieces: list[Go | Turn] = [Go(3.0)]
    for _ in range(int(draw.integers(2, 9))):
        side = draw.normal(size=3)
        pieces.append(Turn(float(draw.uniform(5, 150)), float(draw.uniform(0.4, 30)), side))
        if draw.random() < 0.7:  # else the next bend begins where this one ends
            pieces.append(Go(float(draw.uniform(0.05, 40))))
    pieces.append(Go(2.0))
    points, radii = vertices(pieces, draw.normal(size=3))
    if survey:
        points = points + (EAST, NORTH, 31.7)
    names = ["vault V1", *(f"bend {i}" if i % 2 else "" for i in range(len(points) - 2)), "end"]
    access = (frozenset({"reel"}), *[frozenset[str]()] * (len(points) - 2), frozenset({"machine"}))
    return ExchangeRoute(name, points, radii, tuple(names), "duct", 0.1413, access)
