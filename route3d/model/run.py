"""One run: a set of cables, pulled together along one route."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from route3d.model.anchor import Anchor
from route3d.model.cable import Cable
from route3d.model.conduit import Conduit
from route3d.model.machine import Machine
from route3d.model.rigging import HEAD_LENGTH, LeadOff, Reel, Rigging
from route3d.model.rope import Rope
from route3d.model.route import Route, Vertex
from route3d.standards.classes import CableClass

# A cable whose conductors have at most this share of the largest metal area rides along with the
# others instead of sharing the pull (common practice, no source).
RIDES_BELOW = 0.25


@dataclass(frozen=True, slots=True, init=False)
class CableSet:
    """The cables pulled together: each type with its number.

    Main cables carry the pull; the others ride along with them.

    Parameters
    ----------
    items : mapping of Cable to int, or iterable of (Cable, int)
        How many of each cable.
    """

    items: tuple[tuple[Cable, int], ...]

    def __init__(self, items: Mapping[Cable, int] | Iterable[tuple[Cable, int]]) -> None:
        pairs = items.items() if isinstance(items, Mapping) else items
        object.__setattr__(self, "items", tuple(pairs))

    @property
    def count(self) -> int:
        """How many cables there are in all."""
        return sum(n for _, n in self.items)

    @property
    def weight(self) -> float:
        """Weight of the whole set, N/m."""
        return sum(c.weight * n for c, n in self.items)

    @property
    def diameters(self) -> tuple[float, ...]:
        """The diameter of every cable, m, largest first."""
        return tuple(sorted((c.diameter for c, n in self.items for _ in range(n)), reverse=True))

    @property
    def classes(self) -> tuple[CableClass, ...]:
        """What the published tables sort every cable by."""
        return tuple(c.sorted_as for c, n in self.items for _ in range(n))

    @property
    def mains(self) -> tuple[tuple[Cable, int], ...]:
        """The cables that carry the pull.

        A cable says so itself (``main``); else it rides where its conductors have at most a quarter
        of the metal area of the largest cable.
        """
        most = max(c.metal_area for c, _ in self.items)
        return tuple((c, n) for c, n in self.items if not _rides(c, most))

    @property
    def riders(self) -> tuple[tuple[Cable, int], ...]:
        """The cables that ride along with the main ones."""
        mains = self.mains
        return tuple(item for item in self.items if item not in mains)

    @property
    def main_diameters(self) -> tuple[float, ...]:
        """The diameter of every main cable, m, largest first."""
        return CableSet(self.mains).diameters

    @property
    def rider_diameters(self) -> tuple[float, ...]:
        """The diameter of every riding cable, m, largest first."""
        return CableSet(self.riders).diameters

    @property
    def largest(self) -> Cable:
        """The cable of the largest diameter."""
        return max((c for c, _ in self.items), key=lambda c: c.diameter)

    def describe(self) -> str:
        """The set in words.

        Returns
        -------
        str
            Such as ``3 x phase, 1 x earth``.
        """
        return ", ".join(f"{n} x {c.name}" for c, n in self.items)


def _rides(cable: Cable, largest_area: float) -> bool:
    if cable.main is not None:
        return not cable.main
    return cable.metal_area <= RIDES_BELOW * largest_area * (1 + 1e-9)


@dataclass(frozen=True, slots=True)
class EndSetup:
    """What differs at one end or pull point, by the ``name`` of its vertex.

    None stands for what the run gives for both ends.
    """

    name: str
    machine: Machine | None = None
    anchor: Anchor | None = None
    rigging: Rigging | None = None
    lead_off: tuple[LeadOff, ...] | None = None
    reel: Reel | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """One run: a set of cables, pulled together along one route.

    Parameters
    ----------
    cables : CableSet
        What is pulled; a mapping of Cable to its number will do.
    route : Route
        Where.
    name : str
        What reports call it.
    attach : {"pulling eyes", "basket grip"}
        How the rope holds the cables.
    arrangement : str
        "auto", or a name of `route3d.mechanics.arrangement`.
    reel_tension : float, optional
        At the feed, N. Default: what keeps the cable taut, or the drag of the reels.
    rope : Rope, optional
        Needed for a plan.
    machine : Machine, optional
        Needed for a plan.
    anchor : Anchor, optional
        What holds the machine.
    rigging : Rigging, optional
        Fittings at the cable head.
    reel : Reel, optional
        Drag, brake and guide at the feed.
    lead_off : tuple of LeadOff
        Turns of the rope between conduit end and machine, in that order.
    splices : frozenset of int
        Pull points where a splice is allowed.
    ends : tuple of EndSetup
        What differs at single ends; `pulled` puts it in its place.
    """

    cables: CableSet
    route: Route
    name: str = "1"
    attach: str = "pulling eyes"
    arrangement: str = "auto"
    reel_tension: float | None = None
    rope: Rope | None = None
    machine: Machine | None = None
    anchor: Anchor | None = None
    rigging: Rigging | None = None
    reel: Reel | None = None
    lead_off: tuple[LeadOff, ...] = ()
    splices: frozenset[int] = frozenset()
    ends: tuple[EndSetup, ...] = ()

    def __post_init__(self) -> None:
        if isinstance(self.cables, Mapping):
            object.__setattr__(self, "cables", CableSet(self.cables))
        if not self.cables.items:
            raise ValueError(f"run {self.name!r} has no cables: {self.cables.items!r}")

    @property
    def head_assumed(self) -> bool:
        """True if the length of the head is not given."""
        return self.rigging is None or self.rigging.head_length is None

    @property
    def head_length(self) -> float:
        """Length of the head ahead of the cable, m: as given, else ``HEAD_LENGTH``."""
        given = None if self.rigging is None else self.rigging.head_length
        return HEAD_LENGTH if given is None else given

    def with_point(self, leg: int, vertex: Vertex, onward: Conduit | None = None) -> Run:
        """The run with a vertex more on a leg.

        Parameters
        ----------
        leg : int
            Number of the leg.
        vertex : Vertex
            The point.
        onward : Conduit, optional
            The conduit from there. Default: that of the leg.

        Returns
        -------
        Run
            With the numbers of later vertices one higher.
        """
        vertices, conduits = list(self.route.vertices), list(self.route.conduits)
        vertices.insert(leg + 1, vertex)
        conduits.insert(leg + 1, onward or conduits[leg])
        route = Route(tuple(vertices), tuple(conduits))
        return replace(self, route=route, splices=frozenset(s + (s > leg) for s in self.splices))

    def pulled(self, feed: int, pull: int) -> Run:
        """The run as equipped for a pull in one direction.

        The reel is that of the feed; machine, anchor, rigging and lead-off those of the other end.

        Parameters
        ----------
        feed, pull : int
            Vertex numbers of the reel end and of the machine end.

        Returns
        -------
        Run
            With what differs at these ends in its place.
        """
        if not self.ends:
            return self
        known = {end.name: end for end in self.ends}
        vertices = self.route.vertices
        at_feed, at_pull = (known.get(vertices[i].name) for i in (feed, pull))
        run = self
        if at_feed is not None and at_feed.reel is not None:
            run = replace(run, reel=at_feed.reel)
        if at_pull is not None:
            given = {
                key: value
                for key in ("machine", "anchor", "rigging", "lead_off")
                if (value := getattr(at_pull, key)) is not None
            }
            run = replace(run, **given)
        return run
