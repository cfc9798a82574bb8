"""What a picture shows, as frozen records of numpy arrays; no surface and no library in here.

Positions are in m from ``Scene.origin``, so that float32 surfaces lose nothing at survey
coordinates. Sizes of solids and tubes are the sizes drawn: true size times ``exaggeration``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, frozen
from route3d.planning.placement.search import PlacementSearch

Coloring = Literal["tension", "sidewall", "utilization", "conduit"]
COLOR_BY: tuple[Coloring, ...] = ("tension", "sidewall", "utilization", "conduit")
"""The quantities that color a route, and with them the arrangement of its conduits."""

LabelKind = Literal[
    "feed", "machine", "worst", "fault", "pull point", "place", "bend", "conduit", "picked"
]
"""What a label is of: "fault" is what stops the pull, "picked" what a reader pointed at."""


@dataclass(frozen=True, slots=True, eq=False)
class Tube:
    """One unbroken conduit: ``points`` and unit ``tangents`` (n, 3), in route order.

    ``station`` m; ``tension`` N, ``sidewall`` N/m, ``utilization`` of the shown pull, (n,).
    A joint where a value jumps appears twice. ``radius`` m is as drawn.
    """

    points: Floats
    tangents: Floats
    station: Floats
    tension: Floats
    sidewall: Floats
    utilization: Floats
    radius: float
    conduit: str


@dataclass(frozen=True, slots=True)
class ColorScale:
    """Colors run from 0 to ``full`` (SI); what exceeds ``limit`` takes one color of its own.

    ``full`` is a round share of the limit, so that a picture can be compared with the next one:
    see ``viewer.scene.scale``. ``peak`` is the largest value shown; ``rule`` says it in words.
    With ``categories`` there is no scale but one color for each, its name the first of its lines,
    and values are their numbers.
    """

    name: Coloring
    title: str
    quantity: str
    full: float
    limit: float
    peak: float
    rule: str
    categories: tuple[tuple[str, ...], ...] = ()

    @property
    def broken(self) -> bool:
        """True where the shown pull exceeds the limit somewhere."""
        return self.peak > self.limit * (1 + 1e-9)


@dataclass(frozen=True, slots=True, eq=False)
class Wheel:
    """A sheave as drawn: its ``hub`` (3,), unit ``axis`` (3,) and ``radius`` m."""

    hub: Floats
    axis: Floats
    radius: float


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A reel, machine or pull box: ``base`` (3,) middle of its foot, ``along`` (3,) the pull.

    An "end" is the pulling end of a run that names no machine.

    ``size`` length along the pull, width, height in m as drawn; ``mouth`` (3,) the conduit end
    that its cable or rope goes to. ``rope`` (n, 3) is the rope from there to the front of a machine
    whose place is known, laid round its ``wheels``; elsewhere empty.
    """

    kind: Literal["reel", "machine", "end", "box"]
    base: Floats
    along: Floats
    size: tuple[float, float, float]
    mouth: Floats
    rope: Floats = field(default_factory=lambda: frozen(np.empty((0, 3))))
    wheels: tuple[Wheel, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Arrow:
    """The direction of the pull at one place: ``at`` (3,), unit ``along`` (3,), lengths in m."""

    at: Floats
    along: Floats
    length: float
    radius: float


@dataclass(frozen=True, slots=True, eq=False)
class Encasement:
    """The concrete of a duct bank: a box swept along ``points`` (n, 3), sizes as drawn, m."""

    points: Floats
    width: float
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Grade:
    """The ground near the route: square cells of the plan grid, ``spacing`` m a side.

    ``cells`` (n, 2) are their south-west corners, ``z`` (n, 4) the heights of their corners in the
    scene, counter-clockwise from there.
    """

    cells: Floats
    z: Floats
    spacing: float

    @property
    def corners(self) -> Floats:
        """The corners of the cells, (n, 4, 3) m."""
        square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * self.spacing
        plan = self.cells[:, None] + square
        return np.concatenate((plan, self.z[..., None]), axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class GroundLine:
    """The ground over the route: elevations ``heights`` (n,) m at ``stations`` (n,) m.

    Not a number outside the surface of the grade.
    """

    stations: Floats
    heights: Floats


@dataclass(frozen=True, slots=True, eq=False)
class RoomEdges:
    """A room's ``loops``, each (n, 3) and closed: its floor, its obstacles, its ceiling if any.

    ``uprights`` (k, 2, 3) join the corners of floor and ceiling.
    """

    name: str
    loops: tuple[Floats, ...]
    uprights: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ContextMesh:
    """A building: ``vertices`` (n, 3), ``faces`` (m, 3); ``given`` triangles before thinning."""

    name: str
    vertices: Floats
    faces: NDArray[np.int64]
    given: int


@dataclass(frozen=True, slots=True, eq=False)
class Label:
    """Text at a place: ``lines`` in display units; the least ``priority`` is placed first.

    ``alarm``: what it says exceeds a limit.
    """

    lines: tuple[str, ...]
    xyz: Floats
    kind: LabelKind
    priority: float
    alarm: bool = False


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure for the foot of a picture, in display units."""

    name: str
    value: str
    note: str = ""
    alarm: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """All that a picture of one pull shows; every surface draws from this and nothing else.

    ``limits`` of tension, N, and of sidewall pressure, N/m; ``place`` is the search for where the
    machine stands, None where none was made; ``banner`` says which values nobody has confirmed;
    ``ground`` is the ground over the route; ``north`` the direction of north on the plan, rad
    clockwise from the y axis.
    """

    title: str
    headline: str
    sentence: str
    alarm: bool
    units: str
    origin: Floats
    exaggeration: float
    scale: ColorScale
    tubes: tuple[Tube, ...]
    solids: tuple[Solid, ...]
    arrows: tuple[Arrow, ...]
    encasements: tuple[Encasement, ...]
    grade: Grade | None
    labels: tuple[Label, ...]
    facts: tuple[Figure, ...]
    notes: tuple[str, ...]
    context: tuple[ContextMesh, ...] = ()
    rooms: tuple[RoomEdges, ...] = ()
    place: PlacementSearch | None = None
    limits: tuple[float, float] = (math.inf, math.inf)
    banner: str = ""
    ground: GroundLine = field(default_factory=lambda: GroundLine(np.empty(0), np.empty(0)))
    north: float = 0.0

    def values(self, tube: Tube) -> Floats:
        """The values that color a tube, (n,), SI."""
        if self.scale.categories:
            names = [lines[0] for lines in self.scale.categories]
            return np.full(len(tube.points), float(names.index(tube.conduit)))
        named = {
            "tension": tube.tension,
            "sidewall": tube.sidewall,
            "utilization": tube.utilization,
        }
        return named[self.scale.name]
