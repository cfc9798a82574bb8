"""How much of each limit is taken at each place of a pull."""

from __future__ import annotations

import numpy as np

from route3d.checks.limits import Rated, limit_name
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull


def limit_shares(pull: Pull) -> tuple[tuple[str, Floats], ...]:
    """Name of each limit, and its share at each station of the profile, (n,), in pulling order.

    Those of rope and machine are with the head there; without a rope the machine has none.
    """
    rated, profile = Rated.of(pull.run, pull.practice), pull.profile
    found = {
        "conductor": profile.tension / rated.conductor,
        "grip": profile.tension / rated.grip,
        "sidewall": profile.sidewall / rated.sidewall,
    }
    if pull.heads is not None and pull.machine_loads is not None:
        order = np.argsort(pull.heads, kind="stable")
        loads = np.interp(profile.station, pull.heads[order], pull.machine_loads[order])
        for key, limit in (("rope", rated.rope), ("machine", rated.machine)):
            if limit is not None:
                found[key] = loads / limit
    return tuple((limit_name(key, pull.run, pull.practice), share) for key, share in found.items())
