"""The pulling rope ahead of the cable head."""

from __future__ import annotations

from dataclasses import dataclass, field

from route3d.model.origin import Figures
from route3d.units import amount


@dataclass(frozen=True, slots=True)
class Rope:
    """The pulling rope.

    Parameters
    ----------
    name : str
        What reports call it.
    diameter : float
        m
    weight : float
        N/m
    friction : float
        Coefficient on conduit.
    rated_load : float
        Working load, N.
    stretch : float
        Strain at rated load.
    breaking_strength : float, optional
        Where the maker gives it, N.
    stock : str
        Name of its stock entry; empty where it was not named.
    tables : tuple of (str, Fact)
        Its figures that came from there, by key. Not part of what makes two ropes equal.
    """

    name: str
    diameter: float
    weight: float
    friction: float
    rated_load: float
    stretch: float
    breaking_strength: float | None = None
    stock: str = field(default="", compare=False)
    tables: Figures = field(default=(), compare=False)

    @classmethod
    def of(
        cls,
        *,
        diameter: float | str,
        weight: float | str,
        friction: float,
        rated_load: float | str,
        stretch: float = 0.012,
        breaking_strength: float | str | None = None,
        name: str = "rope",
    ) -> Rope:
        """A rope from SI numbers or texts with their units.

        Parameters
        ----------
        diameter : float or str
            m, or such as ``"3/4 in"``.
        weight : float or str
            N/m, or such as ``"0.16 lb/ft"``.
        friction : float
            Coefficient of friction of rope on conduit.
        rated_load : float or str
            Working load, N or such as ``"9000 lbf"``.
        stretch : float
            Strain at rated load.
        breaking_strength : float or str, optional
            N, or such as ``"36 kip"``.
        name : str
            What to call it.

        Returns
        -------
        Rope

        Raises
        ------
        InputError
            For a text that is no such quantity.
        """
        breaking = breaking_strength
        if breaking is not None:
            breaking = amount(breaking, "force", "breaking_strength")
        return cls(
            name,
            amount(diameter, "diameter", "diameter"),
            amount(weight, "weight", "weight"),
            friction,
            amount(rated_load, "force", "rated_load"),
            stretch,
            breaking,
        )
