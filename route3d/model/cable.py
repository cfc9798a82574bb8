"""The cable: what is pulled, and what it can bear."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.standards.classes import Armor, CableClass


@dataclass(frozen=True, slots=True)
class Conductor:
    """The metal that carries the pull: ``area`` in m² per conductor, ``count`` conductors a cable.

    ``max_stress`` (Pa) overrides the published stress limit of the metal where the maker gives one.
    """

    metal: str
    area: float
    count: int = 1
    max_stress: float | None = None
    size: str = ""


@dataclass(frozen=True, slots=True)
class Cable:
    """One cable type: ``diameter`` m, ``weight`` N/m, ``sidewall_limit`` N/m.

    ``bend_multiple`` is the smallest bend radius while pulling, in cable diameters, measured to
    the inner surface of the bend, or to the centerline where ``bend_to`` says so;
    ``training_multiple`` serves for racking and training only. ``max_tension`` (N) is the maker's
    own limit for one cable, ``max_grip_tension`` and ``max_eye_tension`` (N) the cable maker's own
    limits for one basket grip and for pulling eyes; None where not given. ``main`` says whether
    the cable carries the pull; None decides by conductor area (see ``CableSet.mains``).
    ``lowest_temperature`` (K) is the least it may be laid at; ``jacket`` and ``armor`` are empty
    where not said.
    """

    name: str
    diameter: float
    weight: float
    conductor: Conductor
    sidewall_limit: float
    bend_multiple: float
    about: str = ""
    max_tension: float | None = None
    shielded: bool = False
    voltage: float | None = None
    main: bool | None = None
    bend_to: str = "inside"
    training_multiple: float | None = None
    max_grip_tension: float | None = None
    max_eye_tension: float | None = None
    jacket: str = ""
    armor: Armor = ""
    lowest_temperature: float | None = None

    @property
    def metal_area(self) -> float:
        """Conductor area of the whole cable, m²."""
        return self.conductor.area * self.conductor.count

    @property
    def min_bend_radius(self) -> float:
        """Smallest bend radius while pulling, m."""
        return self.bend_multiple * self.diameter

    @property
    def sorted_as(self) -> CableClass:
        """What the published tables sort cables by."""
        wire = self.conductor
        return CableClass(
            self.voltage, self.shielded, wire.count, wire.area, self.diameter, self.armor
        )
