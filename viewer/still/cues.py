"""Scale bar and plan-north arrow, in one corner of the picture."""

from __future__ import annotations

import math

import numpy as np

from route3d.drawing.axes import round_down
from route3d.drawing.marks import Line, Mark, Rect, Shape, Text
from route3d.units import parse, show
from viewer.camera import Camera
from viewer.scene.records import Scene
from viewer.theme import Theme

_BAR = 180.0
_COMPASS = (
    *("east", "north-east", "north", "north-west"),
    *("west", "south-west", "south", "south-east"),
)


def cue_size(unit: float, *, brief: bool = False) -> tuple[float, float]:
    """Width and height in pixels of the corner with both cues; ``brief`` for a thumbnail."""
    return (224 if brief else 330) * unit, 96 * unit


def cue_items(
    scene: Scene,
    camera: Camera,
    corner: Rect,
    unit: float,
    theme: Theme,
    *,
    brief: bool = False,
) -> list[Mark]:
    """Both cues in ``corner``."""
    middle = (corner[0] + 46 * unit, corner[1] + 40 * unit)
    north = _north(scene.north, camera, middle, unit, theme)
    return [*north, *_scale_bar(scene, camera, corner, unit, theme, brief)]


def _north(
    north: float, camera: Camera, middle: tuple[float, float], unit: float, theme: Theme
) -> list[Mark]:
    """An arrow along north as the camera sees it; in words where it looks along it."""
    east, up = math.sin(north), math.cos(north)
    x = float(camera.right[0]) * east + float(camera.right[1]) * up
    y = -float(camera.up[0]) * east - float(camera.up[1]) * up
    size = math.hypot(x, y)
    called = "north" if north else "plan north"
    words = Text((middle[0], middle[1] + 44 * unit), called, 14 * unit, theme.ink, False, "middle")
    if abs(float(camera.forward[2])) < 0.2 or size < 0.35:  # an arrow would hide its depth
        ahead = math.atan2(camera.forward[1], camera.forward[0]) + north
        turn = round(math.degrees(ahead) / 45) % 8
        return [
            Text(
                (middle[0] - 44 * unit, middle[1] + 22 * unit),
                "looking toward",
                14 * unit,
                theme.ink,
            ),
            Text(
                (middle[0] - 44 * unit, middle[1] + 42 * unit),
                called.replace("north", _COMPASS[turn]),
                14 * unit,
                theme.ink,
                True,
            ),
        ]
    ux, uy, reach = x / size, y / size, 30 * unit * max(size, 0.6)
    tip = (middle[0] + ux * reach, middle[1] + uy * reach)
    tail = (middle[0] - ux * reach, middle[1] - uy * reach)
    back = (tip[0] - ux * 16 * unit, tip[1] - uy * 16 * unit)
    barb = [(back[0] - s * uy * 8 * unit, back[1] + s * ux * 8 * unit) for s in (1, -1)]
    return [Line((tail, back), theme.ink, 3 * unit), Shape((tip, *barb), theme.ink), words]


def _scale_bar(
    scene: Scene, camera: Camera, corner: Rect, unit: float, theme: Theme, brief: bool
) -> list[Mark]:
    """A round length across the picture, in four blocks by turns dark and light."""
    meters = parse(1.0, "length", scene.units)
    length = round_down((_BAR / 2 if brief else _BAR) * unit * camera.scale / meters) * meters
    pixels = length / camera.scale
    left, y = corner[0] + 134 * unit, corner[1] + 58 * unit
    text = show(length, "length", scene.units, decimals=0 if length >= meters else 2)
    words = text if brief else f"{text} across the picture"
    edges = left + np.linspace(0.0, pixels, 5)
    items: list[Mark] = [
        Line(((left, y), (left + pixels, y)), theme.ink, 2 * unit),
        Text((left, y - 22 * unit), words, 14 * unit, theme.ink),
    ]
    for k, edge in enumerate(edges):
        tall = (9 if k in (0, 4) else 6) * unit
        items.append(Line(((float(edge), y - tall), (float(edge), y)), theme.ink, 2 * unit))
    return items
