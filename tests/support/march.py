"""Tension along a path by the independent solver of ``oracle``, one segment after another."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from route3d.geometry.path import CORNER, Path
from tests.support import oracle
from tests.support.jobs import part


def march(
    path: Path, weight: float, friction: Sequence[float], start: float, reverse: bool = False
) -> list[float]:
    """Tension at every joint in pulling order; ``friction`` (times ω) of every segment."""
    order = range(len(path))
    result = [start]
    for i in reversed(order) if reverse else order:
        result.append(_through(part(path, i, i + 1), weight, friction[i], result[-1], reverse))
    return result


def _through(one: Path, weight: float, friction: float, start: float, reverse: bool) -> float:
    if one.kind[0] == CORNER:  # a turn without length: nothing but the capstan factor acts
        return start * math.exp(friction * float(one.angles[0]))
    return oracle.tensions(one, weight, friction, start, reverse)[-1]


def ahead(path: Path, station: float, reverse: bool = False) -> Path:
    """What lies between a station and the pulling end."""
    cut = path.split([station])
    joint = int(np.argmin(np.abs(cut.stations - station)))
    return part(cut, 0, joint) if reverse else part(cut, joint, len(cut))


def behind(path: Path, station: float, reverse: bool = False) -> Path:
    """What lies between the feed and a station."""
    return ahead(path, station, not reverse)
