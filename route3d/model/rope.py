"""The pulling rope ahead of the cable head."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Rope:
    """``diameter`` m, ``weight`` N/m, ``friction`` in the conduit, ``rated_load`` N (working load).

    ``stretch`` is the strain at rated load; ``breaking_strength`` (N) where the maker gives it.
    """

    name: str
    diameter: float
    weight: float
    friction: float
    rated_load: float
    stretch: float
    breaking_strength: float | None = None
