"""Colours, sizes and the colour map of pictures, light and dark; no library but numpy.

The map is viridis: perceptually even and legible to colour-blind readers. Its ends are cut so
that the lowest value still stands out from a dark ground and the highest from a light one. What
breaks a limit leaves the map for vermilion, and never says so by colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats

# Every sixteenth colour of viridis (S. van der Walt, N. Smith, matplotlib 1.5; CC0).
_VIRIDIS = (
    *("440154", "481a6c", "472f7d", "414487", "39568c", "31688e", "2a788e", "23888e"),
    *("1f988b", "22a884", "35b779", "54c568", "7ad151", "a5db36", "d2e21b", "fde725"),
)
_MAP_SIZE = 256


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours as ``#rrggbb``; ``low``, ``high`` the part of the map used, 0 to 1."""

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
    feed="#2f86dd",
    machine="#a868cf",
    alarm="#ff6b57",
    on_solid="#ffffff",
    plane="#5f7388",
    concrete="#7d8894",
    box="#8e99a5",
    steel="#8b96a2",
    cable="#c9d1d9",
    low=0.14,
    high=1.0,
)
THEMES = {"light": LIGHT, "dark": DARK}

OVER_LIMIT = "#d55e00"
"""Vermilion of the Okabe and Ito set, told from all of viridis by every kind of eye."""


def theme_named(name: str) -> Theme:
    """The theme of that name; ValueError where there is none."""
    if name not in THEMES:
        raise ValueError(f"theme {name!r} is not one of {sorted(THEMES)}")
    return THEMES[name]


def rgb(colour: str) -> tuple[int, int, int]:
    """Red, green, blue, 0 to 255, of ``#rrggbb``."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def colour_table(theme: Theme) -> NDArray[np.uint8]:
    """The colour map of a theme from lowest to highest, (256, 3)."""
    anchors = np.array([rgb("#" + c) for c in _VIRIDIS], dtype=np.float64)
    at = np.linspace(theme.low, theme.high, _MAP_SIZE) * (len(anchors) - 1)
    channels = [np.interp(at, np.arange(len(anchors)), anchors[:, k]) for k in range(3)]
    return np.rint(np.column_stack(channels)).astype(np.uint8)


def colours(values: Floats, full: float, limit: float, theme: Theme) -> NDArray[np.uint8]:
    """Colour of each value, (n,) to (n, 3): the map up to ``full``, vermilion above ``limit``."""
    table = colour_table(theme)
    index = np.clip(values / full * (_MAP_SIZE - 1), 0, _MAP_SIZE - 1)
    over = values > limit * (1 + 1e-9)
    found = table[np.rint(index).astype(int)]
    return np.where(over[:, None], np.array(rgb(OVER_LIMIT), dtype=np.uint8), found)
