"""How much of each limit is taken at each place of a pull."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from route3d.checks.limits import Rated, limit_name
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.mechanics.scenarios import ManyPeaks


def limit_shares(pull: Pull) -> tuple[tuple[str, Floats], ...]:
    """Name of each limit, and its share at each station of the profile, (n,), in pulling order.

    Those of rope and machine are with the head there; without a rope the machine has none.
    """
    rated, profile, loads = Rated.of(pull.run, pull.practice), pull.profile, None
    if pull.heads is not None and pull.machine_loads is not None:
        order = np.argsort(pull.heads, kind="stable")
        loads = np.interp(profile.station, pull.heads[order], pull.machine_loads[order])
    else:
        rated = replace(rated, machine=None)
    tension = profile.tension
    found = rated.utilizations(
        ManyPeaks(tension, profile.sidewall, loads, tension, profile.segment)
    )
    return tuple((limit_name(key, pull.run, pull.practice), share) for key, share in found.items())
