"""The conduit the cables are pulled through."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.standards.conduits import is_plastic

# Friction is never known exactly. Where a file gives one figure, it may be half of that with a good
# lubricant and a fifth more on a bad day (common practice, no source).
LOW_FRICTION = 0.5
HIGH_FRICTION = 1.2


@dataclass(frozen=True, slots=True)
class Conduit:
    """One conduit type: diameters in m, ``friction`` the basic coefficient.

    ``elbow_radius`` is the factory elbow of its trade size and ``min_bend_radius`` the smallest
    field bend, both centerline in m, where the stock tables have one. ``source`` says
    where the dimensions come from; ``doubtful`` is true where that is an estimate or a weak memory.
    ``material`` is what a conduit of plain dimensions is made of, empty where not said.
    ``friction_low`` and ``friction_high`` bound the coefficient, None where not given, and
    ``friction_source`` is who says so.
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
    friction_low: float | None = None
    friction_high: float | None = None
    friction_source: str = ""

    @property
    def lowest_friction(self) -> float:
        """The low end of the friction, or half of the figure where no range is given."""
        return LOW_FRICTION * self.friction if self.friction_low is None else self.friction_low

    @property
    def highest_friction(self) -> float:
        """The high end of the friction, or 1.2 times the figure where no range is given."""
        return HIGH_FRICTION * self.friction if self.friction_high is None else self.friction_high

    @property
    def range_assumed(self) -> bool:
        """True where either end of the friction range is assumed."""
        return self.friction_low is None or self.friction_high is None

    @property
    def plastic(self) -> bool | None:
        """Is it plastic? None where neither its type nor its material says."""
        return is_plastic(self.stock_type, self.material)

    @property
    def label(self) -> str:
        """How a person names it: stock type and trade size, else its key in the model file."""
        return f"{self.stock_type} {self.trade_size}".strip() or self.name
