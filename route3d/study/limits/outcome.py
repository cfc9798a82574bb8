"""How far inputs may go, one at a time, from each end."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.geometry.vectors import Floats
from route3d.model.run import Run


@dataclass(frozen=True, slots=True)
class FarthestValue:
    """The last value of one input that still passes, all others as planned.

    ``input`` says which: "friction", "longest straight", "bend radius", "cable diameter", "set
    weight", "machine", "rope". ``name`` is the conduit, leg, bend, cable or stock entry it is of.
    ``planned`` and ``farthest`` are in SI of ``quantity`` (as in `route3d.units`); ``farthest`` is
    None where not even the easiest value passes, and infinite where no value breaks a limit.
    ``first`` is the limit reached first beyond it, ``where`` its place. ``at_most`` tells which
    way: True for the largest value that passes, False for the smallest.
    """

    input: str
    name: str
    quantity: str
    planned: float
    farthest: float | None
    first: str
    where: str
    at_most: bool


@dataclass(frozen=True, eq=False)
class EndLimits:
    """How far each input may go with the cables fed from one end.

    ``stations`` (n,) m in pulling order and ``shares`` (limit name, (n,)): how much of each limit
    is taken at each place as planned, for the map along the route.
    """

    feed: str
    pull: str
    reverse: bool
    values: tuple[FarthestValue, ...]
    stations: Floats
    shares: tuple[tuple[str, Floats], ...]


@dataclass(frozen=True, eq=False)
class Limits:
    """The limits of one run from both ``ends`` (with the route, against it)."""

    run: Run
    ends: tuple[EndLimits, EndLimits]
    planned: int
