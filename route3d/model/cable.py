"""The cable: what is pulled, and what it can bear."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from route3d.errors import InputError, Problem
from route3d.model.origin import Figures
from route3d.standards.classes import Armor, CableClass
from route3d.units import amount

_QUANTITIES = {
    "voltage": "voltage",
    "max_tension": "force",
    "max_grip_tension": "force",
    "max_eye_tension": "force",
    "lowest_temperature": "temperature",
}


@dataclass(frozen=True, slots=True)
class Conductor:
    """The metal that carries the pull.

    Parameters
    ----------
    metal : {"copper", "aluminium"}
        Of the conductors.
    area : float
        Of one conductor, m².
    count : int
        Conductors in one cable.
    max_stress : float, optional
        The maker's limit of stress on the metal, Pa. Default: the published one.
    size : str
        As it was given, for reports.
    """

    metal: str
    area: float
    count: int = 1
    max_stress: float | None = None
    size: str = ""


@dataclass(frozen=True, slots=True)
class Cable:
    """One cable type.

    Parameters
    ----------
    name : str
        What reports call it.
    diameter : float
        Outer diameter, m.
    weight : float
        N/m
    conductor : Conductor
        Metal, area and number of the conductors.
    sidewall_limit : float
        Largest sidewall pressure, N/m.
    bend_multiple : float
        Smallest bend radius while pulling, in cable diameters, measured as `bend_to` says.
    about : str
        What it is, in words.
    max_tension : float, optional
        The maker's own limit for one cable, N.
    shielded : bool
        Has it a metallic shield?
    voltage : float, optional
        Rated voltage, V.
    main : bool, optional
        Whether it carries the pull. Default: by conductor area (see `CableSet.mains`).
    bend_to : {"inside", "centerline"}
        What the bend multiple is measured to.
    training_multiple : float, optional
        For racking and training only, in cable diameters.
    max_grip_tension, max_eye_tension : float, optional
        The cable maker's own limits for one basket grip and for pulling eyes, N.
    jacket : str
        Material; empty where not given.
    armor : str
        Armor or metal sheath; empty where there is none.
    lowest_temperature : float, optional
        The lowest it may be laid at, K.
    stock : str
        Name of its stock entry; empty where it was not named.
    tables : tuple of (str, Fact)
        Its figures that came from there, by key. Not part of what makes two cables equal.
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
    stock: str = field(default="", compare=False)
    tables: Figures = field(default=(), compare=False)

    @classmethod
    def of(
        cls,
        name: str = "cable",
        *,
        diameter: float | str,
        weight: float | str,
        area: float | str,
        metal: str = "copper",
        conductors: int = 1,
        sidewall_limit: float | str,
        bend_multiple: float = 12.0,
        **more: Any,
    ) -> Cable:
        """A cable from SI numbers or texts with their units.

        Parameters
        ----------
        name : str
            What to call it.
        diameter : float or str
            Outer diameter, m or such as ``"1.36 in"``.
        weight : float or str
            Weight per length, N/m or such as ``"1.98 lb/ft"``.
        area : float or str
            Cross-section of one conductor, m² or a size such as ``"350 kcmil"``, ``"4/0 AWG"``,
            ``"185 mm2"``.
        metal : {"copper", "aluminum"}
            Metal of the conductors.
        conductors : int
            Number of conductors in one cable.
        sidewall_limit : float or str
            Largest sidewall pressure, N/m or such as ``"500 lbf/ft"``.
        bend_multiple : float
            Smallest bend radius while pulling, in cable diameters.
        **more
            The other fields of the record by name, as numbers in SI or texts.

        Returns
        -------
        Cable

        Raises
        ------
        InputError
            For a text that is no such quantity, a size not in the tables, a value not above zero.
        TypeError
            For a field that a cable does not have.
        """
        from route3d.standards.conductors import conductor_area

        numbers: dict[str, Any] = {
            "diameter": amount(diameter, "diameter", "diameter"),
            "weight": amount(weight, "weight", "weight"),
            "sidewall_limit": amount(sidewall_limit, "sidewall", "sidewall_limit"),
            "bend_multiple": amount(bend_multiple, "ratio", "bend_multiple"),
        }
        try:
            section = conductor_area(area).value if isinstance(area, str) else float(area)
        except LookupError as error:
            raise InputError(Problem(str(error.args[0]), where="area")) from None
        for key, value in {**numbers, "area": section, "conductors": conductors}.items():
            if not value > 0:
                raise InputError(Problem(f"{value!r} is not above zero", where=key))
        if metal not in ("copper", "aluminum", "aluminium"):
            raise InputError(Problem(f"{metal!r} is not copper or aluminum", where="metal"))
        more = {
            key: amount(value, _QUANTITIES[key], key) if key in _QUANTITIES and value else value
            for key, value in more.items()
        }
        size = area if isinstance(area, str) else ""
        known = metal if metal == "copper" else "aluminium"
        conductor = Conductor(known, section, conductors, size=size)
        return cls(name=name, conductor=conductor, **numbers, **more)

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
