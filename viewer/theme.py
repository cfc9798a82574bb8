"""Colors, sizes and the color map of pictures, light and dark; no library but numpy.

The map is viridis: perceptually even and legible to color-blind readers. Its ends are cut so
that the lowest value still stands out from a dark ground and the highest from a light one. Values
above a limit are vermilion, and are never marked by color alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats

# 32 colors of viridis, evenly spaced (S. van der Walt, N. Smith, matplotlib 1.5; CC0).
_VIRIDIS = (
    *("440154", "470d60", "48186a", "482374", "472e7c", "453882", "424186", "3e4a89"),
    *("3a548c", "365d8d", "32658e", "2e6d8e", "2b758e", "287d8e", "25848e", "228c8d"),
    *("1f948c", "1e9c89", "20a386", "25ab82", "2eb37c", "3aba76", "48c16e", "58c765"),
    *("6ccd5a", "7fd34e", "93d741", "a8db34", "c0df25", "d5e21a", "eae51a", "fde725"),
)
_MAP_SIZE = 256


@dataclass(frozen=True, slots=True)
class Theme:
    """Colors as ``#rrggbb``; ``low``, ``high`` the part of the map used, 0 to 1."""

    name: str
    ground: str
    ink: str
    faint: str
    line: str
    card: str
    feed: str
    machine: str
    alarm: str
    on_solid: str
    plane: str
    concrete: str
    box: str
    context: str
    grid: str
    steel: str
    cable: str
    low: float
    high: float


LIGHT = Theme(
    name="light",
    ground="#f7f8fa",
    ink="#16202b",
    faint="#566372",
    line="#9aa5b1",
    card="#ffffff",
    feed="#0b5cad",
    machine="#7a3e9d",
    alarm="#c0392b",
    on_solid="#ffffff",
    plane="#8fa3b5",
    concrete="#98a2ad",
    box="#7d8894",
    context="#a58f6f",
    grid="#dde2e8",
    steel="#59636e",
    cable="#2b3036",
    low=0.0,
    high=0.95,
)
DARK = Theme(
    name="dark",
    ground="#12171d",
    ink="#eef2f6",
    faint="#a3b0bd",
    line="#5d6a77",
    card="#1e262f",
    feed="#2274c9",
    machine="#9552c0",
    alarm="#ff6b57",
    on_solid="#ffffff",
    plane="#5f7388",
    concrete="#7d8894",
    box="#8e99a5",
    context="#8a7a5f",
    grid="#2a343f",
    steel="#8b96a2",
    cable="#c9d1d9",
    low=0.14,
    high=1.0,
)
THEMES = {"light": LIGHT, "dark": DARK}

OVER_LIMIT = "#d55e00"
"""Vermilion of the Okabe and Ito set, told from all of viridis by every kind of eye."""


CATEGORIES = ("#009e73", "#e69f00", "#56b4e9", "#cc79a7", "#0072b2", "#8c8c8c", "#f0e442")
"""Seven more of the Okabe and Ito set, gray for its black; vermilion is for limits alone."""


def category_color(index: int) -> tuple[int, int, int]:
    """Color of a category; from the eighth on darker by steps."""
    shade = 0.65 ** (index // len(CATEGORIES))
    r, g, b = rgb(CATEGORIES[index % len(CATEGORIES)])
    return round(r * shade), round(g * shade), round(b * shade)


def theme_named(name: str) -> Theme:
    """The theme of that name; ValueError where there is none."""
    if name not in THEMES:
        raise ValueError(f"theme {name!r} is not one of {sorted(THEMES)}")
    return THEMES[name]


def rgb(color: str) -> tuple[int, int, int]:
    """Red, green, blue, 0 to 255, of ``#rrggbb``."""
    return int(color[1:3], 16), int(color[3:5], 16), int(color[5:7], 16)


def color_table(theme: Theme) -> NDArray[np.uint8]:
    """The color map of a theme from lowest to highest, (256, 3)."""
    anchors = np.array([rgb("#" + c) for c in _VIRIDIS], dtype=np.float64)
    at = np.linspace(theme.low, theme.high, _MAP_SIZE) * (len(anchors) - 1)
    channels = [np.interp(at, np.arange(len(anchors)), anchors[:, k]) for k in range(3)]
    return np.rint(np.column_stack(channels)).astype(np.uint8)


def colors(values: Floats, full: float, limit: float, theme: Theme) -> NDArray[np.uint8]:
    """Color of each value, (n,) to (n, 3): the map up to ``full``, vermilion above ``limit``."""
    table = color_table(theme)
    index = np.clip(values / full * (_MAP_SIZE - 1), 0, _MAP_SIZE - 1)
    over = values > limit * (1 + 1e-9)
    found = table[np.rint(index).astype(int)]
    return np.where(over[:, None], np.array(rgb(OVER_LIMIT), dtype=np.uint8), found)
