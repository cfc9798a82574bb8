"""Cables as the published tables sort them: one of 350 kcmil where nothing else is said."""

from __future__ import annotations

from route3d.standards.classes import CableClass

KV = 1000.0


def kind(
    voltage: float | None = 600.0,
    *,
    shielded: bool = False,
    conductors: int = 1,
    area: float = 177e-6,
    diameter: float = 0.03,
    armor: str = "",
) -> CableClass:
    return CableClass(voltage, shielded, conductors, area, diameter, armor)  # type: ignore[arg-type]
