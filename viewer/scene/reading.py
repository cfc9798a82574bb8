"""The figures at one station of a route, in words for a card."""

from __future__ import annotations

import numpy as np

from route3d.checks.finding import BEYOND
from route3d.geometry.vectors import Floats, frozen
from route3d.units import show
from viewer.scene.records import Label, Scene
from viewer.scene.scale import share_words

PICKED = -1.0
"""The rank of the card: it is placed before all labels."""


def reading(scene: Scene, station: float) -> Label:
    """Station, tension and sidewall pressure at ``station`` m, each with its limit."""
    place, tension, sidewall = _at(scene, station)
    units, (most, most_sidewall) = scene.units, scene.limits
    lines = (
        f"Station {show(station, 'length', units)}",
        _against("tension", tension, most, "force", units),
        _against("sidewall", sidewall, most_sidewall, "sidewall", units),
    )
    over = tension > most * (1 + 1e-9) or sidewall > most_sidewall * (1 + 1e-9)
    return Label(lines, place, "picked", PICKED, over)


def _against(name: str, value: float, limit: float, quantity: str, units: str) -> str:
    share = f"{share_words(value / limit, units)} limit {show(limit, quantity, units)}"
    if value > BEYOND * limit:
        return f"{name} {share}"
    return f"{name} {show(value, quantity, units)}, {share}"


def _at(scene: Scene, station: float) -> tuple[Floats, float, float]:
    """Place, tension and sidewall pressure; on a joint the larger of its two sides."""
    found = []
    for tube in scene.tubes:
        if not tube.station[0] - 1e-9 <= station <= tube.station[-1] + 1e-9:
            continue
        place = [np.interp(station, tube.station, tube.points[:, k]) for k in range(3)]
        after = int(np.searchsorted(tube.station, station, side="right"))
        rows = slice(max(after - 2, 0), after + 1)
        near = np.abs(tube.station[rows] - station) < 1e-9
        values = []
        for series in (tube.tension, tube.sidewall):
            between = float(np.interp(station, tube.station, series))
            values.append(max([between, *series[rows][near].tolist()]))
        found.append((frozen(place), values[0], values[1]))
    return max(found, key=lambda f: (f[2], f[1]))
