"""The pull through time: load, gear and clock as the cable head moves along the run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.machine import Gear


@dataclass(frozen=True, eq=False)
class Progress:
    """What holds with the head at each of ``m`` places, in pulling order.

    ``station`` m as the route counts; ``pulled`` m of cable in the conduit; ``load`` N on the
    machine; ``gears`` fastest first; ``gear`` (m,) the gear in use there, -1 where even the
    strongest falls short; ``elapsed`` (m,) s of pulling, without stops; NaN once no gear holds.
    """

    station: Floats
    pulled: Floats
    load: Floats
    gears: tuple[Gear, ...]
    gear: NDArray[np.int64]
    elapsed: Floats

    @property
    def limit(self) -> Floats:
        """Rated line pull in the gear in use, (m,) N; that of the strongest where none holds."""
        rated = np.array([g.line_pull for g in self.gears])
        return np.where(self.gear < 0, rated.max(), rated[self.gear])


def progress(pull: Pull) -> Progress | None:
    """The pull through time, in the fastest gear that holds; None without a rope or a machine.

    Between two places the gear is that of the heavier end, and the speed that of the gear.
    """
    if pull.heads is None or pull.machine_loads is None or pull.run.machine is None:
        return None
    gears = tuple(sorted(pull.run.machine.gears, key=lambda g: -g.speed))
    load = pull.machine_loads
    step_load = np.maximum(load[:-1], load[1:])
    holds = np.array([g.line_pull for g in gears])[:, None] >= step_load
    gear = np.where(holds.any(axis=0), holds.argmax(axis=0), -1)
    speed = np.where(gear < 0, np.nan, np.array([g.speed for g in gears])[gear])
    pulled = np.abs(pull.heads - pull.heads[0])
    elapsed = np.concatenate(([0.0], np.cumsum(np.diff(pulled) / speed)))
    at = np.append(gear, gear[-1:]) if len(gear) else np.zeros(1, dtype=np.int64)
    return Progress(pull.heads, pulled, load, gears, at, elapsed)
