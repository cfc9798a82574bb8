"""The slider of the cable head."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from viewer.theme import Theme

HANDLE = 0.02
"""Width of the handle as a share of the window's."""


def add_slider(
    plotter: Any,
    ends: tuple[tuple[float, float], tuple[float, float]],
    theme: Theme,
    slid: Callable[[float], None],
) -> Any:
    """A slider from 0 to 100 % between two ends, as shares of the window; its widget."""
    slider = plotter.add_slider_widget(
        slid,
        (0.0, 100.0),
        value=100.0,
        pointa=ends[0],
        pointb=ends[1],
        title="",
        fmt="%.0f %%",
        color=theme.ink,
        style="modern",
        interaction_event="always",
    )
    slider.KeyPressActivationOff()  # VTK would hide it on the key i
    look = slider.GetRepresentation()
    look.ShowSliderLabelOff()
    look.SetTubeWidth(0.008)
    look.SetSliderWidth(0.03)
    look.SetSliderLength(HANDLE)
    return slider
