"""The conduit the cables are pulled through."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from route3d.errors import InputError, Problem
from route3d.model.origin import Figures
from route3d.standards.conduits import ConduitSize, is_plastic, standard_elbow_radius
from route3d.standards.rules import RuleSet
from route3d.standards.source import Fact
from route3d.standards.tables import NotInTable
from route3d.units import amount

# Friction is never known exactly. Where a file gives one figure, it may be half of that with a good
# lubricant and a fifth more on a bad day (common practice, no source).
LOW_FRICTION = 0.5
HIGH_FRICTION = 1.2
ENOUGH_PULLS = 5
"""With fewer past pulls the published range weighs as much as they do, or more."""


@dataclass(frozen=True, slots=True)
class Conduit:
    """One conduit type.

    Parameters
    ----------
    name : str
        Its key in the model file.
    inner_diameter, outer_diameter : float
        m
    friction : float
        Basic coefficient of cable on conduit, as lubricated.
    stock_type, trade_size : str
        Of the stock tables; empty for plain dimensions.
    material : str
        Of a conduit of plain dimensions; empty where not given.
    source : str
        Where the dimensions come from.
    doubtful : bool
        True where that is an estimate or a weak memory.
    elbow_radius : float, optional
        Factory elbow of the trade size, centerline, m.
    elbow_source : str
        Who says so.
    min_bend_radius : float, optional
        Smallest field bend, centerline, m.
    min_bend_source : str
        Who says so.
    friction_low, friction_high : float, optional
        Bounds of the coefficient. Default: 0.5 and 1.2 times it (practice).
    friction_source : str
        Who says so.
    friction_pulls : int, optional
        How many of one's own past pulls it was learned from; None where it was not.
    friction_above : float, optional
        Contact load of the whole set, N/m, above which friction is `friction_then`. Default:
        friction does not depend on the load.
    friction_then : float, optional
        Coefficient above it; below `friction`. Comes with `friction_above`.
    friction_report : str
        Test report that lets the fall decide; empty where constant friction decides.
    friction_learned : tuple of (float, float, float)
        The distribution learned from them: a mixture of normals of log friction, each by its
        share, mean and standard deviation. Not part of what makes two conduits equal.
    stock : str
        Name of its stock entry; empty where it was not named.
    tables : tuple of (str, Fact)
        Its figures that came from tables, by key. Not part of what makes two conduits equal.
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
    friction_pulls: int | None = None
    friction_above: float | None = None
    friction_then: float | None = None
    friction_report: str = ""
    friction_learned: tuple[tuple[float, float, float], ...] = field(default=(), compare=False)
    stock: str = field(default="", compare=False)
    tables: Figures = field(default=(), compare=False)

    @classmethod
    def of(
        cls,
        stock_type: str = "",
        trade_size: str = "",
        *,
        friction: float,
        inner_diameter: float | str | None = None,
        outer_diameter: float | str | None = None,
        name: str = "conduit",
        rules: str = "NFPA 70",
    ) -> Conduit:
        """A conduit of the stock tables, or of plain dimensions.

        Parameters
        ----------
        stock_type, trade_size : str
            Such as ``"PVC-40"`` and ``"5"``; ``route3d stock conduit`` lists them. Empty for a
            conduit of plain dimensions.
        friction : float
            Basic coefficient of friction of cable on conduit, as lubricated.
        inner_diameter, outer_diameter : float or str, optional
            m or such as ``"5.07 in"``; both are required without a stock type, and replace the
            figures of the tables with one.
        name : str
            What to call it.
        rules : str
            Rule set that gives the minimum radius of a field bend.

        Returns
        -------
        Conduit

        Raises
        ------
        InputError
            For a type or size that the tables do not have, dimensions missing or no pipe, and a
            friction below zero.
        """
        from route3d.standards.conduits import conduit_size
        from route3d.standards.rules import rule_set
        from route3d.standards.tables import NotInTable

        inner, outer = (
            None if given is None else amount(given, "diameter", key)
            for key, given in (
                ("inner_diameter", inner_diameter),
                ("outer_diameter", outer_diameter),
            )
        )
        if not friction >= 0:
            raise InputError(Problem(f"{friction!r} is not 0 or more", where="friction"))
        if stock_type:
            try:
                size = conduit_size(stock_type, trade_size)
            except NotInTable as error:
                raise InputError(Problem(str(error), where="trade_size")) from None
            outer = size.outer_diameter if outer is None else outer
        if outer is None or (inner is None and not stock_type):
            missing = "outer_diameter" if outer is None else "inner_diameter"
            fix = "give it, or a stock type and trade size that the tables have it for"
            raise InputError(Problem("is missing", where=missing, fix=fix))
        bore = inner or size.inner_diameter
        if not 0 < bore < outer:
            said = f"{bore:g} m is not between zero and the outer diameter, {outer:g} m"
            raise InputError(Problem(said, where="inner_diameter"))
        if not stock_type:
            return cls(name, bore, outer, friction)
        return stock_conduit(
            name, size, rule_set(rules), outer=outer, inner=inner, friction=friction
        )

    @property
    def low_friction(self) -> float:
        """The low end of `friction` itself, or half of it where no range is given."""
        return LOW_FRICTION * self.friction if self.friction_low is None else self.friction_low

    @property
    def lowest_friction(self) -> float:
        """The lowest friction at any load: `low_friction`, or the one that friction falls to."""
        low = self.low_friction
        return low if self.friction_then is None else min(low, self.friction_then)

    @property
    def highest_friction(self) -> float:
        """The high end of the friction, or 1.2 times the figure where no range is given."""
        return HIGH_FRICTION * self.friction if self.friction_high is None else self.friction_high

    @property
    def fall_decides(self) -> bool:
        """Whether friction that falls above a contact load decides, for a test report is cited."""
        return self.friction_then is not None and bool(self.friction_report)

    @property
    def friction_share(self) -> float:
        """What is left of the friction above `friction_above`, as a share; 1 where it falls not."""
        then = self.friction_then
        return 1.0 if then is None or self.friction == 0.0 else then / self.friction

    def with_fall(self, decides: bool) -> Conduit:
        """The conduit as if a test report let the fall of its friction decide, or as if none did.

        Parameters
        ----------
        decides : bool
            Whether the fall decides; without effect where friction does not fall.

        Returns
        -------
        Conduit
        """
        if self.friction_then is None or decides == self.fall_decides:
            return self
        return replace(self, friction_report="supposed" if decides else "")

    def at_friction(
        self, friction: float, low: float | None = None, high: float | None = None
    ) -> Conduit:
        """The conduit with another coefficient and range.

        Where friction falls above a contact load, it falls by the same share, at the same load.

        Parameters
        ----------
        friction : float
            Basic coefficient.
        low, high : float, optional
            Bounds of the coefficient. Default: as for one without a range.

        Returns
        -------
        Conduit
        """
        falls = self.friction_then is not None
        return replace(
            self,
            friction=friction,
            friction_low=low,
            friction_high=high,
            friction_then=friction * self.friction_share if falls else None,
            friction_learned=(),
        )

    @property
    def plastic(self) -> bool | None:
        """Is it plastic? None where neither its type nor its material says."""
        return is_plastic(self.stock_type, self.material)

    @property
    def label(self) -> str:
        """How a person names it: stock type and trade size, else its key in the model file."""
        return f"{self.stock_type} {self.trade_size}".strip() or self.name


# --- a conduit of the stock tables: its dimensions, its factory elbow and its least field bend


def stock_conduit(
    name: str,
    size: ConduitSize,
    rules: RuleSet,
    *,
    outer: float,
    inner: float | None = None,
    tables: Figures = (),
    **friction: Any,
) -> Conduit:
    """The Conduit of a stock size, with ``friction`` and its range as fields of the record.

    ``inner`` m replaces the bore of the table; the least radius of a field bend is that of the
    ``rules``. ``tables`` are figures beside the dimensions that a table gave.
    """
    sizes = (
        ("inner_diameter", size.inner_diameter, size.source if inner is None else None),
        ("outer_diameter", outer, size.outer_source if outer == size.outer_diameter else None),
    )
    printed = tuple(
        (key, Fact(value, "diameter", source, key.replace("_", " ")))
        for key, value, source in sizes
        if source is not None
    )
    elbow, least = _elbow(size), rules.conduit_bend_radius(size.stock_type, size.trade_size)
    field = (None, "") if least is None else _cited(least)
    return Conduit(
        name=name,
        inner_diameter=size.inner_diameter if inner is None else inner,
        outer_diameter=outer,
        **friction,
        stock_type=size.stock_type,
        trade_size=size.trade_size,
        source=str(size.source) if inner is None else "given",
        doubtful=size.estimate and inner is None,
        elbow_radius=elbow[0],
        elbow_source=elbow[1],
        min_bend_radius=field[0],
        min_bend_source=field[1],
        tables=(*printed, *tables),
    )


def _elbow(size: ConduitSize) -> tuple[float | None, str]:
    """Radius (m) and source of the factory elbow, with None where not tabulated."""
    try:
        return _cited(standard_elbow_radius(size.stock_type, size.trade_size))
    except NotInTable:
        return None, ""


def _cited(fact: Fact) -> tuple[float, str]:
    return fact.value, f"{fact.label} ({fact.source.words or fact.source.title})"
