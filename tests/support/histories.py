"""Histories short enough to plan by hand."""

from __future__ import annotations

import numpy as np

from route3d.planning.pull_plan.head_history import HeadHistory


def seen(
    pulled: list[float], load: list[float], restart: float = 1.0, reverse: bool = False
) -> HeadHistory:
    """A history with straight lines between few heads; a restart takes ``restart`` the load."""
    s, t = np.array(pulled, dtype=float), np.array(load, dtype=float)
    none = np.zeros_like(s)
    return HeadHistory(s[-1] - s if reverse else s, s, t, restart * t, none, none, none, none)
