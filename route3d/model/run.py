"""One run: a set of cables, pulled together along one route."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.model.anchor import Anchor
from route3d.model.cable import Cable
from route3d.model.machine import Machine
from route3d.model.rigging import LeadOff, Reel, Rigging
from route3d.model.rope import Rope
from route3d.model.route import Route


@dataclass(frozen=True, slots=True)
class CableSet:
    """The cables pulled together: each type with its number."""

    items: tuple[tuple[Cable, int], ...]

    @property
    def count(self) -> int:
        """How many cables there are in all."""
        return sum(n for _, n in self.items)

    @property
    def weight(self) -> float:
        """Weight of the whole set, N/m."""
        return sum(c.weight * n for c, n in self.items)

    @property
    def diameters(self) -> tuple[float, ...]:
        """The diameter of every cable, m, largest first."""
        return tuple(sorted((c.diameter for c, n in self.items for _ in range(n)), reverse=True))

    @property
    def largest(self) -> Cable:
        """The cable of the largest diameter."""
        return max((c for c, _ in self.items), key=lambda c: c.diameter)

    def describe(self) -> str:
        """The set in words, such as ``3 x phase, 1 x earth``."""
        return ", ".join(f"{n} x {c.name}" for c, n in self.items)


@dataclass(frozen=True, slots=True)
class Run:
    """``reel_tension`` N at the feed, or None for the smallest brake that keeps the cable taut.

    ``attach`` is "pulling eyes" or "basket grip"; ``arrangement`` a name of
    ``route3d.mechanics.arrangement`` or "auto". ``lead_off`` turns the rope between the conduit
    end and the machine, in that order; ``splices`` are the pull points where a splice is allowed.
    """

    name: str
    cables: CableSet
    route: Route
    attach: str = "pulling eyes"
    arrangement: str = "auto"
    reel_tension: float | None = None
    rope: Rope | None = None
    machine: Machine | None = None
    anchor: Anchor | None = None
    rigging: Rigging | None = None
    reel: Reel | None = None
    lead_off: tuple[LeadOff, ...] = ()
    splices: frozenset[int] = frozenset()
