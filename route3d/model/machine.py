"""The pulling machine."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Gear:
    """One gear: rated ``line_pull`` N at ``speed`` m/s."""

    line_pull: float
    speed: float


@dataclass(frozen=True, slots=True)
class Machine:
    """``gears`` in any order; ``envelope`` length, width, height in m; ``min_load`` N.

    ``min_load`` is the least load the machine can hold steadily.
    """

    name: str
    gears: tuple[Gear, ...]
    envelope: tuple[float, float, float] | None = None
    min_load: float = 0.0

    @property
    def line_pull(self) -> float:
        """Line pull of the strongest gear, N."""
        return max(g.line_pull for g in self.gears)
