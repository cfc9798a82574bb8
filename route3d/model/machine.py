"""The pulling machine and its gears."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Gear:
    """One gear: rated ``line_pull`` N at ``speed`` m/s.

    ``speeds`` holds (load N, speed m/s) points, load rising, where speed falls with load; ``speed``
    is then the speed at the rated pull. ``gauge`` is false where the machine's gauge does not read
    true in this gear.
    """

    line_pull: float
    speed: float
    name: str = ""
    speeds: tuple[tuple[float, float], ...] = ()
    gauge: bool = True

    def with_line_pull(self, line_pull: float) -> Gear:
        """Another rated pull, N; where speed falls with load, the speed is that at it."""
        return replace(self, line_pull=line_pull).at_rated_speed()

    def at_rated_speed(self) -> Gear:
        """The gear with ``speed`` read off ``speeds`` at the rated pull."""
        return replace(self, speed=self.speed_at(self.line_pull))

    def speed_at(self, load: float) -> float:
        """Line speed at a load, m/s: straight between the points, level outside them."""
        if not self.speeds:
            return self.speed
        at = bisect_left(self.speeds, (load, -1.0))
        if at == 0:
            return self.speeds[0][1]
        if at == len(self.speeds):
            return self.speeds[-1][1]
        (low, fast), (high, slow) = self.speeds[at - 1], self.speeds[at]
        return fast + (slow - fast) * (load - low) / (high - low)


@dataclass(frozen=True, slots=True)
class Machine:
    """``gears`` in any order; ``envelope`` length, width, height in m; loads in N, lengths in m.

    ``min_load`` is the least load the machine can hold steadily. ``mass`` kg. ``efficiency`` is the
    share of a gear's rated pull that reaches the rope. ``boom_rating`` is the load its boom or head
    may carry, ``line_height`` the rope line above its feet, ``clearance`` the room people need
    around it. None stands for not given.
    """

    name: str
    gears: tuple[Gear, ...]
    envelope: tuple[float, float, float] | None = None
    min_load: float = 0.0
    mass: float | None = None
    efficiency: float = 1.0
    boom_rating: float | None = None
    line_height: float | None = None
    clearance: float | None = None

    @property
    def strongest(self) -> Gear:
        """The gear of the highest line pull, the fastest of equals."""
        return max(self.gears, key=lambda g: (g.line_pull, g.speed))

    @property
    def line_pull(self) -> float:
        """Rated line pull of the strongest gear, N."""
        return self.strongest.line_pull

    @property
    def available_pull(self) -> float:
        """What of the strongest gear's line pull reaches the rope, N."""
        return self.line_pull * self.efficiency
