"""Which rules a job is judged by: what each set asks, each figure with its source.

A check asks the set and never its name. A set that is silent on a question answers None, and then
there is no such finding: fill, degrees between pull points, boxes, supports and the rest are
national, and hold only where their set was chosen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import ParamSpec

from route3d.standards import (
    bends,
    boxes,
    classes,
    conductors,
    conduit_factors,
    conduits,
    eu_ducts,
    fill,
    risers,
)
from route3d.standards import conduits as supports
from route3d.standards.classes import BendMultiples, CableClass, National
from route3d.standards.conduit_factors import Factors
from route3d.standards.source import Fact, Source
from route3d.standards.tables import NotInTable

_Asked = ParamSpec("_Asked")
_NOTHING = BendMultiples()


@dataclass(frozen=True, slots=True)
class Ruling:
    """A figure of a rule set, and how grave it is to break it: "stop", "caution" or "note"."""

    fact: Fact
    broken: str = "stop"


@dataclass(frozen=True, slots=True)
class RuleSet:
    """One set of rules in one edition; as it stands, "none": physics and makers' limits only.

    ``basis`` says in words what the figures of the set stand on.
    """

    name: str
    edition: str
    basis: str

    @property
    def title(self) -> str:
        """The set with its edition, as a report names it."""
        return f"{self.name}, {self.edition}" if self.edition else self.name

    # --- conduit and route -------------------------------------------------------------------

    def fill(self, cables: Sequence[CableClass], stock_type: str, trade_size: str) -> Ruling | None:
        """Greatest share of the bore of a conduit that ``cables`` may fill."""
        return None

    def conduit_factors(
        self,
        cables: Sequence[CableClass],
        stock_type: str,
        trade_size: str,
        run: float,
        turn: float,
    ) -> Factors | None:
        """Cable and conduit factors; ``run`` m and ``turn`` rad between pull points."""
        return None

    def bore_over_bundle(self) -> Ruling | None:
        """Least bore over the diameter of the circle round all cables."""
        return None

    def turn(self, stock_type: str) -> Ruling | None:
        """Greatest sum of bends between pull points, rad."""
        return None

    def pull_length(self, stock_type: str) -> Ruling | None:
        """Greatest length of conduit between pull points, m."""
        return None

    def conduit_bend_radius(self, stock_type: str, trade_size: str) -> Fact | None:
        """Least radius of a field bend of a conduit, m."""
        return None

    def duct_bend_radius(self, stock_type: str) -> Ruling | None:
        """Least radius of the bends of a duct, whatever it is made of, m."""
        return None

    def duct_bore(self, cables: Sequence[CableClass], stock_type: str) -> Ruling | None:
        """Least bore of a duct for one cable of its class, m."""
        return None

    def cores_together(self, stock_type: str) -> Source | None:
        """Who says that all single cores of an a.c. system lie in one conduit of this type."""
        return None

    @property
    def duct_banks(self) -> bool:
        """True where the guide specification for duct banks (UFGS) belongs to the set."""
        return False

    # --- boxes and supports ------------------------------------------------------------------

    def box(self, largest: float, angle: bool) -> Fact | None:
        """Least box, m, up to 1,000 V: largest trade size in inches, straight or angle pull."""
        return None

    def mv_box(
        self, largest: float, others: Iterable[float], shielded: bool, angle: bool
    ) -> Fact | None:
        """Least box, m, above 1,000 V, by outside diameters in m."""
        return None

    def riser_spacing(self, metal: str, area: float) -> Fact | None:
        """Greatest distance between supports of conductors in a riser, m."""
        return None

    def conduit_supports(self, stock_type: str, trade_size: str) -> tuple[Fact, Fact] | None:
        """Greatest distance between supports of exposed conduit, and to the first one, m."""
        return None

    # --- cable -------------------------------------------------------------------------------

    def pulling_stress(self, metal: str) -> Fact:
        """Pulling stress on the conductors, Pa; where no law of the set gives it, by practice."""
        fact = conductors.max_stress(metal)
        cite = f"published practice, {fact.source.cite}"
        return replace(fact, source=replace(fact.source, cite=cite))

    def stricter_stress(self, metal: str) -> Fact | None:
        """A stricter practice of the pulling stress where no law of the set decides, Pa."""
        return classes.eu_pulling_stress(metal, "DIN VDE")

    def counted_share(self, conductor_count: int, loose_singles_in_grip: bool) -> Fact:
        """Share of the summed conductor strength that counts."""
        return conductors.group_factor(conductor_count)

    def stocking_force(self, cable: CableClass) -> Fact | None:
        """Permissible force of a basket grip on the cable itself, N."""
        return None

    def sidewall(self, cable: CableClass) -> tuple[Fact, ...]:
        """Published sidewall limits of the class, N/m, the strictest first."""
        return ()

    def bend(self, cable: CableClass) -> BendMultiples:
        """Published bend multiples of the class: for pulling, and for training alone."""
        return _NOTHING

    def lowest_temperature(self, jacket: str) -> Fact | None:
        """Lowest laying temperature by jacket, K; by makers' instructions where no law says."""
        return classes.eu_lowest_temperature(jacket, "maker") or classes.us_lowest_temperature(
            jacket
        )


class _Nfpa70(RuleSet):
    """NFPA 70, the National Electrical Code, with ICEA and makers' practice for the cable."""

    __slots__ = ()

    def fill(self, cables: Sequence[CableClass], stock_type: str, trade_size: str) -> Ruling:
        return Ruling(fill.fill_limit(len(cables)))

    def turn(self, stock_type: str) -> Ruling:
        return Ruling(bends.max_degrees_between_pull_points(stock_type))

    def conduit_bend_radius(self, stock_type: str, trade_size: str) -> Fact | None:
        return _or_none(conduits.minimum_bend_radius, stock_type, trade_size)

    @property
    def duct_banks(self) -> bool:
        return True

    def box(self, largest: float, angle: bool) -> Fact:
        return boxes.minimum_box_angle(largest) if angle else boxes.minimum_box_straight(largest)

    def mv_box(self, largest: float, others: Iterable[float], shielded: bool, angle: bool) -> Fact:
        if angle:
            return boxes.minimum_mv_box_angle(largest, others, shielded)
        return boxes.minimum_mv_box_straight(largest, shielded)

    def riser_spacing(self, metal: str, area: float) -> Fact | None:
        return _or_none(risers.riser_support_spacing, metal, area)

    def conduit_supports(self, stock_type: str, trade_size: str) -> tuple[Fact, Fact] | None:
        spacing = _or_none(conduits.support_spacing, stock_type, trade_size)
        first = _or_none(supports.first_support, stock_type, trade_size)
        return (spacing, first) if spacing and first else None

    def pulling_stress(self, metal: str) -> Fact:
        return conductors.max_stress(metal)

    def stricter_stress(self, metal: str) -> Fact | None:
        return None

    def sidewall(self, cable: CableClass) -> tuple[Fact, ...]:
        return classes.us_sidewall(cable)

    def bend(self, cable: CableClass) -> BendMultiples:
        return classes.us_bend(cable)

    def lowest_temperature(self, jacket: str) -> Fact | None:
        return classes.us_lowest_temperature(jacket)


class _Cenelec(RuleSet):
    """CENELEC harmonization documents by their national sections and practice.

    ``edition`` names the national practice. What is read only second-hand or recalled is a
    caution, never a stop, but for the pulling force.
    """

    __slots__ = ()

    @property
    def national(self) -> National:
        """The national practice."""
        return self.edition  # type: ignore[return-value]  # made from _CENELEC alone

    def fill(self, cables: Sequence[CableClass], stock_type: str, trade_size: str) -> Ruling | None:
        """In buildings, where no conduit factors cover the cables."""
        if not _in_buildings(stock_type) or conduit_factors.covers(cables, trade_size):
            return None
        return _caution(eu_ducts.space_factor(self.national))

    def conduit_factors(
        self,
        cables: Sequence[CableClass],
        stock_type: str,
        trade_size: str,
        run: float,
        turn: float,
    ) -> Factors | None:
        if self.national != "BS" or not _in_buildings(stock_type):
            return None
        return conduit_factors.conduit_factors(cables, trade_size, run, turn)

    def bore_over_bundle(self) -> Ruling | None:
        return _caution(eu_ducts.bore_over_bundle(self.national))

    def turn(self, stock_type: str) -> Ruling | None:
        """Recalled, and of conduit in buildings: a caution at most."""
        return _caution(eu_ducts.turn(self.national)) if _in_buildings(stock_type) else None

    def pull_length(self, stock_type: str) -> Ruling | None:
        """Of the same rule as the turn."""
        if not _in_buildings(stock_type):
            return None
        return _caution(eu_ducts.draw_in_length(self.national))

    def duct_bend_radius(self, stock_type: str) -> Ruling | None:
        """Of buried ducts alone."""
        buried = stock_type == _BURIED or stock_type in conduits.EUROPEAN_DUCTS
        if not buried or _in_buildings(stock_type):
            return None
        return _caution(eu_ducts.bend_radius(self.national))

    def duct_bore(self, cables: Sequence[CableClass], stock_type: str) -> Ruling | None:
        if len(cables) != 1 or _in_buildings(stock_type):
            return None
        return _caution(eu_ducts.bore_for_one(cables[0], self.national))

    def cores_together(self, stock_type: str) -> Source | None:
        return eu_ducts.cores_together(self.national) if stock_type == _STEEL else None

    def pulling_stress(self, metal: str) -> Fact:
        return classes.eu_pulling_stress(metal, self.national)

    def stricter_stress(self, metal: str) -> Fact | None:
        return None

    def counted_share(self, conductor_count: int, loose_singles_in_grip: bool) -> Fact:
        """All conductors, but two of three loose singles under one stocking."""
        if loose_singles_in_grip and conductor_count == 3:
            two = classes.eu_loose_singles()
            return Fact(two.value / 3, "ratio", two.source, two.label)
        whole = conductors.group_factor(1)
        source = classes.eu_pulling_stress("copper", self.national).source
        return replace(whole, source=source)

    def stocking_force(self, cable: CableClass) -> Fact | None:
        return classes.eu_stocking_force(cable.armor, cable.diameter)

    def sidewall(self, cable: CableClass) -> tuple[Fact, ...]:
        return classes.eu_sidewall(cable)

    def bend(self, cable: CableClass) -> BendMultiples:
        return classes.eu_bend(cable, self.national)

    def lowest_temperature(self, jacket: str) -> Fact | None:
        return classes.eu_lowest_temperature(jacket, self.national)


_BURIED, _STEEL = "EN-BURIED", "EN-STEEL"


def _in_buildings(stock_type: str) -> bool:
    """True for conduit of EN 61386-21 and -22; the ducts of -24 lie in the ground."""
    return stock_type.startswith("EN-") and stock_type != _BURIED


def _caution(fact: Fact | None) -> Ruling | None:
    """A caution, or a note where the figure is hardly known."""
    return None if fact is None else Ruling(fact, "note" if fact.doubtful else "caution")


def _or_none(
    look_up: Callable[_Asked, Fact], *asked: _Asked.args, **more: _Asked.kwargs
) -> Fact | None:
    try:
        return look_up(*asked, **more)
    except NotInTable:
        return None


# The tables were read in these editions (2011 to 2020, see their headers); 2023 moved the clauses
# of cable above 1,000 V to Article 305 and its text was not read.
_NFPA_READ = "figures read in the 2011 to 2020 editions"
_EDITIONS: Mapping[str, Mapping[str, RuleSet]] = {
    "NFPA 70": {
        "2023": _Nfpa70("NFPA 70", "2023", f"{_NFPA_READ}; the 2023 text itself was not read"),
        "2020": _Nfpa70("NFPA 70", "2020", _NFPA_READ),
        "2017": _Nfpa70("NFPA 70", "2017", _NFPA_READ),
    },
    "CENELEC": {
        "DIN VDE": _Cenelec(
            "CENELEC", "DIN VDE", "HD 603 and HD 620 by DIN VDE practice; clauses not read"
        ),
        "BS": _Cenelec("CENELEC", "BS", "BS 6622, BS 5467 and IET practice; clauses not read"),
        "CEI": _Cenelec("CENELEC", "CEI", "CEI 11-17 and CEI 64-8, mostly from memory"),
    },
    "none": {"": RuleSet("none", "", "physics and makers' limits only, no national rules")},
}
NAMES: tuple[str, ...] = tuple(_EDITIONS)
ALSO_KNOWN_AS: Mapping[str, str] = {"NEC": "NFPA 70"}
"""Other names of the sets, in capitals."""
NOT_COVERED: Mapping[str, str] = {
    "NESC": "utility work (NESC, IEEE C2)",
    "IEEE C2": "utility work (NESC, IEEE C2)",
    "C22.1": "Canada (C22.1, Canadian Electrical Code)",
    "CEC": "Canada (C22.1, Canadian Electrical Code)",
    "CSA C22.1": "Canada (C22.1, Canadian Electrical Code)",
}
"""Sets that somebody may ask for and that no table here covers, in words."""


def editions(name: str) -> tuple[str, ...]:
    """The editions known of a set, the default first; empty where it has none."""
    return tuple(e for e in _EDITIONS[name] if e)


@cache
def rule_set(name: str, edition: str = "") -> RuleSet:
    """The rule set of this name and edition, the default edition where none is given.

    Raises NotInTable, naming the choices, for a set that is not covered and for an edition whose
    tables are not here.
    """
    name = ALSO_KNOWN_AS.get(name.upper(), name)
    if name not in _EDITIONS:
        what = NOT_COVERED.get(name.upper(), f'"{name}"')
        raise NotInTable(f"{what} is not covered; choices: {', '.join(NAMES)}")
    known = _EDITIONS[name]
    if not edition:
        return next(iter(known.values()))
    if edition not in known:
        listed = ", ".join(editions(name))
        choices = f"known: {listed}" if listed else "it has no editions: leave edition out"
        raise NotInTable(f'no edition "{edition}" of {name}; {choices}')
    return known[edition]


def usual(system: str) -> str:
    """The set that stands for a file that names none: NFPA 70 for US units, else "none"."""
    return "NFPA 70" if system == "US" else "none"
