"""The conduit the cables are pulled through."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.standards.conduits import is_plastic


@dataclass(frozen=True, slots=True)
class Conduit:
    """One conduit type: diameters in m, ``friction`` the basic coefficient.

    ``elbow_radius`` is the factory elbow of its trade size and ``min_bend_radius`` the smallest
    field bend, both centreline in m, where the stock tables have one. ``source`` says where the
    dimensions come from; ``material`` is what a conduit of plain dimensions is made of, empty where
    not said; ``doubtful`` is true where that is an estimate or a weak memory.
    """

    name: str
    inner_diameter: float
    outer_diameter: float
    friction: float
    stock_type: str = ""
    trade_size: str = ""
    material: str = ""
    source: str = "given"
    doubtful: bool = False
    elbow_radius: float | None = None
    elbow_source: str = ""
    min_bend_radius: float | None = None
    min_bend_source: str = ""

    @property
    def plastic(self) -> bool | None:
        """Is it plastic? None where neither its type nor its material says."""
        return is_plastic(self.stock_type, self.material)

    @property
    def label(self) -> str:
        """How a person names it: stock type and trade size, else its key in the model file."""
        return f"{self.stock_type} {self.trade_size}".strip() or self.name
