"""The pull through time: what machine, head and cable feel as the head moves along the run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats, frozen
from route3d.mechanics.pull import Pull, at_friction


@dataclass(frozen=True, eq=False)
class History:
    """What holds with the head at each of ``m`` places, in pulling order; all (m,).

    ``station`` m as the route counts and ``pulled`` m of cable in the conduit. ``load`` N on the
    machine while it runs, lead-off included, and ``restart`` N at the first movement, should it be
    started with the head here. ``head_tension`` N of the cable at its head, and ``sidewall`` N/m
    the largest pressure per cable anywhere behind it.
    """

    station: Floats
    pulled: Floats
    load: Floats
    restart: Floats
    head_tension: Floats
    sidewall: Floats


def history(pull: Pull) -> History | None:
    """The pull through time; None without a rope.

    What lies behind the head does not change with what lies ahead (design section 3), so what the
    head passes stays as it was when the head was there.
    """
    phase = pull.rope_phase
    if phase is None:
        return None
    pulled = np.abs(phase.heads - pull.course.stations[0])
    return History(
        station=frozen(phase.heads),
        pulled=frozen(pulled),
        load=frozen(phase.loads),
        restart=frozen(at_friction(pull, pull.practice.restart).machine_loads),
        head_tension=frozen(phase.tensions),
        sidewall=frozen(_sidewall_behind(pull, pulled)),
    )


def _sidewall_behind(pull: Pull, pulled: Floats) -> Floats:
    """Largest sidewall pressure between the feed and each head, (m,) N/m."""
    joints = np.abs(pull.course.stations - pull.course.stations[0])
    so_far = np.maximum.accumulate(pull.profile.sidewall)[1::2]
    return np.concatenate(([0.0], so_far))[np.searchsorted(joints, pulled)]
