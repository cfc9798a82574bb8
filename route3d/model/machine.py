"""The pulling machine and its gears."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field, replace
from typing import Any

from route3d.model.origin import Figures
from route3d.units import amount


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
    """A pulling machine; None stands for not given.

    Parameters
    ----------
    name : str
        What reports call it.
    gears : tuple of Gear
        In any order.
    envelope : tuple of float, optional
        Length, width, height, m.
    min_load : float
        Least load it holds steadily, N.
    mass : float, optional
        kg
    efficiency : float
        Share of a gear's rated pull that reaches the rope.
    boom_rating : float, optional
        Load its boom or head may carry, N.
    line_height : float, optional
        Rope line above its feet, m.
    clearance : float, optional
        Room people need around it, m.
    stock : str
        Name of its stock entry; empty where it was not named.
    tables : tuple of (str, Fact)
        Its figures that came from there, by key. Not part of what makes two machines equal.
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
    stock: str = field(default="", compare=False)
    tables: Figures = field(default=(), compare=False)

    @classmethod
    def of(
        cls, *gears: tuple[float | str, float | str], name: str = "machine", **more: Any
    ) -> Machine:
        """A machine from its gears, in SI numbers or texts with their units.

        Parameters
        ----------
        *gears : tuple of (line pull, line speed)
            N and m/s, or such as ``("3500 lbf", "35 ft/min")``.
        name : str
            What to call it.
        **more
            The other fields of the record, in SI.

        Returns
        -------
        Machine

        Raises
        ------
        InputError
            For a text that is no such quantity.
        """
        made = (
            Gear(amount(pull, "force", "line pull"), amount(speed, "speed", "speed"))
            for pull, speed in gears
        )
        return cls(name, tuple(made), **more)

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
