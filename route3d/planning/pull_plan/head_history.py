"""The pull through time: what machine, head and cable feel as the head moves along the run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats, frozen
from route3d.mechanics.pull import Pull, at_friction


@dataclass(frozen=True, eq=False)
class HeadHistory:
    """What holds with the head at each of ``m`` places, in pulling order; all (m,).

    ``station`` m as the route counts and ``pulled`` m of cable in the conduit. ``load`` N on the
    machine while it runs, lead-off included, and ``restart`` N at the first move, should it be
    started with the head here. ``head_tension`` N of the cable at its head, and ``sidewall`` N/m
    the largest pressure per cable anywhere behind it. ``restart_tension`` N and
    ``restart_sidewall`` N/m are the largest in the cable at that first move.
    """

    station: Floats
    pulled: Floats
    load: Floats
    restart: Floats
    head_tension: Floats
    sidewall: Floats
    restart_tension: Floats
    restart_sidewall: Floats


def history(pull: Pull) -> HeadHistory | None:
    """The pull through time; None without a rope.

    What lies behind the head does not change with what lies ahead (docs/theory.md section 7), so
    what the head passes stays as it was when the head was there.
    """
    phase = pull.rope_phase
    if phase is None:
        return None
    pulled = np.abs(phase.heads - pull.course.stations[0])
    static = at_friction(pull, pull.practice.restart)
    return HeadHistory(
        station=frozen(phase.heads),
        pulled=frozen(pulled),
        load=frozen(phase.loads),
        restart=frozen(static.machine_loads),
        head_tension=frozen(phase.tensions),
        sidewall=frozen(_most_behind(pull, pull.profile.sidewall, pulled)),
        restart_tension=frozen(_most_behind(pull, static.profile.tension, pulled)),
        restart_sidewall=frozen(_most_behind(pull, static.profile.sidewall, pulled)),
    )


def _most_behind(pull: Pull, values: Floats, pulled: Floats) -> Floats:
    """Largest of the profile's ``values`` between the feed and each head, (m,)."""
    joints = np.abs(pull.course.stations - pull.course.stations[0])
    so_far = np.maximum.accumulate(values)[1::2]
    return np.concatenate((values[:1], so_far))[np.searchsorted(joints, pulled)]
