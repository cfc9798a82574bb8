"""What holds the pulling machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Adapter:
    """What couples a brace to the conduit end, for trade sizes ``smallest`` to ``largest``.

    A light clamp-on adapter is good for ``light_rating`` N; above that the ``locked_rating`` N of
    a positively locked one holds. None where there is no such adapter.
    """

    smallest: str
    largest: str
    light_rating: float | None = None
    locked_rating: float | None = None


@dataclass(frozen=True, slots=True)
class ConduitBrace:
    """The machine braced against the conduit end: ``rating`` N of the brace itself."""

    name: str
    rating: float
    adapters: tuple[Adapter, ...] = ()


@dataclass(frozen=True, slots=True)
class FloorBolts:
    """The machine bolted down: ``bolts`` (x along the pull, y across) m, allowable loads N a bolt.

    x grows toward the conduit, from which the rope pulls.
    """

    name: str
    bolts: tuple[tuple[float, float], ...]
    bolt_tension: float
    bolt_shear: float


@dataclass(frozen=True, slots=True)
class Vehicle:
    """The machine hitched to a vehicle of ``mass`` kg whose wheels hold with ``friction``.

    It stands behind the machine: ``drawbar`` m of drawbar between the two, ``length`` and ``width``
    m of the vehicle itself; None where not given.
    """

    name: str
    mass: float
    friction: float
    drawbar_rating: float
    length: float | None = None
    width: float | None = None
    drawbar: float = 0.0


@dataclass(frozen=True, slots=True)
class WorkPlatform:
    """The machine on a raised platform: allowed only with a ``brace`` against the conduit end."""

    name: str
    brace: ConduitBrace | None = None


Anchor: TypeAlias = ConduitBrace | FloorBolts | Vehicle | WorkPlatform
